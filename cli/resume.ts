// `slabtrue resume`: the rest of a program that was broken off, proven on the wood as it stands.

import { realpathSync } from "node:fs";
import { basename } from "node:path";
import { InputError, PlanError } from "../src/errors.ts";
import { proofTask } from "../src/plan.ts";
import { type Resumed, resumeProgram } from "../src/resume.ts";
import { layNumber, seatsFor } from "./check.ts";
import { readBytes, readJobFile, reason } from "./files.ts";
import { writeOut } from "./out-file.ts";
import { clockTime } from "./report.ts";
import { printMessages, wrapped } from "./terminal.ts";

export interface ResumeOptions {
  readonly job: string;
  readonly setup: string;
  readonly afterLine: string;
  readonly replaceCutter?: boolean;
  /** Which lay of a setup that is cut in several, from 1. */
  readonly lay?: string;
  /** "best": on the shims that the plan was made for. */
  readonly seat?: string;
  readonly out?: string;
}

export function resume(file: string, options: ResumeOptions): void {
  const { job: jobFile, setup: setupId, replaceCutter = false, lay, seat, out } = options;
  const job = readJobFile(jobFile);
  const setup = job.setups.find(({ id }) => id === setupId);
  if (setup === undefined) {
    const ids = job.setups.map(({ id }) => `"${id}"`).join(", ");
    throw wrongOption("--setup", `found "${setupId}"; the setups of ${jobFile} are ${ids}`);
  }
  if (out !== undefined && isSame(out, file))
    throw wrongOption("--out", `found ${out}, the program itself; name another file`);
  const text = programText(file);
  const afterLine = lineIn(text, file, options.afterLine);
  const { program, cutters } = job.shop;
  const resumed = resumeProgram(proofTask(job, setupId, layNumber(lay), seatsFor(job, seat)), {
    ...{ text, name: basename(file), afterLine, replaceCutter, jobName: job.name, style: program },
    tool: cutters.findIndex(({ id }) => id === setup.cutter.id) + 1,
  });
  // A rest that was written before may be replaced, and nothing else.
  writeOut(out, resumed.text, (old) => /^(?:N\d+ )?\(.*\n?.*the rest of /.test(old));
  printMessages(messages(resumed, file, afterLine, replaceCutter));
}

function messages(
  { fromLine, linesBefore, seconds }: Resumed,
  file: string,
  afterLine: number,
  replaceCutter: boolean,
): string[] {
  const from =
    fromLine === 0
      ? `Nothing was cut by line ${afterLine}: it is the whole of ${file}.`
      : `It goes on with line ${fromLine} of ${file}.`;
  const again = `Should it break off too, resume ${file} again, not the rest`;
  const lines =
    linesBefore === null ? "" : `: line ${fromLine - linesBefore} here is line ${fromLine} there, and so on`;
  return [
    ...wrapped("", `${from} Proven on the wood as it then stands. Machine time ${clockTime(seconds.total)}.`),
    ...(fromLine === 0 ? [] : wrapped("", `${again}${lines}.`)),
    ...(replaceCutter
      ? wrapped("", "It stops first: set Z zero anew with the new cutter, then let it go on.")
      : []),
    ...wrapped(
      "Mind: ",
      "the wood must lie as it lay, and X, Y and Z zero be the same. Look whether the cutter is whole before you start it.",
    ),
  ];
}

function programText(file: string): Uint8Array {
  try {
    return readBytes(file);
  } catch (error) {
    throw new PlanError("unreadable", "", `the program ${file} cannot be read: ${reason(error)}`);
  }
}

const LF = 0x0a;
const CR = 0x0d;

/** The number of a line of the program, or 0: none was carried out. */
function lineIn(text: Uint8Array, file: string, written: string): number {
  const isEnd = (k: number) => text[k] === LF || (text[k] === CR && text[k + 1] !== LF);
  let lines = text.length > 0 && !isEnd(text.length - 1) ? 1 : 0;
  for (let k = 0; k < text.length; k++) if (isEnd(k)) lines++;
  const line = /^\d{1,9}$/.test(written) ? Number(written) : Number.NaN;
  if (line <= lines) return line;
  throw wrongOption(
    "--after-line",
    `found ${written}; wanted the number of the last line that was carried out: ${file} has ${lines} lines`,
  );
}

function isSame(a: string, b: string): boolean {
  try {
    return realpathSync(a) === realpathSync(b);
  } catch {
    return false;
  }
}

function wrongOption(place: string, text: string): InputError {
  return new InputError([{ file: "command line", place, line: 0, column: 0, text }]);
}
