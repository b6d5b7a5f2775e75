// Where the cutter's centre must not go at a height, because of what stands on the bed, and what of
// the wood it therefore cannot reach. Frame coordinates, millimetres.

import type { Machine, Setup } from "../job/job.ts";
import { EMPTY, grown, type Region, regionOf, shrunk, union } from "../region/region.ts";

/** Something standing on the bed, and how near the cutter's centre may come to it. */
interface Obstacle {
  readonly region: Region;
  readonly distanceMm: number;
}

/** Where the centre must not go, and the two bands around it that row making needs. */
export interface Forbidden {
  readonly obstacles: readonly Obstacle[];
  /** The centre stays outside. */
  readonly core: Region;
  /** The way around the core runs along this border, a hair outside it. */
  readonly border: Region;
  /** What the disc cleans when it goes along the border, and the core itself. */
  readonly band: Region;
}

/** How far the way around a keep-out stays outside what is forbidden, so that rounding cannot enter it. */
const HAIR_MM = 0.06;

/**
 * What is forbidden with the cutting edge at `zMm`. A keep-out lower than the edge does not block it, nor
 * the spindle nose when it is lower than that. `standing` is wood left standing high enough for the nose.
 */
export function forbiddenAt(
  setup: Setup,
  nose: Machine["nose"],
  zMm: number,
  standing: Region,
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
  // The band is a little narrower than the disc on the border reaches, so that rows overlap it.
  return {
    obstacles,
    core: around(0),
    border: around(HAIR_MM),
    band: around(radius - Math.min(0.1, 0.01 * radius)),
  };
}

/** What no disc of the cutter can reach without its centre entering the core, at most `slackMm` too much. */
export function unreachable(core: Region, radiusMm: number, slackMm: number): Region {
  return core.paths.length === 0 ? EMPTY : shrunk(core, radiusMm - slackMm);
}
