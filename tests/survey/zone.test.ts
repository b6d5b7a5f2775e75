// What holds for every face: where it lies and how it is given must not matter. Against outside sources:
// external/flatness.test.ts.

import { describe, expect, test } from "vitest";
import { fieldCloud, pointCloud, together } from "../../src/survey/cloud.ts";
import type { HeightField } from "../../src/survey/field.ts";
import { minimumZone, type Planes, thickestPlank } from "../../src/survey/zone.ts";
import { Dice } from "../oracles/random-jobs.ts";

const zoneOf = (...points: number[][]) => minimumZone(pointCloud(Float64Array.from(points.flat())));
const SEEDS = Array.from({ length: 20 }, (_, k) => k + 1);

function randomPoints(dice: Dice, count: number, z0: number): Float64Array {
  const [cup, bow, twist] = [dice.between(-6, 6), dice.between(-5, 5), dice.between(-6, 6)];
  return Float64Array.from(
    Array.from({ length: count }).flatMap(() => {
      const [u, v] = [dice.between(-1, 1), dice.between(-1, 1)];
      const z = z0 + cup * v * v + bow * u * u + twist * u * v + dice.next();
      return [1200 * (u + 1), 300 * (v + 1), z];
    }),
  );
}

function heightOver({ a, b, c }: Planes, xyz: Float64Array, k: number): number {
  const square = Math.sqrt(1 + a * a + b * b);
  return (xyz[k + 2] - (a * xyz[k] + b * xyz[k + 1] + c)) / square;
}

describe("faces of few points", () => {
  test("one point, and one many times over, are flat and level", () => {
    expect(zoneOf([1, 2, 3])).toMatchObject({ a: 0, b: 0, c: 3, apartMm: 0 });
    expect(zoneOf([5, 5, 5], [5, 5, 5], [5, 5, 5])).toMatchObject({ a: 0, b: 0, c: 5, apartMm: 0 });
  });

  test("two and three points lie in a plane", () => {
    const two = zoneOf([0, 0, 0], [100, 0, 5]);
    expect(two.apartMm).toBeLessThan(1e-9);
    expect([two.a, two.b]).toEqual([expect.closeTo(0.05, 9), expect.closeTo(0, 9)]);
    const three = zoneOf([0, 0, 0], [1000, 0, 5], [0, 500, -1]);
    expect(three.apartMm).toBeLessThan(1e-9);
    expect([three.a, three.b]).toEqual([expect.closeTo(0.005, 9), expect.closeTo(-0.002, 9)]);
  });

  test("points on one line in plan tilt the planes along it and not beside it (by hand: 3.5 along Z)", () => {
    // The plane through the first and the third, 0.5 up from point to point, leaves the second 3.5 above.
    const zone = zoneOf([0, 0, 0], [100, 50, 4], [200, 100, 1], [300, 150, 3]);
    expect(zone.apartMm * Math.sqrt(1 + zone.a ** 2 + zone.b ** 2)).toBeCloseTo(3.5, 9);
    expect([zone.a, zone.b]).toEqual([expect.closeTo(0.004, 9), expect.closeTo(0.002, 9)]);
  });

  test("two heights at one place are as far apart as they are", () => {
    expect(zoneOf([0, 0, 0], [0, 0, 1]).apartMm).toBeCloseTo(1, 12);
  });
});

describe("the planes", () => {
  test.each(SEEDS)("of a zone hold all points, and touch some above and below, seed %i", (seed) => {
    const xyz = randomPoints(new Dice(seed), 200, 50);
    const zone = minimumZone(pointCloud(xyz));
    const over = Array.from({ length: 200 }, (_, k) => heightOver(zone, xyz, 3 * k));
    expect(Math.min(...over)).toBeCloseTo(0, 9);
    expect(Math.max(...over)).toBeCloseTo(zone.apartMm, 9);
    expect(over.filter((d) => Math.abs(d) < 1e-6 || Math.abs(d - zone.apartMm) < 1e-6).length).toBe(4);
  });

  test.each(SEEDS)("of a plank lie above the under face and below the upper one, seed %i", (seed) => {
    const dice = new Dice(seed);
    const [under, upper] = [randomPoints(dice, 200, 0), randomPoints(dice, 150, 60)];
    const plank = thickestPlank(pointCloud(upper), pointCloud(under));
    const tops = Array.from({ length: 200 }, (_, k) => heightOver(plank, under, 3 * k));
    const bottoms = Array.from({ length: 150 }, (_, k) => heightOver(plank, upper, 3 * k));
    expect(Math.max(...tops)).toBeCloseTo(0, 9);
    expect(Math.min(...bottoms)).toBeCloseTo(plank.apartMm, 9);
  });

  test("of a tilted board are its faces: 40 mm square to them", () => {
    const faces = [0, 40].map((raise) =>
      Float64Array.from(
        [
          [0, 0],
          [2000, 0],
          [2000, 500],
          [0, 500],
        ].flatMap(([x, y]) => [x, y, 0.05 * x - 0.02 * y + raise * Math.sqrt(1 + 0.05 ** 2 + 0.02 ** 2)]),
      ),
    );
    const plank = thickestPlank(pointCloud(faces[1]), pointCloud(faces[0]));
    expect(plank.apartMm).toBeCloseTo(40, 9);
    expect([plank.a, plank.b]).toEqual([expect.closeTo(0.05, 9), expect.closeTo(-0.02, 9)]);
  });

  test("of a board thin in one spot lie square to the way through it, not anyhow (by hand: 30)", () => {
    const dent = (x: number, y: number) => Math.max(0, 10 - Math.sqrt((x - 500) ** 2 + (y - 200) ** 2));
    const places = [0, 100, 200, 300, 400].flatMap((y) =>
      [0, 250, 500, 750, 1000].map((x): [number, number] => [x, y]),
    );
    const under = Float64Array.from(places.flatMap(([x, y]) => [x, y, dent(x, y)]));
    const upper = Float64Array.from(places.flatMap(([x, y]) => [x, y, 50 - dent(x, y)]));
    const plank = thickestPlank(pointCloud(upper), pointCloud(under));
    expect(plank).toMatchObject({ a: expect.closeTo(0, 9), b: expect.closeTo(0, 9) });
    expect(plank.apartMm).toBeCloseTo(30, 9);
  });

  test("cross where there is no plank: a board 5 mm thick with 4 x 30 mm of twist lacks 55 along Z", () => {
    const corners = [-1, 1].flatMap((v) => [-1, 1].map((u): [number, number] => [u, v]));
    const upper = Float64Array.from(corners.flatMap(([u, v]) => [1200 * u, 550 * v, 5 + 30 * u * v]));
    const under = Float64Array.from(corners.flatMap(([u, v]) => [1200 * u, 550 * v, -30 * u * v]));
    const plank = thickestPlank(pointCloud(upper), pointCloud(under));
    // By hand: over the diagonals' crossing the under face's hull is at most 30 high, the upper's at least -25.
    expect(plank.apartMm * Math.sqrt(1 + plank.a ** 2 + plank.b ** 2)).toBeCloseTo(-55, 9);
  });
});

describe("where the face lies does not matter", () => {
  test.each(SEEDS)("shifted, turned, mirrored or in another order, seed %i", (seed) => {
    const dice = new Dice(seed);
    const xyz = randomPoints(dice, 120, 50);
    const [dx, dy, dz] = [dice.between(-5000, 5000), dice.between(-5000, 5000), dice.between(-50, 50)];
    const angle = dice.between(0, 6.28);
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    const moved = (map: (x: number, y: number, z: number) => number[]) =>
      Float64Array.from(
        Array.from({ length: 120 }, (_, k) => map(xyz[3 * k], xyz[3 * k + 1], xyz[3 * k + 2])).flat(),
      );
    const width = minimumZone(pointCloud(xyz)).apartMm;
    for (const other of [
      moved((x, y, z) => [x + dx, y + dy, z + dz]),
      moved((x, y, z) => [x * cos - y * sin, x * sin + y * cos, z]),
      moved((x, y, z) => [-x, y, z]),
      moved((x, y, z) => [x, y, -z]),
      Float64Array.from(
        Array.from({ length: 120 }, (_, k) => [...xyz.subarray(357 - 3 * k, 360 - 3 * k)]).flat(),
      ),
    ])
      expect(minimumZone(pointCloud(other)).apartMm).toBeCloseTo(width, 7);
  });

  test("a metre is a thousand millimetres", () => {
    const xyz = randomPoints(new Dice(4), 120, 50);
    const metres = minimumZone(pointCloud(xyz.map((value) => value / 1000)));
    // Points less than 1e-8 in the way are let be: 1e-5 of these.
    expect(1000 * metres.apartMm).toBeCloseTo(minimumZone(pointCloud(xyz)).apartMm, 4);
  });
});

/** A field of 61 x 41 samples, some masked and some NaN, and the rest as points. */
function holedField(seed: number): { field: HeightField; mask: Uint8Array; xyz: Float64Array } {
  const dice = new Dice(seed);
  const [cols, rows, pitchMm, x0, y0] = [61, 41, 20, -30, 40];
  const z = new Float32Array(cols * rows);
  const mask = new Uint8Array(cols * rows);
  const [cup, twist, tilt] = [dice.between(-5, 5), dice.between(-5, 5), dice.between(-0.01, 0.01)];
  const xyz: number[] = [];
  for (let k = 0; k < z.length; k++) {
    const [col, row] = [k % cols, Math.floor(k / cols)];
    const [u, v] = [col / 30 - 1, row / 20 - 1];
    z[k] = dice.chance(0.05) ? Number.NaN : 60 + cup * v * v + twist * u * v + tilt * col * 20 + dice.next();
    mask[k] = u * u + v * v < 1.3 && !dice.chance(0.1) ? 1 : 0;
    if (mask[k] === 1 && !Number.isNaN(z[k])) xyz.push(x0 + col * pitchMm, y0 + row * pitchMm, z[k]);
  }
  return { field: { x0, y0, pitchMm, cols, rows, z }, mask, xyz: Float64Array.from(xyz) };
}

describe("how the face is given does not matter", () => {
  test.each(SEEDS)("a field with holes and its samples as points, whole or in two, seed %i", (seed) => {
    const { field, mask, xyz } = holedField(seed);
    const asField = minimumZone(fieldCloud(field, mask));
    const half = 3 * Math.floor(xyz.length / 6);
    const asPoints = minimumZone(pointCloud(xyz));
    const inTwo = together(pointCloud(xyz.slice(0, half)), pointCloud(xyz.slice(half)));
    expect(asField.apartMm).toBeCloseTo(asPoints.apartMm, 7);
    expect(minimumZone(inTwo).apartMm).toBeCloseTo(asPoints.apartMm, 7);
    expect(minimumZone(fieldCloud(field, mask))).toEqual(asField);
    expect(asField.scans).toBeLessThanOrEqual(12);
  });

  test.each(SEEDS)("the lowest and highest are among the extremes, seed %i", (seed) => {
    const { field, mask, xyz } = holedField(seed);
    const dice = new Dice(seed);
    const [a, b] = [dice.between(-0.05, 0.05), dice.between(-0.05, 0.05)];
    const over = (points: ArrayLike<number>) =>
      Array.from(
        { length: points.length / 3 },
        (_, k) => points[3 * k + 2] - a * points[3 * k] - b * points[3 * k + 1],
      );
    const all = over(xyz);
    for (const cloud of [fieldCloud(field, mask), pointCloud(xyz)]) {
      const { low, high } = cloud.extremes(a, b);
      expect(Math.min(...over(low))).toBeCloseTo(Math.min(...all), 9);
      expect(Math.max(...over(high))).toBeCloseTo(Math.max(...all), 9);
    }
  });

  test("a face without points is a fault of ours", () => {
    expect(() => pointCloud(new Float64Array(0))).toThrow("without points");
    const { field } = holedField(1);
    expect(() => fieldCloud(field, new Uint8Array(field.z.length))).toThrow("without points");
  });
});
