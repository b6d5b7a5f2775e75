// Findings on the way from schema to person: zod's issues as InputIssues with line and column, in the
// order of the text, and thrown all at once.

import type * as z from "zod";
import { InputError, type InputIssue } from "../errors.ts";
import type { Path, Source } from "./text.ts";
import { wording } from "./wording.ts";

/** More findings than this are counted, not told. */
const ISSUES_MAX = 100;

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
  tell(result.error.issues, source, at, issues);
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
  const rest = `and ${sorted.length - ISSUES_MAX} more findings`;
  throw new InputError([
    ...sorted.slice(0, ISSUES_MAX),
    { file: files[0], place: "", line: 0, column: 0, text: rest },
  ]);
}

function tell(found: readonly z.core.$ZodIssue[], source: Source, at: Path, issues: InputIssue[]): void {
  for (const issue of found) {
    const path = [...at, ...(issue.path as (string | number)[])];
    if (issue.code === "unrecognized_keys") {
      const lines = issue.message.split("\n");
      issue.keys.forEach((key, k) => {
        issues.push(source.issueAt([...path, key], lines[k], "name"));
      });
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
