// What the job file says of a setup: what is cut, with which cutter, down to where, and how.

import * as z from "zod";
import { radians, type Units } from "../units.ts";
import { exactlyOne, feeds, id, lengths, list, notBuilt, perUnit, report, wantedForm } from "./fields.ts";
import type { Target } from "./job.ts";
import { outlineSchema } from "./shape.ts";
import { describeValue } from "./wording.ts";

/** One setup of a job in `units`; names of pieces and cutter are still to be found. */
export const setupSchema = perUnit((units) => {
  const { coordinate, size, space } = lengths(units);
  const face = z
    .enum(["upper", "under"])
    .refine((value) => value === "upper", `face "under" is not built yet; wanted "upper"`);
  return z.strictObject({
    id,
    face: face.describe(`"upper" as laid; "under" is not built yet.`),
    pieces: list(z.string(), 1, 1000).optional().describe("Ids of pieces; all of them when left out."),
    cutter: z.string().describe("Id of a cutter of the shop."),
    target: targetSchema(units),
    leave: space.prefault(0).describe("Stays on for sanding: raises the floor of a thickness."),
    margin: space.optional().describe("How far the real face may stand above the measured one."),
    passes: passesSchema(units),
    keepOut: z
      .array(
        z.strictObject({
          name: z.string().optional(),
          outline: outlineSchema(units),
          height: size.describe("Above the bed."),
        }),
      )
      .prefault([])
      .describe("What stands on the bed and must not be touched."),
    clear: z
      .strictObject({
        z: space.prefault("10 mm").describe("Air above the highest thing on a rapid."),
        side: space.prefault("5 mm").describe("Air between the cutter's rim and keep-outs."),
      })
      .prefault({}),
    zero: z
      .strictObject({
        x: coordinate.prefault(0),
        y: coordinate.prefault(0),
        z: z.enum(["bed", "high-spot"]).prefault("bed"),
      })
      .prefault({})
      .describe("Where the program's zero lies."),
    turn: notBuilt("turning over"),
    reindex: notBuilt("cutting in several lays (reindex)"),
  });
});

function targetSchema(units: Units) {
  const { size } = lengths(units);
  return z
    .strictObject({
      thickness: size.optional().describe("Floor this far above the bed."),
      depth: size.optional().describe("Floor this far below the highest measured place."),
      cleanUp: z
        .number()
        .positive()
        .max(1)
        .optional()
        .describe("The highest floor that still cuts this share of the face of every piece."),
      even: notBuilt("the target even"),
    })
    .transform((target, ctx): Target => {
      if (exactlyOne(ctx, target, ["thickness", "depth", "cleanUp"]) === null) return z.NEVER;
      if (target.thickness !== undefined) return { kind: "thickness", mm: target.thickness };
      if (target.depth !== undefined) return { kind: "depth", mm: target.depth };
      return { kind: "cleanUp", share: target.cleanUp as number };
    });
}

function passesSchema(units: Units) {
  const { size, space } = lengths(units);
  const feed = feeds(units);
  const stepover = z.number().positive().max(1);
  const speedForm = "a speed in rev/min";
  const speed = z.union([z.number(), z.string()], wantedForm(speedForm)).transform((written, ctx) => {
    if (written === "advise") report(ctx, `"advise" is not built yet; give the speed`);
    else if (typeof written === "string") report(ctx, `${describeValue(written)}; wanted ${speedForm}`);
    else if (!(written > 0)) report(ctx, `${describeValue(written)}; wanted more than 0`);
    else if (!(written <= 1_000_000)) report(ctx, `${describeValue(written)}; wanted at most 1000000`);
    else return written;
    return z.NEVER;
  });
  const angleForm = "degrees, from -360 to 360";
  const angle = z.union([z.number(), z.string()], wantedForm(angleForm)).transform((written, ctx) => {
    if (written === "fastest") report(ctx, `"fastest" is not built yet; give the angle in degrees`);
    else if (typeof written === "string" || !(Math.abs(written) <= 360))
      report(ctx, `${describeValue(written)}; wanted ${angleForm}`);
    else return radians(written);
    return z.NEVER;
  });
  const entry = z
    .union(
      [z.literal("air"), z.strictObject({ ramp: z.number().positive().max(30).transform(radians) })],
      wantedForm('"air" or {"ramp": degrees}'),
    )
    .prefault("air");
  return z.strictObject({
    depth: size.prefault("2 mm").describe("At most, per pass."),
    finish: z
      .strictObject({ depth: size.optional(), stepover: stepover.optional(), feed: feed.optional() })
      .optional()
      .describe("A last pass over the whole face; what it leaves out is as in the passes."),
    stepover: stepover
      .prefault(0.6)
      .describe("Distance from row to row as a share of the cutter's diameter."),
    angle: angle.prefault(0).describe("Of the rows, degrees from the grain."),
    rows: z.enum(["both-ways", "one-way"]).prefault("both-ways"),
    overrun: space.optional().describe("How far the cutter's centre goes past the last material of a row."),
    feed: feed.describe("Of cuts."),
    resinFeed: feed.optional().describe("Wherever the cutter removes resin; as feed when left out."),
    speed: speed.describe("rev/min"),
    edgeFirst: z
      .boolean()
      .refine((first) => !first, "edgeFirst is not built yet; wanted false")
      .prefault(false),
    entry: entry.describe(`"air", or {"ramp": degrees} for places that no air leads to; at most 30.`),
  });
}
