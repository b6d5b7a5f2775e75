// Questions that row making and linking put to an area, asked of its edges: what lies in a strip,
// where a disc on a line touches it, whether a straight way runs through it. Coordinates are (u, v):
// u along the rows, v across them, millimetres.

import type { Ring } from "../job/job.ts";
import { type Region, rings } from "../region/region.ts";

/** Straight edges from (au, av) to (bu, bv), the area at their left. */
export interface Edges {
  readonly count: number;
  readonly au: Float64Array;
  readonly av: Float64Array;
  readonly bu: Float64Array;
  readonly bv: Float64Array;
}

/** Turns between the frame's (x, y) and the rows' (u, v). */
export class Turn {
  readonly cos: number;
  readonly sin: number;

  /** `angleRad` is the direction of the rows, from +X. */
  constructor(angleRad: number) {
    // A quarter turn must come out exact, or rows along Y would drift by a rounding.
    const quarters = angleRad / (Math.PI / 2);
    const whole = Math.round(quarters);
    const exact = Math.abs(quarters - whole) < 1e-12;
    this.cos = exact ? [1, 0, -1, 0][((whole % 4) + 4) % 4] : Math.cos(angleRad);
    this.sin = exact ? [0, 1, 0, -1][((whole % 4) + 4) % 4] : Math.sin(angleRad);
  }

  u(x: number, y: number): number {
    return x * this.cos + y * this.sin;
  }

  v(x: number, y: number): number {
    return y * this.cos - x * this.sin;
  }

  x(u: number, v: number): number {
    return u * this.cos - v * this.sin;
  }

  y(u: number, v: number): number {
    return u * this.sin + v * this.cos;
  }

  /** A ring of the frame in the rows' coordinates. */
  ring(ring: Ring): Ring {
    const turned = new Float64Array(ring.length);
    for (let k = 0; k < ring.length; k += 2) {
      turned[k] = this.u(ring[k], ring[k + 1]);
      turned[k + 1] = this.v(ring[k], ring[k + 1]);
    }
    return turned;
  }

  /** Points in the rows' coordinates back in the frame. */
  back(points: readonly number[]): Ring {
    const back = new Float64Array(points.length);
    for (let k = 0; k < points.length; k += 2) {
      back[k] = this.x(points[k], points[k + 1]);
      back[k + 1] = this.y(points[k], points[k + 1]);
    }
    return back;
  }
}

export function edgesOf(region: Region, turn: Turn): Edges {
  return edgesOfRings(rings(region).map((ring) => turn.ring(ring)));
}

function edgesOfRings(turned: readonly Ring[]): Edges {
  const count = turned.reduce((sum, ring) => sum + ring.length / 2, 0);
  const edges = {
    count,
    au: new Float64Array(count),
    av: new Float64Array(count),
    bu: new Float64Array(count),
    bv: new Float64Array(count),
  };
  let at = 0;
  for (const ring of turned)
    for (let k = 0; k < ring.length; k += 2, at++) {
      const n = k + 2 < ring.length ? k + 2 : 0;
      edges.au[at] = ring[k];
      edges.av[at] = ring[k + 1];
      edges.bu[at] = ring[n];
      edges.bv[at] = ring[n + 1];
    }
  return edges;
}

/** The edges whose box comes within `reachMm` of the box around (au, av) and (bu, bv). */
export function edgesNear(
  edges: Edges,
  au: number,
  av: number,
  bu: number,
  bv: number,
  reachMm: number,
): Edges {
  const [minU, maxU] = [Math.min(au, bu) - reachMm, Math.max(au, bu) + reachMm];
  const [minV, maxV] = [Math.min(av, bv) - reachMm, Math.max(av, bv) + reachMm];
  const near: number[] = [];
  for (let k = 0; k < edges.count; k++) {
    if (
      Math.max(edges.au[k], edges.bu[k]) >= minU &&
      Math.min(edges.au[k], edges.bu[k]) <= maxU &&
      Math.max(edges.av[k], edges.bv[k]) >= minV &&
      Math.min(edges.av[k], edges.bv[k]) <= maxV
    )
      near.push(k);
  }
  return {
    count: near.length,
    au: Float64Array.from(near, (k) => edges.au[k]),
    av: Float64Array.from(near, (k) => edges.av[k]),
    bu: Float64Array.from(near, (k) => edges.bu[k]),
    bv: Float64Array.from(near, (k) => edges.bv[k]),
  };
}

/** Whether (u, v) lies inside the area. */
export function holds(edges: Edges, u: number, v: number): boolean {
  let inside = false;
  for (let k = 0; k < edges.count; k++) {
    const av = edges.av[k];
    const bv = edges.bv[k];
    if (av > v !== bv > v && u < edges.au[k] + ((edges.bu[k] - edges.au[k]) * (v - av)) / (bv - av))
      inside = !inside;
  }
  return inside;
}

/** Whether the straight way from a to b meets the area. */
export function blocks(edges: Edges, au: number, av: number, bu: number, bv: number): boolean {
  if (edges.count === 0) return false;
  const minU = Math.min(au, bu);
  const maxU = Math.max(au, bu);
  const minV = Math.min(av, bv);
  const maxV = Math.max(av, bv);
  for (let k = 0; k < edges.count; k++) {
    const cu = edges.au[k];
    const cv = edges.av[k];
    const du = edges.bu[k];
    const dv = edges.bv[k];
    if (Math.max(cu, du) < minU || Math.min(cu, du) > maxU) continue;
    if (Math.max(cv, dv) < minV || Math.min(cv, dv) > maxV) continue;
    const c = (bu - au) * (cv - av) - (bv - av) * (cu - au);
    const d = (bu - au) * (dv - av) - (bv - av) * (du - au);
    const a = (du - cu) * (av - cv) - (dv - cv) * (au - cu);
    const b = (du - cu) * (bv - cv) - (dv - cv) * (bu - cu);
    if (c * d <= 0 && a * b <= 0) return true;
  }
  return holds(edges, au, av);
}

/** Whether a box meets the area; may say so of one that is only near to it. */
export function touchesBox(edges: Edges, minU: number, minV: number, maxU: number, maxV: number): boolean {
  for (let k = 0; k < edges.count; k++)
    if (
      Math.max(edges.au[k], edges.bu[k]) >= minU &&
      Math.min(edges.au[k], edges.bu[k]) <= maxU &&
      Math.max(edges.av[k], edges.bv[k]) >= minV &&
      Math.min(edges.av[k], edges.bv[k]) <= maxV
    )
      return true;
  return edges.count > 0 && holds(edges, minU, minV);
}

/** An edge nearer to a way than this may lie on either side of it, by rounding. */
const NEAR_MM = 1e-9;

/**
 * The stretches `[from, to, from, to, ...]` of the way from a to b, as lengths from a, on which a disc
 * of `radiusMm` touches the area; in order, none touching the next.
 */
export function touching(
  edges: Edges,
  radiusMm: number,
  au: number,
  av: number,
  directionU: number,
  directionV: number,
  lengthMm: number,
): number[] {
  const found: [number, number][] = [];
  const crossings: number[] = [];
  for (let k = 0; k < edges.count; k++) {
    // Along the way: s; across it, positive at its left: t.
    const cs = (edges.au[k] - au) * directionU + (edges.av[k] - av) * directionV;
    const ct = (edges.av[k] - av) * directionU - (edges.au[k] - au) * directionV;
    const ds = (edges.bu[k] - au) * directionU + (edges.bv[k] - av) * directionV;
    const dt = (edges.bv[k] - av) * directionU - (edges.bu[k] - au) * directionV;
    if (Math.min(ct, dt) <= NEAR_MM && Math.max(ct, dt) >= -NEAR_MM)
      for (const s of Math.abs(dt - ct) > NEAR_MM ? [cs + ((ds - cs) * -ct) / (dt - ct)] : [cs, ds])
        if (s > 0 && s < lengthMm) crossings.push(s);
    if (Math.min(ct, dt) >= radiusMm || Math.max(ct, dt) <= -radiusMm) continue;
    const [from, to] = capsuleSpan(cs, ct, ds, dt, radiusMm);
    if (to >= 0 && from <= lengthMm) found.push([Math.max(0, from), Math.min(lengthMm, to)]);
  }
  // Inside the area no edge need be near. Between two crossings all is inside or nothing, so the middle is asked:
  // counting crossings would be wrong where the way starts on the border or runs along an edge.
  crossings.push(lengthMm);
  crossings.sort((p, q) => p - q);
  let from = 0;
  for (const to of crossings) {
    const middle = (from + to) / 2;
    if (holds(edges, au + middle * directionU, av + middle * directionV)) found.push([from, to]);
    from = to;
  }
  found.sort((p, q) => p[0] - q[0]);
  const spans: number[] = [];
  for (const [from, to] of found) {
    const last = spans.length - 1;
    if (last > 0 && from <= spans[last] + 1e-9) spans[last] = Math.max(spans[last], to);
    else spans.push(from, to);
  }
  return spans;
}

/** Where the line t = 0 lies within `r` of the segment from (cs, ct) to (ds, dt), given that it does. */
function capsuleSpan(cs: number, ct: number, ds: number, dt: number, r: number): [number, number] {
  let from = Number.POSITIVE_INFINITY;
  let to = Number.NEGATIVE_INFINITY;
  const include = (s: number) => {
    from = Math.min(from, s);
    to = Math.max(to, s);
  };
  if (Math.abs(ct) < r) {
    const half = Math.sqrt(r * r - ct * ct);
    include(cs - half);
    include(cs + half);
  }
  if (Math.abs(dt) < r) {
    const half = Math.sqrt(r * r - dt * dt);
    include(ds - half);
    include(ds + half);
  }
  // The capsule's straight sides: the segment moved by r to either side, cut with t = 0.
  const es = ds - cs;
  const et = dt - ct;
  const length = Math.sqrt(es * es + et * et);
  if (length > 0 && et !== 0)
    for (const side of [r, -r]) {
      const share = -(ct + (side * es) / length) / et;
      if (share >= 0 && share <= 1) include(cs + share * es - (side * et) / length);
    }
  return [from, to];
}
