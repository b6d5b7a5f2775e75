// The direction of a piece's grain and of a setup's rows. Radians from +X.

import type { Piece, Setup } from "../job/job.ts";
import { boxOf } from "../survey/field.ts";
import { Turn } from "./edges.ts";

/** Direction of the rows: the passes' angle from the grain of the first piece. */
export function rowAngle(setup: Setup): number {
  return grainOf(setup.pieces[0]) + setup.passes.angleRad;
}

/** Direction of a piece's grain. */
export function grainOf({ grainRad, outline }: Piece): number {
  return grainRad ?? longAxis(outline);
}

/** Direction of the long side of the smallest rectangle around the outline; of equals the one nearest +X. */
function longAxis(outline: Float64Array): number {
  let best = { area: Number.POSITIVE_INFINITY, angle: 0 };
  for (let k = 0; k < outline.length; k += 2) {
    const n = (k + 2) % outline.length;
    const edge = new Turn(Math.atan2(outline[n + 1] - outline[k + 1], outline[n] - outline[k]));
    const box = boxOf([edge.ring(outline)]);
    const long = box.maxX - box.minX;
    const short = box.maxY - box.minY;
    const along = Math.atan2(edge.sin, edge.cos) + (long >= short * (1 - 1e-9) ? 0 : Math.PI / 2);
    const angles = Math.abs(long - short) <= 1e-9 * long ? [along, along + Math.PI / 2] : [along];
    for (const raw of angles) {
      // A direction and its opposite are the same grain: take the one from -90 up to, without, 90 degrees.
      const angle = raw - Math.PI * Math.ceil(raw / Math.PI - 0.5 - 1e-12);
      const area = long * short;
      const smaller = area < best.area * (1 - 1e-9);
      const nearer = area <= best.area * (1 + 1e-9) && Math.abs(angle) < Math.abs(best.angle) - 1e-12;
      if (smaller || nearer) best = { area, angle };
    }
  }
  return best.angle;
}
