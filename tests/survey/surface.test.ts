import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { type Grid, gridOver } from "../../src/survey/field.ts";
import { triangulate } from "../../src/survey/scattered.ts";
import { pointsOf, type Surface, upperFace } from "../../src/survey/surface.ts";
import { dice, rectangle } from "../region/shapes.ts";
import { box, gridOf, type Height, measured, pointsAt } from "./pieces.ts";

const SEED = 20_260_212;
const plan = { seed: SEED, numRuns: 100 };

describe("a box", () => {
  test("stands at its thickness everywhere, and is covered everywhere", () => {
    const face = upperFace(box(57));
    expect(face.heightAt(-1e4, 1e4)).toBe(57);
    expect(face.covers(1e4, 0)).toBe(true);
    expect([...sampled(face, { x0: 0, y0: 0, pitchMm: 5, cols: 2, rows: 2 })]).toEqual([57, 57, 57, 57]);
  });
});

describe("grid readings", () => {
  const rough = gridOf((x, y) => 50 + Math.sin(x) + Math.cos(0.7 * y), {
    x0: -30,
    y0: 12,
    dx: 25,
    dy: 40,
    cols: 5,
    rows: 4,
  });

  test("come back at their nodes", () => {
    const face = upperFace(measured(rough));
    for (let j = 0; j < 4; j++)
      for (let i = 0; i < 5; i++)
        expect(face.heightAt(-30 + 25 * i, 12 + 40 * j)).toBeCloseTo(rough.z[j * 5 + i], 9);
  });

  // By hand: heights 0, 4, 8, 20 at the corners of a cell; a quarter along, half up: (1 + 11) / 2.
  test("are bilinear between nodes", () => {
    const cell = {
      kind: "grid",
      x0: 0,
      y0: 0,
      dx: 10,
      dy: 20,
      cols: 2,
      rows: 2,
      z: Float64Array.of(0, 4, 8, 20),
    } as const;
    expect(upperFace(measured(cell)).heightAt(2.5, 10)).toBeCloseTo(6, 12);
  });

  test("a face of the form a + bx + cy + dxy comes back everywhere within one span of its readings", () => {
    const height: Height = (x, y) => 50 + 0.02 * x - 0.03 * y + 0.0004 * x * y;
    const readings = gridOf(height, { dx: 30, dy: 20, cols: 6, rows: 7 });
    const face = upperFace(measured(readings));
    const [low, high] = [Math.min(...readings.z), Math.max(...readings.z)];
    for (let x = -60; x <= 210; x += 7.3)
      for (let y = -40; y <= 160; y += 6.1) {
        const expected = Math.max(2 * low - high, Math.min(2 * high - low, height(x, y)));
        expect(Math.abs(face.heightAt(x, y) - expected)).toBeLessThan(1e-9);
      }
  });

  test("outside, the nearest plane goes on, but no farther than one span beyond the extremes", () => {
    const ramp = gridOf((x) => 40 + 0.1 * x, { dx: 10, dy: 10, cols: 4, rows: 3 });
    const face = upperFace(measured(ramp));
    expect(face.heightAt(-10, 50)).toBeCloseTo(39, 9);
    expect(face.heightAt(-1000, 5)).toBeCloseTo(37, 9);
    expect(face.heightAt(1000, 5)).toBeCloseTo(46, 9);
  });

  test("cover their own box, edges included", () => {
    const face = upperFace(measured(rough));
    expect(face.covers(-30, 12)).toBe(true);
    expect(face.covers(70, 132)).toBe(true);
    expect(face.covers(70.001, 50)).toBe(false);
    expect(face.covers(20, 11.999)).toBe(false);
  });

  test("when a node holds nothing then a plane still comes back exactly", () => {
    const height: Height = (x, y) => 50 + 0.02 * x - 0.013 * y;
    const readings = gridOf(height, { dx: 30, dy: 20, cols: 6, rows: 7 });
    const next = dice(5);
    const holes = { ...readings, z: readings.z.map((z) => (next() < 0.4 ? Number.NaN : z)) };
    const face = upperFace(measured(holes));
    expect(holes.z.some(Number.isNaN)).toBe(true);
    for (let x = -3; x <= 150; x += 9.7)
      for (let y = -3; y <= 120; y += 8.3)
        expect(Math.abs(face.heightAt(x, y) - height(x, y))).toBeLessThan(1e-6);
  });

  test("when a node holds nothing then the nodes beside it stay as they were read", () => {
    const readings = gridOf((x, y) => 50 + Math.sin(x + y), { dx: 30, dy: 20, cols: 4, rows: 4 });
    const z = readings.z.slice();
    z[5] = Number.NaN;
    const face = upperFace(measured({ ...readings, z }));
    for (let k = 0; k < 16; k++)
      if (k !== 5) expect(face.heightAt(30 * (k % 4), 20 * Math.floor(k / 4))).toBeCloseTo(readings.z[k], 9);
    expect(face.heightAt(30, 20)).toBeGreaterThanOrEqual(49);
    expect(face.heightAt(30, 20)).toBeLessThanOrEqual(51);
  });

  test("when the last column of a grid holds nothing then nothing is covered there", () => {
    const readings = gridOf(() => 50, { dx: 30, dy: 20, cols: 4, rows: 4 });
    const z = readings.z.map((height, k) => (k % 4 === 3 ? Number.NaN : height));
    const face = upperFace(measured({ ...readings, z }));
    expect(face.covers(59, 30)).toBe(true);
    expect(face.covers(75, 30)).toBe(false);
  });

  test("nodes that hold nothing are no readings", () => {
    const readings = gridOf((x, y) => x + y, { x0: 1, y0: 2, dx: 3, dy: 4, cols: 2, rows: 2 });
    const z = readings.z.slice();
    z[1] = Number.NaN;
    expect([...pointsOf({ ...readings, z })]).toEqual([1, 2, 3, 1, 6, 7, 4, 6, 10]);
  });
});

describe("scattered readings", () => {
  // Tenths of a millimetre, as a tape or a probe gives them.
  const coordinate = fc.integer({ min: -9000, max: 9000 }).map((tenths) => tenths / 10);
  const place = fc.tuple(coordinate, coordinate);
  const places = fc.array(place, { minLength: 3, maxLength: 40 }).filter(spread);
  const slope = fc.integer({ min: -200, max: 200 }).map((share) => share / 10_000);

  test("property: a plane comes back wherever it stays within one span of its readings, in and outside the hull", () => {
    fc.assert(
      fc.property(places, slope, slope, fc.array(place, { maxLength: 20 }), (given, a, b, asked) => {
        const height: Height = (x, y) => 500 + a * x + b * y;
        const readings = pointsAt(height, given);
        const face = upperFace(measured(readings));
        const heights = given.map(([x, y]) => height(x, y));
        const [low, high] = [Math.min(...heights), Math.max(...heights)];
        for (const [x, y] of asked) {
          const expected = Math.max(2 * low - high, Math.min(2 * high - low, height(x, y)));
          const off = Math.abs(face.heightAt(x, y) - expected);
          if (off > 1e-6) throw new Error(`${off} mm off at ${x}, ${y}`);
        }
      }),
      plan,
    );
  });

  test("property: every reading comes back, and so does what is linear between three of them", () => {
    fc.assert(
      fc.property(places, fc.nat(), (given, seed) => {
        const next = dice(seed);
        const xyz = Float64Array.from(given.flatMap(([x, y]) => [x, y, 50 + 5 * next()]));
        const face = upperFace(measured({ kind: "points", xyz }));
        for (let k = 0; k < xyz.length; k += 3)
          expect(Math.abs(face.heightAt(xyz[k], xyz[k + 1]) - xyz[k + 2])).toBeLessThan(1e-5);
        const { triangles } = triangulate(xyz);
        for (let t = 0; t < triangles.length; t += 3) {
          const corners = [...triangles.slice(t, t + 3)].map((k) => xyz.slice(3 * k, 3 * k + 3));
          if (thin(corners)) continue;
          const shares = [0.5, 0.3, 0.2];
          const at = (i: number) => corners.reduce((sum, corner, k) => sum + shares[k] * corner[i], 0);
          expect(Math.abs(face.heightAt(at(0), at(1)) - at(2))).toBeLessThan(1e-6);
        }
      }),
      { ...plan, numRuns: 60 },
    );
  });

  test("cover their hull, its edge included", () => {
    const face = upperFace(
      measured(
        pointsAt(
          () => 50,
          [
            [0, 0],
            [100, 0],
            [100, 50],
            [0, 50],
            [40, 20],
          ],
        ),
      ),
    );
    for (const [x, y] of [
      [0, 0],
      [50, 0],
      [100, 25],
      [50, 25],
      [100, 50],
    ])
      expect(face.covers(x, y)).toBe(true);
    for (const [x, y] of [
      [-0.001, 0],
      [50, 50.001],
      [101, 25],
    ])
      expect(face.covers(x, y)).toBe(false);
  });

  test("property: there is no step where the readings end", () => {
    fc.assert(
      fc.property(places, fc.nat(), (given, seed) => {
        const next = dice(seed);
        const xyz = Float64Array.from(given.flatMap(([x, y]) => [x, y, 50 + 5 * next()]));
        const face = upperFace(measured({ kind: "points", xyz }));
        for (let k = 0; k < 40; k++) {
          // From somewhere among the readings to somewhere far out, halved until the rim is between.
          let inside = [1800 * next() - 900, 1800 * next() - 900];
          let outside = [3000 * Math.cos(k), 3000 * Math.sin(k)];
          if (!face.covers(inside[0], inside[1])) continue;
          for (let halving = 0; halving < 40; halving++) {
            const middle = [(inside[0] + outside[0]) / 2, (inside[1] + outside[1]) / 2];
            if (face.covers(middle[0], middle[1])) inside = middle;
            else outside = middle;
          }
          const step = Math.abs(face.heightAt(inside[0], inside[1]) - face.heightAt(outside[0], outside[1]));
          if (!(step < 0.005)) throw new Error(`a step of ${step} mm at ${inside}`);
        }
      }),
      { ...plan, numRuns: 60 },
    );
  });

  test("when one row's readings are given to the last digit twice then nothing changes", () => {
    const rows = [0, 40, 80].flatMap((y) => [0, 30, 60, 90].map((x) => [x, y] as const));
    const height: Height = (x, y) => 50 + 0.01 * x + Math.sin(y);
    const once = upperFace(measured(pointsAt(height, rows)));
    const twice = upperFace(measured(pointsAt(height, [...rows, ...rows.slice(4, 8)])));
    for (let x = -10; x <= 100; x += 7)
      for (let y = -10; y <= 90; y += 7) expect(twice.heightAt(x, y)).toBeCloseTo(once.heightAt(x, y), 9);
  });

  test("readings far from the origin are as good as near it", () => {
    const height: Height = (x, y) => 50 + Math.sin(x / 40) + Math.cos(y / 30);
    const near = [...Array(40)].map((_, k) => [(k * 37) % 200, (k * 61) % 170] as const);
    const far = near.map(([x, y]) => [x + 40_000, y - 40_000] as const);
    const here = upperFace(measured(pointsAt(height, near)));
    const there = upperFace(measured(pointsAt((x, y) => height(x - 40_000, y + 40_000), far)));
    for (let x = 0; x <= 200; x += 13)
      for (let y = 0; y <= 170; y += 11)
        expect(Math.abs(there.heightAt(x + 40_000, y - 40_000) - here.heightAt(x, y))).toBeLessThan(1e-6);
  });
});

describe("readings in rows with a crooked hull", () => {
  // Rows taken along a straight edge that lies aslant: rounding leaves hairs of triangles along the hull.
  const turnedRows = (angle: number, decimals: number | null) => {
    const round = (v: number) => (decimals === null ? v : Number(v.toFixed(decimals)));
    const places: [number, number][] = [];
    for (let j = 0; j < 6; j++)
      for (let i = 0; i < 12; i++) {
        const [u, v] = [80 * i, 70 * j];
        places.push([
          round(u * Math.cos(angle) - v * Math.sin(angle)),
          round(u * Math.sin(angle) + v * Math.cos(angle)),
        ]);
      }
    return places;
  };
  test("when readings along an edge stand a hair inside it then the face there still follows them", () => {
    const height: Height = (x) => 50 + 3 * Math.sin(x / 90);
    const inner = [100, 200, 300, 400, 500, 600, 700];
    const places = [0, 800, ...inner].map((x, k) => [x, k < 2 ? 0 : 1e-6] as const);
    const opposite = [0, ...inner, 800].map((x) => [x, 100] as const);
    const face = upperFace(measured(pointsAt(height, [...places, ...opposite])));
    // By hand: chords of this sine over 100 mm stray at most 3 (1 - cos(50 / 90)) = 0.45 mm; the plane of
    // a triangle beside may stand in, so twice that is allowed.
    for (let x = 0; x <= 800; x += 20)
      for (const y of [1e-6, 5e-7, 0, -1e-6, -0.001, -1]) {
        expect(Math.abs(face.heightAt(x, y) - height(x, y)), `at ${x}, ${y}`).toBeLessThan(0.9);
        const [one] = sampled(face, { x0: x, y0: y, pitchMm: 1, cols: 1, rows: 1 });
        expect(Math.abs(one - height(x, y)), `sample at ${x}, ${y}`).toBeLessThan(0.9);
      }
  });

  const cases = [0.3, 0.7, 2.3].flatMap((angle) =>
    [null, 6, 3].map((decimals) => [angle, decimals] as const),
  );

  test.each(cases)(
    "turned by %f rad, rounded to %s decimals: no sample stands out of its neighbourhood",
    (angle, decimals) => {
      const height: Height = (x, y) => 50 + 3 * Math.sin(x / 90) * Math.cos(y / 110);
      const readings = pointsAt(height, turnedRows(angle, decimals));
      const face = upperFace(measured(readings));
      const steepest = 3 / 90 + 3 / 110;
      const next = dice(17);
      for (let k = 0; k < 300; k++) {
        // On the hull's long edges, a hair beside them, and anywhere.
        const u = 880 * next();
        const v = [0, 350, 350 * next()][k % 3] + [0, 1e-7, -1e-7, 1e-4, -1e-4][k % 5];
        const [x, y] = [u * Math.cos(angle) - v * Math.sin(angle), u * Math.sin(angle) + v * Math.cos(angle)];
        // A reading stands within 55 mm, so a sound surface is within that times twice the slope.
        const off = Math.abs(face.heightAt(x, y) - height(x, y));
        expect(off, `at ${u} along, ${v} across`).toBeLessThan(2 * 55 * steepest);
        const [one] = sampled(face, { x0: x, y0: y, pitchMm: 1, cols: 1, rows: 1 });
        expect(Math.abs(one - height(x, y)), `sample at ${u} along, ${v} across`).toBeLessThan(
          2 * 55 * steepest,
        );
      }
    },
  );
});

describe("samples", () => {
  const grids: Grid[] = [
    { x0: -25, y0: -40, pitchMm: 7.3, cols: 40, rows: 35 },
    { x0: 0, y0: 0, pitchMm: 5, cols: 60, rows: 50 },
  ];
  const expectSame = (face: Surface, grid: Grid, slack = 1e-4) => {
    const z = sampled(face, grid);
    for (let k = 0; k < z.length; k++) {
      const x = grid.x0 + (k % grid.cols) * grid.pitchMm;
      const y = grid.y0 + Math.floor(k / grid.cols) * grid.pitchMm;
      const off = Math.abs(z[k] - face.heightAt(x, y));
      if (!(off < slack)) throw new Error(`${off} mm off at ${x}, ${y}`);
    }
  };

  test("of grid readings are what heightAt says, inside and outside, with and without holes", () => {
    const readings = gridOf((x, y) => 50 + Math.sin(x / 20) * Math.cos(y / 30), {
      x0: 5,
      y0: -10,
      dx: 20,
      dy: 25,
      cols: 9,
      rows: 8,
    });
    const next = dice(3);
    for (const z of [readings.z, readings.z.map((h) => (next() < 0.2 ? Number.NaN : h))])
      for (const grid of grids) expectSame(upperFace(measured({ ...readings, z })), grid);
  });

  test("of scattered readings are what heightAt says, inside and outside", () => {
    for (let seed = 1; seed <= 12; seed++) {
      const next = dice(seed);
      const places = [...Array(30)].map(() => [220 * next(), 180 * next()] as const);
      const face = upperFace(measured(pointsAt((x, y) => 50 + Math.sin(x / 20) * Math.cos(y / 30), places)));
      for (const grid of grids) expectSame(face, grid);
    }
  });

  test("of readings that stand on the samples themselves are what heightAt says", () => {
    const rows = [0, 60, 120, 180].flatMap((y) => [0, 50, 100, 150, 200].map((x) => [x, y] as const));
    const face = upperFace(measured(pointsAt((x, y) => 50 + Math.sin(x * y), rows)));
    expectSame(face, grids[1]);
  });

  test("leave what lies beyond the grid's size untouched", () => {
    const face = upperFace(
      measured(
        pointsAt(
          () => 50,
          [
            [0, 0],
            [10, 0],
            [0, 10],
          ],
        ),
        rectangle(0, 0, 5, 5),
      ),
    );
    const out = new Float32Array(20).fill(-1);
    face.sample(gridOver({ minX: 0, minY: 0, maxX: 2, maxY: 2 }, 1, 0), 0, out);
    expect([...out.slice(9)]).toEqual(Array(11).fill(-1));
  });
});

function sampled(face: Surface, grid: Grid): Float32Array {
  const out = new Float32Array(grid.cols * grid.rows);
  face.sample(grid, 0, out);
  return out;
}

/** Whether the places span a face: the widest triangle among them is more than a hair. */
function spread(places: readonly (readonly [number, number])[]): boolean {
  const keys = new Set(places.map(([x, y]) => `${Math.round(x * 100)},${Math.round(y * 100)}`));
  if (keys.size < places.length) return false;
  const [a, b] = places;
  return places.some(([x, y]) => Math.abs((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])) > 1000);
}

function thin([a, b, c]: Float64Array[]): boolean {
  const twice = Math.abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
  const longest = Math.max(
    (b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2,
    (c[0] - a[0]) ** 2 + (c[1] - a[1]) ** 2,
    (c[0] - b[0]) ** 2 + (c[1] - b[1]) ** 2,
  );
  // At the rim, triangles flatter than 3 % of their base are taken off.
  return twice < 0.031 * longest;
}
