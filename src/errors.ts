// The three kinds of failure. InputError: a file is wrong, and says where and what would be right.
// PlanError: the files are right, but the job is impossible or unsafe. A failed assert is a fault of ours.

/** One thing wrong with an input: where it stands, what was found and what is wanted. */
export interface InputIssue {
  /** The file as the user named it, or "command line". */
  readonly file: string;
  /** Where in the file's data, as `pieces[0].outline[3]`; empty when the file as a whole is meant. */
  readonly place: string;
  /** 1-based line and column of the place in the text, 0 where they are not known. */
  readonly line: number;
  readonly column: number;
  /** What was found and what is wanted, one sentence, without the place. */
  readonly text: string;
}

/** Something the user wrote is wrong. Carries every finding, not just the first. */
export class InputError extends Error {
  override readonly name = "InputError";
  readonly issues: readonly InputIssue[];

  constructor(issues: readonly InputIssue[]) {
    super(issues.map(describeIssue).join("\n"));
    this.issues = issues;
  }
}

/** `job.json:12:7: pieces[0].outline[3]: ...`, leaving out what is not known. */
export function describeIssue(issue: InputIssue): string {
  const where = issue.line > 0 ? `${issue.file}:${issue.line}:${issue.column}` : issue.file;
  return [where, issue.place, issue.text].filter((part) => part !== "").join(": ");
}

/** The job cannot be made, or what was made is not safe. `code` is stable; `setup` is "" where none is meant. */
export class PlanError extends Error {
  override readonly name = "PlanError";
  readonly code: string;
  readonly setup: string;
  /** Line of the program, 0 where none is meant. */
  readonly line: number;

  constructor(code: string, setup: string, text: string, line = 0) {
    super(text);
    this.code = code;
    this.setup = setup;
    this.line = line;
  }
}

/** `setup skim, line 12: ...`, leaving out what is not meant. */
export function describePlanError({ setup, line, message }: PlanError): string {
  const where = [setup && `setup ${setup}`, line > 0 && `line ${line}`].filter(Boolean).join(", ");
  return where === "" ? message : `${where}: ${message}`;
}

/** Throws when one of our own assumptions does not hold. */
export function assert(condition: boolean, text: string): asserts condition {
  if (!condition) throw new Error(`slabtrue is at fault: ${text}`);
}
