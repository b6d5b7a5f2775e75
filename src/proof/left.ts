// What a program leaves of a piece, cell by cell. The wood is run as its upper bound; what is left of the
// measured face is the lower of the two, because both are cut to the same height. Millimetres above the bed.

import type { Machine, Setup } from "../job/job.ts";
import { SINGLE_MM } from "../passes/layers.ts";
import { forbiddenAt, unreachable } from "../passes/reach.ts";
import { difference, EMPTY, intersection, type Region, regionOf, rings, union } from "../region/region.ts";
import { boxOf, type HeightField, insideMask } from "../survey/field.ts";
import { cutStock, type Stock, stockHeights } from "../survey/stock.ts";
import { formatArea } from "../units.ts";
import { Body, LEFT_MM } from "./body.ts";
import type { ProofTask, ProvenPiece } from "./prove.ts";
import type { Run } from "./run.ts";
import type { Part, Wood } from "./wood.ts";
import type { ZMap } from "./zmap.ts";

/**
 * What was cut goes on beyond the outline for so many cells. Who samples the next setup's stock looks a sample
 * or two around each place, and would else see wood as high as ever all along the edge.
 */
const BEYOND_CELLS = 6;

/** Counts what is left of a part, and reports what stands above the floor within the cutter's reach. */
export function pieceLeft(part: Part, wood: Wood, task: ProofTask, run: Run): ProvenPiece {
  const { stock, grid } = part;
  const { map } = wood;
  const tally = new Tally(part, map, task, outOfReach(task, stock, wood));
  for (let row = 0; row < grid.rows; row++) tally.countRow(row);
  const cellArea = grid.pitchMm * grid.pitchMm;
  const inReach = tally.shaded < tally.cells;
  // What was cut down to the floor lies at the floor, not at the nearest number of single precision.
  const snapped = (z: number) => (Math.abs(z - task.floorMm) < SINGLE_MM ? task.floorMm : z);
  if (tally.standing > 0) {
    const [col, row] = [tally.worstAt % grid.cols, Math.floor(tally.worstAt / grid.cols)];
    const place = run.placeOf(grid.x0 + col * grid.pitchMm, grid.y0 + row * grid.pitchMm);
    run.reportWhole(
      "left-standing",
      `piece "${stock.piece.id}": ${formatArea(tally.standing * cellArea, task.units)} within reach may stand above ` +
        `the floor, up to ${run.length(tally.worst)} at ${place}`,
    );
  }
  const heights = {
    lowestMm: snapped(inReach ? tally.lowest : tally.lowestLeft),
    highestMm: snapped(inReach ? tally.highest : tally.highestLeft),
  };
  const body = new Body(part, map, task, tally.shade);
  const timber = part.wood && body.woodOf(part.wood);
  const resting = stock.down.readings === null && stock.down.cut === null && stock.lowestMm === 0;
  return {
    id: stock.piece.id,
    cleanUp: timber ? timber.cleaned / timber.cells : tally.cleaned / tally.cells,
    resinCleanUp: timber && timber.resinCells > 0 ? timber.resinCleaned / timber.resinCells : null,
    underKeepOuts: tally.shaded / tally.cells,
    belowFloor: timber ? timber.low / timber.cells : tally.low / tally.cells,
    ...heights,
    thickness: resting ? { least: heights.lowestMm, most: heights.highestMm } : body.thickness(inReach),
    rough: tally.cleaned < 0.9995 * tally.cells || timber ? body.roughPlaces() : [],
    removedMm3: {
      wood: (timber ? timber.removed : tally.removed) * cellArea,
      resin: (timber ? tally.removed - timber.removed : 0) * cellArea,
    },
    highestLeftMm: snapped(tally.highestLeft),
    // Cells are counted whole, so a share is known to about half a cell all around what is cut.
    cleanUpSlack: timber
      ? ((1 + (stock.timbers?.length ?? 0)) * (grid.cols + grid.rows)) / timber.cells
      : (grid.cols + grid.rows) / (grid.cols * grid.rows),
    thicknessAt: (x, y) => body.thicknessAt(x, y),
    cut: () => withEarlier(cutBelow(part, map), stock.up.cut),
  };
}

/** The cells of a part, counted row by row. (Rows are counted by a call each: one long loop would run cold.) */
class Tally {
  cells = 0;
  cleaned = 0;
  shaded = 0;
  /** Out of the shade and below the floor as found; what an earlier setup has cut down to it is not. */
  low = 0;
  /** Out of the shade and above the floor as left, upper bound. */
  standing = 0;
  worst = 0;
  worstAt = 0;
  lowest = Number.POSITIVE_INFINITY;
  highest = Number.NEGATIVE_INFINITY;
  lowestLeft = Number.POSITIVE_INFINITY;
  highestLeft = Number.NEGATIVE_INFINITY;
  removed = 0;
  private readonly part: Part;
  private readonly map: ZMap;
  private readonly task: ProofTask;
  /** The measured face; null while it stands the margin below the upper bound everywhere. */
  private readonly measured: Float32Array | null;
  readonly shade: Uint8Array | null;

  constructor(part: Part, map: ZMap, task: ProofTask, blocked: Region) {
    const { stock, grid } = part;
    this.part = part;
    this.map = map;
    this.task = task;
    this.measured = stock.up.cut === null ? null : stockHeights(stock, 0, grid);
    this.shade = blocked.paths.length > 0 ? insideMask(rings(blocked), grid) : null;
  }

  countRow(row: number): void {
    const { measured, shade } = this;
    const { grid, inside, before, col } = this.part;
    const { z } = this.map;
    const { floorMm, marginMm } = this.task;
    const first = row * grid.cols;
    const shift = (this.part.row + row) * this.map.grid.cols + col - first;
    let [cells, cleaned, shaded, low, standing, removed] = [0, 0, 0, 0, 0, 0];
    let { lowest, highest, lowestLeft, highestLeft } = this;
    for (let k = first; k < first + grid.cols; k++) {
      if (inside[k] === 0) continue;
      cells++;
      const after = z[k + shift];
      const found = measured === null ? before[k] - marginMm : measured[k];
      const left = Math.min(after, found);
      removed += found - left;
      if (left < lowestLeft) lowestLeft = left;
      if (left > highestLeft) highestLeft = left;
      const above = found > floorMm + SINGLE_MM;
      // What only a layer above has passed over was not cut, however little it stands above the floor.
      if (above && after < before[k] && after <= floorMm + LEFT_MM) cleaned++;
      if (shade !== null && shade[k] === 1) {
        shaded++;
        continue;
      }
      if (found < floorMm - SINGLE_MM) low++;
      if (left < lowest) lowest = left;
      if (left > highest) highest = left;
      const over = after - floorMm;
      if (over > LEFT_MM) {
        standing++;
        if (over > this.worst) {
          this.worst = over;
          this.worstAt = k;
        }
      }
    }
    this.cells += cells;
    this.cleaned += cleaned;
    this.shaded += shaded;
    this.low += low;
    this.standing += standing;
    this.removed += removed;
    this.lowest = lowest;
    this.highest = highest;
    this.lowestLeft = lowestLeft;
    this.highestLeft = highestLeft;
  }
}

/** The cutting edge's height wherever it has taken something of the part, +Infinity elsewhere. */
function cutBelow({ grid, col, row, before, inside }: Part, map: ZMap): HeightField {
  const cols = grid.cols + 2 * BEYOND_CELLS;
  const rows = grid.rows + 2 * BEYOND_CELLS;
  const padMm = BEYOND_CELLS * grid.pitchMm;
  const z = new Float32Array(cols * rows).fill(Number.NaN);
  for (let j = 0, k = 0; j < grid.rows; j++) {
    let to = (j + BEYOND_CELLS) * cols + BEYOND_CELLS;
    for (let i = 0, at = (row + j) * map.grid.cols + col; i < grid.cols; i++, k++, at++, to++)
      if (inside[k] === 1) z[to] = map.z[at] < before[k] ? map.z[at] : Number.POSITIVE_INFINITY;
  }
  goOn(z, cols);
  return { x0: grid.x0 - padMm, y0: grid.y0 - padMm, pitchMm: grid.pitchMm, cols, rows, z };
}

/** Fills cells that are NaN from the highest of their neighbours, ring by ring; those farther off with +Infinity. */
function goOn(z: Float32Array, cols: number): void {
  const around = [-cols - 1, -cols, -cols + 1, -1, 1, cols - 1, cols, cols + 1];
  let ring: number[] = [];
  for (let k = cols + 1; k < z.length - cols - 1; k++)
    if (Number.isNaN(z[k]) && highestOf(z, k, around) > WAITING) ring.push(k);
  for (let more = BEYOND_CELLS; more > 0; more--) {
    const heights = ring.map((k) => highestOf(z, k, around));
    for (const [i, k] of ring.entries()) z[k] = heights[i];
    const next: number[] = [];
    for (const k of ring)
      for (const step of around)
        if (Number.isNaN(z[k + step])) {
          z[k + step] = WAITING;
          next.push(k + step);
        }
    ring = next;
  }
  for (let k = 0; k < z.length; k++)
    if (Number.isNaN(z[k]) || z[k] === WAITING) z[k] = Number.POSITIVE_INFINITY;
}

/** A cell that comes next; lower than any height. */
const WAITING = Number.NEGATIVE_INFINITY;

function highestOf(z: Float32Array, k: number, around: readonly number[]): number {
  let highest = WAITING;
  for (const step of around) if (z[k + step] > highest) highest = z[k + step];
  return highest;
}

/** What of a piece no disc can reach at the floor. */
function outOfReach({ setup, machine, floorMm, lays }: ProofTask, stock: Stock, wood: Wood): Region {
  const of = (one: Setup) => shadeOf(one, machine, floorMm, stock, wood);
  if (lays === undefined) return of(setup);
  // What one lay cannot reach another may; what lies in none of the lays so far is left for later. Rounding
  // must not take a cell on the edge of the outline out of that, so it is taken from strips across the piece.
  const { minX, minY, maxX, maxY } = boxOf([stock.piece.outline]);
  const strip = (fromX: number, toX: number) =>
    regionOf([Float64Array.of(fromX, minY - 1, toX, minY - 1, toX, maxY + 1, fromX, maxY + 1)]);
  const reached = lays.map((lay) => difference(strip(lay.fromX, lay.toX), of(lay.setup)));
  return difference(strip(minX - 1, maxX + 1), union(...reached));
}

function shadeOf(setup: Setup, { nose }: Machine, floorMm: number, stock: Stock, wood: Wood): Region {
  let forbidden = forbiddenAt(setup, nose, floorMm, EMPTY);
  if (forbidden.core.paths.length > 0 && nose !== null && wood.highest > floorMm + nose.aboveMm) {
    // Wood beside keep-outs that stays higher than the nose keeps the nose away in turn.
    const standing = intersection(forbidden.core, regionOf([stock.piece.outline]));
    forbidden = forbiddenAt(setup, nose, floorMm, standing);
  }
  return unreachable(forbidden, setup.cutter.diameterMm / 2);
}

/** A part's stock as it stands by now, between two lays of one setup. */
export function stockSoFar(part: Part, { map }: Wood): Stock {
  const { stock } = part;
  return cutStock(stock, withEarlier(cutBelow(part, map), stock.up.cut), stock.highestMm, stock.up.leaveMm);
}

/** Where both setups have cut, the lower counts; grids are anchored alike, so samples coincide. */
function withEarlier(cut: HeightField, earlier: HeightField | null): HeightField {
  if (earlier === null) return cut;
  const col = Math.round((cut.x0 - earlier.x0) / cut.pitchMm);
  const row = Math.round((cut.y0 - earlier.y0) / cut.pitchMm);
  for (let j = 0, k = 0; j < cut.rows; j++)
    for (let i = 0; i < cut.cols; i++, k++) {
      const [c, r] = [i + col, j + row];
      if (c < 0 || r < 0 || c >= earlier.cols || r >= earlier.rows) continue;
      cut.z[k] = Math.min(cut.z[k], earlier.z[r * earlier.cols + c]);
    }
  return cut;
}
