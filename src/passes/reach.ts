// Where the cutter's centre must not go at a height, because of what stands on the bed, and what of
// the wood it therefore cannot reach. Frame coordinates, millimetres.

import type { Machine, Setup } from "../job/job.ts";
import { EMPTY, grown, type Region, regionOf, shrunk, union } from "../region/region.ts";

/** Something standing on the bed, and how near the cutter's centre may come to it. */
interface Obstacle {
  readonly region: Region;
  readonly distanceMm: number;
}

/** Where the centre must not go, and the band around it that row making needs. */
export interface Forbidden {
  readonly obstacles: readonly Obstacle[];
  /** The way around what is forbidden runs along this border. */
  readonly border: Region;
  /** Ways that meet this are forbidden; a breath inside the border, so that ways along and from it are not. */
  readonly core: Region;
  /** What the disc cleans when it goes along the border, and what is forbidden itself. */
  readonly band: Region;
}

/** How far the border stays outside what is forbidden, so that neither rounding nor chords enter it. */
const HAIR_MM = 0.06;
/** How far the core lies inside the border: as little as regions can tell apart. */
const BREATH_MM = 0.002;

/**
 * What is forbidden with the cutting edge at `zMm`. A keep-out lower than the edge does not block it, nor
 * the spindle nose when it is lower than that. `standing` is wood left standing high enough for the nose.
 * `above` is what was forbidden on the layer above, of which nothing is given up: the cutter never goes
 * where that layer could not, so it meets no wood which that one had to leave.
 */
export function forbiddenAt(
  setup: Setup,
  nose: Machine["nose"],
  zMm: number,
  standing: Region,
  above: Region = EMPTY,
): Forbidden {
  const radius = setup.cutter.diameterMm / 2;
  const obstacles: Obstacle[] = [];
  for (const { outline, heightMm } of setup.keepOuts) {
    const cutterMm = heightMm >= zMm ? radius : 0;
    const noseMm = nose !== null && heightMm >= zMm + nose.aboveMm ? nose.diameterMm / 2 : 0;
    const distanceMm = Math.max(cutterMm, noseMm);
    if (distanceMm > 0)
      obstacles.push({ region: regionOf([outline]), distanceMm: distanceMm + setup.clear.sideMm });
  }
  if (nose !== null && standing.paths.length > 0)
    obstacles.push({ region: standing, distanceMm: nose.diameterMm / 2 + setup.clear.sideMm });
  if (obstacles.length === 0) return { obstacles, core: EMPTY, border: EMPTY, band: EMPTY };
  const around = (extraMm: number) =>
    union(...obstacles.map(({ region, distanceMm }) => grown(region, distanceMm + extraMm)));
  const border = union(around(HAIR_MM), above);
  // The band is a little narrower than the disc on the border reaches, so that rows overlap it.
  return {
    obstacles,
    border,
    core: shrunk(border, BREATH_MM),
    band: around(cleanedMm(radius)),
  };
}

/** So far to the side a way that has corners is sure to clean. */
export function cleanedMm(radiusMm: number): number {
  return radiusMm - Math.min(0.1, 0.01 * radiusMm);
}

/** What no disc of the cutter can reach with its centre outside the border; up to 0.1 mm too much. */
export function unreachable({ border }: Forbidden, radiusMm: number): Region {
  return border.paths.length === 0 ? EMPTY : shrunk(border, radiusMm - 0.05);
}
