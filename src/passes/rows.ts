// Rows over an area: parallel straight cuts whose swept discs cover all of it with as little way as can be.
// Where neighbouring discs overlap either row could clean; a row is made only as long as what no neighbour
// reaches asks for. The lines that rows lie on are shifted to where their way is least.
// Coordinates are (u, v), u along the rows; millimetres.

import type { Edges } from "./edges.ts";

/** One stretch of a row; the cutter's centre runs at `v` from `from` to `to` (from <= to), or back. */
export interface Stretch {
  /** Counts rows from the lowest v; stretches of one row share it. */
  readonly row: number;
  readonly v: number;
  readonly from: number;
  readonly to: number;
  /** First and last material that the stretch has to clean. */
  readonly materialFrom: number;
  readonly materialTo: number;
  /** Where its ends may lie when half a circle leads on to the next row; null: nowhere. */
  readonly round: RoundEnds | null;
}

/** Ends of a stretch that turns, at that end, to the row below or above it. */
export interface RoundEnds {
  readonly below: { readonly from: number; readonly to: number };
  readonly above: { readonly from: number; readonly to: number };
}

export interface RowRule {
  readonly radiusMm: number;
  /** The greatest distance between neighbouring rows. */
  readonly stepoverMm: number;
  /** How far the centre goes past the last material; null: no farther than cleaning needs. */
  readonly overrunMm: number | null;
  /** Whether rows may end where half circles lead on, which bulge beyond the last material. */
  readonly roundTurns: boolean;
}

/**
 * No material lies farther from its row than this share of the radius, so that no hair is left between
 * discs that only touch: neighbours overlap a little, whatever the stepover asked for.
 */
const REACH_SHARE = 0.96;
/** The area is looked at in columns across the rows, so many to a radius; at most so many places of rows in columns. */
const COLUMNS_A_RADIUS = 16;
const CELLS_MAX = 1_000_000;
/** Corners closer than this along the rows are one; sides that rise less than this share of the radius are level. */
const LEAST_MM = 1e-7;
const LEVEL_SHARE = 1e-3;
/** Where the lines may be shifted, so many shifts are tried. */
const SHIFTS = 6;
/** Shorter rows than so many radii do not end in half circles. */
const ROUND_RADII = 4;
/** What starting another stretch costs: about as much as going on for so many radii. */
const STRETCH_RADII = 2;

/**
 * The rows over an area, lowest v first, stretches of a row from low to high u, as gaps up to some length are cut
 * through instead of ending a stretch. Lines of rows are equally spaced, at most the stepover apart, and as few as
 * cover the area. The number of lines is at most `rowsMax`, else null.
 */
export function rowsOver(
  edges: Edges,
  rule: RowRule,
  rowsMax: number,
): ((bridgeMm: number) => Stretch[]) | null {
  if (edges.count === 0) return () => [];
  const [low, high] = range(edges.av, edges.bv);
  const layouts = linesOver(low, high, rule, rowsMax);
  if (layouts === null) return null;
  const sections = sectionsOf(edges, rule.radiusMm, layouts[0].count);
  const given = layouts.map((lines) => sectionsByRow(lines, sections));
  return (bridgeMm) => {
    let [best, bestLines] = [[] as Run[], layouts[0]];
    let least = Number.POSITIVE_INFINITY;
    for (const [k, lines] of layouts.entries()) {
      const runs: Run[] = [];
      for (const [row, mine] of given[k].entries()) addRuns(runs, mine, row, lines, sections, rule, bridgeMm);
      const way = runs.reduce(
        (sum, { stretch: { from, to } }) => sum + to - from + STRETCH_RADII * rule.radiusMm,
        0,
      );
      if (way < least - 1e-6) [best, bestLines, least] = [runs, lines, way];
    }
    return best.map((run) => withRoundEnds(run, bestLines, sections, rule));
  };
}

/** How far to either side of its line a row cleans. */
export function rowReachMm(radiusMm: number): number {
  return REACH_SHARE * radiusMm;
}

/** What rounding and thinned outlines may take from the cutter's reach. */
function slackMm(radiusMm: number): number {
  return Math.min(0.05, 0.005 * radiusMm);
}

function range(a: Float64Array, b: Float64Array): [number, number] {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < a.length; k++) {
    low = Math.min(low, a[k], b[k]);
    high = Math.max(high, a[k], b[k]);
  }
  return [low, high];
}

/** Lines that rows may lie on. */
interface Lines {
  readonly count: number;
  readonly first: number;
  readonly spacing: number;
  /** How far to either side of a line a row reaches. */
  readonly reach: number;
}

/** As few lines as cover all from low to high: spread from edge to edge, and as far apart as may be but shifted. */
function linesOver(low: number, high: number, rule: RowRule, rowsMax: number): Lines[] | null {
  const reach = rowReachMm(rule.radiusMm);
  const width = high - low;
  const spacingMax = Math.min(rule.stepoverMm, 2 * reach);
  const count = width <= 2 * reach ? 1 : Math.ceil((width - 2 * reach) / spacingMax - 1e-9) + 1;
  if (count > rowsMax) return null;
  if (count === 1) return [{ count, first: (low + high) / 2, spacing: spacingMax, reach }];
  const spread = { count, first: low + reach, spacing: (width - 2 * reach) / (count - 1), reach };
  const spare = Math.max(0, 2 * reach + (count - 1) * spacingMax - width);
  if (spare < 0.02 * rule.radiusMm) return [spread];
  const shifted = Array.from({ length: SHIFTS }, (_, k) => ({
    ...{ count, spacing: spacingMax, reach },
    first: low + reach - (spare * k) / (SHIFTS - 1),
  }));
  return [spread, ...shifted];
}

/**
 * The area in columns across the rows, from low to high u: sections, together never less than the area.
 * Those of a column have the same range along the rows; columns do not overlap.
 */
interface Sections {
  readonly count: number;
  readonly from: readonly number[];
  readonly to: readonly number[];
  readonly low: readonly number[];
  readonly high: readonly number[];
}

/**
 * Between neighbouring corners the area is a stack of trapezoids; where their sides slope they are taken in
 * narrow columns, each as high as its trapezoid at most is there.
 */
function sectionsOf(edges: Edges, radiusMm: number, lines: number): Sections {
  const corners = new Float64Array(2 * edges.count);
  corners.set(edges.au);
  corners.set(edges.bu, edges.count);
  corners.sort();
  const [first, last] = [corners[0], corners[corners.length - 1]];
  const pitch = Math.max(radiusMm / COLUMNS_A_RADIUS, ((last - first) * lines) / CELLS_MAX);
  const found = { from: [], to: [], low: [], high: [] };
  const sides = new Sides(edges);
  let from = first;
  for (const to of corners) {
    if (to <= from + LEAST_MM) continue;
    sides.goTo((from + to) / 2);
    addSections(found, sides, from, to, pitch, radiusMm);
    from = to;
  }
  return { ...found, count: found.from.length };
}

/** The edges that cross a line across the rows, lowest first; the line only goes on to greater u. */
class Sides {
  active: number[] = [];
  private readonly edges: Edges;
  private readonly waiting: number[];
  private next = 0;
  private readonly heights: Float64Array;

  constructor(edges: Edges) {
    this.edges = edges;
    const { au, bu } = edges;
    const start = (e: number) => Math.min(au[e], bu[e]);
    this.waiting = Array.from({ length: edges.count }, (_, e) => e)
      .filter((e) => Math.abs(bu[e] - au[e]) > LEAST_MM)
      .sort((p, q) => start(p) - start(q));
    this.heights = new Float64Array(edges.count);
  }

  goTo(u: number): void {
    const { edges, waiting, heights } = this;
    const { au, bu } = edges;
    let [kept, sorted] = [0, true];
    for (const e of this.active) if (Math.max(au[e], bu[e]) > u) this.active[kept++] = e;
    this.active.length = kept;
    for (
      ;
      this.next < waiting.length && Math.min(au[waiting[this.next]], bu[waiting[this.next]]) < u;
      this.next++
    )
      if (Math.max(au[waiting[this.next]], bu[waiting[this.next]]) > u) this.active.push(waiting[this.next]);
    for (let k = 0; k < this.active.length; k++) {
      heights[this.active[k]] = this.heightOf(this.active[k], u);
      if (k > 0 && heights[this.active[k]] < heights[this.active[k - 1]]) sorted = false;
    }
    if (!sorted) this.active.sort((p, q) => heights[p] - heights[q]);
  }

  heightOf(e: number, u: number): number {
    const { au, av, bu, bv } = this.edges;
    const share = (u - au[e]) / (bu[e] - au[e]);
    return av[e] + (bv[e] - av[e]) * Math.max(0, Math.min(1, share));
  }
}

/** The trapezoids between two corners. */
function addSections(
  to: { from: number[]; to: number[]; low: number[]; high: number[] },
  sides: Sides,
  start: number,
  end: number,
  pitch: number,
  radiusMm: number,
): void {
  const left = sides.active.map((e) => sides.heightOf(e, start));
  const right = sides.active.map((e) => sides.heightOf(e, end));
  const level = left.every((v, k) => Math.abs(right[k] - v) < LEVEL_SHARE * radiusMm);
  const count = level ? 1 : Math.ceil((end - start) / pitch);
  for (let column = 0; column < count; column++) {
    const [p, q] = [column / count, (column + 1) / count];
    for (let k = 0; k + 1 < left.length; k += 2) {
      to.from.push(start + (end - start) * p);
      to.to.push(start + (end - start) * q);
      to.low.push(left[k] + (right[k] - left[k]) * (right[k] < left[k] ? q : p));
      to.high.push(left[k + 1] + (right[k + 1] - left[k + 1]) * (right[k + 1] > left[k + 1] ? q : p));
    }
  }
}

/** The highest row that reaches down to a section's low end. */
function lowestRow({ count, first, spacing, reach }: Lines, low: number): number {
  return Math.max(0, Math.min(count - 1, Math.floor((low + reach - first) / spacing + 1e-9)));
}

/** The lowest row that reaches up to a section's high end; where it is not above the lowest, one row does for all. */
function highestRow({ count, first, spacing, reach }: Lines, high: number): number {
  return Math.max(0, Math.min(count - 1, Math.ceil((high - reach - first) / spacing - 1e-9)));
}

/** The sections of which each row has to clean a part, in order. */
function sectionsByRow(lines: Lines, { count, low, high, from, to }: Sections): number[][] {
  const rows: number[][] = Array.from({ length: lines.count }, () => []);
  const choices: number[] = [];
  for (let k = 0; k < count; k++) {
    const lowest = lowestRow(lines, low[k]);
    const highest = highestRow(lines, high[k]);
    if (highest < lowest) choices.push(k);
    else for (let r = lowest; r <= highest; r++) rows[r].push(k);
  }
  if (choices.length === 0) return rows;
  // What any of several rows could clean goes to the one that has least farther to go for it. They are taken in
  // order, so that a row that has begun goes on; what a row has ahead it has for sure.
  const fixed = rows.map((mine) => mine.length);
  const ahead = new Int32Array(rows.length);
  const behind = new Float64Array(rows.length).fill(Number.NEGATIVE_INFINITY);
  for (const k of choices) {
    let best = -1;
    let least = Number.POSITIVE_INFINITY;
    for (let r = highestRow(lines, high[k]); r <= lowestRow(lines, low[k]); r++) {
      for (; ahead[r] < fixed[r] && rows[r][ahead[r]] < k; ahead[r]++)
        behind[r] = Math.max(behind[r], to[rows[r][ahead[r]]]);
      const next = ahead[r] < fixed[r] ? from[rows[r][ahead[r]]] : Number.POSITIVE_INFINITY;
      const away = Math.max(0, Math.min(from[k] - behind[r], next - to[k], 1e6));
      const off = Math.abs(lines.first + r * lines.spacing - (low[k] + high[k]) / 2);
      if (away + 1e-3 * off < least) [best, least] = [r, away + 1e-3 * off];
    }
    rows[best].push(k);
    behind[best] = Math.max(behind[best], to[k]);
  }
  for (const [r, mine] of rows.entries()) if (mine.length > fixed[r]) mine.sort((p, q) => p - q);
  return rows;
}

/** A stretch and the sections that it cleans. */
interface Run {
  readonly mine: readonly number[];
  readonly stretch: Stretch;
}

/** A row's sections that follow each other, or lie no farther apart than the bridge, become one stretch. */
function addRuns(
  runs: Run[],
  mine: readonly number[],
  row: number,
  lines: Lines,
  sections: Sections,
  rule: RowRule,
  bridgeMm: number,
): void {
  const bridge = Math.max(bridgeMm, 1e-6);
  let first = 0;
  for (let k = 1; k <= mine.length; k++) {
    if (k < mine.length && sections.from[mine[k]] <= sections.to[mine[k - 1]] + bridge) continue;
    runs.push(runOver(mine.slice(first, k), row, lines, sections, rule));
    first = k;
  }
}

function runOver(
  mine: readonly number[],
  row: number,
  lines: Lines,
  sections: Sections,
  { radiusMm, overrunMm }: RowRule,
): Run {
  const v = lines.first + row * lines.spacing;
  const materialFrom = sections.from[mine[0]];
  const materialTo = sections.to[mine[mine.length - 1]];
  const run = (from: number, to: number) => ({
    mine,
    stretch: { row, v, from, to, materialFrom, materialTo, round: null },
  });
  if (overrunMm !== null) return run(materialFrom - overrunMm, materialTo + overrunMm);
  const covering = radiusMm - slackMm(radiusMm);
  const ahead = (below: number, above: number) => halfChord(covering, Math.max(below, above));
  const { from, to } = neededEnds(mine, row, lines, sections, ahead);
  if (from <= to) return run(from, to);
  // The disc cleans the whole strip from any one place between; one over the material is as good as any.
  const middle = (Math.max(to, materialFrom) + Math.min(from, materialTo)) / 2;
  return run(middle, middle);
}

function withRoundEnds({ mine, stretch }: Run, lines: Lines, sections: Sections, rule: RowRule): Stretch {
  const { radiusMm, overrunMm, roundTurns } = rule;
  const long = stretch.to > stretch.from && stretch.to - stretch.from >= ROUND_RADII * radiusMm;
  if (overrunMm !== null || !roundTurns || !long) return stretch;
  // Half a circle on to the next row: what it cleans beyond the end reaches `covering` past the circle.
  const radius = lines.spacing / 2;
  const covering = radiusMm - slackMm(radiusMm);
  const round = (back: number, on: number) =>
    halfChord(covering + radius, Math.max(radius + back, on - radius));
  const needed = (ahead: Ahead) => neededEnds(mine, stretch.row, lines, sections, ahead);
  const above = needed((down, up) => round(down, up));
  const below = needed((down, up) => round(up, down));
  return { ...stretch, round: { below, above } };
}

/** How far ahead of a row's end a turn there cleans what reaches so far below and above the row. */
type Ahead = (below: number, above: number) => number;

/** How far the centre must come at either end of a stretch. */
function neededEnds(
  mine: readonly number[],
  row: number,
  lines: Lines,
  { from, to, low, high }: Sections,
  ahead: Ahead,
): { from: number; to: number } {
  const v = lines.first + row * lines.spacing;
  const at = (k: number) => {
    const [lowest, highest] = [lowestRow(lines, low[k]), highestRow(lines, high[k])];
    const whole = highest <= lowest;
    const below = whole || row === lowest ? v - low[k] : lines.spacing / 2;
    const above = whole || row === highest ? high[k] - v : lines.spacing / 2;
    return ahead(below, above);
  };
  let [first, last] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (let k = 0; k < mine.length && from[mine[k]] < first; k++)
    first = Math.min(first, from[mine[k]] + at(mine[k]));
  for (let k = mine.length - 1; k >= 0 && to[mine[k]] > last; k--)
    last = Math.max(last, to[mine[k]] - at(mine[k]));
  return { from: first, to: last };
}

function halfChord(radius: number, away: number): number {
  return Math.sqrt(Math.max(0, radius * radius - away * away));
}
