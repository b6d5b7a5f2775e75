// `slabtrue check`: proves any program on the wood of a job's setup.

import { checkDocument } from "../src/document.ts";
import { InputError } from "../src/errors.ts";
import type { Job } from "../src/job/job.ts";
import { type CheckResult, checkProgram } from "../src/plan.ts";
import { openProgram, readJobFile } from "./files.ts";
import { Exit } from "./outcome.ts";
import { checkLines } from "./report.ts";
import { Progress, printJson, printLines } from "./terminal.ts";

export interface CheckOptions {
  readonly job: string;
  readonly setup: string;
  /** Which lay of a setup that is cut in several, from 1. */
  readonly lay?: string;
  readonly json?: boolean;
}

export function check(file: string, { job: jobFile, setup: setupId, lay, json }: CheckOptions): void {
  const job = readJobFile(jobFile);
  if (!job.setups.some(({ id }) => id === setupId)) {
    const ids = job.setups.map(({ id }) => `"${id}"`).join(", ");
    const text = `found "${setupId}"; the setups of ${jobFile} are ${ids}`;
    throw new InputError([{ file: "command line", place: "--setup", line: 0, column: 0, text }]);
  }
  const result = checked(job, setupId, file, layNumber(lay));
  if (json) printJson(checkDocument(result, job.units));
  else printLines(checkLines(result, file, setupId));
  if (!result.ok) process.exitCode = Exit.unsafe;
}

/** The lay that an option names. Throws InputError. */
export function layNumber(written = "1"): number {
  const lay = Number(written);
  if (Number.isInteger(lay) && lay >= 1) return lay;
  const text = `found "${written}"; wanted the number of a lay: 1, 2, ...`;
  throw new InputError([{ file: "command line", place: "--lay", line: 0, column: 0, text }]);
}

function checked(job: Job, setupId: string, file: string, lay: number): CheckResult {
  const progress = new Progress(`${file}: checked`);
  try {
    return checkProgram(
      job,
      setupId,
      openProgram(file, (done, size) => progress.tell(done, size)),
      lay,
    );
  } finally {
    progress.end();
  }
}
