import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Ring } from "../../src/job/job.ts";
import { blocks, type Edges, edgesNear, edgesOf, holds, Turn, touching } from "../../src/passes/edges.ts";
import { regionOf, regionWithHoles, rings } from "../../src/region/region.ts";
import {
  anyRing,
  distanceToArea,
  distanceToEdges,
  distanceToSegment,
  isInside,
  rectangle,
  ringOf,
} from "../region/shapes.ts";

const SEED = 20_260_217;
const plan = { seed: SEED, numRuns: 150 };
const LEVEL = new Turn(0);

/** An area with perhaps a hole and an island, its edges, and its rings as the area keeps them. */
const area = fc
  .tuple(anyRing(200), fc.option(anyRing(80), { nil: null }))
  .map(([outer, inner]) => areaOfRings(inner === null ? [outer] : [outer, inner]));

function areaOfRings(given: readonly Ring[]): { edges: Edges; kept: Ring[] } {
  const region = regionWithHoles(given);
  return { edges: edgesOf(region, LEVEL), kept: rings(region) };
}

const place = fc.integer({ min: -45_000, max: 45_000 }).map((hundredths) => hundredths / 100);
const angle = fc.integer({ min: 0, max: 6283 }).map((thousandths) => thousandths / 1000);

describe("turns", () => {
  test("there and back is where one was, lengths stay, and u runs along the rows", () => {
    fc.assert(
      fc.property(angle, place, place, (rad, x, y) => {
        const turn = new Turn(rad);
        const [u, v] = [turn.u(x, y), turn.v(x, y)];
        expect(turn.x(u, v)).toBeCloseTo(x, 9);
        expect(turn.y(u, v)).toBeCloseTo(y, 9);
        expect(Math.hypot(u, v)).toBeCloseTo(Math.hypot(x, y), 9);
        expect(turn.u(Math.cos(rad), Math.sin(rad))).toBeCloseTo(1, 12);
        expect(turn.v(Math.cos(rad), Math.sin(rad))).toBeCloseTo(0, 12);
      }),
      plan,
    );
  });

  test.each([-7, -3, -2, -1, 0, 1, 2, 3, 4, 6, 9])("%i quarter turns are exact", (quarters) => {
    const turn = new Turn((quarters * Math.PI) / 2);
    const places: [number, number][] = [
      [3, 4],
      [-4, 3],
      [-3, -4],
      [4, -3],
    ];
    const [x, y] = places[((quarters % 4) + 4) % 4];
    expect(turn.u(x, y)).toBe(3);
    expect(turn.v(x, y)).toBe(4);
  });

  test("a ring turns with its places", () => {
    const turn = new Turn(0.4);
    const turned = turn.ring(rectangle(1, 2, 5, 9));
    expect(turned[4]).toBeCloseTo(turn.u(5, 9), 12);
    expect(turned[5]).toBeCloseTo(turn.v(5, 9), 12);
  });
});

describe("whether a place lies inside", () => {
  test("property: as counting crossings says", () => {
    fc.assert(
      fc.property(area, place, place, ({ edges, kept }, u, v) => {
        if (kept.length > 0 && distanceToEdges(kept, u, v) < 1e-9) return;
        expect(holds(edges, u, v)).toBe(isInside(kept, u, v));
      }),
      { ...plan, numRuns: 500 },
    );
  });

  test("of no area nothing does", () => {
    expect(holds(areaOfRings([]).edges, 0, 0)).toBe(false);
  });
});

describe("whether a way is blocked", () => {
  test("property: it is when any place on it lies inside, and only then", () => {
    fc.assert(
      fc.property(area, place, place, place, place, ({ edges, kept }, au, av, bu, bv) => {
        const distances = [...Array(401)].map((_, k) =>
          kept.length === 0
            ? 1
            : distanceToArea(kept, au + ((bu - au) * k) / 400, av + ((bv - av) * k) / 400),
        );
        const nearest = Math.min(...distances);
        const apart = Math.hypot(bu - au, bv - av) / 800;
        const blocked = blocks(edges, au, av, bu, bv);
        if (nearest === 0) expect(blocked).toBe(true);
        // Between two of the places asked about, the way may come nearer by half their distance.
        if (nearest > apart) expect(blocked).toBe(false);
        expect(blocks(edges, bu, bv, au, av)).toBe(blocked);
      }),
      { ...plan, numRuns: 300 },
    );
  });

  test("touching counts: along an edge, at a corner, at an end, and standing still on the edge", () => {
    const { edges } = areaOfRings([rectangle(0, 0, 100, 50)]);
    for (const [au, av, bu, bv] of [
      [-50, 50, 150, 50],
      [20, 50, 40, 50],
      [100, 80, 100, 50],
      [-20, 20, 20, -20],
      [150, 25, 100, 25],
      [100, 25, 100, 25],
      [30, 20, 60, 30],
      [50, 25, 50, 25],
    ])
      expect(blocks(edges, au, av, bu, bv), `${au}, ${av} to ${bu}, ${bv}`).toBe(true);
    for (const [au, av, bu, bv] of [
      [-50, 50.001, 150, 50.001],
      [100.001, -10, 100.001, 60],
      [-20, 19.99, 19.98, -20],
      [120, 50, 150, 50],
      [100, 51, 100, 80],
      [101, 25, 101, 25],
    ])
      expect(blocks(edges, au, av, bu, bv), `${au}, ${av} to ${bu}, ${bv}`).toBe(false);
  });

  test("nothing is in the way of no area", () => {
    expect(blocks(areaOfRings([]).edges, 0, 0, 10, 10)).toBe(false);
  });
});

describe("the edges nearby", () => {
  test("property: of all that come within reach of a way none is missing", () => {
    fc.assert(
      fc.property(
        area,
        place,
        place,
        place,
        place,
        fc.constantFrom(0, 5, 60),
        ({ edges }, au, av, bu, bv, reach) => {
          const near = edgesNear(edges, au, av, bu, bv, reach);
          const kept = new Set([...Array(near.count).keys()].map((k) => edgeKey(near, k)));
          for (let k = 0; k < edges.count; k++) {
            const [cu, cv, du, dv] = [edges.au[k], edges.av[k], edges.bu[k], edges.bv[k]];
            let away = Number.POSITIVE_INFINITY;
            for (let i = 0; i <= 20; i++)
              away = Math.min(
                away,
                distanceToSegment(au + ((bu - au) * i) / 20, av + ((bv - av) * i) / 20, cu, cv, du, dv),
              );
            if (away < reach - 1e-9) expect(kept.has(edgeKey(edges, k))).toBe(true);
          }
        },
      ),
      { ...plan, numRuns: 60 },
    );
  });
});

describe("where a disc on a way touches", () => {
  const check = (
    kept: readonly Ring[],
    edges: Edges,
    radius: number,
    u: number,
    v: number,
    rad: number,
    length: number,
  ) => {
    const [du, dv] = [Math.cos(rad), Math.sin(rad)];
    const spans = touching(edges, radius, u, v, du, dv, length);
    expect(spans.length % 2).toBe(0);
    for (let k = 0; k < spans.length; k++) {
      expect(spans[k]).toBeGreaterThanOrEqual(k === 0 ? 0 : spans[k - 1]);
      if (k % 2 === 0 && k > 0) expect(spans[k]).toBeGreaterThan(spans[k - 1]);
      expect(spans[k]).toBeLessThanOrEqual(length);
    }
    for (let i = 0; i <= 300; i++) {
      const s = (i / 300) * length;
      const away = kept.length === 0 ? 1e9 : distanceToArea(kept, u + s * du, v + s * dv);
      // Places where the disc only just touches may fall to either side.
      if (Math.abs(away - radius) < 1e-6) continue;
      const within = spans.some((from, k) => k % 2 === 0 && s >= from && s <= spans[k + 1]);
      if (within !== away < radius)
        throw new Error(`${s} mm along, ${away} mm away, is ${within ? "" : "not "}in ${spans}`);
    }
  };

  test("property: on the stretches found and nowhere else", () => {
    const radius = fc.constantFrom(1, 12, 31.75, 100);
    const length = fc.integer({ min: 1, max: 900 });
    fc.assert(
      fc.property(area, radius, place, place, angle, length, ({ edges, kept }, r, u, v, rad, l) => {
        check(kept, edges, r, u, v, rad, l);
      }),
      { ...plan, numRuns: 300 },
    );
  });

  test("property: along the axes, where edges run beside the way or across it exactly", () => {
    const whole = fc.integer({ min: -20, max: 20 }).map((v) => 10 * v);
    const size = fc.integer({ min: 1, max: 15 }).map((v) => 10 * v);
    fc.assert(
      fc.property(whole, whole, size, size, whole, whole, fc.nat(3), (x, y, w, h, u, v, quarter) => {
        const outer = rectangle(x, y, x + w, y + h);
        const hole = rectangle(x + w / 4, y + h / 4, x + w / 2, y + h / 2);
        const { edges, kept } = areaOfRings([outer, hole]);
        if (distanceToEdges(kept, u, v) < 1e-9) return;
        check(kept, edges, 17.3, u, v, (quarter * Math.PI) / 2, 400);
      }),
      { ...plan, numRuns: 400 },
    );
  });

  test("property: from a start on the very border of the area, into it or out of it", () => {
    const share = fc.integer({ min: 1, max: 9 }).map((tenths) => tenths / 10);
    fc.assert(
      fc.property(fc.nat(3), share, fc.nat(7), fc.constantFrom(5, 17.3), (side, along, eighth, radius) => {
        const { edges, kept } = areaOfRings([rectangle(-50, -30, 250, 90)]);
        const corners = [-50, -30, 250, -30, 250, 90, -50, 90, -50, -30];
        const [au, av, bu, bv] = corners.slice(2 * side, 2 * side + 4);
        const [du, dv] = [
          [1, 0],
          [1, 1],
          [0, 1],
          [-1, 1],
          [-1, 0],
          [-1, -1],
          [0, -1],
          [1, -1],
        ][eighth];
        check(kept, edges, radius, au + along * (bu - au), av + along * (bv - av), Math.atan2(dv, du), 500);
      }),
      { ...plan, numRuns: 300 },
    );
  });

  test("property: from corners and along edges of an area of right angles, in any of sixteen directions", () => {
    const at = fc.integer({ min: 0, max: 8 }).map((v) => 25 * v);
    const size = fc.integer({ min: 1, max: 6 }).map((v) => 25 * v);
    const boxes = fc.array(fc.tuple(at, at, size, size), { minLength: 1, maxLength: 4 });
    fc.assert(
      fc.property(boxes, at, at, fc.nat(15), fc.constantFrom(4, 30, 61), (given, u, v, sixteenth, radius) => {
        const region = regionOf(given.map(([x, y, w, h]) => rectangle(x, y, x + w, y + h)));
        check(rings(region), edgesOf(region, LEVEL), radius, u, v, (sixteenth * Math.PI) / 8, 500);
      }),
      { ...plan, numRuns: 600 },
    );
  });

  // By hand: down along the tooth's left edge, on through the body below it, and a radius beyond.
  test("when the way begins along an edge that leads into the area then it is in touch all through", () => {
    const edge = 32.001;
    const tooth = ringOf(
      [0, 0],
      [150, 0],
      [150, 200],
      [90, 200],
      [90, 300],
      [edge, 300],
      [edge, 200],
      [0, 200],
    );
    const { edges } = areaOfRings([tooth]);
    for (const u of [edge, edge - 1e-14, edge + 1e-14])
      for (const rad of [-Math.PI / 2, (3 * Math.PI) / 2, Math.atan2(-1, -1e-16)]) {
        const spans = touching(edges, 30, u, 256.5, Math.cos(rad), Math.sin(rad), 1000);
        expect(spans).toHaveLength(2);
        expect(spans[1]).toBeCloseTo(286.5, 6);
      }
  });

  test("when the way runs along a board's own edge then it is in touch until a radius beyond its corner", () => {
    const { edges } = areaOfRings([rectangle(75, 0, 100, 25)]);
    for (const [u, v, du, dv] of [
      [100, 25, 0, -1],
      [100, 0, 0, 1],
      [75, 25, 0, -1],
      [75, 0, 1, 0],
      [100, 25, -1, 0],
    ])
      for (const rad of [Math.atan2(dv, du), Math.atan2(dv, du) + 2 * Math.PI]) {
        const spans = touching(edges, 4, u, v, Math.cos(rad), Math.sin(rad), 500);
        expect(spans, `from ${u}, ${v}`).toHaveLength(2);
        expect(spans[1]).toBeCloseTo(29, 6);
      }
  });

  // By hand: 100 mm down along edges of two boxes that share a corner's line, and a radius of 4 beyond. Nothing
  // is crossed where the way passes from one to the other, only touched at corners.
  test("when the way runs from edge to edge over corners then it is in touch all along", () => {
    const region = regionOf([
      rectangle(175, 0, 200, 75),
      rectangle(75, 50, 175, 100),
      rectangle(0, 0, 25, 25),
    ]);
    for (const rad of [(3 * Math.PI) / 2, -Math.PI / 2]) {
      const spans = touching(edgesOf(region, LEVEL), 4, 175, 100, Math.cos(rad), Math.sin(rad), 500);
      expect(spans).toHaveLength(2);
      expect(spans[0]).toBe(0);
      expect(spans[1]).toBeCloseTo(104, 6);
    }
  });

  // By hand: a disc of radius 5 over a board from 0 to 100.
  test("from the far edge of a board across it: in touch until a radius beyond the near edge", () => {
    const { edges } = areaOfRings([rectangle(0, 0, 100, 40)]);
    expect(touching(edges, 5, 100, 20, -1, 0, 300)).toEqual([0, 105]);
    expect(touching(edges, 5, 0, 20, 1, 0, 300)).toEqual([0, 105]);
    expect(touching(edges, 5, 50, 40, 0, -1, 300)).toEqual([0, 45]);
    expect(touching(edges, 5, 50, 0, 0, 1, 300)).toEqual([0, 45]);
    expect(touching(edges, 5, 100, 20, 1, 0, 300)).toEqual([0, 5]);
  });

  test("a disc of no size touches what the way itself runs through", () => {
    const { edges } = areaOfRings([rectangle(0, 0, 100, 40)]);
    expect(touching(edges, 0, -50, 20, 1, 0, 300)).toEqual([50, 150]);
    expect(touching(edges, 0, -50, 50, 1, 0, 300)).toEqual([]);
  });
});

function edgeKey(edges: Edges, k: number): string {
  return [edges.au[k], edges.av[k], edges.bu[k], edges.bv[k]].join();
}
