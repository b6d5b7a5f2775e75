// A face as a surface: a height for every (x, y), from readings or from a box. Millimetres above the
// bed. Grids are bilinear, and so beyond their edges; scattered readings: scattered.ts.

import { assert } from "../errors.ts";
import type { Piece, Readings } from "../job/job.ts";
import type { Grid } from "./field.ts";
import { clamp, heightBounds, scatteredFace } from "./scattered.ts";

export interface Surface {
  /** Height at (x, y), mm above the bed; defined everywhere. */
  heightAt(x: number, y: number): number;
  /** Writes the height at every sample of the grid, raised by `raiseMm`, into `out` (row-major, `cols * rows`). */
  sample(grid: Grid, raiseMm: number, out: Float32Array): void;
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

/** The under face of a piece as it lies on the bed: as measured, as its thickness in places says, or flat on the bed. */
export function underFace(piece: Piece, upper: Surface): Surface {
  const readings = underReadings(piece, upper);
  if (readings === null) return flatFace(0);
  return piece.under?.kind === "grid" ? gridFace(piece.under) : scatteredFace(readings);
}

/** Readings of the under face, flat `[x, y, z, ...]`; null where it was not measured. */
export function underReadings({ under, calipers }: Piece, upper: Surface): Float64Array | null {
  if (under !== null) return pointsOf(under);
  if (calipers === null) return null;
  return calipers.map((value, k) =>
    k % 3 === 2 ? upper.heightAt(calipers[k - 2], calipers[k - 1]) - value : value,
  );
}

export function flatFace(heightMm: number): Surface {
  return {
    heightAt: () => heightMm,
    sample: (grid, raiseMm, out) => void out.fill(heightMm + raiseMm, 0, grid.cols * grid.rows),
    covers: () => true,
  };
}

type GridReadings = Extract<Readings, { kind: "grid" }>;

function gridFace(readings: GridReadings): Surface {
  const { x0, y0, dx, dy, cols, rows } = readings;
  const known = readings.z.some(Number.isNaN) ? scatteredFace(pointsOf(readings)) : null;
  const z = known === null ? readings.z : filledGrid(readings, known);
  const { low, high } = heightBounds(z, 0, 1);
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

  const sample = (grid: Grid, raiseMm: number, out: Float32Array) => {
    const uOf = (col: number) => (grid.x0 + col * grid.pitchMm - x0) / dx;
    const vOf = (row: number) => (grid.y0 + row * grid.pitchMm - y0) / dy;
    // The first sample that lies in each column of the readings; beyond its ends the outermost go on.
    const firstIn = Array.from({ length: cols }, (_, i) =>
      i === 0
        ? 0
        : i === cols - 1
          ? grid.cols
          : clamp(Math.ceil((x0 + i * dx - grid.x0) / grid.pitchMm), 0, grid.cols),
    );
    const line = new Float64Array(cols);
    for (let row = 0; row < grid.rows; row++) {
      const v = vOf(row);
      const j = cellOf(v, rows);
      for (let i = 0; i < cols; i++) {
        const a = j * cols + i;
        line[i] = z[a] + (z[a + cols] - z[a]) * (v - j);
      }
      const at = row * grid.cols;
      for (let i = 0; i + 1 < cols; i++) {
        // Straight from reading to reading.
        const rise = line[i + 1] - line[i];
        const base = line[i] + rise * (uOf(0) - i) + raiseMm;
        const slope = (rise * grid.pitchMm) / dx;
        const to = firstIn[i + 1];
        for (let col = firstIn[i]; col < to; col++) out[at + col] = base + slope * col;
      }
      // Only beyond the readings can heights leave their bounds.
      const beyond = v < 0 || v > rows - 1;
      for (let col = 0; col < grid.cols; col++) {
        if (!beyond && uOf(col) >= 0) break;
        out[at + col] = clamp(out[at + col], low + raiseMm, high + raiseMm);
      }
      for (let col = grid.cols - 1; col >= 0 && !beyond && uOf(col) > cols - 1; col--)
        out[at + col] = clamp(out[at + col], low + raiseMm, high + raiseMm);
    }
  };

  const within = (x: number, y: number) =>
    x >= x0 && x <= x0 + dx * (cols - 1) && y >= y0 && y <= y0 + dy * (rows - 1);
  return { heightAt, sample, covers: known?.covers ?? within };
}

/** The grid's heights with nodes that nobody read filled from those that were. */
function filledGrid({ x0, y0, dx, dy, cols, z }: GridReadings, known: Surface): Float64Array {
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
