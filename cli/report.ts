// What a plan or a check found, as lines for a maker to read.

import type { CheckResult, LayerReport, Plan, PlannedSetup } from "../src/plan.ts";
import { formatLength, formatPoint, type Units } from "../src/units.ts";
import { PLAN_FILE } from "./plan-folder.ts";
import { wrapped } from "./terminal.ts";

/** What each setup does, where the files lie, and what to mind. */
export function planLines(plan: Plan, folder: string): string[] {
  const { job, setups, seconds, cautions } = plan;
  const programs = setups.flatMap(({ setup, programs }) =>
    programs.map(({ file, seconds }) => [file, `program of setup ${setup.id}, ${clockTime(seconds)}`]),
  );
  return [
    job.name,
    ...setups.flatMap((planned) => ["", ...setupLines(planned, job.units)]),
    "",
    `Machine time in all ${clockTime(seconds.machine)}${seconds.shop > seconds.machine ? `; with loading and setting zero ${clockTime(seconds.shop)}` : ""}.`,
    "Every program was read back and run on the measured wood: nothing found wrong.",
    `Written to ${folder}:`,
    ...aligned([...programs, [PLAN_FILE, "all figures, for other programs to read"]]),
    "",
    "Before you cut",
    ...cautions.flatMap((caution) => wrapped("- ", caution)),
  ];
}

/** After these nobody reads on; with `--json` all are told. */
const FINDINGS_TOLD = 20;

/** What is wrong with a program, or that nothing is. */
export function checkLines(result: CheckResult, file: string, setupId: string): string[] {
  const { findings, seconds } = result;
  if (result.ok)
    return [
      `${file}: nothing found wrong on the wood of setup ${setupId}. Machine time ${clockTime(seconds.total)}.`,
      ...wrapped("", "A simulation cannot see hold-down, a worn insert or lost steps."),
    ];
  return [
    ...findings
      .slice(0, FINDINGS_TOLD)
      .flatMap(({ code, line, text }) =>
        wrapped(`${line > 0 ? `line ${line}` : "whole program"}: `, `${text} [${code}]`),
      ),
    ...(findings.length > FINDINGS_TOLD ? [`and ${findings.length - FINDINGS_TOLD} more`] : []),
    `${file}: ${findings.length === 1 ? "1 finding" : `${findings.length} findings`}. Do not run it.`,
  ];
}

function setupLines(planned: PlannedSetup, units: Units): string[] {
  const { setup, pieces, warnings, floorMm, removedLitres, removedMostMm, seconds } = planned;
  const length = (mm: number) => formatLength(mm, units);
  const litres = removedLitres.wood + removedLitres.resin;
  return [
    `Setup ${setup.id}: ${setup.face} face up, cutter ${setup.cutter.id}`,
    ...aligned([
      ["Zero", zeroText(planned, units)],
      ["Floor", `${length(floorMm)} above the bed`],
      ["Margin", `${length(planned.marginMm)}: the wood may stand this far above its readings`],
      ["Layers", layersText(planned.layers, units)],
      ["Comes off", `${litres.toFixed(1)} litres, ${length(removedMostMm)} at the highest place`],
      ["Machine time", `${clockTime(seconds.total)}, of it ${clockTime(seconds.cutting)} in the wood`],
    ]),
    "",
    ...aligned([
      ["Piece", "Clean-up", "Thickness left"],
      ...pieces.map(({ id, cleanUp, thinnestMm, thickestMm }) => [
        id,
        percent(cleanUp),
        range(length(thinnestMm), length(thickestMm)),
      ]),
    ]),
    ...(warnings.length > 0 ? [""] : []),
    ...warnings.flatMap(({ text }) => wrapped("  Mind: ", text)),
  ];
}

function zeroText({ setup, zeroMm }: PlannedSetup, units: Units): string {
  const height =
    setup.zero.z === "bed"
      ? "on top of the bed"
      : `on the highest place of the wood, ${formatLength(zeroMm.z, units)} above the bed`;
  return `X0 Y0 where the job has ${formatPoint(zeroMm.x, zeroMm.y, units)}; Z0 ${height}`;
}

function layersText(layers: readonly LayerReport[], units: Units): string {
  const told = (kind: LayerReport["kind"]) => {
    const found = layers.filter((layer) => layer.kind === kind);
    const deepest = formatLength(Math.max(...found.map(({ depthMm }) => depthMm)), units);
    return found.length === 0
      ? []
      : [`${found.length} ${kind}, ${found.length > 1 ? "each " : ""}up to ${deepest} deep`];
  };
  return [...told("rough"), ...told("finish")].join("; ");
}

/** Never more than there is: 99.97 % is not 100 %. */
function percent(share: number): string {
  return `${(Math.floor(share * 1000 + 1e-6) / 10).toFixed(1)} %`;
}

function range(least: string, greatest: string): string {
  return least === greatest ? least : `${least} to ${greatest}`;
}

/** `0:43:07`: hours, minutes and seconds. */
function clockTime(seconds: number): string {
  const whole = Math.round(seconds);
  const two = (count: number) => String(count).padStart(2, "0");
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

/** Rows of cells as indented lines, each column as wide as its widest cell. */
function aligned(rows: readonly (readonly string[])[]): string[] {
  const widths = rows[0].map((_, column) => Math.max(...rows.map((row) => row[column].length)));
  return rows.map((row) => `  ${row.map((cell, column) => cell.padEnd(widths[column])).join("  ")}`);
}
