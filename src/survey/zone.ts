// Two parallel planes fitted to faces, exactly: the nearest two that hold a face between them (minimum zone
// flatness, ISO 12781-1), and the farthest two that both lie inside a piece. They are one problem: over all tilts,
// raise the gap from the highest of the points below to the lowest of those above as far as it will go. Its linear
// programme measures the gap along Z; here it is measured square to the planes.
//
// A few points decide: fit to those, look through all points for ones that get in the way, add them, fit again.
// Fitting to the few: while the two hulls are apart, the best gap is the shortest way between them. Hulls that meet
// are first lifted apart along the planes' normal, and again from the better normal so found, until none is better.

import { assert } from "../errors.ts";
import type { Cloud } from "./cloud.ts";
import { dot, shortestWay, type Vector } from "./hulls.ts";

/** The planes z = a x + b y + c and one that lies higher, `apartMm` from it, measured square to both. */
export interface Planes {
  readonly a: number;
  readonly b: number;
  readonly c: number;
  /** Below 0: there is no room between the faces; they cross by so much at the least. */
  readonly apartMm: number;
  /** How often all points were looked through. */
  readonly scans: number;
}

/** Points that stand in the way by less are let be. */
const TOLERANCE_MM = 1e-7;
const SCANS_MAX = 30;
const CLIMBS_MAX = 60;
/** Planes that are best over a range of tilts along Z are not so square to themselves: look beside, too. */
const ASIDE = 1e-4;

/** The two parallel planes nearest to each other with all points between them: flatness. */
export function minimumZone(face: Cloud): Planes {
  const { a, b, c, apartMm, scans } = widestGap(face, face);
  // The gap from the highest point to the lowest is less than none: its lower plane is the zone's upper one.
  return { a, b, c: c + apartMm * Math.sqrt(1 + a * a + b * b), apartMm: 0 - apartMm, scans };
}

/** The two parallel planes farthest from each other that lie above the under face and below the upper one. */
export function thickestPlank(upper: Cloud, under: Cloud): Planes {
  return widestGap(under, upper);
}

/** The planes with all points of `below` under the lower and all of `above` over the upper one. */
function widestGap(below: Cloud, above: Cloud): Planes {
  const few = new Few(below.extremes(0, 0).high, above.extremes(0, 0).low);
  let best: Planes = { a: 0, b: 0, c: 0, apartMm: Number.NEGATIVE_INFINITY, scans: 1 };
  let normal: Vector = [0, 0, 1];
  for (let scans = 2; scans <= SCANS_MAX; scans++) {
    normal = few.bestNormal(normal);
    if (few.gap(normal) <= best.apartMm + TOLERANCE_MM) break;
    const a = (0 - normal[0]) / normal[2];
    const b = (0 - normal[1]) / normal[2];
    const found = below.extremes(a, b);
    const high = found.high;
    const low = below === above ? found.low : above.extremes(a, b).low;
    const top = farthestOver(high, a, b, 1);
    const apartMm = (farthestOver(low, a, b, -1) - top) * normal[2];
    if (apartMm > best.apartMm) best = { a, b, c: top, apartMm, scans };
    best = { ...best, scans };
    if (!few.add(high, low, normal)) break;
  }
  return best;
}

/** Height over the plane z = a x + b y of the highest (sign 1) or lowest (sign -1) of the points. */
function farthestOver(xyz: readonly number[], a: number, b: number, sign: 1 | -1): number {
  let best = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < xyz.length; k += 3)
    best = Math.max(best, sign * (xyz[k + 2] - (a * xyz[k] + b * xyz[k + 1])));
  return sign * best;
}

/** The points that decide so far, around their middle. */
class Few {
  readonly #middle: Vector;
  /** How far they reach from it. */
  readonly #reach: number;
  readonly #below: number[];
  readonly #above: number[];

  constructor(below: readonly number[], above: readonly number[]) {
    assert(below.length > 0 && above.length > 0, "planes through no points");
    const all = [...below, ...above];
    const middle = [0, 1, 2].map((axis) => {
      const values = all.filter((_, k) => k % 3 === axis);
      return (Math.min(...values) + Math.max(...values)) / 2;
    });
    this.#middle = [middle[0], middle[1], middle[2]];
    this.#below = this.#centred(below);
    this.#above = this.#centred(above);
    const reach = [...this.#below, ...this.#above].reduce(
      (most, value) => Math.max(most, Math.abs(value)),
      0,
    );
    this.#reach = reach > 0 ? reach : 1;
  }

  /** Takes in those points that get in the way of the best gap so far; false when none does. */
  add(high: readonly number[], low: readonly number[], normal: Vector): boolean {
    const before = this.#below.length + this.#above.length;
    const top = farthestAlong(this.#below, normal, 1) + TOLERANCE_MM;
    const bottom = farthestAlong(this.#above, normal, -1) - TOLERANCE_MM;
    const along = (p: readonly number[]) => normal[0] * p[0] + normal[1] * p[1] + normal[2] * p[2];
    for (const p of triples(this.#centred(high))) if (along(p) > top) this.#below.push(...p);
    for (const p of triples(this.#centred(low))) if (along(p) < bottom) this.#above.push(...p);
    return this.#below.length + this.#above.length > before;
  }

  /** Room between the planes square to `normal`; below 0 where they would cross. */
  gap(normal: Vector): number {
    return farthestAlong(this.#above, normal, -1) - farthestAlong(this.#below, normal, 1);
  }

  /** The normal of the planes with the widest gap, length 1. */
  bestNormal(start: Vector): Vector {
    let best = this.#climb(start);
    if (this.gap(best) > 0 || this.#inLine()) return best;
    for (const [x, y] of [
      [ASIDE, 0],
      [-ASIDE, 0],
      [0, ASIDE],
      [0, -ASIDE],
    ]) {
      const aside = this.#climb(unit([best[0] + x, best[1] + y, best[2]]));
      if (this.gap(aside) > this.gap(best) + 1e-12 * this.#reach) best = aside;
    }
    return best;
  }

  #climb(start: Vector): Vector {
    let normal = start;
    let gap = this.gap(normal);
    for (let k = 0; k < CLIMBS_MAX; k++) {
      // Far enough apart that the way between them has a direction.
      const lift = gap > 1e-4 * this.#reach ? 0 : 1e-3 * this.#reach - 2 * Math.min(0, gap);
      const shift: Vector = [lift * normal[0], lift * normal[1], lift * normal[2]];
      const way = unit(shortestWay(this.#below, this.#above, shift, normal, 1e-13 * this.#reach));
      const wider = this.gap(way);
      if (!(wider > gap + 1e-13 * this.#reach) || !(way[2] > 0)) break;
      gap = wider;
      normal = way;
    }
    return normal;
  }

  /** Whether all points stand over one line: then nothing says how planes should tilt beside it. */
  #inLine(): boolean {
    let [xx, xy, yy] = [0, 0, 0];
    const points = [...triples(this.#below), ...triples(this.#above)];
    const [x0, y0] = points[0];
    for (const [x, y] of points) {
      xx += (x - x0) ** 2;
      xy += (x - x0) * (y - y0);
      yy += (y - y0) ** 2;
    }
    return xx * yy - xy * xy <= 1e-12 * (xx + yy) ** 2;
  }

  #centred(xyz: readonly number[]): number[] {
    return xyz.map((value, k) => value - this.#middle[k % 3]);
  }
}

function farthestAlong(xyz: readonly number[], [x, y, z]: Vector, sign: 1 | -1): number {
  let best = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < xyz.length; k += 3) {
    const along = sign * (x * xyz[k] + y * xyz[k + 1] + z * xyz[k + 2]);
    if (along > best) best = along;
  }
  return sign * best;
}

function triples(xyz: readonly number[]): number[][] {
  return Array.from({ length: xyz.length / 3 }, (_, k) => xyz.slice(3 * k, 3 * k + 3));
}

function unit(v: Vector): Vector {
  const length = Math.sqrt(dot(v, v));
  return [v[0] / length, v[1] / length, v[2] / length];
}
