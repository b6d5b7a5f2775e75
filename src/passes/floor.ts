// The floor a setup cuts down to, from its target. Millimetres above the bed.

import { PlanError } from "../errors.ts";
import type { Machine, Setup } from "../job/job.ts";
import { once } from "../once.ts";
import { EMPTY, intersection, type Region, regionOf, rings } from "../region/region.ts";
import { boxOf, gridOver, type HeightField, insideShares, pitchFor } from "../survey/field.ts";
import { extremes, type Stock, stockHeights, underHeights } from "../survey/stock.ts";
import type { Timber } from "../survey/timber.ts";
import { formatLength, type Units } from "../units.ts";
import { namedHeight, SINGLE_MM, type Steps } from "./layers.ts";
import { forbiddenAt, unreachable } from "./reach.ts";

/** Samples from which floors are found; a quote, which needs only time, takes coarser ones. */
const FIELD_PITCH_MM = 2;
/** The last decimal of a written coordinate. */
const STEP_MM = { mm: 0.001, in: 0.00254 };
/** More than a floor is lowered until a program can name it: one that lies higher above a keep-out stays above it. */
const NAMED_MM = 0.003;

/** A setup's floor above the bed, as its program names it, and where its program's zero lies. */
export interface Levels {
  readonly floorMm: number;
  readonly zero: { readonly x: number; readonly y: number; readonly z: number };
  readonly steps: Steps;
}

/** Throws PlanError when the floor lies in the bed or above everything, or cannot be had. */
export function levelsOf(
  setup: Setup,
  machine: Machine,
  stocks: readonly Stock[],
  units: Units,
  pitchMm = FIELD_PITCH_MM,
): Levels {
  const highest = highestOf(stocks);
  const zero = { x: setup.zero.xMm, y: setup.zero.yMm, z: setup.zero.z === "bed" ? 0 : highest };
  const steps: Steps = { zeroMm: zero.z, stepMm: STEP_MM[units] };
  // A share is to be reached, so its floor may lie lower, not higher.
  const which = setup.target.kind === "cleanUp" ? "below" : "nearest";
  const floorMm = namedHeight(floorOf(setup, machine, stocks, pitchMm), steps, which);
  const length = (mm: number) => formatLength(mm, units);
  if (!(floorMm > 0))
    throw new PlanError(
      "floor-in-bed",
      setup.id,
      `the floor would lie ${length(-floorMm)} below the top of the bed; the highest place stands ${length(highest)} above it`,
    );
  // Between and beyond its readings a face may stand higher than any of them; to meet both faces it must not need to.
  const top =
    floorMm < highest - SINGLE_MM || setup.target.kind === "even"
      ? highest
      : Math.max(...stocks.map((stock) => areaByHeight({ ...stock, timbers: null }, pitchMm).highest));
  const highMm = highest - Math.min(...stocks.map((stock) => stock.lowestMm));
  if (setup.target.kind === "even" && setup.target.mm >= highMm - SINGLE_MM)
    throw new PlanError(
      "nothing-to-cut",
      setup.id,
      `nothing to cut: from its lowest place to its highest the wood measures ${length(highMm)}, and ${length(setup.target.mm)} are to be left`,
    );
  if (floorMm >= top - SINGLE_MM)
    throw new PlanError(
      "nothing-to-cut",
      setup.id,
      `nothing to cut: the floor lies ${length(floorMm)} above the bed, the highest place of the face ${length(top)}`,
    );
  return { floorMm, zero, steps };
}

/**
 * The floor for the setup's stocks, as measured, not yet rounded to what a program can say.
 * Throws PlanError `clean-up` when no floor cuts the share asked for.
 */
export function floorOf(
  setup: Setup,
  machine: Machine,
  stocks: readonly Stock[],
  pitchMm = FIELD_PITCH_MM,
): number {
  const { target } = setup;
  switch (target.kind) {
    case "thickness":
      return target.mm + setup.leaveMm + leaveBelow(stocks);
    case "even":
      return evenFloor(stocks, target.mm, pitchMm) + setup.leaveMm;
    case "depth":
      return highestOf(stocks) - target.mm;
    case "cleanUp":
      // A breath lower, so that a level place at just this height lies above it and not in it.
      return cleanUpFloor(setup, machine, stocks, target.share, pitchMm) - 1e-4;
  }
}

/** What a setup leaves on a face for sanding: only where its target is a thickness. */
export function leaveOn({ target: { kind }, leaveMm }: Setup): number {
  return kind === "thickness" || kind === "even" ? leaveMm : 0;
}

/** What stays on for sanding under the pieces: a thickness is meant after both faces are sanded. */
export function leaveBelow(stocks: readonly Stock[]): number {
  return Math.max(...stocks.map(({ down }) => down.leaveMm));
}

/**
 * The floor f with as much above it on the faces that are up as lies below f - t on those that are down:
 * bisected, as the one only shrinks with f and the other only grows.
 */
function evenFloor(stocks: readonly Stock[], thicknessMm: number, pitchMm: number): number {
  const bodies = stocks.map((stock) => {
    const { field, whole } = areaByHeight({ ...stock, timbers: null }, pitchMm);
    const under = underHeights(stock, field);
    return { upper: field.z, under, weights: whole.weights, cellMm2: field.pitchMm ** 2 };
  });
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const { upper, under, weights } of bodies)
    for (let k = 0; k < weights.length; k++) {
      if (weights[k] === 0) continue;
      low = Math.min(low, under[k]);
      high = Math.max(high, upper[k], under[k] + thicknessMm);
    }
  const surplus = (floorMm: number) => {
    let volume = 0;
    for (const { upper, under, weights, cellMm2 } of bodies) {
      let part = 0;
      for (let k = 0; k < weights.length; k++) {
        if (weights[k] === 0) continue;
        const above = upper[k] - floorMm;
        const below = floorMm - thicknessMm - under[k];
        part += weights[k] * (Math.max(0, above) - Math.max(0, below));
      }
      volume += part * cellMm2;
    }
    return volume;
  };
  // Forty halvings of a metre are a millionth of a micrometre.
  for (let k = 0; k < 40; k++) {
    const middle = (low + high) / 2;
    if (surplus(middle) > 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** The highest measured place of all stocks. */
export function highestOf(stocks: readonly Stock[]): number {
  return Math.max(...stocks.map((stock) => stock.highestMm));
}

/**
 * The highest floor with at least the share of every piece's face above it and within reach. What can be
 * reached depends on the floor: a keep-out lower than it blocks nothing. So heights are gone through from
 * the top in ranges between which what blocks changes; less blocks in a higher range, never more.
 */
function cleanUpFloor(
  setup: Setup,
  machine: Machine,
  stocks: readonly Stock[],
  share: number,
  pitchMm: number,
): number {
  const above = machine.nose?.aboveMm ?? Number.POSITIVE_INFINITY;
  const changes = setup.keepOuts.flatMap(({ heightMm }) => [heightMm, heightMm - above]);
  const ranges = [...new Set([Number.POSITIVE_INFINITY, ...changes, 0])]
    .filter((height) => height >= 0)
    .sort((a, b) => b - a);
  let least = { reachShare: 1, id: "" };
  for (let k = 0; k + 1 < ranges.length; k++) {
    const [high, low] = [ranges[k], ranges[k + 1]];
    // Just above `low`, whatever is that high blocks no more.
    const forbidden = forbiddenAt(setup, machine.nose, Math.min(high, low + 1e-6), EMPTY);
    const blocked = unreachable(forbidden, setup.cutter.diameterMm / 2);
    let floorMm = high;
    for (const stock of stocks) {
      const found = highestFloor(areaByHeight(stock, pitchMm), blocked, share);
      floorMm = Math.min(floorMm, found.floorMm ?? Number.NEGATIVE_INFINITY);
      if (found.reachShare < least.reachShare) least = { reachShare: found.reachShare, id: stock.piece.id };
    }
    if (floorMm > low + NAMED_MM) return floorMm;
  }
  const percent = (part: number) => `${(100 * part).toFixed(1)} %`;
  throw new PlanError(
    "clean-up",
    setup.id,
    `keep-outs cover ${percent(1 - least.reachShare)} of piece "${least.id}", so ${percent(share)} of its face cannot be cut; ` +
      `ask for at most ${percent(Math.floor(least.reachShare * 1000) / 1000)} or move the keep-outs`,
  );
}

/** A wood face's samples, and what of it lies inside its outlines. */
interface AreaByHeight {
  readonly field: HeightField;
  readonly outline: Region;
  readonly whole: FaceArea;
  readonly lowest: number;
  readonly highest: number;
}

/** Some of a face: the share of each sample's cell, all of them together, and area by height, made when asked for. */
interface FaceArea {
  readonly weights: Float32Array;
  readonly sum: number;
  readonly byHeight: () => Float64Array;
}

/** Faces are looked at once: a survey asks for several floors of each. */
const known = new WeakMap<Stock, { readonly wantedMm: number; readonly face: AreaByHeight }>();

/** Of a piece of wood and resin the wood counts, as far as it stands. */
function areaByHeight(stock: Stock, wantedMm: number): AreaByHeight {
  const before = known.get(stock);
  if (before?.wantedMm === wantedMm) return before.face;
  const { outline } = stock.piece;
  const box = boxOf([outline]);
  const pitchMm = pitchFor(box, wantedMm, 2_000_000);
  // A sample beyond the outline on every side, for the slope of the outermost.
  const grid = gridOver(box, pitchMm, 1.5 * pitchMm);
  const field = { ...grid, z: stockHeights(stock, 0, grid) };
  const face =
    stock.timbers === null
      ? woodFace(field, regionOf([outline]), insideShares([outline], grid), extremes(stock, 0, field))
      : woodByHeight(stock.timbers, field, regionOf([outline]));
  known.set(stock, { wantedMm, face });
  return face;
}

function woodFace(
  field: HeightField,
  outline: Region,
  weights: Float32Array,
  { lowest, highest }: { readonly lowest: number; readonly highest: number },
): AreaByHeight {
  return { field, outline, whole: faceAreaOf(field, weights, lowest, highest), lowest, highest };
}

function woodByHeight(timbers: readonly Timber[], face: HeightField, piece: Region): AreaByHeight {
  const z = face.z.slice();
  const weights = new Float32Array(z.length);
  const heights = new Float32Array(z.length);
  const outlines = timbers.map(({ outline }) => intersection(regionOf([outline]), piece));
  let [lowest, highest] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const [t, { top }] of timbers.entries()) {
    const shares = insideShares(rings(outlines[t]), face);
    top.sample(face, 0, heights);
    for (let k = 0; k < z.length; k++) {
      const height = Math.min(face.z[k], heights[k]);
      if (shares[k] === 0) {
        // Beside the wood its own face goes on, for the slope at its edge.
        const beside = shares[k - 1] || shares[k + 1] || shares[k - face.cols] || shares[k + face.cols];
        if (beside && weights[k] === 0) z[k] = height;
        continue;
      }
      weights[k] += shares[k];
      z[k] = height;
      if (height < lowest) lowest = height;
      if (height > highest) highest = height;
    }
  }
  const outline = { paths: outlines.flatMap((region) => region.paths) };
  return woodFace({ ...face, z }, outline, weights, { lowest, highest });
}

const BINS = 65536;

function faceAreaOf(field: HeightField, weights: Float32Array, lowest: number, highest: number): FaceArea {
  let sum = 0;
  for (let k = 0; k < weights.length; k++) sum += weights[k];
  return { weights, sum, byHeight: once(() => areaInBins(field, weights, lowest, highest)) };
}

/**
 * Area by height: the weights in each of BINS ranges from lowest to highest. A cell's area is spread over the heights
 * that its slope covers: where a level runs along a row of samples, counting them whole would be off by half a row.
 */
function areaInBins(
  { z, cols }: HeightField,
  weights: Float32Array,
  lowest: number,
  highest: number,
): Float64Array {
  const starts = new Float64Array(BINS + 2);
  const perBin = BINS / (highest - lowest);
  for (let k = cols; k < weights.length - cols; k++) {
    if (weights[k] === 0) continue;
    const slope = Math.max(Math.abs(z[k + 1] - z[k - 1]), Math.abs(z[k + cols] - z[k - cols])) / 4;
    const from = clampBin(Math.floor((z[k] - slope - lowest) * perBin));
    const to = clampBin(Math.floor((z[k] + slope - lowest) * perBin));
    const share = weights[k] / (to - from + 1);
    starts[from] += share;
    starts[to + 1] -= share;
  }
  const area = new Float64Array(BINS + 1);
  for (let bin = 0, running = 0; bin <= BINS; bin++) area[bin] = running += starts[bin];
  return area;
}

/** The highest floor for a share, with `blocked` out of reach; null when so much is not within reach. */
function highestFloor(
  { field, outline, whole, lowest, highest }: AreaByHeight,
  blocked: Region,
  share: number,
): { floorMm: number | null; reachShare: number } {
  let open = whole;
  if (blocked.paths.length > 0) {
    const under = insideShares(rings(intersection(outline, blocked)), field);
    const weights = new Float32Array(under.length);
    for (let k = 0; k < weights.length; k++) weights[k] = Math.max(0, whole.weights[k] - under[k]);
    open = faceAreaOf(field, weights, lowest, highest);
  }
  const reachShare = open.sum / whole.sum;
  if (reachShare < share * (1 - 1e-6)) return { floorMm: null, reachShare };
  // A hair more than asked: the samples know the area to a few parts in 100 000.
  const wanted = Math.min(1, share + 5e-5) * whole.sum;
  if (wanted >= open.sum * (1 - 1e-6) || highest - lowest < 1e-6) return { floorMm: lowest, reachShare };
  // From the top down.
  const area = open.byHeight();
  let above = 0;
  let bin = BINS + 1;
  while (bin > 0 && above < wanted) above += area[--bin];
  return { floorMm: lowest + bin / (BINS / (highest - lowest)), reachShare };
}

function clampBin(bin: number): number {
  return Math.max(0, Math.min(BINS, bin));
}
