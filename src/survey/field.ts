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
 * (even-odd, so a ring inside another is a hole). `rowOffset` moves the line within its row.
 */
export function visitSpans(
  rings: readonly Ring[],
  grid: Grid,
  rowOffset: number,
  visit: (row: number, fromX: number, toX: number) => void,
): void {
  const crossings: number[][] = Array.from({ length: grid.rows }, () => []);
  for (const ring of rings) {
    for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
      const [ax, ay, bx, by] =
        ring[p + 1] < ring[k + 1]
          ? [ring[p], ring[p + 1], ring[k], ring[k + 1]]
          : [ring[k], ring[k + 1], ring[p], ring[p + 1]];
      if (ay === by) continue;
      // A crossing counts from the lower end up to, but without, the upper end.
      const from = Math.max(0, Math.ceil((ay - grid.y0) / grid.pitchMm - rowOffset));
      for (let row = from; row < grid.rows; row++) {
        const y = grid.y0 + (row + rowOffset) * grid.pitchMm;
        if (y >= by) break;
        crossings[row].push(ax + ((bx - ax) * (y - ay)) / (by - ay));
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
  visitSpans(rings, grid, 0, (row, fromX, toX) => {
    const from = Math.max(0, Math.ceil((fromX - grid.x0) / grid.pitchMm));
    const to = Math.min(grid.cols - 1, Math.floor((toX - grid.x0) / grid.pitchMm));
    if (to >= from) mask.fill(1, row * grid.cols + from, row * grid.cols + to + 1);
  });
  return mask;
}

/** Share of each sample's cell (the square around it) that lies inside the rings; good to about 1/100 of a cell. */
export function insideShares(rings: readonly Ring[], grid: Grid): Float32Array {
  const lines = 8;
  const shares = new Float32Array(grid.cols * grid.rows);
  for (let line = 0; line < lines; line++) {
    visitSpans(rings, grid, (line + 0.5) / lines - 0.5, (row, fromX, toX) => {
      // In cells, so that cell c reaches from c to c + 1.
      const from = Math.max(0, (fromX - grid.x0) / grid.pitchMm + 0.5);
      const to = Math.min(grid.cols, (toX - grid.x0) / grid.pitchMm + 0.5);
      for (let col = Math.floor(from); col < to; col++) {
        shares[row * grid.cols + col] += (Math.min(to, col + 1) - Math.max(from, col)) / lines;
      }
    });
  }
  return shares;
}

/** Whether (x, y) lies inside the ring; on its edge (within `slackMm`) counts. */
export function insideRing(ring: Ring, x: number, y: number, slackMm: number): boolean {
  let inside = false;
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
    const ax = ring[p];
    const ay = ring[p + 1];
    const bx = ring[k];
    const by = ring[k + 1];
    const length = (bx - ax) ** 2 + (by - ay) ** 2;
    const t =
      length > 0 ? Math.max(0, Math.min(1, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length)) : 0;
    if ((x - ax - t * (bx - ax)) ** 2 + (y - ay - t * (by - ay)) ** 2 <= slackMm * slackMm) return true;
    if (ay > y !== by > y && x < ax + ((bx - ax) * (y - ay)) / (by - ay)) inside = !inside;
  }
  return inside;
}
