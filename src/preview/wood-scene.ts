// The pieces of a setup as fields of heights on one grid, fine enough for a screen. Its samples are samples of
// the proof, so that heights after the cut are the proof's own. Millimetres above the bed.

import { SINGLE_MM } from "../passes/layers.ts";
import { LEFT_MM } from "../proof/body.ts";
import { cellsFor } from "../proof/wood.ts";
import { ZMap } from "../proof/zmap.ts";
import { boxOf, type Grid, insideMask, insideShares, nearestIn, pitchFor } from "../survey/field.ts";
import type { Stock } from "../survey/stock.ts";
import { underHeights } from "../survey/stock.ts";
import { woodHeights } from "../survey/timber.ts";
import { Cut, type Motion } from "./cut.ts";

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

/** The pieces as a setup finds them, and as its motion leaves them. */
export function woodScene(found: readonly Stock[], floorMm: number, motion: Motion): WoodScene {
  const grid = gridOf(found);
  const count = grid.cols * grid.rows;
  const nothing = () => new Float32Array(count).fill(Number.NEGATIVE_INFINITY);
  const hasResin = found.some(({ timbers }) => timbers !== null);
  const scene: WoodScene = {
    ...grid,
    before: nothing(),
    after: new Float32Array(count),
    below: new Float32Array(count),
    inside: new Uint8Array(count),
    timber: hasResin ? new Uint8Array(count) : null,
    timberTop: hasResin ? nothing() : null,
    clean: new Uint8Array(count),
  };
  const cutBefore = new Uint8Array(count);
  for (const stock of found) addPiece(scene, stock, cutBefore);
  scene.after.set(scene.before);
  new Cut(motion, new ZMap(grid, scene.after)).goOn(motion.track.count, 0);
  for (let k = 0; k < count; k++)
    if (scene.clean[k] !== Clean.outside) scene.clean[k] = cleanOf(scene, k, cutBefore[k] === 1, floorMm);
  return scene;
}

/** A grid over all pieces with samples to spare, on every so manieth sample of the proof. */
function gridOf(found: readonly Stock[]): Grid {
  const rings = found.map(({ piece }) => piece.outline);
  const { grid } = cellsFor(found);
  const every = Math.ceil(pitchFor(boxOf(rings), 0, SAMPLES_MAX) / grid.pitchMm);
  const pitchMm = every * grid.pitchMm;
  return {
    x0: grid.x0 - 2 * pitchMm,
    y0: grid.y0 - 2 * pitchMm,
    pitchMm,
    cols: Math.ceil(grid.cols / every) + 5,
    rows: Math.ceil(grid.rows / every) + 5,
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

/** Adds a piece as it is found; marks what lies inside it, and where earlier setups have cut it. */
function addPiece(scene: WoodScene, found: Stock, cutBefore: Uint8Array): void {
  const { part, col, row } = partAround(scene, found);
  const { outline } = found.piece;
  const mask = insideMask([outline], part);
  // Two samples more all around, so that a screen may leave every other one out.
  const rim = widened(mask, part, 2);
  const shares = insideShares([outline], part);
  const { heights, cut } = heightsOf(found, part);
  const below = underHeights(found, part);
  const { timbers } = found;
  const top = timbers && woodHeights(timbers, part).top;
  const timberShares =
    timbers &&
    insideShares(
      timbers.map((timber) => timber.outline),
      part,
    );
  if (top !== null) for (const _ of [1, 2]) spread(top, part);
  for (let j = 0, k = 0; j < part.rows; j++)
    for (let i = 0, at = (row + j) * scene.cols + col; i < part.cols; i++, k++, at++) {
      if (rim[k] === 0) continue;
      scene.before[at] = heights[k];
      scene.below[at] = below[k];
      scene.inside[at] = Math.max(scene.inside[at], Math.round(255 * shares[k]));
      cutBefore[at] = cut[k];
      if (scene.timber !== null && scene.timberTop !== null) {
        scene.timber[at] = timberShares === null ? 255 : Math.round(255 * timberShares[k]);
        scene.timberTop[at] = top === null ? heights[k] : top[k];
      }
      // What became of it is not known yet.
      if (mask[k] === 1) scene.clean[at] = Clean.kept;
    }
}

function cleanOf(
  { before, after, timber, timberTop }: WoodScene,
  k: number,
  cutBefore: boolean,
  floorMm: number,
) {
  if (timber !== null && timber[k] < 128) return Clean.resin;
  const face = timberTop === null ? before[k] : Math.min(before[k], timberTop[k]);
  const isAbove = face > floorMm + SINGLE_MM;
  if (cutBefore || (isAbove && after[k] < before[k] && after[k] <= floorMm + LEFT_MM)) return Clean.cleaned;
  return isAbove ? Clean.kept : Clean.below;
}

/** The measured face, lower where it was cut, and 1 wherever that is; exactly the cut's own heights where samples coincide. */
function heightsOf({ up }: Stock, grid: Grid): { heights: Float32Array; cut: Uint8Array } {
  const heights = new Float32Array(grid.cols * grid.rows);
  const taken = new Uint8Array(heights.length);
  up.surface.sample(grid, 0, heights);
  const { cut } = up;
  if (cut === null) return { heights, cut: taken };
  const near = nearestIn(cut, grid);
  for (let row = 0, k = 0; row < grid.rows; row++) {
    const base = near.row[row] * cut.cols;
    for (let col = 0; col < grid.cols; col++, k++) {
      if (base < 0 || near.col[col] < 0) continue;
      const height = cut.z[base + near.col[col]];
      if (height < Number.POSITIVE_INFINITY) taken[k] = 1;
      if (height < heights[k]) heights[k] = height;
    }
  }
  return { heights, cut: taken };
}

/** The mask with all samples that lie no more than so many rows and columns beside it. */
function widened(mask: Uint8Array, { cols, rows }: Grid, by: number): Uint8Array {
  const along = mask.slice();
  for (let row = 0; row < rows; row++)
    for (let col = 0; col < cols; col++)
      if (mask[row * cols + col] === 1)
        along.fill(1, row * cols + Math.max(0, col - by), row * cols + Math.min(cols, col + by + 1));
  const wide = along.slice();
  for (let k = 0; k < along.length; k++)
    if (along[k] === 1)
      for (let step = cols; step <= by * cols; step += cols) {
        if (k >= step) wide[k - step] = 1;
        if (k + step < wide.length) wide[k + step] = 1;
      }
  return wide;
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
