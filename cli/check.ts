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
  readonly json?: boolean;
}

export function check(file: string, { job: jobFile, setup: setupId, json }: CheckOptions): void {
  const job = readJobFile(jobFile);
  if (!job.setups.some(({ id }) => id === setupId)) {
    const ids = job.setups.map(({ id }) => `"${id}"`).join(", ");
    const text = `found "${setupId}"; the setups of ${jobFile} are ${ids}`;
    throw new InputError([{ file: "command line", place: "--setup", line: 0, column: 0, text }]);
  }
  const result = checked(job, setupId, file);
  if (json) printJson(checkDocument(result, job.units));
  else printLines(checkLines(result, file, setupId));
  if (!result.ok) process.exitCode = Exit.unsafe;
}

function checked(job: Job, setupId: string, file: string): CheckResult {
  const progress = new Progress(`${file}: checked`);
  try {
    return checkProgram(
      job,
      setupId,
      openProgram(file, (done, size) => progress.tell(done, size)),
    );
  } finally {
    progress.end();
  }
}
