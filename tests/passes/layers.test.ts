import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { PlanError } from "../../src/errors.ts";
import { type Layer, layersOf, namedHeight, SINGLE_MM, type Steps } from "../../src/passes/layers.ts";
import { setupOf } from "./setups.ts";

const SEED = 20_260_221;
const MM: Steps = { zeroMm: 0, stepMm: 0.001 };
const INCH: Steps = { zeroMm: 0, stepMm: 0.00254 };

const heights = (layers: readonly Layer[]) => layers.map((layer) => layer.zMm);
const depths = (layers: readonly Layer[]) => layers.map((layer) => layer.topMm - layer.zMm);
const finish = (depthMm: number) => ({ depthMm, stepoverShare: 0.4, feedMmPerMin: 5000 });

function codeOf(run: () => unknown): string {
  try {
    run();
  } catch (error) {
    if (error instanceof PlanError) return error.code;
    throw error;
  }
  return "no error";
}

describe("layers by hand", () => {
  test("10 mm at 2 mm are five equal layers, the last exactly at the floor", () => {
    const layers = layersOf(setupOf({ passes: { depthMm: 2 } }), 50, 60, MM, "mm");
    expect(heights(layers)).toEqual([58, 56, 54, 52, 50]);
    expect(layers.map((layer) => layer.topMm)).toEqual([60, 58, 56, 54, 52]);
    expect(layers.every((layer) => layer.kind === "rough")).toBe(true);
  });

  test("10.001 mm at 2 mm are six, none of them deeper than the others by more than a step", () => {
    const layers = layersOf(setupOf({ passes: { depthMm: 2 } }), 50, 60.001, MM, "mm");
    expect(layers).toHaveLength(6);
    for (const depth of depths(layers)) expect(Math.abs(depth - 10.001 / 6)).toBeLessThan(0.001);
    expect(layers[5].zMm).toBe(50);
  });

  test("a finish layer takes its own depth, stepover and feed off last", () => {
    const layers = layersOf(setupOf({ passes: { depthMm: 2, finish: finish(0.5) } }), 50, 54.5, MM, "mm");
    expect(heights(layers)).toEqual([52.5, 50.5, 50]);
    expect(layers.map((layer) => layer.kind)).toEqual(["rough", "rough", "finish"]);
    expect(layers[0]).toMatchObject({ stepoverMm: 36, feedMmPerMin: 6000 });
    expect(layers[2]).toMatchObject({ topMm: 50.5, stepoverMm: 24, feedMmPerMin: 5000 });
  });

  test("when less stands than the finish layer takes then there is only that", () => {
    const layers = layersOf(setupOf({ passes: { finish: finish(0.5) } }), 50, 50.3, MM, "mm");
    expect(layers.map(({ kind }) => kind)).toEqual(["finish"]);
    expect(layers[0].zMm).toBe(50);
    expect(layers[0].topMm).toBeCloseTo(50.3, 9);
  });

  test("when nothing stands above the floor then there are no layers", () => {
    for (const passes of [{}, { finish: finish(0.5) }])
      for (const top of [50, 49.9, 12]) expect(layersOf(setupOf({ passes }), 50, top, MM, "mm")).toEqual([]);
  });

  // By hand: 3/16 in at 1/16 in a pass, on steps of 0.0001 in; 1/16 in is 0.0625 in, 625 steps.
  test("in inches the depths are whole steps of a ten-thousandth", () => {
    const layers = layersOf(
      setupOf({ passes: { depthMm: 25.4 / 16 } }),
      2 * 25.4,
      (2 + 3 / 16) * 25.4,
      INCH,
      "in",
    );
    expect(layers).toHaveLength(3);
    expect(heights(layers).map((z) => Number((z / 25.4).toFixed(9)))).toEqual([2.125, 2.0625, 2]);
  });

  test("heights are named from the program's zero, not from the bed", () => {
    const steps = { zeroMm: 61.2345, stepMm: 0.001 };
    const layers = layersOf(setupOf(), 61.2345 - 5, 61.2345, steps, "mm");
    expect(heights(layers).at(-1)).toBeCloseTo(56.2345, 9);
    for (const z of heights(layers))
      expect((z - 61.2345) * 1000).toBeCloseTo(Math.round((z - 61.2345) * 1000), 6);
    expect(namedHeight(56.23449, steps, "nearest")).toBeCloseTo(56.2345, 9);
    expect(namedHeight(56.2349, steps, "nearest")).toBeCloseTo(56.2345, 9);
    expect(namedHeight(56.2351, steps, "nearest")).toBeCloseTo(56.2355, 9);
    expect(namedHeight(56.2354, steps, "below")).toBeCloseTo(56.2345, 9);
    expect(namedHeight(56.2344, steps, "below")).toBeCloseTo(56.2335, 9);
  });
});

describe("layers that cannot be", () => {
  test("a depth less than a program can name is refused, roughing and finishing alike", () => {
    expect(codeOf(() => layersOf(setupOf({ passes: { depthMm: 0.0009 } }), 50, 51, MM, "mm"))).toBe("depth");
    expect(codeOf(() => layersOf(setupOf({ passes: { depthMm: 0.002 } }), 50, 51, INCH, "in"))).toBe("depth");
    expect(codeOf(() => layersOf(setupOf({ passes: { finish: finish(0.0002) } }), 50, 51, MM, "mm"))).toBe(
      "depth",
    );
  });

  test("more than 2000 layers are refused, 2000 are made", () => {
    expect(layersOf(setupOf({ passes: { depthMm: 0.01 } }), 50, 70, MM, "mm")).toHaveLength(2000);
    expect(codeOf(() => layersOf(setupOf({ passes: { depthMm: 0.01 } }), 50, 70.01, MM, "mm"))).toBe(
      "layers",
    );
  });

  test.each([Number.NaN, Number.POSITIVE_INFINITY])(
    "a top or floor of %f is never taken for a face that is flat already",
    (bad) => {
      expect(() => layersOf(setupOf(), 50, bad, MM, "mm")).toThrow();
      expect(() => layersOf(setupOf(), bad, 60, MM, "mm")).toThrow();
    },
  );
});

describe("property: layers of any heights", () => {
  const drawn = fc.record({
    floor: fc.integer({ min: 1000, max: 90_000 }).map((um) => um / 1000),
    rise: fc.integer({ min: -2000, max: 60_000 }).map((um) => um / 1000),
    depth: fc.integer({ min: 40, max: 8000 }).map((um) => um / 1000),
    finish: fc.option(
      fc.integer({ min: 10, max: 2000 }).map((um) => um / 1000),
      { nil: null },
    ),
    zero: fc.integer({ min: 0, max: 90_000_000 }).map((nm) => nm / 1e6),
    units: fc.constantFrom("mm" as const, "in" as const),
  });

  test("each starts where the one before ended, the first at the top or a step above, the last ends on the floor", () => {
    fc.assert(
      fc.property(drawn, (given) => {
        const { layers, top, floor, step } = made(given);
        if (layers.length === 0) {
          expect(top - floor).toBeLessThan(step * 0.51);
          return;
        }
        expect(layers[0].topMm).toBeGreaterThanOrEqual(top - SINGLE_MM - step * 1e-3);
        expect(layers[0].topMm).toBeLessThan(top + step * 1.001);
        expect(layers.every(({ topMm }, k) => k === 0 || topMm === layers[k - 1].zMm)).toBe(true);
        expect(Math.abs(layers[layers.length - 1].zMm - floor)).toBeLessThan(step * 0.501);
        expect(Math.min(...depths(layers))).toBeGreaterThan(0);
      }),
      { seed: SEED, numRuns: 500 },
    );
  });

  test("none is deeper than asked, roughs are equal to a step, and no rough one could be left out", () => {
    fc.assert(
      fc.property(drawn, (given) => {
        const { layers, step } = made(given);
        const roughs = depths(layers.filter((layer) => layer.kind === "rough"));
        const last = layers.at(-1);
        expect(Math.max(0, ...roughs)).toBeLessThanOrEqual(given.depth + 1e-9);
        if (roughs.length > 0) {
          expect(Math.max(...roughs) - Math.min(...roughs)).toBeLessThan(1.001 * step);
          const whole = roughs.reduce((sum, depth) => sum + depth, 0);
          expect((roughs.length - 1) * Math.floor(given.depth / step + 1e-6) * step).toBeLessThan(whole);
        }
        if (given.finish !== null && last !== undefined) {
          expect(last.kind).toBe("finish");
          expect(last.topMm - last.zMm).toBeLessThanOrEqual(given.finish + 1e-9);
        }
        expect(layers.filter((layer) => layer.kind === "finish").length).toBeLessThanOrEqual(1);
      }),
      { seed: SEED, numRuns: 500 },
    );
  });

  test("every height is one that a program can name", () => {
    fc.assert(
      fc.property(drawn, (given) => {
        const { layers, step, zero } = made(given);
        const off = layers.flatMap(({ zMm, topMm }) =>
          [zMm, topMm].map((z) => Math.abs((z - zero) / step - Math.round((z - zero) / step))),
        );
        expect(Math.max(0, ...off)).toBeLessThan(1e-5);
      }),
      { seed: SEED, numRuns: 300 },
    );
  });

  type Drawn = typeof drawn extends fc.Arbitrary<infer T> ? T : never;

  function made({ floor, rise, depth, finish: finishDepth, zero, units }: Drawn) {
    const step = units === "mm" ? 0.001 : 0.00254;
    const passes = { depthMm: depth, finish: finishDepth === null ? null : finish(finishDepth) };
    const top = floor + rise;
    const layers = layersOf(setupOf({ passes }), floor, top, { zeroMm: zero, stepMm: step }, units);
    return { layers, top, floor, step, zero };
  }
});

test("a height that a program can name stays the same, whichever side is asked for", () => {
  for (const steps of [MM, INCH, { zeroMm: 61.2345, stepMm: 0.001 }])
    for (let k = -3000; k < 3000; k += 7) {
      const named = namedHeight(steps.zeroMm + k * steps.stepMm, steps, "nearest");
      const below = namedHeight(named, steps, "below");
      if (Math.abs(below - named) > 1e-9) throw new Error(`${named} becomes ${below}`);
    }
});
