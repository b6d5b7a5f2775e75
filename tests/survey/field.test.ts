import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Ring } from "../../src/job/job.ts";
import { inOrOn } from "../../src/job/outline.ts";
import {
  boxOf,
  type Grid,
  gridOver,
  insideMask,
  insideShares,
  pitchFor,
  visitSpans,
} from "../../src/survey/field.ts";
import {
  anyRing,
  areaOfRing,
  begunAt,
  dice,
  distanceToEdges,
  isInside,
  placesAlong,
  polygon,
  rectangle,
  reversed,
  ringOf,
} from "../region/shapes.ts";

const SEED = 20_260_211;
const plan = { seed: SEED, numRuns: 150 };

describe("boxes and grids", () => {
  test("the box of several rings holds them all, the box of none is empty", () => {
    expect(boxOf([rectangle(1, 2, 3, 4), ringOf([-5, 3], [0, 3], [0, 9])])).toEqual({
      minX: -5,
      minY: 2,
      maxX: 3,
      maxY: 9,
    });
    const none = boxOf([]);
    expect(none.maxX).toBeLessThan(none.minX);
  });

  test("a grid's samples reach at least the pad beyond its box on every side, and hardly more", () => {
    const size = fc.double({ min: 0.1, max: 500, noNaN: true });
    fc.assert(
      fc.property(size, size, fc.double({ min: 0.3, max: 20, noNaN: true }), size, (w, h, pitch, pad) => {
        const box = { minX: -17.3, minY: 4.1, maxX: -17.3 + w, maxY: 4.1 + h };
        const grid = gridOver(box, pitch, pad);
        const right = grid.x0 + (grid.cols - 1) * pitch;
        const top = grid.y0 + (grid.rows - 1) * pitch;
        expect(grid.x0).toBeCloseTo(box.minX - pad, 9);
        expect(grid.y0).toBeCloseTo(box.minY - pad, 9);
        expect(right).toBeGreaterThanOrEqual(box.maxX + pad - 1e-9);
        expect(top).toBeGreaterThanOrEqual(box.maxY + pad - 1e-9);
        expect(right).toBeLessThan(box.maxX + pad + 1.001 * pitch);
        expect(top).toBeLessThan(box.maxY + pad + 1.001 * pitch);
      }),
      plan,
    );
  });

  test("the pitch is the one wanted until the box holds too many samples, then as fine as the number allows", () => {
    const box = { minX: 0, minY: 0, maxX: 2400, maxY: 900 };
    expect(pitchFor(box, 2, 1_500_000)).toBe(2);
    const coarse = pitchFor(box, 2, 15_000);
    expect((2400 / coarse) * (900 / coarse)).toBeCloseTo(15_000, 6);
  });
});

describe("inside on a grid", () => {
  // By hand: samples at 0, 1, 2, ...; the edges at 1.5 and 3.5 hold 2 and 3.
  test("a rectangle holds the samples within its edges", () => {
    const grid: Grid = { x0: 0, y0: 0, pitchMm: 1, cols: 6, rows: 5 };
    const mask = insideMask([rectangle(1.5, 0.5, 3.5, 2.5)], grid);
    const held = [...mask].flatMap((inside, k) => (inside ? [`${k % 6},${Math.floor(k / 6)}`] : []));
    expect(held).toEqual(["2,1", "3,1", "2,2", "3,2"]);
  });

  test("a ring in a ring is a hole, in whichever direction it runs", () => {
    const grid: Grid = { x0: 0, y0: 0, pitchMm: 1, cols: 11, rows: 11 };
    const outer = rectangle(-0.5, -0.5, 10.5, 10.5);
    const hole = rectangle(2.5, 2.5, 6.5, 7.5);
    for (const rings of [
      [outer, hole],
      [outer, reversed(hole)],
      [reversed(hole), reversed(outer)],
    ]) {
      expect(insideMask(rings, grid).reduce((sum, one) => sum + one, 0)).toBe(121 - 4 * 5);
    }
  });

  test("property: the mask agrees with counting crossings, for any ring, hole and grid", () => {
    fc.assert(
      fc.property(anyRing(50), anyRing(30), fc.double({ min: 0.7, max: 4, noNaN: true }), (a, b, pitchMm) => {
        const rings = [a, b];
        const box = boxOf(rings);
        // A grid that cuts a corner off: rings may leave it on any side.
        const grid = gridOver(
          { ...box, maxX: (box.minX + 2 * box.maxX) / 3, minY: box.minY + 5 },
          pitchMm,
          0,
        );
        const mask = insideMask(rings, grid);
        for (let k = 0; k < mask.length; k += 3) {
          const x = grid.x0 + (k % grid.cols) * pitchMm;
          const y = grid.y0 + Math.floor(k / grid.cols) * pitchMm;
          if (distanceToEdges(rings, x, y) < 1e-6) continue;
          if ((mask[k] === 1) !== isInside(rings, x, y)) throw new Error(`at ${x}, ${y}`);
        }
      }),
      { ...plan, numRuns: 60 },
    );
  });

  test("property: it matters neither where a ring begins nor which way it runs", () => {
    fc.assert(
      fc.property(anyRing(50), fc.nat(20), (ring, start) => {
        const grid = gridOver(boxOf([ring]), 1.7, 2);
        const mask = insideMask([ring], grid);
        const same = (other: Uint8Array) => mask.every((one, k) => one === other[k]);
        expect(same(insideMask([begunAt(ring, start)], grid))).toBe(true);
        expect(same(insideMask([reversed(ring)], grid))).toBe(true);
      }),
      { ...plan, numRuns: 60 },
    );
  });

  test("when a corner lies on a row of the grid, give or take a last digit, then the row is not lost", () => {
    // Boards measured to a tenth of a millimetre or in inches, from y0 on, with a station 2k mm up.
    const lost: string[] = [];
    for (const [unit, pitchMm] of [
      [0.1, 2],
      [25.4 / 16, 25.4 / 8],
      [1 / 3, 1],
    ])
      for (let from = -60; from < 60; from++)
        for (let k = 1; k < 8; k++) {
          const y0 = from * unit;
          const y = (from + (k * pitchMm) / unit) * unit;
          const top = y0 + 8 * pitchMm;
          const board = ringOf([0, y0], [100, y0], [120, y], [100, top], [0, top], [-20, y]);
          const lengths = new Float64Array(9);
          const grid: Grid = { x0: -50, y0, pitchMm, cols: 1, rows: 9 };
          visitSpans([board], grid, (row, a, b) => (lengths[row] += b - a));
          if (Math.abs(lengths[k] - 140) > 1e-6)
            lost.push(`row ${k} from ${y0} by ${pitchMm}, corner at ${y}: ${lengths[k]} mm long`);
        }
    expect(lost.slice(0, 3), `${lost.length} rows are lost`).toEqual([]);
  });
});

describe("shares of cells", () => {
  const areaByShares = (rings: readonly Ring[], grid: Grid) =>
    insideShares(rings, grid).reduce((sum, share) => sum + share, 0) * grid.pitchMm ** 2;
  const pitch = fc.integer({ min: 5, max: 30 }).map((tenths) => tenths / 10);

  test("property: they add up to the area by the shoelace formula, holes taken out", () => {
    fc.assert(
      fc.property(anyRing(50), pitch, (outline, pitchMm) => {
        const hole = Float64Array.from(outline, (v, k) => (k % 2 === 0 ? 9 : 11) + 0.3 * v);
        const grid = gridOver(boxOf([outline, hole]), pitchMm, pitchMm);
        const whole = areaOfRing(outline);
        expect(Math.abs(areaByShares([outline], grid) / whole - 1)).toBeLessThan(1e-6);
        // A hole that reaches out of its outline is none.
        if (outline.some((_, k) => k % 2 === 0 && isInside([hole], outline[k], outline[k + 1]))) return;
        if (hole.some((_, k) => k % 2 === 0 && !isInside([outline], hole[k], hole[k + 1]))) return;
        if (!placesAlong([hole], 20).every(([x, y]) => isInside([outline], x, y))) return;
        expect(
          Math.abs(areaByShares([outline, reversed(hole)], grid) / (whole - areaOfRing(hole)) - 1),
        ).toBeLessThan(1e-5);
      }),
      plan,
    );
  });

  test("property: each is the share of its own cell, also where rings leave the grid on any side", () => {
    fc.assert(
      fc.property(anyRing(50), pitch, fc.nat(), (ring, pitchMm, seed) => {
        const box = boxOf([ring]);
        const next = dice(seed);
        // A part of the box, so that the ring leaves the grid at all of its sides.
        const grid: Grid = {
          x0: box.minX + next() * 0.5 * (box.maxX - box.minX),
          y0: box.minY + next() * 0.5 * (box.maxY - box.minY),
          pitchMm,
          cols: 7,
          rows: 5,
        };
        insideShares([ring], grid).forEach((share, k) => {
          const x = grid.x0 + (k % grid.cols) * pitchMm;
          const y = grid.y0 + Math.floor(k / grid.cols) * pitchMm;
          const cell = rectangle(x - pitchMm / 2, y - pitchMm / 2, x + pitchMm / 2, y + pitchMm / 2);
          const exact = areaOfRing(clippedTo(ring, cell)) / pitchMm ** 2;
          if (!(Math.abs(share - exact) < 1e-5))
            throw new Error(`${share} instead of ${exact} at ${x}, ${y}`);
        });
      }),
      { ...plan, numRuns: 300 },
    );
  });

  test("a disc of 50 mm with a hole of 20 mm, on 1 mm cells", () => {
    const rings = [polygon(0.3, 0.4, 50, 720), reversed(polygon(5.1, -3.2, 20, 720))];
    const exact = areaOfRing(rings[0]) + areaOfRing(rings[1]);
    expect(areaByShares(rings, gridOver(boxOf(rings), 1, 1)) / exact).toBeCloseTo(1, 6);
  });

  test("edges along the cells' own borders and middles count to the full", () => {
    for (const offset of [0, 0.5, 0.01, 0.06, 0.31]) {
      const grid: Grid = { x0: 0, y0: 0, pitchMm: 1, cols: 10, rows: 10 };
      const shares = insideShares([rectangle(2 + offset, 2 + offset, 8 + offset, 7 + offset)], grid);
      // The cell of sample (5, 2) reaches from 1.5 to 2.5, that of (2, 5) likewise across.
      expect(shares[2 * 10 + 5]).toBeCloseTo(0.5 - offset, 6);
      expect(shares[5 * 10 + 2]).toBeCloseTo(0.5 - offset, 6);
      expect(shares[5 * 10 + 5]).toBeCloseTo(1, 6);
    }
  });
});

describe("inside a ring", () => {
  test("on its edge and within the slack counts, beyond it does not", () => {
    const board = rectangle(0, 0, 100, 20);
    expect(inOrOn(board, 50, 10, 0)).toBe(true);
    expect(inOrOn(board, 0, 0, 0)).toBe(true);
    expect(inOrOn(board, 100, 20, 0)).toBe(true);
    expect(inOrOn(board, 30, 20, 0)).toBe(true);
    expect(inOrOn(board, 30, 20.009, 0.01)).toBe(true);
    expect(inOrOn(board, 30, 20.011, 0.01)).toBe(false);
    expect(inOrOn(board, 100.008, 20.008, 0.01)).toBe(false);
  });

  test("property: it agrees with counting crossings and with distances", () => {
    const at = fc.double({ min: -110, max: 110, noNaN: true });
    fc.assert(
      fc.property(anyRing(50), at, at, fc.constantFrom(0, 0.01, 5), (ring, x, y, slack) => {
        const distance = distanceToEdges([ring], x, y);
        if (Math.abs(distance - slack) < 1e-9) return;
        expect(inOrOn(ring, x, y, slack)).toBe(isInside([ring], x, y) || distance < slack);
      }),
      { ...plan, numRuns: 500 },
    );
  });
});

/** What of a ring lies in a convex one, edge by edge of the latter (Sutherland and Hodgman 1974); signed area is right. */
function clippedTo(ring: Ring, convex: Ring): Ring {
  let corners = [...ring];
  for (let k = 0, p = convex.length - 2; k < convex.length; p = k, k += 2) {
    const side = (x: number, y: number) =>
      (convex[k] - convex[p]) * (y - convex[p + 1]) - (convex[k + 1] - convex[p + 1]) * (x - convex[p]);
    const kept: number[] = [];
    for (let i = 0, h = corners.length - 2; i < corners.length; h = i, i += 2) {
      const [ax, ay, bx, by] = [corners[h], corners[h + 1], corners[i], corners[i + 1]];
      const [a, b] = [side(ax, ay), side(bx, by)];
      if (a >= 0 !== b >= 0) kept.push(ax + ((bx - ax) * a) / (a - b), ay + ((by - ay) * a) / (a - b));
      if (b >= 0) kept.push(bx, by);
    }
    corners = kept;
  }
  return Float64Array.from(corners);
}
