// The order of cells, and the way each is run through, that costs least time between them. Exact for
// few cells (dynamic programming over subsets); for many, nearest next, then single cells are moved to
// where they cost less until none can be.

import type { Cell, Way } from "./cells.ts";

const EXACT_MAX = 7;
/** Above this many cells moving single ones takes longer than it saves. */
const MOVED_MAX = 150;

/** Time from the end of one way (null: from where the cutter is now) to the start of another. */
export type Cost = (from: Way | null, to: Way) => number;

/** One way for every cell, in the order to cut them. */
export function orderCells(cells: readonly Cell[], cost: Cost): Way[] {
  const numbered = numberedWays(cells);
  const remembered = remember(numbered.ways, cost);
  const order =
    cells.length <= EXACT_MAX
      ? exactOrder(numbered.byCell, remembered)
      : nearestOrder(numbered.byCell, remembered);
  const moved = cells.length > EXACT_MAX && cells.length <= MOVED_MAX;
  return (moved ? withCellsMoved(order, numbered.byCell, remembered) : order).map(
    (way) => numbered.ways[way],
  );
}

/** Ways by number, and the cell of each: what is asked for a million times is found by index. */
interface Numbered {
  readonly ways: readonly Way[];
  /** The numbers of each cell's ways. */
  readonly byCell: readonly (readonly number[])[];
}

function numberedWays(cells: readonly Cell[]): Numbered {
  const ways: Way[] = [];
  const byCell = cells.map((cell) => cell.ways.map((way) => ways.push(way) - 1));
  return { ways, byCell };
}

/** Before the first way. */
const START = -1;

/** Time between two ways by their numbers; `from` may be START. */
type Between = (from: number, to: number) => number;

/** Above so many ways a table of all pairs would be too large. */
const TABLE_MAX = 1500;

function remember(ways: readonly Way[], cost: Cost): Between {
  const count = ways.length;
  const ask = (from: number, to: number) => cost(from === START ? null : ways[from], ways[to]);
  if (count > TABLE_MAX) {
    const known = new Map<number, number>();
    return (from, to) => {
      const key = (from + 1) * count + to;
      const seconds = known.get(key) ?? ask(from, to);
      known.set(key, seconds);
      return seconds;
    };
  }
  // A cost is never negative.
  const table = new Float64Array((count + 1) * count).fill(-1);
  return (from, to) => {
    const key = (from + 1) * count + to;
    let seconds = table[key];
    if (seconds < 0) {
      seconds = ask(from, to);
      table[key] = seconds;
    }
    return seconds;
  };
}

interface State {
  readonly seconds: number;
  readonly way: number;
  readonly before: State | null;
}

/** Held and Karp: the cheapest run through each set of cells that ends in each way. */
function exactOrder(cells: readonly (readonly number[])[], cost: Between): number[] {
  if (cells.length === 0) return [];
  const full = (1 << cells.length) - 1;
  const best: Map<number, State>[] = Array.from({ length: full + 1 }, () => new Map());
  cells.forEach((ways, c) => {
    for (const way of ways) best[1 << c].set(way, { seconds: cost(START, way), way, before: null });
  });
  for (let set = 1; set <= full; set++)
    for (const state of best[set].values())
      cells.forEach((ways, c) => {
        if ((set & (1 << c)) !== 0) return;
        const into = best[set | (1 << c)];
        for (const way of ways) {
          const seconds = state.seconds + cost(state.way, way);
          const old = into.get(way);
          if (old === undefined || seconds < old.seconds) into.set(way, { seconds, way, before: state });
        }
      });
  let last: State | null = null;
  for (const state of best[full].values()) if (last === null || state.seconds < last.seconds) last = state;
  const order: number[] = [];
  for (let state = last; state !== null; state = state.before) order.push(state.way);
  return order.reverse();
}

function nearestOrder(cells: readonly (readonly number[])[], cost: Between): number[] {
  const left = [...cells];
  const order: number[] = [];
  let from = START;
  while (left.length > 0) {
    let bestIndex = 0;
    let bestWay = left[0][0];
    let best = Number.POSITIVE_INFINITY;
    left.forEach((ways, k) => {
      for (const way of ways) {
        const seconds = cost(from, way);
        if (seconds < best) {
          best = seconds;
          bestIndex = k;
          bestWay = way;
        }
      }
    });
    order.push(bestWay);
    left.splice(bestIndex, 1);
    from = bestWay;
  }
  return order;
}

/** Moves single cells to cheaper places until none gains. */
function withCellsMoved(order: number[], cells: readonly (readonly number[])[], cost: Between): number[] {
  const cellOf: (readonly number[])[] = [];
  for (const ways of cells) for (const way of ways) cellOf[way] = ways;
  for (let round = 0; round < 20; round++) {
    let moved = false;
    for (let k = 0; k < order.length; k++) {
      const placed = order[k];
      const before = k === 0 ? START : order[k - 1];
      const last = k + 1 === order.length;
      const closing = last ? 0 : cost(before, order[k + 1]);
      const gain = cost(before, placed) + (last ? 0 : cost(placed, order[k + 1])) - closing;
      const rest = order.toSpliced(k, 1);
      let best = gain - 1e-6;
      let bestAt = -1;
      let bestWay = placed;
      for (let at = 0; at <= rest.length; at++) {
        const from = at === 0 ? START : rest[at - 1];
        const ends = at === rest.length;
        const opened = ends ? 0 : cost(from, rest[at]);
        for (const way of cellOf[placed]) {
          const seconds = cost(from, way) + (ends ? 0 : cost(way, rest[at])) - opened;
          if (seconds < best) {
            best = seconds;
            bestAt = at;
            bestWay = way;
          }
        }
      }
      if (bestAt < 0) continue;
      rest.splice(bestAt, 0, bestWay);
      order = rest;
      moved = true;
    }
    if (!moved) break;
  }
  return order;
}
