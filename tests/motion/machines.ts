// Machines the tests of this folder and of tests/external time tracks on.

import type { Machine } from "../../src/job/job.ts";

/** Alike on every axis: `acceleration` in mm/s^2, rapids of 250 mm/s, feeds without a limit that matters. */
export function evenMachine(acceleration = 500, cornerDeviationMm = 0.05): Machine {
  const all = (v: number) => ({ x: v, y: v, z: v });
  return {
    name: "even test machine",
    travelMm: all(5000),
    feedLimitMmPerMin: all(60_000),
    rapidMmPerMin: all(15_000),
    accelerationMmPerS2: all(acceleration),
    cornerDeviationMm,
    spindle: {
      speedMin: 6000,
      speedMax: 24_000,
      powerKw: 3,
      efficiency: 0.8,
      spinUpSeconds: 8,
      outOfSquare: { x: 0, y: 0 },
    },
    nose: null,
  };
}

/** A gantry router: Z slower and softer than X, and Y softer than X. */
export const gantry: Machine = {
  ...evenMachine(),
  name: "gantry router",
  feedLimitMmPerMin: { x: 15_000, y: 12_000, z: 4000 },
  rapidMmPerMin: { x: 20_000, y: 18_000, z: 6000 },
  accelerationMmPerS2: { x: 500, y: 400, z: 250 },
};
