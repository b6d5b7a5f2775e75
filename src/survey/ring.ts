// Area and middle of an outline. Millimetres.

import type { Ring } from "../job/job.ts";

/** Where a ring's area balances, and how large it is, mm2. */
export function balanceOf(ring: Ring): { readonly area: number; readonly x: number; readonly y: number } {
  let [area, x, y] = [0, 0, 0];
  // Counted from the first corner: far from the origin the sums would lose their small digits.
  const [ox, oy] = [ring[0], ring[1]];
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
    const [ax, ay, bx, by] = [ring[p] - ox, ring[p + 1] - oy, ring[k] - ox, ring[k + 1] - oy];
    const cross = ax * by - ay * bx;
    area += cross / 2;
    x += (cross * (ax + bx)) / 6;
    y += (cross * (ay + by)) / 6;
  }
  return { area: Math.abs(area), x: ox + x / area, y: oy + y / area };
}
