// Cells: cuts that follow one another without lifting. Rows that lie side by side make a cell, cut to and
// fro; the way along a keep-out's border is a cell of its own. A cell can be run through in several ways.
// Coordinates are (u, v), u along the rows; millimetres.

import type { Ring } from "../job/job.ts";
import { type Edges, edgesNear, touching } from "./edges.ts";
import { neededOf, reversed } from "./needed.ts";
import type { Stretch } from "./rows.ts";

/** One uninterrupted cut at the layer's depth: `[u0, v0, u1, v1, ...]`, at least one point. */
export interface Cut {
  readonly row: number;
  readonly points: readonly number[];
  /** Where it may instead end, and the next cut begin, with half a circle between; left out: nowhere. */
  readonly roundU?: number | undefined;
}

/** One way to run through a cell. */
export interface Way {
  readonly startU: number;
  readonly startV: number;
  readonly endU: number;
  readonly endV: number;
  cuts(): Cut[];
}

export interface Cell {
  readonly ways: readonly Way[];
}

/** Rows side by side, joined as long as each overlaps just one in the next row; `firstRow` numbers the first. */
export function rowCells(
  stretches: readonly Stretch[],
  rows: "both-ways" | "one-way",
  firstRow: number,
): Cell[] {
  if (rows === "one-way")
    return stretches.map((s, k) => ({
      ways: [wayOf([{ row: firstRow + k, points: [s.from, s.v, s.to, s.v] }])],
    }));
  const numbered = stretches.map((stretch, k) => ({ stretch, number: firstRow + k }));
  return chains(stretches).map((chain) => {
    const cells = chain.map((k) => numbered[k]);
    const ways: Way[] = [];
    for (const upwards of chain.length > 1 ? [true, false] : [true])
      for (const rightwards of [true, false]) {
        const order = upwards ? cells : [...cells].reverse();
        const cuts = () =>
          order.map(({ stretch: s, number }, k) => {
            const right = (k % 2 === 0) === rightwards;
            const points = right ? [s.from, s.v, s.to, s.v] : [s.to, s.v, s.from, s.v];
            const roundU = k + 1 < order.length ? roundTurn(s, order[k + 1].stretch, right) : undefined;
            return { row: number, points, roundU };
          });
        ways.push(lazyWay(cuts));
      }
    return { ways };
  });
}

/** Where half a circle may lead from a stretch's right or left end to the next stretch. */
function roundTurn({ v, round }: Stretch, next: Stretch, right: boolean): number | undefined {
  if (round === null || next.round === null) return undefined;
  const [ends, others] = next.v > v ? [round.above, next.round.below] : [round.below, next.round.above];
  return right ? Math.max(ends.to, others.to) : Math.min(ends.from, others.from);
}

/** Indexes of stretches that follow each other in neighbouring rows, one to one. */
function chains(stretches: readonly Stretch[]): number[][] {
  const above = stretches.map(() => [] as number[]);
  const below = stretches.map(() => [] as number[]);
  let nextRow = 0;
  for (let k = 0; k < stretches.length; k++) {
    const s = stretches[k];
    while (nextRow < stretches.length && stretches[nextRow].row <= s.row) nextRow++;
    for (let n = nextRow; n < stretches.length && stretches[n].row === s.row + 1; n++) {
      const t = stretches[n];
      if (t.materialFrom <= s.materialTo && s.materialFrom <= t.materialTo) {
        above[k].push(n);
        below[n].push(k);
      }
    }
  }
  const follows = (k: number) =>
    above[k].length === 1 && below[above[k][0]].length === 1 ? above[k][0] : -1;
  const isStart = (k: number) => !(below[k].length === 1 && follows(below[k][0]) === k);
  const found: number[][] = [];
  for (let k = 0; k < stretches.length; k++) {
    if (!isStart(k)) continue;
    const chain = [];
    for (let n = k; n >= 0; n = follows(n)) chain.push(n);
    found.push(chain);
  }
  return found;
}

/** A ring's ways in are tried at so many of its corners. */
const RING_STARTS = 12;

/**
 * The ways along the border of what is forbidden, or of anything else, wherever a disc on it is the one that
 * reaches some material best; `asGiven`: only in the direction of the rings.
 */
export function borderCells(
  border: readonly Ring[],
  material: Edges,
  radiusMm: number,
  firstRow: number,
  asGiven = false,
): Cell[] {
  const cells: Cell[] = [];
  for (const ring of border) {
    const near = nearRing(ring, material, radiusMm);
    for (const points of touchingWays(ring, near, radiusMm)) {
      const row = firstRow + cells.length;
      const last = points.length - 2;
      const closed = last > 0 && points[0] === points[last] && points[1] === points[last + 1];
      const needed = closed ? points : neededOf(points, near, radiusMm);
      if (needed.length === 0) continue;
      const runs = closed ? turnedRings(points) : [needed];
      cells.push({
        ways: runs.flatMap((run) =>
          (asGiven ? [run] : [run, reversed(run)]).map((points) => wayOf([{ row, points }])),
        ),
      });
    }
  }
  return cells;
}

/** The stretches of a ring on which a disc touches material; the whole ring repeats its first point. */
function touchingWays(ring: Ring, near: Edges, radiusMm: number): number[][] {
  const ways: number[][] = [];
  if (near.count === 0) return ways;
  let open = false;
  for (let k = 0; k < ring.length; k += 2) {
    const n = k + 2 < ring.length ? k + 2 : 0;
    const du = ring[n] - ring[k];
    const dv = ring[n + 1] - ring[k + 1];
    const length = Math.sqrt(du * du + dv * dv);
    if (length === 0) continue;
    const at = (s: number) => [ring[k] + (du * s) / length, ring[k + 1] + (dv * s) / length];
    const spans = touching(near, radiusMm, ring[k], ring[k + 1], du / length, dv / length, length);
    if (spans.length === 0) open = false;
    for (let s = 0; s < spans.length; s += 2) {
      if (!(open && spans[s] < 1e-9)) ways.push(at(spans[s]));
      const whole = spans[s + 1] >= length - 1e-9;
      ways.at(-1)!.push(...(whole ? [ring[n], ring[n + 1]] : at(spans[s + 1])));
      open = whole;
    }
  }
  // The ring began in the middle of a way: what was collected last leads into the first.
  const first = ways[0];
  const last = ways.at(-1)!;
  if (ways.length > 1 && open && first[0] === ring[0] && first[1] === ring[1]) {
    ways.pop();
    ways[0] = [...last, ...first.slice(2)];
  }
  return ways;
}

function nearRing(ring: Ring, material: Edges, radiusMm: number): Edges {
  let [minU, maxU, minV, maxV] = [ring[0], ring[0], ring[1], ring[1]];
  for (let k = 2; k < ring.length; k += 2) {
    minU = Math.min(minU, ring[k]);
    maxU = Math.max(maxU, ring[k]);
    minV = Math.min(minV, ring[k + 1]);
    maxV = Math.max(maxV, ring[k + 1]);
  }
  // Material that surrounds the ring from afar still holds it inside: its edges left and right are kept.
  return edgesNear(material, Number.NEGATIVE_INFINITY, minV, Number.POSITIVE_INFINITY, maxV, radiusMm);
}

function turnedRings(points: readonly number[]): number[][] {
  const corners = points.length / 2 - 1;
  const starts = Math.min(RING_STARTS, corners);
  return Array.from({ length: starts }, (_, k) => {
    const from = 2 * Math.floor((k * corners) / starts);
    const open = [...points.slice(from, -2), ...points.slice(0, from)];
    return [...open, open[0], open[1]];
  });
}

function wayOf(cuts: Cut[]): Way {
  return lazyWay(() => cuts);
}

function lazyWay(cuts: () => Cut[]): Way {
  const made = cuts();
  const first = made[0].points;
  const last = made[made.length - 1].points;
  return {
    startU: first[0],
    startV: first[1],
    endU: last[last.length - 2],
    endV: last[last.length - 1],
    cuts,
  };
}
