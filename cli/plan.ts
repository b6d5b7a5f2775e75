// `slabtrue plan`: plans and proves a whole job, then writes the plan folder.

import { basename, dirname, extname, join } from "node:path";
import { planDocument } from "../src/document.ts";
import { describeIssue, InputError } from "../src/errors.ts";
import type { Job } from "../src/job/job.ts";
import { planJob, type Seats } from "../src/plan.ts";
import { sheetHtml } from "../src/sheet/sheet.ts";
import { bestSeats, isMeasured } from "../src/survey.ts";
import { ratioLines } from "./actual.ts";
import { ratioBeside } from "./actuals-file.ts";
import { pathFrom, readJobTexts } from "./files.ts";
import { PREVIEW_FILE, previewPage } from "./page.ts";
import { checkPlanFolder, fingerprints, PLAN_FILE, SHEET_FILE, writePlanFolder } from "./plan-folder.ts";
import { clockTime, planLines } from "./report.ts";
import { jsonText, Progress, printJson, printLines, printMessages } from "./terminal.ts";

export interface PlanOptions {
  readonly out?: string;
  readonly force?: boolean;
  /** "best": on the shims that the survey finds. */
  readonly seat?: string;
  readonly json?: boolean;
}

export function plan(jobFile: string, { out, force = false, seat, json }: PlanOptions): void {
  const folder = out ?? join(dirname(jobFile), `${basename(jobFile, extname(jobFile))}-plan`);
  const texts = readJobTexts(jobFile);
  const { job } = texts;
  // Asked before the long work; asked again when it comes to writing.
  checkPlanFolder(folder, force);
  const seats: Seats = seat === "best" ? bestSeats(job) : new Map();
  if (seat === "best") printMessages(unseatedLines(job, seats));
  const progress = new Progress("planning");
  const planned = planJob(job, seats, ({ id }, index) =>
    progress.say(() => `setup ${id}, ${index + 1} of ${job.setups.length}`),
  );
  progress.end();
  const files = new Map<string, Uint8Array | string>();
  for (const { file, text } of planned.setups.flatMap(({ programs }) => programs)) files.set(file, text);
  files.set(SHEET_FILE, sheetHtml(planned));
  files.set(PREVIEW_FILE, previewPage(planned, texts));
  const document = {
    ...planDocument(planned),
    shop: pathFrom(folder, job.shopFile),
    files: fingerprints(files),
  };
  files.set(PLAN_FILE, jsonText(document));
  writePlanFolder(folder, files, force);
  if (json) printJson(document);
  else printLines(planLines(planned, folder, experienceOf(job.shopFile, planned.seconds.machine)));
}

/** Which pieces are planned as they lie although a better lay was asked for, and why. */
function unseatedLines({ pieces, setups }: Job, seats: Seats): string[] {
  const cut = (id: string) => setups.some((setup) => setup.pieces.some((piece) => piece.id === id));
  return pieces
    .filter(({ id, madeOf }) => !seats.has(id) && madeOf.length === 0 && cut(id))
    .map((piece) => {
      const why = isMeasured(piece)
        ? "it is turned over before its first cut, and shims would lie under the other face"
        : "it was not measured";
      return `piece ${piece.id} is planned without shims: ${why}`;
    });
}

/** What earlier runs say of the machine time; that they cannot be read is no reason not to plan. */
function experienceOf(shopFile: string, machineSeconds: number): string[] {
  try {
    const ratio = ratioBeside(shopFile);
    if (ratio.runs === 0) return [];
    return [
      ...ratioLines(ratio),
      `By that the machine time will be about ${clockTime(ratio.expected * machineSeconds)}.`,
    ];
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    printMessages(error.issues.map(describeIssue));
    return [];
  }
}
