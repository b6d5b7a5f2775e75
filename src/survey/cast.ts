// Casting: earlier pieces set into a mold as they are, resin all around. Millimetres above the mold's
// floor, on which the cast piece goes on lying.

import type { Piece } from "../job/job.ts";
import { boxOf, type Grid, gridOver, insideMask, pitchFor } from "./field.ts";
import { type Placing, placedField, placedRing } from "./placed.ts";
import { type Stock, stockHeights, uncutStock, underHeights } from "./stock.ts";
import type { Timber } from "./timber.ts";

/**
 * A cast piece as it comes out of its mold. Its face is as measured; else level, at its `thickness` or
 * the shell over the highest wood.
 */
export function castStock(
  piece: Piece,
  parts: readonly { readonly stock: Stock; readonly placing: Placing }[],
): Stock {
  const set = parts.map(({ stock, placing }) => timberFrom(stock, placing, piece.shellMm.under));
  const highest = Math.max(...set.map(({ highestMm }) => highestMm));
  const thicknessMm = piece.thicknessMm ?? highest + piece.shellMm.upper;
  const stock = uncutStock({ ...piece, thicknessMm });
  return { ...stock, timbers: [...set.map(({ timber }) => timber), ...(stock.timbers ?? [])] };
}

/** Samples of a part's faces, for the mold. */
const PITCH_MM = 1;
const SAMPLES_MAX = 6_000_000;

/** A piece set into a mold as it is, its lowest place `aboveMm` over the mold's floor; and how high it stands there. */
function timberFrom(stock: Stock, placing: Placing, aboveMm: number): { timber: Timber; highestMm: number } {
  const { piece, up, down, lowestMm } = stock;
  const box = boxOf([piece.outline]);
  const cut = up.cut ?? down.cut;
  // Where it was cut, on the samples of the cut, so that its edges stay where they are.
  const grid: Grid = cut ?? gridOver(box, pitchFor(box, PITCH_MM, SAMPLES_MAX), 2 * PITCH_MM);
  const top = stockHeights(stock, 0, grid);
  const bottom = underHeights(stock, grid);
  const inside = insideMask([piece.outline], grid);
  let highest = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < top.length; k++) if (inside[k] === 1 && top[k] > highest) highest = top[k];
  const raiseMm = aboveMm - lowestMm;
  return {
    timber: {
      outline: placedRing(piece.outline, placing),
      top: placedField({ ...gridOnly(grid), z: top }, placing, raiseMm),
      bottom: placedField({ ...gridOnly(grid), z: bottom }, placing, raiseMm),
      material: piece.material,
    },
    highestMm: highest + raiseMm,
  };
}

function gridOnly({ x0, y0, pitchMm, cols, rows }: Grid): Grid {
  return { x0, y0, pitchMm, cols, rows };
}
