// Where a height field stands above a level: rings around it by marching squares, thinned to what
// matters at the bench. Millimetres. Samples on the field's border count as below, so rings close.

import type { Ring } from "../job/job.ts";
import type { HeightField } from "../survey/field.ts";

/** How far a thinned ring may run beside the full one. */
const THIN_MM = 0.02;

/** A field's cells are looked at in blocks of so many by so many; a level passes through few of them. */
const BLOCK = 16;

/** The level sets of a field: gone through once, then asked for any number of levels. */
export class LevelSets {
  private readonly field: HeightField;
  private readonly blockCols: number;
  /** Lowest and highest sample of each block, those on its far sides included. */
  private readonly lowest: Float32Array;
  private readonly highest: Float32Array;

  constructor(field: HeightField) {
    const { cols, rows, z } = field;
    this.field = field;
    this.blockCols = Math.ceil((cols - 1) / BLOCK);
    const blockRows = Math.ceil((rows - 1) / BLOCK);
    this.lowest = new Float32Array(this.blockCols * blockRows);
    this.highest = new Float32Array(this.blockCols * blockRows);
    for (let block = 0; block < this.lowest.length; block++) {
      const { fromCol, toCol, fromRow, toRow } = this.extentOf(block);
      const onBorder = fromCol === 0 || fromRow === 0 || toCol === cols - 1 || toRow === rows - 1;
      let low = onBorder ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY;
      let high = Number.NEGATIVE_INFINITY;
      for (let row = fromRow; row <= toRow; row++)
        for (let k = row * cols + fromCol; k <= row * cols + toCol; k++) {
          if (z[k] < low) low = z[k];
          if (z[k] > high) high = z[k];
        }
      this.lowest[block] = low;
      this.highest[block] = high;
    }
  }

  /**
   * Rings around the places where the field stands above `level` (mm); take them even-odd (islands and holes).
   * Between samples the height is taken as linear along the grid's lines.
   */
  rings(level: number): Ring[] {
    // Crossings are named by the grid edge they lie on: 2 * sample for the edge to its right neighbour,
    // 2 * sample + 1 for the edge to the one above. `next` leads along a ring with the high side at left.
    const next = new Map<number, number>();
    const { cols } = this.field;
    for (let block = 0; block < this.lowest.length; block++) {
      if (this.lowest[block] > level || this.highest[block] <= level) continue;
      const { fromCol, toCol, fromRow, toRow } = this.extentOf(block);
      for (let row = fromRow; row < toRow; row++) {
        let west = this.above(fromCol, row, level) + 8 * this.above(fromCol, row + 1, level);
        for (let col = fromCol; col < toCol; col++) {
          // Corners above: 1 south-west, 2 south-east, 4 north-east, 8 north-west.
          const southEast = this.above(col + 1, row, level);
          const northEast = this.above(col + 1, row + 1, level);
          joinCrossings(next, west + 2 * southEast + 4 * northEast, row * cols + col, cols);
          west = southEast + 8 * northEast;
        }
      }
    }
    const found: Ring[] = [];
    for (const start of next.keys()) {
      const points: number[] = [];
      for (let edge: number | undefined = start; edge !== undefined; ) {
        const following = next.get(edge);
        if (following === undefined) break;
        this.addPoint(edge, level, points);
        next.delete(edge);
        edge = following;
      }
      const ring = thinned(points, THIN_MM);
      if (ring.length >= 6) found.push(ring);
    }
    return found;
  }

  private extentOf(block: number): { fromCol: number; toCol: number; fromRow: number; toRow: number } {
    const fromCol = (block % this.blockCols) * BLOCK;
    const fromRow = Math.floor(block / this.blockCols) * BLOCK;
    return {
      fromCol,
      toCol: Math.min(fromCol + BLOCK, this.field.cols - 1),
      fromRow,
      toRow: Math.min(fromRow + BLOCK, this.field.rows - 1),
    };
  }

  /** 1 for a sample above the level, 0 for one that is not, or lies on the field's border. */
  private above(col: number, row: number, level: number): number {
    const { cols, rows, z } = this.field;
    return col > 0 && row > 0 && col < cols - 1 && row < rows - 1 && z[row * cols + col] > level ? 1 : 0;
  }

  private addPoint(edge: number, level: number, points: number[]): void {
    const { cols, z, x0, y0, pitchMm } = this.field;
    const at = edge >> 1;
    const col = at % cols;
    const row = (at - col) / cols;
    const upwards = (edge & 1) === 1;
    const other = upwards ? at + cols : at + 1;
    const first = this.above(col, row, level) === 1;
    const low = first ? z[other] : z[at];
    const high = first ? z[at] : z[other];
    // A sample on the border may stand above the level all the same: then the ring ends there.
    const share = low > level ? 1 : Math.min(1, (high - level) / (high - low));
    const t = first ? share : 1 - share;
    points.push(x0 + (col + (upwards ? 0 : t)) * pitchMm, y0 + (row + (upwards ? t : 0)) * pitchMm);
  }
}

/** Leads the ring through one cell of the grid, whose south-west sample is `at`. */
function joinCrossings(next: Map<number, number>, cell: number, at: number, cols: number): void {
  const south = 2 * at;
  const north = 2 * (at + cols);
  const west = 2 * at + 1;
  const east = 2 * (at + 1) + 1;
  switch (cell) {
    case 1:
      next.set(south, west);
      break;
    case 2:
      next.set(east, south);
      break;
    case 3:
      next.set(east, west);
      break;
    case 4:
      next.set(north, east);
      break;
    case 6:
      next.set(north, south);
      break;
    case 7:
      next.set(north, west);
      break;
    case 8:
      next.set(west, north);
      break;
    case 9:
      next.set(south, north);
      break;
    case 11:
      next.set(east, north);
      break;
    case 12:
      next.set(west, east);
      break;
    case 13:
      next.set(south, east);
      break;
    case 14:
      next.set(west, south);
      break;
    // Two high corners across from each other are joined: nothing that may stand is left out.
    case 5:
      next.set(south, east);
      next.set(north, west);
      break;
    case 10:
      next.set(east, north);
      next.set(west, south);
      break;
  }
}

/** Ramer-Douglas-Peucker on a closed ring, from its first point and the one farthest from it. */
export function thinned(points: readonly number[], tolerance: number): Ring {
  const count = points.length / 2;
  const keep = new Uint8Array(count + 1);
  const at = (k: number) => (k === count ? 0 : 2 * k);
  let far = 0;
  let farthest = -1;
  for (let k = 1; k < count; k++) {
    const d = (points[2 * k] - points[0]) ** 2 + (points[2 * k + 1] - points[1]) ** 2;
    if (d > farthest) {
      farthest = d;
      far = k;
    }
  }
  keep[0] = keep[far] = keep[count] = 1;
  const stack = [0, far, far, count];
  while (stack.length > 0) {
    const to = stack.pop()!;
    const from = stack.pop()!;
    const ax = points[at(from)];
    const ay = points[at(from) + 1];
    const dx = points[at(to)] - ax;
    const dy = points[at(to) + 1] - ay;
    const length = Math.sqrt(dx * dx + dy * dy);
    let worst = tolerance;
    let split = -1;
    for (let k = from + 1; k < to; k++) {
      const px = points[2 * k] - ax;
      const py = points[2 * k + 1] - ay;
      const off = length > 0 ? Math.abs(px * dy - py * dx) / length : Math.sqrt(px * px + py * py);
      if (off > worst) {
        worst = off;
        split = k;
      }
    }
    if (split < 0) continue;
    keep[split] = 1;
    stack.push(from, split, split, to);
  }
  const ring: number[] = [];
  for (let k = 0; k < count; k++) if (keep[k] === 1) ring.push(points[2 * k], points[2 * k + 1]);
  return Float64Array.from(ring);
}
