// A face from scattered readings: linear over their Delaunay triangles. Beyond their rim the height at the
// rim's nearest point goes on with the slope found there, held within one span of the readings beyond their
// extremes. Millimetres above the bed.

import Delaunator from "delaunator";
import { assert } from "../errors.ts";
import { inOrOn } from "../job/outline.ts";
import type { Grid } from "./field.ts";
import type { Surface } from "./surface.ts";

/** A triangle at the rim flatter than this share of its base is none of wood: see `rimOf`. */
const HAIR_SHARE = 0.03;
/** A triangle whose doubled area is under this share of its longest side squared says more about noise than slope. */
const SLIVER_SHARE = 0.15;

/** The Delaunay triangles of readings `[x, y, z, ...]`: `triangles` holds three indexes of readings for each. */
export function triangulate(xyz: Float64Array): Delaunator<Float64Array> {
  const count = xyz.length / 3;
  const flat = new Float64Array(2 * count);
  for (let k = 0; k < count; k++) {
    // Relative to the first reading: large coordinates would cost the triangulation its exactness.
    flat[2 * k] = xyz[3 * k] - xyz[0];
    flat[2 * k + 1] = xyz[3 * k + 1] - xyz[1];
  }
  return new Delaunator(flat);
}

/** The face of readings `[x, y, z, ...]`, at least three, not all on one line, no two in one place. */
export function scatteredFace(xyz: Float64Array): Surface {
  const mesh = triangulate(xyz);
  const { triangles } = mesh;
  assert(triangles.length > 0, "readings that lie on one line reached the survey");
  const { low, high } = heightBounds(xyz, 2, 3);
  const planes = planesOf(xyz, mesh);
  const rim = rimOf(xyz, mesh);
  const outside = beyondRim(xyz, mesh, planes, rim);
  const ring = Float64Array.from(rim.edges.flatMap(({ from }) => [xyz[3 * from], xyz[3 * from + 1]]));

  const planeAt = (t: number, x: number, y: number) => {
    const a = 3 * triangles[3 * t];
    return xyz[a + 2] + planes.gx[t] * (x - xyz[a]) + planes.gy[t] * (y - xyz[a + 1]);
  };
  const covers = (x: number, y: number) => inOrOn(ring, x, y, 1e-6);
  const heightAt = (x: number, y: number) => {
    const t = covers(x, y) ? triangleAt(mesh, rim.removed, xyz, x, y) : -1;
    return clamp(t < 0 ? outside.heightAt(x, y) : planeAt(t, x, y), low, high);
  };
  const sample = (grid: Grid, raiseMm: number, out: Float32Array) => {
    out.fill(Number.NaN, 0, grid.cols * grid.rows);
    for (let t = 0; t < triangles.length / 3; t++) {
      if (rim.removed[t] === 1 || !Number.isFinite(planes.gx[t] + planes.gy[t])) continue;
      const slope = planes.gx[t] * grid.pitchMm;
      visitTriangle(xyz, triangles, t, grid, (row, from, to) => {
        const base = planeAt(t, grid.x0, grid.y0 + row * grid.pitchMm);
        for (let col = from, k = row * grid.cols + from; col <= to; col++, k++)
          out[k] = Math.min(Math.max(base + slope * col, low), high) + raiseMm;
      });
    }
    outside.fill(grid, out, (height) => clamp(height, low, high) + raiseMm);
  };
  return { heightAt, sample, covers };
}

/** Slopes of each triangle's plane, and which triangles are too thin for theirs to mean anything. */
interface Planes {
  readonly gx: Float64Array;
  readonly gy: Float64Array;
  readonly sliver: Uint8Array;
}

function planesOf(xyz: Float64Array, { triangles }: Delaunator<Float64Array>): Planes {
  const count = triangles.length / 3;
  const gx = new Float64Array(count);
  const gy = new Float64Array(count);
  const sliver = new Uint8Array(count);
  for (let t = 0; t < count; t++) {
    const [a, b, c] = [3 * triangles[3 * t], 3 * triangles[3 * t + 1], 3 * triangles[3 * t + 2]];
    const [ux, uy, uz] = [xyz[b] - xyz[a], xyz[b + 1] - xyz[a + 1], xyz[b + 2] - xyz[a + 2]];
    const [vx, vy, vz] = [xyz[c] - xyz[a], xyz[c + 1] - xyz[a + 1], xyz[c + 2] - xyz[a + 2]];
    const twice = ux * vy - uy * vx;
    gx[t] = (uz * vy - vz * uy) / twice;
    gy[t] = (vz * ux - uz * vx) / twice;
    const longest = Math.max(ux * ux + uy * uy, vx * vx + vy * vy, (ux - vx) ** 2 + (uy - vy) ** 2);
    if (!(Math.abs(twice) > SLIVER_SHARE * longest)) sliver[t] = 1;
  }
  return { gx, gy, sliver };
}

/** The rim of the readings: its edges in order around it, each with its triangle, and the triangles left out. */
interface Rim {
  readonly edges: readonly { readonly from: number; readonly to: number; readonly triangle: number }[];
  readonly removed: Uint8Array;
}

/**
 * Readings taken along an edge with a tape stand a hair in or out of line. Their convex hull would join the far
 * corners straight over those in between, with thin triangles that say nothing about the wood; such triangles
 * are taken off, so that the rim goes from reading to reading.
 */
function rimOf(xyz: Float64Array, { triangles, halfedges, hull }: Delaunator<Float64Array>): Rim {
  const removed = new Uint8Array(triangles.length / 3);
  const onRim = new Uint8Array(xyz.length / 3);
  for (const k of hull) onRim[k] = 1;
  const waiting: number[] = [];
  for (let e = 0; e < halfedges.length; e++) if (halfedges[e] < 0) waiting.push(e);
  for (let e = waiting.pop(); e !== undefined; e = waiting.pop()) {
    const t = Math.floor(e / 3);
    const apex = triangles[nextEdge(nextEdge(e))];
    // A corner on the rim already would leave the face in two.
    if (removed[t] === 1 || onRim[apex] === 1) continue;
    const [a, b, c] = [3 * triangles[e], 3 * triangles[nextEdge(e)], 3 * apex];
    const base = (xyz[b] - xyz[a]) ** 2 + (xyz[b + 1] - xyz[a + 1]) ** 2;
    const twice = Math.abs(cross(xyz[a], xyz[a + 1], xyz[b], xyz[b + 1], xyz[c], xyz[c + 1]));
    if (twice >= HAIR_SHARE * base) continue;
    removed[t] = 1;
    onRim[apex] = 1;
    waiting.push(halfedges[nextEdge(e)], halfedges[nextEdge(nextEdge(e))]);
  }

  const leaving = new Map<number, number>();
  for (let e = 0; e < halfedges.length; e++) {
    const across = halfedges[e];
    if (removed[Math.floor(e / 3)] === 0 && (across < 0 || removed[Math.floor(across / 3)] === 1))
      leaving.set(triangles[e], e);
  }
  const edges = [];
  const [start] = leaving.values();
  for (let e: number | undefined = start; e !== undefined; ) {
    const to = triangles[nextEdge(e)];
    edges.push({ from: triangles[e], to, triangle: Math.floor(e / 3) });
    e = leaving.get(to);
    if (e === start) break;
  }
  return { edges, removed };
}

/** Samples of a side of the blocks in which those beyond the rim are filled. */
const BLOCK = 16;

/** Heights beyond the rim, not yet held within bounds: of one place, or of all samples of a grid that are NaN. */
function beyondRim(
  xyz: Float64Array,
  { halfedges }: Delaunator<Float64Array>,
  { gx, gy, sliver }: Planes,
  { edges }: Rim,
) {
  const rim = edges.map(({ from, to, triangle }) => ({
    ax: xyz[3 * from],
    ay: xyz[3 * from + 1],
    az: xyz[3 * from + 2],
    dx: xyz[3 * to] - xyz[3 * from],
    dy: xyz[3 * to + 1] - xyz[3 * from + 1],
    dz: xyz[3 * to + 2] - xyz[3 * from + 2],
    slope: wellShaped(triangle, halfedges, sliver),
  }));
  const all = rim.map((_, k) => k);
  /** Where on an edge its nearest point to a place lies, from 0 to 1. */
  const shareOn = (k: number, x: number, y: number) => {
    const { ax, ay, dx, dy } = rim[k];
    return clamp(((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy), 0, 1);
  };
  const squareTo = (k: number, share: number, x: number, y: number) => {
    const { ax, ay, dx, dy } = rim[k];
    return (ax + share * dx - x) ** 2 + (ay + share * dy - y) ** 2;
  };
  const heightAt = (x: number, y: number, among: readonly number[] = all) => {
    let best = Number.POSITIVE_INFINITY;
    let at = 0;
    let share = 0;
    for (const k of among) {
      const t = shareOn(k, x, y);
      const d = squareTo(k, t, x, y);
      if (d < best) {
        best = d;
        at = k;
        share = t;
      }
    }
    const edge = rim[at];
    const px = x - edge.ax - share * edge.dx;
    const py = y - edge.ay - share * edge.dy;
    let [sx, sy] = [gx[edge.slope], gy[edge.slope]];
    if (share === 0 || share === 1) {
      // Around a corner the slope turns from one edge's to the other's, so that no step arises.
      const before = rim[(at + (share === 0 ? rim.length - 1 : 0)) % rim.length];
      const after = rim[(at + (share === 0 ? 0 : 1)) % rim.length];
      const turned = cornerShare(before.dx, before.dy, after.dx, after.dy, px, py);
      sx = gx[before.slope] + turned * (gx[after.slope] - gx[before.slope]);
      sy = gy[before.slope] + turned * (gy[after.slope] - gy[before.slope]);
    }
    return edge.az + share * edge.dz + sx * px + sy * py;
  };
  /** The edges that may be the nearest to any place within a distance of (x, y). */
  const nearestAround = (x: number, y: number, withinMm: number) => {
    const away = rim.map((_, k) => Math.sqrt(squareTo(k, shareOn(k, x, y), x, y)));
    const most = away.reduce((a, b) => Math.min(a, b)) + 2 * withinMm;
    return all.filter((k) => away[k] <= most);
  };
  const fill = ({ x0, y0, pitchMm, cols, rows }: Grid, z: Float32Array, held: (height: number) => number) => {
    const middle = ((BLOCK - 1) / 2) * pitchMm;
    for (let row = 0; row < rows; row += BLOCK)
      for (let col = 0; col < cols; col += BLOCK) {
        let among: readonly number[] | null = null;
        for (let j = row; j < Math.min(rows, row + BLOCK); j++)
          for (let i = col; i < Math.min(cols, col + BLOCK); i++) {
            const k = j * cols + i;
            if (!Number.isNaN(z[k])) continue;
            // A hair more than half the block's diagonal.
            among ??= nearestAround(x0 + col * pitchMm + middle, y0 + row * pitchMm + middle, 1.5 * middle);
            z[k] = held(heightAt(x0 + i * pitchMm, y0 + j * pitchMm, among));
          }
      }
  };
  return { heightAt, fill };
}

/** How far the direction p has turned from square to the edge before a corner to square to the one after. */
function cornerShare(bx: number, by: number, ax: number, ay: number, px: number, py: number): number {
  const whole = Math.abs(Math.atan2(bx * ay - by * ax, bx * ax + by * ay));
  // Square to an edge is a quarter turn from along it, on the outer side.
  const beyond = Math.abs(Math.atan2(bx * px + by * py, Math.abs(bx * py - by * px)));
  return whole > 0 ? clamp(beyond / whole, 0, 1) : 0;
}

/** The nearest triangle, counted in steps over edges, that is not a sliver; `start` if all are. */
function wellShaped(start: number, halfedges: Int32Array, sliver: Uint8Array): number {
  const seen = new Set([start]);
  for (const t of seen) {
    if (sliver[t] === 0) return t;
    for (let e = 3 * t; e < 3 * t + 3; e++) if (halfedges[e] >= 0) seen.add(Math.floor(halfedges[e] / 3));
  }
  return start;
}

/** The triangle that holds (x, y), or -1. A plain search: single heights are asked for rarely. */
function triangleAt(
  { triangles }: Delaunator<Float64Array>,
  removed: Uint8Array,
  xyz: Float64Array,
  x: number,
  y: number,
): number {
  let best = -1;
  let bestInside = -1e-6;
  for (let t = 0; t < removed.length; t++) {
    if (removed[t] === 1) continue;
    const [a, b, c] = [3 * triangles[3 * t], 3 * triangles[3 * t + 1], 3 * triangles[3 * t + 2]];
    const whole = cross(xyz[a], xyz[a + 1], xyz[b], xyz[b + 1], xyz[c], xyz[c + 1]);
    if (whole === 0) continue;
    const inside = Math.min(
      cross(x, y, xyz[b], xyz[b + 1], xyz[c], xyz[c + 1]) / whole,
      cross(xyz[a], xyz[a + 1], x, y, xyz[c], xyz[c + 1]) / whole,
      cross(xyz[a], xyz[a + 1], xyz[b], xyz[b + 1], x, y) / whole,
    );
    if (inside > bestInside) {
      bestInside = inside;
      best = t;
    }
  }
  return best;
}

/** Calls `visit(row, fromCol, toCol)` for every row of the grid's samples in the triangle, its edges included. */
function visitTriangle(
  xyz: Float64Array,
  triangles: Uint32Array,
  t: number,
  grid: Grid,
  visit: (row: number, fromCol: number, toCol: number) => void,
): void {
  const X = (k: number) => xyz[3 * k];
  const Y = (k: number) => xyz[3 * k + 1];
  const [a, b, c] = [...triangles.subarray(3 * t, 3 * t + 3)].sort((p, q) => Y(p) - Y(q));
  /** X at which the line from reading p up to reading q passes y. */
  const crossing = (p: number, q: number, y: number) => {
    const rise = Y(q) - Y(p);
    return rise > 0 ? X(p) + (X(q) - X(p)) * clamp((y - Y(p)) / rise, 0, 1) : X(q);
  };
  const slack = 1e-9 * (1 + Math.abs(X(a)) + Math.abs(Y(a)));
  const rowTo = Math.min(grid.rows - 1, Math.floor((Y(c) + slack - grid.y0) / grid.pitchMm));
  for (let row = Math.max(0, Math.ceil((Y(a) - slack - grid.y0) / grid.pitchMm)); row <= rowTo; row++) {
    const y = grid.y0 + row * grid.pitchMm;
    const long = crossing(a, c, y);
    const short = y < Y(b) ? crossing(a, b, y) : crossing(b, c, y);
    const from = Math.max(0, Math.ceil((Math.min(long, short) - slack - grid.x0) / grid.pitchMm));
    const to = Math.min(grid.cols - 1, Math.floor((Math.max(long, short) + slack - grid.x0) / grid.pitchMm));
    if (from <= to) visit(row, from, to);
  }
}

/** Extremes of every `step`th value from `from` on, widened by their span on either side. */
export function heightBounds(
  values: Float64Array,
  from: number,
  step: number,
): { low: number; high: number } {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let k = from; k < values.length; k += step) {
    low = Math.min(low, values[k]);
    high = Math.max(high, values[k]);
  }
  return { low: low - (high - low), high: high + (high - low) };
}

export function clamp(value: number, low: number, high: number): number {
  return Math.min(Math.max(value, low), high);
}

function nextEdge(e: number): number {
  return e % 3 === 2 ? e - 2 : e + 1;
}

function cross(ax: number, ay: number, bx: number, by: number, cx: number, cy: number): number {
  return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
}
