// How near a straight way comes to an outline, against places put along the way one by one.

import fc from "fast-check";
import { expect, test } from "vitest";
import { distanceToRing } from "../../src/proof/distance.ts";
import { anyRing, distanceToArea, rectangle } from "../region/shapes.ts";

const SEED = 20_260_302;
const SQUARE = rectangle(0, 0, 10, 10);

test.each([
  ["beside it", -5, -3, -5, 20, 5],
  ["past a corner", -3, 10, 0, 14, Math.sqrt(5.76)], // 2.4 from (0, 10): 3 * 4 / 5
  ["ending short of it", 5, 30, 5, 12, 2],
  ["right through it", -5, 5, 15, 5, 0],
  ["ending in it", 20, 5, 9, 5, 0],
  ["beginning in it", 9, 5, 20, 5, 0],
  ["wholly in it", 3, 3, 7, 7, 0],
  ["along its edge", -5, 10, 15, 10, 0],
  ["touching a corner", -5, 5, 5, 15, 0],
  ["of no length, outside", 13, 14, 13, 14, 5],
  ["of no length, inside", 5, 5, 5, 5, 0],
])("a way %s", (_, ax, ay, bx, by, distance) => {
  expect(distanceToRing(SQUARE, ax, ay, bx, by)).toBeCloseTo(distance, 9);
  expect(distanceToRing(SQUARE, bx, by, ax, ay)).toBeCloseTo(distance, 9);
});

test("any way by any outline comes as near as the nearest of its places", () => {
  const place = fc.double({ min: -300, max: 300, noNaN: true });
  fc.assert(
    fc.property(anyRing(), place, place, place, place, (ring, ax, ay, bx, by) => {
      const distance = distanceToRing(ring, ax, ay, bx, by);
      const steps = 200;
      let nearest = Number.POSITIVE_INFINITY;
      for (let k = 0; k <= steps; k++) {
        const t = k / steps;
        nearest = Math.min(nearest, distanceToArea([ring], ax + t * (bx - ax), ay + t * (by - ay)));
      }
      const halfStep = Math.hypot(bx - ax, by - ay) / steps / 2;
      expect(distance).toBeLessThanOrEqual(nearest + 1e-9);
      expect(distance).toBeGreaterThanOrEqual(nearest - halfStep - 1e-9);
    }),
    { seed: SEED, numRuns: 150 },
  );
});
