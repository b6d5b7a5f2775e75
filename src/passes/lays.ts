// Pieces longer than the travel are cut in several lays, pushed along X between programs. All is planned in
// the frame of the first lay, through which the machine's window then moves: what stands on the bed moves
// with it, and so does the program's zero. Millimetres.

import { PlanError } from "../errors.ts";
import type { Machine, Setup } from "../job/job.ts";
import { boxOf } from "../survey/field.ts";
import type { Stock } from "../survey/stock.ts";
import { formatLength, type Units } from "../units.ts";
import { anglesToTry, rowAngle } from "./angle.ts";
import type { Levels } from "./floor.ts";
import { rowReachMm } from "./rows.ts";

/** One lay: how far the wood has been pushed from the first, and what of it is cut here. */
export interface Lay {
  /** Towards -X is negative. */
  readonly shiftMm: number;
  /** The ground that this lay clears, in the frame of the first. */
  readonly fromX: number;
  readonly toX: number;
  /**
   * Each layer clears so much more beyond `toX` than the one below: the disc reaches a little beyond the ground,
   * and must not meet there what a layer above has left. 0 where no wood follows.
   */
  readonly stairMm: number;
  /** Where the cutter's centre may go, in the frame of the first. */
  readonly windowMinX: number;
  readonly windowMaxX: number;
  /** The setup as the wood sees it: what stands on the bed moved against the push. */
  readonly setup: Setup;
  readonly levels: Levels;
}

/** Room for the disc beyond the ground, and for coming down beside it. */
const BESIDE_MM = 6;
const HAIR_MM = 2;
/** Wood is pushed by whole steps: of a millimetre, or of an eighth of an inch. */
const PUSH_STEP_MM = { mm: 1, in: 3.175 };
const LAYS_MAX = 50;

/**
 * The lays in which a setup is cut, as few and as long as each other as they can be, each overlapping the one
 * before. Material stands so far above the floor at most. Throws PlanError `travel` when the travel is too short for that.
 */
export function laysOf(
  setup: Setup,
  overlapMm: number,
  machine: Machine,
  stocks: readonly Stock[],
  levels: Levels,
  standsMm: number,
  units: Units,
): Lay[] {
  const { minX, maxX } = boxOf(stocks.map(({ piece }) => piece.outline));
  const marginMm = Math.max(setup.cutter.diameterMm / 2, setup.passes.overrunMm ?? 0) + BESIDE_MM;
  const layers = Math.ceil(standsMm / setup.passes.depthMm) + 1;
  const stairMm = overshoot(setup, levels.floorMm);
  const most = machine.travelMm.x - 2 * marginMm - layers * stairMm;
  const step = PUSH_STEP_MM[units];
  const length = maxX - minX;
  const count = Math.ceil((length - overlapMm) / (most - overlapMm) - 1e-9);
  if (!(most - overlapMm >= step) || count > LAYS_MAX)
    throw new PlanError(
      "travel",
      setup.id,
      `with a travel of ${formatLength(machine.travelMm.x, units)} in X and an overlap of ${formatLength(overlapMm, units)} hardly any ground is left for each lay`,
    );
  // Equal lays leave no thin rest; the push is rounded up, so the last is a little shorter, if any.
  const equal = (length + (count - 1) * overlapMm) / count;
  const push = count === 1 ? 0 : Math.ceil((equal - overlapMm) / step - 1e-9) * step;
  return Array.from({ length: count }, (_, k) => {
    const fromX = minX + k * push;
    const toX = Math.min(maxX, fromX + Math.max(equal, push + overlapMm));
    const shiftMm = 0 - k * push;
    const stands = k + 1 < count ? stairMm : 0;
    // The same place on the bed for each lay.
    const windowMinX = fromX - (machine.travelMm.x - equal - layers * (count > 1 ? stairMm : 0)) / 2;
    return {
      ...{ shiftMm, fromX, toX, stairMm: stands, windowMinX },
      windowMaxX: windowMinX + machine.travelMm.x,
      setup: {
        ...setup,
        keepOuts: setup.keepOuts
          .filter(({ lays }) => lays === null || lays.includes(k + 1))
          .map((keepOut) => moved(keepOut, -shiftMm)),
      },
      levels: { ...levels, zero: { ...levels.zero, x: levels.zero.x - shiftMm } },
    };
  });
}

/** How far beyond the ground that a layer clears the rim of the disc may come. */
function overshoot(setup: Setup, floorMm: number): number {
  const { cutter, passes, keepOuts } = setup;
  const radius = cutter.diameterMm / 2;
  // Around a keep-out, and along an edge, the cutter's centre may run as far beyond the ground as the disc reaches.
  if (passes.edgeFirst || keepOuts.some(({ heightMm }) => heightMm >= floorMm)) return 2 * radius;
  const half = rowReachMm(radius);
  const endMm = passes.overrunMm ?? -Math.sqrt(radius * radius - half * half);
  const beyond = (passes.fastest ? anglesToTry(setup) : [rowAngle(setup)]).map((angle) => {
    const [along, across] = [Math.abs(Math.cos(angle)), Math.abs(Math.sin(angle))];
    // A row may clear as much as that on either side: where it comes at the border askew, its end lies beyond it.
    return along < 1e-6 ? 0 : half * across + endMm * along + HAIR_MM;
  });
  return radius + Math.max(...beyond);
}

export function moved<T extends { readonly outline: Float64Array }>(thing: T, byX: number): T {
  return { ...thing, outline: thing.outline.map((value, k) => (k % 2 === 0 ? value + byX : value)) };
}
