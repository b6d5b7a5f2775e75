// `slabtrue check`: proves any program on the wood of a job's setup.

import { checkDocument } from "../src/document.ts";
import { InputError } from "../src/errors.ts";
import type { Job, Setup } from "../src/job/job.ts";
import { type CheckResult, checkProgram, type Seats } from "../src/plan.ts";
import { bestSeats } from "../src/survey.ts";
import { openProgram, readJobFile } from "./files.ts";
import { Exit } from "./outcome.ts";
import { checkLines } from "./report.ts";
import { Progress, printJson, printLines, wrapped } from "./terminal.ts";

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
  const setup = job.setups.find(({ id }) => id === setupId);
  if (setup === undefined) {
    const ids = job.setups.map(({ id }) => `"${id}"`).join(", ");
    const text = `found "${setupId}"; the setups of ${jobFile} are ${ids}`;
    throw new InputError([{ file: "command line", place: "--setup", line: 0, column: 0, text }]);
  }
  const { result, head } = checked(job, setupId, file, layNumber(lay), seatsFor(job, seat));
  const notes = result.ok ? [] : otherWood(head, setup, lay, seat);
  if (json) printJson({ ...checkDocument(result, job.units), notes });
  else
    printLines([...notes.flatMap((note) => wrapped("Mind: ", note)), ...checkLines(result, file, setupId)]);
  if (!result.ok) process.exitCode = Exit.unsafe;
}

/** What the findings may come from when nothing is wrong with the program: it is meant for the wood as it lies otherwise. */
function otherWood(head: string, setup: Setup, lay: string | undefined, seat: string | undefined): string[] {
  const rest = /the rest of (.+) after its line (\d+)/.exec(head);
  const notes = otherLay(head, setup, lay, seat);
  if (rest !== null)
    notes.unshift(
      `by its first lines this is the rest of ${rest[1]} after line ${rest[2]}, for wood that the lines before have cut. ` +
        "Here it was run on the wood as the setup finds it, so the findings say little; slabtrue resume, which made it, proved it " +
        "on the wood as it then stands. To be sure, make it again and compare.",
    );
  return notes;
}

/** What may have been left out of the command line: which lay, and the shims. */
export function otherLay(
  head: string,
  { id, reindexMm }: Setup,
  lay: string | undefined,
  seat: string | undefined,
): string[] {
  const notes: string[] = [];
  if (reindexMm !== null)
    notes.push(
      `setup ${id} may be cut in several lays, and this was run as lay ${lay ?? "1"}. If it is another's, say which with --lay.`,
    );
  if (seat === undefined && /\(shim: /.test(head))
    notes.push("by its first lines it is meant for the piece on shims: ask again with --seat best.");
  return notes;
}

/** The first lines of a program, as far as they are looked at for what they say of it. */
export function headOf(text: Uint8Array): string {
  return new TextDecoder("latin1").decode(text.subarray(0, HEAD_BYTES));
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

/** How much of a program is looked at for what its header says. */
const HEAD_BYTES = 4000;

function checked(
  job: Job,
  setupId: string,
  file: string,
  lay: number,
  seats: Seats,
): { result: CheckResult; head: string } {
  const progress = new Progress(`${file}: checked`);
  let head = "";
  function* withHead(pieces: Iterable<Uint8Array>) {
    for (const piece of pieces) {
      if (head === "") head = headOf(piece);
      yield piece;
    }
  }
  try {
    const pieces = openProgram(file, (done, size) => progress.tell(done, size));
    const result = checkProgram(job, setupId, withHead(pieces), lay, seats);
    return { result, head };
  } finally {
    progress.end();
  }
}
