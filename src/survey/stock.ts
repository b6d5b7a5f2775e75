// A piece as a setup finds it: both faces as they were measured, how far earlier setups have cut them,
// and what of it is wood where the rest is resin. What stands is the lower of face and cut. The frame is
// that of the setup: turning over gives another stock. Millimetres above the bed.

import type { Piece, Setup } from "../job/job.ts";
import { inOrOn, ON_OUTLINE_MM } from "../job/outline.ts";
import { between, boxOf, type Grid, type HeightField, nearestIn, visitSpans } from "./field.ts";
import {
  type Tilt,
  type Turning,
  tiltedReadings,
  tiltedSurface,
  turnedAngle,
  turnedField,
  turnedReadings,
  turnedRing,
  turnedSurface,
} from "./placed.ts";
import { pointsOf, type Surface, underFace, underReadings, upperFace } from "./surface.ts";
import { type Timber, timbersOf, turnedTimber } from "./timber.ts";

/** One face in the lay of its stock. */
export interface Face {
  /** As measured (or a box). */
  readonly surface: Surface;
  /** The measured places, flat `[x, y, z, ...]`; null where none were taken. */
  readonly readings: Float64Array | null;
  /**
   * Of the face that is up, the lowest that the cutting edge has been over each place, +Infinity where it never
   * was; of the face that is down, the same mirrored: the highest, -Infinity. Null: untouched.
   */
  readonly cut: HeightField | null;
  /** What stays on the face for sanding. */
  readonly leaveMm: number;
}

export interface Stock {
  /** The piece with its outline and grain as they lie now. */
  readonly piece: Piece;
  readonly faceUp: "upper" | "under";
  /** How it was last turned over. */
  readonly turned: "x" | "y";
  readonly up: Face;
  readonly down: Face;
  /** The highest measured place of the face that is up, inside the outline; for a box its thickness. */
  readonly highestMm: number;
  /** The lowest measured place of the face that is down. */
  readonly lowestMm: number;
  /** Where the wood lies in the resin; null: it is all wood. */
  readonly timbers: readonly Timber[] | null;
}

/** A piece as it was first laid, uncut. */
export function uncutStock(piece: Piece): Stock {
  const upper = upperFace(piece);
  const under = underFace(piece, upper);
  const up = { surface: upper, readings: piece.upper && pointsOf(piece.upper), cut: null, leaveMm: 0 };
  const down = { surface: under, readings: underReadings(piece, upper), cut: null, leaveMm: 0 };
  return {
    ...{ piece, faceUp: "upper", turned: "x", up, down },
    highestMm: highestReading(piece, up) ?? upper.heightAt(0, 0),
    lowestMm: lowestReading(piece, down) ?? under.heightAt(0, 0),
    timbers: timbersOf(piece, upper, under),
  };
}

/** The stock after cutting: where the cutting edge has been by now, the highest place left, and what stays on. */
export function cutStock(stock: Stock, cut: HeightField, highestMm: number, leaveMm = 0): Stock {
  return { ...stock, up: { ...stock.up, cut, leaveMm }, highestMm };
}

/** The stock turned over, lying on what was its highest place. */
export function turnedStock(stock: Stock, axis: "x" | "y", sumMm: number): Stock {
  const turning: Turning = { axis, sumMm, heightMm: stock.highestMm };
  const { piece, timbers } = stock;
  const turn = ({ surface, readings, cut, leaveMm }: Face): Face => ({
    surface: turnedSurface(surface, turning),
    readings: readings && turnedReadings(readings, turning),
    cut: cut && turnedField(cut, turning),
    leaveMm,
  });
  return {
    piece: {
      ...piece,
      outline: turnedRing(piece.outline, turning),
      grainRad: piece.grainRad === null ? null : turnedAngle(piece.grainRad),
    },
    faceUp: stock.faceUp === "upper" ? "under" : "upper",
    turned: axis,
    up: turn(stock.down),
    down: turn(stock.up),
    highestMm: turning.heightMm - stock.lowestMm,
    lowestMm: turning.heightMm - stock.highestMm,
    timbers: timbers?.map((timber) => turnedTimber(timber, turning)) ?? null,
  };
}

/** The stocks as a setup has them: those whose other face is up are turned over, the box of all keeping its place. */
export function turnedFor(stocks: readonly Stock[], setup: Setup): Stock[] {
  const box = boxOf(stocks.map(({ piece }) => piece.outline));
  return stocks.map((stock) => {
    if (stock.faceUp === setup.face) return stock;
    // The way back to the upper face is the way it came.
    const axis = setup.face === "under" ? setup.turn : stock.turned;
    return turnedStock(stock, axis, axis === "x" ? box.minY + box.maxY : box.minX + box.maxX);
  });
}

/** An uncut stock on shims. */
export function tiltedStock(stock: Stock, tilt: Tilt): Stock {
  const { piece } = stock;
  const lay = ({ surface, readings, cut, leaveMm }: Face): Face => ({
    surface: tiltedSurface(surface, tilt),
    readings: readings && tiltedReadings(readings, tilt),
    ...{ cut, leaveMm },
  });
  const [up, down] = [lay(stock.up), lay(stock.down)];
  const corners: number[] = [];
  for (let k = 0; k < piece.outline.length; k += 2)
    corners.push(up.surface.heightAt(piece.outline[k], piece.outline[k + 1]));
  return {
    ...{ ...stock, up, down },
    highestMm: highestReading(piece, up) ?? Math.max(...corners),
    lowestMm: 0,
    timbers: timbersOf(piece, up.surface, down.surface),
  };
}

/** Heights of the stock, `marginMm` above the measured face where it was not cut. */
export function stockHeights({ up }: Stock, marginMm: number, grid: Grid): Float32Array {
  const z = new Float32Array(grid.cols * grid.rows);
  up.surface.sample(grid, marginMm, z);
  if (up.cut !== null) lowerTo(z, grid, up.cut);
  return z;
}

/** Heights of the face that is down, as measured or where it was cut. */
export function underHeights({ down }: Stock, grid: Grid): Float32Array {
  const z = new Float32Array(grid.cols * grid.rows);
  down.surface.sample(grid, 0, z);
  const { cut } = down;
  if (cut === null) return z;
  const near = nearestIn(cut, grid);
  for (let row = 0, k = 0; row < grid.rows; row++) {
    const base = near.row[row] * cut.cols;
    for (let col = 0; col < grid.cols; col++, k++) {
      if (base < 0 || near.col[col] < 0) continue;
      const height = cut.z[base + near.col[col]];
      if (height > z[k]) z[k] = height;
    }
  }
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
    let [low, high] = [lowest, highest];
    for (let k = first; k <= last; k++) {
      if (z[k] < low) low = z[k];
      if (z[k] > high) high = z[k];
    }
    [lowest, highest] = [low, high];
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
  const { readings: xyz, cut } = stock.up;
  for (let k = 0; xyz !== null && k < xyz.length; k += 3) {
    if (!inOrOn(outline, xyz[k], xyz[k + 1], 0)) continue;
    const cutMm = cut === null ? Number.POSITIVE_INFINITY : cutHeight(cut, xyz[k], xyz[k + 1]);
    include(Math.min(xyz[k + 2] + marginMm, cutMm));
  }
  return { lowest, highest };
}

function highestReading({ outline }: Piece, { readings }: Face): number | null {
  return readings && insideMost(outline, readings, 1);
}

function lowestReading({ outline }: Piece, { readings }: Face): number | null {
  return readings && -insideMost(outline, readings, -1);
}

/** The greatest of the heights times `sign` among the readings in the outline or on it. */
function insideMost(outline: Piece["outline"], xyz: Float64Array, sign: 1 | -1): number {
  let most = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < xyz.length; k += 3)
    if (inOrOn(outline, xyz[k], xyz[k + 1], ON_OUTLINE_MM)) most = Math.max(most, sign * xyz[k + 2]);
  return most;
}

function lowerTo(z: Float32Array, grid: Grid, cut: HeightField): void {
  // Samples that coincide are taken as they are. Else nothing narrow that stands may be stepped over, nor its
  // edge be drawn into it: the highest of all samples around counts.
  const reach = alike(grid, cut) ? 0 : Math.ceil(grid.pitchMm / cut.pitchMm - 1e-9);
  const near = nearestIn(cut, grid);
  for (let row = 0, at = 0; row < grid.rows; row++)
    for (let col = 0; col < grid.cols; col++, at++) {
      const height = highestAround(cut, near.col[col], near.row[row], reach);
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

/** Cut height at the sample nearest to (x, y); +Infinity beyond the cut. */
function cutHeight(cut: HeightField, x: number, y: number): number {
  const near = nearestIn(cut, { x0: x, y0: y, pitchMm: 1, cols: 1, rows: 1 });
  return highestAround(cut, near.col[0], near.row[0], 0);
}

/** Highest cut height within `reach` samples of one; +Infinity where any of them lies beyond the cut. */
function highestAround({ cols, rows, z }: HeightField, col: number, row: number, reach: number): number {
  if (col < reach || row < reach || col + reach >= cols || row + reach >= rows)
    return Number.POSITIVE_INFINITY;
  if (reach === 0) return z[row * cols + col];
  let highest = Number.NEGATIVE_INFINITY;
  for (let j = row - reach; j <= row + reach; j++)
    for (let k = j * cols + col - reach; k <= j * cols + col + reach; k++) if (z[k] > highest) highest = z[k];
  return highest;
}
