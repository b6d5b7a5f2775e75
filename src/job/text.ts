// A file's JSON text as plain values, and the way back from a place in them to line and column.
// Comments (// and /* */) and a byte-order mark are allowed; everything else is strict JSON. Trailing
// commas and fields given twice are findings that do not hide the others; broken text is thrown at once.

import { createScanner, type Node, type ParseError, parseTree, printParseErrorCode } from "jsonc-parser";
import { InputError, type InputIssue } from "../errors.ts";
import { quoted } from "./wording.ts";

export type Path = readonly (string | number)[];

/** A file that was read. */
export interface Source {
  readonly file: string;
  /** Plain values; objects have no prototype. */
  readonly value: unknown;
  /** Findings about the text itself that did not keep it from being read. */
  readonly issues: readonly InputIssue[];
  /** A finding at `path`, or at the nearest place above it that the text has; `"name"` points at a field's name. */
  issueAt(path: Path, text: string, end?: "name" | "value"): InputIssue;
}

const LENGTH_MAX = 32 * 2 ** 20;
/** The contract's own files are 9 deep; the parser and the walk below call themselves once a level. */
const DEPTH_MAX = 32;

/** Reads a file's JSON text. Throws InputError where it is not JSON. */
export function parseSource(fileText: string, file: string): Source {
  const text = fileText.startsWith("\uFEFF") ? fileText.slice(1) : fileText;
  const lines = lineFinder(text);
  const issue = (offset: number, path: Path, what: string): InputIssue => ({
    file,
    place: placeText(path),
    ...lines(offset),
    text: what,
  });
  const refuse = (offset: number, what: string): never => {
    throw new InputError([issue(offset, [], what)]);
  };

  if (text.length > LENGTH_MAX)
    refuse(0, `the file is larger than ${LENGTH_MAX / 2 ** 20} MB; many readings belong in a CSV file`);
  const { tokens, tooDeepAt, emptyCommaAt, trailingCommas } = scan(text);
  if (tokens === 0) refuse(0, "the file is empty; a group of fields { ... } is wanted");
  if (tooDeepAt >= 0) refuse(tooDeepAt, `brackets nested more than ${DEPTH_MAX} deep; no job needs that`);
  if (emptyCommaAt >= 0) refuse(emptyCommaAt, "a comma with nothing before it");
  const issues = trailingCommas.map((at) => issue(at, [], "a comma with nothing after it; take it away"));

  const errors: ParseError[] = [];
  const root = parseTree(text, errors, { allowTrailingComma: true });
  if (errors.length > 0 || root === undefined) {
    // The first error only: the parser's later ones are mostly its echoes.
    const at = errors[0]?.offset ?? 0;
    const before = issues.filter((_, k) => trailingCommas[k] < at);
    throw new InputError([...before, issue(at, [], describe(text, errors[0]))]);
  }

  const value = plainValue(root, (path, first, second) => {
    const { line } = lines(first.offset);
    const again = lines(second.offset).line;
    const name = quoted(String(path.at(-1)));
    issues.push(
      issue(
        second.offset,
        path,
        `the field ${name} is given twice, on line ${line} and line ${again}; keep one`,
      ),
    );
  });
  const issueAt = (path: Path, what: string, end: "name" | "value" = "value") =>
    issue(offsetOf(root, path, end), path, what);
  return { file, value, issues, issueAt };
}

/** `pieces[0].outline[3]`; names that are not plain words stand in brackets and quotes. */
export function placeText(path: Path): string {
  let place = "";
  for (const step of path) {
    if (typeof step === "number") place += `[${step}]`;
    else if (!/^[A-Za-z_]\w{0,79}$/.test(step)) place += `[${quoted(step)}]`;
    else place += place === "" ? step : `.${step}`;
  }
  return place;
}

/**
 * One look at the tokens before the parser, which calls itself once a level, forgets trailing commas,
 * and has much to say about each comma that parts nothing. Places are -1 where there is no such thing.
 */
function scan(text: string) {
  const scanner = createScanner(text, true);
  const found = { tokens: 0, tooDeepAt: -1, emptyCommaAt: -1, trailingCommas: [] as number[] };
  let depth = 0;
  let before = "";
  let beforeAt = -1;
  for (; ; found.tokens++) {
    scanner.scan();
    const at = scanner.getTokenOffset();
    if (at >= text.length) return found;
    const first = text[at];
    if (first === "{" || first === "[") depth++;
    if (depth > DEPTH_MAX) return { ...found, tooDeepAt: at };
    if (first === "," && ",[{:".includes(before)) return { ...found, emptyCommaAt: at };
    if (first === "}" || first === "]") {
      depth--;
      if (before === ",") found.trailingCommas.push(beforeAt);
    }
    before = first;
    beforeAt = at;
  }
}

function describe(text: string, error: ParseError | undefined): string {
  const found = error === undefined ? "" : text.slice(error.offset, error.offset + error.length);
  const here = found === "" ? "the end of the file" : quoted(found, 24);
  switch (error && printParseErrorCode(error.error)) {
    case "InvalidSymbol":
      return `found ${here}; names and texts stand in double quotes, numbers in plain digits`;
    case "PropertyNameExpected":
      return `found ${here} where a field's name in double quotes is wanted`;
    case "ColonExpected":
      return `found ${here} where a colon is wanted`;
    case "CommaExpected":
      return `found ${here} where a comma is wanted`;
    case "CloseBraceExpected":
      return `found ${here} where } is wanted: a { was not closed`;
    case "CloseBracketExpected":
      return `found ${here} where ] is wanted: a [ was not closed`;
    case "EndOfFileExpected":
      return `found ${here} after the end; nothing may follow the last bracket`;
    case "UnexpectedEndOfComment":
      return "a comment /* is not closed with */";
    case "UnexpectedEndOfString":
      return "a text is not closed with a double quote on its line";
    case "UnexpectedEndOfNumber":
    case "InvalidNumberFormat":
      return `found ${here}, which is not a whole number or decimal`;
    case "InvalidUnicode":
    case "InvalidEscapeCharacter":
      return `found ${here} with a backslash that means nothing; write a backslash itself as \\\\`;
    case "InvalidCharacter":
      return `found ${here} with a control character in it`;
    default:
      return `found ${here} where a value is wanted: a number, a text in double quotes, a list [ ... ] or a group { ... }`;
  }
}

/** Objects get no prototype, so that a field named `__proto__` is a field like any other. */
function plainValue(root: Node, twice: (path: Path, first: Node, second: Node) => void): unknown {
  const path: (string | number)[] = [];
  const below = (step: string | number, node: Node) => {
    path.push(step);
    const value = valued(node);
    path.pop();
    return value;
  };
  const valued = (node: Node): unknown => {
    if (node.type === "array") return node.children?.map((child, k) => below(k, child));
    if (node.type !== "object") return node.value;
    const fields = Object.create(null) as Record<string, unknown>;
    const names = new Map<string, Node>();
    for (const { children } of node.children ?? []) {
      const [name, value] = children as [Node, Node];
      const first = names.get(name.value);
      if (first) twice([...path, name.value], first, name);
      else names.set(name.value, name);
      fields[name.value] = below(name.value, value);
    }
    return fields;
  };
  return valued(root);
}

function offsetOf(root: Node, path: Path, end: "name" | "value"): number {
  let node = root;
  for (const [k, step] of path.entries()) {
    if (typeof step === "number") {
      const item = node.type === "array" ? node.children?.[step] : undefined;
      if (!item) return node.offset;
      node = item;
    } else {
      const field =
        node.type === "object"
          ? node.children?.find((child) => child.children?.[0].value === step)
          : undefined;
      const [name, value] = field?.children ?? [];
      if (!name || !value) return node.offset;
      if (end === "name" && k === path.length - 1) return name.offset;
      node = value;
    }
  }
  return node.offset;
}

/** From an offset to its line and column, both from 1. */
function lineFinder(text: string): (offset: number) => { line: number; column: number } {
  let starts: number[] | null = null;
  return (offset) => {
    starts ??= [0, ...Array.from(text.matchAll(/\r\n|\n|\r/g), (end) => end.index + end[0].length)];
    let low = 0;
    let high = starts.length;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (starts[middle] <= offset) low = middle;
      else high = middle;
    }
    return { line: low + 1, column: offset - starts[low] + 1 };
  };
}
