// The depths a setup cuts at. All heights are above the bed in millimetres, and lie on the steps that
// the written program can name, so that what is planned and what is written are the same number.

import { assert, PlanError } from "../errors.ts";
import type { Setup } from "../job/job.ts";
import { formatLength, type Units } from "../units.ts";

export interface Layer {
  /** The layer's floor. */
  readonly zMm: number;
  /** The floor of the layer before; on the first, the highest place where material may stand. */
  readonly topMm: number;
  readonly kind: "rough" | "finish";
  readonly stepoverMm: number;
  readonly feedMmPerMin: number;
}

/** Steps of written coordinates, counted from the program's zero. */
export interface Steps {
  readonly zeroMm: number;
  readonly stepMm: number;
}

/** The height nearest to `zMm`, or nearest below it, that a program can name. */
export function namedHeight(zMm: number, { zeroMm, stepMm }: Steps, which: "nearest" | "below"): number {
  const steps = (zMm - zeroMm) / stepMm;
  return zeroMm + (which === "below" ? Math.floor(steps + 1e-6) : Math.round(steps)) * stepMm;
}

const LAYERS_MAX = 2000;
/** What single precision, in which faces are kept, may add to a height; no layer is made for that. */
export const SINGLE_MM = 2e-5;

/**
 * Layers from `topMm` down to `floorMm`, highest first: equal depths, none over the setup's; the finish
 * layer last. None when the floor is at the top or above it.
 */
export function layersOf(setup: Setup, floorMm: number, topMm: number, steps: Steps, units: Units): Layer[] {
  assert(Number.isFinite(floorMm) && Number.isFinite(topMm), `layers from ${topMm} to ${floorMm} mm`);
  const { passes, cutter } = setup;
  const height = (count: number) => steps.zeroMm + count * steps.stepMm;
  // In whole steps, so that a depth of exactly 2 mm is never 2.001 mm after rounding.
  const count = (mm: number) => Math.floor(mm / steps.stepMm + 1e-6);
  const floor = Math.round((floorMm - steps.zeroMm) / steps.stepMm);
  const top = Math.ceil((topMm - SINGLE_MM - steps.zeroMm) / steps.stepMm - 1e-6);
  const depth = count(passes.depthMm);
  const finishDepth = passes.finish === null ? 0 : count(passes.finish.depthMm);
  if (depth < 1 || (passes.finish !== null && finishDepth < 1))
    throw new PlanError(
      "depth",
      setup.id,
      `a depth per pass under ${formatLength(steps.stepMm, units)} is less than a program can name`,
    );

  const roughFloor = floor + finishDepth;
  const roughs = Math.max(0, Math.ceil((top - roughFloor) / depth));
  if (roughs > LAYERS_MAX)
    throw new PlanError(
      "layers",
      setup.id,
      `${roughs} layers from ${formatLength(topMm, units)} down to ${formatLength(floorMm, units)} above the bed; at most ${LAYERS_MAX} are made`,
    );
  const layers: Layer[] = [];
  let above = top;
  for (let k = 1; k <= roughs; k++) {
    // Scaled from the ends, not summed step by step, so that rounding does not pile up.
    const z = roughFloor + Math.round(((top - roughFloor) * (roughs - k)) / roughs);
    layers.push({
      zMm: height(z),
      topMm: height(above),
      kind: "rough",
      stepoverMm: passes.stepoverShare * cutter.diameterMm,
      feedMmPerMin: passes.feedMmPerMin,
    });
    above = z;
  }
  if (passes.finish !== null && above > floor)
    layers.push({
      zMm: height(floor),
      topMm: height(above),
      kind: "finish",
      stepoverMm: passes.finish.stepoverShare * cutter.diameterMm,
      feedMmPerMin: passes.finish.feedMmPerMin,
    });
  return layers;
}
