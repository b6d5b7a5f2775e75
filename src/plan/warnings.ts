// What a plan tells of a setup beside its figures.

import type { Setup } from "../job/job.ts";
import type { PlannedPiece, Warning } from "../plan.ts";
import type { ProvenPiece } from "../proof/prove.ts";
import { formatLength, formatPoint, type Units } from "../units.ts";

export function pieceWarnings(
  left: ProvenPiece,
  planned: PlannedPiece,
  setup: Setup,
  units: Units,
): Warning[] {
  const found: Warning[] = [];
  const percent = (share: number) => `${(100 * share).toFixed(1)} %`;
  if (left.cleanUp === 0 && left.belowFloor > 0)
    found.push({
      code: "piece-untouched",
      text: `piece "${left.id}" is not cut: its face lies below the floor`,
    });
  else if (left.belowFloor > 0.001 && setup.target.kind !== "cleanUp") {
    const [deepest] = [...planned.rough].sort((a, b) => b.deepMm - a.deepMm);
    const where =
      deepest === undefined
        ? ""
        : `, up to ${formatLength(deepest.deepMm, units)} deep at ${formatPoint(deepest.x, deepest.y, units)}`;
    const could =
      setup.target.kind === "thickness" && planned.cleanThicknessMm > 0
        ? `; clean all over it can be finished to ${formatLength(planned.cleanThicknessMm, units)} at most`
        : "";
    found.push({
      code: "stays-rough",
      text: `piece "${left.id}": ${percent(left.belowFloor)} of the face lies below the floor and stays rough${where}${could}`,
    });
  }
  if (left.underKeepOuts > 0)
    found.push({
      code: "under-keep-outs",
      text: `piece "${left.id}": ${percent(left.underKeepOuts)} of the face lies under or too near to keep-outs and stays as it is`,
    });
  return found;
}

/** What was taken where the job leaves feeds and speed to us. */
export function adviceNotes({ passes: { advised } }: Setup): Warning[] {
  return advised === undefined ? [] : [{ code: "advised", text: `feeds and speed are advised: ${advised}` }];
}

/** Margins from here on are told, and why. */
export const WIDE_MARGIN_MM = 1.5;
/** So little air over a keep-out deserves a second measurement. Common practice, no source. */
const THIN_AIR_MM = 3;

/** Keep-outs lower than the floor are cut over, as the job says; a tape's error is enough to hit one. */
export function lowKeepOutWarnings(setup: Setup, floorMm: number, units: Units): Warning[] {
  return setup.keepOuts
    .filter(({ heightMm }) => heightMm < floorMm && floorMm - heightMm < THIN_AIR_MM)
    .map(({ name, heightMm }) => ({
      code: "thin-air",
      text: `keep-out "${name}" is only ${formatLength(floorMm - heightMm, units)} lower than the floor, so the cutter may pass right over it; measure it again`,
    }));
}
