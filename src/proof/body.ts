// What a program leaves of a piece beyond its upper face: the wood in its resin, its thickness, and where
// it stays rough. Cells of the proof; heights above the bed, millimetres.

import { SINGLE_MM } from "../passes/layers.ts";
import type { HeightField } from "../survey/field.ts";
import { stockHeights, underHeights } from "../survey/stock.ts";
import type { WoodHeights } from "../survey/timber.ts";
import type { Part } from "./wood.ts";
import type { ZMap } from "./zmap.ts";

/** A stretch of the face that no cut has cleaned. */
export interface RoughPlace {
  /** Its deepest place, frame coordinates, and how far that lies below the floor (0: something covers it). */
  readonly x: number;
  readonly y: number;
  readonly deepMm: number;
  readonly areaMm2: number;
}

const ROUGH_PLACES_MAX = 5;
const ROUGH_AREA_MIN_MM2 = 100;
/** Rough cells nearer than this to each other are one place. */
const ROUGH_BLOCK_MM = 12;

/** Material up to this above the floor counts as cut down to it. */
export const LEFT_MM = 0.05;

/** What is left of a piece beyond its upper face: the wood in it, its thickness, and where it stays rough. */
export class Body {
  private readonly part: Part;
  private readonly map: ZMap;
  private readonly floorMm: number;
  private readonly marginMm: number;
  private readonly shade: Uint8Array | null;
  private sampled: Float32Array | null = null;

  /** `shade` is 1 where the cutter cannot reach; null: it can everywhere. */
  constructor(
    part: Part,
    map: ZMap,
    { floorMm, marginMm }: { readonly floorMm: number; readonly marginMm: number },
    shade: Uint8Array | null,
  ) {
    this.part = part;
    this.map = map;
    this.floorMm = floorMm;
    this.marginMm = marginMm;
    this.shade = shade;
  }

  /** The face as the program found it. */
  private get found(): Float32Array {
    const { stock, grid, before } = this.part;
    // An uncut face stands the margin below its upper bound.
    this.sampled ??= stock.up.cut === null ? lowered(before, this.marginMm) : stockHeights(stock, 0, grid);
    return this.sampled;
  }

  /** Calls `visit(k, at)` for each row's cells: k in the part, at in the map, `count` in a row. */
  private eachRow(visit: (first: number, at: number, count: number) => void): void {
    const { grid, col, row } = this.part;
    for (let j = 0; j < grid.rows; j++) visit(j * grid.cols, (row + j) * this.map.grid.cols + col, grid.cols);
  }

  woodOf({ top, bottom }: WoodHeights) {
    const { inside, before } = this.part;
    const { z } = this.map;
    const { found, shade, floorMm } = this;
    const counts = { cells: 0, cleaned: 0, low: 0, removed: 0, resinCells: 0, resinCleaned: 0 };
    const [aboveMm, leftMm] = [floorMm + SINGLE_MM, floorMm + LEFT_MM];
    this.eachRow((first, at, count) => {
      let [cells, cleaned, low, removed, resinCells, resinCleaned] = [0, 0, 0, 0, 0, 0];
      for (let k = first, m = at; k < first + count; k++, m++) {
        if (inside[k] === 0) continue;
        const after = z[m];
        const left = Math.min(after, found[k]);
        const face = Math.min(top[k], found[k]);
        const clean = after < before[k] && after <= leftMm;
        if (face === Number.NEGATIVE_INFINITY) {
          resinCells++;
          if (clean && found[k] > aboveMm) resinCleaned++;
          continue;
        }
        cells++;
        if (clean && face > aboveMm) cleaned++;
        if (face < floorMm - SINGLE_MM && (shade === null || shade[k] === 0)) low++;
        const stays = Math.max(left, bottom[k]);
        if (face > stays) removed += face - stays;
      }
      counts.cells += cells;
      counts.cleaned += cleaned;
      counts.low += low;
      counts.removed += removed;
      counts.resinCells += resinCells;
      counts.resinCleaned += resinCleaned;
    });
    return counts;
  }

  thickness(inReach: boolean): { least: number; most: number } {
    const { inside, stock, grid } = this.part;
    const { z } = this.map;
    const { found } = this;
    const shade = inReach ? this.shade : null;
    const under = underHeights(stock, grid);
    let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    this.eachRow((first, at, count) => {
      let [low, high] = [least, most];
      for (let k = first, m = at; k < first + count; k++, m++) {
        if (inside[k] === 0 || (shade !== null && shade[k] === 1)) continue;
        const thick = Math.min(z[m], found[k]) - under[k];
        if (thick < low) low = thick;
        if (thick > high) high = thick;
      }
      [least, most] = [low, high];
    });
    return { least, most };
  }

  thicknessAt(x: number, y: number): number {
    const { grid, col, row, stock } = this.part;
    const i = Math.max(0, Math.min(grid.cols - 1, Math.round((x - grid.x0) / grid.pitchMm)));
    const j = Math.max(0, Math.min(grid.rows - 1, Math.round((y - grid.y0) / grid.pitchMm)));
    const one = { ...grid, x0: grid.x0 + i * grid.pitchMm, y0: grid.y0 + j * grid.pitchMm, cols: 1, rows: 1 };
    const found = stockHeights(stock, 0, one)[0];
    const after = this.map.z[(row + j) * this.map.grid.cols + col + i];
    return Math.min(found, after) - underHeights(stock, one)[0];
  }

  /** The largest stretches of wood that stay as they were, whatever keeps the cutter off. */
  roughPlaces(): RoughPlace[] {
    const { grid, inside, wood, stock, before } = this.part;
    const [aboveMm, leftMm] = [this.floorMm + SINGLE_MM, this.floorMm + LEFT_MM];
    const per = Math.max(1, Math.round(ROUGH_BLOCK_MM / grid.pitchMm));
    const cols = Math.ceil(grid.cols / per);
    const count = new Int32Array(cols * Math.ceil(grid.rows / per));
    const worst = new Int32Array(count.length).fill(-1);
    const { found } = this;
    const faceOf = (k: number) => (wood === null || found[k] < wood.top[k] ? found[k] : wood.top[k]);
    const { z } = this.map;
    this.eachRow((first, at, cells) => {
      const blockRow = Math.floor(first / grid.cols / per) * cols;
      for (let k = first, m = at; k < first + cells; k++, m++) {
        if (inside[k] === 0) continue;
        const face = faceOf(k);
        if (face === Number.NEGATIVE_INFINITY) continue;
        const clean = face > aboveMm && z[m] < before[k] && z[m] <= leftMm;
        if (clean || this.cutBefore(k, stock.up.cut)) continue;
        const block = blockRow + Math.floor((k - first) / per);
        count[block]++;
        if (worst[block] < 0 || face < faceOf(worst[block])) worst[block] = k;
      }
    });
    const places: RoughPlace[] = [];
    for (let start = 0; start < count.length; start++) {
      if (count[start] === 0) continue;
      const open = [start];
      let [cells, deepest] = [count[start], worst[start]];
      count[start] = 0;
      for (let at = open.pop(); at !== undefined; at = open.pop()) {
        if (faceOf(worst[at]) < faceOf(deepest)) deepest = worst[at];
        const col = at % cols;
        for (const beside of [at - cols, at + cols, col > 0 ? at - 1 : -1, col + 1 < cols ? at + 1 : -1]) {
          if (!(count[beside] > 0)) continue;
          cells += count[beside];
          count[beside] = 0;
          open.push(beside);
        }
      }
      places.push({
        x: grid.x0 + (deepest % grid.cols) * grid.pitchMm,
        y: grid.y0 + Math.floor(deepest / grid.cols) * grid.pitchMm,
        deepMm: Math.max(0, this.floorMm - faceOf(deepest)),
        areaMm2: cells * grid.pitchMm ** 2,
      });
    }
    return places
      .filter(({ areaMm2 }) => areaMm2 >= ROUGH_AREA_MIN_MM2)
      .sort((a, b) => b.areaMm2 - a.areaMm2)
      .slice(0, ROUGH_PLACES_MAX);
  }

  /** Whether an earlier setup has cut a place, so that it is smooth though it lies below the floor. */
  private cutBefore(k: number, cut: HeightField | null): boolean {
    if (cut === null) return false;
    const { grid } = this.part;
    const col = Math.round((grid.x0 + (k % grid.cols) * grid.pitchMm - cut.x0) / cut.pitchMm);
    const row = Math.round((grid.y0 + Math.floor(k / grid.cols) * grid.pitchMm - cut.y0) / cut.pitchMm);
    if (col < 0 || row < 0 || col >= cut.cols || row >= cut.rows) return false;
    return cut.z[row * cut.cols + col] < Number.POSITIVE_INFINITY;
  }
}

function lowered(heights: Float32Array, byMm: number): Float32Array {
  const low = new Float32Array(heights.length);
  for (let k = 0; k < low.length; k++) low[k] = heights[k] - byMm;
  return low;
}
