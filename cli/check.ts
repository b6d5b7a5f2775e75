// `slabtrue check`: proves any program on the wood of a job's setup.

import { checkDocument } from "../src/document.ts";
import { InputError } from "../src/errors.ts";
import type { Job } from "../src/job/job.ts";
import { type CheckResult, checkProgram, type Seats } from "../src/plan.ts";
import { bestSeats } from "../src/survey.ts";
import { openProgram, readJobFile } from "./files.ts";
import { Exit } from "./outcome.ts";
import { checkLines } from "./report.ts";
import { Progress, printJson, printLines } from "./terminal.ts";

export interface CheckOptions {
  readonly job: string;
  readonly setup: string;
  /** Which lay of a setup that is cut in several, from 1. */
  readonly lay?: string;
  /** "best": on the shims that the plan was made for. */
  readonly seat?: string;
  readonly json?: boolean;
}

export function check(file: string, { job: jobFile, setup: setupId, lay, seat, json }: CheckOptions): void {
  const job = readJobFile(jobFile);
  if (!job.setups.some(({ id }) => id === setupId)) {
    const ids = job.setups.map(({ id }) => `"${id}"`).join(", ");
    const text = `found "${setupId}"; the setups of ${jobFile} are ${ids}`;
    throw new InputError([{ file: "command line", place: "--setup", line: 0, column: 0, text }]);
  }
  const result = checked(job, setupId, file, layNumber(lay), seatsFor(job, seat));
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

/** The lay that `--seat` names. */
export function seatsFor(job: Job, seat: string | undefined): Seats {
  return seat === "best" ? bestSeats(job) : new Map();
}

function checked(job: Job, setupId: string, file: string, lay: number, seats: Seats): CheckResult {
  const progress = new Progress(`${file}: checked`);
  try {
    return checkProgram(
      job,
      setupId,
      openProgram(file, (done, size) => progress.tell(done, size)),
      lay,
      seats,
    );
  } finally {
    progress.end();
  }
}
