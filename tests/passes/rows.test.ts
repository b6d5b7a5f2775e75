import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Ring } from "../../src/job/job.ts";
import { edgesOf, Turn } from "../../src/passes/edges.ts";
import { type RowRule, rowsOver, type Stretch } from "../../src/passes/rows.ts";
import { areaOf, difference, type Region, regionOf, rings, union } from "../../src/region/region.ts";
import {
  anyRing,
  areaOfRing,
  dice,
  distanceToSegment,
  isInside,
  placesAlong,
  polygon,
  rectangle,
  ringOf,
} from "../region/shapes.ts";

const SEED = 20_260_218;
const ROWS_MAX = 10_000;

type AskedRule = RowRule & { readonly bridgeMm: number };

const rule = (radiusMm: number, stepoverMm: number, more: Partial<AskedRule> = {}): AskedRule => ({
  radiusMm,
  stepoverMm,
  overrunMm: null,
  bridgeMm: 0,
  roundTurns: true,
  ...more,
});

function rowsOf(region: Region, angleRad: number, asked: AskedRule): Stretch[] {
  const rowsFor = rowsOver(edgesOf(region, new Turn(angleRad)), asked, ROWS_MAX);
  expect(rowsFor).not.toBeNull();
  return rowsFor!(asked.bridgeMm);
}

/** An area of several parts, with holes, concave. */
const area = fc
  .tuple(anyRing(200), fc.option(anyRing(90), { nil: null }), fc.option(anyRing(120), { nil: null }))
  .map(([a, hole, other]) => {
    const holed = hole === null ? regionOf([a]) : difference(regionOf([a]), regionOf([hole]));
    return other === null ? holed : union(holed, regionOf([other]));
  });

const drawn = fc.record({
  region: area,
  // Hundredths of a degree; the quarter turns are among them.
  angle: fc.oneof(
    fc.constantFrom(0, 90, -90, 45),
    fc.integer({ min: -18_000, max: 18_000 }).map((h) => h / 100),
  ),
  radius: fc.constantFrom(3, 12.7, 31.75, 80),
  stepover: fc.integer({ min: 10, max: 100 }).map((percent) => percent / 100),
  bridge: fc.constantFrom(0, 0.5, 6),
  overrun: fc.constantFrom(null, 0, 5, 40),
});

type Drawn = typeof drawn extends fc.Arbitrary<infer T> ? T : never;

const radiansOf = (degrees: number) => (degrees * Math.PI) / 180;

function ruleOf({ radius, stepover, bridge, overrun }: Drawn): AskedRule {
  return rule(radius, stepover * 2 * radius, { bridgeMm: bridge * radius, overrunMm: overrun });
}

/** Places of an area that cutting must reach: spread over it, along its edges, and its corners. */
function placesOf(region: Region, seed: number, count: number): [number, number][] {
  const all = rings(region);
  const next = dice(seed);
  const edge = placesAlong(all, 4);
  const places = edge.length > 400 ? edge.filter((_, k) => k % Math.ceil(edge.length / 400) === 0) : edge;
  for (let k = 0; k < count; k++) {
    const [x, y] = [1000 * next() - 500, 1000 * next() - 500];
    if (isInside(all, x, y)) places.push([x, y]);
  }
  return places;
}

/** Distance from a place to the nearest stretch. */
function awayFromRows(stretches: readonly Stretch[], u: number, v: number): number {
  let least = Number.POSITIVE_INFINITY;
  for (const s of stretches) least = Math.min(least, distanceToSegment(u, v, s.from, s.v, s.to, s.v));
  return least;
}

function must(condition: boolean, text: string): void {
  if (!condition) throw new Error(text);
}

describe("property: rows over any area", () => {
  test("the discs along them cover all of it, corners and slivers included", () => {
    fc.assert(
      fc.property(drawn, fc.nat(), (given, seed) => {
        const turn = new Turn(radiansOf(given.angle));
        const stretches = rowsOf(given.region, radiansOf(given.angle), ruleOf(given));
        for (const [x, y] of placesOf(given.region, seed, 400)) {
          const away = awayFromRows(stretches, turn.u(x, y), turn.v(x, y));
          if (away > given.radius) throw new Error(`${x}, ${y} lies ${away} mm from the nearest row`);
        }
      }),
      { seed: SEED, numRuns: 100 },
    );
  });

  test("rows lie evenly, no farther apart than the stepover and than discs overlap", () => {
    fc.assert(
      fc.property(drawn, (given) => {
        const asked = ruleOf(given);
        const stretches = rowsOf(given.region, radiansOf(given.angle), asked);
        const at = new Map(stretches.map((s) => [s.row, s.v]));
        must(
          stretches.every((s) => at.get(s.row) === s.v),
          "stretches of one row lie at one v",
        );
        const vs = [...at].sort((p, q) => p[0] - q[0]);
        for (let k = 1; k < vs.length; k++) {
          const spacing = (vs[k][1] - vs[k - 1][1]) / (vs[k][0] - vs[k - 1][0]);
          const allowed = Math.min(asked.stepoverMm, 2 * 0.96 * given.radius) + 1e-9;
          must(spacing > 0 && spacing <= allowed, `rows ${spacing} mm apart, allowed ${allowed}`);
        }
      }),
      { seed: SEED, numRuns: 100 },
    );
  });

  test("stretches come row by row, from low to high; with an overrun the centre goes that far past the material, else not past it", () => {
    fc.assert(
      fc.property(drawn, (given) => {
        const asked = ruleOf(given);
        const turn = new Turn(radiansOf(given.angle));
        const us = rings(given.region).flatMap((ring) => [...turn.ring(ring)].filter((_, k) => k % 2 === 0));
        const [low, high] = [Math.min(...us) - 1e-9, Math.max(...us) + 1e-9];
        const stretches = rowsOf(given.region, radiansOf(given.angle), asked);
        stretches.forEach((s, k) => {
          const text = JSON.stringify(s);
          must(s.from <= s.to && s.materialFrom <= s.materialTo, text);
          must(s.materialFrom >= low && s.materialTo <= high, text);
          const [before, after] = [s.materialFrom - s.from, s.to - s.materialTo];
          if (given.overrun === null) must(before < 1e-9 && after < 1e-9, text);
          else must(Math.abs(before - given.overrun) + Math.abs(after - given.overrun) < 1e-9, text);
          const last = stretches[k - 1];
          if (last?.row === s.row) must(s.materialFrom > last.materialTo + asked.bridgeMm, text);
          else must(last === undefined || s.row > last.row, text);
        });
      }),
      { seed: SEED, numRuns: 100 },
    );
  });

  test("the length of the rows is not under the least there can be", () => {
    // By hand: a disc swept along a length L covers at most D L + pi D^2 / 4.
    fc.assert(
      fc.property(drawn, (given) => {
        const d = 2 * given.radius;
        const stretches = rowsOf(given.region, radiansOf(given.angle), ruleOf(given));
        const length = stretches.reduce((sum, s) => sum + s.to - s.from, 0);
        const least = areaOf(given.region) / d - (stretches.length * Math.PI * d) / 4;
        expect(length).toBeGreaterThanOrEqual(least - 1e-6);
      }),
      { seed: SEED, numRuns: 60 },
    );
  });
});

describe("how many rows", () => {
  const vOf = (stretches: readonly Stretch[]) => [...new Set(stretches.map((s) => s.v))];

  // By hand: 1000 x 400, D 60, at most 24 apart: ceil(340 / 24) + 1 = 16 with the cutter kept inside,
  // ceil(400 / 24) = 17 where rows may overhang.
  test("a rectangle of 1000 x 400 takes at most 17 rows of a 60 mm cutter at 24 mm, and not under 16", () => {
    const count = vOf(rowsOf(regionOf([rectangle(0, 0, 1000, 400)]), 0, rule(30, 24))).length;
    expect(count).toBeLessThanOrEqual(17);
    expect(count).toBeGreaterThanOrEqual(16);
  });

  test("a rectangle takes as few as its discs can cover it with, or one more for the overlap at the edge", () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 5, max: 900 }),
        fc.constantFrom(6, 31.75, 50),
        fc.integer({ min: 10, max: 96 }),
        (width, radius, percent) => {
          const stepover = (percent / 100) * 2 * radius;
          const rows = rowsOf(regionOf([rectangle(0, 0, 1200, width)]), 0, rule(radius, stepover));
          const least = (inset: number) =>
            width <= 2 * inset ? 1 : Math.ceil((width - 2 * inset) / stepover - 1e-9) + 1;
          expect(rows).toHaveLength(vOf(rows).length);
          expect(rows.length).toBeGreaterThanOrEqual(least(radius));
          // The outermost rows may lie up to 96 % of the radius inside the edge.
          expect(rows.length).toBeLessThanOrEqual(least(0.96 * radius));
        },
      ),
      { seed: SEED, numRuns: 300 },
    );
  });

  test("the outermost row lies at most 96 % of the radius inside the edge, as stated", () => {
    const worst: string[] = [];
    for (const percent of [10, 40, 60, 80, 90, 95, 97, 100])
      for (let width = 20; width < 600; width += 3.7) {
        const radius = 30;
        const rows = vOf(
          rowsOf(regionOf([rectangle(0, 0, 1200, width)]), 0, rule(radius, (percent / 100) * 60)),
        );
        const inset = Math.max(rows[0], width - rows[rows.length - 1]);
        if (inset > 0.96 * radius + 1e-3)
          worst.push(`${width} mm wide at ${percent} %: ${inset / radius} of the radius`);
      }
    expect(worst.slice(0, 3), `${worst.length} rectangles`).toEqual([]);
  });

  test("an area no wider than the cutter takes one row along its middle", () => {
    const [row, ...more] = rowsOf(regionOf([rectangle(0, 10, 500, 50)]), 0, rule(30, 24));
    expect(more).toEqual([]);
    expect(row.v).toBeCloseTo(30, 9);
    // By hand: the disc clears the corners 20 mm beside its way from sqrt(30^2 - 20^2) mm inside the ends.
    expect(row.from).toBeCloseTo(Math.sqrt(500), 0);
    expect(row.to).toBeCloseTo(500 - Math.sqrt(500), 0);
    expect(row.from).toBeLessThanOrEqual(Math.sqrt(500));
  });

  test("an area no longer than the cutter either takes one place over it", () => {
    const [row, ...more] = rowsOf(regionOf([rectangle(0, 0, 20, 20)]), 0, rule(30, 24));
    expect(more).toEqual([]);
    expect([row.from, row.to, row.v]).toEqual([10, 10, 10]);
  });

  test("when there would be more rows than allowed then there is no answer", () => {
    const edges = edgesOf(regionOf([rectangle(0, 0, 100, 1000)]), new Turn(0));
    expect(rowsOver(edges, rule(30, 1), 900)).toBeNull();
    expect(rowsOver(edges, rule(30, 1), 1000)).not.toBeNull();
  });

  test("over nothing there are no rows", () => {
    expect(rowsOf({ paths: [] }, 0, rule(30, 24))).toEqual([]);
  });
});

describe("stretches by hand", () => {
  const U: Ring = ringOf(
    [0, 0],
    [300, 0],
    [300, 200],
    [200, 200],
    [200, 60],
    [100, 60],
    [100, 200],
    [0, 200],
  );

  test("a gap wider than the bridge parts a row, a narrower one does not", () => {
    const over = (bridgeMm: number) => rowsOf(regionOf([U]), 0, rule(15, 20, { bridgeMm }));
    const high = (stretches: Stretch[]) => stretches.filter((s) => s.v > 100 && s.v < 120);
    expect(high(over(99)).map((s) => [s.materialFrom, s.materialTo])).toEqual([
      [0, 100],
      [200, 300],
    ]);
    expect(high(over(101)).map((s) => [s.materialFrom, s.materialTo])).toEqual([[0, 300]]);
  });

  test("a row begins where the one beside it no longer reaches, not where its own strip does", () => {
    // By hand: 0.96 x 30 = 28.8 to either side, so two rows; the lower one, at 28.8, cleans up to 57.6, which the
    // edge from (0, 50) to (1000, 90) passes at u = 190. Strips of half a spacing would begin at u = 0.
    const wedge = ringOf([0, 0], [1000, 0], [1000, 90], [0, 50]);
    const [low, high, ...more] = rowsOf(regionOf([wedge]), 0, rule(30, 36));
    expect(more).toEqual([]);
    expect([low.materialFrom, low.materialTo]).toEqual([0, 1000]);
    expect(high.materialFrom).toBeLessThanOrEqual(190);
    expect(high.materialFrom).toBeGreaterThan(190 - 30 / 16);
  });

  test("an end that half a circle leads on from lies farther inside, by hand", () => {
    // Rows 36 apart, so circles of 18 about places 18 beside the row. Of its strip, 18 to either side, the farther
    // corner lies 36 from those places: cleaned from sqrt((29.95 + 18)^2 - 36^2) inside the end on.
    const rows = rowsOf(regionOf([rectangle(0, 0, 1000, 28.8 * 2 + 36 * 2)]), 0, rule(30, 36));
    expect(rows).toHaveLength(3);
    const inside = Math.sqrt((29.95 + 18) ** 2 - 36 ** 2);
    for (const ends of [rows[1].round!.below, rows[1].round!.above]) {
      expect(ends.from).toBeCloseTo(inside, 6);
      expect(ends.to).toBeCloseTo(1000 - inside, 6);
    }
    expect(rows[1].from).toBeCloseTo(Math.sqrt(29.95 ** 2 - 18 ** 2), 6);
  });

  test("along Y the same area has rows along Y", () => {
    const stretches = rowsOf(regionOf([U]), Math.PI / 2, rule(15, 20));
    // u runs along +Y, v along -X.
    for (const s of stretches) {
      expect(s.v).toBeLessThan(0);
      expect(s.v).toBeGreaterThan(-300);
      expect(s.materialTo).toBeLessThanOrEqual(200);
    }
    expect(stretches.filter((s) => s.v < -110 && s.v > -190).every((s) => s.materialTo === 60)).toBe(true);
  });

  test("a hole is not cut but for what the disc must reach beside it", () => {
    const frame = difference(regionOf([rectangle(0, 0, 400, 400)]), regionOf([polygon(200, 200, 120, 60)]));
    const middle = rowsOf(frame, 0, rule(20, 24)).filter((s) => Math.abs(s.v - 200) < 12);
    for (const s of middle) expect(s.to - s.from).toBeLessThan(100);
    expect(middle.length).toBeGreaterThanOrEqual(2);
  });

  test("mirrored areas have mirrored rows", () => {
    fc.assert(
      fc.property(anyRing(200), (ring) => {
        const mirrored = Float64Array.from(ring, (value, k) => (k % 2 === 0 ? -value : value));
        const length = (r: Ring) =>
          rowsOf(regionOf([r]), 0, rule(12, 14)).reduce((sum, s) => sum + s.to - s.from, 0);
        expect(Math.abs(areaOfRing(mirrored))).toBeCloseTo(areaOfRing(ring), 6);
        // Where either of two rows could clean a place, the one that comes first along the rows may differ.
        expect(Math.abs(length(mirrored) - length(ring))).toBeLessThan(12 + 0.05 * length(ring));
      }),
      { seed: SEED, numRuns: 60 },
    );
  });
});
