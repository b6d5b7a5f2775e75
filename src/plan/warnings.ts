// What a plan tells of a setup beside its figures.

import type { Machine, Setup } from "../job/job.ts";
import type { PlannedPiece, Warning } from "../plan.ts";
import type { ProofTask, ProvenPiece } from "../proof/prove.ts";
import { boxOf } from "../survey/field.ts";
import { shareOutside } from "../survey/outside.ts";
import { MARGIN_SIGMAS, type Scatter, type StrayReading } from "../survey/scatter.ts";
import type { Stock } from "../survey/stock.ts";
import { formatLength, formatPoint, MM_PER_INCH, type Units } from "../units.ts";

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

/**
 * Wood is thin when it ends below this, or below this share of what was there, and more came off than is left: then
 * the target may be a slip, and what is left bends and lifts. Skimming a thin board is none of it. Common practice, no
 * source.
 */
const THIN_MM = { mm: 12, in: MM_PER_INCH / 2 };
const THIN_SHARE = 1 / 3;

/** A piece of which next to nothing is left. */
export function thinWarnings(
  { highestMm, lowestMm }: Pick<Stock, "highestMm" | "lowestMm">,
  { id, thickestMm }: Pick<PlannedPiece, "id" | "thickestMm">,
  units: Units,
): Warning[] {
  const length = (mm: number) => formatLength(mm, units);
  const beforeMm = highestMm - lowestMm;
  const isThin = thickestMm < THIN_MM[units] && thickestMm < beforeMm / 2;
  if (!isThin && thickestMm >= THIN_SHARE * beforeMm) return [];
  return [
    {
      code: "thin",
      text:
        `piece "${id}": only ${length(thickestMm)} of ${length(beforeMm)} are left; is the target meant so? Less than a ` +
        `third of a slab, or than ${length(THIN_MM[units])}, bends and lifts while it is cut`,
    },
  ];
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

/** With more than this share of a face guessed, what is planned there is a guess. Common practice, no source. */
const GUESSED_SHARE = 1 / 3;

/** What is odd about the readings of the face that is up; or that there are none where the target needs them. */
export function readingWarnings(
  stock: Stock,
  scatter: Scatter | null,
  { target }: Setup,
  units: Units,
): Warning[] {
  const { piece, up, timbers } = stock;
  const name = `piece "${piece.id}"`;
  if (scatter === null) {
    const isKnown = up.cut !== null || timbers !== null || piece.upper !== null;
    if (isKnown || target.kind !== "cleanUp") return [];
    const text = `${name}: the face was not read and is taken as level: what comes clean is not known; read it`;
    return [{ code: "not-read", text }];
  }
  const found = scatter.suspects.slice(0, 5).map((suspect) => ({
    code: "suspect-reading",
    text: `${name}: the reading ${strayText(suspect, units)} than its neighbours say; measure it again`,
  }));
  const outside = shareOutside(piece.outline, up.surface.covers);
  if (outside <= 0.005) return found;
  const guessed =
    outside > GUESSED_SHARE
      ? ": there the plan is a guess, and the cutter may bite deeper than it says; read near the edges and corners"
      : "";
  const text = `${name}: ${(100 * outside).toFixed(1)} % of the face lies beyond the outermost readings and is guessed from them${guessed}`;
  return [...found, { code: "outside-readings", text }];
}

/** Where the margin of a piece comes from. */
export function wideMarginWarning(
  id: string,
  { sigmaMm, sagMm, suspects, worst }: Scatter,
  marginMm: number,
  units: Units,
): Warning {
  const length = (mm: number) => formatLength(mm, units);
  const named = suspects.length > 0 ? suspects.slice(0, 2) : worst === null ? [] : [worst];
  const worstText = named.map((one) => strayText(one, units)).join(", ");
  const why =
    sagMm > MARGIN_SIGMAS * sigmaMm
      ? `its face curves by up to ${length(sagMm)} between its readings`
      : `its readings are off each other by about ${length(sigmaMm)} (worst: ${worstText} than its neighbours say)`;
  const text = `piece "${id}": ${why}, so the margin is ${length(marginMm)}; check them, take more, or set "margin" yourself`;
  return { code: "wide-margin", text };
}

function strayText({ x, y, z, missMm }: StrayReading, units: Units): string {
  const off = `${formatLength(Math.abs(missMm), units)} ${missMm > 0 ? "higher" : "lower"}`;
  return `${formatLength(z, units)} at ${formatPoint(x, y, units)} is ${off}`;
}

/** A zero that no machine brings near the wood: most likely its numbers are in another unit. */
export function farZeroWarnings({ pieces, zero }: Setup, { travelMm }: Machine, units: Units): Warning[] {
  const { minX, maxX, minY, maxY } = boxOf(pieces.map(({ outline }) => outline));
  const offX = Math.max(0, minX - zero.xMm, zero.xMm - maxX);
  const offY = Math.max(0, minY - zero.yMm, zero.yMm - maxY);
  if (offX <= travelMm.x && offY <= travelMm.y) return [];
  const away = formatLength(Math.sqrt(offX * offX + offY * offY), units);
  return [
    {
      code: "far-zero",
      text: `program zero lies ${away} from the wood, more than the machine's travel; is it in the right unit?`,
    },
  ];
}

/** What stands so high that a program needs too much travel in Z, for the end of that finding's text. */
export function highestOfAll({ setup, stocks, machine, units }: ProofTask): string {
  const wood = stocks.reduce((most, stock) => (stock.highestMm > most.highestMm ? stock : most));
  const woodMm = typicalHeight(wood);
  const [keepOut] = [...setup.keepOuts].sort((a, b) => b.heightMm - a.heightMm);
  const isWood = keepOut === undefined || keepOut.heightMm <= wood.highestMm;
  const heightMm = isWood ? wood.highestMm : keepOut.heightMm;
  const what = isWood ? `piece "${wood.piece.id}"${highestPlace(wood, units)}` : `keep-out "${keepOut.name}"`;
  const asMm = heightMm / MM_PER_INCH;
  const slip =
    heightMm > machine.travelMm.z && (woodMm > machine.travelMm.z || (asMm > woodMm / 3 && asMm < 3 * woodMm))
      ? `; is it ${formatLength(asMm, "mm")}?`
      : "";
  return `; highest of all stands ${what}, ${formatLength(heightMm, units)} above the bed${slip}`;
}

/** The middle one of the readings of the face that is up; its height where there are none. */
function typicalHeight({ up: { readings }, highestMm }: Stock): number {
  const heights = readings?.filter((_, k) => k % 3 === 2).sort() ?? [];
  return heights[heights.length >> 1] ?? highestMm;
}

function highestPlace({ up: { readings }, highestMm }: Stock, units: Units): string {
  for (let k = 0; readings !== null && k < readings.length; k += 3)
    if (Math.abs(readings[k + 2] - highestMm) < 1e-6)
      return ` at ${formatPoint(readings[k], readings[k + 1], units)}`;
  return "";
}
