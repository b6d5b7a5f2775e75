import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Ring } from "../../src/job/job.ts";
import { LevelSets } from "../../src/region/levels.ts";
import { areaOf, parts, regionWithHoles } from "../../src/region/region.ts";
import type { HeightField } from "../../src/survey/field.ts";
import { areaOfRing, dice, distanceToEdges, isInside, perimeterOf } from "./shapes.ts";

const levelRings = (field: HeightField, level: number) => new LevelSets(field).rings(level);

const SEED = 99;
/** How far thinning may move a ring, as levels.ts states, and what single precision adds. */
const THIN_MM = 0.02;
const SLACK_MM = THIN_MM + 1e-3;

type Height = (x: number, y: number) => number;

function field(height: Height, pitchMm: number, reachMm: number, x0 = -reachMm, y0 = -reachMm): HeightField {
  const count = Math.round((2 * reachMm) / pitchMm) + 1;
  const z = Float32Array.from({ length: count * count }, (_, k) =>
    height(x0 + (k % count) * pitchMm, y0 + Math.floor(k / count) * pitchMm),
  );
  return { x0, y0, pitchMm, cols: count, rows: count, z };
}

/** Even-odd: islands counted, holes taken out. */
function areaWithin(rings: readonly Ring[]): number {
  return areaOf(regionWithHoles(rings));
}

/** Every sample above the level lies inside, every other one outside, give or take the thinning. */
function expectSamplesRight(f: HeightField, level: number, rings: readonly Ring[]): void {
  // Of large fields every seventh sample.
  for (let k = 0; k < f.z.length; k += f.z.length > 4000 ? 7 : 1) {
    const [col, row] = [k % f.cols, Math.floor(k / f.cols)];
    const x = f.x0 + col * f.pitchMm;
    const y = f.y0 + row * f.pitchMm;
    const onBorder = col === 0 || row === 0 || col === f.cols - 1 || row === f.rows - 1;
    const above = f.z[k] > level && !onBorder;
    if (isInside(rings, x, y) === above) continue;
    if (rings.length > 0 && distanceToEdges(rings, x, y) <= SLACK_MM) continue;
    if (!standsOut(f, k, level)) continue;
    throw new Error(`sample ${col}, ${row} of height ${f.z[k]} is on the wrong side of ${level}`);
  }
}

/** Whether the ring around a lone sample runs so far from it that thinning leaves something of it. */
function standsOut(f: HeightField, k: number, level: number): boolean {
  return [1, -1, f.cols, -f.cols].every((d) => {
    const other = f.z[k + d];
    const sameSide = other > level === f.z[k] > level;
    return sameSide || ((f.z[k] - level) / (f.z[k] - other)) * f.pitchMm > 2 * SLACK_MM;
  });
}

describe("areas above a level by hand", () => {
  const pitches = [4, 2, 1];

  test("a plane cuts a straight edge, exactly but for the thinning", () => {
    // Above where x / 10 + y / 40 > 1.7, between the border samples.
    const f = field((x, y) => 50 + x / 10 + y / 40, 2, 100);
    const [ring, ...more] = levelRings(f, 51.7);
    expect(more).toEqual([]);
    for (let k = 0; k < ring.length; k += 2) {
      const onEdge = Math.abs(ring[k] / 10 + ring[k + 1] / 40 - 1.7) < 0.003;
      const onBorder = Math.max(Math.abs(ring[k]), Math.abs(ring[k + 1])) > 97.9;
      expect(onEdge || onBorder, `corner ${ring[k]}, ${ring[k + 1]}`).toBe(true);
    }
    expect(ring.length).toBeLessThan(20);
  });

  test("a cone: a disc", () => {
    for (const radius of [90, 33.3, 10])
      for (const pitchMm of pitches) {
        const f = field((x, y) => 60 - Math.hypot(x - 0.3, y + 0.7) / 5, pitchMm, 120);
        const rings = levelRings(f, 60 - radius / 5);
        // Chords of the circle stray p^2 / 8r at most, and so does the line between two samples of a cone.
        const stray = pitchMm ** 2 / (4 * radius) + THIN_MM;
        const error = Math.abs(areaWithin(rings) - Math.PI * radius ** 2);
        expect(error, `radius ${radius} at ${pitchMm} mm`).toBeLessThan(2 * Math.PI * radius * stray);
        expectSamplesRight(f, 60 - radius / 5, rings);
      }
  });

  test("a bowl: all but a disc, as a hole", () => {
    const f = field((x, y) => 50 + Math.hypot(x, y) / 5, 1, 120);
    const rings = levelRings(f, 50 + 60 / 5);
    expect(rings).toHaveLength(2);
    const outer = areaOfRing(rings[0]) > 0 ? rings[0] : rings[1];
    // The outer ring runs along the border samples, not beyond them.
    expect(Math.abs(areaOfRing(outer) - 240 * 240)).toBeLessThan(960 * 0.02 + 10);
    expect(Math.abs(areaWithin(rings) - (areaOfRing(outer) - Math.PI * 3600))).toBeLessThan(
      2 * Math.PI * 60 * 0.03,
    );
  });

  test("a saddle: two halves that meet in its middle", () => {
    // x y > 400 within the border: for each half the square root's hyperbola against the border at b = 120.
    const b = 120;
    const c = 400;
    const half = b * (b - c / b) - c * Math.log((b * b) / c);
    for (const pitchMm of pitches) {
      const f = field((x, y) => 50 + (x * y) / 1000, pitchMm, b);
      const rings = levelRings(f, 50 + c / 1000);
      expect(rings).toHaveLength(2);
      for (const ring of rings)
        expect(Math.abs(areaOfRing(ring) - half)).toBeLessThan(500 * (0.01 * pitchMm + THIN_MM));
      expectSamplesRight(f, 50 + c / 1000, rings);
    }
  });

  test("a ridge: a strip; its width is exact but for the crest's own cut", () => {
    const f = field((x, y) => 55 - Math.abs(x * 0.8 + y * 0.6) / 10, 1, 120);
    const rings = levelRings(f, 53);
    expect(rings).toHaveLength(1);
    // 40 mm wide where the border does not cut it: measured across the middle.
    for (const off of [-20, 20]) expect(distanceToEdges(rings, off * 0.8, off * 0.6)).toBeLessThan(0.03);
    expectSamplesRight(f, 53, rings);
  });

  test("a ridge narrower than a sample does not go under: it is as wide as its samples say", () => {
    const f = field((x) => (Math.abs(x - 10) < 0.5 ? 60 : 50), 1, 40);
    const rings = levelRings(f, 55);
    expect(rings).toHaveLength(1);
    // Half a sample to either side; at the border it ends in a point, half of the last millimetre.
    expect(areaOfRing(rings[0])).toBeCloseTo(80 - 2 * 0.5, 6);
    expectSamplesRight(f, 55, rings);
  });

  test("islands and holes: rings within rings, alternating", () => {
    const f = field((x, y) => 50 + Math.cos(Math.hypot(x, y) / 10), 1, 120);
    const rings = levelRings(f, 50);
    const band = (from: number, to: number) => Math.PI * 100 * ((to * Math.PI) ** 2 - (from * Math.PI) ** 2);
    const found = parts(regionWithHoles(rings)).map(areaOf);
    const middle = Math.min(...found);
    // cos is above 0 up to pi / 2, and from 3 pi / 2 to 5 pi / 2.
    expect(Math.abs(middle - band(0, 0.5))).toBeLessThan(2 * Math.PI * 16 * 0.05);
    const second = found.find((area) => Math.abs(area - band(1.5, 2.5)) < 2 * Math.PI * 126 * 0.05);
    expect(second).toBeDefined();
    expectSamplesRight(f, 50, rings);
  });

  test("a plateau that touches the border closes along it", () => {
    const f = field((x) => (x > 40 ? 60 : 50), 2, 100);
    const rings = levelRings(f, 55);
    expect(rings).toHaveLength(1);
    // From halfway between samples to the border; its four corners are cut over the last samples.
    expect(areaOfRing(rings[0])).toBeCloseTo(59 * 200 - 2 * (1 + 2), 6);
    expectSamplesRight(f, 55, rings);
  });

  test("a field all above is its border, one all below is nothing", () => {
    const f = field(() => 50, 2, 100);
    expect(areaWithin(levelRings(f, 49))).toBeGreaterThan(199 * 199);
    expect(areaWithin(levelRings(f, 49))).toBeLessThanOrEqual(200 * 200);
    expect(levelRings(f, 50)).toEqual([]);
    expect(levelRings(f, 51)).toEqual([]);
  });

  test("rings have the high ground at their left", () => {
    const hill = levelRings(
      field((x, y) => 60 - Math.hypot(x, y), 2, 50),
      40,
    );
    const pit = levelRings(
      field((x, y) => 20 + Math.hypot(x, y), 2, 50),
      40,
    );
    expect(hill.map((ring) => Math.sign(areaOfRing(ring)))).toEqual([1]);
    expect(pit.map((ring) => Math.sign(areaOfRing(ring))).sort()).toEqual([-1, 1]);
  });

  test("two high samples across from each other are joined", () => {
    const z = new Float32Array(36).fill(50);
    z[2 * 6 + 2] = 60;
    z[3 * 6 + 3] = 60;
    const rings = levelRings({ x0: 0, y0: 0, pitchMm: 10, cols: 6, rows: 6, z }, 55);
    expect(rings).toHaveLength(1);
    expect(isInside(rings, 25, 25)).toBe(true);
  });

  test("the smallest grids give no rings", () => {
    for (const [cols, rows] of [
      [1, 1],
      [2, 2],
      [1, 5],
      [2, 9],
    ])
      expect(
        levelRings({ x0: 0, y0: 0, pitchMm: 1, cols, rows, z: new Float32Array(cols * rows).fill(9) }, 5),
      ).toEqual([]);
  });

  test("a grid of three by three holds its one middle sample", () => {
    const z = new Float32Array(9).fill(0);
    z[4] = 10;
    const [ring] = levelRings({ x0: 0, y0: 0, pitchMm: 2, cols: 3, rows: 3, z }, 5);
    // Halfway to each neighbour: a square on its corner.
    expect(areaOfRing(ring)).toBeCloseTo(2, 9);
  });
});

test("one field gives the rings of any number of levels, in any order", () => {
  const f = field((x, y) => 50 + Math.sin(x / 11) * Math.cos(y / 13), 1, 60);
  const sets = new LevelSets(f);
  const areas = [50.5, 49.2, 50.9, 50.5, 60, 40].map((level) => areaWithin(sets.rings(level)));
  expect(areas).toEqual([50.5, 49.2, 50.9, 50.5, 60, 40].map((level) => areaWithin(levelRings(f, level))));
  expect(areas[0]).toBe(areas[3]);
  expect(areas[1]).toBeGreaterThan(areas[0]);
  expect(areas[2]).toBeLessThan(areas[0]);
  expect(areas[4]).toBe(0);
});

describe("the error of an area", () => {
  test("falls at least linearly with the pitch", () => {
    const radius = 87.3;
    const errors = [8, 4, 2, 1].map((pitchMm) => {
      // The mean over many lays of the grid, so that luck with one of them does not count.
      let sum = 0;
      const next = dice(4);
      for (let k = 0; k < 10; k++) {
        const [dx, dy] = [next() * 8, next() * 8];
        const f = field((x, y) => 60 - Math.hypot(x - dx, y - dy) / 5, pitchMm, 112);
        sum += Math.abs(areaWithin(levelRings(f, 60 - radius / 5)) - Math.PI * radius ** 2);
      }
      return sum / 10;
    });
    const floor = 2 * Math.PI * radius * THIN_MM;
    for (let k = 1; k < errors.length; k++) expect(errors[k]).toBeLessThan(errors[k - 1] / 2 + floor);
  });
});

describe("properties", () => {
  const heights = fc.record({
    // Up to and beyond the blocks of 16 in which fields are gone through.
    cols: fc.integer({ min: 3, max: 37 }),
    rows: fc.integer({ min: 3, max: 37 }),
    seed: fc.nat(),
    // Few and near heights make plateaus and hair-thin necks, many make noise.
    kind: fc.constantFrom("steps", "noise", "hairs"),
    pitchMm: fc.constantFrom(0.3, 2, 7.7),
  });
  const made = ({
    cols,
    rows,
    seed,
    kind,
    pitchMm,
  }: {
    cols: number;
    rows: number;
    seed: number;
    kind: string;
    pitchMm: number;
  }): HeightField => {
    const next = dice(seed);
    const z = Float32Array.from({ length: cols * rows }, () => {
      if (kind === "steps") return 49 + Math.floor(3 * next());
      if (kind === "noise") return 49 + 2 * next();
      return next() < 0.5 ? 45 : 50 + 0.02 * next();
    });
    return { x0: -3.3, y0: 12.1, pitchMm, cols, rows, z };
  };

  test("every sample above the level lies inside, every other one outside", () => {
    fc.assert(
      fc.property(heights, (drawn) => {
        const f = made(drawn);
        expectSamplesRight(f, 50, levelRings(f, 50));
      }),
      { seed: SEED, numRuns: 4000 },
    );
  });

  test("rings do not cross: even-odd and signed areas agree", () => {
    fc.assert(
      fc.property(heights, (drawn) => {
        const f = made(drawn);
        const rings = levelRings(f, 50);
        const signed = rings.reduce((sum, ring) => sum + areaOfRing(ring), 0);
        // Thinned by 0.02 mm each, rings may overlap by as much.
        expect(Math.abs(areaWithin(rings) - signed)).toBeLessThan(2 * THIN_MM * (perimeterOf(rings) + 1));
      }),
      { seed: SEED, numRuns: 4000 },
    );
  });
});
