// What the job file says of a piece: its outline, its grain, how high its faces stand, and what of it is wood.

import * as z from "zod";
import { radians, type Units } from "../units.ts";
import type { HeightRule } from "./csv.ts";
import {
  type Context,
  exactlyOne,
  id,
  lengthIn,
  lengths,
  list,
  perUnit,
  report,
  someText,
  wantedForm,
  whenSound,
} from "./fields.ts";
import type { Readings } from "./job.ts";
import { gridReadings, HEIGHT_WANTED, heightFits, pointReadings } from "./readings.ts";
import { outlineSchema } from "./shape.ts";

/** One piece of a job in `units`; readings that stand in a file of their own are still to be read. */
export const pieceSchema = perUnit((units) => {
  const { coordinate, size, space } = lengths(units);
  return z
    .strictObject({
      id: id.describe("What setups name this piece by."),
      material: z.string().prefault("").describe("For the spindle's power and the wood's movement."),
      outline: outlineSchema(units),
      grain: z
        .number()
        .min(-360)
        .max(360)
        .transform(radians)
        .optional()
        .describe("Direction of the grain, degrees from +X; the outline's long axis when left out."),
      thickness: size.optional().describe("At the thickest place; needed where nothing was measured."),
      upper: readingsSchema(units, UPPER)
        .optional()
        .describe("Measured heights of the upper face above the bed; a box of its thickness when left out."),
      under: readingsSchema(units, UNDER)
        .optional()
        .describe(
          "Measured heights of the under face above the bed, in the same lay; else it lies on the bed.",
        ),
      thicknesses: z
        .array(z.tuple([coordinate, coordinate, size], wantedForm("[x, y, thickness]")))
        .transform((written, ctx) => caliperReadings(written, units, ctx))
        .optional()
        .describe("Caliper readings [x, y, thickness]: with the upper face they give the under face."),
      wood: list(outlineSchema(units), 1, 1000)
        .optional()
        .describe("Outlines of the wood; the rest of the piece is resin."),
      shell: z
        .strictObject({ upper: space.prefault(0), under: space.prefault(0) })
        .prefault({})
        .describe("Thickness of the resin over the wood on each face."),
      moisture: z
        .strictObject({
          now: percent.describe("As it is worked, percent."),
          inUse: percent.describe("Where it will be used, percent."),
        })
        .optional()
        .describe("Moisture of the wood in percent, now and where the piece will be used."),
      madeOf: list(partSchema(units), 1, 1000)
        .optional()
        .describe("The earlier pieces that this one is cast from; its outline is the inside of the mold."),
    })
    .refine(
      ({ thickness, upper, madeOf }) =>
        thickness !== undefined || upper !== undefined || madeOf !== undefined,
      {
        path: ["thickness"],
        error: `missing; wanted where "upper" holds no readings`,
        ...whenSound("thickness", "upper", "madeOf"),
      },
    )
    .refine(({ under, thicknesses }) => under === undefined || thicknesses === undefined, {
      path: ["thicknesses"],
      error: `found "under" beside "thicknesses", and both say where the under face is; wanted one of them`,
      ...whenSound("under", "thicknesses"),
    });
});

/** Moisture in percent; wood above the fibre saturation point does not move. */
const percent = z.number().min(0).max(100);

const partSchema = perUnit((units) => {
  const { place } = lengths(units);
  return z.strictObject({
    piece: z.string().describe("Id of the earlier piece."),
    at: place.prefault([0, 0]).describe("How far it is moved in the mold."),
    angle: z
      .number()
      .min(-360)
      .max(360)
      .transform(radians)
      .prefault(0)
      .describe("How far it is turned about its frame's origin before it is moved, degrees."),
    after: z.string().describe("Id of the setup that leaves it as it is cast."),
  });
});

/** Thicknesses as flat [x, y, t, ...]; a place measured twice alike is dropped. */
function caliperReadings(
  written: readonly (readonly [number, number, number])[],
  units: Units,
  ctx: Context,
): Float64Array {
  const readings = pointReadings(
    written.flat(),
    units,
    (index) => `thicknesses[${index}]`,
    (index, what) => report(ctx, what, index < 0 ? [] : [index]),
  );
  return readings?.xyz ?? z.NEVER;
}

const UPPER: HeightRule = { fits: heightFits, wanted: HEIGHT_WANTED };
export const UNDER: HeightRule = {
  fits: (mm) => mm === 0 || heightFits(mm),
  wanted: "a height above the bed, from 0 to 1 m",
};

export type ReadingsOrFile = Readings | { readonly kind: "file"; readonly file: string };

function readingsSchema(units: Units, rule: HeightRule) {
  const { coordinate, place } = lengths(units);
  const height = lengthIn(units, rule.fits, rule.wanted);
  const step = lengthIn(units, (mm) => mm !== 0, "a step other than 0, forwards or backwards");
  return z
    .strictObject({
      points: z
        .array(z.tuple([coordinate, coordinate, height], wantedForm("[x, y, z]")))
        .optional()
        .describe("[x, y, z], ..."),
      grid: z
        .strictObject({
          at: place.describe("The first node of the first row."),
          step: z
            .tuple([step, step], wantedForm("[dx, dy]"))
            .describe("From node to node along X, from row to row along Y."),
          rows: z
            .array(z.array(height.nullable()))
            .describe("Rows of heights along +X, the first at the first node; null where nothing was read."),
        })
        .optional()
        .describe("Heights at even steps along X and Y."),
      file: someText.optional().describe("Path of a CSV file with columns x, y, z, relative to this file."),
    })
    .transform((written, ctx): ReadingsOrFile => {
      if (exactlyOne(ctx, written, ["points", "grid", "file"]) === null) return z.NEVER;
      const { points, grid, file } = written;
      if (file !== undefined) return { kind: "file", file };
      if (grid !== undefined) {
        return (
          gridReadings(grid.at, grid.step, grid.rows, (row, col, what) => {
            const at = row < 0 ? [] : col < 0 ? ["rows", row] : ["rows", row, col];
            report(ctx, what, ["grid", ...at]);
          }) ?? z.NEVER
        );
      }
      const nameOf = (index: number) => `points[${index}]`;
      return (
        pointReadings((points ?? []).flat(), units, nameOf, (index, what) =>
          report(ctx, what, index < 0 ? ["points"] : ["points", index]),
        ) ?? z.NEVER
      );
    });
}
