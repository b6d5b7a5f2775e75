import { describe, expect, test } from "vitest";
import { readingsFor } from "../../src/survey/density.ts";
import { defaultMargin, scatterOf } from "../../src/survey/scatter.ts";
import { bell } from "../region/shapes.ts";
import { gridOf, type Height } from "./pieces.ts";

const AREA = 2400 * 600;
const scatter = (sigmaMm: number, sagMm: number) => ({ sigmaMm, sagMm, suspects: [], worst: null });

describe("readings for a margin", () => {
  test("are as many as there are when it is the margin that they give", () => {
    for (const [sigma, sag] of [
      [0.1, 0.4],
      [0.3, 0.1],
      [0, 1],
    ]) {
      const margin = defaultMargin([scatter(sigma, sag)]);
      expect(readingsFor(margin, scatter(sigma, sag), 60, AREA)).toMatchObject({
        kind: "readings",
        count: 60,
      });
    }
  });

  test("are twice as many for half the bulge (by hand: 0.9 - 0.3 of scatter against 0.6 - 0.3)", () => {
    expect(readingsFor(0.9, scatter(0.1, 0.6), 50, AREA)).toMatchObject({ count: 50 });
    const advice = readingsFor(0.6, scatter(0.1, 0.6), 50, AREA);
    expect(advice).toEqual({ kind: "readings", count: 100, spacingMm: 120 });
  });

  test("are at least three by three", () => {
    expect(readingsFor(3, scatter(0.1, 0), 50, AREA)).toMatchObject({ count: 9, spacingMm: 400 });
    expect(readingsFor(0.3, scatter(0.1, 0), 50, AREA)).toMatchObject({ count: 9 });
  });

  test("are never enough when the scatter alone exceeds it", () => {
    expect(readingsFor(0.5, scatter(0.2, 0.1), 50, AREA)).toEqual({
      kind: "scatter",
      leastMm: expect.closeTo(0.6, 12),
    });
    expect(readingsFor(0.6, scatter(0.2, 0.1), 50, AREA).kind).toBe("scatter");
  });

  test("foretell what taking so many gives: a crowned face read every 200 mm, and every 100 mm", () => {
    const crowned: Height = (x, y) => 60 - 12 * (x / 1200 - 1) ** 2 - 8 * (y / 300 - 1) ** 2;
    const noise = bell(3);
    const noisy: Height = (x, y) => crowned(x, y) + 0.02 * noise();
    const coarse = gridOf(noisy, { dx: 200, dy: 100, cols: 13, rows: 7 });
    const fine = gridOf(noisy, { dx: 100, dy: 50, cols: 25, rows: 13 });
    const margin = defaultMargin([scatterOf(fine)]);
    const wanted = 3 * scatterOf(fine).sigmaMm + scatterOf(fine).sagMm;
    expect(margin).toBeGreaterThanOrEqual(wanted);
    const advice = readingsFor(wanted, scatterOf(coarse), 13 * 7, AREA);
    if (advice.kind !== "readings") throw new Error("scatter");
    expect(advice.count / (25 * 13)).toBeGreaterThan(0.8);
    expect(advice.count / (25 * 13)).toBeLessThan(1.5);
  });
});
