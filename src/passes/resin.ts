// Where the cutter meets resin it goes at the feed for resin: moves are divided where its disc comes to
// meet resin and where it has left it. Regions in frame coordinates, the track in program coordinates; mm.

import type { Ring, Setup } from "../job/job.ts";
import { arcSweepRad } from "../motion/arc.ts";
import { Kind, Track } from "../motion/track.ts";
import { LevelSets } from "../region/levels.ts";
import {
  difference,
  EMPTY,
  grown,
  intersection,
  type Region,
  regionOf,
  regionWithHoles,
  rings,
  union,
} from "../region/region.ts";
import { boxOf, type Grid, gridOver, type HeightField, pitchFor } from "../survey/field.ts";
import { type Stock, stockHeights } from "../survey/stock.ts";
import { BARE_MM, type Timber } from "../survey/timber.ts";
import type { Layer } from "./layers.ts";
import type { PassesPlan } from "./passes.ts";

const FIELD_PITCH_MM = 3;
const FIELD_SAMPLES_MAX = 1_500_000;
/** So much resin over or under the wood is none. */
const RESIN_MM = 0.005;
/** Moves change their feed so far before the disc meets resin. */
const AHEAD_MM = 0.05;
/** Stretches shorter than this go with the one before. */
const STRETCH_MM_MIN = 0.05;

/** The plan's track with the feed for resin wherever the disc may take any; faces are sampled every `pitchMm`. */
export function slowedInResin(
  { track, layers, zeroMm }: PassesPlan,
  setup: Setup,
  stocks: readonly Stock[],
  marginMm: number,
  pitchMm = FIELD_PITCH_MM,
): Track {
  const feed = setup.passes.resinFeedMmPerMin;
  if (feed === null || stocks.every(({ timbers }) => timbers === null)) return track;
  const radius = setup.cutter.diameterMm / 2;
  const bodies = stocks.flatMap((stock) =>
    stock.timbers === null ? [] : resinBody(stock, marginMm, pitchMm),
  );
  const mixed = stocks.some(({ timbers }) => timbers === null);
  const zones = layers.map(({ layer }): Zone => {
    // Above all wood there is nothing but resin.
    if (!mixed && bodies.every(({ highestMm }) => highestMm <= layer.zMm)) return "everywhere";
    const found = bodies.map((body) => resinIn(body, layer));
    const beside = union(...found.map((one) => one.beside));
    const within = union(...found.map((one) => one.within));
    const zone = union(
      beside.paths.length === 0 ? EMPTY : grown(beside, radius + AHEAD_MM),
      within.paths.length === 0 ? EMPTY : grown(within, radius + AHEAD_MM + pitchMm / 2),
    );
    return rings(zone);
  });
  const slowed = new Track(track.count + 256);
  for (let k = 0; k < track.count; k++) {
    const index = track.layer[k];
    // Over what the layer above has left there is only air.
    const low = k === 0 ? track.z[k] : Math.min(track.z[k - 1], track.z[k]);
    const zone = index >= 0 && low + zeroMm.z <= layers[index].layer.topMm ? zones[index] : [];
    copyMove(track, k, zone, zeroMm, feed, slowed);
  }
  return slowed;
}

/** Where the cutter's centre is when its disc may meet resin. */
type Zone = readonly Ring[] | "everywhere";

function copyMove(
  track: Track,
  k: number,
  zone: Zone,
  zero: { readonly x: number; readonly y: number },
  feed: number,
  to: Track,
): void {
  const kind = track.kind[k] as Kind;
  const { x, y, z, value } = track;
  const add = (share: number, useFeed: boolean) => {
    const last = share === 1;
    const at = (column: Float64Array) =>
      last ? column[k] : column[k - 1] + share * (column[k] - column[k - 1]);
    const own = useFeed ? feedInResin(track, k, feed) : value[k];
    const index = to.push(kind, at(x), at(y), at(z), own, track.line[k]);
    to.centreX[index] = track.centreX[k];
    to.centreY[index] = track.centreY[k];
    to.layer[index] = track.layer[k];
    to.row[index] = track.row[k];
  };
  if (zone.length === 0 || k === 0 || kind === Kind.rapid || kind > Kind.arcCounter) add(1, false);
  else if (zone === "everywhere") add(1, true);
  else if (kind === Kind.cut) {
    const [ax, ay, bx, by] = [x[k - 1] + zero.x, y[k - 1] + zero.y, x[k] + zero.x, y[k] + zero.y];
    for (const { share, inside } of stretches(zone, ax, ay, bx, by)) add(share, inside);
  } else add(1, arcMeets(track, k, zone, zero));
}

/** Straight down the machine may be slower than the feed. */
function feedInResin({ x, y, value }: Track, k: number, feed: number): number {
  return x[k] === x[k - 1] && y[k] === y[k - 1] ? Math.min(value[k], feed) : feed;
}

/** The stretches of a straight way, as the shares at which they end, in and out of the zone by turns. */
function stretches(
  zone: readonly Ring[],
  ax: number,
  ay: number,
  bx: number,
  by: number,
): { share: number; inside: boolean }[] {
  const length = Math.sqrt((bx - ax) ** 2 + (by - ay) ** 2);
  const found: { share: number; inside: boolean }[] = [];
  let from = 0;
  for (const share of [...crossings(zone, ax, ay, bx, by), 1]) {
    const middle = (from + share) / 2;
    const inside = within(zone, ax + middle * (bx - ax), ay + middle * (by - ay));
    const before = found.at(-1);
    // A stretch too short to tell is resin, to be on the safe side.
    const short = (share - from) * length < STRETCH_MM_MIN;
    if (before !== undefined && (before.inside === inside || short)) {
      before.share = share;
      before.inside ||= inside;
    } else found.push({ share, inside });
    from = share;
  }
  return found;
}

/** Shares of the way from a to b at which it crosses the rings, in order. */
function crossings(zone: readonly Ring[], ax: number, ay: number, bx: number, by: number): number[] {
  const [dx, dy] = [bx - ax, by - ay];
  const shares: number[] = [];
  for (const ring of zone)
    for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
      const sideP = dx * (ring[p + 1] - ay) - dy * (ring[p] - ax);
      const sideK = dx * (ring[k + 1] - ay) - dy * (ring[k] - ax);
      if (sideP < 0 === sideK < 0) continue;
      const t = sideP / (sideP - sideK);
      const x = ring[p] + t * (ring[k] - ring[p]) - ax;
      const y = ring[p + 1] + t * (ring[k + 1] - ring[p + 1]) - ay;
      const share = (x * dx + y * dy) / (dx * dx + dy * dy);
      if (share > 0 && share < 1) shares.push(share);
    }
  return shares.sort((a, b) => a - b);
}

function within(zone: readonly Ring[], x: number, y: number): boolean {
  let inside = false;
  for (const ring of zone)
    for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2)
      if (
        ring[k + 1] > y !== ring[p + 1] > y &&
        x < ring[k] + ((y - ring[k + 1]) / (ring[p + 1] - ring[k + 1])) * (ring[p] - ring[k])
      )
        inside = !inside;
  return inside;
}

const ARC_STEP_MM = 2;

function arcMeets(
  { kind, x, y, centreX, centreY }: Track,
  k: number,
  zone: readonly Ring[],
  zero: { readonly x: number; readonly y: number },
): boolean {
  const [cx, cy] = [centreX[k], centreY[k]];
  const clockwise = kind[k] === Kind.arcClockwise;
  const sweep = arcSweepRad(x[k - 1], y[k - 1], x[k], y[k], cx, cy, clockwise);
  const radius = Math.sqrt((x[k] - cx) ** 2 + (y[k] - cy) ** 2);
  const start = Math.atan2(y[k - 1] - cy, x[k - 1] - cx);
  const steps = Math.max(2, Math.ceil((sweep * radius) / ARC_STEP_MM));
  for (let step = 0; step <= steps; step++) {
    const angle = start + ((clockwise ? -1 : 1) * sweep * step) / steps;
    if (within(zone, cx + radius * Math.cos(angle) + zero.x, cy + radius * Math.sin(angle) + zero.y))
      return true;
  }
  return false;
}

// Where resin lies ------------------------------------------------------------------------------

/** A piece of wood and resin: how high it may stand, and its woods. */
interface ResinBody {
  readonly outline: Region;
  readonly wood: Region;
  readonly stand: HeightField;
  /** No wood stands higher. */
  readonly highestMm: number;
  /** Each wood's outline, and its faces on the samples of `stand`. */
  readonly timbers: readonly {
    readonly outline: Ring;
    readonly top: Float32Array;
    readonly bottom: Float32Array;
  }[];
}

function resinBody(stock: Stock, marginMm: number, wantedMm: number): ResinBody {
  const { outline } = stock.piece;
  const box = boxOf([outline]);
  const pitchMm = pitchFor(box, wantedMm, FIELD_SAMPLES_MAX);
  const grid = gridOver(box, pitchMm, 2 * pitchMm);
  const timbers = (stock.timbers ?? []).map((timber) => ({
    outline: timber.outline,
    top: sampled(timber.top, grid),
    bottom: sampled(timber.bottom, grid),
  }));
  let highestMm = Number.NEGATIVE_INFINITY;
  for (const { top } of timbers) highestMm = Math.max(highestMm, highestOf(top));
  return {
    outline: regionOf([outline]),
    wood: regionOf(timbers.map((timber) => timber.outline)),
    stand: { ...grid, z: stockHeights(stock, marginMm, grid) },
    ...{ highestMm, timbers },
  };
}

/** Where a layer takes resin: beside the wood, and within its outlines over or under it, known to half a sample. */
function resinIn(
  { outline, wood, stand, timbers }: ResinBody,
  layer: Layer,
): { beside: Region; within: Region } {
  const level = (z: Float32Array) => {
    // The samples reach beyond the outline, so where all or none lie above there is nothing to draw.
    let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (let k = 0; k < z.length; k++) {
      if (z[k] < low) low = z[k];
      if (z[k] > high) high = z[k];
    }
    if (low > 0) return outline;
    if (high <= 0) return EMPTY;
    return intersection(regionWithHoles(new LevelSets({ ...stand, z }).rings(0)), outline);
  };
  const over = new Float32Array(stand.z.length);
  for (let k = 0; k < over.length; k++) over[k] = stand.z[k] - layer.zMm;
  const beside = difference(level(over), wood);
  const within = timbers.map(({ outline: ring, top, bottom }) => {
    const resin = new Float32Array(over.length);
    for (let k = 0; k < resin.length; k++) {
      const bare = top[k] >= stand.z[k] - BARE_MM;
      const above = bare ? -1 : Math.min(layer.topMm, stand.z[k]) - top[k] - RESIN_MM;
      resin[k] = Math.min(over[k], Math.max(above, bottom[k] - layer.zMm - RESIN_MM));
    }
    const found = level(resin);
    return found.paths.length === 0 ? EMPTY : intersection(found, regionOf([ring]));
  });
  return { beside, within: union(...within) };
}

function sampled(surface: Timber["top"], grid: Grid): Float32Array {
  const heights = new Float32Array(grid.cols * grid.rows);
  surface.sample(grid, 0, heights);
  return heights;
}

function highestOf(heights: Float32Array): number {
  let highest = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < heights.length; k++) if (heights[k] > highest) highest = heights[k];
  return highest;
}
