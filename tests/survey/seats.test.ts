import { describe, expect, test } from "vitest";
import { type Cloud, fieldCloud, pointCloud } from "../../src/survey/cloud.ts";
import { restsOf, type Seat } from "../../src/survey/seats.ts";
import { shimsFor, supportPlaces } from "../../src/survey/shims.ts";
import { Dice } from "../oracles/random-jobs.ts";
import { isInside, rectangle, ringOf } from "../region/shapes.ts";

const LENGTH = 2000;
const WIDTH = 600;
const CENTRE = { x: LENGTH / 2, y: WIDTH / 2 };
const NEAR = 20;
type Height = (x: number, y: number) => number;

/** The face sampled every 20 mm, edges included. */
function faceOf(height: Height): Cloud {
  const [cols, rows] = [LENGTH / 20 + 1, WIDTH / 20 + 1];
  const z = Float32Array.from({ length: cols * rows }, (_, k) =>
    height(20 * (k % cols), 20 * Math.floor(k / cols)),
  );
  return fieldCloud({ x0: 0, y0: 0, pitchMm: 20, cols, rows, z }, new Uint8Array(z.length).fill(1));
}

/** Two opposite corners stand 6 mm higher than the others. */
const twisted: Height = (x, y) => {
  const [u, v] = [x / LENGTH, y / WIDTH];
  return 6 * (u + v - 2 * u * v);
};

const plan = ({ supports }: Seat) => supports.map(([x, y]) => `${x} ${y}`).sort();

describe("rests", () => {
  test("of a twisted board are two, over the low corners and one of the high ones (by hand)", () => {
    const [first, second, ...more] = restsOf(faceOf(twisted), CENTRE, NEAR);
    expect(more).toEqual([]);
    const byTilt = [first, second].sort((p, q) => q.a - p.a);
    // Through (0,0,0), (2000,600,0) and (2000,0,6): z = 0.003 x - 0.01 y. It leaves the fourth corner 12 mm up.
    expect(plan(byTilt[0])).toEqual(["0 0", "2000 0", "2000 600"]);
    expect(byTilt[0]).toMatchObject({
      a: expect.closeTo(0.003, 9),
      b: expect.closeTo(-0.01, 9),
      c: expect.closeTo(0, 9),
      baseMm2: expect.closeTo((LENGTH * WIDTH) / 2, 3),
      widestGap: { x: 0, y: WIDTH, gapMm: expect.closeTo(12, 5) },
    });
    expect(plan(byTilt[1])).toEqual(["0 0", "0 600", "2000 600"]);
    expect(byTilt[1]).toMatchObject({ a: expect.closeTo(-0.003, 9), b: expect.closeTo(0.01, 9) });
  });

  test("of a twisted board whose centre lies off the low diagonal are one", () => {
    const seats = restsOf(faceOf(twisted), { x: 1100, y: 250 }, NEAR);
    expect(seats.map(plan)).toEqual([["0 0", "2000 0", "2000 600"]]);
  });

  test("of a flat face, level or tilted, are one without gaps", () => {
    for (const [a, b] of [
      [0, 0],
      [0.01, -0.02],
    ]) {
      const seats = restsOf(
        faceOf((x, y) => 20 + a * x + b * y),
        CENTRE,
        NEAR,
      );
      expect(seats).toHaveLength(1);
      expect(seats[0].a).toBeCloseTo(a, 6);
      expect(seats[0].b).toBeCloseTo(b, 6);
      expect(seats[0].widestGap.gapMm).toBeLessThan(1e-4);
    }
  });

  test("of a hollow face are one, on its corners", () => {
    const hollow: Height = (x, y) => 9 - 5 * (x / 1000 - 1) ** 2 - 4 * (y / 300 - 1) ** 2;
    const seats = restsOf(faceOf(hollow), CENTRE, NEAR);
    expect(seats).toHaveLength(1);
    expect(seats[0]).toMatchObject({ a: expect.closeTo(0, 6), b: expect.closeTo(0, 6) });
    expect(seats[0].widestGap).toEqual({ x: 1000, y: 300, gapMm: expect.closeTo(9, 5) });
    for (const [x, y] of seats[0].supports) expect([x % LENGTH, y % WIDTH]).toEqual([0, 0]);
  });

  test("of a crowned face stand on a narrow base", () => {
    const belly: Height = (x, y) => 20 * ((x / 1000 - 1) ** 2 + (y / 300 - 1) ** 2);
    const [seat] = restsOf(faceOf(belly), CENTRE, NEAR);
    expect(seat.baseMm2).toBeLessThan(0.01 * LENGTH * WIDTH);
  });

  test("are none where the centre is not over the points", () => {
    expect(restsOf(faceOf(twisted), { x: -1, y: 300 }, NEAR)).toEqual([]);
    const line = pointCloud(Float64Array.from([0, 0, 0, 10, 10, 1, 20, 20, 0]));
    expect(restsOf(line, { x: 10, y: 10 }, 1)).toEqual([]);
    expect(restsOf(pointCloud(Float64Array.from([3, 3, 3])), { x: 3, y: 3 }, 1)).toEqual([]);
  });

  // Oracle: of all triangles that hold the centre, the one that no point lies below.
  test.each(Array.from({ length: 40 }, (_, k) => k + 1))(
    "are what trying all triangles finds, seed %i",
    (seed) => {
      const dice = new Dice(seed);
      const rounded = dice.chance(0.3);
      const points = Array.from({ length: dice.whole(4, 40) }, () => {
        const z = dice.between(0, 10);
        return [dice.whole(0, 2000), dice.whole(0, 600), rounded ? Math.round(z) : z];
      });
      const centre = { x: dice.between(500, 1500), y: dice.between(150, 450) };
      const [seat] = restsOf(pointCloud(Float64Array.from(points.flat())), centre, 0);
      const height = lowestHullAt(points, centre.x, centre.y);
      if (height === null) expect(seat).toBeUndefined();
      else expect(seat.a * centre.x + seat.b * centre.y + seat.c).toBeCloseTo(height, 5);
    },
  );
});

/** Height of the lower hull at (x, y): the lowest that any triangle of points reaches there. */
function lowestHullAt(points: number[][], x: number, y: number): number | null {
  let lowest: number | null = null;
  const area = (p: number[], q: number[], r: number[]) =>
    (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
  for (const p of points)
    for (const q of points)
      for (const r of points) {
        const whole = area(p, q, r);
        if (!(whole > 0)) continue;
        const shares = [area([x, y], q, r), area(p, [x, y], r), area(p, q, [x, y])].map(
          (part) => part / whole,
        );
        if (Math.min(...shares) < 0) continue;
        const z = shares[0] * p[2] + shares[1] * q[2] + shares[2] * r[2];
        if (lowest === null || z < lowest) lowest = z;
      }
  return lowest;
}

describe("shims", () => {
  const outline = rectangle(0, 0, LENGTH, WIDTH);

  test("under a flat face whose finished planes rise 2 mm a metre lift its far end (by hand)", () => {
    const places = [
      { x: 100, y: 100 },
      { x: 1900, y: 100 },
      { x: 1950, y: 300 },
      { x: 2000, y: 500 },
    ];
    const shims = shimsFor(
      { a: -0.002, b: 0 },
      faceOf(() => 0),
      () => 0,
      places,
    );
    // Planes that fall 2 mm a metre lie level when the far end, x = 2000, is lifted by 4 mm.
    expect(shims).toEqual([
      { x: 100, y: 100, thicknessMm: expect.closeTo(0.2, 5) },
      { x: 1900, y: 100, thicknessMm: expect.closeTo(3.8, 4) },
      { x: 1950, y: 300, thicknessMm: expect.closeTo(3.9, 4) },
      { x: 2000, y: 500, thicknessMm: expect.closeTo(4, 4) },
    ]);
  });

  test("are measured square to planes however steep (by hand: a rise of 3 in 4 over 2000 mm is 1200 mm across)", () => {
    const places = [0, LENGTH].map((x) => ({ x, y: 0 }));
    const shims = shimsFor(
      { a: -0.75, b: 0 },
      faceOf(() => 0),
      () => 0,
      places,
    );
    expect(shims).toEqual([{ x: LENGTH, y: 0, thicknessMm: expect.closeTo(1200, 9) }]);
  });

  test("under a twisted board whose planes lie level are the heights of its high corners, and none at the low", () => {
    const places = [0, LENGTH].flatMap((x) => [0, WIDTH].map((y) => ({ x, y })));
    const shims = shimsFor({ a: 0, b: 0 }, faceOf(twisted), twisted, places);
    expect(shims).toEqual([
      { x: 0, y: WIDTH, thicknessMm: 6 },
      { x: LENGTH, y: 0, thicknessMm: 6 },
    ]);
  });

  test("are none under a flat face with level planes, and never negative", () => {
    const places = supportPlaces(outline, 0);
    expect(
      shimsFor(
        { a: 0, b: 0 },
        faceOf(() => 20),
        () => 20,
        places,
      ),
    ).toEqual([]);
    const belly: Height = (x, y) => 8 * ((x / 1000 - 1) ** 2 + (y / 300 - 1) ** 2);
    for (const { thicknessMm } of shimsFor({ a: 0.003, b: -0.004 }, faceOf(belly), belly, places))
      expect(thicknessMm).toBeGreaterThanOrEqual(0.1);
  });
});

describe("places to support a piece", () => {
  test.each([
    [400, 300, 4],
    [1200, 400, 4],
    [1700, 500, 6],
    [2400, 640, 8],
    [5000, 900, 14],
  ])("%i x %i mm: %i, in pairs from end to end", (length, width, count) => {
    const places = supportPlaces(rectangle(0, 0, length, width), 0);
    expect(places).toHaveLength(count);
    for (const { x, y } of places) {
      expect(Math.min(x, length - x, y, width - y)).toBeGreaterThanOrEqual(10);
      expect(Math.min(y, width - y)).toBeLessThanOrEqual(60);
    }
  });

  test("turn with the piece", () => {
    const turn = ({ x, y }: { x: number; y: number }) => ({ x: -y, y: x });
    const lying = supportPlaces(rectangle(0, 0, 2400, 640), 0).map(turn);
    const standing = supportPlaces(rectangle(-640, 0, 0, 2400), Math.PI / 2);
    expect(standing).toHaveLength(lying.length);
    standing.forEach(({ x, y }, k) => {
      expect(x).toBeCloseTo(lying[k].x, 9);
      expect(y).toBeCloseTo(lying[k].y, 9);
    });
  });

  test("lie inside outlines that bend, taper and fork", () => {
    for (const outline of [
      ringOf([0, 0], [2400, 500], [2400, 900], [0, 300]),
      ringOf([0, 0], [2000, 250], [0, 500]),
      ringOf([0, 0], [2000, 0], [2000, 150], [900, 300], [2000, 450], [2000, 600], [0, 600]),
      ringOf([0, 0], [300, 0], [300, 5], [0, 5]),
    ]) {
      const places = supportPlaces(outline, 0);
      expect(places.length).toBeGreaterThanOrEqual(4);
      for (const { x, y } of places) expect(isInside([outline], x, y)).toBe(true);
    }
  });
});
