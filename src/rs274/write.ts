// A track as RS-274/NGC text, in the subset that every controller knows: NISTIR 6556, sections 3.3 to 3.6.
// Millimetres in; out in mm with 3 or inches with 4 decimals, ASCII, one statement a line, modal words left out.
// Every coordinate is rounded once, to an integer of its last decimal, and printed from that integer.
// Shares nothing with the reader but the track. Does not check that the track is safe: the proof does, on the text.

import { assert } from "../errors.ts";
import type { ProgramStyle } from "../job/job.ts";
import { arcSweepRad } from "../motion/arc.ts";
import { isMotion, Kind, type Track } from "../motion/track.ts";
import type { Units } from "../units.ts";

export interface ProgramOptions {
  readonly units: Units;
  readonly style: ProgramStyle;
  /** Number of the tool that M6 calls, where the shop changes tools so; 1 when left out. */
  readonly tool?: number;
  /** Comment lines at the head, any text: name of the job, setup, cutter, floor. */
  readonly header?: readonly string[];
  /** Comment lines before entries of the track, in order of `entry`; any text. */
  readonly notes?: readonly { readonly entry: number; readonly text: string }[];
  /** Plain lines before entries of the track, in order of `entry`, printed as they are: they must be harmless. */
  readonly lines?: readonly { readonly entry: number; readonly text: string }[];
}

export interface WrittenProgram {
  /** ASCII, every line ended by `\n`; a view of a buffer that may be longer. */
  readonly text: Uint8Array;
  readonly lines: number;
}

/** Longest line the standard allows, NISTIR 6556 section 3.3. */
const LINE_MAX = 256;
/** How far the two radii of an arc may differ, in last decimals: 0.002 mm, 0.0002 in. NISTIR 6556 section 3.5.3.2. */
const RADIUS_TOLERANCE = 2;
/** How far an arc's centre may be shifted to make its radii equal, in last decimals. */
const CENTRE_SHIFT_MAX = 10;
/** Arcs of a smaller radius than this many last decimals are lost in rounding: they are written straight. */
const RADIUS_MIN = 10;
/** Coordinates stay below this many last decimals (1 km), so that they are exact 32-bit integers. */
const COORDINATE_MAX = 1_000_000_000;
/** No coordinate: what a word is compared with while the controller's own is not known. */
const UNKNOWN = -0x80000000;

/**
 * Prints a track, with a safe start before it and a safe end after it, and sets `track.line` of every entry.
 * A move that comes to nothing after rounding is left out and gets the line of what was written before it.
 * An arc flatter than half a last decimal is written as a straight line. The text goes into `buffer` when that is
 * long enough, else into a new one.
 */
export function writeProgram(track: Track, options: ProgramOptions, buffer?: Uint8Array): WrittenProgram {
  const out = new ProgramPrinter(options, buffer ?? new Uint8Array(24 * track.count + 4096));
  out.startBlock();
  const notes = options.style.comments ? (options.notes ?? []) : [];
  const lines = options.lines ?? [];
  let note = 0;
  let line = 0;
  let ended = false;
  for (let i = 0; i < track.count && !ended; i++) {
    while (note < notes.length && notes[note].entry <= i) out.comment(notes[note++].text);
    while (line < lines.length && lines[line].entry <= i) out.plain(lines[line++].text);
    if (track.kind[i] === Kind.end) {
      out.endBlock();
      ended = true;
    } else if (isMotion(track.kind[i])) {
      out.move(track, i);
    } else if (track.kind[i] === Kind.touch) {
      out.touch(track.z[i], track.value[i]);
    } else {
      out.event(track.kind[i], track.value[i]);
    }
    track.line[i] = out.lines;
  }
  if (!ended) out.endBlock();
  return { text: out.text(), lines: out.lines };
}

/**
 * User text as comment lines without their parentheses, empty for an empty text: printable ASCII, nothing that
 * closes a comment, starts a line or is taken for a command. Accents are dropped, what has no plain form becomes `?`.
 */
export function commentLines(text: string): string[] {
  let plain = "";
  for (const char of text.normalize("NFKD").replace(/\p{Mark}/gu, "")) {
    plain += REPLACED.get(char) ?? (char >= " " && char <= "~" ? char : /\s/.test(char) ? " " : "?");
  }
  const lines: string[] = [];
  let rest = plain.trim().replace(/ +/g, " ");
  while (rest !== "") {
    const space = rest.lastIndexOf(" ", COMMENT_MAX);
    const cut = rest.length <= COMMENT_MAX ? rest.length : space > 0 ? space : COMMENT_MAX;
    const line = rest.slice(0, cut);
    lines.push(COMMAND.test(line) ? `- ${line}` : line);
    rest = rest.slice(cut).trim();
  }
  return lines;
}

/** Characters of a comment line at most; with parentheses and line number it stays well below LINE_MAX. */
const COMMENT_MAX = 96;

/** What some controllers act on at the start of a comment, blanks between the letters allowed (NISTIR 6556 section 3.3.4 for MSG). */
const COMMAND = /^(m ?s ?g|d ?e ?b ?u ?g|p ?r ?i ?n ?t|l ?o ?g|p ?r ?o ?b ?e|p ?y|a ?b ?o ?r ?t)/i;

/** `!` and `~` halt and resume some controllers wherever they stand; `;` cuts a line and `%` ends a program on others. */
const REPLACED: ReadonlyMap<string, string> = new Map([
  ["(", "["],
  [")", "]"],
  [";", ","],
  ["%", " percent"],
  ["!", "."],
  ["~", "-"],
  ["\u2010", "-"],
  ["\u2011", "-"],
  ["\u2013", "-"],
  ["\u2014", "-"],
  ["\u2212", "-"],
  ["\u2018", "'"],
  ["\u2019", "'"],
  ["\u201c", '"'],
  ["\u201d", '"'],
  ["\u2044", "/"],
  ["\u00d7", "x"],
  ["\u2300", "dia "],
  ["\u00d8", "O"],
  ["\u00f8", "o"],
  ["\u00c6", "AE"],
  ["\u00e6", "ae"],
  ["\u0152", "OE"],
  ["\u0153", "oe"],
  ["\u00df", "ss"],
  ["\u0141", "L"],
  ["\u0142", "l"],
]);

/** The text as it grows, and what the controller knows by then: a word that would tell it nothing new is left out. */
class ProgramPrinter {
  lines = 0;
  private readonly options: ProgramOptions;
  private readonly places: number;
  private readonly scale: number;
  private bytes: Uint8Array;
  private length = 0;
  // As integers of the last decimal.
  private x = UNKNOWN;
  private y = UNKNOWN;
  private z = UNKNOWN;
  private feed = UNKNOWN;
  /** The feed before rounding. */
  private feedMmPerMin = NaN;
  /** G0 to G3; -1 after G80. */
  private motion = -1;
  private offset: number;
  private stopped = false;
  private readonly lineNumbers: boolean;

  constructor(options: ProgramOptions, bytes: Uint8Array) {
    this.options = options;
    this.places = options.units === "mm" ? 3 : 4;
    this.scale = options.units === "mm" ? 1000 : 10_000 / 25.4;
    this.bytes = bytes;
    this.lineNumbers = options.style.lineNumbers;
    this.offset = options.style.workOffset;
  }

  text(): Uint8Array {
    return this.bytes.subarray(0, this.length);
  }

  startBlock(): void {
    const { style, units, header, tool } = this.options;
    for (const text of header ?? []) this.comment(text);
    const units274 = units === "mm" ? "G21" : "G20";
    for (const word of ["G17", units274, "G90", "G94", "G40", "G49", "G80", offsetWord(this.offset)])
      this.plain(word);
    for (const line of style.start) this.plain(line);
    if (style.toolChange === "M6") this.plain(`T${tool ?? 1} M6`);
  }

  endBlock(): void {
    if (!this.stopped) this.plain("M5");
    for (const line of this.options.style.end) this.plain(line);
    this.plain("M30");
  }

  comment(text: string): void {
    if (!this.options.style.comments) return;
    for (const line of commentLines(text)) this.plain(`(${line})`);
  }

  event(kind: number, value: number): void {
    if (kind === Kind.dwell) {
      if (value > 0) this.plain(`G4 P${trimmed(value, 3)}`);
    } else if (kind === Kind.spindle) {
      this.plain(value === 0 ? "M5" : `S${trimmed(Math.abs(value), 3)} ${value < 0 ? "M4" : "M3"}`);
      this.stopped = value === 0;
    } else if (kind === Kind.toolChange) {
      this.plain(`T${value} M6`);
    } else if (kind === Kind.stop) {
      this.plain("M0");
    } else if (kind === Kind.offset && value !== this.offset) {
      this.plain(offsetWord(value));
      this.offset = value;
      this.x = UNKNOWN;
      this.y = UNKNOWN;
      this.z = UNKNOWN;
    }
  }

  /** Prints entry i, a motion. */
  move(track: Track, i: number): void {
    const kind = track.kind[i];
    const x = this.rounded(track.x[i]);
    const y = this.rounded(track.y[i]);
    const z = this.rounded(track.z[i]);
    if (kind < Kind.arcClockwise) this.straight(kind, x, y, z, track.value[i]);
    else this.arc(track, i, x, y, z);
  }

  /** Prints a touch straight down. Where it stops only the controller knows, and a move is named anew after it. */
  touch(zMm: number, feedMmPerMin: number): void {
    const bytes = this.openLine();
    let at = this.length;
    for (const char of "G38.2 ") bytes[at++] = char.charCodeAt(0);
    at = putWord(bytes, at, 0x5a, this.rounded(zMm), this.places);
    at = this.putFeed(bytes, at, feedMmPerMin);
    this.closeLine(at);
    this.motion = -1;
    this.z = UNKNOWN;
  }

  private straight(motion: number, x: number, y: number, z: number, feedMmPerMin: number): void {
    const moveX = x !== this.x && x !== UNKNOWN;
    const moveY = y !== this.y && y !== UNKNOWN;
    const moveZ = z !== this.z && z !== UNKNOWN;
    if (!(moveX || moveY || moveZ)) return;
    const bytes = this.openLine();
    let at = this.length;
    if (motion !== this.motion) at = this.putMotion(bytes, at, motion);
    if (moveX) at = putWord(bytes, at, 0x58, x, this.places);
    if (moveY) at = putWord(bytes, at, 0x59, y, this.places);
    if (moveZ) at = putWord(bytes, at, 0x5a, z, this.places);
    this.x = moveX ? x : this.x;
    this.y = moveY ? y : this.y;
    this.z = moveZ ? z : this.z;
    if (motion !== Kind.rapid) at = this.putFeed(bytes, at, feedMmPerMin);
    this.closeLine(at);
  }

  /**
   * An arc in centre format. Where the centre as rounded has radii to the rounded ends that differ by more than
   * its own rounding explains, it is first moved onto the ends' perpendicular bisector: the difference is then at
   * most 1.42 last decimals, where the standard allows 2. Not where the ends lie so close together that this would
   * move the circle: there plain rounding keeps within 1.77.
   */
  private arc(track: Track, i: number, x: number, y: number, z: number): void {
    assert(i > 0 && this.x !== UNKNOWN && this.y !== UNKNOWN, `entry ${i} is an arc from an unknown place`);
    const clockwise = track.kind[i] === Kind.arcClockwise;
    const [x0, y0, cx, cy] = [track.x[i - 1], track.y[i - 1], track.centreX[i], track.centreY[i]];
    const sweep = arcSweepRad(x0, y0, track.x[i], track.y[i], cx, cy, clockwise);
    const radius = Math.hypot(x0 - cx, y0 - cy) * this.scale;
    const isFlat = sweep < Math.PI && radius * (1 - Math.cos(0.5 * sweep)) <= 0.5;
    if (isFlat || radius < RADIUS_MIN) {
      this.straight(Kind.cut, x, y, z, track.value[i]);
      return;
    }
    const centreX = cx * this.scale - this.x;
    const centreY = cy * this.scale - this.y;
    let dx = x - this.x;
    let dy = y - this.y;
    const rounded = arcSweepRad(0, 0, dx, dy, centreX, centreY, clockwise);
    // Nearly full: rounding may put the end onto the start or past it.
    if (Math.abs(rounded - sweep) > Math.PI) {
      dx = 0;
      dy = 0;
    }
    let offsetI = Math.round(centreX);
    let offsetJ = Math.round(centreY);
    const chord = Math.hypot(dx, dy);
    if (chord > 0) {
      const shift = ((centreX - 0.5 * dx) * dx + (centreY - 0.5 * dy) * dy) / chord;
      const unequal = Math.abs(Math.hypot(offsetI, offsetJ) - Math.hypot(offsetI - dx, offsetJ - dy));
      if (unequal > Math.SQRT2 && (Math.abs(shift) <= CENTRE_SHIFT_MAX || unequal > RADIUS_TOLERANCE)) {
        offsetI = Math.round(centreX - (shift * dx) / chord);
        offsetJ = Math.round(centreY - (shift * dy) / chord);
      }
    }
    const bytes = this.openLine();
    let at = this.length;
    const motion = clockwise ? 2 : 3;
    if (motion !== this.motion) at = this.putMotion(bytes, at, motion);
    at = putWord(bytes, at, 0x58, this.x + dx, this.places);
    at = putWord(bytes, at, 0x59, this.y + dy, this.places);
    if (z !== this.z && z !== UNKNOWN) at = putWord(bytes, at, 0x5a, z, this.places);
    at = putWord(bytes, at, 0x49, offsetI, this.places);
    at = putWord(bytes, at, 0x4a, offsetJ, this.places);
    this.x += dx;
    this.y += dy;
    if (z !== UNKNOWN) this.z = z;
    at = this.putFeed(bytes, at, track.value[i]);
    this.closeLine(at);
  }

  private putMotion(bytes: Uint8Array, at: number, motion: number): number {
    bytes[at] = 0x47; // G
    bytes[at + 1] = 0x30 + motion;
    bytes[at + 2] = 0x20;
    this.motion = motion;
    return at + 3;
  }

  private putFeed(bytes: Uint8Array, at: number, feedMmPerMin: number): number {
    if (feedMmPerMin === this.feedMmPerMin) return at;
    this.feedMmPerMin = feedMmPerMin;
    const feed = this.rounded(feedMmPerMin);
    if (feed === this.feed || feed === UNKNOWN) return at;
    assert(feed > 0, `a feed of ${feedMmPerMin} mm/min rounds to nothing`);
    this.feed = feed;
    // F6000.000 is written F6000.
    let end = putWord(bytes, at, 0x46, feed, this.places) - 1;
    while (bytes[end - 1] === 0x30) end--;
    if (bytes[end - 1] === 0x2e) end--;
    bytes[end] = 0x20;
    return end + 1;
  }

  private rounded(mm: number): number {
    const n = Math.floor(mm * this.scale + 0.5);
    if (n > -COORDINATE_MAX && n < COORDINATE_MAX) return n | 0;
    assert(Number.isNaN(mm), `${mm} mm is no place on a machine`);
    return UNKNOWN;
  }

  /** One line of given text, which must be harmless already. */
  plain(line: string): void {
    assert(/^[\x20-\x7e]+$/.test(line) && line.length <= LINE_MAX - 7, `"${line}" is no line of a program`);
    const bytes = this.openLine();
    let at = this.length;
    for (let k = 0; k < line.length; k++) bytes[at++] = line.charCodeAt(k);
    bytes[at++] = 0x20;
    this.closeLine(at);
  }

  /** Makes room for a line and prints its number; the buffer may be another one afterwards. */
  private openLine(): Uint8Array {
    if (this.length + LINE_MAX + 1 > this.bytes.length) {
      const grown = new Uint8Array(2 * this.bytes.length + 4096);
      grown.set(this.bytes);
      this.bytes = grown;
    }
    this.lines++;
    if (this.lineNumbers) {
      const word = `N${((this.lines - 1) % 99_999) + 1} `;
      for (let k = 0; k < word.length; k++) this.bytes[this.length++] = word.charCodeAt(k);
    }
    return this.bytes;
  }

  /** Ends a line whose last byte is the blank after its last word. */
  private closeLine(at: number): void {
    this.bytes[at - 1] = 0x0a;
    this.length = at;
  }
}

function offsetWord(offset: number): string {
  return `G${trimmed(offset, 1)}`;
}

/** A number without trailing zeros, never with an exponent. */
function trimmed(value: number, places: number): string {
  const text = value.toFixed(places);
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
}

/** Three ASCII digits of 0 to 999 each. */
const DIGITS = new Uint8Array(3000);
/** The same without leading zeros, and in a fourth byte how many there are: no branch the processor must guess. */
const SHORT = new Uint8Array(4000);
for (let n = 0; n < 1000; n++) {
  const digits = String(n);
  for (let k = 0; k < 3; k++) DIGITS[3 * n + k] = digits.padStart(3, "0").charCodeAt(k);
  for (let k = 0; k < digits.length; k++) SHORT[4 * n + k] = digits.charCodeAt(k);
  SHORT[4 * n + 3] = digits.length;
}

/** Writes `X-12.345 ` from an integer of the last decimal; returns where the next word starts. */
function putWord(bytes: Uint8Array, start: number, letter: number, scaled: number, places: number): number {
  let at = start;
  bytes[at++] = letter;
  let n = scaled;
  if (n < 0) {
    bytes[at++] = 0x2d;
    n = -n;
  }
  let rest = n;
  if (places === 3) {
    const whole = (n / 1000) | 0;
    rest -= whole * 1000;
    at = putWhole(bytes, at, whole);
    bytes[at++] = 0x2e;
  } else {
    const whole = (n / 10_000) | 0;
    rest -= whole * 10_000;
    at = putWhole(bytes, at, whole);
    bytes[at++] = 0x2e;
    const tenths = (rest / 1000) | 0;
    rest -= tenths * 1000;
    bytes[at++] = 0x30 + tenths;
  }
  at = putThree(bytes, at, rest);
  bytes[at++] = 0x20;
  return at;
}

function putWhole(bytes: Uint8Array, start: number, whole: number): number {
  let at = start;
  if (whole >= 1000) {
    const thousands = (whole / 1000) | 0;
    at = thousands >= 1000 ? putWhole(bytes, at, thousands) : putUpToThree(bytes, at, thousands);
    return putThree(bytes, at, whole - thousands * 1000);
  }
  return putUpToThree(bytes, at, whole);
}

/** Writes past its end what the next bytes overwrite. */
function putUpToThree(bytes: Uint8Array, at: number, n: number): number {
  const digit = 4 * n;
  bytes[at] = SHORT[digit];
  bytes[at + 1] = SHORT[digit + 1];
  bytes[at + 2] = SHORT[digit + 2];
  return at + SHORT[digit + 3];
}

function putThree(bytes: Uint8Array, at: number, n: number): number {
  const digit = 3 * n;
  bytes[at] = DIGITS[digit];
  bytes[at + 1] = DIGITS[digit + 1];
  bytes[at + 2] = DIGITS[digit + 2];
  return at + 3;
}
