// How much of a face nobody has measured.

import type { Ring } from "../job/job.ts";
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
  const holds = holderOf(outline, minY, maxY);
  let [inside, outside] = [0, 0];
  for (let k = 0; k < PLACES; k++) {
    const x = minX + ((0.5 + k * 0.7548776662466927) % 1) * (maxX - minX);
    const y = minY + ((0.5 + k * 0.5698402909980532) % 1) * (maxY - minY);
    if (!holds(x, y)) continue;
    inside++;
    if (!covers(x, y)) outside++;
  }
  return inside === 0 ? 0 : outside / inside;
}

const BANDS = 256;

/** Whether a place lies in the outline, of which only the edges at its height are looked at. */
function holderOf(outline: Ring, minY: number, maxY: number): (x: number, y: number) => boolean {
  const bandAt = (y: number) =>
    Math.max(0, Math.min(BANDS - 1, Math.floor((BANDS * (y - minY)) / (maxY - minY))));
  const bands = Array.from({ length: BANDS }, (): number[] => []);
  const before = (k: number) => (k === 0 ? outline.length - 2 : k - 2);
  for (let k = 0; k < outline.length; k += 2) {
    const [a, b] = [bandAt(outline[before(k) + 1]), bandAt(outline[k + 1])];
    for (let band = Math.min(a, b); band <= Math.max(a, b); band++) bands[band].push(k);
  }
  return (x, y) => {
    let inside = false;
    for (const k of bands[bandAt(y)]) {
      const [ax, ay, bx, by] = [outline[before(k)], outline[before(k) + 1], outline[k], outline[k + 1]];
      if (ay > y !== by > y && x < ax + ((bx - ax) * (y - ay)) / (by - ay)) inside = !inside;
    }
    return inside;
  };
}
