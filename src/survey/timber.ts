// The wood in a piece of wood and resin: where it lies, and how high its faces stand in the resin.
// Millimetres above the bed, in the lay of its stock.

import type { Piece, Ring } from "../job/job.ts";
import { boxOf, type Grid, insideMask } from "./field.ts";
import { raisedSurface, type Turning, turnedRing, turnedSurface } from "./placed.ts";
import type { Surface } from "./surface.ts";

export interface Timber {
  readonly outline: Ring;
  readonly top: Surface;
  readonly bottom: Surface;
  /** As the user named it. */
  readonly material: string;
}

/** The wood that a piece says it has, its shell's thickness within its faces; null where all of it is bare wood. */
export function timbersOf(
  { outline, wood, shellMm, madeOf, material }: Piece,
  upper: Surface,
  under: Surface,
): readonly Timber[] | null {
  const shelled = shellMm.upper > 0 || shellMm.under > 0;
  if (wood === null && (madeOf.length > 0 || !shelled)) return null;
  return (wood ?? [outline]).map((ring) => ({
    outline: ring,
    top: shellMm.upper > 0 ? raisedSurface(upper, -shellMm.upper) : upper,
    bottom: shellMm.under > 0 ? raisedSurface(under, shellMm.under) : under,
    material,
  }));
}

export function turnedTimber({ outline, top, bottom, material }: Timber, turning: Turning): Timber {
  return {
    outline: turnedRing(outline, turning),
    top: turnedSurface(bottom, turning),
    bottom: turnedSurface(top, turning),
    material,
  };
}

/** Where wood lies on the samples of a grid: its top, -Infinity in resin, and its bottom, +Infinity in resin. */
export interface WoodHeights {
  readonly top: Float32Array;
  readonly bottom: Float32Array;
}

export function woodHeights(timbers: readonly Timber[], grid: Grid): WoodHeights {
  const count = grid.cols * grid.rows;
  const top = new Float32Array(count).fill(Number.NEGATIVE_INFINITY);
  const bottom = new Float32Array(count).fill(Number.POSITIVE_INFINITY);
  for (const timber of timbers) {
    const part = partOver(grid, timber.outline);
    const inside = insideMask([timber.outline], part);
    fill(timber.top, part, inside, grid, top);
    fill(timber.bottom, part, inside, grid, bottom);
  }
  return { top, bottom };
}

/** The part of a grid that an outline's box takes, and where in the grid it lies. */
interface GridPart extends Grid {
  readonly col: number;
  readonly row: number;
}

function partOver(grid: Grid, outline: Ring): GridPart {
  const { minX, minY, maxX, maxY } = boxOf([outline]);
  const at = (mm: number, from: number, count: number) =>
    Math.max(0, Math.min(count, Math.ceil((mm - from) / grid.pitchMm)));
  const [col, row] = [at(minX, grid.x0, grid.cols), at(minY, grid.y0, grid.rows)];
  return {
    ...{ pitchMm: grid.pitchMm, col, row },
    x0: grid.x0 + col * grid.pitchMm,
    y0: grid.y0 + row * grid.pitchMm,
    cols: at(maxX + grid.pitchMm, grid.x0, grid.cols) - col,
    rows: at(maxY + grid.pitchMm, grid.y0, grid.rows) - row,
  };
}

function fill(surface: Surface, part: GridPart, inside: Uint8Array, grid: Grid, to: Float32Array): void {
  const heights = new Float32Array(part.cols * part.rows);
  surface.sample(part, 0, heights);
  for (let j = 0, k = 0; j < part.rows; j++)
    for (let i = 0, at = (part.row + j) * grid.cols + part.col; i < part.cols; i++, k++, at++)
      if (inside[k] === 1) to[at] = heights[k];
}

/** A wood's face that stands no lower than this under its resin's is bare. */
export const BARE_MM = 0.01;
