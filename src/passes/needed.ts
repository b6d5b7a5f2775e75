// What of a way along a border is needed. A disc on the border reaches any material best from the place that is
// nearest to it; where the disc only grazes material that it reaches as well a little farther along, it need not go.
// That spares time, and travel beyond the ends of a piece. Coordinates are (u, v); millimetres.

import { blocks, type Edges, touching } from "./edges.ts";

/** Around a sharper corner than this all that the disc there reaches counts. */
const SHARP_COS = Math.cos(Math.PI / 6);

/**
 * A way from the first to the last of its places that are nearest to some material: from there it is reached.
 * At its ends a disc touches only what it reaches as well a little farther along. May be empty.
 */
export function neededOf(points: readonly number[], near: Edges, reachMm: number): number[] {
  const first = firstNeeded(points, near, reachMm);
  const last = firstNeeded(reversed(points), near, reachMm);
  if (first === null || last === null) return [];
  return between(points, first, Math.max(first, lengthOf(points) - last));
}

/** How far along a way its first needed place lies; null: nowhere. */
function firstNeeded(points: readonly number[], near: Edges, reachMm: number): number | null {
  let along = 0;
  for (let k = 0; k + 3 < points.length; k += 2) {
    const [au, av, bu, bv] = [points[k], points[k + 1], points[k + 2], points[k + 3]];
    const length = Math.sqrt((bu - au) ** 2 + (bv - av) ** 2);
    if (length === 0) continue;
    const [du, dv] = [(bu - au) / length, (bv - av) / length];
    if (k > 0 && cornerNeeded(points, k, du, dv, near, reachMm)) return along;
    const from = firstAbreast(au, av, du, dv, length, near, reachMm);
    if (from !== null) return along + from;
    along += length;
  }
  return null;
}

/** How far along a straight way material first lies abreast of it, within reach to either side; null: nowhere. */
function firstAbreast(
  au: number,
  av: number,
  du: number,
  dv: number,
  length: number,
  near: Edges,
  reachMm: number,
): number | null {
  const [nu, nv] = [-dv * reachMm, du * reachMm];
  if (blocks(near, au - nu, av - nv, au + nu, av + nv)) return 0;
  let first = Number.POSITIVE_INFINITY;
  for (let k = 0; k < near.count; k++) {
    const cs = (near.au[k] - au) * du + (near.av[k] - av) * dv;
    const ct = (near.av[k] - av) * du - (near.au[k] - au) * dv;
    const ds = (near.bu[k] - au) * du + (near.bv[k] - av) * dv;
    const dt = (near.bv[k] - av) * du - (near.bu[k] - au) * dv;
    if (Math.min(ct, dt) > reachMm || Math.max(ct, dt) < -reachMm) continue;
    // The part of the edge that is within reach.
    const at = (t: number) => (dt === ct ? cs : cs + ((ds - cs) * (t - ct)) / (dt - ct));
    const p = at(Math.max(-reachMm, Math.min(reachMm, ct)));
    const q = dt === ct ? ds : at(Math.max(-reachMm, Math.min(reachMm, dt)));
    if (Math.max(p, q) >= 0 && Math.min(p, q) <= length) first = Math.min(first, Math.max(0, Math.min(p, q)));
  }
  return first === Number.POSITIVE_INFINITY ? null : first;
}

/** Whether material lies in the sector that a corner of a way is nearest to. */
function cornerNeeded(
  points: readonly number[],
  k: number,
  du: number,
  dv: number,
  near: Edges,
  reachMm: number,
): boolean {
  const [u, v] = [points[k], points[k + 1]];
  const [eu, ev] = [u - points[k - 2], v - points[k - 1]];
  const before = Math.sqrt(eu * eu + ev * ev);
  const cos = (eu * du + ev * dv) / before;
  if (!(cos > SHARP_COS)) return touching(near, reachMm, u, v, 1, 0, 0).length > 0;
  // The sector lies outside the bend; a triangle holds it.
  const side = (eu * dv - ev * du > 0 ? -reachMm : reachMm) / Math.sqrt((1 + cos) / 2);
  const [pu, pv] = [u - (side * ev) / before, v + (side * eu) / before];
  const [qu, qv] = [u - side * dv, v + side * du];
  if (blocks(near, pu, pv, qu, qv)) return true;
  const turn = (au: number, av: number, bu: number, bv: number, cu: number, cv: number) =>
    (bu - au) * (cv - av) - (bv - av) * (cu - au);
  for (let n = 0; n < near.count; n++) {
    const [cu, cv] = [near.au[n], near.av[n]];
    const sides = [turn(u, v, pu, pv, cu, cv), turn(pu, pv, qu, qv, cu, cv), turn(qu, qv, u, v, cu, cv)];
    if (Math.min(...sides) >= 0 || Math.max(...sides) <= 0) return true;
  }
  return false;
}

function lengthOf(points: readonly number[]): number {
  let length = 0;
  for (let k = 2; k < points.length; k += 2)
    length += Math.sqrt((points[k] - points[k - 2]) ** 2 + (points[k + 1] - points[k - 1]) ** 2);
  return length;
}

/** The part of a way between two lengths along it; a single place where they are one. */
function between(points: readonly number[], from: number, to: number): number[] {
  const part: number[] = [];
  let along = 0;
  for (let k = 0; k + 3 < points.length && along <= to; k += 2) {
    const [au, av, bu, bv] = [points[k], points[k + 1], points[k + 2], points[k + 3]];
    const length = Math.sqrt((bu - au) ** 2 + (bv - av) ** 2);
    const [start, end] = [from - along, to - along];
    along += length;
    if (start > length || length === 0) continue;
    const at = (way: number) => [au + ((bu - au) * way) / length, av + ((bv - av) * way) / length];
    if (part.length === 0) part.push(...at(Math.max(0, start)));
    if (end >= length) part.push(bu, bv);
    else if (end > Math.max(0, start)) part.push(...at(end));
  }
  return part;
}

export function reversed(points: readonly number[]): number[] {
  const back: number[] = [];
  for (let k = points.length - 2; k >= 0; k -= 2) back.push(points[k], points[k + 1]);
  return back;
}
