// The side section of a piece: what one sees of it, looking across its long side. For each of so many stations
// along it the highest and lowest places of its faces. Heights as the piece was first laid, millimetres.

import { boxOf, insideMask } from "../survey/field.ts";
import type { Stock } from "../survey/stock.ts";
import { woodHeights } from "../survey/timber.ts";
import type { Lay } from "./scene.ts";
import { partAround, type WoodScene } from "./wood-scene.ts";

const STATIONS = 72;

/** All columns are one entry a station; NaN where there is nothing. */
export interface Section {
  /** The side that this setup's cutter comes from: +1 for above, as the piece was first laid. */
  readonly side: 1 | -1;
  /** The face that is cut, before: its outermost and innermost places. */
  readonly outerMm: Float32Array;
  readonly innerMm: Float32Array;
  /** The same face afterwards, its outermost and innermost places. */
  readonly leftOuterMm: Float32Array;
  readonly leftInnerMm: Float32Array;
  /** The face that lies down: its outermost places. */
  readonly farMm: Float32Array;
  /** The highest and lowest places of wood in resin; NaN in all-wood pieces. */
  readonly woodHighMm: Float32Array;
  readonly woodLowMm: Float32Array;
}

export function sectionOf(stock: Stock, wood: WoodScene, { sign, offsetMm, mirrorX, mirrorY }: Lay): Section {
  const { part, col, row } = partAround(wood, stock);
  const mask = insideMask([stock.piece.outline], part);
  const timber = stock.timbers && woodHeights(stock.timbers, part);
  const box = boxOf([stock.piece.outline]);
  const alongX = box.maxX - box.minX >= box.maxY - box.minY;
  const column = () => new Float32Array(STATIONS).fill(Number.NaN);
  const outer = column();
  const inner = column();
  const leftOuter = column();
  const leftInner = column();
  const far = column();
  const woodHigh = column();
  const woodLow = column();
  const [from, to] = alongX ? [box.minX, box.maxX] : [box.minY, box.maxY];
  for (let j = 0, k = 0; j < part.rows; j++)
    for (let i = 0; i < part.cols; i++, k++) {
      if (mask[k] === 0) continue;
      const place = alongX ? part.x0 + i * part.pitchMm : part.y0 + j * part.pitchMm;
      const share = Math.min(STATIONS - 1, Math.floor((STATIONS * (place - from)) / (to - from)));
      const station = (alongX ? mirrorX : mirrorY) ? STATIONS - 1 - share : share;
      const at = (row + j) * wood.cols + col + i;
      most(outer, station, wood.before[at]);
      least(inner, station, wood.before[at]);
      most(leftOuter, station, wood.after[at]);
      least(leftInner, station, wood.after[at]);
      least(far, station, wood.below[at]);
      if (timber !== null && timber.top[k] > Number.NEGATIVE_INFINITY) {
        most(woodHigh, station, timber.top[k]);
        least(woodLow, station, timber.bottom[k]);
      }
    }
  const first = (heights: Float32Array) => heights.map((z) => sign * z + offsetMm);
  const [high, low] = sign === 1 ? [woodHigh, woodLow] : [woodLow, woodHigh];
  return {
    side: sign,
    outerMm: first(outer),
    innerMm: first(inner),
    leftOuterMm: first(leftOuter),
    leftInnerMm: first(leftInner),
    farMm: first(far),
    woodHighMm: first(high),
    woodLowMm: first(low),
  };
}

function most(column: Float32Array, k: number, value: number): void {
  if (!(column[k] >= value)) column[k] = value;
}

function least(column: Float32Array, k: number, value: number): void {
  if (!(column[k] <= value)) column[k] = value;
}
