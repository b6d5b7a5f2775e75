// How much of a face nobody has measured.

import type { Ring } from "../job/job.ts";
import { inOrOn } from "../job/outline.ts";
import { boxOf } from "./field.ts";

/** So many places tell a share to about a tenth of a percent. */
const PLACES = 20_000;

/**
 * Share of the face in an outline that lies beyond its readings. The places asked lie evenly but in no rows (a
 * low-discrepancy sequence of the plastic number, from memory): rows would fall together with a strip beside the
 * readings, or miss it.
 */
export function shareOutside(outline: Ring, covers: (x: number, y: number) => boolean): number {
  const { minX, minY, maxX, maxY } = boxOf([outline]);
  let [inside, outside] = [0, 0];
  for (let k = 0; k < PLACES; k++) {
    const x = minX + ((0.5 + k * 0.7548776662466927) % 1) * (maxX - minX);
    const y = minY + ((0.5 + k * 0.5698402909980532) % 1) * (maxY - minY);
    if (!inOrOn(outline, x, y, 0)) continue;
    inside++;
    if (!covers(x, y)) outside++;
  }
  return inside === 0 ? 0 : outside / inside;
}
