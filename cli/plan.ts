// `slabtrue plan`: plans and proves a whole job, then writes the plan folder.

import { basename, dirname, extname, join } from "node:path";
import type { Command } from "commander";
import { planDocument } from "../src/document.ts";
import { planJob } from "../src/plan.ts";
import { readJobFile } from "./files.ts";
import { checkPlanFolder, PLAN_FILE, writePlanFolder } from "./plan-folder.ts";
import { planLines } from "./report.ts";
import { jsonText, printJson, printLines } from "./terminal.ts";

interface Options {
  readonly out?: string;
  readonly force?: boolean;
  readonly json?: boolean;
}

export function addPlan(program: Command): void {
  program
    .command("plan")
    .description("Plans a job: writes its programs, proven and timed, and a plan.json into a folder.")
    .argument("<job>", "the job file")
    .option("--out <folder>", "where to write (default: beside the job file, <its name>-plan)")
    .option("--force", "write into a folder that holds other things too; they stay")
    .option("--json", "say the plan as one JSON document")
    .addHelpText("after", "\nExample:\n  slabtrue plan samples/cupped-slab/job.json --out out/cupped-slab")
    .action(plan);
}

function plan(jobFile: string, { out, force = false, json }: Options): void {
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
