// The highest place of a face: by hand for a roof, and against all samples of random faces.

import { expect, test } from "vitest";
import { readJob } from "../../src/job/read.ts";
import { faceOf } from "../../src/passes/tasks.ts";
import { boxOf, gridOver, insideMask } from "../../src/survey/field.ts";
import { stockHeights, uncutStock } from "../../src/survey/stock.ts";
import { randomJob } from "../oracles/random-jobs.ts";
import { measured, pointsAt } from "../survey/pieces.ts";

test("of a roof is its ridge, though no reading within the outline and no sample lies on it", () => {
  const places = [0.3, 50.7, 101.1].flatMap((x) => [[x, -50] as const, [x, 150] as const]);
  const piece = measured(pointsAt((x) => 60 - Math.abs(x - 50.7) / 5, places));
  expect(faceOf(uncutStock(piece), 0.5).highest).toBeCloseTo(60.5, 4);
});

test.each([3620, 3865, ...Array.from({ length: 20 }, (_, k) => k + 1)])(
  "of a random face is no lower than any sample of it, seed %i",
  (seed) => {
    const { pieces } = readJob(JSON.stringify(randomJob(seed).job), "random.json", { readText: () => "" });
    for (const stock of pieces.map(uncutStock)) {
      const { outline } = stock.piece;
      const grid = gridOver(boxOf([outline]), 0.73, 0);
      const inside = insideMask([outline], grid);
      const heights = stockHeights(stock, 0.5, grid).filter((_, k) => inside[k] === 1);
      const { highest } = faceOf(stock, 0.5);
      expect(heights.reduce((a, b) => Math.max(a, b))).toBeLessThan(highest + 2e-5); // single precision
    }
  },
);
