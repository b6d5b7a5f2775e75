import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { boxOf, type Grid, gridOver, type HeightField } from "../../src/survey/field.ts";
import { cutStock, extremes, type Stock, stockHeights, uncutStock } from "../../src/survey/stock.ts";
import { anyRing, dice, isInside, polygon, rectangle, ringOf } from "../region/shapes.ts";
import { box, gridOf, type Height, measured, pointsAt } from "./pieces.ts";

const SEED = 20_260_214;

/** A stock's extremes as a setup takes them: on a grid of 2 mm with a border around the outline. */
function extremesOf(stock: Stock, marginMm = 0, pitchMm = 2) {
  const grid = gridOver(boxOf([stock.piece.outline]), pitchMm, 2 * pitchMm);
  return extremes(stock, marginMm, { ...grid, z: stockHeights(stock, marginMm, grid) });
}

function heightOf(stock: Stock, marginMm: number, x: number, y: number): number {
  return stockHeights(stock, marginMm, { x0: x, y0: y, pitchMm: 1, cols: 1, rows: 1 })[0];
}

/** What a cutter leaves: `z` where `cut` says it was, +Infinity elsewhere. */
function cutField(grid: Grid, z: number, cut: (x: number, y: number) => boolean): HeightField {
  const heights = Float32Array.from({ length: grid.cols * grid.rows }, (_, k) =>
    cut(grid.x0 + (k % grid.cols) * grid.pitchMm, grid.y0 + Math.floor(k / grid.cols) * grid.pitchMm)
      ? z
      : Number.POSITIVE_INFINITY,
  );
  return { ...grid, z: heights };
}

describe("an uncut stock", () => {
  test("of a box has its thickness for a highest place", () => {
    expect(uncutStock(box(57)).highestMm).toBe(57);
  });

  test("has the highest reading inside its outline, on the outline counting, for a highest place", () => {
    const places = [
      [10, 10],
      [50, 0],
      [99, 99],
      [150, 50],
      [50, 100.001],
      [50, 100.004],
      [0, 0],
    ] as const;
    const heights = [40, 43, 41, 60, 44, 50, 39];
    const xyz = Float64Array.from(places.flatMap(([x, y], k) => [x, y, heights[k]]));
    expect(uncutStock(measured({ kind: "points", xyz })).highestMm).toBe(44);
  });

  test("stands its margin higher", () => {
    const stock = uncutStock(
      measured(gridOf((x, y) => 50 + 0.01 * x * y, { dx: 20, dy: 20, cols: 6, rows: 6 })),
    );
    const grid: Grid = { x0: 1, y0: 2, pitchMm: 7, cols: 13, rows: 12 };
    const z = stockHeights(stock, 0.75, grid);
    for (let k = 0; k < z.length; k++) {
      const [x, y] = [1 + 7 * (k % 13), 2 + 7 * Math.floor(k / 13)];
      expect(Math.abs(z[k] - stock.up.surface.heightAt(x, y) - 0.75)).toBeLessThan(1e-4);
    }
  });
});

describe("lowest and highest places", () => {
  const at = { x0: -100, y0: -100, dx: 10, dy: 10, cols: 21, rows: 21 };
  const disc = polygon(0, 0, 90, 360);

  // By hand, at the disc's rim of 90 mm.
  test("of a bowl: its middle, and its rim", () => {
    const bowl: Height = (x, y) => 50 + (x * x + y * y) / 1000;
    const { lowest, highest } = extremesOf(uncutStock(measured(gridOf(bowl, at), disc)));
    expect(lowest).toBeCloseTo(50, 4);
    expect(highest).toBeGreaterThan(50 + 8.1 - 1e-4);
    // Chords of a bowl lie over it, by 10 * 10 / 4 / 1000 in each direction at most.
    expect(highest).toBeLessThan(50 + 8.1 + 0.05);
  });

  test("of a dome: its rim, and its top", () => {
    const dome: Height = (x, y) => 50 - (x * x + y * y) / 1000;
    const { lowest, highest } = extremesOf(uncutStock(measured(gridOf(dome, at), disc)));
    expect(highest).toBeCloseTo(50, 4);
    expect(lowest).toBeLessThan(50 - 8.1 + 0.01);
    expect(lowest).toBeGreaterThan(50 - 8.1 - 0.05);
  });

  test("of a saddle: two ends each, on the outline", () => {
    const saddle: Height = (x, y) => 50 + (x * y) / 1000;
    const square = rectangle(-83, -83, 83, 83);
    const { lowest, highest } = extremesOf(
      uncutStock(measured(gridOf(saddle, { ...at, dx: 100, dy: 100, cols: 3, rows: 3 }), square)),
    );
    expect(lowest).toBeCloseTo(50 - 6.889, 4);
    expect(highest).toBeCloseTo(50 + 6.889, 4);
  });

  test("a single high reading between samples is the highest place", () => {
    const readings = gridOf((x, y) => (x === 10.5 && y === 10.5 ? 55 : 50), {
      x0: 0,
      y0: 0,
      dx: 10.5,
      dy: 10.5,
      cols: 11,
      rows: 11,
    });
    expect(extremesOf(uncutStock(measured(readings))).highest).toBe(55);
  });

  test("a high reading beside the outline counts only as far as it lifts the face inside", () => {
    // By hand: from 50 at x = 90 to 60 at x = 110; the outline ends at x = 100.
    const readings = pointsAt(
      (x) => (x > 100 ? 60 : 50),
      [
        [0, 0],
        [90, 0],
        [110, 0],
        [0, 100],
        [90, 100],
        [110, 100],
      ],
    );
    expect(extremesOf(uncutStock(measured(readings))).highest).toBeCloseTo(55, 4);
  });

  test("when a ridge rises towards the outline then its height there is seen", () => {
    // A ridge along Y, 1 in 20 on both sides, that rises 1 in 50: 52 + 99.3 / 50 at (37.1, 99.3).
    const ridge: Height = (x, y) => 52 - Math.abs(x - 37.1) / 20 + y / 50;
    const places = [-10, 130].flatMap((y) => [-10, 37.1, 120].map((x) => [x, y] as const));
    const outline = ringOf([0, 0], [100, 0], [100, 99.3], [0, 99.3]);
    const { highest } = extremesOf(uncutStock(measured(pointsAt(ridge, places), outline)));
    expect(highest).toBeLessThan(52 + 99.3 / 50 + 1e-4);
    // Samples 2 mm apart see a crest to half of that times its slope.
    expect(highest).toBeGreaterThan(52 + 99.3 / 50 - 1 / 20);
  });

  test("property: no place inside is outside of them", () => {
    fc.assert(
      fc.property(anyRing(120), fc.nat(), (outline, seed) => {
        const next = dice(seed);
        const bounds = boxOf([outline]);
        const [w, h] = [bounds.maxX - bounds.minX, bounds.maxY - bounds.minY];
        const places = [...Array(25)].map(
          () => [bounds.minX + w * (1.4 * next() - 0.2), bounds.minY + h * (1.4 * next() - 0.2)] as const,
        );
        // A wavy face with slopes up to 1 in 25.
        const stock = uncutStock(
          measured(
            pointsAt((x, y) => 50 + 2 * Math.sin(x / 50) * Math.cos(y / 60), places),
            outline,
          ),
        );
        const { lowest, highest } = extremesOf(stock, 0.5);
        for (let k = 0; k < 200; k++) {
          const [x, y] = [bounds.minX + w * next(), bounds.minY + h * next()];
          if (!isInside([outline], x, y)) continue;
          const z = heightOf(stock, 0.5, x, y);
          // Creases between samples of 2 mm may stand higher, by 1 mm times twice the steepest slope.
          if (z > highest + 0.08 || z < lowest - 0.08)
            throw new Error(`${z} at ${x}, ${y} beyond ${lowest} ... ${highest}`);
        }
      }),
      { seed: SEED, numRuns: 40 },
    );
  });

  test("after a cut they are those of what is left", () => {
    const grid = gridOver({ minX: 0, minY: 0, maxX: 100, maxY: 100 }, 1, 10);
    const stock = uncutStock(measured(gridOf((x) => 50 + x / 10, { dx: 50, dy: 50, cols: 3, rows: 3 })));
    const cut = cutStock(
      stock,
      cutField(grid, 54, () => true),
      54,
    );
    expect(extremesOf(cut)).toEqual({ lowest: 50, highest: 54 });
    expect(extremesOf(cut, 1)).toEqual({ lowest: 51, highest: 54 });
  });
});

describe("a cut stock", () => {
  const grid = gridOver({ minX: 0, minY: 0, maxX: 100, maxY: 60 }, 1, 5);
  const piece = measured(
    gridOf((x) => 50 + x / 10, { dx: 50, dy: 50, cols: 3, rows: 3 }),
    rectangle(0, 0, 100, 60),
  );

  test("is the lower of what was measured and where the edge has been; the margin is for what was not cut", () => {
    const cut = cutStock(
      uncutStock(piece),
      cutField(grid, 53, (x) => x < 60),
      60,
    );
    const heights = stockHeights(cut, 2, grid);
    const at = (x: number, y: number) => heights[(y + 5) * grid.cols + x + 5];
    expect(at(0, 30)).toBe(52);
    expect(at(20, 30)).toBe(53);
    expect(at(59, 30)).toBe(53);
    expect(at(60, 30)).toBe(58);
    expect(heightOf(cut, 2, 20, 30)).toBe(53);
    expect(heightOf(cut, 2, 80, 30)).toBe(60);
    expect(cut.highestMm).toBe(60);
  });

  test("beyond the cut field nothing was cut", () => {
    const cut = cutStock(
      uncutStock(piece),
      cutField(grid, 10, () => true),
      10,
    );
    expect(heightOf(cut, 0, 130, 30)).toBeGreaterThan(50);
  });

  // A rib one sample wide left standing between cut ground, seen on every coarser grid.
  const ratios = [1, 1.0001, 1.3, 1.5, 1.99, 2, 2.5, 3, 3.7, 4.4, 7];
  test.each(ratios)(
    "when the next grid is %f times as coarse then it does not step over a narrow rib",
    (ratio) => {
      const rib = (at: number) =>
        cutStock(
          uncutStock(box(60, piece.outline)),
          cutField(grid, 50, (x) => Math.abs(x - at) > 0.4),
          60,
        );
      for (const at of [20, 21, 47, 62])
        for (const x0 of [0, 0.1, 0.25, 0.5, 0.75, 1 / 3]) {
          const coarse: Grid = { x0, y0: 20, pitchMm: ratio, cols: Math.floor(80 / ratio), rows: 2 };
          const seen = stockHeights(rib(at), 0, coarse);
          expect(Math.max(...seen), `rib at ${at}, grid from ${x0}`).toBe(60);
        }
    },
  );

  test("a grid as fine as the cut, half a sample aside, steps over nothing either, whatever rounding does", () => {
    const missed: string[] = [];
    for (const pitchMm of [0.1, 0.3, 0.7, 1.1])
      for (const x0 of [-3.3, 0, 0.7]) {
        const fine: Grid = { x0, y0: 0, pitchMm, cols: 60, rows: 1 };
        for (let at = 5; at < 50; at++) {
          const z = new Float32Array(60).fill(50);
          z[at] = 60;
          const stock = cutStock(uncutStock(box(60, piece.outline)), { ...fine, z }, 60);
          const seen = stockHeights(stock, 0, { ...fine, x0: x0 + pitchMm / 2, cols: 58 });
          if (Math.max(...seen) !== 60) missed.push(`rib at sample ${at} of ${pitchMm} mm from ${x0}`);
        }
      }
    expect(missed).toEqual([]);
  });
});
