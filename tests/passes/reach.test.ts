import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Machine, Setup } from "../../src/job/job.ts";
import { blocks, edgesOf, Turn } from "../../src/passes/edges.ts";
import { type Forbidden, forbiddenAt, unreachable } from "../../src/passes/reach.ts";
import { areaOf, difference, EMPTY, isEmpty, type Region, regionOf, rings } from "../../src/region/region.ts";
import {
  anyRing,
  distanceToArea,
  distanceToEdges,
  isInside,
  placesAlong,
  rectangle,
} from "../region/shapes.ts";
import { keepOut, type SetupChange, setupOf } from "./setups.ts";

const SEED = 20_260_222;
const CLEAT = rectangle(100, 50, 140, 70);
const NOSE = { diameterMm: 110, aboveMm: 45 };

/** How far the border runs outside what is forbidden. */
const HAIR = 0.06;

/** How near to the cleat the border of an area runs: all of it at one distance. */
function awayOf(region: Region, from = [CLEAT]): { least: number; most: number } {
  const places = placesAlong(rings(region), 5).map(([x, y]) => distanceToArea(from, x, y));
  return { least: Math.min(...places), most: Math.max(...places) };
}

/** The centre stays a distance off, a hair more where it goes around; ways are free a little inside that. */
function expectAway({ border, core }: Forbidden, mm: number): void {
  expect(awayOf(border).least).toBeGreaterThanOrEqual(mm + HAIR);
  expect(awayOf(border).most).toBeLessThanOrEqual(mm + HAIR + 0.025);
  expect(awayOf(core).least).toBeGreaterThan(mm + 0.03);
  expect(awayOf(core).least).toBeLessThan(awayOf(border).least);
  expect(awayOf(core).most).toBeLessThan(awayOf(border).most);
}

function forbidden(
  setup: Setup,
  nose: Machine["nose"] = null,
  zMm = 50,
  standing: Region = EMPTY,
): Forbidden {
  return forbiddenAt(setup, nose, zMm, standing);
}

const around = (heightMm: number, change: SetupChange = {}) =>
  setupOf({ keepOuts: [keepOut(CLEAT, heightMm)], ...change });

describe("where the centre must not go", () => {
  test("with the edge under a keep-out's top: its outline, the cutter's radius and the side clearance", () => {
    const found = forbidden(around(60));
    expectAway(found, 30 + 5);
    expect(found.obstacles.map(({ distanceMm }) => distanceMm)).toEqual([35]);
  });

  test("the clearance is the setup's", () => {
    expectAway(forbidden(around(60, { clear: { zMm: 10, sideMm: 12.5 }, diameterMm: 25 })), 25);
  });

  test("a keep-out as high as the edge blocks, a hair lower it does not", () => {
    expect(isEmpty(forbidden(around(50)).core)).toBe(false);
    expect(forbidden(around(50), null, 50.001)).toEqual({
      obstacles: [],
      core: EMPTY,
      border: EMPTY,
      band: EMPTY,
    });
  });

  test("a keep-out that reaches the spindle's nose keeps that away, whichever is the wider", () => {
    expectAway(forbidden(around(95), NOSE), 55 + 5);
    expectAway(forbidden(around(94.9), NOSE), 30 + 5);
    expectAway(forbidden(around(95), { diameterMm: 40, aboveMm: 45 }), 30 + 5);
  });

  test("wood left standing up to the nose keeps the nose away, and only that", () => {
    const standing = regionOf([CLEAT]);
    expectAway(forbidden(setupOf(), NOSE, 50, standing), 55 + 5);
    expect(isEmpty(forbidden(setupOf(), null, 50, standing).core)).toBe(true);
  });

  test("what a disc on the border cleans overlaps the ground left to rows", () => {
    const { border, band } = forbidden(around(60));
    expect(awayOf(band).most).toBeLessThan(awayOf(border).least + 30 - 0.05);
    expect(awayOf(band).least).toBeGreaterThan(awayOf(border).most + 29);
  });

  test("keep-outs near each other are one", () => {
    const setup = setupOf({ keepOuts: [keepOut(CLEAT, 60), keepOut(rectangle(200, 50, 240, 70), 60)] });
    expect(rings(forbidden(setup).core)).toHaveLength(1);
  });

  test("property: a centre outside the core is far enough from every keep-out, and all that is farther is free", () => {
    const height = fc.constantFrom(30, 60, 120);
    const drawn = fc.array(fc.tuple(anyRing(120), height), { minLength: 1, maxLength: 3 });
    const at = fc.integer({ min: -3000, max: 3000 }).map((tenths) => tenths / 10);
    const places = fc.array(fc.tuple(at, at), { minLength: 30, maxLength: 60 });
    fc.assert(
      fc.property(drawn, fc.constantFrom(null, NOSE), places, (given, nose, asked) => {
        const setup = setupOf({ keepOuts: given.map(([outline, h]) => keepOut(outline, h)) });
        const core = rings(forbidden(setup, nose).core);
        for (const [x, y] of asked) {
          const spare = Math.min(
            ...given.map(([outline, h]) => {
              const away = distanceToArea([outline], x, y) - 5;
              return Math.min(h >= 50 ? away - 30 : 1e9, nose !== null && h >= 95 ? away - 55 : 1e9);
            }),
          );
          // Within the hair, and what drawing arcs adds to it, it may be either.
          if (spare > 0 && spare < HAIR + 0.026) continue;
          if (isInside(core, x, y) !== spare <= 0) throw new Error(`${spare} mm to spare at ${x}, ${y}`);
        }
      }),
      { seed: SEED, numRuns: 40 },
    );
  });

  test("property: the way along the border is free", () => {
    fc.assert(
      fc.property(anyRing(120), anyRing(120), (a, b) => {
        const { border, core } = forbidden(setupOf({ keepOuts: [keepOut(a, 60), keepOut(b, 60)] }));
        const inside = edgesOf(core, new Turn(0));
        for (const ring of rings(border))
          for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2)
            if (blocks(inside, ring[p], ring[p + 1], ring[k], ring[k + 1]))
              throw new Error(`from ${ring[p]}, ${ring[p + 1]} to ${ring[k]}, ${ring[k + 1]}`);
      }),
      { seed: SEED, numRuns: 60 },
    );
  });

  test("what was forbidden on the layer above stays so, and ways along it are free", () => {
    fc.assert(
      fc.property(anyRing(120), anyRing(120), (low, high) => {
        const setup = setupOf({ keepOuts: [keepOut(low, 51), keepOut(high, 60)] });
        const above = forbiddenAt(setup, null, 52, EMPTY);
        const below = forbiddenAt(setup, null, 50, EMPTY, above.border);
        expect(isEmpty(difference(above.border, below.border))).toBe(true);
        const inside = edgesOf(below.core, new Turn(0));
        for (const ring of rings(below.border))
          for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2)
            if (blocks(inside, ring[p], ring[p + 1], ring[k], ring[k + 1]))
              throw new Error("the way along the border is not free");
      }),
      { seed: SEED, numRuns: 30 },
    );
  });
});

describe("what the cutter cannot reach", () => {
  test("without keep-outs nothing is out of reach", () => {
    expect(isEmpty(unreachable(forbidden(setupOf()), 30))).toBe(true);
  });

  // By hand: the centre stays 35 mm off, so the rim comes within 5 mm: 50 x 30 with corners of radius 5.
  test("around a cleat it is the clearance, the hair, and up to 0.1 mm", () => {
    const area = areaOf(unreachable(forbidden(around(60)), 30));
    const exact = (by: number) => 40 * 20 + 2 * (40 + 20) * by + Math.PI * by * by;
    expect(area).toBeGreaterThan(exact(5 + HAIR));
    expect(area).toBeLessThan(exact(5 + HAIR + 0.1));
  });

  test("property: what lies outside of it is under some disc whose centre is allowed", () => {
    fc.assert(
      fc.property(anyRing(150), fc.nat(), (outline, pick) => {
        const found = forbidden(setupOf({ keepOuts: [keepOut(outline, 60)] }));
        const border = rings(found.border);
        const places = placesAlong(rings(unreachable(found, 30)), 1);
        const [x, y] = places[pick % places.length];
        // Nearest to a place inside the border is the border itself: a disc on it must reach the place.
        if (isInside(border, x, y)) expect(distanceToEdges(border, x, y)).toBeLessThan(30);
      }),
      { seed: SEED, numRuns: 25 },
    );
  });
});
