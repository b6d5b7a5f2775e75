// Readings in shade: which numbers a shade may show, and between which it runs. Millimetres.

import { MM_PER_INCH, type Units } from "../units.ts";
import type { SetupScene } from "./scene.ts";
import { Clean } from "./wood-scene.ts";

export type Reading = "plain" | "height" | "thickness" | "residual" | "clean";

/** Least and greatest number of a reading, over the whole program, so that a shade means the same all the time. */
export function shownRange({ wood, floorMm }: SetupScene, reading: Reading): [low: number, high: number] {
  if (wood === null || floorMm === null || reading === "plain" || reading === "clean") return [0, 1];
  const { before, after, below, clean } = wood;
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (let k = 0; k < clean.length; k++) {
    if (clean[k] === Clean.outside) continue;
    const under = reading === "thickness" ? below[k] : floorMm;
    const least = after[k] - under;
    const most = (reading === "residual" ? after[k] : before[k]) - under;
    if (least < low) low = least;
    if (most > high) high = most;
  }
  if (!(low <= high)) return [0, 1];
  // A face without differences is still drawn on a scale.
  return high - low < 0.02 ? [low - 0.01, low + 0.01] : [low, high];
}

/** How far lines of equal height lie apart, so that there are about eight: a round number of the unit. */
export function contourStep(setup: SetupScene, units: Units): number {
  const [low, high] = shownRange(setup, "height");
  const unit = units === "mm" ? 1 : MM_PER_INCH;
  const wanted = Math.max(1e-3, (high - low) / 8 / unit);
  const tens = 10 ** Math.floor(Math.log10(wanted));
  const step = [1, 2, 5, 10].find((times) => times * tens >= wanted * (1 - 1e-9)) ?? 10;
  return step * tens * unit;
}

/** Shares of the face by what became of it, by number of `Clean`; what lies outside does not count. */
export function cleanShares({ wood }: SetupScene): number[] {
  const counts = [0, 0, 0, 0, 0];
  for (const kind of wood?.clean ?? []) counts[kind]++;
  counts[Clean.outside] = 0;
  const all = counts.reduce((sum, count) => sum + count, 0);
  return counts.map((count) => (all > 0 ? count / all : 0));
}

/** The lowest and highest place above the floor as it stands now, of what the cutter can reach. */
export function heightsNow(
  { wood, floorMm }: SetupScene,
  heights: Float32Array,
): [low: number, high: number] {
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  if (wood === null || floorMm === null) return [Number.NaN, Number.NaN];
  for (let k = 0; k < heights.length; k++) {
    if (wood.clean[k] === Clean.outside || wood.clean[k] === Clean.kept) continue;
    const height = heights[k] - floorMm;
    if (height < low) low = height;
    if (height > high) high = height;
  }
  return [low, high];
}
