// The wood in a piece of wood and resin: where it lies, and how high its faces stand in the resin.
// Millimetres above the bed, in the lay of its stock.

import type { Piece, Ring } from "../job/job.ts";
import { type Grid, insideMask } from "./field.ts";
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
  const heights = new Float32Array(count);
  for (const timber of timbers) {
    const inside = insideMask([timber.outline], grid);
    timber.top.sample(grid, 0, heights);
    for (let k = 0; k < count; k++) if (inside[k] === 1) top[k] = heights[k];
    timber.bottom.sample(grid, 0, heights);
    for (let k = 0; k < count; k++) if (inside[k] === 1) bottom[k] = heights[k];
  }
  return { top, bottom };
}

/** A wood's face that stands no lower than this under its resin's is bare. */
export const BARE_MM = 0.01;
