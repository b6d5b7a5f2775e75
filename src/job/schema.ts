// The shop file and the job file, field by field: what may stand there, what stands in for what is
// left out, and how it becomes millimetres, mm/min and radians. The printed JSON Schemas come from here.
//
// Defaults beyond the contract's table: a machine's name "", a cutter's name its id, centreCutting
// false (the careful answer), cornerDeviation 0.05 mm, spindle.efficiency 0.8, spindle.spinUpSeconds 5
// (a wait too many costs seconds, one too few costs the cutter; common practice, no source),
// outOfSquare 0, program all of its fields, probe's lines none, an outline's `at` [0, 0], a keep-out's
// name its place in the list, a job's name that of its file.

import * as z from "zod";
import type { Units } from "../units.ts";
import { list, schemaLink, someText, unit, wantedForm } from "./fields.ts";
import { pieceSchema } from "./piece.ts";
import { setupSchema } from "./setup.ts";
import { shopSchema } from "./shop.ts";

export { SHOP_FORMAT, shopSchema } from "./shop.ts";

export const JOB_FORMAT = "slabtrue-job/1";

const PIECES_MAX = 1000;
const SETUPS_MAX = 1000;

/** The job file in `units`, with the shop, where it is written into the job, in `shopUnits`. */
export function jobSchema(units: Units, shopUnits: Units) {
  const shop = z.union(
    [someText, shopSchema(shopUnits)],
    wantedForm("the path of a shop file, or the shop itself"),
  );
  return z.strictObject({
    $schema: schemaLink,
    format: z.literal(JOB_FORMAT).describe("What kind of file this is."),
    name: z.string().optional().describe("Of the job; the file's own name when left out."),
    units: unit.describe("The unit of this file's bare numbers, and of its programs and reports."),
    shop: shop.describe("Path of a shop file relative to this file, or the shop itself."),
    pieces: list(pieceSchema(units), 1, PIECES_MAX).describe("The slabs and casts of the table."),
    setups: list(setupSchema(units), 1, SETUPS_MAX).describe("In the order they are cut."),
  });
}
