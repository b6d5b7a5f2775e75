// Breaks programs on purpose, as people, editors and cables do: a seed gives a fault, and the text that comes of
// it. Knows the shape of our own programs (one statement a line, modal words left out) and nothing of what is harmful.

import type { Dice } from "../oracles/random-jobs.ts";

export interface Fault {
  readonly kind: FaultKind;
  /** What was done, with the line. */
  readonly label: string;
  readonly lines: readonly string[];
}

/** What the faults must know of the program's job. */
export interface Target {
  readonly perUnitMm: number;
  /** Places in keep-outs that stand higher than the floor, program coordinates. */
  readonly keepOuts: readonly (readonly [number, number])[];
}

type Break = (lines: string[], dice: Dice, target: Target) => string | null;

/** Each changes `lines` and says what it did, or returns null where the program has nothing for it. */
const BREAKS = {
  "line dropped": (lines, dice) => {
    const at = anyLine(lines, dice);
    return `${at + 1} dropped: ${lines.splice(at, 1)[0]}`;
  },
  "line repeated": (lines, dice) => {
    const at = anyLine(lines, dice);
    const to = dice.chance(0.5) ? at : anyLine(lines, dice);
    lines.splice(to, 0, lines[at]);
    return `${at + 1} also at ${to + 1}: ${lines[to]}`;
  },
  "lines swapped": (lines, dice) => {
    const at = anyLine(lines, dice);
    const to = dice.chance(0.6) ? Math.min(at + 1, lines.length - 1) : anyLine(lines, dice);
    [lines[at], lines[to]] = [lines[to], lines[at]];
    return `${at + 1} and ${to + 1} swapped: ${lines[to]} and ${lines[at]}`;
  },
  "block lost": (lines, dice) => {
    const at = anyLine(lines, dice);
    const count = dice.whole(2, 12);
    lines.splice(at, count);
    return `${count} lines from ${at + 1} dropped`;
  },
  "X or Y shifted": (lines, dice, { perUnitMm }) => shift(lines, dice, "XY", perUnitMm),
  "Z shifted": (lines, dice, { perUnitMm }) => shift(lines, dice, "Z", perUnitMm),
  "sign lost": (lines, dice) =>
    changeWord(lines, dice, "XYZ", (value) =>
      value === "0" ? null : value.startsWith("-") ? value.slice(1) : `-${value}`,
    ),
  "point slipped": (lines, dice) =>
    changeWord(lines, dice, "XYZFS", (value) => String(Number(value) * (dice.chance(0.5) ? 10 : 0.1))),
  "digits swapped": (lines, dice) =>
    changeWord(lines, dice, "XYZ", (value) => {
      const swapped = value.replace(/(\d)(\d)/, "$2$1");
      return swapped === value ? null : swapped;
    }),
  "all scaled": (lines, dice) => {
    const letters = dice.pick(["X", "Y", "Z", "XY", "XYZ"]);
    const factor = dice.pick([0.5, 0.9, 0.99, 0.999, 1.001, 1.01, 1.1, 2]);
    changeAll(lines, letters, (value) => value * factor);
    return `all ${letters} by ${factor}`;
  },
  "all shifted": (lines, dice, { perUnitMm }) => {
    const letter = dice.pick(["X", "Y", "Z"]);
    const mm = someMm(dice);
    changeAll(lines, letter, (value) => value + mm / perUnitMm);
    return `all ${letter} by ${mm.toFixed(3)} mm`;
  },
  "one depth deeper": (lines, dice, { perUnitMm }) => {
    const depths = new Set(lines.flatMap((line) => (/G1 Z/.test(line) ? (written(line, "Z") ?? []) : [])));
    if (depths.size === 0) return null;
    const depth = dice.pick([...depths]);
    const mm = Math.abs(someMm(dice));
    changeAll(lines, "Z", (value, text) => (text === depth ? value - mm / perUnitMm : value));
    return `Z${depth} by ${mm.toFixed(3)} mm deeper`;
  },
  truncated: (lines, dice) => {
    const at = dice.whole(1, lines.length - 1);
    const cut = lines[at].slice(0, dice.whole(0, lines[at].length - 1));
    lines.splice(at, lines.length, cut);
    return `cut off after "${cut}" in ${at + 1}`;
  },
  "G0 for G1": (lines, dice) => replaceOne(lines, dice, /\bG1\b/, () => "G0"),
  "G1 for G0": (lines, dice) => replaceOne(lines, dice, /\bG0\b/, () => "G1"),
  "no retract": (lines, dice) => {
    // The G0 stays, on the line that comes next.
    const lifts = lines.flatMap((line, k) => (/\bG0 Z/.test(line) && k + 1 < lines.length ? [k] : []));
    if (lifts.length === 0) return null;
    const at = dice.pick(lifts);
    lines[at + 1] = lines[at + 1].replace(/^(N\d+ )?(?=[XYZ])/, "$1G0 ");
    return `${at + 1} dropped: ${lines.splice(at, 1)[0]}`;
  },
  "retract too low": (lines, dice, { perUnitMm }) => {
    const lifts = lines.flatMap((line, k) => (/\bG0 Z/.test(line) ? [k] : []));
    if (lifts.length === 0) return null;
    const at = dice.pick(lifts);
    const before = lines[at];
    const lower = Math.abs(someMm(dice)) / perUnitMm;
    lines[at] = before.replace(/Z(-?[\d.]+)/, (_, z) => `Z${(Number(z) - lower).toFixed(4)}`);
    return `${at + 1}: ${before} -> ${lines[at]}`;
  },
  "other plane": (lines, dice) => replaceOne(lines, dice, /\bG17\b/, () => dice.pick(["G18", "G19"])),
  "arc flipped": (lines, dice) =>
    replaceOne(lines, dice, /\bG[23]\b/, (word) => (word === "G2" ? "G3" : "G2")),
  "arc's centre shifted": (lines, dice, { perUnitMm }) => shift(lines, dice, "IJ", perUnitMm),
  "arc's centre lost": (lines, dice) => replaceOne(lines, dice, / [IJ]-?[\d.]+/, () => ""),
  "straight for arc": (lines, dice) =>
    replaceOne(lines, dice, /\bG[23]\b.*/, (words) =>
      words.replace(/G[23]/, "G1").replace(/ [IJ]-?[\d.]+/g, ""),
    ),
  "other units": (lines, dice) =>
    replaceOne(lines, dice, /\bG2[01]\b/, (word) => (word === "G20" ? "G21" : "G20")),
  incremental: (lines, dice) => replaceOne(lines, dice, /\bG90\b/, () => "G91"),
  "incremental from here": (lines, dice) => {
    // Before G90 and after the last cut it would change nothing.
    const from = lines.findIndex((line) => /\bG90\b/.test(line)) + 1;
    const at = dice.whole(from, Math.max(from, Math.floor(0.7 * lines.length)));
    lines.splice(at, 0, "G91");
    return `G91 at ${at + 1}`;
  },
  "spindle not started": (lines, dice) => replaceOne(lines, dice, / M3\b/, () => ""),
  "spindle backwards": (lines, dice) => replaceOne(lines, dice, /\bM3\b/, () => "M4"),
  "spindle stopped": (lines, dice) => {
    const at = anyLine(lines, dice);
    const word = dice.pick(["M5", "M6 T2", "S0"]);
    lines.splice(at, 0, word);
    return `${word} at ${at + 1}`;
  },
  "no feeds": (lines) => {
    for (let k = 0; k < lines.length; k++)
      if (!isComment(lines[k])) lines[k] = lines[k].replace(/ F[\d.]+/, "");
    return "all F dropped";
  },
  "a feed lost": (lines, dice) => replaceOne(lines, dice, / F[\d.]+/, () => ""),
  "feed zero": (lines, dice) => changeWord(lines, dice, "F", () => "0"),
  "into a keep-out": (lines, dice, { keepOuts }) => {
    if (keepOuts.length === 0) return null;
    const [x, y] = dice.pick(keepOuts);
    return changeWord(lines, dice, "XY", (_, letter) => (letter === "X" ? x : y).toFixed(3));
  },
  "other offset": (lines, dice) =>
    replaceOne(lines, dice, /\bG5[4-9]\b/, (word) => (word === "G55" ? "G54" : "G55")),
} as const satisfies Record<string, Break>;

export type FaultKind = keyof typeof BREAKS;
export const FAULT_KINDS = Object.keys(BREAKS) as FaultKind[];

/** Breaks the program in a way of the kind; null where it has nothing to break so. */
export function inject(
  kind: FaultKind,
  program: readonly string[],
  dice: Dice,
  target: Target,
): Fault | null {
  const lines = [...program];
  const breakIt: Break = BREAKS[kind];
  const label = breakIt(lines, dice, target);
  return label === null ? null : { kind, label, lines };
}

function isComment(line: string): boolean {
  return line.includes("(");
}

/** A line that says something to the machine; mostly a move. */
function anyLine(lines: readonly string[], dice: Dice): number {
  for (;;) {
    const at = dice.whole(0, lines.length - 1);
    if (!isComment(lines[at])) return at;
  }
}

/** Millimetres, of all sizes, either way. */
function someMm(dice: Dice): number {
  return dice.pick([0.02, 0.1, 0.5, 2, 8, 30, 120]) * dice.between(0.7, 1.3) * (dice.chance(0.5) ? 1 : -1);
}

const WORD = /([A-Z])(-?[\d.]+)/g;

function written(line: string, letter: string): string | null {
  return new RegExp(`\\b${letter}(-?[\\d.]+)`).exec(line)?.[1] ?? null;
}

/** Changes one word of one line that has one of the letters; null where no word can be changed. */
function changeWord(
  lines: string[],
  dice: Dice,
  letters: string,
  change: (value: string, letter: string) => string | null,
): string | null {
  for (let tries = 0; tries < 50; tries++) {
    const at = anyLine(lines, dice);
    const words = [...lines[at].matchAll(WORD)].filter(([, letter]) => letters.includes(letter));
    if (words.length === 0) continue;
    const word = dice.pick(words);
    const value = change(word[2], word[1]);
    if (value === null) continue;
    const before = lines[at];
    lines[at] =
      `${before.slice(0, word.index)}${word[1]}${value}${before.slice(word.index + word[0].length)}`;
    return `${at + 1}: ${before} -> ${lines[at]}`;
  }
  return null;
}

function shift(lines: string[], dice: Dice, letters: string, perUnitMm: number): string | null {
  const mm = someMm(dice);
  return changeWord(lines, dice, letters, (value) => (Number(value) + mm / perUnitMm).toFixed(4));
}

function changeAll(lines: string[], letters: string, change: (value: number, text: string) => number): void {
  for (let k = 0; k < lines.length; k++)
    if (!isComment(lines[k]))
      lines[k] = lines[k].replace(WORD, (word, letter, value) =>
        letters.includes(letter) ? `${letter}${change(Number(value), value).toFixed(4)}` : word,
      );
}

/** Replaces what the pattern finds on one of the lines where it finds something. */
function replaceOne(
  lines: string[],
  dice: Dice,
  pattern: RegExp,
  by: (word: string) => string,
): string | null {
  const places = lines.flatMap((line, k) => (!isComment(line) && pattern.test(line) ? [k] : []));
  if (places.length === 0) return null;
  const at = dice.pick(places);
  const before = lines[at];
  lines[at] = before.replace(pattern, by);
  return `${at + 1}: ${before} -> ${lines[at]}`;
}
