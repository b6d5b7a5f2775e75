// The floor a setup cuts down to, from its target. Millimetres above the bed.

import { assert, PlanError } from "../errors.ts";
import type { Machine, Setup } from "../job/job.ts";
import { EMPTY, intersection, regionOf, rings } from "../region/region.ts";
import { boxOf, gridOver, insideShares, pitchFor } from "../survey/field.ts";
import { extremes, type Stock, stockHeights } from "../survey/stock.ts";
import { forbiddenAt, unreachable } from "./reach.ts";

/**
 * The floor for the setup's stocks, as measured, not yet rounded to what a program can say.
 * Throws PlanError `clean-up` when no floor cuts the share asked for.
 */
export function floorOf(setup: Setup, machine: Machine, stocks: readonly Stock[]): number {
  const { target } = setup;
  switch (target.kind) {
    case "thickness":
      return target.mm + setup.leaveMm;
    case "depth":
      return highestOf(stocks) - target.mm;
    case "cleanUp":
      return Math.min(...stocks.map((stock) => cleanUpFloor(setup, machine, stock, target.share)));
  }
}

/** The highest measured place of all stocks. */
export function highestOf(stocks: readonly Stock[]): number {
  return Math.max(...stocks.map((stock) => stock.highestMm));
}

/**
 * The highest floor with at least the share of the piece's face above it and within reach. What can be
 * reached depends on the floor: a keep-out lower than it blocks nothing. So it is first sought with every
 * keep-out in the way, then without those that turn out to be lower.
 */
function cleanUpFloor(setup: Setup, machine: Machine, stock: Stock, share: number): number {
  let blockedFrom = 0;
  for (let round = 0; round <= setup.keepOuts.length; round++) {
    const floor = cleanUpFloorBlocked(setup, machine, stock, share, blockedFrom);
    const lower = setup.keepOuts.some(({ heightMm }) => heightMm < floor && heightMm >= blockedFrom);
    if (!lower) return floor;
    blockedFrom = floor;
  }
  throw new Error("the floor of a clean-up did not settle");
}

const BINS = 65536;

function cleanUpFloorBlocked(
  setup: Setup,
  machine: Machine,
  stock: Stock,
  share: number,
  zMm: number,
): number {
  const { outline, id } = stock.piece;
  const box = boxOf([outline]);
  const grid = gridOver(box, pitchFor(box, 2, 2_000_000), 0);
  const z = stockHeights(stock, 0, grid);
  const weights = insideShares([outline], grid);
  let whole = 0;
  for (const weight of weights) whole += weight;

  const blocked = unreachable(forbiddenAt(setup, machine.nose, zMm, EMPTY).core, setup.cutter.diameterMm / 2, 0);
  let reach = whole;
  if (blocked.paths.length > 0) {
    const under = insideShares(rings(intersection(regionOf([outline]), blocked)), grid);
    for (let k = 0; k < weights.length; k++) {
      weights[k] = Math.max(0, weights[k] - under[k]);
      reach -= Math.min(1, under[k]);
    }
  }
  // A hair more than asked: the samples know the area to a few parts in 100 000.
  const wanted = Math.min(1, share + 5e-5) * whole;
  if (reach < share * whole * (1 - 1e-6))
    throw new PlanError(
      "clean-up",
      setup.id,
      `keep-outs cover ${percent(1 - reach / whole)} of piece "${id}", so ${percent(share)} of its face cannot be cut; ` +
        `ask for at most ${percent(Math.floor((reach / whole) * 1000) / 1000)} or move the keep-outs`,
    );
  const { lowest, highest } = extremes(stock, 0, { ...grid, z });
  if (wanted >= reach * (1 - 1e-6) || highest - lowest < 1e-6) return lowest;

  // Area by height, from the top down.
  const area = new Float64Array(BINS + 1);
  const width = (highest - lowest) / BINS;
  for (let k = 0; k < z.length; k++) {
    if (weights[k] > 0) area[Math.max(0, Math.min(BINS, Math.floor((z[k] - lowest) / width)))] += weights[k];
  }
  let above = 0;
  for (let bin = BINS; bin >= 0; bin--) {
    above += area[bin];
    if (above >= wanted) return lowest + bin * width;
  }
  assert(above >= wanted * (1 - 1e-6), "the areas by height do not add up");
  return lowest;
}

function percent(share: number): string {
  return `${(100 * share).toFixed(1)} %`;
}
