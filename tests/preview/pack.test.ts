// Packing: what was packed comes back, whole numbers and program coordinates exactly, heights to a micrometre.

import { deflateRawSync } from "node:zlib";
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { pack, unpack } from "../../src/preview/pack.ts";

const SEED = 20251;

function through<T>(tree: T): T {
  return unpack<T>(pack(tree));
}

describe("columns", () => {
  test("whole numbers of every width come back exactly, seed 20251", () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 0, max: 255 })),
        fc.array(fc.integer({ min: -(2 ** 15), max: 2 ** 15 - 1 })),
        fc.array(fc.integer({ min: -(2 ** 31) + 2, max: 2 ** 31 - 2 })),
        (bytes, shorts, longs) => {
          const tree = {
            a: Uint8Array.from(bytes),
            b: [Int16Array.from(shorts), { c: Int32Array.from(longs) }],
          };
          expect(through(tree)).toEqual(tree);
        },
      ),
      { seed: SEED, numRuns: 100 },
    );
  });

  for (const [name, step] of [
    ["mm with three decimals", 0.001],
    ["inches with four decimals, in mm", 0.00254],
  ] as const)
    test(`coordinates in ${name} come back to rounding of doubles, seed 20251`, () => {
      fc.assert(
        fc.property(fc.array(fc.integer({ min: -5_000_000, max: 5_000_000 })), (steps) => {
          const x = Float64Array.from(steps, (n) => n * step);
          const back = through({ x }).x;
          expect(back.length).toBe(x.length);
          x.forEach((value, k) => {
            expect(Math.abs(back[k] - value)).toBeLessThan(1e-9);
          });
        }),
        { seed: SEED, numRuns: 100 },
      );
    });

  test("any numbers come back to 0.05 um, huge ones exactly", () => {
    const x = Float64Array.from([0.123456789, -3.00000001, 1234.56789]);
    through({ x }).x.forEach((value, k) => {
      expect(Math.abs(value - x[k])).toBeLessThan(0.000051);
    });
    const huge = Float64Array.from([1e300, 1e-300, -7e17]);
    expect(through({ huge }).huge).toEqual(huge);
  });

  test("heights come back to half a micrometre", () => {
    const z = Float32Array.from({ length: 5000 }, (_, k) => 60 + Math.sin(k / 90) * 4);
    through({ z }).z.forEach((value, k) => {
      expect(Math.abs(value - z[k])).toBeLessThan(0.00051);
    });
  });

  test("what is no number comes back as that", () => {
    const odd = [Number.NaN, 1.5, Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY, -0.25];
    expect(through({ x: Float64Array.from(odd), z: Float32Array.from(odd) })).toEqual({
      x: Float64Array.from(odd),
      z: Float32Array.from(odd),
    });
  });

  test("nothing else changes, names and hostile texts included", () => {
    const tree = {
      name: '</script><img src=x onerror="1">',
      list: [1, null, true, { deep: "\u2028" }],
      none: {},
    };
    expect(through(tree)).toEqual(tree);
  });
});

test("a million moves of a raster take less than 10 MB in the page, as base64 of their deflated columns", () => {
  // Rows of 2.4 m in 20 mm steps: every end of a move is a new number, as in a program that was not simplified.
  const count = 1_000_000;
  const [x, y, z] = [new Float64Array(count), new Float64Array(count), new Float64Array(count)];
  const [line, row] = [new Int32Array(count), new Int32Array(count)];
  let seed = 7;
  for (let k = 0; k < count; k++) {
    seed = (seed * 16807) % 2147483647;
    const rowAt = Math.floor(k / 120);
    x[k] = (20_000 * (rowAt % 2 === 0 ? k % 120 : 119 - (k % 120)) + (seed % 8000)) / 1000;
    y[k] = ((rowAt * 38_100) % 1_100_000) / 1000;
    z[k] = 55 - Math.floor(rowAt / 29) / 100;
    line[k] = k + 12;
    row[k] = rowAt;
  }
  const kind = new Uint8Array(count).fill(1);
  const { bytes } = pack({ kind, x, y, z, line, row, took: kind, value: new Float64Array(count).fill(6000) });
  expect(Math.ceil(deflateRawSync(bytes, { level: 6 }).length * (4 / 3))).toBeLessThan(10e6);
});
