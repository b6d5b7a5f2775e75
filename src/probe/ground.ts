// Where a probe may come down: on wood, well inside its outline and beside what stands on the bed; and on the
// bare bed, to see that zero is right. And how high it travels between. Frame coordinates, millimetres.

import type { KeepOut, Machine, Piece, Probe, Setup } from "../job/job.ts";
import { difference, grown, type Region, regionOf, rings, shrunk, union } from "../region/region.ts";
import { boxOf } from "../survey/field.ts";
import { pointsOf } from "../survey/surface.ts";

export interface Place {
  readonly x: number;
  readonly y: number;
}

/** An outline taken with a tape is so much off: that far from the edge a probe is sure to meet wood. Common practice, no source. */
const EDGE_MM = 2;
/** A probe that touches before it is asked to stops the program: less clearance than this is not taken. */
const CLEAR_MM_MIN = 1;
/** Half a spindle, where the shop does not say how wide its nose is. Common practice, no source. */
const NOSE_RADIUS_MM = 50;

/** How far the ball's middle stays inside the outline of a piece. */
export function edgeDistance(probeRadiusMm: number): number {
  return probeRadiusMm + EDGE_MM;
}

/** What probes, what it probes, and between which heights the wood lies as far as is known. */
export interface Probing {
  readonly setup: Setup;
  readonly machine: Machine;
  readonly probe: Probe;
  readonly lowestMm: number;
  readonly highestMm: number;
}

/**
 * How far the ball's middle stays from a keep-out: with the ball, and with the spindle nose where that comes down
 * to it, as if the probe were as long as a cutter.
 */
export function keepOutDistance({ heightMm }: KeepOut, { setup, machine, probe, lowestMm }: Probing): number {
  const { nose } = machine;
  const meetsNose = nose !== null && heightMm + setup.clear.zMm > lowestMm + nose.aboveMm;
  return Math.max(probe.radiusMm, meetsNose ? nose.diameterMm / 2 : 0) + setup.clear.sideMm;
}

/** What of a piece lies `edgeMm` inside its outline and far enough from each keep-out. */
export function groundOf(
  { outline }: Piece,
  edgeMm: number,
  keepOuts: readonly { readonly keepOut: KeepOut; readonly distanceMm: number }[],
): Region {
  const blocked = keepOuts.map(({ keepOut, distanceMm }) => around(keepOut.outline, distanceMm));
  return difference(shrunk(regionOf([outline]), edgeMm), union(...blocked));
}

/** Heights of a piece that are known before it is probed: of all readings, else its thickness; none where neither is told. */
export function knownHeights({ upper, thicknessMm }: Piece): Float64Array {
  if (upper !== null) return pointsOf(upper).filter((_, k) => k % 3 === 2);
  return Float64Array.from(thicknessMm === null ? [] : [thicknessMm]);
}

/** How high the probe travels: `clear.z` above the highest wood and above what stands on the bed. */
export function travelHeight({ setup: { keepOuts, clear }, highestMm }: Probing): number {
  return Math.max(highestMm, ...keepOuts.map(({ heightMm }) => heightMm)) + Math.max(clear.zMm, CLEAR_MM_MIN);
}

/** How low it comes down quickly, straight over its place: what stands on the bed is beside it by then. */
export function approachHeight({ setup, highestMm }: Probing): number {
  return highestMm + Math.max(setup.clear.zMm, CLEAR_MM_MIN);
}

/**
 * How far from pieces and keep-outs the bare bed is touched: the spindle comes down beside them as low as it ever
 * does.
 */
export function bedDistance({ setup, machine: { nose }, probe }: Probing): number {
  return Math.max(probe.radiusMm, nose === null ? NOSE_RADIUS_MM : nose.diameterMm / 2) + setup.clear.sideMm;
}

/**
 * A free place on the bed near the first of `places`, such that these and it are within the machine's travel; null
 * where there is none. One where a bed that begins at the frame's origin surely is comes before all others.
 */
export function bedPlace(probing: Probing, places: readonly Place[]): Place | null {
  const { setup, machine } = probing;
  const { travelMm } = machine;
  const distanceMm = bedDistance(probing);
  const outlines = [...setup.pieces, ...setup.keepOuts].map(({ outline }) => outline);
  const taken = union(...outlines.map((outline) => around(outline, distanceMm + 1)));
  const box = boxOf([Float64Array.from(places.flatMap(({ x, y }) => [x, y]))]);
  const reaches = ({ x, y }: Place) =>
    Math.max(box.maxX, x) - Math.min(box.minX, x) <= travelMm.x &&
    Math.max(box.maxY, y) - Math.min(box.minY, y) <= travelMm.y;
  const cost = ({ x, y }: Place) => {
    const onBed = x >= 0 && y >= 0 && x <= travelMm.x && y <= travelMm.y;
    return Math.sqrt((x - places[0].x) ** 2 + (y - places[0].y) ** 2) + (onBed ? 0 : 1e6);
  };
  let best: Place | null = null;
  for (const place of rings(taken).flatMap((ring) => alongRing(ring, 20)))
    if (reaches(place) && (best === null || cost(place) < cost(best))) best = place;
  return best;
}

/** The corners of a ring, and places between them not farther apart than `stepMm`. */
export function alongRing(ring: Float64Array, stepMm: number): Place[] {
  const places: Place[] = [];
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
    const [dx, dy] = [ring[k] - ring[p], ring[k + 1] - ring[p + 1]];
    const steps = Math.max(1, Math.ceil(Math.sqrt(dx * dx + dy * dy) / stepMm));
    for (let step = 1; step <= steps; step++)
      places.push({ x: ring[p] + (dx * step) / steps, y: ring[p + 1] + (dy * step) / steps });
  }
  return places;
}

function around(outline: Float64Array, distanceMm: number): Region {
  const region = regionOf([outline]);
  return distanceMm > 0 ? grown(region, distanceMm) : region;
}
