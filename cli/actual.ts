// `slabtrue actual`: records what a setup really took, and says how the machine keeps to its plans.

import { statSync } from "node:fs";
import { dirname, isAbsolute, join } from "node:path";
import { PLAN_FORMAT } from "../src/document.ts";
import { InputError } from "../src/errors.ts";
import { type Actual, isOdd, type MachineRatio, machineRatio } from "../src/quote/actuals.ts";
import { actualsBeside, addActual, readActualsFile } from "./actuals-file.ts";
import { inputError, readText, reason } from "./files.ts";
import { PLAN_FILE } from "./plan-folder.ts";
import { aligned, clockTime } from "./report.ts";
import { printJson, printLines, printMessages, wrapped } from "./terminal.ts";

export interface ActualOptions {
  readonly setup?: string;
  readonly minutes?: string;
  readonly shop?: string;
  readonly list?: boolean;
  readonly json?: boolean;
}

export function actual(plan: string | undefined, options: ActualOptions): void {
  if (options.list) list(plan, options);
  else record(plan, options);
}

function record(path: string | undefined, { setup: setupId, minutes, shop, json }: ActualOptions): void {
  if (path === undefined) throw wrongOption("PLAN", "missing; wanted the plan's folder, or --list");
  if (setupId === undefined) throw wrongOption("--setup", "missing; wanted the id of the setup that was cut");
  const actualMinutes = minutesOf(minutes);
  const plan = readPlan(path);
  const setup = plan.setups.find(({ id }) => id === setupId);
  if (setup === undefined) {
    const ids = plan.setups.map(({ id }) => `"${id}"`).join(", ");
    throw wrongOption("--setup", `found "${setupId}"; the setups of ${path} are ${ids}`);
  }
  const run: Actual = {
    date: today(),
    job: plan.job,
    setup: setup.id,
    cutter: setup.cutter,
    plannedMinutes: setup.seconds.total / 60,
    actualMinutes,
  };
  const file = actualsBeside(shop ?? shopOfPlan(plan, path));
  addActual(file, run);
  const { runs, notes } = readActualsFile(file) ?? { runs: [], notes: [] };
  const ratio = machineRatio(runs);
  printMessages(notes.map((note) => `${file}: ${note}`));
  if (isOdd(run)) printMessages(oddLines(run, file));
  if (json) printJson({ file, run: runDocument(run), ratio: ratioDocument(ratio) });
  else
    printLines([
      `Recorded in ${file}: setup ${run.setup} took ${clockTime(60 * actualMinutes)}, planned ${clockTime(60 * run.plannedMinutes)}.`,
      ...ratioLines(ratio),
    ]);
}

function oddLines({ plannedMinutes, actualMinutes }: Actual, file: string): string[] {
  return wrapped(
    "Mind: ",
    `that is ${(actualMinutes / plannedMinutes).toFixed(2)} times the plan. Is the number in minutes, of the whole setup, without breaks? ` +
      `If not, put it right in ${file}; alone it does not count for later quotes.`,
  );
}

function list(path: string | undefined, { shop, json }: ActualOptions): void {
  const file = actualsBeside(shop ?? (path === undefined ? "shop.json" : shopOfPlan(readPlan(path), path)));
  const found = readActualsFile(file);
  if (found === null) {
    const where = shop === undefined && path === undefined ? "; name the shop file with --shop" : "";
    throw inputError(file, `there is no such file: no run has been recorded yet${where}`);
  }
  const { runs, notes } = found;
  const ratio = machineRatio(runs);
  printMessages(notes.map((note) => `${file}: ${note}`));
  if (json) printJson({ file, runs: runs.map(runDocument), ratio: ratioDocument(ratio) });
  else
    printLines([
      ...aligned([
        ["Day", "Job", "Setup", "Cutter", "Planned", "Took", "Ratio"],
        ...runs.map((run) => [
          run.date,
          ...[run.job, run.setup, run.cutter],
          ...[run.plannedMinutes, run.actualMinutes].map((minutes) => clockTime(60 * minutes)),
          (run.actualMinutes / run.plannedMinutes).toFixed(2),
        ]),
      ]),
      "",
      ...ratioLines(ratio),
    ]);
}

/** How the machine has kept to its plans so far, for people. */
export function ratioLines(ratio: MachineRatio): string[] {
  const { leftOut } = ratio;
  const odd =
    leftOut === 0
      ? []
      : [
          `${leftOut === 1 ? "1 recorded run is more than three times off the plan and does" : `${leftOut} recorded runs are more than three times off the plan and do`} not count.`,
        ];
  if (ratio.runs === 0) return odd;
  return [
    `${ratioSentence(ratio)}.`,
    ...odd,
    `To reckon with: ${ratio.expected.toFixed(2)} times the planned time, give or take ${ratio.expectedSpread.toFixed(2)}${ratio.runs < 10 ? " (few runs yet, so it is drawn towards 1)" : ""}.`,
  ];
}

/** `Your machine has taken 1.12 times the planned time (give or take 0.05), the middle of 7 runs of 3 jobs since 2026-03-09; long runs count more`. */
function ratioSentence({ median, spread, runs, jobs, since }: MachineRatio): string {
  const count = (number: number, noun: string) => `${number} ${noun}${number === 1 ? "" : "s"}`;
  return (
    `Your machine has taken ${median.toFixed(2)} times the planned time` +
    `${runs > 2 ? ` (give or take ${spread.toFixed(2)})` : ""}${runs === 1 ? " in" : ", the middle of"} ` +
    `${count(runs, "run")} of ${count(jobs, "job")}${since === "" ? "" : ` since ${since}`}` +
    `${runs === 1 ? "" : "; long runs count more"}`
  );
}

function runDocument({ date, job, setup, cutter, plannedMinutes, actualMinutes }: Actual): object {
  const minutes = (value: number) => Number(value.toFixed(2));
  return { date, job, setup, cutter, planned: minutes(plannedMinutes), actual: minutes(actualMinutes) };
}

function ratioDocument({
  runs,
  leftOut,
  jobs,
  since,
  median,
  spread,
  expected,
  expectedSpread,
}: MachineRatio): object {
  const ratio = (value: number) => Number(value.toFixed(4));
  return {
    ...{ runs, leftOut, jobs, since: since === "" ? null : since },
    ...{ median: ratio(median), spread: ratio(spread) },
    ...{ expected: ratio(expected), expectedSpread: ratio(expectedSpread) },
  };
}

const MINUTES_MAX = 100_000;

function minutesOf(written: string | undefined): number {
  const wanted =
    "the minutes that the setup took at the machine, more than 0, as 83 or 83.5, or h:mm:ss as 1:23:30";
  if (written === undefined) throw wrongOption("--minutes", `missing; wanted ${wanted}`);
  const minutes =
    clockMinutes(written) ??
    Number(/^\s*\d+([.,]\d+)?\s*$/.test(written) ? written.replace(",", ".") : Number.NaN);
  // Two decimals are kept.
  if (minutes >= 0.01 && minutes <= MINUTES_MAX) return minutes;
  throw wrongOption("--minutes", `found "${written}"; wanted ${wanted}`);
}

/** Minutes of `h:mm:ss` or `mm:ss`; null of anything else. */
function clockMinutes(written: string): number | null {
  const clock = /^\s*(?:(\d{1,4}):)?(\d{1,4}):([0-5]\d)\s*$/.exec(written);
  if (clock === null) return null;
  const [, hours, minutes, seconds] = clock;
  if (hours !== undefined && (minutes.length > 2 || Number(minutes) > 59)) return null;
  return 60 * Number(hours ?? 0) + Number(minutes) + Number(seconds) / 60;
}

interface PlanFile {
  readonly job: string;
  readonly shop: string | null;
  readonly setups: readonly { id: string; cutter: string; seconds: { total: number } }[];
}

/** What a plan's folder, or its plan.json, says. */
function readPlan(path: string): PlanFile {
  const file = planFileOf(path);
  let text: string;
  try {
    text = readText(file);
  } catch (error) {
    throw inputError(path, `cannot be read as a plan: ${reason(error)}`);
  }
  let plan: Partial<PlanFile> & { format?: unknown };
  try {
    plan = JSON.parse(text);
  } catch {
    throw inputError(file, "is no JSON; wanted the plan.json that `slabtrue plan` wrote");
  }
  if (plan?.format !== PLAN_FORMAT || typeof plan.job !== "string" || !Array.isArray(plan.setups))
    throw inputError(file, `is not a plan; wanted the plan.json that \`slabtrue plan\` wrote`);
  return { job: plan.job, shop: typeof plan.shop === "string" ? plan.shop : null, setups: plan.setups };
}

function planFileOf(path: string): string {
  return statSync(path, { throwIfNoEntry: false })?.isDirectory() ? join(path, PLAN_FILE) : path;
}

function shopOfPlan({ shop }: PlanFile, path: string): string {
  const file = planFileOf(path);
  if (shop === null) throw inputError(file, "does not say its shop file; name it with --shop");
  const found = isAbsolute(shop) ? shop : join(dirname(file), shop);
  if (statSync(found, { throwIfNoEntry: false }) === undefined)
    throw inputError(
      file,
      `says that its shop file is ${found}, and there is no such file; name it with --shop`,
    );
  return found;
}

/** The day on the wall of the shop. */
function today(): string {
  const now = new Date();
  const two = (count: number) => String(count).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

function wrongOption(place: string, text: string): InputError {
  return new InputError([{ file: "command line", place, line: 0, column: 0, text }]);
}
