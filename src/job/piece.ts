// What the job file says of a piece: its outline, its grain, and how high its upper face stands.

import * as z from "zod";
import { radians, type Units } from "../units.ts";
import {
  exactlyOne,
  id,
  lengthIn,
  lengths,
  notBuilt,
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
  const { size } = lengths(units);
  return z
    .strictObject({
      id,
      material: z.string().prefault(""),
      outline: outlineSchema(units),
      grain: z
        .number()
        .min(-360)
        .max(360)
        .transform(radians)
        .optional()
        .describe("Direction of the grain, degrees from +X; the outline's long axis when left out."),
      thickness: size.optional().describe("At the thickest place; needed where nothing was measured."),
      upper: readingsSchema(units)
        .optional()
        .describe("Measured heights of the upper face above the bed; a box of its thickness when left out."),
      wood: notBuilt("a piece with resin (wood)"),
      shell: notBuilt("a resin shell"),
      moisture: notBuilt("the note on moisture"),
      madeOf: notBuilt("a piece cast from earlier pieces (madeOf)"),
      thicknesses: notBuilt("an under face from caliper readings (thicknesses)"),
      under: notBuilt("a measured under face"),
    })
    .refine(({ thickness, upper }) => thickness !== undefined || upper !== undefined, {
      path: ["thickness"],
      error: `missing; wanted where "upper" holds no readings`,
      ...whenSound("thickness", "upper"),
    });
});

export type ReadingsOrFile = Readings | { readonly kind: "file"; readonly file: string };

function readingsSchema(units: Units) {
  const { coordinate, place } = lengths(units);
  const height = lengthIn(units, heightFits, HEIGHT_WANTED);
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
        .optional(),
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
