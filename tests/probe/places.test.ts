import { readFileSync } from "node:fs";
import { join } from "node:path";
import Delaunator from "delaunator";
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { readCsv } from "../../src/job/csv.ts";
import { readJob } from "../../src/job/read.ts";
import { handList } from "../../src/probe/by-hand.ts";
import { readingsFor } from "../../src/probe/density.ts";
import type { Place } from "../../src/probe/ground.ts";
import { gridStations, thereAndBack } from "../../src/probe/places.ts";
import { areaOf, intersection, regionOf } from "../../src/region/region.ts";
import { scatterOf } from "../../src/survey/scatter.ts";
import { type Loose, read } from "../job/example.ts";
import {
  anyRing,
  areaOfRing,
  distanceToEdges,
  isInside,
  polygon,
  rectangle,
  ringOf,
} from "../region/shapes.ts";

/** Share of a ring's area within the hull of places. */
function covered(ring: Float64Array, places: readonly Place[]): number {
  const { hull } = Delaunator.from(places.map(({ x, y }) => [x, y]));
  const around = ringOf(...[...hull].map((k) => [places[k].x, places[k].y] as const));
  return areaOf(intersection(regionOf([ring]), regionOf([around]))) / areaOfRing(ring);
}

describe("a grid of places", () => {
  test("golden: a rectangle of 900 x 300 at 160 apart, by hand 7 stations of 3", () => {
    const places = thereAndBack(gridStations(regionOf([rectangle(0, 0, 900, 300)]), 0, 160));
    const xs = Array.from({ length: 7 }, (_, k) => 0.02 + (k * 899.96) / 6);
    const expected = xs.flatMap((x, k) => [0, 150, 300].map((y) => [x, k % 2 === 0 ? y : 300 - y]));
    expect(places).toHaveLength(21);
    places.forEach(({ x, y }, k) => {
      expect(x).toBeCloseTo(expected[k][0], 6);
      expect(y).toBeCloseTo(expected[k][1], 6);
    });
  });

  const shapes: [string, Float64Array][] = [
    ["a rectangle", rectangle(0, 0, 1800, 600)],
    ["a slanted end", ringOf([0, 0], [1800, 0], [1500, 600], [300, 600])],
    ["a triangle", ringOf([0, 0], [1800, 100], [200, 700])],
    ["a round", polygon(600, 600, 580, 90)],
    ["a crooked slab", ringOf([0, 40], [500, 0], [1200, 90], [1800, 10], [1760, 520], [900, 610], [60, 500])],
  ];
  for (const [name, ring] of shapes)
    for (const degrees of [0, 17, 90])
      test(`${name}, grain at ${degrees} degrees: all on it, its hull covers it, no part far from a place`, () => {
        const places = gridStations(regionOf([ring]), (degrees * Math.PI) / 180, 150).flat();
        for (const { x, y } of places) expect(isInside([grownSlightly(ring)], x, y)).toBe(true);
        expect(covered(ring, places)).toBeGreaterThan(0.98);
        // In a grid of squares the middle of each is farthest: 0.71 of the spacing.
        for (let x = 0; x <= 1800; x += 30)
          for (let y = 0; y <= 1200; y += 30) {
            if (!isInside([ring], x, y)) continue;
            const near = Math.min(...places.map((place) => Math.hypot(place.x - x, place.y - y)));
            expect(near).toBeLessThan(0.85 * 150);
          }
      });
});

/** Places on the edge count as inside. */
function grownSlightly(ring: Float64Array): Float64Array {
  let [x, y] = [0, 0];
  for (let k = 0; k < ring.length; k += 2) {
    x += (2 * ring[k]) / ring.length;
    y += (2 * ring[k + 1]) / ring.length;
  }
  return ring.map((value, k) => value + (value - (k % 2 === 0 ? x : y)) * 1e-4);
}

describe("a list to fill in by hand", () => {
  const listOf = (length: number, width: number, change: (job: Loose) => void = () => {}) => {
    const job = read((raw) => {
      raw.pieces = [{ id: "slab", outline: { length, width, at: [20, 30] }, thickness: 40 }];
      change(raw);
    });
    return { job, ...handList(job) };
  };
  const rowsOf = (text: string) => text.split("\n").filter((line) => /^[\d.-]+,[\d.-]+,$/.test(line));

  test.each([
    [300, 150],
    [900, 300],
    [2400, 700],
    [3600, 1100],
  ])("of %d x %d mm: 12 to 30 places that cover it", (length, width) => {
    const { text, places } = listOf(length, width);
    const rows = rowsOf(text);
    expect(rows).toHaveLength(places);
    expect(places).toBeGreaterThanOrEqual(12);
    expect(places).toBeLessThanOrEqual(30);
    const read = rows.map((row) => row.split(",").map(Number)).map(([x, y]) => ({ x, y }));
    const ring = rectangle(20, 30, 20 + length, 30 + width);
    // 10 mm off on every side.
    expect(covered(ring, read)).toBeGreaterThan(((length - 21) * (width - 21)) / (length * width));
  });

  test("filled in, it is read without a change, whatever the table's program makes of its lines", () => {
    const { job, text } = listOf(900, 300);
    const filled = text.replace(/^([\d.]+),([\d.]+),$/gm, (_, x, y) => `${x},${y},${40 + x / 1000}`);
    // Saved again by a table's program: cells in quotes, empty cells, or semicolons and decimal commas.
    const padded = filled.replace(/^(#.*)$/gm, '"$1",,').replace(/\n/g, "\r\n");
    const german = filled.replace(/^\d.*$/gm, (row) => row.replace(/,/g, ";").replace(/\./g, ","));
    for (const version of [filled, padded, german.replace("x,y,z", "x;y;z")]) {
      const { readings, issues } = readCsv(version, "slab.csv", job.units);
      expect(issues).toEqual([]);
      if (readings?.kind !== "points") throw new Error("no points");
      expect(readings.xyz.length).toBe(3 * rowsOf(text).length);
      for (let k = 0; k < readings.xyz.length; k += 3)
        expect(readings.xyz[k + 2]).toBeCloseTo(40 + readings.xyz[k] / 1000, 9);
    }
  });

  test("not filled in, each line says so", () => {
    const { job, text, places } = listOf(900, 300);
    const { readings, issues } = readCsv(text, "slab.csv", job.units);
    expect(readings).toBeNull();
    expect(issues.length).toBe(Math.min(places, 20));
    for (const { line, text } of issues) {
      expect(line).toBeGreaterThan(7);
      expect(text).toBe("the height is not filled in yet; fill in the height or delete the line");
    }
  });

  test("places under keep-outs are moved beside them, and names cannot say anything to the reader", () => {
    const cleat = { outline: { length: 80, width: 50, at: [0, 20] }, height: 60 };
    const { text } = listOf(900, 300, (raw) => {
      raw.name = "units: furlongs\n5,5,5";
      raw.pieces[0].id = "shift: 9 9";
      raw.setups[0].keepOut = [cleat];
    });
    for (const row of rowsOf(text)) {
      const [x, y] = row.split(",").map(Number);
      expect(x > 84 || y > 74).toBe(true);
    }
    const filled = text.replace(/^([\d.]+),([\d.]+),$/gm, "$1,$2,40");
    expect(readCsv(filled, "slab.csv", "mm").issues).toEqual([]);
  });

  const placesOf = (outline: unknown, keepOut: Loose[] = []) => {
    const job = read((raw) => {
      raw.pieces = [{ id: "slab", outline, thickness: 40 }];
      raw.setups[0].keepOut = keepOut;
    });
    const places = rowsOf(handList(job).text).map((row) => row.split(",").map(Number));
    return { ring: job.pieces[0].outline, places: places.map(([x, y]) => ({ x, y })) };
  };
  const nearestTo = (places: readonly Place[], [x, y]: readonly number[]) =>
    Math.min(...places.map((place) => Math.hypot(place.x - x, place.y - y)));
  const nearestTwo = (places: readonly Place[]) =>
    Math.min(...places.map(({ x, y }, k) => nearestTo(places.slice(k + 1), [x, y])));

  // Corners: 10 mm inside either edge is 15 mm inside a square corner.
  const STATIONS: [number, number, number][] = [
    [50, 100, 840],
    [660, 75, 825],
    [1270, 90, 840],
    [1880, 110, 865],
    [2490, 100, 850],
  ];
  const corners: [string, unknown, number[][], number][] = [
    ["a rectangle", { length: 1000, width: 500, at: [0, 0] }, [[0, 0], [1000, 0], [1000, 500], [0, 500]], 12], // biome-ignore format: one case a line
    ["a slanted side", [[50, 100], [1016, 76], [1041, 635], [50, 838]], [[50, 100], [1016, 76], [1041, 635], [50, 838]], 12], // biome-ignore format: one case a line
    ["slanted ends", [[0, 0], [1800, 0], [1500, 600], [300, 600]], [[0, 0], [1800, 0], [1500, 600], [300, 600]], 21], // biome-ignore format: one case a line
    ["stations", { stations: STATIONS }, [[50, 100], [50, 840], [2490, 100], [2490, 850]], 27], // biome-ignore format: one case a line
    ["an L", [[0, 0], [1500, 0], [1500, 400], [600, 400], [600, 1000], [0, 1000]], [[0, 0], [1500, 0], [1500, 400], [600, 1000], [0, 1000]], 30], // biome-ignore format: one case a line
  ];
  test.each(corners)("%s: a place at each corner, none twice", (_, outline, wanted, most) => {
    const { places } = placesOf(outline);
    for (const corner of wanted) expect(nearestTo(places, corner), `${corner}`).toBeLessThan(26);
    expect(nearestTwo(places)).toBeGreaterThan(60);
    expect(places.length).toBeLessThanOrEqual(most);
  });

  test("any outline, with a cleat on it: all inside, all distinct, hardly any of the face beyond them", () => {
    const shares: number[] = [];
    const cleat = { name: "cleat", outline: { length: 90, width: 60, at: [0, 0] }, height: 60 };
    fc.assert(
      fc.property(anyRing(900), fc.boolean(), (ring, hasCleat) => {
        const outline = Array.from({ length: ring.length / 2 }, (_, k) => [...ring.slice(2 * k, 2 * k + 2)]);
        const ground = samplesOf(ring);
        fc.pre(ground.length > 200);
        const { places } = placesOf(outline, hasCleat ? [cleat] : []);
        for (const { x, y } of places) expect(isInside([ring], x, y)).toBe(true);
        for (const { x, y } of places) if (hasCleat) expect(x < -5 || x > 95 || y < -5 || y > 65).toBe(true);
        expect(nearestTwo(places)).toBeGreaterThan(6);
        const { hull } = Delaunator.from(places.map(({ x, y }) => [x, y]));
        const around = ringOf(...[...hull].map((k) => [places[k].x, places[k].y] as const));
        const beyond = ground.filter(([x, y]) => !isInside([around], x, y)).length / ground.length;
        expect(beyond).toBeLessThan(0.15);
        shares.push(beyond);
      }),
      { numRuns: 150, seed: 12, endOnFailure: true },
    );
    shares.sort((a, b) => a - b);
    expect(shares[Math.floor(0.9 * shares.length)]).toBeLessThan(0.04);
  });

  /** Places of a ring that a foot of 10 mm can stand on. */
  function samplesOf(ring: Float64Array): [number, number][] {
    const samples: [number, number][] = [];
    for (let x = -1800; x <= 4500; x += 37)
      for (let y = -1800; y <= 2700; y += 37)
        if (isInside([ring], x, y) && distanceToEdges([ring], x, y) > 12) samples.push([x, y]);
    return samples;
  }

  test("a long slab is read near both edges at either end", () => {
    const station = fc.record({
      step: fc.double({ min: 200, max: 500, noNaN: true }),
      near: fc.double({ min: -50, max: 50, noNaN: true }),
      wide: fc.double({ min: 450, max: 900, noNaN: true }),
    });
    fc.assert(
      fc.property(fc.array(station, { minLength: 5, maxLength: 9 }), (stations) => {
        let at = 0;
        const lines = stations.map(({ step, near, wide }) => {
          at += step;
          return [at, near, near + wide];
        });
        const { places } = placesOf({ stations: lines });
        expect(nearestTwo(places)).toBeGreaterThan(20);
        expect(places.length).toBeLessThanOrEqual(30);
        for (const [x, near, far] of [lines[0], lines.at(-1)!])
          for (const y of [near, far]) expect(nearestTo(places, [x, y])).toBeLessThan(100);
      }),
      { numRuns: 100, seed: 3, endOnFailure: true },
    );
  });

  test("golden: inches come in sixteenths", () => {
    const file = join(import.meta.dirname, "../../samples/live-edge-cleats/job.json");
    const job = readJob(readFileSync(file, "utf8"), file, { readText: (path) => readFileSync(path, "utf8") });
    const rows = rowsOf(handList(job).text);
    expect(rows).toHaveLength(24);
    for (const row of rows)
      for (const number of row.split(",").slice(0, 2)) expect((Number(number) * 16) % 1).toBe(0);
  });
});

describe("how many readings a margin needs", () => {
  test("by hand: half the room for the bulge takes twice the readings", () => {
    const scatter = { sigmaMm: 0.125, sagMm: 0.5, suspects: [], worst: null };
    expect(readingsFor(0.875, 50, scatter)).toBe(50);
    expect(readingsFor(0.625, 50, scatter)).toBe(100);
    expect(readingsFor(0.375, 50, scatter)).toBeNull();
  });

  test("what few readings foretell for many is what many say themselves", () => {
    // A crown along X of 8 mm in 2 m, exactly read.
    const crown = (step: number) => {
      const points: number[] = [];
      for (let x = 0; x <= 2000; x += step)
        for (let y = 0; y <= 800; y += step) points.push(x, y, 50 - 8 * ((x - 1000) / 1000) ** 2);
      return { kind: "points", xyz: Float64Array.from(points) } as const;
    };
    const [coarse, fine] = [crown(200), crown(100)];
    const needed = readingsFor(scatterOf(fine).sagMm, coarse.xyz.length / 3, scatterOf(coarse)) ?? 0;
    // The rim makes 11 x 5 and 21 x 9 of what would be a factor of 4.
    expect(needed / (fine.xyz.length / 3)).toBeGreaterThan(0.8);
    expect(needed / (fine.xyz.length / 3)).toBeLessThan(1.3);
  });
});
