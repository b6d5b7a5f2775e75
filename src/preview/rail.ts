// Where the machine's minutes go: by layer, by what the time is spent on, and row by row. Seconds of machine time.

import { isMotion, Kind } from "../motion/track.ts";
import type { TrackColumns } from "./scene.ts";

/** What an entry's time is spent on. */
export const Spend = { cutting: 0, linking: 1, lifting: 2, spindle: 3 } as const;
export type Spend = (typeof Spend)[keyof typeof Spend];
export const SPENDS = 4;

/** A stretch of time that belongs to one layer; -1 for none. */
export interface Block {
  readonly layer: number;
  readonly from: number;
  readonly to: number;
}

export function spendOf({ kind, took }: TrackColumns, k: number): Spend {
  if (kind[k] === Kind.rapid) return Spend.lifting;
  if (!isMotion(kind[k])) return Spend.spindle;
  return took[k] === 1 ? Spend.cutting : Spend.linking;
}

/** Stretches of layers one after the other, without gaps. `ends` are the entries' ends. */
export function blocksOf({ layer, count }: TrackColumns, ends: Float64Array): Block[] {
  const blocks: Block[] = [];
  let from = 0;
  for (let k = 0; k < count; k++) {
    const last = k + 1 === count;
    if (!last && layer[k + 1] === layer[k]) continue;
    if (ends[k] > from || (last && blocks.length === 0)) blocks.push({ layer: layer[k], from, to: ends[k] });
    from = ends[k];
  }
  return blocks;
}

/** Shares of each of `bins` equal stretches of the time, `SPENDS` numbers a bin. */
export function spendShares(track: TrackColumns, ends: Float64Array, bins: number): Float32Array {
  const shares = new Float32Array(SPENDS * bins);
  const total = ends[track.count - 1] ?? 0;
  if (!(total > 0)) return shares;
  let from = 0;
  for (let k = 0; k < track.count; k++) {
    const spend = spendOf(track, k);
    const to = (ends[k] / total) * bins;
    for (let bin = Math.floor(from); bin < to && bin < bins; bin++)
      shares[SPENDS * bin + spend] += Math.min(to, bin + 1) - Math.max(from, bin);
    from = to;
  }
  return shares;
}

/** First entries of rows, in their order. */
export function rowStarts({ layer, row, count }: TrackColumns): Int32Array {
  const starts: number[] = [];
  for (let k = 0; k < count; k++)
    if (row[k] >= 0 && (k === 0 || row[k] !== row[k - 1] || layer[k] !== layer[k - 1])) starts.push(k);
  return Int32Array.from(starts);
}
