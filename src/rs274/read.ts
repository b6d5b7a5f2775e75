// RS-274/NGC text as a track: the language of NISTIR 6556 section 3 without parameters, expressions, rotary axes,
// cutter compensation, canned cycles, probing and machine coordinates, which are named with their line. XY plane only.
// Text in, as a whole or in pieces; out the track in mm, mm/min and program coordinates, and findings for people.
// Never throws for what a program says. Shares nothing with the writer but the track; makes no object a line.

import { Kind, Track } from "../motion/track.ts";
import type { Units } from "../units.ts";

/** Something to say about a program. */
export interface ProgramFinding {
  readonly code: FindingCode;
  /** From 1; a column counts bytes, or UTF-16 units where the text came as a string. */
  readonly line: number;
  readonly column: number;
  readonly text: string;
  /** Worth knowing, but not wrong. */
  readonly note: boolean;
}

/** Stable. The last five are notes. */
export type FindingCode =
  | "bad-character"
  | "unknown-letter"
  | "bad-number"
  | "bad-comment"
  | "bad-line-number"
  | "line-too-long"
  | "percent"
  | "no-end"
  | "unknown-code"
  | "unsupported"
  | "modal-clash"
  | "repeated-word"
  | "unused-word"
  | "bad-value"
  | "axis-missing"
  | "no-motion-mode"
  | "no-feed"
  | "arc-form"
  | "arc-radius"
  | "arc-start"
  | "no-dwell-time"
  | "block-delete"
  | "semicolon"
  | "comment-character"
  | "units-not-stated"
  | "offset-change";

export interface ReadProgram {
  readonly track: Track;
  /** No finding but notes. */
  readonly ok: boolean;
  /** The first hundred. */
  readonly findings: readonly ProgramFinding[];
  /** Lines read; text after the program's end is not. */
  readonly lines: number;
  /** As first stated by G20 or G21; null when never. */
  readonly units: Units | null;
}

/** Reads a whole program. The track's entries are replaced when one is given to be filled again. */
export function readProgram(text: string | Uint8Array, track?: Track): ReadProgram {
  const reader = new ProgramReader(track ?? new Track(64 + countLines(text)));
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
  // Room for a line number.
  if (line.length > LINE_MAX - 7)
    return `has ${line.length} characters, at most ${LINE_MAX - 7} are possible`;
  if (/^\s*[/%n]/i.test(line)) return "must not start with /, % or a line number";
  const reader = new ProgramReader(new Track(8));
  reader.feed(`${line}\n`);
  const { findings } = reader.finish();
  const wrong = findings.find((finding) => finding.code !== "no-end");
  if (wrong !== undefined) return `column ${wrong.column}: ${wrong.text}`;
  return reader.changesMeaning();
}

const LF = 0x0a;
const CR = 0x0d;
const LINE_MAX = 256;
const FINDINGS_MAX = 100;
/** Radii of an arc may differ by this much, NISTIR 6556 section 3.5.3.2: mm in G21, inches in G20. */
const RADIUS_TOLERANCE_MM = 0.002;
const RADIUS_TOLERANCE_INCH = 0.0002;
/** So far may a number be from the integer it must be, NISTIR 6556 section 3.3.2.1. */
const INTEGER_TOLERANCE = 0.0001;

/** What a byte may be outside comments. */
const Byte = { bad: 0, letter: 1, number: 2, blank: 3, end: 4, other: 5 } as const;
const BYTES = new Uint8Array(256);
for (let c = 0x41; c <= 0x5a; c++) {
  BYTES[c] = Byte.letter;
  BYTES[c + 0x20] = Byte.letter;
}
for (const c of "0123456789.+-") BYTES[c.charCodeAt(0)] = Byte.number;
for (const c of " \t") BYTES[c.charCodeAt(0)] = Byte.blank;
for (const c of "\r\n") BYTES[c.charCodeAt(0)] = Byte.end;
for (const c of "(;/%#[") BYTES[c.charCodeAt(0)] = Byte.other;

// A word's letter as a number (A is 1) and as a bit of the line's set of words.
const letterOf = (name: string) => name.charCodeAt(0) & 31;
const bitOf = (name: string) => 1 << letterOf(name);
const F = letterOf("F");
const G = letterOf("G");
const I = letterOf("I");
const J = letterOf("J");
const M = letterOf("M");
const N = letterOf("N");
const P = letterOf("P");
const R = letterOf("R");
const S = letterOf("S");
const T = letterOf("T");
const X = letterOf("X");
const Y = letterOf("Y");
const Z = letterOf("Z");
const XYZ = bitOf("X") | bitOf("Y") | bitOf("Z");
const XYZF = XYZ | bitOf("F");
const NEVER_USED = ["D", "H", "K", "L", "Q"] as const;
const ROTARY = ["A", "B", "C"] as const;
/** E, O, U, V, W are no words of the language, NISTIR 6556 table 3. */
const NO_WORD = bitOf("E") | bitOf("O") | bitOf("U") | bitOf("V") | bitOf("W");

/** Modal groups of G codes, NISTIR 6556 table 4; group 0 is there as 15. Index is ten times the code. */
const Group = { motion: 1, plane: 2, distance: 3, feedMode: 5, units: 6, offset: 12, other: 15 } as const;
const G_GROUP = new Uint8Array(1000);
const groupG = (group: number, codes: readonly number[]) => {
  for (const code of codes) G_GROUP[Math.round(10 * code)] = group;
};
groupG(Group.motion, [0, 1, 2, 3, 38.2, 80, 81, 82, 83, 84, 85, 86, 87, 88, 89]);
groupG(Group.plane, [17, 18, 19]);
groupG(Group.distance, [90, 91]);
groupG(Group.feedMode, [93, 94]);
groupG(Group.units, [20, 21]);
groupG(7, [40, 41, 42]);
groupG(8, [43, 49]);
groupG(10, [98, 99]);
groupG(Group.offset, [54, 55, 56, 57, 58, 59, 59.1, 59.2, 59.3]);
groupG(13, [61, 61.1, 64]);
groupG(Group.other, [4, 10, 28, 30, 53, 92, 92.1, 92.2, 92.3]);
const G_MOTION = 1 << Group.motion;

/** G codes of the language that this reader refuses. `lost` ones leave the cutter where this reader does not know. */
const G_REFUSED: ReadonlyMap<number, string> = new Map([
  [100, "G10 sets offsets, which lie outside the program"],
  [180, "G18 turns arcs into the XZ plane; only G17 is read"],
  [190, "G19 turns arcs into the YZ plane; only G17 is read"],
  [280, "G28 goes by way of a home that the program does not tell"],
  [300, "G30 goes by way of a home that the program does not tell"],
  [382, "G38.2 probes, and where it stops is not in the program"],
  [410, "G41 is cutter compensation; write the path of the cutter's centre"],
  [420, "G42 is cutter compensation; write the path of the cutter's centre"],
  [430, "G43 takes a tool length that the program does not tell; touch off each tool instead"],
  [530, "G53 goes by machine coordinates, which the program does not tell"],
  [920, "G92 moves the zero while the program runs"],
  [921, "G92.1 moves the zero while the program runs"],
  [922, "G92.2 moves the zero while the program runs"],
  [923, "G92.3 moves the zero while the program runs"],
  [930, "G93 gives feeds as inverse time; write them with G94, per minute"],
  ...[81, 82, 83, 84, 85, 86, 87, 88, 89].map((code): [number, string] => [
    10 * code,
    `G${code} is a canned cycle; write its moves out`,
  ]),
]);
const LOSES_PLACE: ReadonlySet<number> = new Set([
  280, 300, 382, 530, 810, 820, 830, 840, 850, 860, 870, 880, 890, 920, 921, 922, 923,
]);

/** Modal groups of M codes, NISTIR 6556 table 4. */
const MGroup = { stop: 4, tool: 6, spindle: 7, coolant: 8, override: 9 } as const;
const M_GROUP = new Uint8Array(100);
for (const code of [0, 1, 2, 30, 60]) M_GROUP[code] = MGroup.stop;
M_GROUP[6] = MGroup.tool;
for (const code of [3, 4, 5]) M_GROUP[code] = MGroup.spindle;
for (const code of [7, 8, 9]) M_GROUP[code] = MGroup.coolant;
for (const code of [48, 49]) M_GROUP[code] = MGroup.override;

const ALL_M = [4, 6, 7, 8, 9].reduce((bits, group) => bits | (1 << group), 0);
const FUNCTION = /^(abs|acos|asin|atan|cos|exp|fix|fup|ln|round|sin|sqrt|tan)/i;

const TENS = Float64Array.from({ length: 16 }, (_, k) => 10 ** k);
/** More digits than this do not fit a double exactly; such numbers take the slow way. */
const DIGITS_MAX = 15;
const NO_MOTION = -1;

/**
 * Reads a program in pieces of any size. Between pieces the entries read so far may be used and
 * `track.count` set back to 0, so that a program of any length fits a small track.
 */
export class ProgramReader {
  readonly track: Track;
  private readonly findings: ProgramFinding[] = [];
  private errors = 0;
  private line = 0;

  // What is in force. Positions in mm; NaN until the program has given them.
  private x = NaN;
  private y = NaN;
  private z = NaN;
  private feedMmPerMin = NaN;
  private mmPerUnit = 1;
  private units: Units | null = null;
  private firstUnits: Units | null = null;
  private incremental = false;
  /** G0 to G3 as 0 to 3. */
  private motion = NO_MOTION;
  private offset = 54;
  private speed = 0;
  /** 1 for M3, -1 for M4, 0 for M5. */
  private turning = 0;
  private tool = 0;
  private toldNoFeed = false;
  /** Codes of notes already given: each is given once. */
  private readonly noted = new Set<FindingCode>();

  // Where in the text.
  private anyLine = false;
  private opened = false;
  private ended = false;
  /** Nothing more will be read. */
  private done = false;
  private skipLf = false;
  private readonly carry = new Uint8Array(16 * LINE_MAX);
  private carried = 0;

  // The line at hand.
  private bytes: Uint8Array = this.carry;
  private lineStart = 0;
  private readonly values = new Float64Array(32);
  private readonly gCodes = new Int32Array(16);
  private readonly gColumns = new Int32Array(16);
  private readonly mCodes = new Int32Array(16);
  private readonly mColumns = new Int32Array(16);
  private slowValue = 0;
  private slowIsWhole = false;

  constructor(track: Track) {
    this.track = track;
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
      if (isCr && piece[from] === LF) from++;
      else this.skipLf = isCr && from === piece.length;
      this.readCarried();
    }
    let to = piece.length;
    while (to > from && BYTES[piece[to - 1]] !== Byte.end) to--;
    this.readLines(piece, from, to);
    for (let k = to; k < piece.length; k++) this.carryByte(piece[k]);
  }

  /** Ends the text and says what was read. The reader is of no more use afterwards. */
  finish(): ReadProgram {
    const midLine = this.carried > 0;
    if (midLine) this.readCarried();
    if (!this.ended) {
      const where = midLine ? `in the middle of line ${this.line}` : `after line ${this.line}`;
      this.fail(
        "no-end",
        1,
        `The text stops ${where} without M2, M30 or a closing %: it may have been cut off.`,
      );
    } else if (this.opened && !this.done) {
      this.fail("percent", 1, "The program opens with % and never closes with a second one.");
    }
    const { track, findings, line, firstUnits } = this;
    return { track, ok: this.errors === 0, findings, lines: line, units: firstUnits };
  }

  /** For checkStartLine: what of the modes that a program relies on the text read so far has changed. */
  changesMeaning(): string | null {
    if (this.ended) return "ends the program";
    if (this.units !== null) return "states units, which the program does itself";
    if (this.incremental) return "changes to incremental coordinates (G91)";
    for (let i = 0; i < this.track.count; i++) {
      const kind = this.track.kind[i];
      if (kind <= Kind.arcCounter) return "moves the cutter";
      if (kind === Kind.offset) return "names a work offset, which the program does itself";
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

  /** Keeps a byte of an unfinished line. Of a line longer than allowed only enough to say so. */
  private carryByte(byte: number): void {
    if (this.carried < this.carry.length - 1) this.carry[this.carried++] = byte;
  }

  private readCarried(): void {
    this.carry[this.carried] = LF;
    const length = this.carried + 1;
    this.carried = 0;
    this.readLines(this.carry, 0, length);
  }

  /** Reads whole lines: the byte before `to` ends one. */
  private readLines(bytes: Uint8Array, from: number, to: number): void {
    const { values, gCodes, gColumns } = this;
    this.bytes = bytes;
    let p = from;
    while (p < to) {
      if (this.ended) {
        this.readAfterEnd(bytes, p, to);
        return;
      }
      const start = p;
      this.lineStart = start;
      this.line++;
      let words = 0;
      let gGroups = 0;
      let mGroups = 0;
      let isEmpty = true;
      let failed = false;
      for (;;) {
        let c = bytes[p];
        const type = BYTES[c];
        if (type === Byte.letter) {
          const letter = c & 31;
          let q = p + 1;
          c = bytes[q];
          let negative = false;
          if (c === 0x2d) {
            negative = true;
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
          let isWhole = true;
          if (c === 0x2e) {
            isWhole = false;
            c = bytes[++q];
            const point = q;
            while (c >= 0x30 && c <= 0x39) {
              value = value * 10 + (c - 0x30);
              c = bytes[++q];
            }
            digits += q - point;
            if (digits <= DIGITS_MAX) value /= TENS[q - point];
          }
          // From nothing, so that -0 becomes 0.
          if (negative) value = 0 - value;
          while (c === 0x20) c = bytes[++q];
          if (digits === 0 || digits > DIGITS_MAX || BYTES[c] === Byte.number || BYTES[c] === Byte.blank) {
            // Blanks within the number, too many digits, or no number at all.
            q = this.readNumberSlowly(p, letter);
            if (q < 0) {
              failed = true;
              break;
            }
            value = this.slowValue;
            isWhole = this.slowIsWhole;
          }
          if (letter === G) {
            const tenfold = 10 * value;
            const code = isWhole ? tenfold : Math.round(tenfold);
            const group = code >= 0 && code < 1000 ? G_GROUP[code] : 0;
            if (group === 0 || gGroups & (1 << group) || Math.abs(tenfold - code) > INTEGER_TOLERANCE) {
              this.failG(p, value, group);
              failed = true;
              break;
            }
            gGroups |= 1 << group;
            gCodes[group] = code;
            gColumns[group] = p - start + 1;
          } else if (letter === M) {
            const group = this.takeM(p, value, mGroups);
            if (group === 0) {
              failed = true;
              break;
            }
            mGroups |= 1 << group;
          } else {
            const bit = 1 << letter;
            if (letter === N ? !this.isLineNumber(p, q, isEmpty) : words & bit || bit & NO_WORD) {
              this.failWord(p, letter, isEmpty);
              failed = true;
              break;
            }
            if (letter !== N) {
              words |= bit;
              values[letter] = value;
            }
          }
          isEmpty = false;
          p = q;
        } else if (type === Byte.blank) {
          p++;
        } else if (type === Byte.end) {
          break;
        } else {
          p = this.readOther(p, isEmpty);
          if (p < 0) {
            failed = true;
            break;
          }
          isEmpty = isEmpty && c === 0x2f;
        }
      }
      if (failed) {
        p = start;
        while (BYTES[bytes[p]] !== Byte.end) p++;
      }
      if (p - start > LINE_MAX) {
        this.fail(
          "line-too-long",
          LINE_MAX + 1,
          `The line has ${p - start} characters; ${LINE_MAX} are allowed.`,
        );
        failed = true;
      }
      this.anyLine ||= failed || !isEmpty;
      const isCr = bytes[p++] === CR;
      if (isCr) {
        if (p === to) this.skipLf = true;
        else if (bytes[p] === LF) p++;
      }
      if (failed) continue;
      // Nearly every line of a long program is a straight move and nothing else.
      if (mGroups === 0 && (gGroups & ~G_MOTION) === 0 && (words & ~XYZF) === 0 && this.units !== null) {
        const motion = gGroups === 0 ? this.motion : gCodes[Group.motion] / 10;
        const feed = (words & bitOf("F")) === 0 ? 0 : values[F];
        if ((words & XYZ) !== 0 && (motion === 0 || motion === 1) && feed >= 0) {
          if ((words & bitOf("F")) !== 0) this.setFeed(feed);
          this.motion = motion;
          this.moveStraight(motion, words);
          continue;
        }
      }
      if ((words | gGroups | mGroups) !== 0) this.execute(words, gGroups, mGroups);
    }
  }

  /** After M2 or M30 nothing counts but the closing % of a program that opened with one. */
  private readAfterEnd(bytes: Uint8Array, from: number, to: number): void {
    if (!this.opened) this.done = true;
    let p = from;
    while (p < to && !this.done) {
      const start = p;
      while (BYTES[bytes[p]] !== Byte.end) p++;
      this.line++;
      this.done = this.isOnlyPercent(start);
      p += bytes[p] === CR && bytes[p + 1] === LF ? 2 : 1;
    }
  }

  /**
   * Reads the number after the letter at `p`, blanks and all, into `slowValue`; returns where it ends, or -1
   * when there is none, which is then reported.
   */
  private readNumberSlowly(p: number, letter: number): number {
    const { bytes } = this;
    let digits = "";
    let q = p + 1;
    for (; BYTES[bytes[q]] === Byte.number || BYTES[bytes[q]] === Byte.blank; q++) {
      if (BYTES[bytes[q]] === Byte.number) digits += String.fromCharCode(bytes[q]);
    }
    const name = nameOf(letter);
    if (/^[+-]?(\d+\.?\d*|\.\d+)$/.test(digits)) {
      this.slowValue = 0 + Number(digits);
      this.slowIsWhole = !digits.includes(".");
      return q;
    }
    if ((1 << letter) & NO_WORD) {
      this.failWord(p, letter, false);
    } else if (digits !== "" && digits !== "+" && digits !== "-") {
      this.failAt("bad-number", p, `${name}${digits} is not a number.`);
    } else if (bytes[q] === 0x23) {
      this.failAt("unsupported", q, "Parameters (#) are not read: write the number itself.");
    } else if (bytes[q] === 0x5b || FUNCTION.test(this.lineFrom(q))) {
      this.failAt("unsupported", q, "Expressions are not read: write the number itself.");
    } else {
      this.failAt("bad-number", p, `${name} stands without a number.`);
    }
    return -1;
  }

  /** Whether the N word at `p` up to `q` stands first and has one to five digits, NISTIR 6556 section 3.3.1. */
  private isLineNumber(p: number, q: number, isFirst: boolean): boolean {
    let digits = 0;
    for (let k = p + 1; k < q; k++) {
      const c = this.bytes[k];
      if (c >= 0x30 && c <= 0x39) digits++;
      else if (BYTES[c] !== Byte.blank) return false;
    }
    return isFirst && digits >= 1 && digits <= 5;
  }

  /** Group of an M word if it may stand here, else 0 and a finding. */
  private takeM(p: number, value: number, groups: number): number {
    const code = Math.round(value);
    const group = code >= 0 && code < 100 && Math.abs(value - code) <= INTEGER_TOLERANCE ? M_GROUP[code] : 0;
    if (group === 0) {
      this.failAt("unknown-code", p, `M${value} is no code of the language.`);
      return 0;
    }
    if (groups & (1 << group)) {
      const other = this.mCodes[group];
      this.failAt("modal-clash", p, `M${other} and M${code} on one line contradict each other.`);
      return 0;
    }
    // Of five groups, four may be on a line: NISTIR 6556 section 3.3.5.
    if ((groups | (1 << group)) === ALL_M) {
      this.failAt("modal-clash", p, "More than four M words on one line.");
      return 0;
    }
    this.mCodes[group] = code;
    this.mColumns[group] = p - this.lineStart + 1;
    return group;
  }

  private failG(p: number, value: number, group: number): void {
    if (group === 0 || Math.abs(10 * value - Math.round(10 * value)) > INTEGER_TOLERANCE) {
      this.failAt("unknown-code", p, `G${value} is no code of the language.`);
      return;
    }
    const other = this.gCodes[group] / 10;
    this.failAt("modal-clash", p, `G${other} and G${value} on one line contradict each other.`);
  }

  /** A word that may not stand where it does. */
  private failWord(p: number, letter: number, isFirst: boolean): void {
    const name = nameOf(letter);
    if (letter === N) {
      const wanted = isFirst
        ? "is not a line number: one to five digits"
        : "must be the first word of its line";
      this.failAt("bad-line-number", p, `N ${wanted}.`);
    } else if (name === "O") {
      this.failAt("unsupported", p, "O words (subroutines and loops) are not read: write the moves out.");
    } else if (name === "E") {
      this.failAt("unknown-letter", p, "E is no word of the language; a number may not have an exponent.");
    } else if ((1 << letter) & NO_WORD) {
      this.failAt("unknown-letter", p, `${name} is no word of the language.`);
    } else {
      this.failAt("repeated-word", p, `${name} stands twice on one line.`);
    }
  }

  /** Reads what is neither word nor blank: returns where it ends, or -1 when it may not be here. */
  private readOther(p: number, isFirst: boolean): number {
    const c = this.bytes[p];
    if (c === 0x28) return this.readComment(p);
    if (c === 0x3b) {
      this.note(
        "semicolon",
        p,
        "The standard knows no comments after a semicolon; from here on they are skipped.",
      );
      return this.endOfLine(p);
    }
    if (c === 0x2f && isFirst && /^[ \t]*$/.test(this.lineBefore(p))) {
      this.note(
        "block-delete",
        p,
        "Lines that start with / are taken as carried out, as with the switch off.",
      );
      return p + 1;
    }
    if (c === 0x25) return this.readPercent(p);
    if (c === 0x23) {
      this.failAt("unsupported", p, "Parameters (#) are not read: write the numbers themselves.");
    } else if (BYTES[c] === Byte.number) {
      this.failAt("bad-number", p, "A number stands without a letter before it.");
    } else if (c > 0x20 && c < 0x7f) {
      this.failAt("bad-character", p, `"${String.fromCharCode(c)}" may not stand here.`);
    } else {
      this.failAt("bad-character", p, `A character that is not plain ASCII (byte ${c}) outside a comment.`);
    }
    return -1;
  }

  private readComment(p: number): number {
    const { bytes } = this;
    for (let q = p + 1; ; q++) {
      const c = bytes[q];
      if (c === 0x29) return q + 1;
      if (c === 0x28) {
        this.failAt("bad-comment", q, "A comment may not hold another one: ( inside ( ).");
        return -1;
      }
      if (BYTES[c] === Byte.end) {
        this.failAt("bad-comment", p, "A comment is not closed: ) is missing on its line.");
        return -1;
      }
      if (c > 0x7e) {
        this.note("comment-character", q, "A comment holds characters that are not plain ASCII.");
      } else if (c < 0x20 && c !== 0x09) {
        this.failAt("bad-comment", q, `A comment holds a control character (byte ${c}).`);
        return -1;
      }
    }
  }

  /** A % alone on the first line opens a program, a second one closes it: NISTIR 6556 section 3.1. */
  private readPercent(p: number): number {
    if (!this.isOnlyPercent(this.lineStart)) {
      this.failAt("percent", p, "% must be alone on its line.");
      return -1;
    }
    if (this.opened) {
      this.end();
      this.done = true;
    } else if (this.anyLine) {
      this.failAt("percent", p, "% closes a program that was not opened with one.");
      return -1;
    }
    this.opened = true;
    return this.endOfLine(p);
  }

  private isOnlyPercent(start: number): boolean {
    return /^[ \t]*%[ \t]*$/.test(this.textOf(start, this.endOfLine(start)));
  }

  /** Carries out a line in the order of NISTIR 6556 table 8. Nothing of a line that may not stand is done. */
  private execute(words: number, gGroups: number, mGroups: number): void {
    const { values, gCodes, mCodes } = this;
    const g = (group: number): number => (gGroups & (1 << group) ? gCodes[group] : -1);
    const m = (group: number): number => (mGroups & (1 << group) ? mCodes[group] : -1);
    const has = (letter: number): boolean => (words & (1 << letter)) !== 0;
    if (!this.isSupported(words, gGroups, mGroups)) return;
    const motionCode = g(Group.motion);
    const motion = motionCode === 800 ? NO_MOTION : motionCode >= 0 ? motionCode / 10 : this.motion;
    const isDwell = g(Group.other) === 40;
    if (!this.isComplete(words, motionCode, motion, isDwell)) return;

    if (has(F)) this.setFeed(values[F]);
    const speedBefore = this.speed;
    if (has(S)) this.speed = values[S];
    if (has(T)) this.tool = Math.round(values[T]);
    if (m(MGroup.tool) >= 0) {
      this.push(Kind.toolChange, this.tool);
      // A tool change leaves the spindle stopped, section 3.6.3.
      this.turning = 0;
    }
    const turn = m(MGroup.spindle);
    if (turn >= 0) this.turning = turn === 3 ? 1 : turn === 4 ? -1 : 0;
    if (turn >= 0 || (this.turning !== 0 && this.speed !== speedBefore)) {
      this.push(Kind.spindle, this.turning * this.speed + 0);
    }
    if (isDwell) this.push(Kind.dwell, values[P]);
    if (g(Group.units) >= 0) this.setUnits(g(Group.units) === 200 ? "in" : "mm");
    if (g(Group.offset) >= 0) this.setOffset(g(Group.offset) / 10);
    if (g(Group.distance) >= 0) this.incremental = g(Group.distance) === 910;
    this.motion = motion;
    if ((words & XYZ) !== 0) {
      if (this.units === null) {
        this.note(
          "units-not-stated",
          this.lineStart,
          "The program moves without G20 or G21 before: read as millimetres.",
        );
      }
      if (motion <= 1) this.moveStraight(motion, words);
      else this.moveArc(motion, words);
    }
    const stop = m(MGroup.stop);
    if (stop === 2 || stop === 30) this.end();
    else if (stop >= 0) this.push(Kind.stop, NaN);
  }

  /** Whether this reader knows all the line asks for; else reports the first thing it does not. */
  private isSupported(words: number, gGroups: number, mGroups: number): boolean {
    for (let group = 1; group < 16; group++) {
      const code = gGroups & (1 << group) ? this.gCodes[group] : -1;
      const refused = G_REFUSED.get(code);
      if (refused === undefined) continue;
      if (LOSES_PLACE.has(code)) this.forgetPlace();
      this.fail("unsupported", this.gColumns[group], `${refused}.`);
      return false;
    }
    if (mGroups & (1 << MGroup.override) && this.mCodes[MGroup.override] === 49) {
      const column = this.mColumns[MGroup.override];
      this.fail("unsupported", column, "M49 takes feed and speed overrides out of the operator's hands.");
      return false;
    }
    for (const name of ROTARY) {
      if (!(words & bitOf(name))) continue;
      this.failWordAt("unsupported", letterOf(name), `${name} is a rotary axis; only X, Y and Z are read.`);
      return false;
    }
    return true;
  }

  /** Whether the line's words are enough for what it asks, and not more; else reports the first that is wrong. */
  private isComplete(words: number, motionCode: number, motion: number, isDwell: boolean): boolean {
    const { values } = this;
    const has = (letter: number): boolean => (words & (1 << letter)) !== 0;
    const moves = (words & XYZ) !== 0;
    if (motionCode >= 0 && motionCode !== 800 && !moves) {
      this.fail("axis-missing", this.gColumns[Group.motion], `G${motion} needs X, Y or Z on its line.`);
      return false;
    }
    if (moves && motion === NO_MOTION) {
      const letter = has(X) ? X : has(Y) ? Y : Z;
      this.failWordAt("no-motion-mode", letter, `${nameOf(letter)} without G0, G1, G2 or G3 in force.`);
      return false;
    }
    for (const name of NEVER_USED) {
      if (!(words & bitOf(name))) continue;
      this.failWordAt("unused-word", letterOf(name), `${name} has no meaning with the codes in force here.`);
      return false;
    }
    const isArc = moves && motion >= 2;
    for (const letter of [I, J, R]) {
      if (!has(letter) || isArc) continue;
      this.failWordAt(
        "unused-word",
        letter,
        `${nameOf(letter)} belongs to an arc (G2, G3), and this line makes none.`,
      );
      return false;
    }
    if (has(P) && !isDwell) {
      this.failWordAt("unused-word", P, "P belongs to a dwell (G4), and this line makes none.");
      return false;
    }
    if (isDwell && !(has(P) && values[P] >= 0)) {
      const found = has(P) ? `found P${values[P]}` : "there is none";
      this.fail("no-dwell-time", this.gColumns[Group.other], `G4 needs P with 0 or more seconds; ${found}.`);
      return false;
    }
    for (const letter of [F, S, T]) {
      if (!has(letter) || values[letter] >= 0) continue;
      const name = nameOf(letter);
      this.failWordAt("bad-value", letter, `${name}${values[letter]}: ${name} may not be negative.`);
      return false;
    }
    if (has(T) && Math.abs(values[T] - Math.round(values[T])) > INTEGER_TOLERANCE) {
      this.failWordAt("bad-value", T, `T${values[T]}: the number of a tool is a whole number.`);
      return false;
    }
    return !isArc || this.isArcComplete(words, motion);
  }

  private isArcComplete(words: number, motion: number): boolean {
    const has = (letter: number): boolean => (words & (1 << letter)) !== 0;
    let wrong = "";
    if (!has(X) && !has(Y)) wrong = "needs X or Y";
    else if (has(R) && (has(I) || has(J))) wrong = "takes either R or I and J, not both";
    else if (!has(R) && !has(I) && !has(J)) wrong = "needs I or J for its centre, or R";
    else return true;
    const letter = has(X) ? X : has(Y) ? Y : Z;
    this.failWordAt("arc-form", letter, `The arc G${motion} ${wrong}.`);
    return false;
  }

  private setFeed(unitsPerMin: number): void {
    this.feedMmPerMin = unitsPerMin * this.mmPerUnit;
    this.toldNoFeed = false;
  }

  private setUnits(units: Units): void {
    this.units = units;
    this.firstUnits ??= units;
    this.mmPerUnit = units === "in" ? 25.4 : 1;
  }

  private setOffset(offset: number): void {
    if (offset !== this.offset) {
      const isPlaced = !(Number.isNaN(this.x) && Number.isNaN(this.y) && Number.isNaN(this.z));
      const text = `G${offset} takes another zero; where the cutter stands is known again after its next moves.`;
      if (isPlaced) this.note("offset-change", this.lineStart, text);
      this.forgetPlace();
    }
    this.offset = offset;
    this.push(Kind.offset, offset);
  }

  private forgetPlace(): void {
    this.x = NaN;
    this.y = NaN;
    this.z = NaN;
  }

  private end(): void {
    if (!this.ended) this.push(Kind.end, NaN);
    this.ended = true;
  }

  private push(kind: Kind, value: number): number {
    return this.track.push(kind, this.x, this.y, this.z, value, this.line);
  }

  private moveStraight(motion: number, words: number): void {
    const { values, mmPerUnit } = this;
    if (words & bitOf("X")) this.x = values[X] * mmPerUnit + (this.incremental ? this.x : 0);
    if (words & bitOf("Y")) this.y = values[Y] * mmPerUnit + (this.incremental ? this.y : 0);
    if (words & bitOf("Z")) this.z = values[Z] * mmPerUnit + (this.incremental ? this.z : 0);
    if (motion === 0) {
      this.push(Kind.rapid, NaN);
    } else {
      if (!(this.feedMmPerMin > 0)) this.reportNoFeed(motion);
      this.push(Kind.cut, this.feedMmPerMin);
    }
  }

  private reportNoFeed(motion: number): void {
    if (this.toldNoFeed) return;
    this.toldNoFeed = true;
    const found = this.feedMmPerMin === 0 ? "the feed is 0" : "no F came before";
    this.fail("no-feed", 1, `G${motion} cuts with a feed, and ${found}.`);
  }

  /** An arc in either form; start and centre are known, or it is reported and only its end remembered. */
  private moveArc(motion: number, words: number): void {
    const { values, mmPerUnit, incremental } = this;
    const has = (letter: number): boolean => (words & (1 << letter)) !== 0;
    const startX = this.x;
    const startY = this.y;
    if (has(X)) this.x = values[X] * mmPerUnit + (incremental ? startX : 0);
    if (has(Y)) this.y = values[Y] * mmPerUnit + (incremental ? startY : 0);
    if (has(Z)) this.z = values[Z] * mmPerUnit + (incremental ? this.z : 0);
    if (!(this.feedMmPerMin > 0)) this.reportNoFeed(motion);
    if (Number.isNaN(startX + startY)) {
      const text = `The arc G${motion} starts at a place whose X or Y the program has not given yet.`;
      this.fail("arc-start", this.columnOf(has(X) ? X : Y), text);
      return;
    }
    const clockwise = motion === 2;
    const dx = this.x - startX;
    const dy = this.y - startY;
    let centreX = has(I) ? values[I] * mmPerUnit : 0;
    let centreY = has(J) ? values[J] * mmPerUnit : 0;
    if (has(R)) {
      const offset = this.centreFromRadius(dx, dy, values[R] * mmPerUnit, clockwise);
      if (Number.isNaN(offset)) return;
      centreX = 0.5 * dx + dy * offset;
      centreY = 0.5 * dy - dx * offset;
    } else if (!this.radiiAgree(centreX, centreY, dx, dy, has(I) ? I : J)) {
      return;
    }
    const i = this.push(clockwise ? Kind.arcClockwise : Kind.arcCounter, this.feedMmPerMin);
    this.track.centreX[i] = startX + centreX;
    this.track.centreY[i] = startY + centreY;
  }

  /** NISTIR 6556 section 3.5.3.2: the end lies on the circle through the start. */
  private radiiAgree(centreX: number, centreY: number, dx: number, dy: number, letter: number): boolean {
    const startMm = Math.hypot(centreX, centreY);
    const endMm = Math.hypot(centreX - dx, centreY - dy);
    if (startMm > 0 && Math.abs(startMm - endMm) <= this.radiusToleranceMm()) return true;
    const text =
      startMm > 0
        ? `The arc's radius is ${this.length(startMm)} at its start and ${this.length(endMm)} at its end.`
        : "The arc's centre is its start.";
    this.failWordAt("arc-radius", letter, text);
    return false;
  }

  /**
   * Where the centre of an arc of radius `rMm` lies beside the middle of its chord (dx, dy), to the right of
   * it, as a share of the chord; NaN and a finding if there is none. Positive radius: at most a half circle.
   */
  private centreFromRadius(dx: number, dy: number, rMm: number, clockwise: boolean): number {
    const chordMm = Math.hypot(dx, dy);
    const radiusMm = Math.abs(rMm);
    if (chordMm === 0) {
      this.fail(
        "arc-radius",
        this.columnOf(R),
        "An arc given by R may not end where it starts; give I and J.",
      );
      return NaN;
    }
    if (chordMm / 2 - radiusMm > this.radiusToleranceMm()) {
      const text = `Start and end lie ${this.length(chordMm)} apart, more than twice the radius R${this.length(radiusMm)}.`;
      this.failWordAt("arc-radius", R, text);
      return NaN;
    }
    const besideMm = Math.sqrt(Math.max(0, radiusMm * radiusMm - (chordMm * chordMm) / 4));
    return (clockwise === rMm > 0 ? besideMm : -besideMm) / chordMm;
  }

  private radiusToleranceMm(): number {
    const tolerance = this.mmPerUnit === 1 ? RADIUS_TOLERANCE_MM : RADIUS_TOLERANCE_INCH * 25.4;
    return tolerance * (1 + 1e-9);
  }

  /** A length for people, in the unit in force. */
  private length(mm: number): string {
    return this.mmPerUnit === 1 ? `${mm.toFixed(4)} mm` : `${(mm / 25.4).toFixed(5)} in`;
  }

  private fail(code: FindingCode, column: number, text: string): void {
    this.errors++;
    if (this.findings.length < FINDINGS_MAX)
      this.findings.push({ code, line: this.line, column, text, note: false });
  }

  private failAt(code: FindingCode, p: number, text: string): void {
    this.fail(code, p - this.lineStart + 1, text);
  }

  private failWordAt(code: FindingCode, letter: number, text: string): void {
    this.fail(code, this.columnOf(letter), text);
  }

  private note(code: FindingCode, p: number, text: string): void {
    if (this.noted.has(code)) return;
    this.noted.add(code);
    const column = p - this.lineStart + 1;
    if (this.findings.length < FINDINGS_MAX)
      this.findings.push({ code, line: this.line, column, text, note: true });
  }

  /** Column of the first word of a letter on the line at hand; 1 when there is none. */
  private columnOf(letter: number): number {
    const text = this.lineFrom(this.lineStart).replace(/\([^)]*\)/g, (comment) => " ".repeat(comment.length));
    return text.toUpperCase().indexOf(nameOf(letter)) + 1 || 1;
  }

  private lineFrom(p: number): string {
    return this.textOf(p, this.endOfLine(p));
  }

  private lineBefore(p: number): string {
    return this.textOf(this.lineStart, p);
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

function nameOf(letter: number): string {
  return String.fromCharCode(letter + 64);
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
