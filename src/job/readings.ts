// Measured heights as the survey takes them: checked that no place was read twice with two results,
// and that they span a face. Millimetres.

import { formatLength, formatPoint, type Units } from "../units.ts";
import type { Readings } from "./job.ts";

/** A height above this is no slab, mm. */
const HEIGHT_MAX_MM = 1000;

/** What a reading's height must be, for texts. */
export const HEIGHT_WANTED = "a height above the bed, more than 0 and at most 1 m";

export function heightFits(mm: number): boolean {
  return mm > 0 && mm <= HEIGHT_MAX_MM;
}

/** More readings than this help no face, and take minutes and gigabytes. */
export const READINGS_MAX = 200_000;

/** Readings nearer than this to one line say nothing about a face, mm. */
const SPREAD_MIN_MM = 0.1;
/** Readings in one cell of this size, 0.01 mm, stand at the same place. */
const CELLS_PER_MM = 100;

export type Points = Extract<Readings, { kind: "points" }>;

/** What is wrong with the reading of that index, or with all of them (-1). */
export type ReadingReport = (index: number, text: string) => void;

/**
 * Readings at any places, flat `[x0, y0, z0, ...]`; a reading given twice is dropped. Null after
 * reporting what is wrong; `nameOf` names the reading of an index ("line 7").
 */
export function pointReadings(
  given: ArrayLike<number>,
  units: Units,
  nameOf: (index: number) => string,
  report: ReadingReport,
): Points | null {
  if (given.length > 3 * READINGS_MAX) {
    const text = `found ${given.length / 3} readings; wanted at most ${READINGS_MAX}: fewer, evenly spread, describe a face as well`;
    report(-1, text);
    return null;
  }
  const seen = new Map<number, number>();
  const kept: number[] = [];
  let sound = true;
  for (let k = 0; 3 * k < given.length; k++) {
    const [x, y, z] = [given[3 * k], given[3 * k + 1], given[3 * k + 2]];
    const cell = Math.round(x * CELLS_PER_MM) * 2 ** 25 + Math.round(y * CELLS_PER_MM);
    const before = seen.get(cell);
    if (before === undefined) {
      seen.set(cell, k);
      kept.push(x, y, z);
    } else if (given[3 * before + 2] !== z) {
      const heights = `${formatLength(z, units)} here, ${formatLength(given[3 * before + 2], units)} in ${nameOf(before)}`;
      report(
        k,
        `two heights at the same place ${formatPoint(x, y, units)}: ${heights}; keep the right one, and see that each reading stands as x, y, z`,
      );
      sound = false;
    }
  }
  if (!sound || !spansFace(kept, report)) return null;
  return { kind: "points", xyz: Float64Array.from(kept) };
}

/**
 * Readings on a grid: the first node, the steps along X and Y (either may be negative), and rows of
 * equal length with null where nothing was read. Null after reporting what is wrong, at a row and
 * column, a row (column -1), or the whole (both -1).
 */
export function gridReadings(
  at: readonly [number, number],
  step: readonly [number, number],
  given: readonly (readonly (number | null)[])[],
  report: (row: number, col: number, text: string) => void,
): Readings | null {
  const rows = given.length;
  const cols = given[0]?.length ?? 0;
  if (rows < 2 || cols < 2) {
    const size = `${rows} ${rows === 1 ? "row" : "rows"} of ${cols}`;
    report(-1, -1, `found a grid of ${size}; wanted at least 2 rows of 2, for points use "points"`);
    return null;
  }
  let sound = true;
  const z = new Float64Array(rows * cols);
  const read: number[] = [];
  for (let row = 0; row < rows; row++) {
    if (given[row].length !== cols) {
      report(
        row,
        -1,
        `found ${given[row].length} heights; wanted ${cols} as in the first row, null where nothing was read`,
      );
      sound = false;
      continue;
    }
    const toRow = step[1] > 0 ? row : rows - 1 - row;
    for (let col = 0; col < cols; col++) {
      const height = given[row][col];
      const node = toRow * cols + (step[0] > 0 ? col : cols - 1 - col);
      z[node] = height ?? Number.NaN;
      if (height === null) continue;
      read.push(at[0] + col * step[0], at[1] + row * step[1], height);
    }
  }
  if (!sound || !spansFace(read, (_, text) => report(-1, -1, text))) return null;
  return {
    kind: "grid",
    x0: at[0] + Math.min(0, step[0] * (cols - 1)),
    y0: at[1] + Math.min(0, step[1] * (rows - 1)),
    dx: Math.abs(step[0]),
    dy: Math.abs(step[1]),
    cols,
    rows,
    z,
  };
}

/** All that was read, flat `[x, y, z, ...]`. */
export function xyzOf(readings: Readings): ArrayLike<number> {
  if (readings.kind === "points") return readings.xyz;
  const { x0, y0, dx, dy, cols, z } = readings;
  const xyz: number[] = [];
  z.forEach((height, k) => {
    if (!Number.isNaN(height)) xyz.push(x0 + dx * (k % cols), y0 + dy * Math.floor(k / cols), height);
  });
  return xyz;
}

/** Whether readings, flat `[x, y, z, ...]`, are three or more and do not lie on one line. */
function spansFace(xyz: readonly number[], report: ReadingReport): boolean {
  const count = xyz.length / 3;
  if (count < 3) {
    const found = count === 0 ? "found no reading" : `found ${count} ${count === 1 ? "reading" : "readings"}`;
    report(
      -1,
      `${found}; a face needs at least 3 that do not lie on one line, or leave them out and give "thickness"`,
    );
    return false;
  }
  const far = farthest(xyz, (x, y) => (x - xyz[0]) ** 2 + (y - xyz[1]) ** 2);
  const dx = xyz[far] - xyz[0];
  const dy = xyz[far + 1] - xyz[1];
  const aside = (x: number, y: number) => Math.abs(dx * (y - xyz[1]) - dy * (x - xyz[0]));
  const off = farthest(xyz, aside);
  if (aside(xyz[off], xyz[off + 1]) > SPREAD_MIN_MM * Math.sqrt(dx * dx + dy * dy)) return true;
  report(-1, `all ${count} readings lie on one line; a face needs at least one reading beside it`);
  return false;
}

/** Offset of the reading for which `measure` is greatest. */
function farthest(xyz: readonly number[], measure: (x: number, y: number) => number): number {
  let best = 0;
  let most = -1;
  for (let k = 0; k < xyz.length; k += 3) {
    const value = measure(xyz[k], xyz[k + 1]);
    if (value > most) {
      most = value;
      best = k;
    }
  }
  return best;
}
