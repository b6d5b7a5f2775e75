// How a piece comes to rest on a flat bed: on three points of its under face whose triangle holds the centre of mass,
// with nothing below their plane. That is the facet of the face's lower hull under the centre. Where the centre lies
// close to the rim of a facet, a push on the piece tips it to the next one: it rocks. Millimetres, in the lay as
// measured; tilts are small, so places are taken in plan.

import type { Cloud } from "./cloud.ts";

export type Corner = readonly [x: number, y: number, z: number];
type Corners = readonly [Corner, Corner, Corner];

/** z = a x + b y + c */
interface Plane {
  readonly a: number;
  readonly b: number;
  readonly c: number;
}

export interface Seat extends Plane {
  /** What it stands on, as far apart as anything touches; their plane comes to lie on the bed. */
  readonly supports: Corners;
  /** Area of their triangle: little of the face means that it stands on its belly. */
  readonly baseMm2: number;
  /** Where the under face then stands highest above the bed; hardly at all for a face that rests evenly. */
  readonly widestGap: { readonly x: number; readonly y: number; readonly gapMm: number };
}

/** Points less than this below a plane do not carry the piece. */
const TOLERANCE_MM = 1e-6;
/** Rests whose planes differ by less over the whole piece are one. */
const ALIKE_MM = 0.1;
/** What comes so near to the bed touches it. */
const TOUCH_MM = 0.01;
/** Around how many places beside the centre other rests are looked for, and how many are told of. */
const TURNS = 8;
const SEATS_MAX = 3;
/** The centre is moved by so much of the reach, or it might lie on a rim or a corner. */
const BESIDE = 1e-7;
/** The search comes down from so high, and from so far beyond the face; in reaches of the face. */
const HIGH = 1000;
const BEYOND = 10;
const STEPS_MAX = 1000;

/**
 * Up to three rests of a piece on its under face, first the one under its centre. More than one: it rocks between
 * them, for a centre up to `nearMm` beside (wood is not equally heavy all over, and hands push). None: the centre
 * lies outside the points.
 */
export function restsOf(
  under: Cloud,
  centre: { readonly x: number; readonly y: number },
  nearMm: number,
): Seat[] {
  const few = [...under.extremes(0, 0).low];
  let reach = 0;
  for (let k = 0; k < few.length; k += 3)
    reach = Math.max(reach, Math.abs(few[k] - centre.x), Math.abs(few[k + 1] - centre.y));
  const seats: Seat[] = [];
  const addRest = (x: number, y: number) => {
    const corners = facetUnder(under, few, x, y, reach);
    if (corners === null) return;
    const plane = planeThrough(corners);
    const alike = ({ a, b }: Seat) => (Math.abs(a - plane.a) + Math.abs(b - plane.b)) * reach <= ALIKE_MM;
    if (!seats.some(alike)) seats.push(seatOn(under, corners, x, y, reach));
  };
  const x = centre.x + 3 * BESIDE * reach;
  const y = centre.y + 2 * BESIDE * reach;
  addRest(x, y);
  if (seats.length === 0) return [];
  for (let turn = 0; turn < TURNS && seats.length < SEATS_MAX; turn++) {
    const angle = (2 * Math.PI * turn) / TURNS;
    addRest(x + nearMm * Math.cos(angle), y + nearMm * Math.sin(angle));
  }
  return seats;
}

function seatOn(under: Cloud, corners: Corners, x: number, y: number, reach: number): Seat {
  const plane = planeThrough(corners);
  const highest = farthestOver(under.extremes(plane.a, plane.b).high, plane, 1);
  const supports = widestOn(touching(under, corners, plane, reach), corners, x, y);
  return {
    ...plane,
    supports,
    baseMm2: Math.abs(doubleArea(...supports)) / 2,
    widestGap: { x: highest.point[0], y: highest.point[1], gapMm: Math.max(0, highest.overMm) },
  };
}

/** The corners, and what else touches their plane farthest out: a face straight between readings touches along lines. */
function touching(under: Cloud, corners: Corners, { a, b, c }: Plane, reach: number): Corner[] {
  const found: Corner[] = [...corners];
  const slope = TOUCH_MM / 2 / reach;
  // Both ends of a line and all corners of a rectangle are found, however they lie, but for unlikely angles.
  for (const angle of [0.3, 0.3 + Math.PI / 2, 0.3 + Math.PI, 0.3 + 1.5 * Math.PI]) {
    const tipped = { a: a + slope * Math.cos(angle), b: b + slope * Math.sin(angle), c };
    const { point } = farthestOver(under.extremes(tipped.a, tipped.b).low, tipped, -1);
    if (point[2] - heightOf({ a, b, c }, point[0], point[1]) <= TOUCH_MM) found.push(point);
  }
  return found;
}

/** The largest triangle of the points that still holds (x, y). */
function widestOn(points: readonly Corner[], corners: Corners, x: number, y: number): Corners {
  let widest = corners;
  points.forEach((p, i) => {
    points.slice(i + 1).forEach((q, j) => {
      for (const r of points.slice(i + j + 2))
        if (Math.abs(doubleArea(p, q, r)) > Math.abs(doubleArea(...widest)) && holds([p, q, r], x, y))
          widest = [p, q, r];
    });
  });
  return widest;
}

/**
 * The facet of the lower hull under (x, y): a triangle around (x, y) comes down, one corner at a time, to points
 * that are below its plane. `few` holds points that got in the way so far, and takes in more.
 */
function facetUnder(under: Cloud, few: number[], x: number, y: number, reach: number): Corners | null {
  const high = HIGH * reach;
  const far = BEYOND * reach;
  let corners: Corners = [
    [x, y + 2 * far, high],
    [x - 2 * far, y - far, high],
    [x + 2 * far, y - far, high],
  ];
  let plane = planeThrough(corners);
  for (let step = 0; step < STEPS_MAX; step++) {
    const lowest = farthestOver(few, plane, -1);
    const next = lowest.overMm < -TOLERANCE_MM ? broughtDown(corners, lowest.point, x, y) : null;
    if (next !== null) {
      corners = next;
      plane = planeThrough(corners);
      continue;
    }
    const known = few.length;
    const found = under.extremes(plane.a, plane.b).low;
    for (let k = 0; k < found.length; k += 3)
      if (found[k + 2] < heightOf(plane, found[k], found[k + 1]) - TOLERANCE_MM)
        few.push(found[k], found[k + 1], found[k + 2]);
    if (few.length === known) break;
  }
  return corners.some((corner) => corner[2] === high) ? null : corners;
}

/**
 * The triangle with one corner moved to the point, so that it still holds (x, y) and is lowest there. Null where
 * rounding leaves none.
 */
function broughtDown(corners: Corners, point: Corner, x: number, y: number): Corners | null {
  let best: { corners: Corners; height: number } | null = null;
  for (let k = 0; k < 3; k++) {
    const next: Corners = [
      k === 0 ? point : corners[0],
      k === 1 ? point : corners[1],
      k === 2 ? point : corners[2],
    ];
    if (!holds(next, x, y)) continue;
    const height = heightOf(planeThrough(next), x, y);
    if (best === null || height < best.height) best = { corners: next, height };
  }
  return best?.corners ?? null;
}

/** Whether (x, y) lies in the triangle or, but for rounding, on its rim; never for one without an area. */
function holds([p, q, r]: Corners, x: number, y: number): boolean {
  const at: Corner = [x, y, 0];
  const whole = doubleArea(p, q, r);
  const least = Math.min(
    doubleArea(at, q, r) / whole,
    doubleArea(p, at, r) / whole,
    doubleArea(p, q, at) / whole,
  );
  return least >= -1e-12 && Number.isFinite(least);
}

function doubleArea(p: Corner, q: Corner, r: Corner): number {
  return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
}

export function planeThrough([p, q, r]: Corners): Plane {
  const [ux, uy, uz] = [q[0] - p[0], q[1] - p[1], q[2] - p[2]];
  const [vx, vy, vz] = [r[0] - p[0], r[1] - p[1], r[2] - p[2]];
  const area = ux * vy - uy * vx;
  const a = (uz * vy - uy * vz) / area;
  const b = (ux * vz - uz * vx) / area;
  return { a, b, c: p[2] - a * p[0] - b * p[1] };
}

function heightOf({ a, b, c }: Plane, x: number, y: number): number {
  return a * x + b * y + c;
}

/** The point highest (sign 1) or lowest (sign -1) over the plane. */
function farthestOver(xyz: readonly number[], plane: Plane, sign: 1 | -1): { point: Corner; overMm: number } {
  let most = Number.NEGATIVE_INFINITY;
  let at = 0;
  for (let k = 0; k < xyz.length; k += 3) {
    const over = sign * (xyz[k + 2] - heightOf(plane, xyz[k], xyz[k + 1]));
    if (over > most) {
      most = over;
      at = k;
    }
  }
  return { point: [xyz[at], xyz[at + 1], xyz[at + 2]], overMm: sign * most };
}
