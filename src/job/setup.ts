// What the job file says of a setup: what is cut, with which cutter, down to where, and how.

import * as z from "zod";
import { radians, type Units } from "../units.ts";
import { exactlyOne, feedsOrAdvice, id, lengths, list, perUnit, report, wantedForm } from "./fields.ts";
import type { Target } from "./job.ts";
import { outlineSchema } from "./shape.ts";
import { describeValue } from "./wording.ts";

/** One setup of a job in `units`; names of pieces and cutter are still to be found. */
export const setupSchema = perUnit((units) => {
  const { coordinate, size, space } = lengths(units);
  return z.strictObject({
    id: id.describe("Names the setup and its program's file."),
    face: z.enum(["upper", "under"]).describe(`"upper" as laid, "under" after turning over.`),
    turn: z
      .enum(["x", "y"])
      .prefault("x")
      .describe("The axis about which the pieces are turned over when the under face comes up."),
    pieces: list(z.string(), 1, 1000)
      .optional()
      .describe("Ids of pieces; all that exist then when left out."),
    cutter: z.string().describe("Id of a cutter of the shop."),
    target: targetSchema(units).meta({
      description: "Where the floor lies: exactly one of these.",
      minProperties: 1,
      maxProperties: 1,
    }),
    leave: space.prefault(0).describe("Stays on for sanding: raises the floor of thickness and even."),
    margin: space.optional().describe("How far the real face may stand above the measured one."),
    passes: passesSchema(units).describe("How the wood is cut down to the floor."),
    keepOut: z
      .array(
        z.strictObject({
          name: z.string().optional().describe("As people call it."),
          outline: outlineSchema(units),
          height: size.describe("Above the bed."),
          lays: list(z.int().min(1), 1, 50)
            .optional()
            .describe(
              "With reindex: only in these lays it stands there, counted from 1; in all when left out.",
            ),
        }),
      )
      .prefault([])
      .describe(
        "What stands on the bed and must not be touched; it stays there while the wood is turned or pushed.",
      ),
    clear: z
      .strictObject({
        z: space.prefault("10 mm").describe("Air above the highest thing on a rapid."),
        side: space.prefault("5 mm").describe("Air between the cutter's rim and keep-outs."),
      })
      .prefault({})
      .describe("Air that is kept."),
    zero: z
      .strictObject({
        x: coordinate.prefault(0).describe("In the setup's frame."),
        y: coordinate.prefault(0).describe("In the setup's frame."),
        z: z
          .enum(["bed", "high-spot"])
          .prefault("bed")
          .describe(`On the "bed", or on the piece's highest measured place.`),
      })
      .prefault({})
      .describe("Where the program's zero lies."),
    reindex: z
      .strictObject({ overlap: size.prefault("30 mm").describe("How far neighbouring lays overlap.") })
      .optional()
      .describe("Lets a piece longer than the travel be cut in several lays, pushed along X."),
  });
});

/** Shares are often written in percent. */
const shareForm = wantedForm("at most 1: 90 % is written 0.9");

function targetSchema(units: Units) {
  const { size } = lengths(units);
  return z
    .strictObject({
      thickness: size.optional().describe("Floor this far above the bed."),
      depth: size.optional().describe("Floor this far below the highest measured place."),
      cleanUp: z
        .number()
        .positive()
        .max(1, shareForm)
        .optional()
        .describe("The highest floor that still cuts this share of the face of every piece."),
      even: size
        .optional()
        .describe(
          "Finished thickness: the floor from which both faces lose the same volume on the way to it.",
        ),
    })
    .transform((target, ctx): Target => {
      if (exactlyOne(ctx, target, ["thickness", "depth", "cleanUp", "even"]) === null) return z.NEVER;
      if (target.thickness !== undefined) return { kind: "thickness", mm: target.thickness };
      if (target.depth !== undefined) return { kind: "depth", mm: target.depth };
      if (target.even !== undefined) return { kind: "even", mm: target.even };
      return { kind: "cleanUp", share: target.cleanUp as number };
    });
}

function passesSchema(units: Units) {
  const { size, space } = lengths(units);
  const feed = feedsOrAdvice(units);
  const stepover = z.number().positive().max(1, shareForm);
  const speedForm = `a speed in rev/min, or "advise"`;
  const speed = z.union([z.number(), z.string()], wantedForm(speedForm)).transform((written, ctx) => {
    if (written === "advise") return written;
    if (typeof written === "string") report(ctx, `${describeValue(written)}; wanted ${speedForm}`);
    else if (!(written > 0)) report(ctx, `${describeValue(written)}; wanted more than 0`);
    else if (!(written <= 1_000_000)) report(ctx, `${describeValue(written)}; wanted at most 1000000`);
    else return written;
    return z.NEVER;
  });
  const angleForm = `degrees, from -360 to 360, or "fastest"`;
  const angle = z.union([z.number(), z.string()], wantedForm(angleForm)).transform((written, ctx) => {
    if (written === "fastest") return "fastest" as const;
    if (typeof written === "string" || !(Math.abs(written) <= 360))
      report(ctx, `${describeValue(written)}; wanted ${angleForm}`);
    else return radians(written);
    return z.NEVER;
  });
  const entry = z
    .union(
      [
        z.literal("air"),
        z.strictObject({
          ramp: z.number().positive().max(30).transform(radians).describe("Degrees, at most."),
        }),
      ],
      wantedForm('"air" or {"ramp": degrees}'),
    )
    .prefault("air");
  return z.strictObject({
    depth: size.prefault("2 mm").describe("At most, per pass."),
    finish: z
      .strictObject({
        depth: size.optional(),
        stepover: stepover.optional().describe("As a share of the cutter's diameter."),
        feed: feed.optional(),
      })
      .optional()
      .describe("A last pass over the whole face; what it leaves out is as in the passes."),
    stepover: stepover
      .prefault(0.6)
      .describe("Distance from row to row as a share of the cutter's diameter."),
    angle: angle
      .prefault(0)
      .describe(`Of the rows, degrees from the grain; "fastest": the angle with the least time.`),
    rows: z
      .enum(["both-ways", "one-way"])
      .prefault("both-ways")
      .describe("Whether rows go there and back, or all in one direction."),
    overrun: space.optional().describe("How far the cutter's centre goes past the last material of a row."),
    feed: feed.describe(`Of cuts; "advise" takes it from chip load, power and the machine's limits.`),
    resinFeed: feed.optional().describe("Wherever the cutter removes resin; as feed when left out."),
    speed: speed.describe(`rev/min; "advise" takes it from the chip load.`),
    edgeFirst: z
      .boolean()
      .prefault(false)
      .describe(
        "Cuts along the outline's edge before the rows of each layer, against break-out; off, as it takes longer and rows along the grain seldom break an edge.",
      ),
    entry: entry.describe(`"air", or {"ramp": degrees} for places that no air leads to; at most 30.`),
  });
}
