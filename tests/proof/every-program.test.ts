// Every program of every sample, of all its setups, broken in ways that harm whatever the program does, so that no
// judge is needed (the judge of broken.test.ts knows upper faces of single setups only): each is found, each time.
// A sixth of the faults for each program, other ones for the next; FAULTS=2000, as in the long run, takes all.

import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readJob } from "../../src/job/read.ts";
import { planJob, proofTask } from "../../src/plan.ts";
import { checkPieces } from "../../src/proof/check.ts";

const SAMPLES = join(import.meta.dirname, "../../samples");
const names = readdirSync(SAMPLES).filter((name) => !["shops", "schemas"].includes(name));

const ALL = Number(process.env.FAULTS ?? 0) >= 1000;

/** Millimetres in the program's unit. */
type Mm = (mm: number) => number;
type Break = (program: string, mm: Mm) => string;

const words = (letters: string, change: (value: number) => number): ((program: string) => string) => {
  const word = new RegExp(`([${letters}])(-?[\\d.]+)`, "g");
  return (program) =>
    program.replace(/^[^(\n]*$/gm, (line) =>
      line.replace(word, (_, letter, value) => `${letter}${change(Number(value)).toFixed(5)}`),
    );
};

const HARMFUL: Record<string, Break> = {
  "the spindle not started": (program) => program.replace(/^S\d+ M3$/m, ""),
  "the spindle backwards": (program) => program.replace(/ M3$/m, " M4"),
  "the spindle stopped half-way": (program) => halved(program, "M5\n"),
  "a tool changed half-way": (program) => halved(program, "M6 T9\n"),
  "no feeds": (program) => program.replace(/ F[\d.]+/g, ""),
  "a feed of nought": (program) => program.replace(/ F[\d.]+/, " F0"),
  "the other unit": (program) => program.replace(/G2[01]/, (word) => (word === "G20" ? "G21" : "G20")),
  "no unit": (program) => program.replace(/^G2[01]$/m, ""),
  "the other plane": (program) => program.replace("G17", "G18"),
  "another work offset": (program) =>
    program.replace(/^G5[4-9]$/m, (word) => (word === "G55" ? "G56" : "G55")),
  "another work offset half-way": (program) => halved(program, "G59\n"),
  "incremental coordinates": (program) => program.replace("G90", "G91"),
  "incremental coordinates half-way": (program) => halved(program, "G91\n"),
  "cut off half-way": (program) => program.slice(0, program.length / 2),
  "cut off in its last word": (program) => program.trimEnd().slice(0, -1),
  "all 1 mm deeper": (program, mm) => words("Z", (z) => z - mm(1))(program),
  "all 1 mm higher": (program, mm) => words("Z", (z) => z + mm(1))(program),
  "all 40 mm aside": (program, mm) => words("Y", (y) => y + mm(40))(program),
  "half as large": (program) => words("XY", (value) => value / 2)(program),
  mirrored: (program) => words("X", (x) => -x - 1)(program),
  "rapids for cuts": (program) => program.replaceAll("G1 ", "G0 "),
  "no retracts": (program) => program.replace(/^G0 Z.*$/gm, "G0"),
  "a subprogram for the rest": (program) => halved(program, "M98 P100\nM30\n"),
};

/** The program with a line put in between its first and its second half. */
function halved(program: string, line: string): string {
  const lines = program.split("\n");
  // Not between a comment and what it tells of.
  const at = lines.findIndex((text, k) => k > lines.length / 2 && /^[XY]/.test(text));
  lines.splice(at < 0 ? Math.floor(lines.length / 2) : at, 0, line.trimEnd());
  return lines.join("\n");
}

const counts = { injected: 0, caught: 0, programs: 0 };

test.each(names)(
  "every program of %s is sound, and every fault in it is found",
  (name) => {
    const file = join(SAMPLES, name, "job.json");
    const readText = (path: string) => readFileSync(path, "utf8");
    const job = readJob(readText(file), file, { readText });
    const mm: Mm = (length) => (job.units === "in" ? length / 25.4 : length);
    const planned = planJob(job);
    for (const { setup, programs } of planned.setups)
      programs.forEach(({ text }, lay) => {
        const task = proofTask(job, setup.id, lay + 1);
        const check = (program: string) => checkPieces([new TextEncoder().encode(program)], task);
        // Without line numbers, which say nothing to the machine.
        const program = new TextDecoder().decode(text).replace(/^N\d+ /gm, "");
        const faults = Object.entries(HARMFUL).filter((_, k) => ALL || (k + counts.programs) % 8 === 0);
        counts.programs++;
        expect(check(program).findings).toEqual([]);
        const missed = faults.filter(([, breakIt]) => {
          const broken = breakIt(program, mm);
          expect(broken).not.toBe(program);
          return check(broken).count === 0;
        });
        counts.injected += faults.length;
        counts.caught += faults.length - missed.length;
        expect(missed.map(([label]) => `${setup.id}: ${label}`)).toEqual([]);
      });
  },
  240_000,
);

afterAll(() => {
  const { programs, injected, caught } = counts;
  console.info(
    `${programs} programs of ${names.length} samples: harmful faults injected ${injected}, caught ${caught}`,
  );
});
