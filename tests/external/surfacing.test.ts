// The cutting formulas against numbers that come from elsewhere: worked out by hand from the geometry,
// or printed in the sources named beside them.

import { describe, expect, test } from "vitest";
import {
  chipShare,
  cuttingPowerKw,
  engagementRad,
  feedPerEdgeMm,
  meanChipShare,
  removalCm3PerS,
  rimSpeedMPerS,
  torqueNm,
} from "../../src/cutting/chips.ts";
import { GENERAL_HARDWOOD, materialNamed } from "../../src/cutting/materials.ts";
import { discSlope, ridgeMm } from "../../src/cutting/ridge.ts";

const degrees = (angle: number) => (angle * Math.PI) / 180;
const across = (tilt: number) => ({ along: 0, across: Math.tan(tilt) });
const along = (tilt: number) => ({ along: Math.tan(tilt), across: 0 });

// By hand: s tan(tilt) across the rows, R sin(tilt) (1 - sqrt(1 - (s / 2R)^2)) along them, D = 60.
describe("ridge of a 60 mm cutter out of square", () => {
  test.each([
    [0.05, 24, 0.020943956, 0.002185628],
    [0.1, 24, 0.041887945, 0.004371255],
    [0.1, 45, 0.078539896, 0.017727065],
    [0.1, 54, 0.094247875, 0.029536721],
    [0.2, 24, 0.083776144, 0.008742496],
  ])("%f degrees, rows %f mm apart", (tilt, step, stepAcross, dishAlong) => {
    expect(ridgeMm(60, step, across(degrees(tilt)))).toBeCloseTo(stepAcross, 9);
    expect(ridgeMm(60, step, along(degrees(tilt)))).toBeCloseTo(dishAlong, 9);
  });

  // By hand: D sin(tilt) and R sin(tilt).
  test.each([
    [0.05, 0.052359871, 0.026179935],
    [0.1, 0.104719702, 0.052359851],
    [0.2, 0.209439085, 0.104719542],
  ])("%f degrees, rows as far apart as the cutter is wide", (tilt, wholeAcross, wholeAlong) => {
    expect(ridgeMm(60, 60, across(degrees(tilt)))).toBeCloseTo(wholeAcross, 9);
    expect(ridgeMm(60, 60, along(degrees(tilt)))).toBeCloseTo(wholeAlong, 9);
  });

  test("when a dial reads 0.10 mm over a sweep of 250 mm then the step at 24 mm is 0.0096 mm (by hand: 24 * 0.1 / 250)", () => {
    const tilted = discSlope({ x: 0.4, y: 0 }, 0);
    expect(ridgeMm(60, 24, tilted)).toBeCloseTo(0.0096, 9);
    expect(ridgeMm(60, 24, discSlope({ x: 0.4, y: 0 }, Math.PI / 2))).toBeCloseTo(0.001002, 6);
  });
});

// By hand: arccos(1 - 2 ae / D); the thinning factor is 1 / (2 sqrt(ae / D (1 - ae / D))) below half the cutter.
test.each([
  [10, 36.8699, 1.66667],
  [25, 60, 1.1547],
  [40, 78.463, 1.02062],
  [50, 90, 1],
  [75, 120, 1],
  [90, 143.1301, 1],
  [100, 180, 1],
])(
  "a strip of %d %% of the cutter is engaged over %f degrees and thins chips by %f",
  (percent, angle, thinning) => {
    expect((engagementRad(percent, 100) * 180) / Math.PI).toBeCloseTo(angle, 4);
    expect(1 / chipShare(percent, 100)).toBeCloseTo(thinning, 5);
  },
);

// By hand: D 60, 3 edges, 12000 rev/min, 6000 mm/min, 24 mm wide, 2 mm deep.
test("the worked example of one row", () => {
  const feedPerEdge = feedPerEdgeMm(6000, 12000, 3);
  const removed = removalCm3PerS(2, 24, 6000);
  expect(feedPerEdge).toBeCloseTo(0.1666667, 7);
  expect(rimSpeedMPerS(60, 12000)).toBeCloseTo(37.69911, 5);
  expect(feedPerEdge * chipShare(24, 60)).toBeCloseTo(0.1632993, 7);
  expect(feedPerEdge * meanChipShare(24, 60)).toBeCloseTo(0.0973635, 7);
  expect(removed).toBeCloseTo(4.8, 12);
  expect(cuttingPowerKw(removed, 20)).toBeCloseTo(0.096, 12);
  expect(cuttingPowerKw(removed, 40)).toBeCloseTo(0.192, 12);
  expect(torqueNm(0.096, 12000)).toBeCloseTo(0.0763944, 7);
});

// A woodworking magazine's article on routing speeds: 1/2 in at 10 000 rev/min "almost 15 mph", at
// 25 000 37 mph; 3 in at 10 000 nearly 90 mph, at 25 000 223 mph.
test.each([
  [0.5, 10_000, 14.875],
  [0.5, 25_000, 37.187],
  [3, 10_000, 89.25],
  [3, 25_000, 223.124],
])("the rim of a %f in cutter at %d rev/min runs at %f mph", (diameterIn, speed, mph) => {
  expect((rimSpeedMPerS(25.4 * diameterIn, speed) * 3600) / 1609.344).toBeCloseTo(mph, 3);
});

// Specific gravity (oven-dry mass, volume at 12 %) times 1000 times 1.12: walnut 0.55 in FPL-GTR-83
// (Alden 1995); ash 0.60, white oak 0.68, sugar maple 0.63 and cherry 0.50 in public species tables.
test.each([
  ["black walnut", 616],
  ["white ash", 672],
  ["white oak", 761.6],
  ["sugar maple", 705.6],
  ["black cherry", 560],
])("%s weighs %f kg/m3 at 12 %% moisture", (name, density) => {
  expect(materialNamed(name)?.densityKgPerM3).toBeCloseTo(density, 6);
});

// Palubicki, Materials 2021, 14, 2208: particleboard, up-milled at 40 to 60 m/s, mean specific principal
// force 32.0 N/mm2 (slow) and 37.6 N/mm2 (fast). The nearest measured thing to hardwood.
test("the energy taken for general hardwood covers what was measured on particleboard", () => {
  const { energyJPerCm3 } = GENERAL_HARDWOOD;
  expect(energyJPerCm3.low).toBeLessThan(32.0);
  expect(energyJPerCm3.high).toBeGreaterThan(37.6);
});
