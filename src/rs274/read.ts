// RS-274/NGC text as a track: the language of NISTIR 6556 section 3 without parameters, expressions, rotary axes,
// cutter compensation, canned cycles, probing and machine coordinates, which are named with their line. XY plane only.
// Text in, as a whole or in pieces; out the track in mm, mm/min and program coordinates, and findings for people.
// Never throws for what a program says. Shares nothing with the writer but the track; makes no object a line.

import { Kind, Track } from "../motion/track.ts";
import type { Units } from "../units.ts";
import {
  CALLS,
  G_GROUP,
  INTEGER_TOLERANCE,
  letterOf,
  M_GROUP,
  M_TOO_MANY,
  NO_WORD,
  nameOf,
} from "./codes.ts";
import { Block, Controller } from "./controller.ts";
import { type FindingCode, Findings, type ProgramFinding } from "./findings.ts";

export interface ReadProgram {
  readonly track: Track;
  /** No finding but notes. */
  readonly ok: boolean;
  /** The first hundred. */
  readonly findings: readonly ProgramFinding[];
  /** How many there are of each code that is no note. */
  readonly errors: ReadonlyMap<FindingCode, number>;
  /** Lines read; text after the program's end is not. */
  readonly lines: number;
  /** As first stated by G20 or G21; null when never. */
  readonly units: Units | null;
}

/**
 * Reads a whole program, into the track given or a new one; entries it held are gone. Only one that is read as
 * `probing` may touch (G38.2).
 */
export function readProgram(text: string | Uint8Array, track?: Track, probing = false): ReadProgram {
  // Counting lines first is cheaper than columns that grow.
  const reader = new ProgramReader(track ?? new Track(64 + countLines(text)), probing);
  reader.track.count = 0;
  reader.feed(text);
  return reader.finish();
}

/**
 * What is wrong with one line of the shop's own for the start or end of programs, or null: it must be plain
 * RS-274 that moves nothing, ends nothing and leaves units, plane, zero and the meaning of coordinates alone.
 */
export function checkStartLine(line: string): string | null {
  if (/[\r\n]/.test(line)) return "must be one line";
  if (line.trim() === "") return "is empty";
  if (!/^[\x20-\x7e]+$/.test(line)) return "must be plain ASCII";
  if (line.length > OWN_LINE_MAX)
    return `has ${line.length} characters, at most ${OWN_LINE_MAX} are possible`;
  if (/^\s*[/%n]/i.test(line)) return "must not start with /, % or a line number";
  const reader = new ProgramReader(new Track(8));
  reader.feed(`${line}\n`);
  return reader.whyNotPlain();
}

const LF = 0x0a;
const CR = 0x0d;
/** NISTIR 6556 section 3.3. */
const LINE_MAX = 256;
/** A shop's own line leaves room for a line number. */
const OWN_LINE_MAX = LINE_MAX - 7;

/** What a byte may be outside comments. */
const Byte = { other: 0, letter: 1, number: 2, blank: 3, end: 4 } as const;
const BYTES = new Uint8Array(256);
for (let c = 0x41; c <= 0x5a; c++) {
  BYTES[c] = Byte.letter;
  BYTES[c + 0x20] = Byte.letter;
}
for (const char of "0123456789.+-") BYTES[char.charCodeAt(0)] = Byte.number;
for (const char of " \t") BYTES[char.charCodeAt(0)] = Byte.blank;
for (const char of "\r\n") BYTES[char.charCodeAt(0)] = Byte.end;

const G = letterOf("G");
const M = letterOf("M");
const N = letterOf("N");
const TENS = Float64Array.from({ length: 16 }, (_, k) => 10 ** k);
/** More digits than this do not fit a double exactly; such numbers take the slow way. */
const DIGITS_MAX = 15;
const FUNCTION = /^(abs|acos|asin|atan|cos|exp|fix|fup|ln|round|sin|sqrt|tan)/i;
const FAILED = -1;

/**
 * Reads a program in pieces of any size. Between pieces the entries read so far may be used and
 * `track.count` set back to 0, so that a program of any length fits a small track.
 */
export class ProgramReader {
  readonly track: Track;
  private readonly findings = new Findings();
  private readonly block = new Block();
  private readonly controller: Controller;

  private anyLine = false;
  /** The program began with a %. */
  private opened = false;
  /** Nothing more will be read. */
  private done = false;
  /** The last piece ended in CR: an LF that comes next belongs to it. */
  private skipLf = false;
  /** The line begun by the pieces before; of one that is too long anyway, only the beginning. */
  private readonly carry = new Uint8Array(4 * LINE_MAX);
  private carried = 0;

  // The line at hand.
  private bytes: Uint8Array = this.carry;
  private lineStart = 0;
  private slowValue = 0;

  constructor(track: Track, probing = false) {
    this.track = track;
    this.controller = new Controller(track, this.findings, this.block, probing);
  }

  /** Takes the next piece of the text. */
  feed(piece: Uint8Array | string): void {
    if (typeof piece === "string") {
      this.feedString(piece);
      return;
    }
    if (this.done) return;
    let from = 0;
    if (this.skipLf && piece.length > 0) {
      this.skipLf = false;
      if (piece[0] === LF) from = 1;
    }
    if (this.carried > 0) {
      while (from < piece.length && BYTES[piece[from]] !== Byte.end) this.carryByte(piece[from++]);
      if (from === piece.length) return;
      const isCr = piece[from++] === CR;
      if (isCr && from === piece.length) this.skipLf = true;
      else if (isCr && piece[from] === LF) from++;
      this.readCarried();
    }
    let to = piece.length;
    while (to > from && BYTES[piece[to - 1]] !== Byte.end) to--;
    this.readLines(piece, from, to);
    for (let k = to; k < piece.length; k++) this.carryByte(piece[k]);
  }

  /** Ends the text and says what was read. The reader is of no more use afterwards. */
  finish(): ReadProgram {
    const { findings, controller } = this;
    const isCut = this.carried > 0;
    if (isCut) this.readCarried();
    if (!controller.ended) {
      const where = isCut ? `in the middle of line ${findings.line}` : `after line ${findings.line}`;
      const text = `The text stops ${where} without M2, M30 or a closing %: it may have been cut off.`;
      findings.error("no-end", 1, text);
    } else if (this.opened && !this.done) {
      findings.error("percent", 1, "The program opens with % and never closes with a second one.");
    }
    return {
      track: this.track,
      ok: findings.errors.size === 0,
      findings: findings.list,
      errors: findings.errors,
      lines: findings.line,
      units: controller.firstUnits,
    };
  }

  /** For checkStartLine: what the text read so far does that a line of the shop's own may not, or null. */
  whyNotPlain(): string | null {
    const { controller, findings, track } = this;
    const wrong = findings.list.find((finding) => !finding.note || finding.code === "semicolon");
    if (wrong !== undefined) return `column ${wrong.column}: ${wrong.text}`;
    if (controller.ended) return "ends the program";
    if (controller.units !== null) return "states units, which the program does itself";
    if (controller.incremental) return "changes to incremental coordinates (G91)";
    for (let i = 0; i < track.count; i++) {
      if (track.kind[i] <= Kind.arcCounter) return "moves the cutter";
      if (track.kind[i] === Kind.offset) return "names a work offset, which the program does itself";
    }
    return null;
  }

  private feedString(text: string): void {
    const piece = new Uint8Array(Math.min(text.length, 1 << 16));
    for (let from = 0; from < text.length; from += piece.length) {
      const length = Math.min(piece.length, text.length - from);
      for (let k = 0; k < length; k++) {
        const c = text.charCodeAt(from + k);
        piece[k] = c < 0x80 ? c : 0xff;
      }
      this.feed(piece.subarray(0, length));
    }
  }

  private carryByte(byte: number): void {
    if (this.carried < this.carry.length) this.carry[this.carried++] = byte;
  }

  private readCarried(): void {
    // A full carry is a line that is much too long and not all there: nothing else is to be said of it.
    const length = this.carried < this.carry.length ? this.carried : 0;
    const isWhole = length > 0;
    this.carried = 0;
    this.carry[length] = LF;
    if (isWhole || this.controller.ended) {
      this.readLines(this.carry, 0, length + 1);
    } else {
      this.anyLine = true;
      this.findings.line++;
      this.failTooLong();
    }
  }

  /** Reads whole lines: the byte before `to` ends one. */
  private readLines(bytes: Uint8Array, from: number, to: number): void {
    const { controller, findings } = this;
    this.bytes = bytes;
    let p = from;
    while (p < to && !controller.ended) {
      findings.line++;
      this.lineStart = p;
      let end = this.readWords(bytes, p);
      let failed = end === FAILED;
      if (failed) {
        this.anyLine = true;
        end = this.endOfLine(p);
      }
      if (end - p > LINE_MAX) {
        findings.error(
          "line-too-long",
          LINE_MAX + 1,
          `The line has more than the ${LINE_MAX} characters allowed.`,
        );
        failed = true;
      }
      if (!failed) controller.execute();
      p = this.afterLine(end, to);
    }
    if (p < to) this.readAfterEnd(p, to);
  }

  /** Reads the words of one line into the block; returns where the line ends, or FAILED after a finding. */
  private readWords(bytes: Uint8Array, start: number): number {
    const { values, columns, gCodes, gColumns } = this.block;
    let letters = 0;
    let gGroups = 0;
    let mGroups = 0;
    // Nothing but blanks and a / so far: a line number may come.
    let isFirst = true;
    let p = start;
    for (;;) {
      let c = bytes[p];
      const type = BYTES[c];
      if (type === Byte.end) break;
      if (type === Byte.blank) {
        p++;
        continue;
      }
      if (type !== Byte.letter) {
        p = this.readOther(p, isFirst);
        if (p === FAILED) return FAILED;
        isFirst = isFirst && c === 0x2f;
        continue;
      }
      const letter = c & 31;
      let q = p + 1;
      c = bytes[q];
      let isNegative = false;
      if (c === 0x2d) {
        isNegative = true;
        c = bytes[++q];
      } else if (c === 0x2b) {
        c = bytes[++q];
      }
      const first = q;
      let value = 0;
      while (c >= 0x30 && c <= 0x39) {
        value = value * 10 + (c - 0x30);
        c = bytes[++q];
      }
      let digits = q - first;
      if (c === 0x2e) {
        c = bytes[++q];
        const point = q;
        while (c >= 0x30 && c <= 0x39) {
          value = value * 10 + (c - 0x30);
          c = bytes[++q];
        }
        digits += q - point;
        // One division of two exact numbers: rounded once, as parseFloat does.
        if (digits <= DIGITS_MAX) value /= TENS[q - point];
      }
      // From nothing, so that -0 becomes 0.
      if (isNegative) value = 0 - value;
      while (c === 0x20) c = bytes[++q];
      if (digits === 0 || digits > DIGITS_MAX || BYTES[c] === Byte.number || BYTES[c] === Byte.blank) {
        // Blanks within the number, too many digits, or no number at all.
        q = this.readNumberSlowly(p, letter);
        if (q === FAILED) return FAILED;
        value = this.slowValue;
      }
      if (letter === G) {
        const code = Math.round(10 * value);
        const group = code >= 0 && code < G_GROUP.length ? G_GROUP[code] : 0;
        const isInteger = Math.abs(10 * value - code) <= INTEGER_TOLERANCE;
        if (group === 0 || (gGroups & (1 << group)) !== 0 || !isInteger) {
          return this.failG(p, value, isInteger ? group : 0);
        }
        gGroups |= 1 << group;
        gCodes[group] = code;
        gColumns[group] = p - start + 1;
      } else if (letter === M) {
        const group = this.takeM(p, value, mGroups);
        if (group === FAILED) return FAILED;
        mGroups |= 1 << group;
      } else if (letter === N) {
        if (!this.isLineNumber(p, q, isFirst)) return this.failWord(p, letter, isFirst);
      } else {
        const bit = 1 << letter;
        if (((letters | NO_WORD) & bit) !== 0) return this.failWord(p, letter, isFirst);
        letters |= bit;
        values[letter] = value;
        columns[letter] = p - start + 1;
      }
      isFirst = false;
      p = q;
    }
    if (!isFirst) this.anyLine = true;
    this.block.letters = letters;
    this.block.gGroups = gGroups;
    this.block.mGroups = mGroups;
    return p;
  }

  /** Where the next line starts; CR, LF and CR LF all end one. */
  private afterLine(end: number, to: number): number {
    const next = end + 1;
    if (this.bytes[end] !== CR) return next;
    if (next === to) {
      this.skipLf = true;
      return next;
    }
    return this.bytes[next] === LF ? next + 1 : next;
  }

  /** After M2 or M30 nothing counts but the closing % of a program that opened with one. */
  private readAfterEnd(from: number, to: number): void {
    if (!this.opened) this.done = true;
    let p = from;
    while (p < to && !this.done) {
      this.done = this.isOnlyPercent(p);
      p = this.afterLine(this.endOfLine(p), to);
      this.findings.line++;
    }
  }

  /** Reads the number after the letter at `p`, blanks and all, into `slowValue`; returns where it ends or FAILED. */
  private readNumberSlowly(p: number, letter: number): number {
    const { bytes } = this;
    let text = "";
    let q = p + 1;
    for (; BYTES[bytes[q]] === Byte.number || BYTES[bytes[q]] === Byte.blank; q++) {
      if (BYTES[bytes[q]] === Byte.number) text += String.fromCharCode(bytes[q]);
    }
    if (/^[+-]?(\d+\.?\d*|\.\d+)$/.test(text)) {
      // From nothing, so that -0 becomes 0.
      this.slowValue = 0 + Number(text);
      return q;
    }
    const name = nameOf(letter);
    if ((NO_WORD & (1 << letter)) !== 0) return this.failWord(p, letter, false);
    if (/\d/.test(text)) return this.fail("bad-number", p, `${name}${text} is not a number.`);
    if (bytes[q] === 0x23)
      return this.fail("unsupported", q, "Parameters (#) are not read: write the number itself.");
    if (bytes[q] === 0x5b || FUNCTION.test(this.textOf(q, this.endOfLine(q)))) {
      return this.fail("unsupported", q, "Expressions are not read: write the number itself.");
    }
    return this.fail("bad-number", p, `${name} stands without a number.`);
  }

  /** Whether the N word at `p` up to `q` stands first and has one to five digits, NISTIR 6556 section 3.3.1. */
  private isLineNumber(p: number, q: number, isFirst: boolean): boolean {
    return isFirst && /^ *\d( *\d){0,4} *$/.test(this.textOf(p + 1, q).replaceAll("\t", " "));
  }

  /** Group of an M word if it may stand here, else FAILED after a finding. */
  private takeM(p: number, value: number, groups: number): number {
    const { mCodes, mColumns } = this.block;
    const code = Math.round(value);
    const isKnown = code >= 0 && code < M_GROUP.length && Math.abs(value - code) <= INTEGER_TOLERANCE;
    const group = isKnown ? M_GROUP[code] : 0;
    if (group === 0) return this.failCode(p, `M${value}`);
    if ((groups & (1 << group)) !== 0) {
      return this.fail("modal-clash", p, `M${mCodes[group]} and M${code} may not be on one line.`);
    }
    if ((groups | (1 << group)) === M_TOO_MANY) {
      return this.fail("modal-clash", p, "There are more than four M words on one line.");
    }
    mCodes[group] = code;
    mColumns[group] = p - this.lineStart + 1;
    return group;
  }

  private failG(p: number, value: number, group: number): typeof FAILED {
    if (group === 0) return this.failCode(p, `G${value}`);
    const other = this.block.gCodes[group] / 10;
    return this.fail("modal-clash", p, `G${other} and G${value} may not be on one line.`);
  }

  private failCode(p: number, word: string): typeof FAILED {
    const call = CALLS.get(word);
    if (call === undefined) return this.fail("unknown-code", p, `${word} is no code of the language.`);
    return this.fail("unsupported", p, `${call}, which is not read: write all moves into one program.`);
  }

  /** A word that may not stand where it does. */
  private failWord(p: number, letter: number, isFirst: boolean): typeof FAILED {
    const name = nameOf(letter);
    if (letter === N) {
      const wanted = isFirst ? "takes one to five digits" : "must be the first word of its line";
      return this.fail("bad-line-number", p, `N ${wanted}.`);
    }
    if (name === "O") {
      return this.fail(
        "unsupported",
        p,
        "O words (names of programs, subprograms and loops) are not read: write all moves into one program.",
      );
    }
    if (name === "E") {
      return this.fail("unknown-letter", p, "E is no word of the language, and a number has no exponent.");
    }
    if ((NO_WORD & (1 << letter)) !== 0) {
      return this.fail("unknown-letter", p, `${name} is no word of the language.`);
    }
    return this.fail("repeated-word", p, `${name} stands twice on one line.`);
  }

  /** Reads what is neither word nor blank: returns where it ends, or FAILED when it may not be here. */
  private readOther(p: number, isFirst: boolean): number {
    const c = this.bytes[p];
    const char = String.fromCharCode(c);
    if (char === "(") return this.readComment(p);
    if (char === "%") return this.readPercent(p);
    if (char === ";") {
      const text =
        "The standard knows no comments after a semicolon; what follows one is left out, here and below.";
      this.findings.note("semicolon", p - this.lineStart + 1, text);
      return this.endOfLine(p);
    }
    if (char === "/" && isFirst && /^[ \t]*$/.test(this.textOf(this.lineStart, p))) {
      const text = "Lines that start with / are carried out like the others, here and below.";
      this.findings.note("block-delete", p - this.lineStart + 1, text);
      return p + 1;
    }
    if (char === "#") {
      return this.fail("unsupported", p, "Parameters (#) are not read: write the numbers themselves.");
    }
    if (BYTES[c] === Byte.number)
      return this.fail("bad-number", p, "A number stands without a letter before it.");
    if (c > 0x20 && c < 0x7f) return this.fail("bad-character", p, `"${char}" may not stand here.`);
    return this.fail(
      "bad-character",
      p,
      `A character that is not plain ASCII (byte ${c}) outside a comment.`,
    );
  }

  /** NISTIR 6556 section 3.3.4: closed on its line, none inside another, printable. */
  private readComment(p: number): number {
    const { bytes } = this;
    for (let q = p + 1; ; q++) {
      const c = bytes[q];
      if (c === 0x29) return q + 1;
      if (c === 0x28) return this.fail("bad-comment", q, "A comment may not hold another one: ( inside ( ).");
      if (BYTES[c] === Byte.end) {
        return this.fail("bad-comment", p, "A comment is not closed: ) is missing on its line.");
      }
      if ((c < 0x20 && c !== 0x09) || c === 0x7f) {
        return this.fail("bad-comment", q, `A comment holds a control character (byte ${c}).`);
      }
      if (c > 0x7f) {
        const text = "A comment holds characters that are not plain ASCII; some controllers stop there.";
        this.findings.note("comment-character", q - this.lineStart + 1, text);
      }
    }
  }

  /** A % alone on the first line opens a program, a second one closes it: NISTIR 6556 section 3.1. */
  private readPercent(p: number): number {
    if (!this.isOnlyPercent(this.lineStart)) return this.fail("percent", p, "% must be alone on its line.");
    if (this.opened) {
      this.controller.end();
      this.done = true;
    } else if (this.anyLine) {
      return this.fail("percent", p, "% closes a program that was not opened with one.");
    }
    this.opened = true;
    return this.endOfLine(p);
  }

  private isOnlyPercent(start: number): boolean {
    return /^[ \t]*%[ \t]*$/.test(this.textOf(start, this.endOfLine(start)));
  }

  private failTooLong(): void {
    const text = `The line has more than the ${LINE_MAX} characters that are allowed.`;
    this.findings.error("line-too-long", LINE_MAX + 1, text);
  }

  private fail(code: FindingCode, p: number, text: string): typeof FAILED {
    this.findings.error(code, p - this.lineStart + 1, text);
    return FAILED;
  }

  private endOfLine(p: number): number {
    let q = p;
    while (BYTES[this.bytes[q]] !== Byte.end) q++;
    return q;
  }

  private textOf(from: number, to: number): string {
    let text = "";
    for (let k = from; k < to; k++) text += String.fromCharCode(this.bytes[k]);
    return text;
  }
}

function countLines(text: string | Uint8Array): number {
  let lines = 0;
  if (typeof text === "string") {
    for (let at = text.indexOf("\n"); at >= 0; at = text.indexOf("\n", at + 1)) lines++;
  } else {
    for (let at = text.indexOf(LF); at >= 0; at = text.indexOf(LF, at + 1)) lines++;
  }
  return lines;
}
