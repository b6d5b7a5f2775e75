// What to put under a piece so that it lies as its finished planes want it, and where. Millimetres, in the lay as
// measured.

import { assert } from "../errors.ts";
import type { Ring } from "../job/job.ts";
import type { Cloud } from "./cloud.ts";
import { boxOf } from "./field.ts";
import { grainFrame, spansAt } from "./grain.ts";

export interface Shim {
  readonly x: number;
  readonly y: number;
  readonly thicknessMm: number;
}

/** Nobody cuts a shim thinner than this (common practice, no source): the piece lies on the bed there. */
const SHIM_MM_MIN = 0.1;
/** About how far supports stand apart along a piece, so that it does not sag under the cutter (as above). */
const APART_MM = 800;
/** How far they stand in from the edge: a share of the width, within bounds. */
const INSET_SHARE = 0.08;
const INSET_MM_MIN = 10;
const INSET_MM_MAX = 60;

/** Pairs of places to support a piece, one near each long edge, from end to end along the grain; four or more. */
export function supportPlaces(outline: Ring, grainRad: number): { x: number; y: number }[] {
  const frame = grainFrame(grainRad);
  const turned = frame.toGrain(outline);
  const box = boxOf([turned]);
  const length = box.maxX - box.minX;
  const inset = Math.min(
    INSET_MM_MAX,
    Math.max(INSET_MM_MIN, INSET_SHARE * Math.min(length, box.maxY - box.minY)),
    length / 4,
  );
  const gaps = Math.max(1, Math.round((length - 2 * inset) / APART_MM));
  const places: { x: number; y: number }[] = [];
  for (let k = 0; k <= gaps; k++) {
    const u = box.minX + inset + ((length - 2 * inset) * k) / gaps;
    const spans = spansAt(turned, u, "across");
    assert(spans.length > 0, `no face across the grain at ${u} mm`);
    const [near] = spans[0];
    const [, far] = spans[spans.length - 1];
    // Where the face is narrow or in pieces, each support keeps to its own edge's wood.
    const nearIn = Math.min(inset, (spans[0][1] - near) / 4);
    const farIn = Math.min(inset, (far - spans[spans.length - 1][0]) / 4);
    places.push(frame.toLay(u, near + nearIn), frame.toLay(u, far - farIn));
  }
  return places;
}

/**
 * Shims at those of the places where they are needed: the gaps under the piece when its planes of slopes a and b
 * lie level and the lowest point of its under face lies on the bed.
 */
export function shimsFor(
  planes: { readonly a: number; readonly b: number },
  under: Cloud,
  heightAt: (x: number, y: number) => number,
  places: readonly { readonly x: number; readonly y: number }[],
): Shim[] {
  const { a, b } = planes;
  // What lies flat on them is measured square to them.
  const square = Math.sqrt(1 + a * a + b * b);
  const over = (x: number, y: number, z: number) => (z - a * x - b * y) / square;
  let lowest = Number.POSITIVE_INFINITY;
  const { low } = under.extremes(a, b);
  for (let k = 0; k < low.length; k += 3) lowest = Math.min(lowest, over(low[k], low[k + 1], low[k + 2]));
  const heights = places.map(({ x, y }) => over(x, y, heightAt(x, y)));
  // The field's samples may miss the lowest place by a little.
  lowest = Math.min(lowest, ...heights);
  return places
    .map(({ x, y }, k) => ({ x, y, thicknessMm: heights[k] - lowest }))
    .filter(({ thicknessMm }) => thicknessMm >= SHIM_MM_MIN);
}
