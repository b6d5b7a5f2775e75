// Rows over an area: parallel straight cuts whose swept discs cover all of it. The area is taken in
// strips, one a row; a row is as long as its disc needs to clean every corner of its strip.
// Coordinates are (u, v), u along the rows; millimetres.

import type { Edges } from "./edges.ts";

/** One stretch of a row; the cutter's centre runs at `v` from `from` to `to` (from <= to), or back. */
export interface Stretch {
  /** Counts rows from the lowest v; stretches of one row share it. */
  readonly row: number;
  readonly v: number;
  readonly from: number;
  readonly to: number;
  /** First and last material of the stretch's strip. */
  readonly materialFrom: number;
  readonly materialTo: number;
}

export interface RowRule {
  readonly radiusMm: number;
  /** The greatest distance between neighbouring rows. */
  readonly stepoverMm: number;
  /** How far the centre goes past the last material; null: no farther than cleaning needs. */
  readonly overrunMm: number | null;
  /** Gaps in a row up to this are cut through instead of ending the stretch. */
  readonly bridgeMm: number;
}

/**
 * No corner of a strip lies farther from its row than this share of the radius, so that no hair is left
 * between discs that only touch: neighbours overlap a little, whatever the stepover asked for.
 */
const REACH_SHARE = 0.96;

/**
 * The rows over an area, lowest v first, stretches of a row from low to high u. Spacing is equal and
 * at most the stepover; as few rows as cover the area. The number of rows is at most `rowsMax`, else null.
 */
export function rowsOver(edges: Edges, rule: RowRule, rowsMax: number): Stretch[] | null {
  if (edges.count === 0) return [];
  const strips = stripsOver(edges, rule, rowsMax);
  if (strips === null) return null;
  const covering = rule.radiusMm - slackMm(rule.radiusMm);
  const pieces = strips.map(() => [] as Piece[]);
  collectEdges(edges, strips, covering, pieces);
  for (let row = 0; row + 1 < strips.length; row++) {
    collectLine(edges, strips[row].high, [pieces[row], pieces[row + 1]]);
  }
  return pieces.flatMap((found, row) => stretchesOf(found, row, strips[row].v, rule));
}

/** What rounding and thinned outlines may take from the cutter's reach. */
export function slackMm(radiusMm: number): number {
  return Math.min(0.05, 0.005 * radiusMm);
}

interface Strip {
  readonly v: number;
  readonly low: number;
  readonly high: number;
}

function stripsOver(edges: Edges, rule: RowRule, rowsMax: number): Strip[] | null {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < edges.count; k++) {
    low = Math.min(low, edges.av[k]);
    high = Math.max(high, edges.av[k]);
  }
  const width = high - low;
  const inset = REACH_SHARE * rule.radiusMm;
  const spacingMax = Math.min(rule.stepoverMm, 2 * inset);
  const count = width <= 2 * inset ? 1 : Math.ceil((width - 2 * inset) / spacingMax - 1e-9) + 1;
  if (count > rowsMax) return null;
  const spacing = Math.min(spacingMax, width / count);
  const first = low + (width - (count - 1) * spacing) / 2;
  return Array.from({ length: count }, (_, row) => {
    const v = first + row * spacing;
    return {
      v,
      low: row === 0 ? low : v - spacing / 2,
      high: row === count - 1 ? high : v + spacing / 2,
    };
  });
}

/** A part of the area inside a strip, seen along u, and where the disc's centre must have been for it. */
interface Piece {
  from: number;
  to: number;
  /** The centre must come down to this u, and up to that. */
  needFrom: number;
  needTo: number;
}

/** Each edge, clipped to the strips it passes. */
function collectEdges(edges: Edges, strips: readonly Strip[], radius: number, into: Piece[][]): void {
  const spacing = strips.length > 1 ? strips[1].v - strips[0].v : 1;
  for (let k = 0; k < edges.count; k++) {
    const [au, av, bu, bv] =
      edges.av[k] <= edges.bv[k]
        ? [edges.au[k], edges.av[k], edges.bu[k], edges.bv[k]]
        : [edges.bu[k], edges.bv[k], edges.au[k], edges.av[k]];
    // Strips are equal but for the outer ones, so the first one follows from the spacing.
    const guess = Math.floor((av - strips[0].v) / spacing + 0.5) - 1;
    for (let row = Math.max(0, Math.min(guess, strips.length - 1)); row < strips.length; row++) {
      const strip = strips[row];
      if (strip.low > bv) break;
      if (strip.high < av) continue;
      // An end inside the strip stays exactly where it is: an edge along the rows has no slope to cut.
      const [cu, cv] = strip.low > av ? [along(au, av, bu, bv, strip.low), strip.low] : [au, av];
      const [du, dv] = strip.high < bv ? [along(au, av, bu, bv, strip.high), strip.high] : [bu, bv];
      const c = Math.sqrt(Math.max(0, radius * radius - (cv - strip.v) ** 2));
      const d = Math.sqrt(Math.max(0, radius * radius - (dv - strip.v) ** 2));
      // Along an edge u - sqrt(r^2 - v^2) is convex and u + sqrt(r^2 - v^2) concave: the ends decide.
      into[row].push({
        from: Math.min(cu, du),
        to: Math.max(cu, du),
        needFrom: Math.min(cu + c, du + d),
        needTo: Math.max(cu - c, du - d),
      });
    }
  }
}

function along(au: number, av: number, bu: number, bv: number, v: number): number {
  return au + ((bu - au) * (v - av)) / (bv - av);
}

/** The stretches of a strip's border that lie inside the area; their ends lie on edges, which say what they need. */
function collectLine(edges: Edges, v: number, into: readonly Piece[][]): void {
  const crossings: number[] = [];
  for (let k = 0; k < edges.count; k++) {
    const av = edges.av[k];
    const bv = edges.bv[k];
    if (av > v !== bv > v) crossings.push(edges.au[k] + ((edges.bu[k] - edges.au[k]) * (v - av)) / (bv - av));
  }
  crossings.sort((p, q) => p - q);
  for (let k = 0; k + 1 < crossings.length; k += 2)
    for (const pieces of into)
      pieces.push({
        from: crossings[k],
        to: crossings[k + 1],
        needFrom: Number.POSITIVE_INFINITY,
        needTo: Number.NEGATIVE_INFINITY,
      });
}

/** Pieces that overlap along u, or lie no farther apart than the bridge, become one stretch. */
function stretchesOf(pieces: Piece[], row: number, v: number, rule: RowRule): Stretch[] {
  pieces.sort((p, q) => p.from - q.from);
  const merged: Piece[] = [];
  for (const piece of pieces) {
    const last = merged.at(-1);
    if (last !== undefined && piece.from <= last.to + Math.max(rule.bridgeMm, 1e-6)) {
      last.to = Math.max(last.to, piece.to);
      last.needFrom = Math.min(last.needFrom, piece.needFrom);
      last.needTo = Math.max(last.needTo, piece.needTo);
    } else merged.push({ ...piece });
  }
  return merged.map(({ from, to, needFrom, needTo }) => ({
    row,
    v,
    ...centreRange(from, to, needFrom, needTo, rule.overrunMm),
    materialFrom: from,
    materialTo: to,
  }));
}

function centreRange(
  from: number,
  to: number,
  needFrom: number,
  needTo: number,
  overrunMm: number | null,
): { from: number; to: number } {
  if (overrunMm !== null) return { from: from - overrunMm, to: to + overrunMm };
  if (needFrom <= needTo) return { from: needFrom, to: needTo };
  // The disc cleans the whole strip from any one place between; one over the material is as good as any.
  const place = (Math.max(needTo, from) + Math.min(needFrom, to)) / 2;
  return { from: place, to: place };
}
