// `slabtrue start`: makes a first shop file and job file by asking for the numbers on the terminal.

import { existsSync, mkdirSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { InputError } from "../src/errors.ts";
import type { Units } from "../src/units.ts";
import { inputError, reason } from "./files.ts";
import { type Answers, FIRST_FILES, firstFiles } from "./first-files.ts";
import { type Answer, answerValue, type Question, questions, type Values } from "./first-questions.ts";
import { printLines, printMessages, wrapped } from "./terminal.ts";

export interface StartOptions {
  readonly yes?: boolean;
}

export async function start(folder: string, { yes = false }: StartOptions): Promise<void> {
  for (const name of FIRST_FILES)
    if (existsSync(join(folder, name)))
      throw inputError(join(folder, name), "is there already, and is left alone; name another folder");
  if (!yes && !process.stdin.isTTY) {
    const text =
      "start asks questions, and nobody is there to answer; run it in a terminal, or add --yes to take examples for all numbers";
    throw new InputError([{ file: "command line", place: "", line: 0, column: 0, text }]);
  }
  const { units, answers } = yes
    ? { units: "mm" as const, answers: examples("mm") }
    : await askedAtTerminal();
  write(folder, firstFiles(units, answers));
  printLines([
    `Written to ${folder}:`,
    "  shop.json  machine and cutter, for all jobs",
    "  job.json   the first slab",
    "  and a JSON Schema of each, by which editors complete and check them",
    "",
    ...wrapped("", yes ? EXAMPLES : GIVEN),
    "",
    `Next: slabtrue plan ${join(folder, "job.json")}`,
  ]);
}

const EXAMPLES =
  "All numbers are examples. Put those of your own machine, cutter and slab in before you cut; the comments say where each is found.";
const GIVEN =
  "Look both files through: the comments say what each number is and where it is found. Name every clamp before you cut.";

/** Writes all files or none, over nothing that is there. */
function write(folder: string, files: ReadonlyMap<string, string>): void {
  const written: string[] = [];
  try {
    if (!existsSync(folder)) mkdirSync(folder);
    for (const [name, text] of files) {
      writeFileSync(join(folder, name), text, { flag: "wx" });
      written.push(name);
    }
  } catch (error) {
    for (const name of written) rmSync(join(folder, name), { force: true });
    const missing = (error as NodeJS.ErrnoException).code === "ENOENT";
    const why = missing ? "there is no such folder above it" : reason(error);
    throw inputError(folder, `the files cannot be written there: ${why}`);
  }
}

function examples(units: Units): Answers {
  return questions(units).reduce(
    ({ answers, values }, question) => taken(question, question.example(values), answers, values),
    NOTHING,
  ).answers;
}

const NOTHING = { answers: {} as Answers, values: {} as Values };

function taken(question: Question, answer: Answer, answers: Answers, values: Values) {
  const found = answerValue(question, answer, values);
  if ("wrong" in found) throw new Error(`the example for ${question.key} does not hold: ${found.wrong}`);
  const { key } = question;
  return { answers: { ...answers, [key]: answer }, values: { ...values, [key]: found.value } };
}

async function askedAtTerminal(): Promise<{ units: Units; answers: Answers }> {
  const terminal = createInterface({ input: process.stdin, output: process.stderr });
  const typed = terminal[Symbol.asyncIterator]();
  try {
    return await asked(printMessages, async (prompt) => {
      terminal.setPrompt(prompt);
      terminal.prompt();
      const { done, value } = await typed.next();
      return done ? null : value;
    });
  } finally {
    terminal.close();
  }
}

/** The answers of whoever types; `typed` gives a line, or null when no more will come. */
export async function asked(
  say: (lines: readonly string[]) => void,
  typed: (prompt: string) => Promise<string | null>,
): Promise<{ units: Units; answers: Answers }> {
  const line = async (prompt: string) => {
    const text = await typed(prompt);
    if (text === null) {
      say([""]);
      throw inputError("command line", "stopped before the last question; nothing was written");
    }
    return text.trim();
  };
  say(["Enter takes the number in brackets. Lengths may carry their unit, as 57 mm or 2 1/4 in.", ""]);
  let units: Units | null = null;
  while (units === null) {
    const text = (await line("Do you measure in mm or in? [mm] ")).toLowerCase();
    if (text === "" || text === "mm") units = "mm";
    else if (text === "in") units = "in";
    else say(["  wanted mm or in"]);
  }
  let { answers, values } = NOTHING;
  for (const question of questions(units)) {
    const example = question.example(values);
    say(["", ...wrapped("", question.text)]);
    for (;;) {
      const text = await line(`  ${question.unit === "" ? "" : `${question.unit} `}[${example}] `);
      const answer = text === "" ? example : /^[+-]?[\d.]+$/.test(text) ? Number(text) : text;
      const found = answerValue(question, answer, values);
      if ("value" in found) {
        ({ answers, values } = taken(question, answer, answers, values));
        break;
      }
      say(wrapped("  ", found.wrong));
    }
  }
  return { units, answers };
}
