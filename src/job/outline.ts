// Outlines as rings: counter-clockwise seen from above with Y up, mm, flat and not closed. Finds where
// an outline crosses or touches itself, whether a place lies inside, and whether two outlines overlap.
// Plain floating point on coordinates up to 100 m; what lies within 1 nm of an edge counts as on it.

import type { Ring } from "./job.ts";

/** Either a ring, or why there is none: a sentence and the corner (of those given) where it shows. */
export type RingResult =
  | { readonly ring: Ring }
  | { readonly problem: "few" }
  | { readonly problem: "no-area" }
  | { readonly problem: "far"; readonly x: number; readonly y: number }
  | {
      readonly problem: "crosses" | "touches";
      /** Where, mm. */
      readonly x: number;
      readonly y: number;
      /** Both edges by the corners they join, counted from 0 as given. */
      readonly edges: readonly [readonly [number, number], readonly [number, number]];
    };

/** The most corners an outline may have. */
export const CORNERS_MAX = 20_000;

/** No outline reaches farther from the origin than this, mm. (The arithmetic of areas ends at 47 m.) */
export const REACH_MAX_MM = 40_000;

/** Neighbouring corners nearer than this are one, mm. */
const SAME_MM = 1e-3;
const ON_MM = 1e-6;

/** The ring of corners given in either direction, the first perhaps repeated at the end. */
export function ringOf(corners: readonly (readonly [number, number])[]): RingResult {
  const far = corners.find(([x, y]) => Math.max(Math.abs(x), Math.abs(y)) > REACH_MAX_MM);
  if (far !== undefined) return { problem: "far", x: far[0], y: far[1] };
  const kept = distinctNeighbours(corners);
  if (kept.length < 3) return { problem: "few" };
  const ring = Float64Array.from(kept.flatMap((k) => corners[k]));
  const area = signedArea(ring);
  const noArea = !(Math.abs(area) > SAME_MM * perimeter(ring));

  const meeting = firstMeeting(ring);
  if (meeting && !(noArea && !meeting.crosses)) {
    const edge = (k: number) => [kept[k], kept[(k + 1) % kept.length]] as const;
    const { crosses, x, y, first, second } = meeting;
    return { problem: crosses ? "crosses" : "touches", x, y, edges: [edge(first), edge(second)] };
  }
  if (noArea) return { problem: "no-area" };
  return { ring: area > 0 ? ring : reversed(ring) };
}

/** What rounding may put between an outline and a reading taken on it; such a reading counts as inside. */
export const ON_OUTLINE_MM = 0.002;

/** Whether (x, y) is inside the ring or within `tolerance` of its edge. */
export function inOrOn(ring: Ring, x: number, y: number, tolerance: number): boolean {
  return windsAround(ring, x, y) || distanceToEdge(ring, x, y) <= tolerance;
}

/** A place on ground that both rings cover, or null where there is none. Rings that share an edge do not overlap. */
export function overlapOf(a: Ring, b: Ring): readonly [number, number] | null {
  // Where two regions share ground, a stretch of one's edge runs strictly inside the other, unless
  // both are the same region.
  if (!boxesMeet(bounds(a), bounds(b))) return null;
  return edgeInside(a, b) ?? edgeInside(b, a) ?? (sameRegion(a, b) ? innerPlace(a) : null);
}

/** Indexes of the corners that are not the same as the one before, round the ring. */
function distinctNeighbours(corners: readonly (readonly [number, number])[]): number[] {
  const same = (p: readonly [number, number], q: readonly [number, number]) =>
    Math.abs(p[0] - q[0]) <= SAME_MM && Math.abs(p[1] - q[1]) <= SAME_MM;
  const kept: number[] = [];
  corners.forEach((corner, k) => {
    if (kept.length === 0 || !same(corner, corners[kept[kept.length - 1]])) kept.push(k);
  });
  while (kept.length > 1 && same(corners[kept[0]], corners[kept[kept.length - 1]])) kept.pop();
  return kept;
}

interface Meeting {
  readonly crosses: boolean;
  readonly x: number;
  readonly y: number;
  readonly first: number;
  readonly second: number;
}

/** Where the ring meets itself other than from corner to corner; of several, at the earliest edge. */
function firstMeeting(ring: Ring): Meeting | null {
  const count = ring.length / 2;
  const { left, right, low, high } = edgeBoxes(ring);
  // Edges in order of where they begin: each is compared with those that begin before it ends. Along
  // the axis on which edges are the shorter, so that a comb of long teeth has few such neighbours.
  const alongX = meanSpan(left, right) <= meanSpan(low, high);
  const [begin, end] = alongX ? [left, right] : [low, high];
  const [under, over] = alongX ? [low, high] : [left, right];
  const order = Uint32Array.from({ length: count }, (_, k) => k).sort((p, q) => begin[p] - begin[q]);
  let found: Meeting | null = null;
  for (let i = 0; i < count; i++) {
    const p = order[i];
    const last = end[p] + ON_MM;
    const top = over[p] + ON_MM;
    const bottom = under[p] - ON_MM;
    for (let j = i + 1; j < count && begin[order[j]] <= last; j++) {
      const q = order[j];
      if (under[q] > top || over[q] < bottom) continue;
      const first = Math.min(p, q);
      const second = Math.max(p, q);
      if (found && (found.first < first || (found.first === first && found.second < second))) continue;
      const place = meetingOf(ring, first, second);
      if (place) found = { ...place, first, second };
    }
  }
  return found;
}

/** Mean length of the spans as a share of what they cover together. */
function meanSpan(from: Float64Array, to: Float64Array): number {
  let sum = 0;
  let least = Number.POSITIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < from.length; k++) {
    sum += to[k] - from[k];
    least = Math.min(least, from[k]);
    most = Math.max(most, to[k]);
  }
  return most > least ? sum / (from.length * (most - least)) : 1;
}

/** Where edges `first` < `second` of the ring meet; neighbours only when one doubles back on the other. */
function meetingOf(ring: Ring, first: number, second: number) {
  const [a, b] = endsOf(ring, first);
  const [c, d] = endsOf(ring, second);
  const count = ring.length / 2;
  if (second === first + 1) return onSegment(d, a, b) ? touch(d) : onSegment(a, c, d) ? touch(a) : null;
  if (first === 0 && second === count - 1)
    return onSegment(c, a, b) ? touch(c) : onSegment(b, c, d) ? touch(b) : null;
  const crossing = properCrossing(a, b, c, d);
  if (crossing) return { crosses: true, x: crossing.x, y: crossing.y };
  if (onSegment(a, c, d)) return touch(a);
  if (onSegment(b, c, d)) return touch(b);
  if (onSegment(c, a, b)) return touch(c);
  return onSegment(d, a, b) ? touch(d) : null;
}

function touch(p: Point) {
  return { crosses: false, x: p.x, y: p.y };
}

/** The middle of a stretch of `ring`'s edge that runs inside `other`, or null. */
function edgeInside(ring: Ring, other: Ring): readonly [number, number] | null {
  const box = bounds(other);
  const edges = edgeBoxes(other);
  const count = other.length / 2;
  for (let k = 0; k < ring.length / 2; k++) {
    const [a, b] = endsOf(ring, k);
    const edgeBox = {
      left: Math.min(a.x, b.x),
      right: Math.max(a.x, b.x),
      low: Math.min(a.y, b.y),
      high: Math.max(a.y, b.y),
    };
    if (!boxesMeet(edgeBox, box)) continue;
    const cuts = [0, 1];
    for (let m = 0; m < count; m++) {
      if (edges.left[m] > edgeBox.right + ON_MM || edges.right[m] < edgeBox.left - ON_MM) continue;
      if (edges.low[m] > edgeBox.high + ON_MM || edges.high[m] < edgeBox.low - ON_MM) continue;
      const [c, d] = endsOf(other, m);
      const crossing = properCrossing(a, b, c, d);
      if (crossing) cuts.push(crossing.t);
      else cuts.push(...[c, d].filter((p) => onSegment(p, a, b)).map((p) => shareAlong(p, a, b)));
    }
    cuts.sort((s, t) => s - t);
    for (let n = 0; n + 1 < cuts.length; n++) {
      const t = (cuts[n] + cuts[n + 1]) / 2;
      const x = a.x + (b.x - a.x) * t;
      const y = a.y + (b.y - a.y) * t;
      if (windsAround(other, x, y) && distanceToEdge(other, x, y) > SAME_MM) return [x, y];
    }
  }
  return null;
}

/** Whether two rings, of which neither runs inside the other, enclose the same ground. */
function sameRegion(a: Ring, b: Ring): boolean {
  const [x, y] = innerPlace(a);
  return windsAround(b, x, y) && distanceToEdge(b, x, y) > SAME_MM;
}

/** A place inside the ring: the middle of the widest stretch on one level between two of its corners. */
function innerPlace(ring: Ring): readonly [number, number] {
  const levels = Float64Array.from({ length: ring.length / 2 }, (_, k) => ring[2 * k + 1]).sort();
  let y = 0;
  let gap = -1;
  for (let k = 1; k < levels.length; k++) {
    if (levels[k] - levels[k - 1] <= gap) continue;
    gap = levels[k] - levels[k - 1];
    y = (levels[k] + levels[k - 1]) / 2;
  }
  const crossings: number[] = [];
  for (let k = 0; k < ring.length / 2; k++) {
    const [a, b] = endsOf(ring, k);
    if (a.y > y !== b.y > y) crossings.push(a.x + ((b.x - a.x) * (y - a.y)) / (b.y - a.y));
  }
  crossings.sort((p, q) => p - q);
  let x = 0;
  let width = -1;
  for (let k = 0; k + 1 < crossings.length; k += 2) {
    if (crossings[k + 1] - crossings[k] <= width) continue;
    width = crossings[k + 1] - crossings[k];
    x = (crossings[k] + crossings[k + 1]) / 2;
  }
  return [x, y];
}

interface Box {
  readonly left: number;
  readonly right: number;
  readonly low: number;
  readonly high: number;
}

function bounds(ring: Ring): Box {
  let [left, low, right, high] = [ring[0], ring[1], ring[0], ring[1]];
  for (let k = 0; k < ring.length; k += 2) {
    left = Math.min(left, ring[k]);
    right = Math.max(right, ring[k]);
    low = Math.min(low, ring[k + 1]);
    high = Math.max(high, ring[k + 1]);
  }
  return { left, right, low, high };
}

function boxesMeet(a: Box, b: Box): boolean {
  return a.left <= b.right && b.left <= a.right && a.low <= b.high && b.low <= a.high;
}

/** The box of each edge, as columns. */
function edgeBoxes(ring: Ring) {
  const count = ring.length / 2;
  const [left, right, low, high] = Array.from({ length: 4 }, () => new Float64Array(count));
  for (let k = 0; k < count; k++) {
    const [a, b] = endsOf(ring, k);
    left[k] = Math.min(a.x, b.x);
    right[k] = Math.max(a.x, b.x);
    low[k] = Math.min(a.y, b.y);
    high[k] = Math.max(a.y, b.y);
  }
  return { left, right, low, high };
}

interface Point {
  readonly x: number;
  readonly y: number;
}

function endsOf(ring: Ring, edge: number): [Point, Point] {
  const a = 2 * edge;
  const b = a + 2 < ring.length ? a + 2 : 0;
  return [
    { x: ring[a], y: ring[a + 1] },
    { x: ring[b], y: ring[b + 1] },
  ];
}

/** Where a-b and c-d cross, neither ending on the other; `t` is the share of a-b up to there. */
function properCrossing(a: Point, b: Point, c: Point, d: Point): (Point & { t: number }) | null {
  if (onSegment(a, c, d) || onSegment(b, c, d) || onSegment(c, a, b) || onSegment(d, a, b)) return null;
  const sideC = turn(a, b, c);
  const sideD = turn(a, b, d);
  const sideA = turn(c, d, a);
  const sideB = turn(c, d, b);
  if (sideC > 0 === sideD > 0 || sideA > 0 === sideB > 0) return null;
  const t = sideA / (sideA - sideB);
  return { x: a.x + (b.x - a.x) * t, y: a.y + (b.y - a.y) * t, t };
}

function onSegment(p: Point, a: Point, b: Point): boolean {
  const t = shareAlong(p, a, b);
  const dx = p.x - a.x - (b.x - a.x) * t;
  const dy = p.y - a.y - (b.y - a.y) * t;
  return dx * dx + dy * dy <= ON_MM * ON_MM;
}

/** How far along a-b, from 0 to 1, the place nearest to p lies. */
function shareAlong(p: Point, a: Point, b: Point): number {
  const dx = b.x - a.x;
  const dy = b.y - a.y;
  const t = ((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy);
  return Math.max(0, Math.min(1, t));
}

function windsAround(ring: Ring, x: number, y: number): boolean {
  let inside = false;
  for (let i = 0, j = ring.length - 2; i < ring.length; j = i, i += 2) {
    if (ring[i + 1] > y === ring[j + 1] > y) continue;
    if (x < ring[i] + ((ring[j] - ring[i]) * (y - ring[i + 1])) / (ring[j + 1] - ring[i + 1]))
      inside = !inside;
  }
  return inside;
}

/** How far (x, y) is from the ring's edge, inside or out. */
export function distanceToEdge(ring: Ring, x: number, y: number): number {
  const p = { x, y };
  let least = Number.POSITIVE_INFINITY;
  for (let k = 0; k < ring.length / 2; k++) {
    const [a, b] = endsOf(ring, k);
    const t = shareAlong(p, a, b);
    least = Math.min(least, (x - a.x - (b.x - a.x) * t) ** 2 + (y - a.y - (b.y - a.y) * t) ** 2);
  }
  return Math.sqrt(least);
}

function signedArea(ring: Ring): number {
  let twice = 0;
  for (let k = 0; k < ring.length / 2; k++) {
    const [a, b] = endsOf(ring, k);
    // From the first corner, so that a small outline far from the origin keeps its digits.
    twice += (a.x - ring[0]) * (b.y - ring[1]) - (b.x - ring[0]) * (a.y - ring[1]);
  }
  return twice / 2;
}

function perimeter(ring: Ring): number {
  let length = 0;
  for (let k = 0; k < ring.length / 2; k++) {
    const [a, b] = endsOf(ring, k);
    length += Math.sqrt((b.x - a.x) ** 2 + (b.y - a.y) ** 2);
  }
  return length;
}

function reversed(ring: Ring): Ring {
  const back = new Float64Array(ring.length);
  for (let k = 0; k < ring.length; k += 2) {
    back[k] = ring[ring.length - 2 - k];
    back[k + 1] = ring[ring.length - 1 - k];
  }
  return back;
}

function turn(a: Point, b: Point, c: Point): number {
  return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}
