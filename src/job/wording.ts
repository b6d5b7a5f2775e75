// How findings about a file are said: what was found, what is wanted, and the nearest name that would
// be right. Text taken from a file is quoted so that nothing in it can act on a screen or end a line.

import type * as z from "zod";

/** Of one group, more unknown fields than this are counted, not told. */
export const UNKNOWN_MAX = 100;

/** The sentence for a finding of zod; several lines, one a name, where fields are unknown. */
export function wording(issue: z.core.$ZodRawIssue): string {
  const found = describeValue(issue.input);
  if (issue.code === "too_small" && issue.input === "") return "found an empty text; wanted a name";
  switch (issue.code) {
    case "invalid_type":
      return `${found}; wanted ${TYPES[issue.expected] ?? issue.expected}${issue.expected === "number" ? numberHint(issue.input) : ""}`;
    case "invalid_value":
      return `${found}; wanted ${listed(issue.values.map((value) => JSON.stringify(value)))}${hint(issue.input, issue.values)}`;
    case "too_small":
      return `${counted(issue.input)}; wanted ${issue.inclusive ? "at least" : "more than"} ${issue.minimum}`;
    case "too_big":
      return `${counted(issue.input)}; wanted ${issue.inclusive ? "at most" : "less than"} ${issue.maximum}`;
    case "unrecognized_keys": {
      const shape = (issue.inst as z.core.$ZodObject | undefined)?._zod.def.shape ?? {};
      return issue.keys
        .slice(0, UNKNOWN_MAX)
        .map((key) => unknownField(key, Object.keys(shape)))
        .join("\n");
    }
    default:
      return `${found}; this does not fit here`;
  }
}

/** A number as a text, or in percent, is a common slip. */
function numberHint(input: unknown): string {
  const found = typeof input === "string" && /^\s*(-?\d+(?:\.\d+)?)\s*(%?)\s*$/.exec(input);
  if (!found) return "";
  const [, number, percent] = found;
  return percent === ""
    ? `: write ${number} without quotes`
    : `: write ${Number((Number(number) / 100).toPrecision(12))}`;
}

const TYPES: Readonly<Record<string, string>> = {
  string: "a text in double quotes",
  number: "a number",
  int: "a whole number",
  boolean: "true or false",
  array: "a list [ ... ]",
  tuple: "a list [ ... ]",
  object: "a group of fields { ... }",
};

/** `found 12`, `found "twelve"`, `missing`. */
export function describeValue(value: unknown): string {
  if (value === undefined) return "missing";
  if (value === null) return "found null";
  if (typeof value === "string") return `found ${quoted(value)}`;
  if (Array.isArray(value)) return `found a list of ${value.length}`;
  if (typeof value === "object") return "found a group of fields";
  if (value === Number.POSITIVE_INFINITY || value === Number.NEGATIVE_INFINITY)
    return "found a number too large";
  return `found ${String(value)}`;
}

/** Text from a file in double quotes, cut to `lengthMax`, with everything that does not print escaped. */
export function quoted(text: string, lengthMax = 60): string {
  return `"${printable(text, lengthMax)}"`;
}

/** As `quoted`, without the quotes. */
export function printable(text: string, lengthMax: number): string {
  const cut = text.length > lengthMax ? `${text.slice(0, lengthMax)}...` : text;
  const escaped = JSON.stringify(cut).slice(1, -1);
  return escaped.replace(
    /[\u007f-\u00a0\u00ad\u061c\u180e\u200b-\u200f\u2028-\u202f\u2060-\u206f\ufeff\ufff9-\ufffb]/g,
    (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, "0")}`,
  );
}

/** `; did you mean "outline"?`, or nothing where no name is near. */
export function didYouMean(written: string, names: readonly string[]): string {
  const near = nearest(written, names);
  return near === null ? "" : `; did you mean ${quoted(near)}?`;
}

/** `"a", "b" or "c"`, from items that are already quoted. */
export function listed(items: readonly string[]): string {
  if (items.length < 2) return items.join("");
  return `${items.slice(0, -1).join(", ")} or ${items.at(-1)}`;
}

function unknownField(key: string, known: readonly string[]): string {
  const near = nearest(key, known);
  const advice = near === null ? `; known here: ${known.join(", ")}` : `; did you mean \`${near}\`?`;
  return `unknown field \`${printable(key, 40)}\`${advice}`;
}

function counted(input: unknown): string {
  if (typeof input === "string") return `found ${quoted(input)} of ${input.length} characters`;
  return describeValue(input);
}

function hint(input: unknown, values: readonly unknown[]): string {
  if (typeof input !== "string" || values.length < 2) return "";
  return didYouMean(
    input,
    values.filter((value) => typeof value === "string"),
  );
}

/** The name that takes fewest typing mistakes to reach, if that is few for its length; the first of equals. */
function nearest(written: string, names: readonly string[]): string | null {
  if (written.length > 80) return null;
  let best: string | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (const name of names.slice(0, 1000)) {
    if (name.length > 80) continue;
    const mistakes = typingMistakes(written.toLowerCase(), name.toLowerCase());
    if (mistakes < least && mistakes <= Math.max(1, Math.floor(name.length / 3))) {
      best = name;
      least = mistakes;
    }
  }
  return best;
}

/** Letters to add, drop, change or swap with their neighbour: optimal string alignment distance. */
function typingMistakes(a: string, b: string): number {
  let before: number[] = [];
  let last = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1];
      row[j] = Math.min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (same ? 0 : 1));
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1])
        row[j] = Math.min(row[j], before[j - 2] + 1);
    }
    before = last;
    last = row;
  }
  return last[b.length];
}
