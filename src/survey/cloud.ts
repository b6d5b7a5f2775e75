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
   * very lowest and highest are among them. Of equals the first.
   */
  extremes(a: number, b: number): Extremes;
}

const PARTS_ALONG = 4;
const PARTS_ACROSS = 3;

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

/** The samples of a field that the mask holds (at least one); those that are NaN are no points. */
export function fieldCloud(field: HeightField, mask: Uint8Array): Cloud {
  const { x0, y0, pitchMm, cols, rows, z } = field;
  const runs = runsOf(field, mask);
  const parts = PARTS_ALONG * PARTS_ACROSS;
  const lowest = new Float64Array(parts);
  const highest = new Float64Array(parts);
  const lowestAt = new Int32Array(parts);
  const highestAt = new Int32Array(parts);

  const extremes = (a: number, b: number): Extremes => {
    lowest.fill(Number.POSITIVE_INFINITY);
    highest.fill(Number.NEGATIVE_INFINITY);
    const step = a * pitchMm;
    for (let run = 0; run < runs.length; run += 3) {
      const part = runs[run];
      const from = runs[run + 1];
      const to = runs[run + 2];
      const row = Math.floor(from / cols);
      // Height of the plane over the sample before the row's first, so that sample k is at base + step * k.
      const base = a * x0 + b * (y0 + row * pitchMm) - step * row * cols;
      let low = lowest[part];
      let high = highest[part];
      for (let k = from; k < to; k++) {
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
      lowest[part] = low;
      highest[part] = high;
    }
    const found: Extremes = { low: [], high: [] };
    const push = (to: number[], k: number) =>
      to.push(x0 + (k % cols) * pitchMm, y0 + Math.floor(k / cols) * pitchMm, z[k]);
    for (let part = 0; part < parts; part++) {
      if (lowest[part] === Number.POSITIVE_INFINITY) continue;
      push(found.low, lowestAt[part]);
      push(found.high, highestAt[part]);
    }
    return found;
  };
  assert(rows > 0 && extremes(0, 0).low.length > 0, "a face without points");
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

/** Stretches of samples inside the mask, each in one row and one part of the field: part, first, behind the last. */
function runsOf({ cols, rows }: HeightField, mask: Uint8Array): Int32Array {
  const runs: number[] = [];
  for (let row = 0; row < rows; row++)
    for (let i = 0; i < PARTS_ALONG; i++) {
      const part = Math.floor((row * PARTS_ACROSS) / rows) * PARTS_ALONG + i;
      const end = row * cols + Math.floor(((i + 1) * cols) / PARTS_ALONG);
      let k = row * cols + Math.floor((i * cols) / PARTS_ALONG);
      while (k < end) {
        if (mask[k] === 0) {
          k++;
          continue;
        }
        const from = k;
        while (k < end && mask[k] !== 0) k++;
        runs.push(part, from, k);
      }
    }
  return Int32Array.from(runs);
}
