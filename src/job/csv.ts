// Readings from a CSV file: columns x, y, z in the job's unit, an optional header, lines that begin
// with # or ; are comments. Columns are parted by semicolons, tabs, commas or blanks, the same
// throughout; a decimal comma is read wherever commas do not part columns. Nothing is skipped unread.

import type { InputIssue } from "../errors.ts";
import { parseLength, type Units } from "../units.ts";
import type { Readings } from "./job.ts";
import { HEIGHT_WANTED, heightFits, pointReadings } from "./readings.ts";
import { quoted } from "./wording.ts";

const SIZE_MAX = 64 * 2 ** 20;
/** No three numbers take more characters. */
const LINE_MAX = 1000;
const ISSUES_MAX = 20;
/** A length beyond this is a slip, mm. */
const PLACE_MAX_MM = 100_000;

/** The readings in a CSV file's text, or null and what is wrong with it, at most 20 findings. */
export function readCsv(
  fileText: string,
  file: string,
  units: Units,
): { readings: Readings | null; issues: readonly InputIssue[] } {
  const issues: InputIssue[] = [];
  let count = 0;
  const report = (line: number, column: number, text: string) => {
    if (++count <= ISSUES_MAX) issues.push({ file, place: "", line, column, text });
  };

  let readings: Readings | null = null;
  if (fileText.length > SIZE_MAX) {
    report(0, 0, `the file is larger than ${SIZE_MAX / 2 ** 20} MB; fewer readings describe a face as well`);
  } else {
    const { xyz, lines } = readLines(fileText, units, report);
    if (count === 0) {
      const nameOf = (index: number) => `line ${lines[index]}`;
      readings = pointReadings(xyz, units, nameOf, (index, text) =>
        index < 0 ? report(0, 0, text) : report(lines[index], 1, text),
      );
    }
  }
  if (count > ISSUES_MAX) {
    issues.push({
      file,
      place: "",
      line: 0,
      column: 0,
      text: `and ${count - ISSUES_MAX} more mistakes in this file`,
    });
  }
  return { readings, issues };
}

type Separator = ";" | "," | "\t" | " ";

/** Flat `[x, y, z, ...]` in mm, and the line of each reading. */
function readLines(
  text: string,
  units: Units,
  report: (line: number, column: number, text: string) => void,
): { xyz: number[]; lines: number[] } {
  const xyz: number[] = [];
  const lines: number[] = [];
  let separator: Separator | null = null;
  let begun = false;
  let line = 0;
  for (const raw of eachLine(text)) {
    line++;
    const content = raw.trim();
    if (content === "" || content.startsWith("#") || content.startsWith(";")) continue;
    if (content.length > LINE_MAX) {
      report(line, 1, `found a line of ${content.length} characters; wanted 3 columns: x, y, z`);
      continue;
    }
    if (!begun) {
      begun = true;
      if (isHeader(content)) {
        const order = headerProblem(content);
        if (order) report(line, 1, order);
        continue;
      }
    }
    separator ??= separatorOf(content, units);
    const by = separator;
    const fields = split(content, by);
    if (fields.length !== 3) {
      report(
        line,
        1,
        `found ${fields.length} ${fields.length === 1 ? "column" : "columns"} in ${quoted(content)}; wanted 3: x, y, z`,
      );
      continue;
    }
    const place = fields.map((field) => readField(field, by, units));
    const bad = place.findIndex(
      (value, k) => value === null || !(k < 2 ? Math.abs(value) <= PLACE_MAX_MM : heightFits(value)),
    );
    if (bad >= 0) {
      const column = fields[bad] === "" ? 1 : raw.indexOf(fields[bad]) + 1;
      const range = bad < 2 ? "a place within 100 m of the origin" : HEIGHT_WANTED;
      const what = place[bad] === null ? "a number" : range;
      report(line, column, `found ${quoted(fields[bad])} for ${"xyz"[bad]}; wanted ${what}`);
      continue;
    }
    xyz.push(...(place as number[]));
    lines.push(line);
  }
  return { xyz, lines };
}

function* eachLine(text: string): Generator<string> {
  const ends = /\r\n|\n|\r/g;
  let from = text.startsWith("\uFEFF") ? 1 : 0;
  for (let end = ends.exec(text); end !== null; end = ends.exec(text)) {
    yield text.slice(from, end.index);
    from = ends.lastIndex;
  }
  yield text.slice(from);
}

/** A first line without a single number in it names the columns. */
function isHeader(content: string): boolean {
  return content.split(/[;,\s]+/).every((word) => !/^["']?[+-]?(?:[.,]?\d|nan\b|inf)/i.test(word));
}

/** Columns named x, y and z in another order would be read wrongly. */
function headerProblem(content: string): string | null {
  const names = Array.from(content.matchAll(/\b[xyz](?![a-z])/gi), (name) => name[0].toLowerCase());
  const order = names.join("");
  if (order === "xyz" || new Set(names).size !== 3 || names.length !== 3) return null;
  return `the header names the columns ${names.join(", ")}; wanted x, y, z in that order`;
}

function separatorOf(content: string, units: Units): Separator {
  if (content.includes(";")) return ";";
  if (content.includes("\t")) return "\t";
  if (!content.includes(",")) return " ";
  // "10,5 20,5 31,2" are three numbers with decimal commas, "10, 20, 31" three without.
  const readable = (by: Separator) => {
    const fields = split(content, by);
    return fields.length === 3 && fields.every((field) => readField(field, by, units) !== null);
  };
  return !readable(",") && readable(" ") ? " " : ",";
}

function split(content: string, separator: Separator): string[] {
  return separator === " " ? content.split(/\s+/) : content.split(separator).map((field) => field.trim());
}

const NUMBER = /^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?$/;

function readField(field: string, separator: Separator, units: Units): number | null {
  const bare = /^(["']).*\1$/.test(field) ? field.slice(1, -1).trim() : field;
  if (!NUMBER.test(bare)) return parseLength(bare, units);
  return bare.includes(",") && separator === "," ? null : parseLength(Number(bare.replace(",", ".")), units);
}
