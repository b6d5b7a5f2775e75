// `slabtrue resume`: the rest of a program that was broken off, proven on the wood as it stands.

import { realpathSync } from "node:fs";
import { basename } from "node:path";
import { InputError, PlanError } from "../src/errors.ts";
import { proofTask } from "../src/plan.ts";
import { type Resumed, type RowAgain, resumeProgram, touchOff } from "../src/resume.ts";
import { formatLength, formatPoint, type Units } from "../src/units.ts";
import { headOf, layNumber, otherLay, seatsFor } from "./check.ts";
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
  const task = proofTask(job, setupId, layNumber(lay), seatsFor(job, seat));
  const request = {
    ...{ text, name: basename(file), afterLine, replaceCutter, jobName: job.name, style: program },
    tool: cutters.findIndex(({ id }) => id === setup.cutter.id) + 1,
  };
  const resumed = hinting(otherLay(headOf(text), setup, lay, seat), () => resumeProgram(task, request));
  // A rest that was written before may be replaced, and nothing else.
  writeOut(out, resumed.text, (old) => /^(?:N\d+ )?\(.*\n?.*the rest of /.test(old));
  printMessages([
    ...(out === undefined ? [] : [`Written to ${out}.`]),
    ...messages(resumed, file, replaceCutter, task.zeroMm.z, job.units),
  ]);
}

function messages(
  { fromLine, linesBefore, rowAgain, seconds }: Resumed,
  file: string,
  replaceCutter: boolean,
  zeroMm: number,
  units: Units,
): string[] {
  const from =
    fromLine === 0
      ? `It is the whole of ${file}, from its start.`
      : `It goes on with line ${fromLine} of ${file}.`;
  const place = ({ x, y }: RowAgain["from"]) => formatPoint(x, y, units);
  const again =
    rowAgain === null
      ? ""
      : ` With the new cutter the last whole row is cut again from its start: from ${place(rowAgain.from)} to ${place(rowAgain.to)} of the program, line${rowAgain.lastLine > fromLine ? `s ${fromLine} to ${rowAgain.lastLine}` : ` ${fromLine}`}.`;
  const more = `Should it break off too, resume ${file} again, not the rest`;
  const lines =
    linesBefore === null ? "" : `: line ${fromLine - linesBefore} here is line ${fromLine} there, and so on`;
  return [
    ...wrapped(
      "",
      `${from}${again} Proven on the wood as it then stands. Machine time ${clockTime(seconds.total)}.`,
    ),
    ...(fromLine === 0 ? [] : wrapped("", `${more}${lines}.`)),
    ...(replaceCutter
      ? wrapped(
          "",
          `It stops first. Set Z zero anew with the new cutter: ${touchOff(zeroMm, units)}. Then let it go on.`,
        )
      : []),
    ...wrapped(
      "Mind: ",
      `the wood must lie as it lay, and X, Y and Z zero be the same${zeroMm === 0 ? "" : `: touched off on the bed, Z reads ${formatLength(-zeroMm, units)}`}. Look whether the cutter is whole before you start it.`,
    ),
  ];
}

/** What may have been left out of the command line is told where the program turns out not to be safe. */
function hinting<T>(notes: readonly string[], act: () => T): T {
  try {
    return act();
  } catch (error) {
    if (error instanceof PlanError && error.code !== "nothing-left")
      printMessages(notes.flatMap((note) => wrapped("Mind: ", note)));
    throw error;
  }
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
