// Along the outline's edge before the rows, against break-out. (Random jobs of every kind take it, too:
// properties.test.ts.)

import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Ring } from "../../src/job/job.ts";
import type { Track } from "../../src/motion/track.ts";
import { planPasses } from "../../src/passes/passes.ts";
import { areaOf, difference, regionOf, swept } from "../../src/region/region.ts";
import { uncutStock } from "../../src/survey/stock.ts";
import { anyRing, rectangle } from "../region/shapes.ts";
import { box } from "../survey/pieces.ts";
import { machineWith, setupOf } from "./setups.ts";

const SEED = 20_261_125;
const RADIUS_MM = 30;
const FLOOR_MM = 50;

/** One layer, rows along X, all one way, so that there are no arcs. */
function trackOver(outline: Ring, stepoverShare = 0.6): Track {
  const pieces = [box(FLOOR_MM + 1.5, outline)];
  const setup = setupOf({ pieces, passes: { edgeFirst: true, stepoverShare, rows: "one-way" } });
  return planPasses(setup, machineWith(), pieces.map(uncutStock), 0, "mm").track;
}

/** The ways that the disc goes at the floor, one for each time that it comes down. */
function waysAtFloor({ x, y, z, count }: Track): Ring[] {
  const ways: number[][] = [];
  for (let k = 1; k < count; k++) {
    if (Math.abs(z[k] - FLOOR_MM) > 1e-6) continue;
    if (Math.abs(z[k - 1] - FLOOR_MM) > 1e-6) ways.push([]);
    ways.at(-1)?.push(x[k], y[k]);
  }
  return ways.map((way) => Float64Array.from(way));
}

function standing(outline: Ring, track: Track): number {
  return areaOf(difference(regionOf([outline]), swept(waysAtFloor(track), RADIUS_MM)));
}

describe("edge first", () => {
  test("the first way goes all around, clockwise, within the edge by a third of the radius at this stepover", () => {
    const board = rectangle(0, 0, 600, 300);
    const [way] = waysAtFloor(trackOver(board));
    // It comes in from the air; the first place that it comes back to closes the way around.
    const back = (from: number) => {
      for (let k = from + 4; k < way.length; k += 2)
        if (Math.hypot(way[k] - way[from], way[k + 1] - way[from + 1]) < 1e-6) return k;
      return -1;
    };
    let from = 0;
    while (back(from) < 0 && from < way.length) from += 2;
    let area = 0;
    for (let k = from + 2; k <= back(from); k += 2)
      area += (way[k - 2] * way[k + 1] - way[k] * way[k - 1]) / 2;
    // The disc takes 0.6 x 60 mm: 6.3 mm of it lie inside its centre's way, less a hair. By hand.
    expect(area).toBeLessThan(-585 * 285);
    expect(area).toBeGreaterThan(-590 * 290);
  });

  test("what is too narrow for a way around is cut all the same", () => {
    const corners = [
      [0, 0],
      [400, 0],
      [400, 96],
      [620, 96],
      [620, 104],
      [400, 104],
      [400, 200],
      [0, 200],
    ];
    const tongue = Float64Array.from(corners.flat());
    expect(standing(tongue, trackOver(tongue))).toBeLessThan(1);
  });

  test("property: nothing is left standing, whatever the outline and the stepover", () => {
    fc.assert(
      fc.property(anyRing(300), fc.constantFrom(0.3, 0.6, 0.85, 1), (outline, stepover) => {
        expect(standing(outline, trackOver(outline, stepover))).toBeLessThan(1);
      }),
      { seed: SEED, numRuns: 30 },
    );
  });
});
