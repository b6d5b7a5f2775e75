// A face as a surface: a height for every (x, y), from readings or from a box. Millimetres above the
// bed. Grids are bilinear, and so beyond their edges; scattered readings: scattered.ts.

import { assert } from "../errors.ts";
import type { Piece, Readings } from "../job/job.ts";
import type { Grid } from "./field.ts";
import { clamp, heightBounds, scatteredFace } from "./scattered.ts";

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
        out[at + col] = h < low ? low : Math.min(h, high);
      }
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
