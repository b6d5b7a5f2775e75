// The direction of a piece's grain and of a setup's rows. Radians from +X.

import type { Piece, Setup } from "../job/job.ts";
import { boxOf } from "../survey/field.ts";
import { Turn } from "./edges.ts";

/** Direction of the rows: the passes' angle from the grain of the first piece. */
export function rowAngle(setup: Setup): number {
  return grainOf(setup.pieces[0]) + setup.passes.angleRad;
}

/** Of the hull's edges the longest are tried, and of angles nearer than this one. */
const EDGES_TRIED = 5;
const ALIKE_RAD = Math.PI / 180;

/** Directions in which rows may be quickest: with the grain, across it, and along the long edges of the pieces' hull. */
export function anglesToTry(setup: Setup): number[] {
  const grain = grainOf(setup.pieces[0]);
  const hull = hullOf(setup.pieces.flatMap(({ outline }) => cornersOf(outline)));
  const edges = hull.map(([x, y], k) => {
    const [nx, ny] = hull[(k + 1) % hull.length];
    return { angle: Math.atan2(ny - y, nx - x), length: (nx - x) ** 2 + (ny - y) ** 2 };
  });
  edges.sort((a, b) => b.length - a.length);
  const kept: number[] = [];
  for (const angle of [grain, grain + Math.PI / 2, ...edges.slice(0, EDGES_TRIED).map((edge) => edge.angle)])
    if (kept.every((other) => Math.abs(Math.sin(angle - other)) > Math.sin(ALIKE_RAD))) kept.push(angle);
  return kept;
}

type Corner = readonly [number, number];

function cornersOf(ring: Float64Array): Corner[] {
  return Array.from({ length: ring.length / 2 }, (_, k) => [ring[2 * k], ring[2 * k + 1]] as const);
}

/** The convex hull, counter-clockwise (Andrew's monotone chain). */
function hullOf(corners: Corner[]): Corner[] {
  corners.sort(([ax, ay], [bx, by]) => ax - bx || ay - by);
  const chain = (points: readonly Corner[]): Corner[] => {
    const kept: Corner[] = [];
    for (const [x, y] of points) {
      while (kept.length > 1) {
        const [[ax, ay], [bx, by]] = [kept[kept.length - 2], kept[kept.length - 1]];
        if ((bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0) break;
        kept.pop();
      }
      kept.push([x, y]);
    }
    return kept.slice(0, -1);
  };
  return [...chain(corners), ...chain([...corners].reverse())];
}

/** Direction of a piece's grain. */
export function grainOf({ grainRad, outline }: Piece): number {
  return grainRad ?? longAxis(outline);
}

/**
 * Direction of the long side of the smallest rectangle around the outline, of which one side lies along an edge of
 * the hull; of equals the one nearest +X.
 */
function longAxis(outline: Float64Array): number {
  const corners = hullOf(cornersOf(outline));
  const hull = Float64Array.from(corners.flat());
  let best = { area: Number.POSITIVE_INFINITY, angle: 0 };
  for (const [k, [x, y]] of corners.entries()) {
    const [nextX, nextY] = corners[(k + 1) % corners.length];
    const edge = new Turn(Math.atan2(nextY - y, nextX - x));
    const box = boxOf([edge.ring(hull)]);
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
