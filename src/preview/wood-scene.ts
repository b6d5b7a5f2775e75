// The pieces of a setup as fields of heights on one grid, fine enough for a screen. Its samples are samples of
// the proof, so that heights after the cut are the proof's own. Millimetres above the bed.

import { SINGLE_MM } from "../passes/layers.ts";
import { LEFT_MM } from "../proof/body.ts";
import { boxOf, type Grid, gridOver, insideMask, insideShares, pitchFor } from "../survey/field.ts";
import type { Stock } from "../survey/stock.ts";
import { underHeights } from "../survey/stock.ts";
import { woodHeights } from "../survey/timber.ts";

/** What became of a sample's wood. */
export const Clean = {
  outside: 0,
  /** Cut down to the floor, by this setup or an earlier one. */
  cleaned: 1,
  /** Its face lies below the floor. */
  below: 2,
  /** Stands above the floor: under a keep-out, or too near to one. */
  kept: 3,
  /** Resin from top to bottom. */
  resin: 4,
} as const;

export interface WoodScene extends Grid {
  /** The face as the setup finds it, as measured; -Infinity farther than two samples from its outline. */
  readonly before: Float32Array;
  /** The same as the proof leaves it. */
  readonly after: Float32Array;
  /** The face that lies down. */
  readonly below: Float32Array;
  /** How much of a sample's cell lies within an outline, 0 to 255. */
  readonly inside: Uint8Array;
  /** The same of outlines of wood where there is resin too; null: it is all wood. */
  readonly timber: Uint8Array | null;
  /** Where the wood's own face lies; -Infinity where there is none. */
  readonly timberTop: Float32Array | null;
  /** Of `Clean`. */
  readonly clean: Uint8Array;
}

/** More samples are not seen, and cost time on every picture. */
const SAMPLES_MAX = 165_000;

export function woodScene(found: readonly Stock[], left: readonly Stock[], floorMm: number): WoodScene {
  const grid = gridOf(found, left);
  const count = grid.cols * grid.rows;
  const fields = {
    before: new Float32Array(count).fill(Number.NEGATIVE_INFINITY),
    after: new Float32Array(count).fill(Number.NEGATIVE_INFINITY),
    below: new Float32Array(count),
    inside: new Uint8Array(count),
    timber: found.some(({ timbers }) => timbers !== null) ? new Uint8Array(count) : null,
    timberTop: null as Float32Array | null,
    clean: new Uint8Array(count),
  };
  if (fields.timber !== null) fields.timberTop = new Float32Array(count).fill(Number.NEGATIVE_INFINITY);
  found.forEach((stock, k) => {
    addPiece({ ...grid, ...fields }, stock, left[k], floorMm);
  });
  return { ...grid, ...fields };
}

/** A grid over all pieces with a sample to spare, on every so manieth sample of what was cut. */
function gridOf(found: readonly Stock[], left: readonly Stock[]): Grid {
  const box = boxOf(found.map(({ piece }) => piece.outline));
  const wanted = pitchFor(box, 0, SAMPLES_MAX);
  const cut = left.find(({ up }) => up.cut !== null)?.up.cut;
  if (!cut) return gridOver(box, Math.max(1, wanted), 2 * Math.max(1, wanted));
  const pitchMm = cut.pitchMm * Math.ceil(wanted / cut.pitchMm);
  const col = Math.floor((box.minX - cut.x0) / cut.pitchMm) - 2 * Math.round(pitchMm / cut.pitchMm);
  const row = Math.floor((box.minY - cut.y0) / cut.pitchMm) - 2 * Math.round(pitchMm / cut.pitchMm);
  const [x0, y0] = [cut.x0 + col * cut.pitchMm, cut.y0 + row * cut.pitchMm];
  return {
    ...{ x0, y0, pitchMm },
    cols: Math.ceil((box.maxX - x0) / pitchMm) + 3,
    rows: Math.ceil((box.maxY - y0) / pitchMm) + 3,
  };
}

/** The part of the grid around one piece, and where it begins. */
export function partAround(grid: Grid, { piece }: Stock): { part: Grid; col: number; row: number } {
  const box = boxOf([piece.outline]);
  const { x0, y0, pitchMm } = grid;
  const col = Math.max(0, Math.floor((box.minX - x0) / pitchMm) - 2);
  const row = Math.max(0, Math.floor((box.minY - y0) / pitchMm) - 2);
  const lastCol = Math.min(grid.cols - 1, Math.ceil((box.maxX - x0) / pitchMm) + 2);
  const lastRow = Math.min(grid.rows - 1, Math.ceil((box.maxY - y0) / pitchMm) + 2);
  const [cols, rows] = [lastCol - col + 1, lastRow - row + 1];
  return { part: { x0: x0 + col * pitchMm, y0: y0 + row * pitchMm, pitchMm, cols, rows }, col, row };
}

function addPiece(scene: WoodScene, found: Stock, left: Stock, floorMm: number): void {
  const { part, col, row } = partAround(scene, found);
  const { outline } = found.piece;
  const mask = insideMask([outline], part);
  // Two samples more all around, so that a screen may leave every other one out.
  const near = widened(mask, part);
  const rim = widened(near, part);
  const shares = insideShares([outline], part);
  const before = heightsOf(found, part);
  const after = heightsOf(left, part);
  // Nothing says what was cut beyond the outline; it goes on as at the edge.
  goOn(after.heights, mask, part);
  goOn(after.heights, near, part);
  const below = underHeights(found, part);
  const wood = found.timbers && woodHeights(found.timbers, part);
  const timberShares =
    found.timbers &&
    insideShares(
      found.timbers.map((timber) => timber.outline),
      part,
    );
  if (wood !== null) for (const _ of [1, 2]) spread(wood.top, part);
  for (let j = 0, k = 0; j < part.rows; j++)
    for (let i = 0, at = (row + j) * scene.cols + col; i < part.cols; i++, k++, at++) {
      if (rim[k] === 0) continue;
      scene.before[at] = before.heights[k];
      scene.after[at] = after.heights[k];
      scene.below[at] = below[k];
      scene.inside[at] = Math.max(scene.inside[at], Math.round(255 * shares[k]));
      const share = timberShares === null ? 1 : timberShares[k];
      if (scene.timber !== null && scene.timberTop !== null) {
        scene.timber[at] = Math.round(255 * share);
        scene.timberTop[at] = wood === null ? before.heights[k] : wood.top[k];
      }
      if (mask[k] === 0) continue;
      const face = wood === null ? before.heights[k] : Math.min(before.heights[k], wood.top[k]);
      const isCut = after.cut[k] === 1 && after.heights[k] <= floorMm + LEFT_MM;
      scene.clean[at] =
        share < 0.5
          ? Clean.resin
          : (isCut && face > floorMm + SINGLE_MM) || before.cut[k] === 1
            ? Clean.cleaned
            : face > floorMm + SINGLE_MM
              ? Clean.kept
              : Clean.below;
    }
}

/** The measured face, lower where it was cut, and 1 wherever that is; exactly the cut's own heights where samples coincide. */
function heightsOf({ up }: Stock, grid: Grid): { heights: Float32Array; cut: Uint8Array } {
  const heights = new Float32Array(grid.cols * grid.rows);
  const taken = new Uint8Array(heights.length);
  up.surface.sample(grid, 0, heights);
  const { cut } = up;
  if (cut === null) return { heights, cut: taken };
  for (let row = 0, k = 0; row < grid.rows; row++) {
    const j = Math.round((grid.y0 + row * grid.pitchMm - cut.y0) / cut.pitchMm);
    for (let col = 0; col < grid.cols; col++, k++) {
      const i = Math.round((grid.x0 + col * grid.pitchMm - cut.x0) / cut.pitchMm);
      if (i < 0 || j < 0 || i >= cut.cols || j >= cut.rows) continue;
      const height = cut.z[j * cut.cols + i];
      if (height < Number.POSITIVE_INFINITY) taken[k] = 1;
      if (height < heights[k]) heights[k] = height;
    }
  }
  return { heights, cut: taken };
}

/** The mask with all neighbours of its samples. */
function widened(mask: Uint8Array, { cols, rows }: Grid): Uint8Array {
  const wide = mask.slice();
  for (let row = 0; row < rows; row++)
    for (let col = 0; col < cols; col++) {
      if (mask[row * cols + col] === 0) continue;
      for (let j = Math.max(0, row - 1); j <= Math.min(rows - 1, row + 1); j++)
        for (let i = Math.max(0, col - 1); i <= Math.min(cols - 1, col + 1); i++) wide[j * cols + i] = 1;
    }
  return wide;
}

/** Gives samples beside those of the mask the lowest height of their neighbours in it. */
function goOn(heights: Float32Array, mask: Uint8Array, { cols, rows }: Grid): void {
  for (let row = 0; row < rows; row++)
    for (let col = 0; col < cols; col++) {
      const k = row * cols + col;
      if (mask[k] === 1) continue;
      let lowest = Number.POSITIVE_INFINITY;
      for (let j = Math.max(0, row - 1); j <= Math.min(rows - 1, row + 1); j++)
        for (let i = Math.max(0, col - 1); i <= Math.min(cols - 1, col + 1); i++)
          if (mask[j * cols + i] === 1) lowest = Math.min(lowest, heights[j * cols + i]);
      if (lowest < Number.POSITIVE_INFINITY) heights[k] = lowest;
    }
}

/** Gives samples beside the wood its height, so that nothing is drawn between wood and no wood. */
function spread(top: Float32Array, { cols, rows }: Grid): void {
  const known = top.slice();
  for (let row = 0; row < rows; row++)
    for (let col = 0; col < cols; col++) {
      const k = row * cols + col;
      if (known[k] > Number.NEGATIVE_INFINITY) continue;
      for (let j = Math.max(0, row - 1); j <= Math.min(rows - 1, row + 1); j++)
        for (let i = Math.max(0, col - 1); i <= Math.min(cols - 1, col + 1); i++)
          if (known[j * cols + i] > top[k]) top[k] = known[j * cols + i];
    }
}
