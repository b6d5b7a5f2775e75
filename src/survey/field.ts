// Regular grids of samples over pieces, and what lies inside an outline on them. Millimetres;
// row-major, sample (col, row) at (x0 + col * pitch, y0 + row * pitch).

import type { Ring } from "../job/job.ts";

export interface Grid {
  readonly x0: number;
  readonly y0: number;
  readonly pitchMm: number;
  readonly cols: number;
  readonly rows: number;
}

/** Heights at the samples of a grid, mm above the bed. */
export interface HeightField extends Grid {
  readonly z: Float32Array;
}

export interface Box {
  readonly minX: number;
  readonly minY: number;
  readonly maxX: number;
  readonly maxY: number;
}

/** The smallest upright box around all rings; empty (+Infinity ... -Infinity) for none. */
export function boxOf(rings: readonly Ring[]): Box {
  let minX = Number.POSITIVE_INFINITY;
  let minY = Number.POSITIVE_INFINITY;
  let maxX = Number.NEGATIVE_INFINITY;
  let maxY = Number.NEGATIVE_INFINITY;
  for (const ring of rings)
    for (let k = 0; k < ring.length; k += 2) {
      minX = Math.min(minX, ring[k]);
      maxX = Math.max(maxX, ring[k]);
      minY = Math.min(minY, ring[k + 1]);
      maxY = Math.max(maxY, ring[k + 1]);
    }
  return { minX, minY, maxX, maxY };
}

/** A grid whose samples cover the box and reach at least `padMm` beyond it on every side. */
export function gridOver(box: Box, pitchMm: number, padMm: number): Grid {
  return {
    x0: box.minX - padMm,
    y0: box.minY - padMm,
    pitchMm,
    cols: Math.ceil((box.maxX - box.minX + 2 * padMm) / pitchMm) + 1,
    rows: Math.ceil((box.maxY - box.minY + 2 * padMm) / pitchMm) + 1,
  };
}

/** The finest pitch, not under `wantedMm`, at which the box takes at most `samplesMax` samples. */
export function pitchFor(box: Box, wantedMm: number, samplesMax: number): number {
  const area = (box.maxX - box.minX) * (box.maxY - box.minY);
  return Math.max(wantedMm, Math.sqrt(area / samplesMax));
}

/**
 * Calls `visit(row, fromX, toX)` for every stretch of a grid row that lies inside the rings
 * (even-odd, so a ring inside another is a hole).
 */
export function visitSpans(
  rings: readonly Ring[],
  grid: Grid,
  visit: (row: number, fromX: number, toX: number) => void,
): void {
  const crossings: number[][] = Array.from({ length: grid.rows }, () => []);
  for (const ring of rings) {
    for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
      const [ax, ay, bx, by] =
        ring[p + 1] < ring[k + 1]
          ? [ring[p], ring[p + 1], ring[k], ring[k + 1]]
          : [ring[k], ring[k + 1], ring[p], ring[p + 1]];
      // A crossing counts from the lower end up to, but without, the upper end; only the row's own y decides
      // that, or rounding would let one of two edges at a corner go and with it the whole row.
      const from = Math.max(0, Math.floor((ay - grid.y0) / grid.pitchMm) - 1);
      for (let row = from; row < grid.rows; row++) {
        const y = grid.y0 + row * grid.pitchMm;
        if (y >= by) break;
        if (y >= ay) crossings[row].push(ax + ((bx - ax) * (y - ay)) / (by - ay));
      }
    }
  }
  crossings.forEach((xs, row) => {
    xs.sort((a, b) => a - b);
    for (let k = 0; k + 1 < xs.length; k += 2) visit(row, xs[k], xs[k + 1]);
  });
}

/** 1 for every sample that lies inside the rings, else 0. */
export function insideMask(rings: readonly Ring[], grid: Grid): Uint8Array {
  const mask = new Uint8Array(grid.cols * grid.rows);
  visitSpans(rings, grid, (row, fromX, toX) => {
    const from = Math.max(0, Math.ceil((fromX - grid.x0) / grid.pitchMm));
    const to = Math.min(grid.cols - 1, Math.floor((toX - grid.x0) / grid.pitchMm));
    if (to >= from) mask.fill(1, row * grid.cols + from, row * grid.cols + to + 1);
  });
  return mask;
}

/**
 * Share of each sample's cell (the square around it) that lies inside the rings: outlines counter-clockwise,
 * holes clockwise. Exact: every edge adds what lies at its right, which all edges together leave only inside.
 */
export function insideShares(rings: readonly Ring[], grid: Grid): Float32Array {
  const { cols, rows, pitchMm } = grid;
  // Per cell: what an edge in it adds to the cell itself, and to all cells at its right.
  const own = new Float64Array(cols * rows);
  const beyond = new Float64Array(cols * rows);
  for (const ring of rings)
    for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
      // In cells, so that cell (col, row) reaches from col to col + 1 and from row to row + 1.
      const ax = (ring[p] - grid.x0) / pitchMm + 0.5;
      const ay = (ring[p + 1] - grid.y0) / pitchMm + 0.5;
      const bx = (ring[k] - grid.x0) / pitchMm + 0.5;
      const by = (ring[k + 1] - grid.y0) / pitchMm + 0.5;
      if (ay !== by) addEdge(ax, ay, bx, by, cols, rows, own, beyond);
    }
  const shares = new Float32Array(cols * rows);
  for (let row = 0, at = 0; row < rows; row++)
    for (let col = 0, sum = 0; col < cols; col++, at++) {
      shares[at] = Math.max(0, Math.min(1, sum + own[at]));
      sum += beyond[at];
    }
  return shares;
}

/** Adds the area at the right of one edge, negative for an edge that goes up, cell by cell. */
function addEdge(
  ax: number,
  ay: number,
  bx: number,
  by: number,
  cols: number,
  rows: number,
  own: Float64Array,
  beyond: Float64Array,
): void {
  const sign = by > ay ? -1 : 1;
  const [lx, ly, hx, hy] = by > ay ? [ax, ay, bx, by] : [bx, by, ax, ay];
  const slope = (hx - lx) / (hy - ly);
  const last = Math.min(rows - 1, Math.ceil(hy) - 1);
  for (let row = Math.max(0, Math.floor(ly)); row <= last; row++) {
    const from = Math.max(ly, row);
    const to = Math.min(hy, row + 1);
    if (to <= from) continue;
    const [x0, x1] = [lx + (from - ly) * slope, lx + (to - ly) * slope];
    const [left, right] = x0 < x1 ? [x0, x1] : [x1, x0];
    // The strip's height is shared out over the columns that the edge passes in it.
    const width = right - left;
    for (let col = Math.max(0, Math.floor(left)); col < cols; col++) {
      const enter = Math.max(left, col);
      const leave = Math.min(right, col + 1);
      if (leave < enter) break;
      const height = width > 0 ? ((to - from) * (leave - enter)) / width : to - from;
      own[row * cols + col] += sign * height * (col + 1 - (enter + leave) / 2);
      beyond[row * cols + col] += sign * height;
      if (width === 0) break;
    }
    // What the edge passes left of the grid lies at the right of it for the whole row.
    const outside = width > 0 ? Math.max(0, Math.min(right, 0) - left) / width : left < 0 ? 1 : 0;
    if (outside > 0) {
      own[row * cols] += sign * (to - from) * outside;
      beyond[row * cols] += sign * (to - from) * outside;
    }
  }
}

/** Columns and rows of the field's samples that are nearest to those of a grid; -1 beyond the field. */
export function nearestIn(field: Grid, grid: Grid): { readonly col: Int32Array; readonly row: Int32Array } {
  const along = (from: number, count: number, fieldFrom: number, fieldCount: number) =>
    Int32Array.from({ length: count }, (_, k) => {
      const at = Math.round((from + k * grid.pitchMm - fieldFrom) / field.pitchMm);
      return at >= 0 && at < fieldCount ? at : -1;
    });
  return {
    col: along(grid.x0, grid.cols, field.x0, field.cols),
    row: along(grid.y0, grid.rows, field.y0, field.rows),
  };
}

/** Height between the samples of a field, bilinear; the field must reach a sample beyond the place. */
export function between({ x0, y0, pitchMm, cols, z }: HeightField, x: number, y: number): number {
  const u = (x - x0) / pitchMm;
  const v = (y - y0) / pitchMm;
  const [i, j] = [Math.floor(u), Math.floor(v)];
  const a = j * cols + i;
  const near = z[a] + (z[a + 1] - z[a]) * (u - i);
  const far = z[a + cols] + (z[a + cols + 1] - z[a + cols]) * (u - i);
  return near + (far - near) * (v - j);
}
