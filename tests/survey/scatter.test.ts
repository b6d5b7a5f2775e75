import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Readings } from "../../src/job/job.ts";
import { defaultMargin, scatterOf } from "../../src/survey/scatter.ts";
import { bell, dice } from "../region/shapes.ts";
import { gridOf, type Height, pointsAt } from "./pieces.ts";

const SEED = 20_260_213;
const at = { dx: 60, dy: 50, cols: 21, rows: 13 };
const tilted: Height = (x, y) => 60 + 0.004 * x - 0.003 * y;
/** Bow along X, cup across Y, as a slab has: gentle from reading to reading. */
const cupped: Height = (x, y) => tilted(x, y) + 4 * ((x - 600) / 600) ** 2 + 3 * ((y - 300) / 300) ** 2;

function noisy(readings: Extract<Readings, { kind: "grid" }>, sigma: number, seed: number): typeof readings {
  const next = bell(seed);
  return { ...readings, z: readings.z.map((z) => z + sigma * next()) };
}

describe("scatter", () => {
  test("of a plane is nothing, on a grid and at any places", () => {
    expect(scatterOf(gridOf(tilted, at)).sigmaMm).toBeLessThan(1e-9);
    const tenths = fc.integer({ min: 0, max: 20_000 }).map((v) => v / 10);
    fc.assert(
      fc.property(
        fc.uniqueArray(fc.tuple(tenths, tenths), { minLength: 6, maxLength: 60, selector: String }),
        (places) => {
          const scatter = scatterOf(pointsAt(tilted, places));
          expect(scatter.sigmaMm).toBeLessThan(1e-6);
          expect(scatter.suspects).toEqual([]);
        },
      ),
      { seed: SEED, numRuns: 100 },
    );
  });

  test("of a plane with nodes that hold nothing is nothing", () => {
    const readings = gridOf(tilted, at);
    const next = dice(1);
    const z = readings.z.map((height) => (next() < 0.3 ? Number.NaN : height));
    expect(scatterOf({ ...readings, z }).sigmaMm).toBeLessThan(1e-9);
  });

  test("where every reading is on the rim nothing can be foretold, and nobody is blamed", () => {
    const readings = pointsAt(
      (x) => x,
      [
        [0, 0],
        [100, 0],
        [100, 100],
        [0, 100],
      ],
    );
    expect(scatterOf(readings)).toEqual({ sigmaMm: 0, sagMm: 0, suspects: [], worst: null });
  });

  /**
   * A reading inside a grid is foretold from four to eight neighbours, nearer ones with more weight, so
   * its miss has between sqrt(1 + 1/8) and sqrt(1 + 1/4) = 1.12 times the scatter of one reading; a quarter
   * is allowed for the fit of a slope as well. The median of 209 misses, 1.48 times, has a standard
   * deviation of about 1.17 / sqrt(2 * 209) = 6 % of it.
   */
  test.each([0.05, 0.2, 0.6])("noise of %f mm comes back as such", (sigma) => {
    let sum = 0;
    const seeds = 20;
    for (let seed = 1; seed <= seeds; seed++) {
      const found = scatterOf(noisy(gridOf(tilted, at), sigma, seed)).sigmaMm / sigma;
      expect(found).toBeGreaterThan(1 - 4 * 0.08);
      expect(found).toBeLessThan(1.25 + 4 * 0.08);
      sum += found;
    }
    expect(sum / seeds).toBeGreaterThan(1);
    expect(sum / seeds).toBeLessThan(1.25);
  });

  test("noise on a gently cupped face comes back hardly larger", () => {
    const sigma = scatterOf(noisy(gridOf(cupped, at), 0.2, 7)).sigmaMm;
    expect(sigma).toBeGreaterThan(0.2 * 0.9);
    expect(sigma).toBeLessThan(0.2 * 1.6);
  });

  test("it scales with the heights and does not depend on where the readings lie or which way they are turned", () => {
    const base = noisy(gridOf(cupped, at), 0.3, 11);
    const { sigmaMm } = scatterOf(base);
    expect(scatterOf({ ...base, z: base.z.map((z) => 3 * z) }).sigmaMm).toBeCloseTo(3 * sigmaMm, 9);
    expect(scatterOf({ ...base, x0: 700, y0: -300 }).sigmaMm).toBeCloseTo(sigmaMm, 9);
  });
});

describe("suspects", () => {
  const quiet = noisy(gridOf(cupped, at), 0.1, 3);

  const withSpike = (col: number, row: number, byMm: number) => {
    const z = quiet.z.slice();
    z[row * at.cols + col] += byMm;
    return { readings: { ...quiet, z }, x: col * at.dx, y: row * at.dy };
  };

  test("normally distributed noise names hardly anybody", () => {
    let named = 0;
    for (let seed = 1; seed <= 30; seed++)
      named += scatterOf(noisy(gridOf(cupped, at), 0.25, seed)).suspects.length;
    expect(named).toBe(0);
  });

  test.each([
    [10, 6, 8],
    [1, 1, -6],
    [19, 11, 25],
    [5, 1, 3],
  ])("a spike at column %i, row %i of %f mm is named, and only it", (col, row, byMm) => {
    const { readings, x, y } = withSpike(col, row, byMm);
    const { suspects } = scatterOf(readings);
    expect(suspects.map((suspect) => [suspect.x, suspect.y])).toEqual([[x, y]]);
    expect(suspects[0].missMm).toBeGreaterThan(byMm - 1);
    expect(suspects[0].missMm).toBeLessThan(byMm + 1);
    expect(suspects[0].z).toBe(readings.z[row * at.cols + col]);
  });

  test.each([
    [10, 0, 8],
    [0, 6, -8],
    [20, 5, 15],
    [3, 12, 12],
  ])(
    "when the spike stands on the rim, column %i, row %i, then no innocent neighbour is named",
    (col, row, byMm) => {
      const { readings, x, y } = withSpike(col, row, byMm);
      const innocent = scatterOf(readings).suspects.filter((suspect) => suspect.x !== x || suspect.y !== y);
      expect(innocent).toEqual([]);
    },
  );

  test("two spikes far apart are both named, the worse first", () => {
    const z = quiet.z.slice();
    z[3 * at.cols + 4] += 5;
    z[9 * at.cols + 15] -= 9;
    const { suspects } = scatterOf({ ...quiet, z });
    expect(suspects.map((suspect) => [suspect.x, suspect.y])).toEqual([
      [15 * at.dx, 9 * at.dy],
      [4 * at.dx, 3 * at.dy],
    ]);
  });

  test("a spike among scattered readings is named, and only it", () => {
    const next = dice(9);
    const places = [...Array(150)].map(() => [1200 * next(), 600 * next()] as const);
    // The reading nearest to the middle, so that it does not stand on the rim.
    const middle = places.reduce(
      (best, [x, y], k) =>
        Math.hypot(x - 600, y - 300) < Math.hypot(places[best][0] - 600, places[best][1] - 300) ? k : best,
      0,
    );
    const xyz = Float64Array.from(
      places.flatMap(([x, y], k) => [x, y, tilted(x, y) + (k === middle ? 12 : 0)]),
    );
    const { suspects } = scatterOf({ kind: "points", xyz });
    expect(suspects.map(({ x, y }) => [x, y])).toEqual([[...places[middle]]]);
    expect(suspects[0].missMm).toBeCloseTo(12, 6);
  });

  test("below 1 mm nobody is named, however quiet the rest", () => {
    const z = gridOf(tilted, at).z.slice();
    z[6 * at.cols + 10] += 0.99;
    expect(scatterOf({ ...quiet, z }).suspects).toEqual([]);
    z[6 * at.cols + 10] += 0.02;
    expect(scatterOf({ ...quiet, z }).suspects).toHaveLength(1);
  });
});

describe("sag", () => {
  test("of a plane and of a hollow face is nothing: there the lines between readings run above it", () => {
    expect(scatterOf(gridOf(tilted, at)).sagMm).toBeLessThan(1e-9);
    expect(scatterOf(gridOf(cupped, at)).sagMm).toBeLessThan(1e-9);
  });

  // By hand: between readings p apart a crown of -k x^2 stands k p^2 / 4 above the line that joins them.
  test.each([
    ["along X", 4e-5, 0],
    ["along Y", 0, 6e-5],
    ["both ways", 3e-5, 5e-5],
  ])("a face crowned %s stands no higher between its readings than stated", (_, alongX, alongY) => {
    const crowned: Height = (x, y) => tilted(x, y) - alongX * (x - 600) ** 2 - alongY * (y - 300) ** 2;
    const highest = (alongX * at.dx ** 2 + alongY * at.dy ** 2) / 4;
    const { sagMm } = scatterOf(gridOf(crowned, at));
    expect(sagMm).toBeGreaterThan(0.99 * highest);
    expect(sagMm).toBeLessThan(3 * highest);
  });
});

describe("the margin left to the program", () => {
  // The contract: from the readings' own scatter, at least 0.5 mm.
  test("is at least 0.5 mm, and of the worst face three times the scatter and the sag", () => {
    const scatter = (sigmaMm: number, sagMm: number) => ({ sigmaMm, sagMm, suspects: [], worst: null });
    expect(defaultMargin([])).toBe(0.5);
    expect(defaultMargin([scatter(0.1, 0.1)])).toBe(0.5);
    expect(defaultMargin([scatter(0.2, 0.3), scatter(0.4, 0.1)])).toBeCloseTo(1.3, 12);
  });
});
