// The thickness ladder in characters: a section through each piece from raw slab to finished top, one rung a
// setup. Left is the under face, right the upper face, as the piece was first laid.

import type { Plan } from "../src/plan.ts";
import type { PieceSurvey } from "../src/survey.ts";
import { formatLength, type Units } from "../src/units.ts";

/** A terminal narrower than this gets no drawing. */
export const LADDER_COLUMNS_MIN = 76;
const BAR = 40;
const NAME = 16;

/** What has come off a piece by now, on both faces, and what is left between. */
interface Rung {
  readonly name: string;
  readonly underOffMm: number;
  readonly upperOffMm: number;
}

/** The ladder of a plan; no lines where nothing comes off. */
export function ladderLines({ setups, job }: Plan): string[] {
  const ids = [...new Set(setups.flatMap(({ found }) => found.map(({ piece }) => piece.id)))];
  const lines = ids.flatMap((id) => {
    const first = setups.flatMap(({ found }) => found).find(({ piece }) => piece.id === id);
    if (first === undefined) return [];
    const heightMm = first.highestMm;
    const { shellMm } = first.piece;
    const raw = first.timbers === null ? "raw" : "out of the mold";
    const rungs: Rung[] = [{ name: raw, underOffMm: 0, upperOffMm: 0 }];
    for (const { setup, found, floorMm } of setups) {
      const stock = found.find(({ piece }) => piece.id === id);
      if (stock === undefined) continue;
      const offMm = Math.max(0, stock.highestMm - floorMm);
      const before = rungs[rungs.length - 1];
      rungs.push({
        name: setup.id,
        underOffMm: before.underOffMm + (setup.face === "under" ? offMm : 0),
        upperOffMm: before.upperOffMm + (setup.face === "upper" ? offMm : 0),
      });
    }
    return [`  ${id}`, ...rungs.map((rung) => rungLine(rung, heightMm, shellMm, job.units))];
  });
  const resin = lines.some((line) => line.includes("="));
  return [
    `Thickness, left the under face, right the upper: # stays${resin ? ", = shell of resin" : ""}, . has come off`,
    ...lines,
  ];
}

/** The rungs that a survey knows of a piece: as it is, and what comes out clean of it as it lies. */
export function surveyLadder({ asLaidMm, underMostMm, highestMm }: PieceSurvey, units: Units): string[] {
  if (!(asLaidMm > 0)) return [];
  const none = { under: 0, upper: 0 };
  const clean = { underOffMm: underMostMm, upperOffMm: highestMm - underMostMm - asLaidMm };
  return [
    "  Thickness, left the under face, right the upper: # stays, . comes off",
    rungLine({ name: "as it is", underOffMm: 0, upperOffMm: 0 }, highestMm, none, units),
    rungLine({ name: "clean, level", ...clean }, highestMm, none, units),
  ];
}

function rungLine(
  { name, underOffMm, upperOffMm }: Rung,
  heightMm: number,
  shellMm: { readonly under: number; readonly upper: number },
  units: Units,
): string {
  const columns = (mm: number) => Math.round((mm / heightMm) * BAR);
  const [under, upper] = [columns(underOffMm), columns(upperOffMm)];
  const bar = Array.from({ length: BAR }, (_, k) => {
    if (k < under || k >= BAR - upper) return ".";
    return k < columns(shellMm.under) || k >= BAR - columns(shellMm.upper) ? "=" : "#";
  }).join("");
  const left = formatLength(Math.round((heightMm - underOffMm - upperOffMm) * 100) / 100, units);
  return `    ${name.slice(0, NAME).padEnd(NAME)}  ${bar}  ${left}`;
}
