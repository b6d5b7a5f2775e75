// Whether a cut takes resin, cell by cell: what stands over the wood, under it, or beside it. Frame
// coordinates, millimetres.

import { BARE_MM } from "../survey/timber.ts";
import type { Part, Wood } from "./wood.ts";

/** Resin thinner than this is a matter of cells and of rounding. */
const RESIN_MM = 0.05;

/** Whether a disc on the straight way from a to b, its edge at `zMm`, takes resin of any piece. */
export function takesResin(
  { map, parts }: Wood,
  ax: number,
  ay: number,
  bx: number,
  by: number,
  zMm: number,
  radiusMm: number,
): boolean {
  return parts.some((part) => {
    const { wood } = part;
    if (wood === null) return false;
    return map.anyRow(ax, ay, bx, by, radiusMm, (row, fromCol, toCol) =>
      rowHasResin(part, wood, map.z, row * map.grid.cols, row, fromCol, toCol, zMm),
    );
  });
}

function rowHasResin(
  { grid, col, row: firstRow, before, inside }: Part,
  { top, bottom }: NonNullable<Part["wood"]>,
  z: Float32Array,
  base: number,
  row: number,
  fromCol: number,
  toCol: number,
  zMm: number,
): boolean {
  const j = row - firstRow;
  if (j < 0 || j >= grid.rows) return false;
  const shift = j * grid.cols - col;
  const last = Math.min(toCol, col + grid.cols - 1);
  for (let c = Math.max(fromCol, col); c <= last; c++) {
    const stands = z[base + c];
    if (!(stands > zMm + RESIN_MM)) continue;
    const k = shift + c;
    if (inside[k] === 0) continue;
    // Bare wood stands as high as its face may.
    const bare = top[k] >= before[k] - BARE_MM;
    if ((!bare && stands > top[k] + RESIN_MM) || zMm < bottom[k] - RESIN_MM) return true;
  }
  return false;
}
