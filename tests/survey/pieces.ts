// Pieces and readings for tests, millimetres.

import type { Piece, Readings, Ring } from "../../src/job/job.ts";
import { rectangle } from "../region/shapes.ts";

/** What an all-wood piece on the bed does not say. */
export const PLAIN = {
  under: null,
  calipers: null,
  wood: null,
  shellMm: { upper: 0, under: 0 },
  madeOf: [],
  moisture: null,
} as const;

export type Height = (x: number, y: number) => number;

export function gridOf(
  height: Height,
  at: { x0?: number; y0?: number; dx: number; dy: number; cols: number; rows: number },
): Extract<Readings, { kind: "grid" }> {
  const { x0 = 0, y0 = 0, dx, dy, cols, rows } = at;
  const z = Float64Array.from({ length: cols * rows }, (_, k) =>
    height(x0 + (k % cols) * dx, y0 + Math.floor(k / cols) * dy),
  );
  return { kind: "grid", x0, y0, dx, dy, cols, rows, z };
}

export function pointsAt(height: Height, places: readonly (readonly [number, number])[]): Readings {
  return { kind: "points", xyz: Float64Array.from(places.flatMap(([x, y]) => [x, y, height(x, y)])) };
}

export function measured(upper: Readings, outline: Ring = rectangle(0, 0, 100, 100)): Piece {
  return { id: "slab", material: "", outline, grainRad: 0, thicknessMm: null, upper, ...PLAIN };
}

export function box(thicknessMm: number, outline: Ring = rectangle(0, 0, 100, 100)): Piece {
  return { id: "slab", material: "", outline, grainRad: 0, thicknessMm, upper: null, ...PLAIN };
}
