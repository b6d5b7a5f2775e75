// `slabtrue probe`: a program that reads a face with a touch probe, or a list of places to read by hand.

import { dirname } from "node:path";
import { InputError } from "../src/errors.ts";
import type { Job } from "../src/job/job.ts";
import { handList } from "../src/probe/by-hand.ts";
import { readingsFor } from "../src/probe/density.ts";
import { type ProbeProgram, probeProgram } from "../src/probe/program.ts";
import { scatterOf } from "../src/survey/scatter.ts";
import { pointsOf } from "../src/survey/surface.ts";
import { formatLength, formatPoint, MM_PER_INCH, parseLength, type Units, unitWord } from "../src/units.ts";
import { inputError, pathFrom, readJobFile } from "./files.ts";
import { writeOut } from "./out-file.ts";
import { printMessages, wrapped } from "./terminal.ts";

export interface ProbeOptions {
  readonly byHand?: boolean;
  readonly spacing?: string;
  readonly out?: string;
}

export function probe(jobFile: string, { byHand, spacing, out }: ProbeOptions): void {
  const job = readJobFile(jobFile);
  if (byHand) {
    const named = out === undefined ? undefined : pathFrom(dirname(jobFile), out);
    const { text, places } = handList(job, named);
    // A list that was there may hold readings by now.
    writeOut(out, text, (old) => old === Buffer.from(text).toString("latin1"));
    say([...writtenTo(out), afterList(job, places, named ?? "heights.csv"), ...densityLines(job)]);
    return;
  }
  const { probe } = job.shop;
  if (probe === null) {
    const fields = `"probe": { "radius": ..., "feed": ... }`;
    throw inputError(
      jobFile,
      `its shop has no touch probe; add ${fields} to the shop, or read the face by hand with --by-hand`,
    );
  }
  const program = probeProgram(job, probe, spacing === undefined ? null : spacingMm(spacing, job.units));
  writeOut(out, program.text, (old) => /^(?:N\d+ )?M30\s*$/m.test(old));
  say([...writtenTo(out), ...programLines(job, program), ...densityLines(job)]);
}

function writtenTo(out: string | undefined): string[] {
  return out === undefined ? [] : [`Written to ${out}.`];
}

/** What to do with a list; each piece takes from it what lies on it. */
function afterList({ setups: [{ pieces }] }: Job, places: number, file: string): string {
  const ids = pieces.map(({ id }) => `"${id}"`).join(" and ");
  const where = pieces.length === 1 ? `piece ${ids}` : `each of the pieces ${ids}`;
  return (
    `${places} places to read by hand. Fill in their heights, then name the file in the job, in ${where}: ` +
    `"upper": { "file": ${JSON.stringify(file)} }.`
  );
}

/** For these margins the advice on density is given. */
const MARGINS_MM = { mm: [0.5, 1, 2], in: [0.02 * MM_PER_INCH, 0.04 * MM_PER_INCH, 0.08 * MM_PER_INCH] };
/** Of fewer readings than this no scatter is known. */
const READINGS_MIN = 12;

function spacingMm(written: string, units: Units): number {
  const bare = written.trim();
  const mm = parseLength(/^[\d.]+$/.test(bare) ? Number(bare) : bare, units);
  if (mm !== null && mm > 0) return mm;
  const text = `found "${written}"; wanted a length above 0, as ${units === "mm" ? 150 : 6} (in ${unitWord(units)}) or "6 in"`;
  throw new InputError([{ file: "command line", place: "--spacing", line: 0, column: 0, text }]);
}

function programLines(job: Job, program: ProbeProgram): string[] {
  const { units } = job;
  const { setup, probe, places, bed, travelMm } = program;
  const { xMm, yMm } = setup.zero;
  const length = (mm: number) => formatLength(mm, units);
  const names = setup.pieces.map(({ id }) => id).join(" and ");
  const minutes = Math.ceil(program.seconds / 60);
  const lines = [
    `${places.length} touches on ${names}, at most ${length(program.spacingMm)} apart, about ${minutes} minutes. The probe travels at Z ${length(travelMm)}.`,
    `Before: X0 Y0 where the job has ${formatPoint(xMm, yMm, units)}, Z0 on top of the bed, set with the probe itself. The spindle must not turn.`,
    bed === null
      ? "Mind: beside the wood no place on the bed is free for a first touch there: check by hand that Z reads 0 on the bed."
      : `The first touch is on the bare bed at ${formatPoint(bed.x - xMm, bed.y - yMm, units)} of the program: see that nothing lies there. Then the program waits: where Z does not read 0, stop and set Z zero anew.`,
    'After: name the file that the controller records in the job: "upper": { "file": "..." }.',
  ];
  if (probe.logStart.length === 0)
    lines.push(
      `Mind: the shop's "probe" has no "logStart" lines, so nothing in the program tells the controller to record its touches.`,
    );
  if (xMm !== 0 || yMm !== 0) {
    const [dx, dy] = [xMm, yMm].map((mm) => formatLength(mm, units));
    lines.push(
      `Recorded X and Y count from the program's zero; a first line "# shift: ${dx}, ${dy}" in the file says so.`,
    );
  }
  return lines;
}

/** How many readings each piece needs, where those it has tell. */
function densityLines({ setups: [{ pieces }], units }: Job): string[] {
  return pieces.flatMap(({ id, upper }) => {
    const count = upper === null ? 0 : pointsOf(upper).length / 3;
    if (upper === null || count < READINGS_MIN) return [];
    const scatter = scatterOf(upper);
    const needed = MARGINS_MM[units].map((marginMm) => {
      const readings = readingsFor(marginMm, count, scatter);
      const many =
        readings === null
          ? "none are enough, they scatter too much"
          : readings <= count
            ? "those there are"
            : `about ${readings}`;
      return `${formatLength(marginMm, units)}: ${many}`;
    });
    return [
      `Readings that ${id} needs for a margin of so much, as its present ${count} agree: ${needed.join("; ")}.`,
    ];
  });
}

function say(sentences: readonly string[]): void {
  printMessages(sentences.flatMap((sentence) => wrapped("", sentence)));
}
