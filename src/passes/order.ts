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
  const remembered = remember(cost);
  if (cells.length <= EXACT_MAX) return exactOrder(cells, remembered);
  const order = nearestOrder(cells, remembered);
  return cells.length <= MOVED_MAX ? withCellsMoved(order, remembered) : order.map(({ way }) => way);
}

function remember(cost: Cost): Cost {
  const known = new Map<Way | null, Map<Way, number>>();
  return (from, to) => {
    const row = known.get(from) ?? new Map<Way, number>();
    known.set(from, row);
    const seconds = row.get(to) ?? cost(from, to);
    row.set(to, seconds);
    return seconds;
  };
}

interface State {
  readonly seconds: number;
  readonly way: Way;
  readonly before: State | null;
}

/** Held and Karp: the cheapest run through each set of cells that ends in each way. */
function exactOrder(cells: readonly Cell[], cost: Cost): Way[] {
  if (cells.length === 0) return [];
  const full = (1 << cells.length) - 1;
  const best: Map<Way, State>[] = Array.from({ length: full + 1 }, () => new Map());
  cells.forEach((cell, c) => {
    for (const way of cell.ways) best[1 << c].set(way, { seconds: cost(null, way), way, before: null });
  });
  for (let set = 1; set <= full; set++)
    for (const state of best[set].values())
      cells.forEach((cell, c) => {
        if ((set & (1 << c)) !== 0) return;
        const into = best[set | (1 << c)];
        for (const way of cell.ways) {
          const seconds = state.seconds + cost(state.way, way);
          const old = into.get(way);
          if (old === undefined || seconds < old.seconds) into.set(way, { seconds, way, before: state });
        }
      });
  let last: State | null = null;
  for (const state of best[full].values()) if (last === null || state.seconds < last.seconds) last = state;
  const order: Way[] = [];
  for (let state = last; state !== null; state = state.before) order.push(state.way);
  return order.reverse();
}

interface Placed {
  readonly cell: Cell;
  way: Way;
}

function nearestOrder(cells: readonly Cell[], cost: Cost): Placed[] {
  const left = [...cells];
  const order: Placed[] = [];
  let from: Way | null = null;
  while (left.length > 0) {
    let bestIndex = 0;
    let bestWay = left[0].ways[0];
    let best = Number.POSITIVE_INFINITY;
    left.forEach((cell, k) => {
      for (const way of cell.ways) {
        const seconds = cost(from, way);
        if (seconds < best) {
          best = seconds;
          bestIndex = k;
          bestWay = way;
        }
      }
    });
    order.push({ cell: left[bestIndex], way: bestWay });
    left.splice(bestIndex, 1);
    from = bestWay;
  }
  return order;
}

/** Moves single cells to cheaper places until none gains. */
function withCellsMoved(order: Placed[], cost: Cost): Way[] {
  const between = (before: Placed | undefined, way: Way, after: Placed | undefined) =>
    cost(before?.way ?? null, way) + (after === undefined ? 0 : cost(way, after.way));
  for (let round = 0; round < 20; round++) {
    let moved = false;
    for (let k = 0; k < order.length; k++) {
      const placed = order[k];
      const [before, after] = [order[k - 1], order[k + 1]];
      const closing = after === undefined ? 0 : cost(before?.way ?? null, after.way);
      const gain = between(before, placed.way, after) - closing;
      const rest = [...order.slice(0, k), ...order.slice(k + 1)];
      let best = gain - 1e-6;
      let bestAt = -1;
      let bestWay = placed.way;
      for (let at = 0; at <= rest.length; at++) {
        const opened = at === rest.length ? 0 : cost(at === 0 ? null : rest[at - 1].way, rest[at].way);
        for (const way of placed.cell.ways) {
          const seconds = between(rest[at - 1], way, rest[at]) - opened;
          if (seconds < best) {
            best = seconds;
            bestAt = at;
            bestWay = way;
          }
        }
      }
      if (bestAt < 0) continue;
      rest.splice(bestAt, 0, { cell: placed.cell, way: bestWay });
      order = rest;
      moved = true;
    }
    if (!moved) break;
  }
  return order.map(({ way }) => way);
}
