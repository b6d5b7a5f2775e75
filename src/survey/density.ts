// How many readings a face needs for a margin, from the readings there are. The margin covers their scatter, which
// more readings do not lessen, and the bulge between them, which falls with the square of their distance: with the
// number of readings, therefore.

import { assert } from "../errors.ts";
import { MARGIN_SIGMAS, type Scatter } from "./scatter.ts";

export type DensityAdvice =
  /** `spacingMm`: how far apart they lie when spread evenly. */
  | { readonly kind: "readings"; readonly count: number; readonly spacingMm: number }
  /** No number will do: the scatter alone asks for `leastMm`, and they are to be taken with more care. */
  | { readonly kind: "scatter"; readonly leastMm: number };

/** Three by three: fewer say nothing of the form of a face between its edges. */
const COUNT_MIN = 9;
const ROUNDING_MM = 1e-9;

/** Readings wanted for `marginMm` on a face of `areaMm2`, of which `count` readings were taken. */
export function readingsFor(
  marginMm: number,
  scatter: Scatter,
  count: number,
  areaMm2: number,
): DensityAdvice {
  assert(marginMm > 0 && count > 0 && areaMm2 > 0, `${count} readings on ${areaMm2} mm2 for ${marginMm} mm`);
  const scatterMm = MARGIN_SIGMAS * scatter.sigmaMm;
  const roomMm = marginMm - scatterMm;
  // What rounding leaves is no room, and no lack of it.
  if (roomMm < (scatter.sagMm > 0 ? ROUNDING_MM : -ROUNDING_MM))
    return { kind: "scatter", leastMm: scatterMm };
  const ratio = scatter.sagMm > 0 ? scatter.sagMm / roomMm : 0;
  const wanted = Math.max(COUNT_MIN, Math.ceil(count * ratio - 1e-9));
  return { kind: "readings", count: wanted, spacingMm: Math.sqrt(areaMm2 / wanted) };
}
