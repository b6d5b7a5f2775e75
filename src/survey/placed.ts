// Surfaces as they lie after a piece was turned over, tilted on shims, or set into a mold. Millimetres.

import type { Ring } from "../job/job.ts";
import type { Grid, HeightField } from "./field.ts";
import type { Surface } from "./surface.ts";

/**
 * Turning a piece over about an axis parallel to X or Y: the other coordinate becomes `sumMm` less itself,
 * and a height `heightMm` less itself.
 */
export interface Turning {
  readonly axis: "x" | "y";
  readonly sumMm: number;
  readonly heightMm: number;
}

export function turnedRing(ring: Ring, { axis, sumMm }: Turning): Ring {
  const turned = new Float64Array(ring.length);
  // Mirrored corners go the other way round, so they are taken from the end.
  for (let from = 0, to = ring.length - 2; to >= 0; from += 2, to -= 2) {
    turned[to] = axis === "y" ? sumMm - ring[from] : ring[from];
    turned[to + 1] = axis === "x" ? sumMm - ring[from + 1] : ring[from + 1];
  }
  return turned;
}

/** Flat `[x, y, z, ...]`. */
export function turnedReadings(xyz: Float64Array, { axis, sumMm, heightMm }: Turning): Float64Array {
  return xyz.map((value, k) => {
    if (k % 3 === 2) return heightMm - value;
    return (k % 3 === 0) === (axis === "y") ? sumMm - value : value;
  });
}

/** A direction in the plane, turned over with its piece; about X and about Y it is the same line. */
export function turnedAngle(angleRad: number): number {
  return -angleRad;
}

export function turnedSurface(surface: Surface, turning: Turning): Surface {
  const { axis, sumMm, heightMm } = turning;
  const backX = (x: number) => (axis === "y" ? sumMm - x : x);
  const backY = (y: number) => (axis === "x" ? sumMm - y : y);
  return {
    heightAt: (x, y) => heightMm - surface.heightAt(backX(x), backY(y)),
    covers: (x, y) => surface.covers(backX(x), backY(y)),
    sample: (grid, raiseMm, out) => {
      const count = grid.cols * grid.rows;
      const before = new Float32Array(count);
      surface.sample(mirroredGrid(grid, turning), 0, before);
      flip(before, grid, turning, out, heightMm + raiseMm);
    },
  };
}

/** Heights on the samples where they lie afterwards. */
export function turnedField(field: HeightField, turning: Turning): HeightField {
  const grid = mirroredGrid(field, turning);
  const z = new Float32Array(field.z.length);
  flip(field.z, grid, turning, z, turning.heightMm);
  return { ...grid, z };
}

function mirroredGrid(grid: Grid, { axis, sumMm }: Turning): Grid {
  return axis === "y"
    ? { ...grid, x0: sumMm - grid.x0 - (grid.cols - 1) * grid.pitchMm }
    : { ...grid, y0: sumMm - grid.y0 - (grid.rows - 1) * grid.pitchMm };
}

/** Writes `aboveMm` less each height to where its sample lies afterwards. */
function flip(
  from: Float32Array,
  { cols, rows }: Grid,
  { axis }: Turning,
  to: Float32Array,
  aboveMm: number,
): void {
  for (let row = 0; row < rows; row++) {
    const base = row * cols;
    const other = axis === "x" ? (rows - 1 - row) * cols : base + cols - 1;
    const step = axis === "x" ? 1 : -1;
    for (let col = 0; col < cols; col++) to[base + col] = aboveMm - from[other + step * col];
  }
}

/** How a piece lies on shims: a point (x, y, z) comes to stand at z + raiseMm - tiltX x - tiltY y. */
export interface Tilt {
  readonly tiltX: number;
  readonly tiltY: number;
  readonly raiseMm: number;
}

export function tiltedSurface(surface: Surface, { tiltX, tiltY, raiseMm: liftMm }: Tilt): Surface {
  return {
    heightAt: (x, y) => surface.heightAt(x, y) + liftMm - tiltX * x - tiltY * y,
    covers: surface.covers,
    sample: (grid, raiseMm, out) => {
      surface.sample(grid, raiseMm + liftMm, out);
      for (let row = 0, k = 0; row < grid.rows; row++) {
        const base = tiltY * (grid.y0 + row * grid.pitchMm) + tiltX * grid.x0;
        for (let col = 0; col < grid.cols; col++, k++) out[k] -= base + tiltX * grid.pitchMm * col;
      }
    },
  };
}

export function tiltedReadings(xyz: Float64Array, { tiltX, tiltY, raiseMm }: Tilt): Float64Array {
  return xyz.map((value, k) =>
    k % 3 === 2 ? value + raiseMm - tiltX * xyz[k - 2] - tiltY * xyz[k - 1] : value,
  );
}

/** Raised by a height everywhere. */
export function raisedSurface(surface: Surface, byMm: number): Surface {
  return {
    heightAt: (x, y) => surface.heightAt(x, y) + byMm,
    covers: surface.covers,
    sample: (grid, raiseMm, out) => surface.sample(grid, raiseMm + byMm, out),
  };
}

/** Where a piece lies in a mold: turned by an angle about its frame's origin, then moved. */
export interface Placing {
  readonly angleRad: number;
  readonly atMm: readonly [number, number];
}

export function placedRing(ring: Ring, { angleRad, atMm }: Placing): Ring {
  const [cos, sin] = turnOf(angleRad);
  const placed = new Float64Array(ring.length);
  for (let k = 0; k < ring.length; k += 2) {
    placed[k] = cos * ring[k] - sin * ring[k + 1] + atMm[0];
    placed[k + 1] = sin * ring[k] + cos * ring[k + 1] + atMm[1];
  }
  return placed;
}

/** A field of samples as a surface in the place where it was set: bilinear, its edge going on as it is. */
export function placedField(field: HeightField, placing: Placing, raiseMm: number): Surface {
  const { x0, y0, pitchMm, cols, rows, z } = field;
  const [cos, sin] = turnOf(placing.angleRad);
  const [atX, atY] = placing.atMm;
  const [lastU, lastV] = [cols - 1.001, rows - 1.001];
  const sample = (grid: Grid, extraMm: number, out: Float32Array) => {
    const [stepU, stepV] = [(cos * grid.pitchMm) / pitchMm, (-sin * grid.pitchMm) / pitchMm];
    for (let row = 0, k = 0; row < grid.rows; row++) {
      const [dx, dy] = [grid.x0 - atX, grid.y0 + row * grid.pitchMm - atY];
      const [startU, startV] = [(cos * dx + sin * dy - x0) / pitchMm, (cos * dy - sin * dx - y0) / pitchMm];
      for (let col = 0; col < grid.cols; col++, k++) {
        let u = startU + stepU * col;
        let v = startV + stepV * col;
        u = Math.max(0, Math.min(lastU, u));
        v = Math.max(0, Math.min(lastV, v));
        const i = u | 0;
        const j = v | 0;
        const a = j * cols + i;
        const near = z[a] + (z[a + 1] - z[a]) * (u - i);
        const far = z[a + cols] + (z[a + cols + 1] - z[a + cols]) * (u - i);
        out[k] = near + (far - near) * (v - j) + raiseMm + extraMm;
      }
    }
  };
  const one = new Float32Array(1);
  const heightAt = (x: number, y: number) => {
    sample({ x0: x, y0: y, pitchMm: 1, cols: 1, rows: 1 }, 0, one);
    return one[0];
  };
  return { heightAt, covers: () => true, sample };
}

/** Cosine and sine, exact for quarter turns. */
function turnOf(angleRad: number): readonly [number, number] {
  const quarters = angleRad / (Math.PI / 2);
  const near = Math.round(quarters);
  if (Math.abs(quarters - near) > 1e-12) return [Math.cos(angleRad), Math.sin(angleRad)];
  const turns = [
    [1, 0],
    [0, 1],
    [-1, 0],
    [0, -1],
  ] as const;
  return turns[((near % 4) + 4) % 4];
}
