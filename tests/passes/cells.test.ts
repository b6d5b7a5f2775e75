import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Ring } from "../../src/job/job.ts";
import { borderCells, type Cell, type Cut, rowCells, type Way } from "../../src/passes/cells.ts";
import { edgesOf, Turn } from "../../src/passes/edges.ts";
import { rowsOver, type Stretch } from "../../src/passes/rows.ts";
import { difference, grown, type Region, regionOf, rings, union } from "../../src/region/region.ts";
import {
  anyRing,
  begunAt,
  distanceToArea,
  distanceToEdges,
  distanceToSegment,
  isInside,
  placesAlong,
  polygon,
  rectangle,
  reversed,
  ringOf,
} from "../region/shapes.ts";

const SEED = 20_260_219;
const LEVEL = new Turn(0);

function stretchesOver(region: Region, radiusMm = 15, stepoverMm = 20, bridgeMm = 0): Stretch[] {
  const rule = { radiusMm, stepoverMm, overrunMm: 5, roundTurns: true };
  return rowsOver(edgesOf(region, LEVEL), rule, 10_000)!(bridgeMm);
}

/** A stretch as a way cuts it, in either direction: `v: low to high`. */
function keyOf({ points }: Cut): string {
  return `${points[1]}: ${Math.min(points[0], points[2])} to ${Math.max(points[0], points[2])}`;
}

const keyOfStretch = (s: Stretch) => `${s.v}: ${s.from} to ${s.to}`;

/** The ends that a way states are those of its first and last cut. */
function expectEndsRight(way: Way): void {
  const cuts = way.cuts();
  const last = cuts[cuts.length - 1].points;
  expect([way.startU, way.startV]).toEqual(cuts[0].points.slice(0, 2));
  expect([way.endU, way.endV]).toEqual(last.slice(-2));
}

describe("cells of rows", () => {
  test("a rectangle is one cell, cut to and fro, in four ways", () => {
    const stretches = stretchesOver(regionOf([rectangle(0, 0, 300, 100)]));
    const [cell, ...more] = rowCells(stretches, "both-ways", 0);
    expect(more).toEqual([]);
    const starts = new Set(cell.ways.map((way) => `${way.startU}, ${way.startV}`));
    expect(cell.ways).toHaveLength(4);
    expect(starts.size).toBe(4);
    for (const way of cell.ways) {
      expectEndsRight(way);
      const cuts = way.cuts();
      expect(cuts).toHaveLength(stretches.length);
      cuts.forEach((cut, k) => {
        const rightwards = cut.points[2] > cut.points[0];
        if (k > 0) expect(rightwards).toBe(!(cuts[k - 1].points[2] > cuts[k - 1].points[0]));
        // From one row to the next, never over one.
        if (k > 0) expect(Math.abs(cut.points[1] - cuts[k - 1].points[1])).toBeLessThanOrEqual(20);
      });
    }
  });

  test("one row alone has two ways, one-way rows have one each, all in one direction", () => {
    const one = stretchesOver(regionOf([rectangle(0, 0, 300, 20)]));
    expect(rowCells(one, "both-ways", 0)[0].ways).toHaveLength(2);
    const many = stretchesOver(regionOf([rectangle(0, 0, 300, 100)]));
    const cells = rowCells(many, "one-way", 7);
    expect(cells.map((cell) => cell.ways.length)).toEqual(many.map(() => 1));
    for (const { ways } of cells) {
      const [{ points }] = ways[0].cuts();
      expect(points[2]).toBeGreaterThan(points[0]);
    }
    expect(cells.map(({ ways }) => ways[0].cuts()[0].row)).toEqual(many.map((_, k) => 7 + k));
  });

  test("an area with a hole parts where the rows do: below, left, right and above", () => {
    const frame = difference(regionOf([rectangle(0, 0, 400, 400)]), regionOf([polygon(200, 200, 100, 90)]));
    const cells = rowCells(stretchesOver(frame), "both-ways", 0);
    expect(cells).toHaveLength(4);
  });

  test("teeth of a comb are cells of their own", () => {
    const comb = ringOf([0, 0], [300, 0], [300, 200], [200, 200], [200, 60], [100, 60], [100, 200], [0, 200]);
    expect(rowCells(stretchesOver(regionOf([comb])), "both-ways", 0)).toHaveLength(3);
  });

  test("rows that lie aside of each other are not joined", () => {
    const step = union(regionOf([rectangle(0, 0, 100, 40)]), regionOf([rectangle(150, 40, 250, 80)]));
    for (const cell of rowCells(stretchesOver(step, 15, 20), "both-ways", 0)) {
      const us = cell.ways[0].cuts().flatMap(({ points }) => [points[0], points[2]]);
      expect(Math.max(...us) - Math.min(...us)).toBeLessThan(120);
    }
  });

  test("property: every stretch is in exactly one cell, in each of its ways once, numbered without gaps", () => {
    const area = fc
      .tuple(anyRing(200), anyRing(80), anyRing(60), anyRing(150))
      .map(([a, b, c, d]) => union(difference(regionOf([a]), regionOf([b, c])), regionOf([d])));
    fc.assert(
      fc.property(
        area,
        fc.constantFrom(4, 15, 40),
        fc.constantFrom("both-ways", "one-way"),
        fc.nat(50),
        (region, radius, rows, first) => {
          const stretches = stretchesOver(region, radius, 1.3 * radius, radius / 2);
          const cells = rowCells(stretches, rows as "both-ways", first);
          const all = (pick: (cell: Cell) => Way) => cells.flatMap((cell) => pick(cell).cuts());
          expect(
            all((cell) => cell.ways[0])
              .map(keyOf)
              .sort(),
          ).toEqual(stretches.map(keyOfStretch).sort());
          expect(
            all((cell) => cell.ways[0])
              .map((cut) => cut.row)
              .sort((p, q) => p - q),
          ).toEqual(stretches.map((_, k) => first + k));
          for (const cell of cells) {
            const numbers = (way: Way) =>
              way
                .cuts()
                .map((cut) => `${cut.row} ${keyOf(cut)}`)
                .sort()
                .join();
            for (const way of cell.ways) {
              expectEndsRight(way);
              expect(numbers(way)).toBe(numbers(cell.ways[0]));
            }
          }
        },
      ),
      { seed: SEED, numRuns: 60 },
    );
  });

  test("property: rows that follow each other in a cell lie side by side and overlap", () => {
    fc.assert(
      fc.property(anyRing(200), anyRing(80), (a, b) => {
        const stretches = stretchesOver(difference(regionOf([a]), regionOf([b])), 10, 13);
        const byKey = new Map(stretches.map((s) => [keyOfStretch(s), s]));
        for (const { ways } of rowCells(stretches, "both-ways", 0)) {
          const chain = ways[0].cuts().map((cut) => byKey.get(keyOf(cut))!);
          for (let k = 1; k < chain.length; k++) {
            const [s, t] = [chain[k - 1], chain[k]];
            expect(Math.abs(t.row - s.row)).toBe(1);
            expect(Math.max(s.materialFrom, t.materialFrom)).toBeLessThanOrEqual(
              Math.min(s.materialTo, t.materialTo),
            );
          }
        }
      }),
      { seed: SEED, numRuns: 60 },
    );
  });

  test("of no stretches there are no cells", () => {
    expect(rowCells([], "both-ways", 0)).toEqual([]);
    expect(rowCells([], "one-way", 0)).toEqual([]);
  });
});

describe("cells along a border", () => {
  const radius = 20;
  const cellsOf = (ring: Ring, material: Region, firstRow = 0) =>
    borderCells([ring], edgesOf(material, LEVEL), radius, firstRow);

  const lengthOf = (points: readonly number[]) => {
    let length = 0;
    for (let k = 2; k < points.length; k += 2)
      length += Math.hypot(points[k] - points[k - 2], points[k + 1] - points[k - 1]);
    return length;
  };

  /** All ways of a cell are the same stretch of border, one way or the other, or begun elsewhere. */
  const expectAlike = (cell: Cell) => {
    const length = lengthOf(cell.ways[0].cuts()[0].points);
    for (const way of cell.ways) {
      expectEndsRight(way);
      expect(way.cuts()).toHaveLength(1);
      expect(lengthOf(way.cuts()[0].points)).toBeCloseTo(length, 6);
    }
  };

  test("a ring wholly over material is one closed way, in both directions, begun at many corners", () => {
    const ring = rectangle(100, 100, 200, 150);
    const [cell, ...more] = cellsOf(ring, regionOf([rectangle(0, 0, 400, 300)]), 3);
    expect(more).toEqual([]);
    expect(cell.ways).toHaveLength(2 * 4);
    expectAlike(cell);
    for (const way of cell.ways) {
      const [{ points, row }] = way.cuts();
      expect(row).toBe(3);
      expect([way.startU, way.startV]).toEqual([way.endU, way.endV]);
      expect(lengthOf(points)).toBeCloseTo(300, 9);
    }
    expect(new Set(cell.ways.map((way) => `${way.startU}, ${way.startV}`)).size).toBe(4);
  });

  test("a ring of many corners is begun at twelve of them, spread around it", () => {
    const ring = polygon(200, 150, 60, 100);
    const [cell] = cellsOf(ring, regionOf([rectangle(0, 0, 400, 300)]));
    expect(cell.ways).toHaveLength(24);
    expectAlike(cell);
    const angles = cell.ways.map((way) => Math.atan2(way.startV - 150, way.startU - 200));
    const quarters = new Set(angles.map((a) => Math.floor(a / (Math.PI / 2) + 4) % 4));
    expect(quarters.size).toBe(4);
  });

  test("a ring out of reach has no way", () => {
    expect(cellsOf(rectangle(500, 0, 600, 100), regionOf([rectangle(0, 0, 400, 300)]))).toEqual([]);
    expect(cellsOf(rectangle(500, 0, 600, 100), { paths: [] })).toEqual([]);
    expect(borderCells([], edgesOf(regionOf([rectangle(0, 0, 4, 3)]), LEVEL), radius, 0)).toEqual([]);
  });

  // By hand: a cleat's border of 100 x 60 stands half over a board's edge at y = 0. A disc of 20 still touches
  // the board 20 mm below it, but all that it reaches from there it reaches from y = 0.
  describe("a ring partly over material", () => {
    const board = regionOf([rectangle(-300, 0, 300, 200)]);
    const ring = rectangle(-50, -30, 50, 30);
    const starts = [0, 1, 2, 3];

    test.each(starts)(
      "is one way from the first place nearest to some material to the last, ring begun at corner %i",
      (start) => {
        for (const given of [begunAt(ring, start), begunAt(reversed(ring), start)]) {
          const [cell, ...more] = cellsOf(given, board);
          expect(more).toEqual([]);
          expectAlike(cell);
          expect(cell.ways).toHaveLength(2);
          const [{ points }] = cell.ways[0].cuts();
          expect(lengthOf(points)).toBeCloseTo(30 + 100 + 30, 6);
          expect(points[1]).toBeCloseTo(0, 9);
          expect(points[points.length - 1]).toBeCloseTo(0, 9);
          expect([cell.ways[0].startU, cell.ways[1].startU].sort((p, q) => p - q)).toEqual([-50, 50]);
        }
      },
    );

    test("when it begins in the middle of a way then the way is still one", () => {
      const begun = ringOf([0, 30], [-50, 30], [-50, -30], [50, -30], [50, 30]);
      const [cell, ...more] = cellsOf(begun, board);
      expect(more).toEqual([]);
      expect(lengthOf(cell.ways[0].cuts()[0].points)).toBeCloseTo(160, 6);
    });

    test("that leaves the material twice has two ways, and they are numbered", () => {
      // A strip 40 mm wide runs through the ring's middle.
      const strip = regionOf([rectangle(-300, -20, 300, 20)]);
      const tall = rectangle(-50, -100, 50, 100);
      for (const start of starts) {
        const cells = cellsOf(begunAt(tall, start), strip, 5);
        expect(cells).toHaveLength(2);
        expect(cells.map((cell) => cell.ways[0].cuts()[0].row)).toEqual([5, 6]);
        for (const cell of cells) expect(lengthOf(cell.ways[0].cuts()[0].points)).toBeCloseTo(40, 6);
      }
    });

    test("with a corner on the board's very edge, begun there, is still whole", () => {
      // A cleat that ends flush with the edge, on the near and on the far edge of the board, or beyond it.
      for (const [ringAt, needed] of [
        [rectangle(-50, 0, 50, 60), 320],
        [rectangle(-50, 140, 50, 200), 320],
        [rectangle(-50, 100, 50, 300), 300],
        [rectangle(-50, -100, 50, 100), 300],
      ] as const)
        for (const start of starts)
          for (const given of [begunAt(ringAt, start), begunAt(reversed(ringAt), start)]) {
            const cells = cellsOf(given, board);
            const length = cells.reduce((sum, cell) => sum + lengthOf(cell.ways[0].cuts()[0].points), 0);
            expect(Math.abs(length - needed), `${[...given]}`).toBeLessThan(0.5);
          }
    });
  });

  test("property: from the ways along a keep-out's border a disc reaches all that it does from the border", () => {
    fc.assert(
      fc.property(anyRing(200), anyRing(60), fc.nat(60), (board, keepOut, start) => {
        const material = regionOf([board]);
        const places = [...placesAlong(rings(material), 2), ...placesWithin(material, 4)];
        for (const ring of rings(grown(regionOf([keepOut]), 15))) {
          const given = begunAt(ring, start);
          const cells = cellsOf(given, material);
          const length = cells.reduce((sum, cell) => sum + lengthOf(cell.ways[0].cuts()[0].points), 0);
          expect(length).toBeLessThan(borderInTouch(ring, material, radius) + 1);
          const ways = cells.map((cell) => cell.ways[0].cuts()[0].points);
          for (const [x, y] of places)
            if (distanceToEdges([ring], x, y) < radius - 1e-6)
              expect(
                Math.min(...ways.map((points) => distanceToWay(points, x, y))),
                `${x}, ${y}`,
              ).toBeLessThan(radius);
          for (const cell of cells) {
            expectAlike(cell);
            const [{ points }] = cell.ways[0].cuts();
            for (let k = 0; k < points.length; k += 2)
              expect(distanceToArea(rings(material), points[k], points[k + 1])).toBeLessThan(radius + 1e-6);
          }
        }
      }),
      { seed: SEED, numRuns: 50 },
    );
  });
});

/** Length of the ring from which a disc touches the material, by walking along it in steps of 0.1 mm or less. */
function borderInTouch(ring: Ring, material: Region, radius: number): number {
  const all = rings(material);
  let length = 0;
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
    const edge = Math.hypot(ring[k] - ring[p], ring[k + 1] - ring[p + 1]);
    const steps = Math.ceil(edge / 0.1);
    let inTouch = 0;
    for (let i = 0; i < steps; i++) {
      const t = (i + 0.5) / steps;
      const x = ring[p] + t * (ring[k] - ring[p]);
      const y = ring[p + 1] + t * (ring[k + 1] - ring[p + 1]);
      if (distanceToArea(all, x, y) <= radius) inTouch++;
    }
    length += (inTouch / steps) * edge;
  }
  return length;
}

function placesWithin(region: Region, stepMm: number): [number, number][] {
  const all = rings(region);
  const coordinates = all.flatMap((ring) => [...ring]);
  const places: [number, number][] = [];
  for (let x = Math.min(...coordinates); x < Math.max(...coordinates); x += stepMm)
    for (let y = Math.min(...coordinates); y < Math.max(...coordinates); y += stepMm)
      if (isInside(all, x, y)) places.push([x, y]);
  return places;
}

function distanceToWay(points: readonly number[], x: number, y: number): number {
  let least = Math.hypot(points[0] - x, points[1] - y);
  for (let k = 2; k < points.length; k += 2)
    least = Math.min(least, distanceToSegment(x, y, points[k - 2], points[k - 1], points[k], points[k + 1]));
  return least;
}
