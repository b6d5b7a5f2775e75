// How many readings a face needs for a margin of so much, from how well the present ones agree. Scatter stays
// whatever is read; the bulge that a curved face hides between two readings falls with the square of their
// distance, so with their number. Millimetres.

import { MARGIN_SIGMAS, type Scatter } from "../survey/scatter.ts";

/** Readings for a margin, from `count` readings spread evenly with that scatter; null where no number is enough. */
export function readingsFor(marginMm: number, count: number, { sigmaMm, sagMm }: Scatter): number | null {
  const forSagMm = marginMm - MARGIN_SIGMAS * sigmaMm;
  return forSagMm > 0 ? Math.ceil((count * sagMm) / forSagMm) : null;
}
