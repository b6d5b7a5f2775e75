// Readings from a text file, filled in by hand or recorded by a controller: one reading a line, columns parted by
// semicolons, tabs, commas or blanks, the same throughout, or words as X10 Y20 Z30. A header may name the columns in
// any order, with more beside them; comments may state the unit and a shift. Nothing is skipped unread.

import type { InputIssue } from "../errors.ts";
import { parseLength, type Units, unitWord } from "../units.ts";
import { type Header, headerOf, namesWords, unitOf } from "./csv-header.ts";
import { HEIGHT_WANTED, heightFits, type Points, pointReadings } from "./readings.ts";
import { quoted } from "./wording.ts";

const SIZE_MAX = 64 * 2 ** 20;
/** No reading takes more characters, whatever a controller writes beside it. */
const LINE_MAX = 1000;
const ISSUES_MAX = 20;
/** A length beyond this is a slip, mm. */
const PLACE_MAX_MM = 100_000;
/** So many rows show that a column counts them. */
const ROWS_COUNTED = 3;
/** A first reading below this, with a face above the second after it, is a touch on the bare bed, mm. */
const BED_MM_MAX = 1;
const WOOD_MM_MIN = 10;

/** What heights may be, and how that is said. */
export interface HeightRule {
  readonly fits: (mm: number) => boolean;
  readonly wanted: string;
}

const ABOVE_BED: HeightRule = { fits: heightFits, wanted: HEIGHT_WANTED };

/**
 * The readings in a CSV file's text with the line of each, or null and what is wrong with it, at most 20 findings.
 * Bare numbers are in `units` unless the file states its own.
 */
export function readCsv(
  fileText: string,
  file: string,
  units: Units,
  heights: HeightRule = ABOVE_BED,
): { readings: Points | null; lines: readonly number[]; issues: readonly InputIssue[] } {
  const issues: InputIssue[] = [];
  let count = 0;
  const report = (line: number, column: number, text: string) => {
    if (++count <= ISSUES_MAX) issues.push({ file, place: "", line, column, text });
  };

  let readings: Points | null = null;
  let lines: readonly number[] = [];
  if (fileText.length > SIZE_MAX) {
    report(0, 0, `the file is larger than ${SIZE_MAX / 2 ** 20} MB; fewer readings describe a face as well`);
  } else {
    const read = new CsvReader(units, heights, report).read(fileText);
    if (count === 0) {
      const nameOf = (index: number) => `line ${read.lines[index]}`;
      readings = pointReadings(read.xyz, units, nameOf, (index, text) =>
        index < 0 ? report(0, 0, text) : report(read.lines[index], 1, text),
      );
      if (readings !== null) lines = linesKept(readings.xyz, read);
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
  return { readings, lines, issues };
}

/** The line of each reading that was kept: those given twice are dropped, the order stays. */
function linesKept(kept: Float64Array, { xyz, lines }: { xyz: number[]; lines: number[] }): number[] {
  let given = -1;
  return Array.from({ length: kept.length / 3 }, (_, k) => {
    do given++;
    while (xyz[3 * given] !== kept[3 * k] || xyz[3 * given + 1] !== kept[3 * k + 1]);
    return lines[given];
  });
}

type Separator = ";" | "," | "\t" | " ";
type Report = (line: number, column: number, text: string) => void;

/** What a comment states for the whole file, and where it does. */
interface Stated<T> {
  readonly line: number;
  readonly value: T;
}

class CsvReader {
  private readonly xyz: number[] = [];
  private readonly lines: number[] = [];
  private readonly jobUnits: Units;
  private readonly heights: HeightRule;
  private readonly report: Report;
  private line = 0;
  /** A line other than comments was read. */
  private begun = false;
  /** Something is wrong with all that follows: it was told, and the rest would only repeat it. */
  private stopped = false;
  private units: Stated<Units> | null = null;
  private shift: Stated<readonly [string, string]> | null = null;
  private header: Stated<Header> | null = null;
  private separator: Separator | null = null;
  /** Of a row; 0 before the first. */
  private columns = 0;
  /** Rows whose first column, as nobody named it, has counted 1, 2, 3 or 0, 1, 2; -1 once one did not. */
  private counted = 0;
  private lastCount = 0;
  private firstRow = 0;

  constructor(units: Units, heights: HeightRule, report: Report) {
    this.jobUnits = units;
    this.heights = heights;
    this.report = report;
  }

  /** Flat `[x, y, z, ...]` in mm, and the line of each reading. */
  read(text: string): { xyz: number[]; lines: number[] } {
    for (const raw of eachLine(text)) {
      this.line++;
      this.readLine(raw);
      if (this.stopped) break;
    }
    this.checkWhole();
    this.applyShift();
    return { xyz: this.xyz, lines: this.lines };
  }

  private readLine(raw: string): void {
    const content = raw.trim();
    // A table's program writes empty cells.
    if (content === "" || /^[,\t "]*$/.test(content)) return;
    if (content.length > LINE_MAX) {
      this.fail(1, `found a line of ${content.length} characters; wanted 3 columns: x, y, z`);
      return;
    }
    const comment = this.commentIn(content);
    if (comment !== null) {
      if (!this.readStatement(comment, true)) this.readHeader(content, comment);
      return;
    }
    if (!this.begun && this.readStatement(content, false)) return;
    const first = !this.begun;
    this.begun = true;
    const hash = content.indexOf("#");
    const bare = hash < 0 ? content : content.slice(0, hash).trimEnd();
    if (first && this.header === null && namesColumns(bare)) {
      const header = headerOf(bare);
      if (typeof header === "string") this.stop(header);
      else this.header = { line: this.line, value: header };
      return;
    }
    this.readRow(bare.replace(/\([^()]*\)/g, "").trim(), raw);
  }

  /** The text of a line that is a comment, null of any other. */
  private commentIn(content: string): string | null {
    // A table's program puts a cell with a comma in quotes.
    if (/^"?#/.test(content)) return withoutEmptyCells(content.slice(content.indexOf("#") + 1));
    if (content.startsWith("(")) return /^\(([^()]*)\)$/.exec(content)?.[1].trim() ?? null;
    if (!content.startsWith(";")) return null;
    // In a file parted by semicolons it may be a row whose x is missing.
    const isRow = this.separator === ";" && split(content, ";").length >= 3 && /\d/.test(content);
    return isRow ? null : content.slice(1).trim();
  }

  /** Reads what a line says of the whole file: `units: in`, `shift: 120 110`. False where it says nothing of the kind. */
  private readStatement(text: string, isComment: boolean): boolean {
    const stated = /^(units?|shift)\s*([:=,;]|\s)\s*(.*)$/i.exec(withoutEmptyCells(text));
    if (!stated) return false;
    const [, name, mark, value] = stated;
    const isUnit = /^u/i.test(name);
    // "units in doubt are marked" is only a comment.
    if (isComment && !/[:=]/.test(mark) && !(isUnit ? unitOf(value) : shiftOf(value))) return false;
    if (this.xyz.length > 0) this.fail(1, `"${name}" must stand above the first reading`);
    else if (isUnit) this.readUnits(value);
    else this.readShift(value);
    return true;
  }

  private readUnits(value: string): void {
    const units = unitOf(value);
    if (units === null) this.stop(`found ${quoted(value)} as the unit; wanted mm or in`);
    else if (this.units !== null && this.units.value !== units)
      this.stop(`found ${units} as the unit, and ${this.units.value} in line ${this.units.line}`);
    else this.units = { line: this.line, value: units };
  }

  private readShift(value: string): void {
    const shift = shiftOf(value);
    const wanted = "wanted two lengths, as shift: 120 110";
    if (shift === null) this.stop(`found ${quoted(value)} as the shift; ${wanted}`);
    else if (this.shift !== null) this.stop(`found a second shift; there is one in line ${this.shift.line}`);
    else this.shift = { line: this.line, value: shift };
  }

  /** A comment may be the header: `# x y z`. */
  private readHeader(content: string, comment: string): void {
    if (this.begun || this.header !== null || !namesWords(comment)) return;
    // "#,x,y,z" has a column named #; of "# x y z" the rows tell whether it has.
    const header = headerOf(/^"?#\s*[,;\t]/.test(content) ? content : comment);
    if (typeof header !== "string") this.header = { line: this.line, value: header };
  }

  private readRow(row: string, raw: string): void {
    if (/^[a-z]/i.test(row) && WORDS.test(row)) {
      this.readWords(row);
      return;
    }
    this.separator ??= separatorOf(row, this.columnsWanted());
    const fields = split(row, this.separator);
    const wanted = this.columnsWanted();
    while (fields.length > Math.max(3, wanted) && fields.at(-1) === "") fields.pop();
    if (wanted === 0 ? fields.length < 3 : fields.length !== wanted) {
      this.failColumns(fields.length, wanted, row);
      return;
    }
    if (this.columns === 0 && this.header === null && fields.length > 3 && isAmbiguous(row, this.separator)) {
      const text = `found ${quoted(row)}, which may be ${fields.length} columns or numbers with decimal commas; wanted columns parted by semicolons, or decimal points`;
      this.stop(text);
      return;
    }
    if (this.columns === 0) {
      this.columns = fields.length;
      this.firstRow = this.line;
      this.checkUnits();
    }
    this.checkCount(fields);
    if (this.stopped) return;
    const order = this.header?.value.order ?? [0, 1, 2];
    const place: number[] = [];
    for (const [axis, column] of order.entries()) {
      const mm = this.lengthAt(axis, fields[column], columnOf(fields, column, raw));
      if (mm === null) return;
      place.push(mm);
    }
    if (this.header === null && !this.checkBeside(fields, raw)) return;
    this.take(place);
  }

  private columnsWanted(): number {
    return this.header?.value.columns ?? this.columns;
  }

  private failColumns(found: number, wanted: number, row: string): void {
    const columns = `${found} ${found === 1 ? "column" : "columns"}`;
    const as =
      wanted <= 3
        ? "3: x, y, z"
        : `${wanted} as in ${this.header === null ? "the rows before" : "the header"}`;
    const mixed =
      found < 3 && new Set(row.match(/[;,\t]/g)).size > 1 ? "; columns must be parted alike throughout" : "";
    const comma =
      this.separator === "," && found === wanted + 1 && wanted === 3
        ? "; a decimal comma? write a point"
        : "";
    this.fail(1, `found ${columns} in ${quoted(row)}; wanted ${as}${mixed}${comma}`);
  }

  /** A row of words with letters, as `X10 Y20 Z30 A0`. */
  private readWords(row: string): void {
    const values = new Map<string, string[]>();
    for (const [, letter, value] of row.matchAll(WORD)) {
      const name = letter.toUpperCase();
      values.set(name, [...(values.get(name) ?? []), value]);
    }
    const place: number[] = [];
    for (const [axis, name] of ["X", "Y", "Z"].entries()) {
      const found = values.get(name) ?? [];
      if (found.length !== 1) {
        const what = `${found.length === 0 ? "no" : "more than one"} ${name}`;
        this.fail(1, `found ${what} in ${quoted(row)}; wanted one`);
        return;
      }
      const mm = this.lengthAt(axis, found[0], 1);
      if (mm === null) return;
      place.push(mm);
    }
    this.take(place);
  }

  /** A field as a length in mm, or null after reporting. */
  private lengthAt(axis: number, field: string, column: number): number | null {
    const mm = readField(field, this.separator === ",", this.unitsAt(axis));
    const name = "xyz"[axis];
    const isHeight = axis === 2;
    if (mm !== null && (isHeight ? this.heights.fits(mm) : Math.abs(mm) <= PLACE_MAX_MM)) return mm;
    if (isHeight && field === "") {
      this.fail(column, "the height is not filled in yet; fill in the height or delete the line");
      return null;
    }
    const range = isHeight ? this.heights.wanted : "a place within 100 m of the origin";
    const bed =
      isHeight && mm !== null && this.lines.length === 0 && Math.abs(mm) < BED_MM_MAX
        ? "; a touch on the bare bed is no reading: delete the line"
        : "";
    const other = isHeight && mm !== null ? this.otherUnit(field) : null;
    const unit =
      other === null
        ? ""
        : `. It was read in ${unitWord(this.unitsAt(axis))}: if the list is in ${unitWord(other)}, write "# units: ${other}" as its first line`;
    this.fail(
      column,
      `found ${quoted(field)} for ${name}; wanted ${mm === null ? this.numberWanted(axis, field) : range}${bed}${unit}`,
    );
    // The other heights would only say the same.
    if (other !== null && this.lines.length === 0) this.stopped = true;
    return null;
  }

  /** The unit in which a bare height that does not fit would; null where there is none. */
  private otherUnit(field: string): Units | null {
    const read = this.unitsAt(2);
    const other: Units = read === "mm" ? "in" : "mm";
    const mm = (units: Units) => readField(field, this.separator === ",", units);
    const fits = mm(other);
    return mm(read) !== fits && fits !== null && this.heights.fits(fits) ? other : null;
  }

  /** A fraction without a unit is of inches, and stands where inches are meant. */
  private numberWanted(axis: number, field: string): string {
    const isMm = this.unitsAt(axis) === "mm" && FRACTION.test(field);
    return isMm ? `a number in mm, or the fraction with its unit, as ${quoted(`${field} in`)}` : "a number";
  }

  /** A first column that counts the rows is not x. */
  private checkCount(fields: readonly string[]): void {
    if (this.header !== null || fields.length === 3 || this.counted < 0) return;
    const value = /^\d+$/.test(fields[0]) ? Number(fields[0]) : Number.NaN;
    const counts = this.counted === 0 ? value <= 1 : value === this.lastCount + 1;
    this.counted = counts ? this.counted + 1 : -1;
    this.lastCount = value;
    if (this.counted < ROWS_COUNTED) return;
    const text = `the first of ${fields.length} columns counts the rows; wanted x there, or a header line that names the columns, as n,x,y,z`;
    this.stop(text, this.firstRow);
  }

  /** Columns that no header names must be numbers too. */
  private checkBeside(fields: readonly string[], raw: string): boolean {
    for (let k = 3; k < fields.length; k++) {
      if (readField(fields[k], this.separator === ",", "in") !== null) continue;
      const text = `found ${quoted(fields[k])} in column ${k + 1}; wanted a number there, or a header line that names the columns`;
      this.fail(columnOf(fields, k, raw), text);
      return false;
    }
    return true;
  }

  private unitsAt(axis: number): Units {
    return this.header?.value.units[axis] ?? this.units?.value ?? this.jobUnits;
  }

  private take(place: readonly number[]): void {
    this.xyz.push(...place);
    this.lines.push(this.line);
  }

  /** The header's units must not contradict those of a comment, nor name one for some of the columns only. */
  private checkUnits(): void {
    if (this.header === null) return;
    const { units } = this.header.value;
    const file = this.units?.value ?? this.jobUnits;
    const named = units.find((unit) => unit !== null);
    if (!named) return;
    const other = this.units !== null && units.some((unit) => unit !== null && unit !== file);
    const whole = units.every((unit) => unit !== null) || units.every((unit) => (unit ?? file) === file);
    if (!other && whole) return;
    const against = other
      ? `line ${this.units?.line} says ${file}`
      : "not for all of x, y and z; wanted one unit for all";
    this.stop(`the header names ${named}, and ${against}`, this.header.line);
  }

  private checkWhole(): void {
    const { xyz, lines } = this;
    if (!this.heights.fits(0) && beginsOnBed(xyz)) {
      const text =
        "the first reading is next to nothing, all others are far above it: a touch on the bare bed is no reading; delete the line";
      this.report(lines[0], 1, text);
    }
  }

  private applyShift(): void {
    if (this.shift === null) return;
    const units = this.units?.value ?? this.jobUnits;
    const [dx, dy] = this.shift.value.map((text) => readField(text, false, units) ?? Number.NaN);
    if (!(Math.abs(dx) <= PLACE_MAX_MM && Math.abs(dy) <= PLACE_MAX_MM)) {
      this.report(this.shift.line, 1, "found a shift of more than 100 m");
      return;
    }
    for (let k = 0; k < this.xyz.length; k += 3) {
      this.xyz[k] += dx;
      this.xyz[k + 1] += dy;
    }
  }

  private fail(column: number, text: string): void {
    this.report(this.line, column, text);
  }

  private stop(text: string, line = this.line): void {
    this.report(line, 1, text);
    this.stopped = true;
  }
}

/** Whether the first of many readings is next to nothing, where all others are of one face. */
function beginsOnBed(xyz: readonly number[]): boolean {
  if (xyz.length < 24 || !(xyz[2] < BED_MM_MAX)) return false;
  let [least, most] = [Number.POSITIVE_INFINITY, 0];
  for (let k = 5; k < xyz.length; k += 3) {
    least = Math.min(least, xyz[k]);
    most = Math.max(most, xyz[k]);
  }
  return least > WOOD_MM_MIN && most < 2 * least;
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

/** A line without the marks of empty cells, and of a quoted one, at its end. */
function withoutEmptyCells(text: string): string {
  let end = text.length;
  while (end > 0 && ',; \t"'.includes(text[end - 1])) end--;
  return text.slice(0, end).trimStart();
}

/** A first line without a single number in it names the columns. */
function namesColumns(content: string): boolean {
  if (WORDS.test(content)) return false;
  return content.split(/[;,\s]+/).every((word) => !/^["']?[+-]?(?:[.,]?\d|nan\b|inf)/i.test(word));
}

/** What parts the columns of a first row; `columns` are wanted where that is known. */
function separatorOf(content: string, columns: number): Separator {
  if (content.includes(";")) return ";";
  if (content.includes("\t")) return "\t";
  if (!content.includes(",")) return " ";
  // "10,5 20,5 31,2" are three numbers with decimal commas, "10, 20, 31" three without.
  const readable = (by: Separator) => {
    const fields = split(content, by);
    const enough = columns === 0 ? fields.length >= 3 : fields.length === columns;
    return enough && fields.every((field) => readField(field, by === ",", "in") !== null);
  };
  return !readable(",") && readable(" ") ? " " : ",";
}

/** Whether a row that commas part may be fewer numbers with decimal commas. */
function isAmbiguous(row: string, separator: Separator): boolean {
  return separator === "," && !row.includes(".");
}

function split(content: string, separator: Separator): string[] {
  return separator === " " ? content.split(/\s+/) : content.split(separator).map((field) => field.trim());
}

/** Where field k of a line stands in it, from 1; 1 for a field with nothing in it. */
function columnOf(fields: readonly string[], k: number, raw: string): number {
  if (fields[k] === "") return 1;
  let at = 0;
  for (let before = 0; before < k; before++) at = raw.indexOf(fields[before], at) + fields[before].length;
  return raw.indexOf(fields[k], at) + 1;
}

const NUMBER = /^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?$/;
/** Of inches, as on a tape: "3/4", "1 3/4". */
const FRACTION = /^-?(?:\d+ +)?\d+\/\d+$/;
const WORD = /([A-Za-z])\s*(?:[:=]\s*)?([+-]?(?:\d+(?:\.\d*)?|\.\d+))/g;
// Only one way to take a line apart, so that none takes long.
const WORDS = /^(?:[A-Za-z]\s*(?:[:=]\s*)?[+-]?(?:\d+(?:\.\d*)?|\.\d+)[,;\s]*)+$/;

function readField(field: string, commasPart: boolean, units: Units): number | null {
  // A table's program puts what holds a mark of inches in quotes, and doubles the mark.
  const bare = /^(["']).*\1$/.test(field) ? field.slice(1, -1).replaceAll('""', '"').trim() : field;
  if (units === "in" && FRACTION.test(bare)) return parseLength(`${bare} in`, units);
  if (!NUMBER.test(bare)) return parseLength(bare, units);
  return bare.includes(",") && commasPart ? null : parseLength(Number(bare.replace(",", ".")), units);
}

/** Two lengths, as "120 110", "120, 110" or "4 in, 5 in"; null where it is anything else. */
function shiftOf(text: string): readonly [string, string] | null {
  for (const by of [/\s+/, /\s*[,;]\s*/, /\s*;\s*/]) {
    const parts = text.split(by);
    if (parts.length !== 2 || parts.some((part) => readField(part, false, "mm") === null)) continue;
    return [parts[0], parts[1]];
  }
  return null;
}
