// Many points of a face, seen only through those that lie farthest over or under a plane: that is all that fitting
// planes to a face asks of it, so 660,000 samples need no copy. Millimetres, Z up.

import { assert } from "../errors.ts";
import type { HeightField } from "./field.ts";

/** Points as flat `[x, y, z, ...]`. */
export interface Extremes {
  readonly low: number[];
  readonly high: number[];
}

export interface Cloud {
  /**
   * The points lowest and highest over the planes z = a x + b y: of every part of the face one each, so that the
   * very lowest and highest are among them.
   */
  extremes(a: number, b: number): Extremes;
}

const PARTS_ALONG = 6;
const PARTS_ACROSS = 4;
/** Samples along a tile's side. */
const TILE = 32;

/** Points as flat `[x, y, z, ...]`, at least one. */
export function pointCloud(xyz: Float64Array): Cloud {
  const count = xyz.length / 3;
  assert(count >= 1, "a face without points");
  const parts = Math.min(count, PARTS_ALONG * PARTS_ACROSS);
  const extremes = (a: number, b: number): Extremes => {
    const [low, high]: number[][] = [[], []];
    for (let part = 0; part < parts; part++) {
      const to = Math.floor(((part + 1) * count) / parts);
      let lowest = Number.POSITIVE_INFINITY;
      let highest = Number.NEGATIVE_INFINITY;
      let [lowestAt, highestAt] = [0, 0];
      for (let k = Math.floor((part * count) / parts); k < to; k++) {
        const over = xyz[3 * k + 2] - (a * xyz[3 * k] + b * xyz[3 * k + 1]);
        if (over < lowest) {
          lowest = over;
          lowestAt = k;
        }
        if (over > highest) {
          highest = over;
          highestAt = k;
        }
      }
      low.push(...xyz.subarray(3 * lowestAt, 3 * lowestAt + 3));
      high.push(...xyz.subarray(3 * highestAt, 3 * highestAt + 3));
    }
    return { low, high };
  };
  return { extremes };
}

/**
 * The samples of a field that the mask holds (at least one); those that are NaN are no points.
 *
 * The field is cut into tiles. How high a tile reaches over level planes bounds how high it can reach over tilted
 * ones, so that most tiles need no second look.
 */
export function fieldCloud(field: HeightField, mask: Uint8Array): Cloud {
  const { x0, y0, pitchMm, cols, z } = field;
  const tiles = tilesOf(field, mask);
  const parts = PARTS_ALONG * PARTS_ACROSS;
  // Heights of the samples that lead their part so far, and which they are.
  const lowest = new Float64Array(parts);
  const highest = new Float64Array(parts);
  const lowestAt = new Int32Array(parts);
  const highestAt = new Int32Array(parts);

  const extremes = (a: number, b: number): Extremes => {
    lowest.fill(Number.POSITIVE_INFINITY);
    highest.fill(Number.NEGATIVE_INFINITY);
    const step = a * pitchMm;
    const overAt = (k: number) => {
      const row = Math.floor(k / cols);
      return z[k] - (a * x0 + b * (y0 + row * pitchMm) + step * (k - row * cols));
    };
    for (const { part, lowAt, highAt } of tiles) {
      const low = overAt(lowAt);
      if (low < lowest[part]) {
        lowest[part] = low;
        lowestAt[part] = lowAt;
      }
      const high = overAt(highAt);
      if (high > highest[part]) {
        highest[part] = high;
        highestAt[part] = highAt;
      }
    }
    if (a === 0 && b === 0) return found();
    for (const { part, x, y, halfX, halfY, lowAt, highAt, runs } of tiles) {
      const middle = a * x + b * y;
      const most = Math.abs(a) * halfX + Math.abs(b) * halfY;
      let low = lowest[part];
      let high = highest[part];
      if (z[lowAt] - middle - most >= low && z[highAt] - middle + most <= high) continue;
      for (let run = 0; run < runs.length; run += 2) {
        const row = Math.floor(runs[run] / cols);
        const base = a * x0 + b * (y0 + row * pitchMm) - step * row * cols;
        const to = runs[run + 1];
        for (let k = runs[run]; k < to; k++) {
          const over = z[k] - (base + step * k);
          if (over < low) {
            low = over;
            lowestAt[part] = k;
          }
          if (over > high) {
            high = over;
            highestAt[part] = k;
          }
        }
      }
      lowest[part] = low;
      highest[part] = high;
    }
    return found();
  };

  const found = (): Extremes => {
    const points: Extremes = { low: [], high: [] };
    const push = (to: number[], k: number) =>
      to.push(x0 + (k % cols) * pitchMm, y0 + Math.floor(k / cols) * pitchMm, z[k]);
    for (let part = 0; part < parts; part++) {
      if (lowest[part] === Number.POSITIVE_INFINITY) continue;
      push(points.low, lowestAt[part]);
      push(points.high, highestAt[part]);
    }
    return points;
  };

  assert(tiles.length > 0, "a face without points");
  return { extremes };
}

/** The points of several clouds as one. */
export function together(...clouds: readonly Cloud[]): Cloud {
  return {
    extremes: (a, b) => {
      const found = clouds.map((cloud) => cloud.extremes(a, b));
      return { low: found.flatMap(({ low }) => low), high: found.flatMap(({ high }) => high) };
    },
  };
}

interface Tile {
  readonly part: number;
  /** Its middle, and how far it reaches from there. */
  readonly x: number;
  readonly y: number;
  readonly halfX: number;
  readonly halfY: number;
  /** The lowest and the highest sample over a level plane. */
  readonly lowAt: number;
  readonly highAt: number;
  /** Stretches of samples inside the mask, each in one row: first, behind the last, and so on. */
  readonly runs: Int32Array;
}

function tilesOf(field: HeightField, mask: Uint8Array): Tile[] {
  const { x0, y0, pitchMm, cols, rows } = field;
  const tiles: Tile[] = [];
  for (let row = 0; row < rows; row += TILE)
    for (let col = 0; col < cols; col += TILE) {
      const [colEnd, rowEnd] = [Math.min(cols, col + TILE), Math.min(rows, row + TILE)];
      const runs = runsOf(mask, cols, col, colEnd, row, rowEnd);
      const { lowAt, highAt } = levelExtremes(field.z, runs);
      if (lowAt < 0) continue;
      tiles.push({
        part: Math.floor((row * PARTS_ACROSS) / rows) * PARTS_ALONG + Math.floor((col * PARTS_ALONG) / cols),
        x: x0 + ((col + colEnd - 1) * pitchMm) / 2,
        y: y0 + ((row + rowEnd - 1) * pitchMm) / 2,
        halfX: ((colEnd - 1 - col) * pitchMm) / 2,
        halfY: ((rowEnd - 1 - row) * pitchMm) / 2,
        lowAt,
        highAt,
        runs,
      });
    }
  return tiles;
}

function runsOf(
  mask: Uint8Array,
  cols: number,
  col: number,
  colEnd: number,
  row: number,
  rowEnd: number,
): Int32Array {
  const runs: number[] = [];
  for (let j = row; j < rowEnd; j++) {
    const end = j * cols + colEnd;
    for (let k = j * cols + col; k < end; k++) {
      if (mask[k] === 0) continue;
      const from = k;
      while (k < end && mask[k] !== 0) k++;
      runs.push(from, k);
    }
  }
  return Int32Array.from(runs);
}

/** -1 where no sample is a point. */
function levelExtremes(z: Float32Array, runs: Int32Array): { lowAt: number; highAt: number } {
  let lowest = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  let [lowAt, highAt] = [-1, -1];
  for (let run = 0; run < runs.length; run += 2)
    for (let k = runs[run]; k < runs[run + 1]; k++) {
      const height = z[k];
      if (height < lowest) {
        lowest = height;
        lowAt = k;
      }
      if (height > highest) {
        highest = height;
        highAt = k;
      }
    }
  return { lowAt, highAt };
}
