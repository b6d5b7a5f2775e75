// A piece as a setup finds it: the face as it was measured, and how far earlier setups have cut it
// down. What the next setup finds is the lower of the two. Millimetres above the bed.

import type { Piece } from "../job/job.ts";
import { inOrOn, ON_OUTLINE_MM } from "../job/outline.ts";
import { type Grid, type HeightField, visitSpans } from "./field.ts";
import { pointsOf, type Surface, upperFace } from "./surface.ts";

export interface Stock {
  readonly piece: Piece;
  /** The face as measured (or a box). */
  readonly face: Surface;
  /** Lowest the cutting edge has been over each place, +Infinity where it never was; null: untouched. */
  readonly cut: HeightField | null;
  /** The highest measured place inside the outline; for a box its thickness. */
  readonly highestMm: number;
}

export function uncutStock(piece: Piece): Stock {
  const face = upperFace(piece);
  return { piece, face, cut: null, highestMm: highestPlace(piece, face) };
}

/** The stock after cutting: where the cutting edge has been by now, and the highest place that is left. */
export function cutStock(stock: Stock, cut: HeightField, highestMm: number): Stock {
  return { ...stock, cut, highestMm };
}

/** Heights of the stock, `marginMm` above the measured face where it was not cut. */
export function stockHeights(stock: Stock, marginMm: number, grid: Grid): Float32Array {
  const z = new Float32Array(grid.cols * grid.rows);
  stock.face.sample(grid, marginMm, z);
  if (stock.cut !== null) lowerTo(z, grid, stock.cut);
  return z;
}

/**
 * The lowest and highest place inside the outline, its edge included. `field` holds the stock's heights
 * with this margin, at least a sample beyond the outline on every side.
 */
export function extremes(
  stock: Stock,
  marginMm: number,
  field: HeightField,
): { lowest: number; highest: number } {
  const { piece } = stock;
  let lowest = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  const include = (height: number) => {
    if (height < lowest) lowest = height;
    if (height > highest) highest = height;
  };
  const { z } = field;
  visitSpans([piece.outline], field, (row, fromX, toX) => {
    const last = row * field.cols + Math.min(field.cols - 1, Math.floor((toX - field.x0) / field.pitchMm));
    const first = row * field.cols + Math.max(0, Math.ceil((fromX - field.x0) / field.pitchMm));
    for (let k = first; k <= last; k++) {
      const height = z[k];
      if (height < lowest) lowest = height;
      if (height > highest) highest = height;
    }
  });
  // A face of planes and bilinear patches has its extremes at readings and on the outline.
  const { outline } = piece;
  for (let k = 0, p = outline.length - 2; k < outline.length; p = k, k += 2) {
    const length = Math.sqrt((outline[k] - outline[p]) ** 2 + (outline[k + 1] - outline[p + 1]) ** 2);
    const steps = Math.ceil(length / field.pitchMm);
    for (let step = 1; step <= steps; step++) {
      const t = step / steps;
      const x = outline[p] + t * (outline[k] - outline[p]);
      const y = outline[p + 1] + t * (outline[k + 1] - outline[p + 1]);
      include(between(field, x, y));
    }
  }
  if (piece.upper !== null) {
    const xyz = pointsOf(piece.upper);
    for (let k = 0; k < xyz.length; k += 3) {
      if (inOrOn(outline, xyz[k], xyz[k + 1], 0)) {
        const cut =
          stock.cut === null ? Number.POSITIVE_INFINITY : cutHeight(stock.cut, xyz[k], xyz[k + 1], 0);
        include(Math.min(xyz[k + 2] + marginMm, cut));
      }
    }
  }
  return { lowest, highest };
}

/** Height between the samples of a field, bilinear; the field must reach a sample beyond the place. */
function between({ x0, y0, pitchMm, cols, z }: HeightField, x: number, y: number): number {
  const u = (x - x0) / pitchMm;
  const v = (y - y0) / pitchMm;
  const [i, j] = [Math.floor(u), Math.floor(v)];
  const a = j * cols + i;
  const near = z[a] + (z[a + 1] - z[a]) * (u - i);
  const far = z[a + cols] + (z[a + cols + 1] - z[a + cols]) * (u - i);
  return near + (far - near) * (v - j);
}

function highestPlace(piece: Piece, face: Surface): number {
  if (piece.upper === null) return face.heightAt(0, 0);
  const xyz = pointsOf(piece.upper);
  let highest = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < xyz.length; k += 3)
    if (inOrOn(piece.outline, xyz[k], xyz[k + 1], ON_OUTLINE_MM)) highest = Math.max(highest, xyz[k + 2]);
  return highest;
}

function lowerTo(z: Float32Array, grid: Grid, cut: HeightField): void {
  // Samples that coincide are taken as they are. Else nothing narrow that stands may be stepped over, nor its
  // edge be drawn into it: the highest of all samples around counts.
  const reach = alike(grid, cut) ? 0 : Math.ceil(grid.pitchMm / cut.pitchMm - 1e-9);
  for (let row = 0, at = 0; row < grid.rows; row++)
    for (let col = 0; col < grid.cols; col++, at++) {
      const height = cutHeight(cut, grid.x0 + col * grid.pitchMm, grid.y0 + row * grid.pitchMm, reach);
      if (height < z[at]) z[at] = height;
    }
}

/** Whether the samples of two grids lie in the same places. */
function alike(a: Grid, b: Grid): boolean {
  const off = (distance: number) => Math.abs(distance - Math.round(distance));
  return (
    Math.abs(a.pitchMm - b.pitchMm) < 1e-9 &&
    off((a.x0 - b.x0) / b.pitchMm) < 1e-6 &&
    off((a.y0 - b.y0) / b.pitchMm) < 1e-6
  );
}

/** Highest cut height within `reach` samples of (x, y). */
function cutHeight(cut: HeightField, x: number, y: number, reach: number): number {
  const col = Math.round((x - cut.x0) / cut.pitchMm);
  const row = Math.round((y - cut.y0) / cut.pitchMm);
  let highest = Number.NEGATIVE_INFINITY;
  for (let j = row - reach; j <= row + reach; j++)
    for (let i = col - reach; i <= col + reach; i++) {
      if (i < 0 || j < 0 || i >= cut.cols || j >= cut.rows) return Number.POSITIVE_INFINITY;
      highest = Math.max(highest, cut.z[j * cut.cols + i]);
    }
  return highest;
}
