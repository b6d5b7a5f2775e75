// Readings that a controller recorded while it ran a probing program count from the program's zero, not from where
// the job's outlines count from. The outlines tell which: a probing program touches nothing outside them. Millimetres.

import type { Ring } from "./job.ts";
import { inOrOn, ON_OUTLINE_MM } from "./outline.ts";
import type { Points } from "./readings.ts";

/** What a probing program of the job touches, and where its zero lies. */
export interface Probed {
  readonly outlines: readonly Ring[];
  readonly zero: { readonly x: number; readonly y: number };
}

/** A place read by hand on the very edge may lie so far outside, mm. */
const SLACK_MM = 1;

/**
 * The readings in the job's frame: moved by the zero where some of them lie outside all outlines as they stand and
 * none does when moved; else as they stand.
 */
export function inJobFrame(readings: Points, { outlines, zero }: Probed): Points {
  if (zero.x === 0 && zero.y === 0) return readings;
  const { xyz } = readings;
  const allInside = (dx: number, dy: number, slackMm: number) => {
    for (let k = 0; k < xyz.length; k += 3)
      if (!outlines.some((ring) => inOrOn(ring, xyz[k] + dx, xyz[k + 1] + dy, slackMm))) return false;
    return true;
  };
  if (allInside(0, 0, SLACK_MM) || !allInside(zero.x, zero.y, ON_OUTLINE_MM)) return readings;
  return {
    kind: "points",
    xyz: xyz.map((value, k) => value + (k % 3 === 0 ? zero.x : k % 3 === 1 ? zero.y : 0)),
  };
}
