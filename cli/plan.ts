// `slabtrue plan`: plans and proves a whole job, then writes the plan folder.

import { basename, dirname, extname, join } from "node:path";
import { planDocument } from "../src/document.ts";
import { planJob } from "../src/plan.ts";
import { readJobFile } from "./files.ts";
import { checkPlanFolder, PLAN_FILE, writePlanFolder } from "./plan-folder.ts";
import { planLines } from "./report.ts";
import { jsonText, printJson, printLines } from "./terminal.ts";

export interface PlanOptions {
  readonly out?: string;
  readonly force?: boolean;
  readonly json?: boolean;
}

export function plan(jobFile: string, { out, force = false, json }: PlanOptions): void {
  const folder = out ?? join(dirname(jobFile), `${basename(jobFile, extname(jobFile))}-plan`);
  const job = readJobFile(jobFile);
  // Asked before the long work; asked again when it comes to writing.
  checkPlanFolder(folder, force);
  const planned = planJob(job);
  const document = planDocument(planned);
  const files = new Map<string, Uint8Array | string>();
  for (const { file, text } of planned.setups.flatMap(({ programs }) => programs)) files.set(file, text);
  files.set(PLAN_FILE, jsonText(document));
  writePlanFolder(folder, files, force);
  if (json) printJson(document);
  else printLines(planLines(planned, folder));
}
