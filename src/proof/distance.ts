// How near a straight way comes to an outline. Millimetres.

import type { Ring } from "../job/job.ts";
import { inOrOn } from "../job/outline.ts";

/** Least distance between the segment from a to b and the ring's area; 0 when they meet. */
export function distanceToRing(ring: Ring, ax: number, ay: number, bx: number, by: number): number {
  if (inOrOn(ring, ax, ay, 0)) return 0;
  let least = Number.POSITIVE_INFINITY;
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
    const distance = segmentDistance(ax, ay, bx, by, ring[p], ring[p + 1], ring[k], ring[k + 1]);
    if (distance < least) least = distance;
  }
  return least;
}

function segmentDistance(
  ax: number,
  ay: number,
  bx: number,
  by: number,
  cx: number,
  cy: number,
  dx: number,
  dy: number,
): number {
  const c = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
  const d = (bx - ax) * (dy - ay) - (by - ay) * (dx - ax);
  const a = (dx - cx) * (ay - cy) - (dy - cy) * (ax - cx);
  const b = (dx - cx) * (by - cy) - (dy - cy) * (bx - cx);
  if (((c < 0 && d > 0) || (c > 0 && d < 0)) && ((a < 0 && b > 0) || (a > 0 && b < 0))) return 0;
  return Math.sqrt(
    Math.min(
      pointDistanceSquared(ax, ay, cx, cy, dx, dy),
      pointDistanceSquared(bx, by, cx, cy, dx, dy),
      pointDistanceSquared(cx, cy, ax, ay, bx, by),
      pointDistanceSquared(dx, dy, ax, ay, bx, by),
    ),
  );
}

function pointDistanceSquared(x: number, y: number, ax: number, ay: number, bx: number, by: number): number {
  const dx = bx - ax;
  const dy = by - ay;
  const length = dx * dx + dy * dy;
  const t = length > 0 ? Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / length)) : 0;
  return (x - ax - t * dx) ** 2 + (y - ay - t * dy) ** 2;
}
