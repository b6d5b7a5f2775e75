import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { inOrOn, overlapOf, ringOf } from "../../src/job/outline.ts";

const SEED = 20_260_102;

type Corner = [number, number];

describe("rings", () => {
  const square: Corner[] = [
    [0, 0],
    [10, 0],
    [10, 10],
    [0, 10],
  ];

  test("either direction gives a counter-clockwise ring", () => {
    expect(ringOf(square)).toEqual({ ring: Float64Array.of(0, 0, 10, 0, 10, 10, 0, 10) });
    expect(ringOf([...square].reverse())).toEqual({ ring: Float64Array.of(0, 0, 10, 0, 10, 10, 0, 10) });
  });

  test("repeated neighbours and a repeated closing corner are dropped", () => {
    const [a, b, c, d] = square;
    expect(ringOf([a, a, b, b, b, c, d, a, a])).toEqual(ringOf(square));
  });

  test("corners on a straight edge are kept", () => {
    const [a, b, c, d] = square;
    expect(ringOf([a, [5, 0], b, c, d])).toEqual({ ring: Float64Array.of(0, 0, 5, 0, 10, 0, 10, 10, 0, 10) });
  });

  test("when it crosses itself then place and both edges are named by the corners as given", () => {
    const bowTie: Corner[] = [
      [0, 0],
      [0, 0],
      [10, 10],
      [10, 0],
      [0, 10],
    ];
    expect(ringOf(bowTie)).toEqual({
      problem: "crosses",
      x: 5,
      y: 5,
      edges: [
        [0, 2],
        [3, 4],
      ],
    });
  });

  test("when a corner touches another edge or corner, or an edge doubles back, then it touches itself", () => {
    const cornerOnEdge: Corner[] = [
      [0, 0],
      [10, 0],
      [10, 10],
      [5, 0],
      [0, 10],
    ];
    expect(ringOf(cornerOnEdge)).toMatchObject({
      problem: "touches",
      x: 5,
      y: 0,
      edges: [
        [0, 1],
        [2, 3],
      ],
    });
    const cornerOnCorner: Corner[] = [
      [0, 0],
      [10, 0],
      [5, 5],
      [10, 10],
      [0, 10],
      [5, 5],
    ];
    expect(ringOf(cornerOnCorner)).toMatchObject({ problem: "touches", x: 5, y: 5 });
    const spike: Corner[] = [
      [0, 0],
      [10, 0],
      [10, 10],
      [10, 4],
      [0, 10],
    ];
    expect(ringOf(spike)).toMatchObject({
      problem: "touches",
      x: 10,
      y: 4,
      edges: [
        [1, 2],
        [2, 3],
      ],
    });
  });

  test("when there are fewer than 3 corners or no area then it is no outline", () => {
    expect(ringOf([])).toEqual({ problem: "few" });
    expect(
      ringOf([
        [0, 0],
        [5, 5],
        [0, 0],
      ]),
    ).toEqual({ problem: "few" });
    expect(
      ringOf([
        [0, 0],
        [5, 5],
        [10, 10],
      ]),
    ).toEqual({ problem: "no-area" });
    expect(
      ringOf([
        [0, 0],
        [5, 5],
        [10, 10],
        [2, 2],
      ]),
    ).toEqual({ problem: "no-area" });
  });

  test(`a ring is given exactly when a plain comparison of all edges finds it simple, seed ${SEED}`, () => {
    const coordinate = fc.integer({ min: 0, max: 5 });
    const corners = fc.array(fc.tuple(coordinate, coordinate), { minLength: 3, maxLength: 8 });
    let simple = 0;
    fc.assert(
      fc.property(corners, (some) => {
        const wanted = isSimple(some);
        if (wanted) simple++;
        expect("ring" in ringOf(some)).toBe(wanted);
      }),
      { seed: SEED, numRuns: 4000 },
    );
    expect(simple).toBeGreaterThan(500);
  });

  test(`it does not matter where the outline begins, nor its direction or place, seed ${SEED}`, () => {
    fc.assert(
      fc.property(starRing(), fc.nat(), fc.integer({ min: -3.9e4, max: 3.9e4 }), (star, turn, shift) => {
        const corners = star.map(([x, y]): Corner => [x + shift, y - shift]);
        const k = turn % corners.length;
        const turned = [...corners.slice(k), ...corners.slice(0, k)].reverse();
        expect("ring" in ringOf(corners)).toBe(true);
        expect("ring" in ringOf(turned)).toBe(true);
      }),
      { seed: SEED, numRuns: 300 },
    );
  });

  test("20 000 corners, as a wavy slab or a comb of long teeth, take well under a second", () => {
    const wavy = Array.from({ length: 20_000 }, (_, k): Corner => {
      const angle = (2 * Math.PI * k) / 20_000;
      const radius = 1 + 0.05 * Math.sin(40 * angle);
      return [1200 * radius * Math.cos(angle), 500 * radius * Math.sin(angle)];
    });
    const comb = Array.from({ length: 19_998 }, (_, k): Corner => [k % 4 < 2 ? 0 : 2400, k / 10]);
    const closedComb: Corner[] = [...comb, [-5, 1999.8], [-5, 0]];
    for (const corners of [wavy, closedComb]) {
      const start = performance.now();
      expect("ring" in ringOf(corners)).toBe(true);
      expect(performance.now() - start).toBeLessThan(2000);
    }
  });
});

describe("places and outlines", () => {
  test("a place inside, on the edge and outside", () => {
    const ring = Float64Array.of(0, 0, 10, 0, 10, 10, 0, 10);
    expect(inOrOn(ring, 5, 5, 0.001)).toBe(true);
    expect(inOrOn(ring, 10.0005, 5, 0.001)).toBe(true);
    expect(inOrOn(ring, 10.01, 5, 0.001)).toBe(false);
  });

  const box = (x: number, y: number, w: number, h: number) =>
    Float64Array.of(x, y, x + w, y, x + w, y + h, x, y + h);

  test.each([
    ["one right of the other along the whole edge", box(0, 0, 10, 10), box(10, 0, 10, 10), false],
    ["one above the other, edge in edge", box(0, 0, 10, 10), box(2, 10, 3, 10), false],
    ["corner to corner", box(0, 0, 10, 10), box(10, 10, 5, 5), false],
    ["apart", box(0, 0, 10, 10), box(30, 0, 10, 10), false],
    [
      "one in a bay of the other",
      Float64Array.of(0, 0, 9, 0, 9, 9, 6, 9, 6, 3, 3, 3, 3, 9, 0, 9),
      box(3, 3, 3, 3),
      false,
    ],
    ["corners in each other", box(0, 0, 10, 10), box(8, 8, 10, 10), true],
    ["one in the other", box(0, 0, 10, 10), box(2, 2, 3, 3), true],
    ["a cross", box(0, 4, 10, 2), box(4, 0, 2, 10), true],
    ["shifted along shared edges", box(0, 0, 20, 10), box(10, 0, 20, 10), true],
    ["the same", box(0, 0, 10, 10), box(0, 0, 10, 10), true],
    [
      "the same with other corners",
      box(0, 0, 10, 10),
      Float64Array.of(5, 0, 10, 0, 10, 10, 0, 10, 0, 0),
      true,
    ],
    ["a diamond from edge to edge", box(0, 0, 10, 10), Float64Array.of(5, 0, 10, 5, 5, 10, 0, 5), true],
  ])("%s", (_, a, b, overlap) => {
    expect(overlapOf(a, b) !== null).toBe(overlap);
    expect(overlapOf(b, a) !== null).toBe(overlap);
  });

  test(`outlines overlap where random places lie in both, and only then, seed ${SEED}`, () => {
    const coordinate = fc.integer({ min: 0, max: 6 });
    const simple = fc
      .array(fc.tuple(coordinate, coordinate), { minLength: 3, maxLength: 7 })
      .filter(isSimple)
      .map((corners) => (ringOf(corners) as { ring: Float64Array }).ring);
    let overlaps = 0;
    fc.assert(
      fc.property(simple, simple, (a, b) => {
        const place = overlapOf(a, b);
        if (place) {
          overlaps++;
          expect(inOrOn(a, ...place, 1e-6) && inOrOn(b, ...place, 1e-6)).toBe(true);
          expect(winding(a, ...place) !== 0 || winding(b, ...place) !== 0).toBe(true);
          return;
        }
        // No line through these places holds two whole-numbered corners.
        for (let i = 0; i < 20; i++)
          for (let j = 0; j < 20; j++) {
            const [x, y] = [i * 0.3 + 0.0713, j * 0.3 + 0.0391];
            expect(winding(a, x, y) !== 0 && winding(b, x, y) !== 0).toBe(false);
          }
      }),
      { seed: SEED, numRuns: 300 },
    );
    expect(overlaps).toBeGreaterThan(60);
    expect(overlaps).toBeLessThan(270);
  });
});

/** Whole-numbered corners: exact, all pairs of edges, nothing left out. */
function isSimple(given: readonly (readonly [number, number])[]): boolean {
  const corners = given.filter(([x, y], k) => {
    const [px, py] = given[(k + given.length - 1) % given.length];
    return x !== px || y !== py;
  });
  const n = corners.length;
  if (n < 3) return false;
  const at = (k: number) => corners[k % n];
  for (let i = 0; i < n; i++)
    for (let j = i + 1; j < n; j++) {
      if (j === i + 1 || (i === 0 && j === n - 1)) {
        const [a, b, c] = j === i + 1 ? [at(i), at(j), at(j + 1)] : [at(j), at(i), at(i + 1)];
        const back = (a[0] - b[0]) * (c[0] - b[0]) + (a[1] - b[1]) * (c[1] - b[1]) > 0;
        if (side(a, b, c) === 0 && back) return false;
      } else if (meet(at(i), at(i + 1), at(j), at(j + 1))) return false;
    }
  return true;
}

type P = readonly [number, number];

function side(a: P, b: P, c: P): number {
  return Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
}

function meet(a: P, b: P, c: P, d: P): boolean {
  const within = (p: P, q: P, r: P) =>
    side(p, q, r) === 0 &&
    Math.min(p[0], q[0]) <= r[0] &&
    r[0] <= Math.max(p[0], q[0]) &&
    Math.min(p[1], q[1]) <= r[1] &&
    r[1] <= Math.max(p[1], q[1]);
  if (within(a, b, c) || within(a, b, d) || within(c, d, a) || within(c, d, b)) return true;
  return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
}

/** How often the ring goes round the place, by the angles under which its edges are seen. */
function winding(ring: Float64Array, x: number, y: number): number {
  let turned = 0;
  for (let k = 0; k < ring.length; k += 2) {
    const [ax, ay] = [ring[k] - x, ring[k + 1] - y];
    const m = (k + 2) % ring.length;
    const [bx, by] = [ring[m] - x, ring[m + 1] - y];
    turned += Math.atan2(ax * by - ay * bx, ax * bx + ay * by);
  }
  return Math.round(turned / (2 * Math.PI));
}

/** Corners round a centre at growing angles: never crosses itself, by construction. */
function starRing() {
  return fc.array(fc.integer({ min: 300, max: 900 }), { minLength: 5, maxLength: 60 }).map((radii) =>
    radii.map((radius, k): Corner => {
      const angle = (2 * Math.PI * k) / radii.length;
      return [radius * Math.cos(angle), radius * Math.sin(angle)];
    }),
  );
}
