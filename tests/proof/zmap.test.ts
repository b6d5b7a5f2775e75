// The map of heights against closed forms, against discs put down one by one, and against itself: moves in
// pieces or whole, with and without what was cut before.

import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { type Met, ZMap } from "../../src/proof/zmap.ts";

const SEED = 20_260_301;

interface Lay {
  readonly x0?: number;
  readonly y0?: number;
  readonly pitchMm?: number;
  readonly cols: number;
  readonly rows: number;
}

/** A map of wood `heightMm` high everywhere. */
function flat(heightMm: number, { x0 = 0, y0 = 0, pitchMm = 1, cols, rows }: Lay): ZMap {
  return new ZMap({ x0, y0, pitchMm, cols, rows }, new Float32Array(cols * rows).fill(heightMm));
}

function copyOf(map: ZMap): ZMap {
  return new ZMap(map.grid, map.z.slice());
}

/** Height of the cell at a place that lies on a sample. */
function at({ grid, z }: ZMap, x: number, y: number): number {
  return z[((y - grid.y0) / grid.pitchMm) * grid.cols + (x - grid.x0) / grid.pitchMm];
}

function countBelow(map: ZMap, heightMm: number): number {
  return map.z.reduce((count, z) => count + (z < heightMm ? 1 : 0), 0);
}

/** What was taken from cell to cell: the deepest of it and the sum. */
function taken(before: Float32Array, after: Float32Array): { bite: number; volume: number } {
  let [bite, volume] = [0, 0];
  for (let k = 0; k < before.length; k++) {
    if (!(before[k] > after[k])) continue;
    bite = Math.max(bite, before[k] - after[k]);
    volume += before[k] - after[k];
  }
  return { bite, volume };
}

function expectMet(met: Met, { bite, volume }: { bite: number; volume: number }): void {
  expect(met.bite).toBeCloseTo(bite, 9);
  expect(Math.abs(met.volume - volume)).toBeLessThanOrEqual(1e-9 * (1 + volume));
}

interface Move {
  readonly ax: number;
  readonly ay: number;
  readonly az: number;
  readonly bx: number;
  readonly by: number;
  readonly bz: number;
}

/** Puts `steps` + 1 discs down along the move, each cutting all cells within its radius. */
function march(map: ZMap, { ax, ay, az, bx, by, bz }: Move, radius: number, steps: number): void {
  const { x0, y0, pitchMm, cols, rows } = map.grid;
  for (let step = 0; step <= steps; step++) {
    const t = step / steps;
    const [x, y, z] = [ax + t * (bx - ax), ay + t * (by - ay), az + t * (bz - az)];
    for (let row = 0; row < rows; row++)
      for (let col = 0; col < cols; col++) {
        const k = row * cols + col;
        if ((x0 + col * pitchMm - x) ** 2 + (y0 + row * pitchMm - y) ** 2 > radius * radius) continue;
        if (map.z[k] > z) map.z[k] = z;
      }
  }
}

// A small bed on which moves may start and end anywhere, off it too.
const place = fc.double({ min: -12, max: 42, noNaN: true });
const height = fc.double({ min: 1, max: 9, noNaN: true });
const radii = fc.double({ min: 0.3, max: 14, noNaN: true });
const hills: fc.Arbitrary<ZMap> = fc
  .array(fc.oneof(fc.double({ min: 0, max: 10, noNaN: true }), fc.constant(-Infinity)), {
    minLength: 23 * 19,
    maxLength: 23 * 19,
  })
  .map((z) => new ZMap({ x0: 0.3, y0: 0.7, pitchMm: 1, cols: 23, rows: 19 }, Float32Array.from(z)));

describe("one pass", () => {
  // D L + pi D^2 / 4 of D 60 and L 100, worked out by hand.
  const AREA = 8827.433388;
  const PERIMETER = 2 * 100 + Math.PI * 60;

  /** How far the counted area of one pass is off, at a place and a heading that suit no grid. */
  function errorAt(pitchMm: number, seed: number): number {
    const side = Math.ceil(180 / pitchMm);
    const map = flat(1, { pitchMm, cols: side, rows: side });
    const angle = 0.1 + 0.37 * seed;
    const [cx, cy] = [90 + ((7 * seed) % 11) / 11, 90 + ((5 * seed) % 13) / 13];
    const [dx, dy] = [50 * Math.cos(angle), 50 * Math.sin(angle)];
    const { volume } = map.cutLevel(cx - dx, cy - dy, cx + dx, cy + dy, 0, 30, false);
    expect(volume).toBe(countBelow(map, 1));
    return Math.abs(volume * pitchMm * pitchMm - AREA);
  }

  test("clears D L + pi D^2 / 4, wrong by no more than half a cell all around", () => {
    for (const pitchMm of [4, 2, 1, 0.5])
      for (let seed = 0; seed < 20; seed++)
        expect(errorAt(pitchMm, seed), `cell ${pitchMm}, seed ${seed}`).toBeLessThan(
          (PERIMETER * pitchMm) / 2,
        );
  });

  test("the error falls at least about linearly as the cell halves", () => {
    const mean = (pitchMm: number) => {
      let sum = 0;
      for (let seed = 0; seed < 40; seed++) sum += errorAt(pitchMm, seed);
      return sum / 40;
    };
    const means = [4, 2, 1, 0.5].map(mean);
    for (let k = 1; k < means.length; k++) expect(means[k] / means[k - 1]).toBeLessThan(0.65);
  });

  test("along the grid, with samples in the middles of its cells, the width is exact", () => {
    const map = flat(1, { x0: 0.5, y0: 0.5, cols: 200, rows: 80 });
    map.cutLevel(50, 40, 150, 40, 0, 30, false);
    // A column half way along: 60 cells wide, from 10.5 to 69.5.
    const column = Array.from({ length: 80 }, (_, row) => at(map, 100.5, row + 0.5));
    expect(column.indexOf(0)).toBe(10);
    expect(column.filter((z) => z === 0)).toHaveLength(60);
  });

  test("of a disc set down: pi R^2 to half a cell all around", () => {
    const map = flat(3, { cols: 100, rows: 100 });
    const { bite, volume } = map.cutLevel(50.2, 49.7, 50.2, 49.7, 1, 30, false);
    expect(bite).toBe(2);
    expect(Math.abs(volume / 2 - Math.PI * 900)).toBeLessThan(Math.PI * 30);
  });

  test("takes the same in both directions and when it is seen in a mirror", () => {
    fc.assert(
      fc.property(place, place, place, place, radii, (ax, ay, bx, by, radius) => {
        const lay = { x0: 0.3, y0: 0.7, cols: 23, rows: 19 };
        const [there, back] = [flat(5, lay), flat(5, lay)];
        there.cutLevel(ax, ay, bx, by, 2, radius, false);
        back.cutLevel(bx, by, ax, ay, 2, radius, false);
        // Only cells on the very rim may fall to either side.
        expect(there.z.filter((z, k) => z !== back.z[k]).length).toBeLessThanOrEqual(2);
        const mirrored = flat(5, { ...lay, x0: -22.3 });
        mirrored.cutLevel(-ax, ay, -bx, by, 2, radius, false);
        let apart = 0;
        for (let row = 0; row < 19; row++)
          for (let col = 0; col < 23; col++)
            if (there.z[row * 23 + col] !== mirrored.z[row * 23 + 22 - col]) apart++;
        expect(apart).toBeLessThanOrEqual(2);
      }),
      { seed: SEED, numRuns: 150 },
    );
  });
});

describe("what a move meets", () => {
  test("bite and volume are those of the cells it lowered, and a look tells the least air", () => {
    fc.assert(
      fc.property(
        hills,
        place,
        place,
        place,
        place,
        height,
        height,
        radii,
        (map, ax, ay, bx, by, az, bz, r) => {
          const before = map.z.slice();
          const level = copyOf(map);
          expectMet(level.cutLevel(ax, ay, bx, by, az, r, false), taken(before, level.z));

          const slope = copyOf(map);
          expectMet(slope.cutSlope(ax, ay, az, bx, by, bz, r), taken(before, slope.z));

          const looked = map.look(ax, ay, az, bx, by, bz, r);
          expectMet(looked, taken(before, slope.z));
          expect(map.z).toEqual(before);
          expect(slope.met.lowest).toBe(looked.lowest);
          expect(looked.volume > 0).toBe(Number.isFinite(looked.lowest));
          // The nearest that the disc comes to any cell under it, bites counted as less than nothing.
          const under = new ZMap(
            map.grid,
            before.map(() => 100),
          );
          under.cutSlope(ax, ay, az, bx, by, bz, r);
          let air = Infinity;
          for (let k = 0; k < before.length; k++)
            if (under.z[k] < 100) air = Math.min(air, under.z[k] - before[k]);
          expect(looked.air).toBe(air);
        },
      ),
      { seed: SEED, numRuns: 150 },
    );
  });

  test("a second time over the same ground it meets nothing, in single precision too", () => {
    fc.assert(
      fc.property(
        hills,
        place,
        place,
        place,
        place,
        height,
        height,
        radii,
        (map, ax, ay, bx, by, az, bz, r) => {
          map.cutLevel(ax, ay, bx, by, az, r, false);
          expect(map.cutLevel(ax, ay, bx, by, az, r, false)).toMatchObject({ bite: 0, volume: 0 });
          map.cutSlope(ax, ay, az, bx, by, bz, r);
          expect(map.cutSlope(ax, ay, az, bx, by, bz, r)).toMatchObject({ bite: 0, volume: 0 });
          expect(map.look(ax, ay, az, bx, by, bz, r)).toMatchObject({ bite: 0, volume: 0 });
        },
      ),
      { seed: SEED, numRuns: 150 },
    );
  });

  test("where there is no wood there is nothing to meet", () => {
    const map = flat(-Infinity, { cols: 50, rows: 50 });
    expect(map.cutLevel(10, 10, 40, 40, 5, 10, false)).toMatchObject({ bite: 0, volume: 0 });
    expect(map.cutSlope(10, 10, 5, 40, 40, 1, 10)).toMatchObject({ bite: 0, volume: 0 });
    expect(map.look(10, 10, 5, 40, 40, 1, 10)).toMatchObject({ bite: 0, volume: 0, air: Infinity });
    expect(map.z.every((z) => z === -Infinity)).toBe(true);
  });

  test("beyond the grid nothing is met, and what reaches over its edge takes what is on it", () => {
    const map = flat(2, { cols: 50, rows: 40 });
    for (const [ax, ay, bx, by] of [
      [-50, 20, -11, 20],
      [60, 20, 200, 20],
      [25, -99, 25, -11],
      [25, 50, 25, 5000],
      [-40, -40, -10, -10],
    ]) {
      expect(map.cutLevel(ax, ay, bx, by, 1, 10, false)).toMatchObject({ bite: 0, volume: 0 });
      expect(map.look(ax, ay, 1, bx, by, 0, 10)).toMatchObject({ bite: 0, volume: 0, air: Infinity });
    }
    expect(countBelow(map, 2)).toBe(0);
    // A disc about the corner (0, 0): a quarter of it, samples on both edges included.
    map.cutLevel(0, 0, 0, 0, 1, 10, false);
    let quarter = 0;
    for (let x = 0; x <= 10; x++) for (let y = 0; y <= 10; y++) if (x * x + y * y <= 100) quarter++;
    expect(countBelow(map, 2)).toBe(quarter);
    // And a row that starts and ends far outside cuts all of its strip.
    map.cutLevel(-1000, 20, 1000, 20, 0, 10, false);
    expect(countBelow(map, 1)).toBe(50 * 21);
  });

  test("a move of no length is the disc itself, straight up or down too", () => {
    const disc = flat(5, { cols: 40, rows: 40 });
    disc.cutLevel(20, 20, 20, 20, 2, 7, false);
    const down = flat(5, { cols: 40, rows: 40 });
    expect(down.cutSlope(20, 20, 9, 20, 20, 2, 7)).toMatchObject({ bite: 3 });
    expect(down.z).toEqual(disc.z);
    const up = flat(5, { cols: 40, rows: 40 });
    expect(up.cutSlope(20, 20, 2, 20, 20, 9, 7)).toMatchObject({ bite: 3 });
    expect(up.z).toEqual(disc.z);
    expect(disc.cutLevel(20, 20, 20, 20, 2, 7, true)).toMatchObject({ bite: 0, volume: 0 });
  });
});

describe("a slope", () => {
  // From (0, 0, 10) to (100, 0, 0), R 10. Over a cell the edge is lowest where the disc leaves it: at
  // (50, 0) that is at x 60, height 4; at (50, 6) half the chord is 8, so x 58 and 4.2.
  const wood = () => flat(20, { x0: -20, y0: -20, cols: 141, rows: 41 });

  test("down leaves over each cell the height at which the disc leaves it", () => {
    const map = wood();
    const { bite } = map.cutSlope(0, 0, 10, 100, 0, 0, 10);
    expect(at(map, 50, 0)).toBeCloseTo(4, 6);
    expect(at(map, 50, 6)).toBeCloseTo(4.2, 6);
    expect(at(map, 50, 10)).toBeCloseTo(5, 6); // touched at one place only
    expect(at(map, 50, 11)).toBe(20);
    expect(at(map, -5, 0)).toBeCloseTo(9.5, 6); // behind the start
    expect(at(map, -10, 0)).toBeCloseTo(10, 6);
    expect(at(map, 95, 0)).toBe(0);
    expect(at(map, 108, 6)).toBe(0); // under the last disc
    expect(bite).toBe(20);
  });

  test("up leaves over each cell the height at which the disc comes to it", () => {
    const map = wood();
    map.cutSlope(100, 0, 0, 0, 0, 10, 10);
    const down = wood();
    down.cutSlope(0, 0, 10, 100, 0, 0, 10);
    expect(map.z.every((z, k) => Math.abs(z - down.z[k]) < 1e-5)).toBe(true);
  });

  test("cuts what discs along a fine march cut, to the march's own step", () => {
    const steps = 120;
    fc.assert(
      fc.property(
        hills,
        place,
        place,
        place,
        place,
        height,
        height,
        radii,
        (map, ax, ay, bx, by, az, bz, r) => {
          const move = { ax, ay, az, bx, by, bz };
          const [exact, less, more] = [copyOf(map), copyOf(map), copyOf(map)];
          exact.cutSlope(ax, ay, az, bx, by, bz, r);
          march(less, move, r, steps);
          // Discs that reach half a step farther cover every place of the way, at most half a step's height too high.
          const halfStep = Math.hypot(bx - ax, by - ay) / steps / 2;
          march(more, move, r + halfStep + 1e-9, steps);
          const slack = Math.abs(bz - az) / steps / 2 + 1e-5;
          for (let k = 0; k < exact.z.length; k++) {
            if (exact.z[k] === -Infinity) continue;
            expect(exact.z[k]).toBeLessThanOrEqual(less.z[k] + 1e-5);
            expect(exact.z[k]).toBeGreaterThanOrEqual(more.z[k] - slack);
          }
        },
      ),
      { seed: SEED, numRuns: 60 },
    );
  });

  test("in one move or in many leaves the same, to single precision", () => {
    fc.assert(
      fc.property(
        hills,
        place,
        place,
        place,
        place,
        height,
        height,
        radii,
        fc.integer({ min: 2, max: 9 }),
        (map, ax, ay, bx, by, az, bz, r, parts) => {
          const [whole, pieces] = [copyOf(map), copyOf(map)];
          whole.cutSlope(ax, ay, az, bx, by, bz, r);
          const on = (t: number, a: number, b: number) => a + t * (b - a);
          for (let k = 0; k < parts; k++) {
            const [s, t] = [k / parts, (k + 1) / parts];
            pieces.cutSlope(
              ...([on(s, ax, bx), on(s, ay, by), on(s, az, bz)] as const),
              ...([on(t, ax, bx), on(t, ay, by), on(t, az, bz), r] as const),
            );
          }
          let apart = 0;
          for (let k = 0; k < whole.z.length; k++)
            if (whole.z[k] !== -Infinity && Math.abs(whole.z[k] - pieces.z[k]) > 1e-5) apart++;
          expect(apart).toBeLessThanOrEqual(2); // on the very rim
        },
      ),
      { seed: SEED, numRuns: 100 },
    );
  });
});

describe("crescents: what a disc newly covers beyond where it stood", () => {
  /** A chain of moves: places, and now and then a change of height on the way. */
  const chain = fc.array(fc.tuple(place, place, fc.option(height, { freq: 3 })), {
    minLength: 2,
    maxLength: 14,
  });

  test("leave the same map, bites and volumes as whole capsules, for any chain of moves", () => {
    fc.assert(
      fc.property(hills, radii, chain, (map, radius, stops) => {
        const [whole, crescents] = [copyOf(map), copyOf(map)];
        let [x, y, first] = stops[0];
        let z = first ?? 4;
        let hasCut = false;
        for (const [nextX, nextY, nextZ] of stops.slice(1)) {
          const bz = nextZ ?? z;
          const seen: { bite: number; volume: number }[] = [];
          if (bz === z) {
            seen.push({ ...whole.cutLevel(x, y, nextX, nextY, z, radius, false) });
            seen.push({ ...crescents.cutLevel(x, y, nextX, nextY, z, radius, hasCut) });
          } else {
            seen.push({ ...whole.cutSlope(x, y, z, nextX, nextY, bz, radius) });
            seen.push({ ...crescents.cutSlope(x, y, z, nextX, nextY, bz, radius) });
          }
          expect(seen[1]).toEqual(seen[0]);
          hasCut = true;
          [x, y, z] = [nextX, nextY, bz];
        }
        expect(crescents.z).toEqual(whole.z);
      }),
      { seed: SEED, numRuns: 400 },
    );
  });

  test("and when a row is cut into tiny moves its cells are met once", () => {
    const [whole, tiny] = [flat(5, { cols: 300, rows: 90 }), flat(5, { cols: 300, rows: 90 })];
    whole.cutLevel(40, 45, 240, 45, 3, 30, false);
    let volume = tiny.cutLevel(40, 45, 40.5, 45, 3, 30, false).volume;
    for (let k = 1; k < 400; k++)
      volume += tiny.cutLevel(40 + 0.5 * k, 45, 40.5 + 0.5 * k, 45, 3, 30, true).volume;
    expect(tiny.z).toEqual(whole.z);
    expect(volume).toBe(2 * countBelow(whole, 5));
  });
});
