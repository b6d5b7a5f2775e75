// `slabtrue check`: proves any program on the wood of a job's setup.

import { checkDocument } from "../src/document.ts";
import { InputError, PlanError } from "../src/errors.ts";
import { checkProgram } from "../src/plan.ts";
import { readBytes, readJobFile, reason } from "./files.ts";
import { Exit } from "./outcome.ts";
import { checkLines } from "./report.ts";
import { printJson, printLines } from "./terminal.ts";

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
  let program: Uint8Array;
  try {
    program = readBytes(file);
  } catch (error) {
    throw new PlanError("unreadable", "", `the program ${file} cannot be read: ${reason(error)}`);
  }
  const result = checkProgram(job, setupId, program);
  if (json) printJson(checkDocument(result, job.units));
  else printLines(checkLines(result, file, setupId));
  if (!result.ok) process.exitCode = Exit.unsafe;
}
