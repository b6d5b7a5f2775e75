import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Cell, Way } from "../../src/passes/cells.ts";
import { type Cost, orderCells } from "../../src/passes/order.ts";
import { dice } from "../region/shapes.ts";

const SEED = 20_260_220;

/** Cells without cuts: only what it costs to get from one to another matters here. */
function cellsOf(waysPerCell: readonly number[]): Cell[] {
  return waysPerCell.map((ways) => ({
    ways: Array.from(
      { length: ways },
      (): Way => ({ startU: 0, startV: 0, endU: 0, endV: 0, cuts: () => [] }),
    ),
  }));
}

/** Random seconds for every pair of ways; there and back differ. */
function randomCost(cells: readonly Cell[], seed: number): Cost {
  const next = dice(seed);
  const ways: (Way | null)[] = [null, ...cells.flatMap((cell) => cell.ways)];
  const table = new Map(ways.map((from) => [from, new Map(ways.map((to) => [to, 10 * next()]))]));
  return (from, to) => table.get(from)!.get(to)!;
}

/** Places in the plane: a way costs the distance from where the one before ended to where it starts. */
function travelCost(cells: readonly Cell[], seed: number): Cost {
  const next = dice(seed);
  const ends = new Map(
    cells.flatMap((cell) => {
      const at = [1000 * next(), 1000 * next()];
      return cell.ways.map((way) => {
        const place = () => [at[0] + 100 * next(), at[1] + 100 * next()];
        return [way, { start: place(), end: place() }] as const;
      });
    }),
  );
  return (from, to) => {
    const [x, y] = from === null ? [0, 0] : ends.get(from)!.end;
    const { start } = ends.get(to)!;
    return Math.hypot(start[0] - x, start[1] - y);
  };
}

function total(order: readonly Way[], cost: Cost): number {
  return order.reduce((sum, way, k) => sum + cost(k === 0 ? null : order[k - 1], way), 0);
}

/** The least there is, by trying every order and every way. */
function leastOf(cells: readonly Cell[], cost: Cost): number {
  const from = (last: Way | null, left: readonly Cell[]): number => {
    if (left.length === 0) return 0;
    let least = Number.POSITIVE_INFINITY;
    for (const cell of left) {
      const rest = left.filter((other) => other !== cell);
      for (const way of cell.ways) least = Math.min(least, cost(last, way) + from(way, rest));
    }
    return least;
  };
  return from(null, cells);
}

/** Always the nearest that is left. */
function nearestNext(cells: readonly Cell[], cost: Cost): number {
  const left = new Set(cells);
  let sum = 0;
  let at: Way | null = null;
  while (left.size > 0) {
    let best: { seconds: number; way: Way; cell: Cell } | null = null;
    for (const cell of left)
      for (const way of cell.ways) {
        const seconds = cost(at, way);
        if (best === null || seconds < best.seconds) best = { seconds, way, cell };
      }
    sum += best!.seconds;
    at = best!.way;
    left.delete(best!.cell);
  }
  return sum;
}

function expectEachOnce(order: readonly Way[], cells: readonly Cell[]): void {
  expect(order).toHaveLength(cells.length);
  const owners = order.map((way) => cells.findIndex((cell) => cell.ways.includes(way)));
  expect([...owners].sort((p, q) => p - q)).toEqual(cells.map((_, k) => k));
}

const waysPerCell = (max: number) =>
  fc.array(fc.integer({ min: 1, max: 4 }), { minLength: 0, maxLength: max });

describe("few cells", () => {
  test("property: their order costs the least of all orders and ways, there and back differing", () => {
    fc.assert(
      fc.property(waysPerCell(5), fc.nat(), (ways, seed) => {
        const cells = cellsOf(ways);
        const cost = randomCost(cells, seed);
        const order = orderCells(cells, cost);
        expectEachOnce(order, cells);
        expect(total(order, cost)).toBeCloseTo(leastOf(cells, cost), 9);
      }),
      { seed: SEED, numRuns: 60 },
    );
  });

  test("property: so does that of six cells of two ways", () => {
    fc.assert(
      fc.property(fc.nat(), (seed) => {
        const cells = cellsOf([2, 2, 2, 2, 2, 2]);
        const cost = randomCost(cells, seed);
        expect(total(orderCells(cells, cost), cost)).toBeCloseTo(leastOf(cells, cost), 9);
      }),
      { seed: SEED, numRuns: 12 },
    );
  });

  test("none and one", () => {
    expect(orderCells([], () => 1)).toEqual([]);
    const [cell] = cellsOf([3]);
    const cost: Cost = (_, to) => [5, 2, 9][cell.ways.indexOf(to)];
    expect(orderCells([cell], cost)).toEqual([cell.ways[1]]);
  });

  test("when there is no way to a cell but at any price then it is still cut", () => {
    const cells = cellsOf([1, 2, 1]);
    expectEachOnce(
      orderCells(cells, () => Number.POSITIVE_INFINITY),
      cells,
    );
  });
});

describe("many cells", () => {
  test.each([8, 20, 60])("of %i each is cut once, and never at a higher price than nearest next", (count) => {
    fc.assert(
      fc.property(fc.nat(), fc.boolean(), (seed, plane) => {
        const next = dice(seed);
        const cells = cellsOf([...Array(count)].map(() => 1 + Math.floor(4 * next())));
        const cost = (plane ? travelCost : randomCost)(cells, seed + 1);
        const order = orderCells(cells, cost);
        expectEachOnce(order, cells);
        expect(total(order, cost)).toBeLessThanOrEqual(nearestNext(cells, cost) + 1e-9);
      }),
      { seed: SEED, numRuns: 8 },
    );
  });

  test("of 400 each is cut once, at no higher price than nearest next", () => {
    const cells = cellsOf([...Array(400)].map((_, k) => 1 + (k % 4)));
    const cost = travelCost(cells, 5);
    const order = orderCells(cells, cost);
    expectEachOnce(order, cells);
    expect(total(order, cost)).toBeLessThanOrEqual(nearestNext(cells, cost) + 1e-9);
  });

  test("of 8 the price is near the least", () => {
    let [found, least] = [0, 0];
    for (let seed = 1; seed <= 5; seed++) {
      const cells = cellsOf([1, 1, 1, 1, 1, 1, 1, 1]);
      const cost = travelCost(cells, seed);
      found += total(orderCells(cells, cost), cost);
      least += leastOf(cells, cost);
    }
    expect(found).toBeLessThan(1.15 * least);
  });

  test("the same cells at the same prices are ordered the same", () => {
    const cells = cellsOf([...Array(30)].map(() => 2));
    const cost = travelCost(cells, 3);
    expect(orderCells(cells, cost)).toEqual(orderCells(cells, cost));
  });
});
