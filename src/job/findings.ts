// Findings on the way from schema to person: zod's issues as InputIssues with line and column, in the
// order of the text, and thrown all at once.

import type * as z from "zod";
import { InputError, type InputIssue } from "../errors.ts";
import type { Path, Source } from "./text.ts";
import { UNKNOWN_MAX, wording } from "./wording.ts";

/** More findings than this help nobody: the first in the text are told. */
const ISSUES_MAX = 100;
/** Of one file's fields not more are looked up in its text. */
const LOCATED_MAX = 2000;

/** The value of the file at `at` as the schema gives it, or null after adding what is wrong to `issues`. */
export function checked<T extends z.ZodType>(
  schema: T,
  value: unknown,
  source: Source,
  at: Path,
  issues: InputIssue[],
): z.output<T> | null {
  // Compiling the schema, as zod would, costs more than the one parse, and a strict page forbids it.
  const result = schema.safeParse(value, { error: wording, jitless: true });
  if (result.success) return result.data;
  tell(result.error.issues.slice(0, LOCATED_MAX), source, at, issues);
  return null;
}

/** The items of a list that hold on their own, null for the others; nothing is reported. */
export function soundItems<T extends z.ZodType>(item: T, list: unknown): (z.output<T> | null)[] {
  if (!Array.isArray(list)) return [];
  return list.map((value) => item.safeParse(value, { jitless: true }).data ?? null);
}

/** Throws an InputError of all findings, if any, in the order of the text, the files in the order of `issues`. */
export function throwIfAny(issues: readonly InputIssue[]): void {
  if (issues.length === 0) return;
  const files = [...new Set(issues.map((issue) => issue.file))];
  const sorted = files.flatMap((file) =>
    issues
      .filter((issue) => issue.file === file)
      .sort((a, b) => (a.line || Infinity) - (b.line || Infinity) || a.column - b.column),
  );
  if (sorted.length <= ISSUES_MAX) throw new InputError(sorted);
  const rest = { file: files[0], place: "", line: 0, column: 0, text: "and more; put these right first" };
  throw new InputError([...sorted.slice(0, ISSUES_MAX), rest]);
}

function tell(found: readonly z.core.$ZodIssue[], source: Source, at: Path, issues: InputIssue[]): void {
  for (const issue of found) {
    const path = [...at, ...(issue.path as (string | number)[])];
    if (issue.code === "unrecognized_keys") {
      issue.message.split("\n").forEach((text, k) => {
        issues.push(source.issueAt([...path, issue.keys[k]], text, "name"));
      });
      const rest = issue.keys.length - UNKNOWN_MAX;
      if (rest > 0) issues.push(source.issueAt(path, `and ${rest} more unknown fields`));
      continue;
    }
    // Of several forms the one is meant that is of the written kind: a list, a group, a text.
    const meant = issue.code === "invalid_union" ? issue.errors.filter(isOfItsKind) : [];
    if (meant.length === 1) tell(meant[0], source, path, issues);
    else issues.push(source.issueAt(path, issue.message));
  }
}

function isOfItsKind(branch: readonly z.core.$ZodIssue[]): boolean {
  return !branch.some(
    ({ code, path }) => path.length === 0 && (code === "invalid_type" || code === "invalid_value"),
  );
}
