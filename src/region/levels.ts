// Where a height field stands above a level: rings around it by marching squares, thinned to what
// matters at the bench. Millimetres. Samples on the field's border count as below, so rings close.

import type { Ring } from "../job/job.ts";
import type { HeightField } from "../survey/field.ts";

/** How far a thinned ring may run beside the full one. */
const THIN_MM = 0.02;

/**
 * Rings around the places where `field.z > level` (mm); take them even-odd (islands and holes).
 * Between samples the height is taken as linear along the grid's lines.
 */
export function levelRings(field: HeightField, level: number): Ring[] {
  const { cols, rows, z, x0, y0, pitchMm } = field;
  const above = (col: number, row: number) =>
    col > 0 && row > 0 && col < cols - 1 && row < rows - 1 && z[row * cols + col] > level;

  // Crossings are named by the grid edge they lie on: 2 * sample for the edge to its right neighbour,
  // 2 * sample + 1 for the edge to the one above. `next` leads along a ring with the high side at left.
  const next = new Map<number, number>();
  let lower = new Uint8Array(cols);
  let upper = new Uint8Array(cols);
  for (let row = 0; row < rows - 1; row++) {
    upper.fill(0);
    if (row + 1 < rows - 1) {
      const base = (row + 1) * cols;
      for (let col = 1; col < cols - 1; col++) if (z[base + col] > level) upper[col] = 1;
    }
    let west = lower[0] + 2 * upper[0];
    for (let col = 0; col < cols - 1; col++) {
      const east = lower[col + 1] + 2 * upper[col + 1];
      const corners = west + 4 * east;
      west = east;
      if (corners === 0 || corners === 15) continue;
      // 1: south-west, 2: south-east, 4: north-east, 8: north-west.
      const cell = (corners & 1) | ((corners & 4) >> 1) | ((corners & 8) >> 1) | ((corners & 2) << 2);
      joinCrossings(next, cell, row * cols + col, cols);
    }
    [lower, upper] = [upper, lower];
  }

  const pointOf = (edge: number): [number, number] => {
    const at = edge >> 1;
    const col = at % cols;
    const row = (at - col) / cols;
    const upwards = (edge & 1) === 1;
    const other = upwards ? at + cols : at + 1;
    const first = above(col, row);
    // Where one end lies on the border the crossing is put next to that end.
    const low = first ? z[other] : z[at];
    const high = first ? z[at] : z[other];
    const share = low > level ? 1 : Math.min(1, (high - level) / (high - low));
    const t = first ? share : 1 - share;
    return [x0 + (col + (upwards ? 0 : t)) * pitchMm, y0 + (row + (upwards ? t : 0)) * pitchMm];
  };

  const found: Ring[] = [];
  for (const start of next.keys()) {
    const points: number[] = [];
    for (let edge = start; next.has(edge); ) {
      const [x, y] = pointOf(edge);
      points.push(x, y);
      const following = next.get(edge)!;
      next.delete(edge);
      edge = following;
    }
    const ring = thinned(points);
    if (ring.length >= 6) found.push(ring);
  }
  return found;
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
function thinned(points: readonly number[]): Ring {
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
    let worst = THIN_MM;
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
