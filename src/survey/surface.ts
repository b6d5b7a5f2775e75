// A face as a surface: a height for every (x, y), from readings or from a box. Millimetres above the
// bed. Grids are bilinear; scattered readings are linear over their Delaunay triangles. Outside the
// readings the nearest plane goes on, held within one span of the readings beyond their extremes.

import Delaunator from "delaunator";
import { assert } from "../errors.ts";
import type { Piece, Readings } from "../job/job.ts";
import type { Grid } from "./field.ts";

export interface Surface {
  /** Height at (x, y), mm above the bed; defined everywhere. */
  heightAt(x: number, y: number): number;
  /** Writes the height at every sample of the grid into `out` (row-major, `cols * rows`). */
  sample(grid: Grid, out: Float32Array): void;
  /** Whether (x, y) lies within the readings (on their edge counts). */
  covers(x: number, y: number): boolean;
}

/** The upper face of a piece as it lies on the bed. */
export function upperFace(piece: Piece): Surface {
  if (piece.upper === null) {
    assert(piece.thicknessMm !== null, `piece ${piece.id} has neither readings nor a thickness`);
    return flatFace(piece.thicknessMm);
  }
  return piece.upper.kind === "grid" ? gridFace(piece.upper) : scatteredFace(piece.upper.xyz);
}

function flatFace(heightMm: number): Surface {
  return {
    heightAt: () => heightMm,
    sample: (grid, out) => void out.fill(heightMm, 0, grid.cols * grid.rows),
    covers: () => true,
  };
}

// Grid readings ------------------------------------------------------------------------------

type GridReadings = Extract<Readings, { kind: "grid" }>;

function gridFace(readings: GridReadings): Surface {
  const { x0, y0, dx, dy, cols, rows } = readings;
  const z = filledGrid(readings);
  const { low, high } = bounds(z, 0, 1);
  const cellOf = (t: number, count: number) => Math.max(0, Math.min(count - 2, Math.floor(t)));

  const heightAt = (x: number, y: number) => {
    const u = (x - x0) / dx;
    const v = (y - y0) / dy;
    const i = cellOf(u, cols);
    const j = cellOf(v, rows);
    const a = j * cols + i;
    const s = u - i;
    const near = z[a] + (z[a + 1] - z[a]) * s;
    const far = z[a + cols] + (z[a + cols + 1] - z[a + cols]) * s;
    return clamp(near + (far - near) * (v - j), low, high);
  };

  const sample = (grid: Grid, out: Float32Array) => {
    // Which readings each column of samples lies between, and how far along; the same for every row.
    const left = new Int32Array(grid.cols);
    const share = new Float64Array(grid.cols);
    for (let col = 0; col < grid.cols; col++) {
      const u = (grid.x0 + col * grid.pitchMm - x0) / dx;
      left[col] = cellOf(u, cols);
      share[col] = u - left[col];
    }
    const line = new Float64Array(cols);
    const rise = new Float64Array(cols);
    for (let row = 0; row < grid.rows; row++) {
      const v = (grid.y0 + row * grid.pitchMm - y0) / dy;
      const j = cellOf(v, rows);
      for (let i = 0; i < cols; i++) {
        const a = j * cols + i;
        line[i] = z[a] + (z[a + cols] - z[a]) * (v - j);
        if (i > 0) rise[i - 1] = line[i] - line[i - 1];
      }
      const at = row * grid.cols;
      for (let col = 0; col < grid.cols; col++) {
        const i = left[col];
        const h = line[i] + rise[i] * share[col];
        out[at + col] = h < low ? low : h > high ? high : h;
      }
    }
  };

  const covers = (x: number, y: number) =>
    x >= x0 && x <= x0 + dx * (cols - 1) && y >= y0 && y <= y0 + dy * (rows - 1);
  return { heightAt, sample, covers };
}

/** The grid's heights with nodes that nobody read filled from those that were. */
function filledGrid(readings: GridReadings): Float64Array {
  const { x0, y0, dx, dy, cols, z } = readings;
  if (!z.some(Number.isNaN)) return z;
  const known = scatteredFace(pointsOf(readings));
  return z.map((height, k) =>
    Number.isNaN(height) ? known.heightAt(x0 + dx * (k % cols), y0 + dy * Math.floor(k / cols)) : height,
  );
}

/** Readings as flat `[x, y, z, ...]`, without the nodes of a grid that hold nothing. */
export function pointsOf(readings: Readings): Float64Array {
  if (readings.kind === "points") return readings.xyz;
  const { x0, y0, dx, dy, cols, rows, z } = readings;
  const xyz: number[] = [];
  for (let j = 0; j < rows; j++)
    for (let i = 0; i < cols; i++) {
      const height = z[j * cols + i];
      if (!Number.isNaN(height)) xyz.push(x0 + i * dx, y0 + j * dy, height);
    }
  return Float64Array.from(xyz);
}

// Scattered readings -------------------------------------------------------------------------

/** The Delaunay triangles of readings: `triangles` holds three indexes of readings for each. */
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

function scatteredFace(xyz: Float64Array): Surface {
  const mesh = triangulate(xyz);
  const { triangles, halfedges, hull } = mesh;
  const count = triangles.length / 3;
  assert(count > 0, "readings that lie on one line reached the survey");
  const { low, high } = bounds(xyz, 2, 3);
  const X = (k: number) => xyz[3 * k];
  const Y = (k: number) => xyz[3 * k + 1];

  // Each triangle's plane: height = c + gx * (x - x of its first corner) + gy * (y - ...).
  const gx = new Float64Array(count);
  const gy = new Float64Array(count);
  const sliver = new Uint8Array(count);
  for (let t = 0; t < count; t++) {
    const [a, b, c] = [triangles[3 * t], triangles[3 * t + 1], triangles[3 * t + 2]];
    const ux = X(b) - X(a);
    const uy = Y(b) - Y(a);
    const vx = X(c) - X(a);
    const vy = Y(c) - Y(a);
    const uz = xyz[3 * b + 2] - xyz[3 * a + 2];
    const vz = xyz[3 * c + 2] - xyz[3 * a + 2];
    const twice = ux * vy - uy * vx;
    gx[t] = (uz * vy - vz * uy) / twice;
    gy[t] = (vz * ux - uz * vx) / twice;
    const longest = Math.max(ux * ux + uy * uy, vx * vx + vy * vy, (ux - vx) ** 2 + (uy - vy) ** 2);
    if (!(Math.abs(twice) > 0.15 * longest)) sliver[t] = 1;
  }
  const planeAt = (t: number, x: number, y: number) => {
    const a = triangles[3 * t];
    return xyz[3 * a + 2] + gx[t] * (x - X(a)) + gy[t] * (y - Y(a));
  };

  // The hull's edges in their order around it. Outside, the height at the hull's nearest point goes on with
  // the slope found there: that of the edge's triangle, and around a corner from one edge's to the other's.
  // A sliver's slope says more about noise than about wood: the nearest well-shaped triangle's stands in.
  const around = Array.from(hull, (from, k) => {
    const to = hull[(k + 1) % hull.length];
    return { from, to, slope: wellShaped(triangleAlong(mesh, from, to), halfedges, sliver) };
  });
  const outsideAt = (x: number, y: number) => {
    let best = Number.POSITIVE_INFINITY;
    let at = 0;
    let share = 0;
    around.forEach(({ from, to }, k) => {
      const t = nearestShare(x, y, X(from), Y(from), X(to), Y(to));
      const dx = X(from) + t * (X(to) - X(from)) - x;
      const dy = Y(from) + t * (Y(to) - Y(from)) - y;
      const d = dx * dx + dy * dy;
      if (d < best) {
        best = d;
        at = k;
        share = t;
      }
    });
    const { from, to, slope } = around[at];
    const px = X(from) + share * (X(to) - X(from));
    const py = Y(from) + share * (Y(to) - Y(from));
    const base = xyz[3 * from + 2] + share * (xyz[3 * to + 2] - xyz[3 * from + 2]);
    let sx = gx[slope];
    let sy = gy[slope];
    if (share === 0 || share === 1) {
      const before = around[(at + (share === 0 ? around.length - 1 : 0)) % around.length];
      const after = around[(at + (share === 0 ? 0 : 1)) % around.length];
      const turned = cornerShare(before, after, x - px, y - py);
      sx = gx[before.slope] + turned * (gx[after.slope] - gx[before.slope]);
      sy = gy[before.slope] + turned * (gy[after.slope] - gy[before.slope]);
    }
    return clamp(base + sx * (x - px) + sy * (y - py), low, high);
  };
  /** How far the direction (dx, dy) has turned from square to the edge before a corner to square to the one after. */
  const cornerShare = (
    before: { from: number; to: number },
    after: { from: number; to: number },
    dx: number,
    dy: number,
  ) => {
    const alongX = X(before.to) - X(before.from);
    const alongY = Y(before.to) - Y(before.from);
    const onX = X(after.to) - X(after.from);
    const onY = Y(after.to) - Y(after.from);
    const whole = Math.abs(Math.atan2(alongX * onY - alongY * onX, alongX * onX + alongY * onY));
    // Square to an edge is a quarter turn from along it, on the outer side.
    const beyond = Math.abs(Math.atan2(alongX * dx + alongY * dy, Math.abs(alongX * dy - alongY * dx)));
    return whole > 0 ? clamp(beyond / whole, 0, 1) : 0;
  };

  const hullX = Float64Array.from(hull, X);
  const hullY = Float64Array.from(hull, Y);
  const covers = (x: number, y: number) => insideConvex(hullX, hullY, x, y);

  const heightAt = (x: number, y: number) => {
    if (!covers(x, y)) return outsideAt(x, y);
    const t = triangleAt(mesh, xyz, x, y);
    return t < 0 ? outsideAt(x, y) : clamp(planeAt(t, x, y), low, high);
  };

  const sample = (grid: Grid, out: Float32Array) => {
    const size = grid.cols * grid.rows;
    out.fill(Number.NaN, 0, size);
    for (let t = 0; t < count; t++) {
      if (Number.isFinite(gx[t]) && Number.isFinite(gy[t])) sampleTriangle(t, grid, out);
    }
    for (let row = 0, at = 0; row < grid.rows; row++)
      for (let col = 0; col < grid.cols; col++, at++) {
        if (Number.isNaN(out[at]))
          out[at] = outsideAt(grid.x0 + col * grid.pitchMm, grid.y0 + row * grid.pitchMm);
      }
  };

  const sampleTriangle = (t: number, grid: Grid, out: Float32Array) => {
    const corners = [triangles[3 * t], triangles[3 * t + 1], triangles[3 * t + 2]].sort(
      (p, q) => Y(p) - Y(q),
    );
    const [a, b, c] = corners;
    const slack = 1e-9 * (1 + Math.abs(X(a)) + Math.abs(Y(a)));
    const rowLow = Math.max(0, Math.ceil((Y(a) - slack - grid.y0) / grid.pitchMm));
    const rowHigh = Math.min(grid.rows - 1, Math.floor((Y(c) + slack - grid.y0) / grid.pitchMm));
    for (let row = rowLow; row <= rowHigh; row++) {
      const y = grid.y0 + row * grid.pitchMm;
      const long = crossingX(a, c, y);
      const short = y < Y(b) ? crossingX(a, b, y) : crossingX(b, c, y);
      const left = Math.min(long, short) - slack;
      const right = Math.max(long, short) + slack;
      const colLow = Math.max(0, Math.ceil((left - grid.x0) / grid.pitchMm));
      const colHigh = Math.min(grid.cols - 1, Math.floor((right - grid.x0) / grid.pitchMm));
      for (let col = colLow; col <= colHigh; col++) {
        out[row * grid.cols + col] = clamp(planeAt(t, grid.x0 + col * grid.pitchMm, y), low, high);
      }
    }
  };

  /** X at which the line from reading p to reading q (p the lower) passes y. */
  const crossingX = (p: number, q: number, y: number) => {
    const rise = Y(q) - Y(p);
    if (rise <= 0) return X(q);
    return X(p) + (X(q) - X(p)) * clamp((y - Y(p)) / rise, 0, 1);
  };

  return { heightAt, sample, covers };
}

/** The triangle that has the hull edge between two readings. */
function triangleAlong(mesh: Delaunator<Float64Array>, from: number, to: number): number {
  const { triangles, halfedges } = mesh;
  for (let e = 0; e < halfedges.length; e++) {
    if (halfedges[e] >= 0) continue;
    const a = triangles[e];
    const b = triangles[nextEdge(e)];
    if ((a === from && b === to) || (a === to && b === from)) return Math.floor(e / 3);
  }
  return 0;
}

function nextEdge(e: number): number {
  return e % 3 === 2 ? e - 2 : e + 1;
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
function triangleAt(mesh: Delaunator<Float64Array>, xyz: Float64Array, x: number, y: number): number {
  const { triangles } = mesh;
  let best = -1;
  let bestInside = -1e-9;
  for (let t = 0; t < triangles.length / 3; t++) {
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

/** Whether a convex polygon, in either direction, holds the point; its edge counts. */
function insideConvex(px: Float64Array, py: Float64Array, x: number, y: number): boolean {
  let left = false;
  let right = false;
  for (let i = 0, j = px.length - 1; i < px.length; j = i++) {
    const turn = cross(px[j], py[j], px[i], py[i], x, y);
    const slack = 1e-9 * (Math.abs(px[i] - px[j]) + Math.abs(py[i] - py[j]));
    if (turn > slack) left = true;
    else if (turn < -slack) right = true;
  }
  return !(left && right);
}

/** Extremes of every `step`th value from `from` on, widened by their span on either side. */
function bounds(values: Float64Array, from: number, step: number): { low: number; high: number } {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let k = from; k < values.length; k += step) {
    low = Math.min(low, values[k]);
    high = Math.max(high, values[k]);
  }
  return { low: low - (high - low), high: high + (high - low) };
}

function cross(ax: number, ay: number, bx: number, by: number, cx: number, cy: number): number {
  return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
}

/** Where on the way from a to b, as a share of it, lies what is nearest to (x, y). */
function nearestShare(x: number, y: number, ax: number, ay: number, bx: number, by: number): number {
  const dx = bx - ax;
  const dy = by - ay;
  const length = dx * dx + dy * dy;
  return length > 0 ? clamp(((x - ax) * dx + (y - ay) * dy) / length, 0, 1) : 0;
}

function clamp(value: number, low: number, high: number): number {
  return value < low ? low : value > high ? high : value;
}
