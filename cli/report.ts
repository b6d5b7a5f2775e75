// What a plan or a check found, as lines for a maker to read.

import type { Cast } from "../src/plan/pour.ts";
import type { CheckResult, LayerReport, Plan, PlannedSetup } from "../src/plan.ts";
import { formatArea, formatLength, formatMass, formatPoint, formatVolume, type Units } from "../src/units.ts";
import { LADDER_COLUMNS_MIN, ladderLines } from "./ladder.ts";
import { PREVIEW_FILE } from "./page.ts";
import { PLAN_FILE, SHEET_FILE } from "./plan-folder.ts";
import { wrapped } from "./terminal.ts";

/** What each setup does, where the files lie, and what to mind; `experience` is told beside the machine time. */
export function planLines(plan: Plan, folder: string, experience: readonly string[] = []): string[] {
  const { job, setups, seconds, cautions } = plan;
  const programs = setups.flatMap(({ setup, programs }) =>
    programs.map(({ file, seconds }) => [file, `program of setup ${setup.id}, ${clockTime(seconds)}`]),
  );
  return [
    job.name,
    ...setups.flatMap((planned) => ["", ...setupLines(planned, job.units)]),
    ...shimLines(plan),
    ...plan.casts.flatMap((cast) => ["", ...castLines(cast, job.units)]),
    ...(process.stdout.columns >= LADDER_COLUMNS_MIN ? ["", ...ladderLines(plan)] : []),
    ...(plan.notes.length > 0 ? ["", ...plan.notes.flatMap((note) => wrapped("", note))] : []),
    "",
    `Machine time in all ${clockTime(seconds.machine)}${seconds.shop > seconds.machine ? `; with loading and setting zero ${clockTime(seconds.shop)}` : ""}.`,
    ...experience,
    "Every program was read back and run on the measured wood: nothing found wrong.",
    `Written to ${folder}:`,
    ...aligned([
      ...programs,
      [SHEET_FILE, "for the operator: open it and print it"],
      [PREVIEW_FILE, "to look at before it cuts: open it in a browser"],
      [PLAN_FILE, "all figures, for other programs to read"],
    ]),
    "",
    "Before you cut",
    ...cautions.flatMap((caution) => wrapped("- ", caution)),
  ];
}

/** After these nobody reads on; with `--json` all are told. */
const FINDINGS_TOLD = 20;

/** What is wrong with a program, or that nothing is. */
export function checkLines(result: CheckResult, file: string, setupId: string): string[] {
  const { findings, count, warnings, seconds } = result;
  const mind = warnings.flatMap(({ line, text }) => wrapped("Mind: ", `line ${line}: ${text}`));
  if (result.ok)
    return [
      ...mind,
      `${file}: nothing found wrong on the wood of setup ${setupId}. Machine time ${clockTime(seconds.total)}.`,
      ...wrapped("", "A simulation cannot see hold-down, a worn insert or lost steps."),
    ];
  return [
    ...findings
      .slice(0, FINDINGS_TOLD)
      .flatMap(({ code, line, text }) =>
        wrapped(`${line > 0 ? `line ${line}` : "whole program"}: `, `${text} [${code}]`),
      ),
    ...(count > FINDINGS_TOLD ? [`and ${count - FINDINGS_TOLD} more`] : []),
    ...mind,
    `${file}: ${count === 1 ? "1 finding" : `${count} findings`}. Do not run it.`,
  ];
}

function setupLines(planned: PlannedSetup, units: Units): string[] {
  const { setup, pieces, warnings, floorMm, removedLitres, removedMostMm, seconds } = planned;
  const length = (mm: number) => formatLength(mm, units);
  return [
    `Setup ${setup.id}: ${setup.face} face up, cutter ${setup.cutter.id}`,
    ...aligned([
      ["Zero", zeroText(planned, units)],
      ["Floor", `${length(floorMm)} above the bed`],
      ["Margin", `${length(planned.marginMm)}: the wood may stand this far above its readings`],
      ...laysText(planned, units),
      ["Layers", layersText(planned, units)],
      ...rowsText(planned),
      ["Comes off", `${volumeText(removedLitres, units)}, ${length(removedMostMm)} at the highest place`],
      ["Machine time", `${clockTime(seconds.total)}, of it ${clockTime(seconds.cutting)} in the wood`],
    ]),
    "",
    ...pieceTable(pieces, units),
    ...(warnings.length > 0 ? [""] : []),
    ...warnings.flatMap(({ text }) => wrapped("  Mind: ", text)),
  ];
}

/** A row for each piece; resin has a column where there is any. */
function pieceTable(pieces: PlannedSetup["pieces"], units: Units): string[] {
  const length = (mm: number) => formatLength(mm, units);
  const resin = pieces.some(({ resinCleanUp }) => resinCleanUp !== null);
  return [
    ...aligned([
      resin
        ? ["Piece", "Wood clean", "Resin clean", "Thickness left"]
        : ["Piece", "Clean-up", "Thickness left"],
      ...pieces.map(({ id, cleanUp, resinCleanUp, thinnestMm, thickestMm }) => [
        id,
        percent(cleanUp),
        ...(resin ? [resinCleanUp === null ? "-" : percent(resinCleanUp)] : []),
        range(length(thinnestMm), length(thickestMm)),
      ]),
    ]),
    ...pieces.flatMap(({ id, rough }) => roughLines(id, rough, units)),
  ];
}

/** Where a piece stays rough: the three largest places. */
function roughLines(id: string, rough: PlannedSetup["pieces"][number]["rough"], units: Units): string[] {
  const places = rough.slice(0, 3).map(({ x, y, deepMm, areaMm2 }) => {
    const deep = deepMm > 0 ? `, up to ${formatLength(deepMm, units)} deep` : "";
    return `${formatArea(areaMm2, units)} around ${formatPoint(x, y, units)}${deep}`;
  });
  return places.length === 0 ? [] : wrapped(`  ${id} stays rough: `, places.join("; "));
}

function volumeText({ wood, resin }: PlannedSetup["removedLitres"], units: Units): string {
  if (resin === 0) return formatVolume(wood, units);
  return `${formatVolume(wood, units)} of wood and ${formatVolume(resin, units)} of resin`;
}

/** Resin is sold by the litre too where inches are in use. */
function resinText(litres: number, units: Units): string {
  const volume = formatVolume(litres, units);
  return units === "mm" ? volume : `${volume} (${formatVolume(litres, "mm")})`;
}

/** What goes under which piece before its first setup. */
function shimLines({ seats, job }: Plan): string[] {
  return [...seats].flatMap(([id, { shims }]) => {
    if (shims.length === 0) return ["", `Piece ${id} needs no shims.`];
    return [
      "",
      `Shims under piece ${id} before its first setup, so that it lies as planned:`,
      ...aligned(
        shims.map(({ x, y, thicknessMm }) => [
          formatLength(Math.round(thicknessMm * 100) / 100, job.units),
          `at ${formatPoint(Math.round(x), Math.round(y), job.units)}`,
        ]),
      ),
    ];
  });
}

/** What the pour takes, what the top weighs, and what a deeper skim would have meant. */
function castLines(
  { piece, resinLitres, resinKg, massBeforeKg, massAfterKg, skims }: Cast,
  units: Units,
): string[] {
  return [
    `Piece ${piece}, wood and resin`,
    ...aligned([
      [
        "Resin",
        `${resinText(resinLitres, units)}, ${formatMass(resinKg, units)}, without what runs off or is left in the bucket`,
      ],
      [
        "Mass",
        `${formatMass(massBeforeKg, units)} out of the mold, ${formatMass(massAfterKg, units)} when all setups are done`,
      ],
    ]),
    ...skims.flatMap((skim) => wrapped("  ", skimText(skim, units))),
  ];
}

/** What a deeper skim would have meant; what is next to nothing is left out. */
export function skimText(skim: Cast["skims"][number], units: Units): string {
  const names = skim.skims.join(" and ");
  if (skim.deeperMm === 0)
    return `${names} skimmed deep enough: ${skim.setup} need not go below the skimmed wood.`;
  const minutes = (seconds: number) => `${Math.round(seconds / 60)} min`;
  // Half a minute is nothing.
  const costs = skim.secondsMore < 30 ? [] : [`take about ${minutes(skim.secondsMore)} more in ${names}`];
  const saves = [
    ...(skim.secondsLess < 30 ? [] : [`about ${minutes(skim.secondsLess)} in ${skim.setup}`]),
    ...(skim.resinLitresLess < 0.05 ? [] : [`${resinText(skim.resinLitresLess, units)} of resin`]),
  ];
  const would = [...costs, ...(saves.length === 0 ? [] : [`save ${saves.join(" and ")}`])];
  const deeper = `${skim.setup} goes ${formatLength(skim.deeperMm, units)} below the skimmed wood`;
  if (would.length === 0)
    return `${deeper}; skimming so much deeper before the pour would cost and save next to nothing.`;
  return `${deeper}. Skimming so much deeper before the pour would ${would.join(", and ")}.`;
}

function zeroText({ setup, zeroMm }: PlannedSetup, units: Units): string {
  const height =
    setup.zero.z === "bed"
      ? "on top of the bed"
      : `on the highest place of the wood, ${formatLength(zeroMm.z, units)} above the bed`;
  return `X0 Y0 where the job has ${formatPoint(zeroMm.x, zeroMm.y, units)}; Z0 ${height}`;
}

/** Of what is longer than the travel: how far to push it, and how to see that the lays meet. */
function laysText({ programs }: PlannedSetup, units: Units): string[][] {
  if (programs.length < 2) return [];
  const pushes = programs.slice(1).map(({ shiftMm }, k) => programs[k].shiftMm[0] - shiftMm[0]);
  const push = formatLength(pushes[0], units);
  const even = pushes.every((one) => Math.abs(one - pushes[0]) < 1e-6);
  const text = even ? push : pushes.map((one) => formatLength(one, units)).join(", then ");
  return [
    ["Lays", `${programs.length}, one program each; between them push the wood ${text} towards -X`],
    ["", "along a straight fence and leave zero where it is; then lay a straightedge over the seam:"],
    ["", "a step means that the wood or the zero has moved"],
  ];
}

/** What was chosen for the rows, and why the edge is cut first. */
function rowsText({ setup, angleRad }: PlannedSetup): string[][] {
  const { fastest, edgeFirst } = setup.passes;
  const degrees = Number((((((angleRad * 180) / Math.PI) % 180) + 180) % 180).toFixed(1));
  return [
    ...(fastest ? [["Rows", `at ${degrees} degrees from X: the quickest of the angles tried`]] : []),
    ...(edgeFirst
      ? [["Edge", "cut first all round on each layer, so that rows break nothing out of it"]]
      : []),
  ];
}

function layersText({ layers, programs }: PlannedSetup, units: Units): string {
  const told = (kind: LayerReport["kind"]) => {
    const found = layers.filter((layer) => layer.kind === kind);
    const deepest = formatLength(Math.max(...found.map(({ depthMm }) => depthMm)), units);
    return found.length === 0
      ? []
      : [`${found.length} ${kind}, ${found.length > 1 ? "each " : ""}up to ${deepest} deep`];
  };
  const lays = programs.length > 1 ? `, in ${programs.length} lays together` : "";
  return `${[...told("rough"), ...told("finish")].join("; ")}${lays}`;
}

/** Never more than there is: 99.97 % is not 100 %. */
export function percent(share: number): string {
  return `${(Math.floor(share * 1000 + 1e-6) / 10).toFixed(1)} %`;
}

function range(least: string, greatest: string): string {
  return least === greatest ? least : `${least} to ${greatest}`;
}

/** `0:43:07`: hours, minutes and seconds. */
export function clockTime(seconds: number): string {
  const whole = Math.round(seconds);
  const two = (count: number) => String(count).padStart(2, "0");
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

/** Rows of cells as indented lines, each column as wide as its widest cell. */
export function aligned(rows: readonly (readonly string[])[]): string[] {
  const widths = rows[0].map((_, column) => Math.max(...rows.map((row) => row[column].length)));
  return rows.map((row) => `  ${row.map((cell, column) => cell.padEnd(widths[column])).join("  ")}`);
}
