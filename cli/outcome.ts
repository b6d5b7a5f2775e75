// How a run ends: the exit codes, and what is said with them.

import { CommanderError } from "commander";
import { describeIssue, describePlanError, InputError, PlanError } from "../src/errors.ts";
import { printJson, printMessages } from "./terminal.ts";

export const Exit = {
  done: 0,
  /** A fault of ours. */
  fault: 1,
  /** A file or an option is wrong. */
  input: 2,
  /** The plan or the program is not safe, or cannot be made. */
  unsafe: 3,
} as const;

/** Ends the run with a failure: says it on stderr, with `json` also as a document on stdout. */
export function endWith(error: unknown, json: boolean): void {
  const { exit, lines, errors } = outcomeOf(error);
  process.exitCode = exit;
  if (exit === Exit.done) return;
  printMessages(lines);
  if (json) printJson({ ok: false, errors });
}

interface Outcome {
  readonly exit: number;
  readonly lines: readonly string[];
  readonly errors: readonly object[];
}

function outcomeOf(error: unknown): Outcome {
  if (error instanceof InputError)
    return {
      exit: Exit.input,
      lines: error.issues.map(describeIssue),
      errors: error.issues.map((issue) => ({ code: "input", ...issue })),
    };
  if (error instanceof PlanError) {
    const { code, setup, line, message } = error;
    return {
      exit: Exit.unsafe,
      lines: [describePlanError(error)],
      errors: [{ code, setup, line, text: message }],
    };
  }
  if (error instanceof CommanderError) return usage(error);
  return fault(error);
}

/** Help and version were asked for, or the command line cannot be understood. */
function usage(error: CommanderError): Outcome {
  if (error.exitCode === 0) return { exit: Exit.done, lines: [], errors: [] };
  // Without any command commander shows the help itself.
  const text =
    error.code === "commander.help" ? "" : error.message.replace(/^error: /, "").replace(/\n/g, " ");
  const issue = { file: "command line", place: "", line: 0, column: 0, text };
  return {
    exit: Exit.input,
    lines: text === "" ? [] : [describeIssue(issue), "slabtrue --help tells what there is"],
    errors: [{ code: "input", ...issue, text: text || "no command was given" }],
  };
}

function fault(error: unknown): Outcome {
  const text = error instanceof Error ? error.message : String(error);
  const stack =
    process.env.SLABTRUE_DEBUG === "1" && error instanceof Error ? (error.stack ?? "").split("\n") : [];
  return {
    exit: Exit.fault,
    lines: [
      `slabtrue failed, and that is its fault, not yours: ${text}`,
      "Please report this line together with your job file and the files it names.",
      ...stack,
    ],
    errors: [{ code: "fault", text }],
  };
}
