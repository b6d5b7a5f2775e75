import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { discSlope, halvingStepMm, ridgeMm } from "../../src/cutting/ridge.ts";

const seed = 20240;
const slope = fc.record({
  along: fc.double({ min: -0.01, max: 0.01, noNaN: true }),
  across: fc.double({ min: -0.01, max: 0.01, noNaN: true }),
});
const diameter = fc.double({ min: 10, max: 120, noNaN: true });
const share = fc.double({ min: 0.05, max: 0.97, noNaN: true });

/** The same by brute force: the rim point by point, folded into one row's width, lowest point of each strip. */
function ridgeByRim(diameterMm: number, stepMm: number, along: number, across: number): number {
  const strips = new Float64Array(400).fill(Number.POSITIVE_INFINITY);
  const points = 60_000;
  for (let k = 0; k < points; k++) {
    // Around the bed's vertical: where the disc's plane z = along x + across y is R from the middle.
    const angle = (2 * Math.PI * k) / points;
    const [x, y] = [Math.cos(angle), Math.sin(angle)];
    const rise = along * x + across * y;
    const reach = diameterMm / 2 / Math.sqrt(1 + rise * rise);
    const folded = (((y * reach) % stepMm) + stepMm) % stepMm;
    const strip = Math.min(strips.length - 1, Math.floor((folded / stepMm) * strips.length));
    strips[strip] = Math.min(strips[strip], rise * reach);
  }
  const met = strips.filter(Number.isFinite);
  return Math.max(...met) - Math.min(...met);
}

describe(`any tilt and spacing, seed ${seed}`, () => {
  test("the ridge is what a tilted rim leaves, strip by strip", () => {
    fc.assert(
      fc.property(diameter, share, slope, (diameterMm, stepShare, { along, across }) => {
        const stepMm = stepShare * diameterMm;
        // A strip is a 400th of the spacing wide and so a little too low; the more so the steeper the rim
        // stands there, and it stands upright where the tilt across leaves nothing but the disc's end.
        const tolerance = diameterMm * ((2 * Math.abs(across)) / 400 + 0.01 * Math.abs(along)) + 1e-9;
        const expected = ridgeByRim(diameterMm, stepMm, along, across);
        expect(Math.abs(ridgeMm(diameterMm, stepMm, { along, across }) - expected)).toBeLessThan(tolerance);
      }),
      { seed, numRuns: 60 },
    );
  });

  test("it grows with the spacing, and half of it is left at the halving spacing", () => {
    fc.assert(
      fc.property(diameter, share, slope, (diameterMm, stepShare, slopes) => {
        const stepMm = stepShare * diameterMm;
        const whole = ridgeMm(diameterMm, stepMm, slopes);
        expect(ridgeMm(diameterMm, 0.9 * stepMm, slopes)).toBeLessThanOrEqual(whole + 1e-12);
        const halved = ridgeMm(diameterMm, halvingStepMm(diameterMm, stepMm, slopes), slopes);
        expect(halved).toBeCloseTo(whole / 2, 8);
      }),
      { seed, numRuns: 200 },
    );
  });

  test("it is the same whichever way the rows are cut and whichever side is the near one", () => {
    fc.assert(
      fc.property(diameter, share, slope, (diameterMm, stepShare, { along, across }) => {
        const stepMm = stepShare * diameterMm;
        const whole = ridgeMm(diameterMm, stepMm, { along, across });
        expect(ridgeMm(diameterMm, stepMm, { along: -along, across })).toBe(whole);
        expect(ridgeMm(diameterMm, stepMm, { along, across: -across })).toBe(whole);
      }),
      { seed, numRuns: 100 },
    );
  });
});

test("when the spindle is square then there is no ridge", () => {
  expect(ridgeMm(60, 40, discSlope({ x: 0, y: 0 }, 0.3))).toBe(0);
});

test("a tilt about X lies across rows along X, and along rows along Y", () => {
  expect(discSlope({ x: 0.5, y: 0 }, 0)).toEqual({ along: 0, across: 0.0005 });
  const turned = discSlope({ x: 0.5, y: 0 }, Math.PI / 2);
  expect(turned.along).toBeCloseTo(0.0005, 15);
  expect(turned.across).toBeCloseTo(0, 15);
  expect(discSlope({ x: 0, y: 0.5 }, 0).along).toBe(-0.0005);
});
