import fc from "fast-check";
import { describe, expect, test } from "vitest";
import {
  areaOf,
  difference,
  EMPTY,
  grown,
  intersection,
  isEmpty,
  parts,
  type Region,
  regionOf,
  regionWithHoles,
  rings,
  shrunk,
  union,
} from "../../src/region/region.ts";
import {
  anyRing,
  areaOfRing,
  areaOfRings,
  begunAt,
  dice,
  distanceToArea,
  distanceToEdges,
  isInside,
  perimeterOf,
  placesAlong,
  polygon,
  rectangle,
  reversed,
  ringOf,
} from "./shapes.ts";

const SEED = 20_260_215;
const plan = { seed: SEED, numRuns: 80 };
/** Whole micrometres inside: corners move by up to half of one, along each axis. */
const ROUNDING_MM = 0.001;

/** Area that rounding corners to whole micrometres may take or give. */
function byRounding(region: Region): number {
  return ROUNDING_MM * (perimeterOf(rings(region)) + 1);
}

describe("areas by hand", () => {
  const square = regionOf([rectangle(0, 0, 100, 100)]);
  const beside = regionOf([rectangle(60, 30, 200, 80)]);

  test("union, intersection and difference of two rectangles", () => {
    expect(areaOf(square)).toBe(10_000);
    expect(areaOf(intersection(square, beside))).toBe(40 * 50);
    expect(areaOf(union(square, beside))).toBe(10_000 + 7000 - 2000);
    expect(areaOf(difference(square, beside))).toBe(8000);
    expect(areaOf(difference(beside, square))).toBe(5000);
  });

  test("with nothing", () => {
    expect(areaOf(EMPTY)).toBe(0);
    expect(isEmpty(EMPTY)).toBe(true);
    expect(areaOf(union())).toBe(0);
    expect(areaOf(union(EMPTY, square, EMPTY))).toBe(10_000);
    expect(isEmpty(intersection(square, EMPTY))).toBe(true);
    expect(isEmpty(intersection(EMPTY, square))).toBe(true);
    expect(areaOf(difference(square, EMPTY))).toBe(10_000);
    expect(isEmpty(difference(EMPTY, square))).toBe(true);
    expect(isEmpty(difference(square, square))).toBe(true);
    expect(isEmpty(grown(EMPTY, 5))).toBe(true);
    expect(isEmpty(shrunk(EMPTY, 5))).toBe(true);
    expect(parts(EMPTY)).toEqual([]);
    expect(isEmpty(regionOf([]))).toBe(true);
  });

  test("what touches along an edge becomes one, without a seam", () => {
    const both = union(square, regionOf([rectangle(100, 20, 150, 50)]));
    expect(areaOf(both)).toBe(11_500);
    expect(parts(both)).toHaveLength(1);
  });

  test("rings that overlap are one area; with holes, what lies in two rings is a hole", () => {
    const outer = rectangle(0, 0, 100, 100);
    const inner = rectangle(20, 20, 60, 50);
    expect(areaOf(regionOf([outer, inner]))).toBe(10_000);
    for (const hole of [inner, reversed(inner)]) {
      expect(areaOf(regionWithHoles([outer, hole]))).toBe(8800);
      expect(areaOf(regionWithHoles([reversed(hole), reversed(outer)]))).toBe(8800);
    }
  });

  test("a clockwise ring is the same area", () => {
    expect(areaOf(regionOf([reversed(rectangle(0, 0, 30, 20))]))).toBe(600);
  });

  test("outer rings come back counter-clockwise, holes clockwise", () => {
    const framed = difference(square, regionOf([rectangle(20, 20, 60, 50)]));
    const areas = rings(framed)
      .map(areaOfRing)
      .sort((a, b) => a - b);
    expect(areas).toEqual([-1200, 10_000]);
  });
});

describe("offsets by hand", () => {
  const [d, r] = [31.75, 300];
  /** Never smaller than asked and at most 25 um larger, so the area grows by up to that times the border. */
  const expectGrown = (region: Region, exact: number, border: number) => {
    expect(areaOf(region)).toBeGreaterThan(exact - 0.001 * border);
    expect(areaOf(region)).toBeLessThan(exact + 0.025 * border);
  };

  test("a square grows by its sides and a disc", () => {
    const exact = 1e6 + 4000 * d + Math.PI * d * d;
    expectGrown(grown(regionOf([rectangle(0, 0, 1000, 1000)]), d), exact, 4000 + 2 * Math.PI * d);
  });

  test("a circle grows to a circle", () => {
    const circle = polygon(500, -200, r, 600);
    const exact = areaOfRing(circle) + perimeterOf([circle]) * d + Math.PI * d * d;
    expect(exact / (Math.PI * (r + d) ** 2)).toBeCloseTo(1, 4);
    expectGrown(grown(regionOf([circle]), d), exact, 2 * Math.PI * (r + d));
  });

  // A hair of a rectangle stands in for a line: 600 x 0.2 mm.
  test("a line grows to a stadium", () => {
    const exact = 600 * 0.2 + 2 * 600.2 * d + Math.PI * d * d;
    expectGrown(grown(regionOf([rectangle(0, -0.1, 600, 0.1)]), d), exact, 1200 + 2 * Math.PI * d);
  });

  test("a ring of wood grows to both sides; a hole narrower than twice that closes", () => {
    const corners = 300;
    const hole = polygon(0, 0, 100, corners);
    const outer = polygon(0, 0, r, corners);
    const annulus = regionWithHoles([outer, hole]);
    // What is left of the hole is the like polygon whose sides lie d nearer to the middle.
    const left = areaOfRing(hole) * (1 - d / (100 * Math.cos(Math.PI / corners))) ** 2;
    const around = (by: number) => areaOfRing(outer) + perimeterOf([outer]) * by + Math.PI * by * by;
    expectGrown(grown(annulus, d), around(d) - left, 2 * Math.PI * (400 + d));
    expectGrown(grown(annulus, 100.1), around(100.1), 2 * Math.PI * 400.1);
  });

  test("a square shrinks to a square, a circle to a circle, and what is too narrow to nothing", () => {
    expect(areaOf(shrunk(regionOf([rectangle(0, 0, 1000, 1000)]), d))).toBeCloseTo((1000 - 2 * d) ** 2, 1);
    const corners = 600;
    const exact = areaOfRing(polygon(0, 0, r, corners)) * (1 - d / (r * Math.cos(Math.PI / corners))) ** 2;
    const circle = areaOf(shrunk(regionOf([polygon(0, 0, r, corners)]), d));
    expect(Math.abs(circle - exact)).toBeLessThan(0.025 * 2 * Math.PI * (r - d));
    expect(isEmpty(shrunk(regionOf([rectangle(0, 0, 1000, 63)]), d))).toBe(true);
  });

  test("a waist narrower than twice the distance parts what is shrunk", () => {
    const bell = regionOf([
      rectangle(0, 0, 200, 200),
      rectangle(200, 80, 400, 120),
      rectangle(400, 0, 600, 200),
    ]);
    expect(parts(shrunk(bell, 19))).toHaveLength(1);
    expect(parts(shrunk(bell, 21))).toHaveLength(2);
  });

  test("two pieces nearer than twice the distance grow together, and not before", () => {
    const pair = regionOf([rectangle(0, 0, 100, 100), rectangle(160, 0, 260, 100)]);
    expect(parts(grown(pair, 29.9))).toHaveLength(2);
    expect(parts(grown(pair, 30.1))).toHaveLength(1);
  });
});

test("what is grown of more corners than a bench has still covers the true area, and hardly more", () => {
  const circle = (radiusMm: number) =>
    Float64Array.from({ length: 10_000 }, (_, k) => {
      const angle = (2 * Math.PI * Math.floor(k / 2)) / 5000;
      return radiusMm * (k % 2 === 0 ? Math.cos(angle) : Math.sin(angle));
    });
  const area = areaOf(grown(regionOf([circle(50)]), 10));
  expect(area).toBeGreaterThanOrEqual(Math.PI * 60 ** 2 - 0.5);
  expect(area).toBeLessThan(Math.PI * 60.03 ** 2);
});

describe("properties of areas", () => {
  test("a ring keeps its area, wherever it begins and whichever way it runs", () => {
    fc.assert(
      fc.property(anyRing(), fc.nat(20), (ring, start) => {
        const region = regionOf([ring]);
        const area = areaOf(region);
        expect(Math.abs(area - areaOfRing(ring))).toBeLessThan(byRounding(region));
        expect(areaOf(regionOf([begunAt(ring, start)]))).toBeCloseTo(area, 3);
        expect(areaOf(regionOf([reversed(ring)]))).toBeCloseTo(area, 3);
        expect(areaOfRings(rings(region))).toBeCloseTo(area, 3);
      }),
      plan,
    );
  });

  test("union, intersection and difference hold the places they should, and no others", () => {
    fc.assert(
      fc.property(anyRing(), anyRing(), fc.nat(), (a, b, seed) => {
        const [ra, rb] = [regionOf([a]), regionOf([b])];
        const both = rings(intersection(ra, rb));
        const either = rings(union(ra, rb));
        const only = rings(difference(ra, rb));
        const next = dice(seed);
        const near = (at: number) => a[at] + 4 * (next() - 0.5);
        for (let k = 0; k < 150; k++) {
          const corner = 2 * Math.floor((next() * a.length) / 2);
          const [x, y] =
            k % 3 === 0 ? [near(corner), near(corner + 1)] : [1200 * next() - 600, 1200 * next() - 600];
          if (distanceToEdges([a, b], x, y) < 3 * ROUNDING_MM) continue;
          const [inA, inB] = [isInside([a], x, y), isInside([b], x, y)];
          const found = [isInside(both, x, y), isInside(either, x, y), isInside(only, x, y)];
          const right = [inA && inB, inA || inB, inA && !inB];
          if (found.join() !== right.join()) throw new Error(`${found} at ${x}, ${y}; right is ${right}`);
        }
      }),
      plan,
    );
  });

  test("areas of union and intersection add up to those of the parts; so do both halves of a cut", () => {
    fc.assert(
      fc.property(anyRing(), anyRing(), (a, b) => {
        const [ra, rb] = [regionOf([a]), regionOf([b])];
        const both = areaOf(intersection(ra, rb));
        const slack = 3 * (byRounding(ra) + byRounding(rb));
        expect(Math.abs(areaOf(union(ra, rb)) + both - areaOf(ra) - areaOf(rb))).toBeLessThan(slack);
        expect(Math.abs(areaOf(difference(ra, rb)) + both - areaOf(ra))).toBeLessThan(slack);
        expect(Math.abs(areaOf(union(rb, ra)) - areaOf(union(ra, rb)))).toBeLessThan(slack);
      }),
      plan,
    );
  });

  test("parts are connected, share nothing, and make up the whole", () => {
    fc.assert(
      fc.property(anyRing(), anyRing(150), anyRing(60), (a, b, c) => {
        const whole = union(difference(regionOf([a]), regionOf([b])), regionOf([c]));
        const found = parts(whole);
        const area = found.reduce((sum, part) => sum + areaOf(part), 0);
        expect(Math.abs(area - areaOf(whole))).toBeLessThan(byRounding(whole));
        found.forEach((part, k) => {
          const outers = rings(part).filter((ring) => areaOfRing(ring) > 0);
          expect(outers).toHaveLength(1);
          expect(parts(part)).toHaveLength(1);
          for (const other of found.slice(k + 1))
            expect(areaOf(intersection(part, other))).toBeLessThan(byRounding(part));
        });
      }),
      { ...plan, numRuns: 40 },
    );
  });
});

describe("properties of offsets", () => {
  const distance = fc.constantFrom(0.7, 5, 31.75, 60);

  test("grown is never smaller than asked and at most 25 um larger", () => {
    fc.assert(
      fc.property(anyRing(), distance, (ring, d) => {
        const source = rings(regionOf([ring]));
        for (const [x, y] of placesAlong(rings(grown(regionOf([ring]), d)), 3)) {
          const away = distanceToArea(source, x, y);
          if (away < d || away > d + 0.025)
            throw new Error(`the border of ${d} mm runs ${away} mm away at ${x}, ${y}`);
        }
      }),
      plan,
    );
  });

  test("grown leaves no place out that lies within the distance, and takes none in beyond it", () => {
    fc.assert(
      fc.property(anyRing(), anyRing(100), distance, fc.nat(), (a, b, d, seed) => {
        const region = difference(regionOf([a]), regionOf([b]));
        const source = rings(region);
        const all = rings(grown(region, d));
        const next = dice(seed);
        for (let k = 0; k < 100; k++) {
          const [x, y] = [1400 * next() - 700, 1400 * next() - 700];
          const away = distanceToArea(source, x, y);
          if (away > d && away < d + 0.025) continue;
          if (isInside(all, x, y) !== away <= d)
            throw new Error(`${away} mm away at ${x}, ${y}, grown by ${d}`);
        }
      }),
      plan,
    );
  });

  test("shrunk keeps all that lies at least the distance inside, good to 15 um", () => {
    fc.assert(
      fc.property(anyRing(), anyRing(100), distance, fc.nat(), (a, b, d, seed) => {
        const region = difference(regionOf([a]), regionOf([b]));
        const source = rings(region);
        const left = rings(shrunk(region, d));
        for (const [x, y] of placesAlong(left, 3)) {
          const depth = isInside(source, x, y) ? distanceToEdges(source, x, y) : 0;
          if (Math.abs(depth - d) > 0.015)
            throw new Error(`the border of ${d} mm runs ${depth} mm inside at ${x}, ${y}`);
        }
        const next = dice(seed);
        for (let k = 0; k < 60; k++) {
          const [x, y] = [1200 * next() - 600, 1200 * next() - 600];
          const depth = isInside(source, x, y) ? distanceToEdges(source, x, y) : 0;
          // Crumbs under 0.01 mm are dropped, so what is hardly left may be gone.
          if (Math.abs(depth - d) < 0.03) continue;
          if (isInside(left, x, y) !== depth > d)
            throw new Error(`${depth} mm deep at ${x}, ${y}, shrunk by ${d}`);
        }
      }),
      plan,
    );
  });

  test("growing by two distances one after the other is growing by their sum", () => {
    fc.assert(
      fc.property(anyRing(150), (ring) => {
        const region = regionOf([ring]);
        const once = grown(region, 12);
        const twice = grown(grown(region, 5), 7);
        expect(Math.abs(areaOf(once) - areaOf(twice))).toBeLessThan(0.05 * (perimeterOf(rings(once)) + 1));
      }),
      { ...plan, numRuns: 40 },
    );
  });
});

describe("crumbs", () => {
  test("parts thinner than 10 um or smaller than its square are dropped, others stay", () => {
    expect(isEmpty(regionOf([rectangle(0, 0, 500, 0.008)]))).toBe(true);
    expect(isEmpty(regionOf([rectangle(0, 0, 0.008, 0.008)]))).toBe(true);
    expect(areaOf(regionOf([rectangle(0, 0, 500, 0.02)]))).toBeCloseTo(10, 6);
    expect(areaOf(regionOf([rectangle(0, 0, 0.03, 0.03)]))).toBeCloseTo(0.0009, 9);
  });

  test("what rounding leaves of an area less itself turned about is nothing worth cutting", () => {
    fc.assert(
      fc.property(anyRing(), (ring) => {
        const region = regionOf([ring]);
        const again = grown(shrunk(grown(region, 3), 3), 0.05);
        expect(isEmpty(difference(region, again))).toBe(true);
      }),
      { ...plan, numRuns: 40 },
    );
  });
});

describe("parts by hand", () => {
  test("an island in a hole is a part of its own", () => {
    const target = regionWithHoles([
      rectangle(0, 0, 100, 100),
      rectangle(10, 10, 90, 90),
      rectangle(20, 20, 80, 80),
      rectangle(30, 30, 70, 70),
    ]);
    const areas = parts(target)
      .map(areaOf)
      .sort((a, b) => a - b);
    expect(areas).toEqual([3600 - 1600, 10_000 - 6400]);
  });

  test("two rectangles that meet at a corner make up their area, however they are told apart", () => {
    const touching = union(regionOf([rectangle(0, 0, 10, 10)]), regionOf([rectangle(10, 10, 30, 30)]));
    expect(parts(touching).reduce((sum, part) => sum + areaOf(part), 0)).toBe(500);
  });
});

describe("corners that no bench has", () => {
  test.each([Number.NaN, Number.POSITIVE_INFINITY, 47_001, -1e9])(
    "a corner at %f is our own fault, and is said so",
    (x) => {
      expect(() => regionOf([ringOf([0, 0], [x, 0], [0, 10])])).toThrow(/at fault/);
    },
  );

  test.each([0, -1, Number.NaN])("so is a distance of %f", (d) => {
    const region = regionOf([rectangle(0, 0, 10, 10)]);
    expect(() => grown(region, d)).toThrow(/at fault/);
    expect(() => shrunk(region, d)).toThrow(/at fault/);
  });
});
