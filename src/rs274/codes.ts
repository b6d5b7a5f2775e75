// The vocabulary of RS-274/NGC for the reader: letters as bits, modal groups (NISTIR 6556 table 4), and what of
// the language is refused and why.

/** A letter of a word as a number, A is 1, whatever its case. */
export function letterOf(name: string): number {
  return name.charCodeAt(0) & 31;
}

export function nameOf(letter: number): string {
  return String.fromCharCode(letter + 64);
}

/** Letters as a set of bits. */
export function bitsOf(names: string): number {
  let bits = 0;
  for (const name of names) bits |= 1 << letterOf(name);
  return bits;
}

/** Letters that are no words of the language, NISTIR 6556 table 3. */
export const NO_WORD = bitsOf("EOUVW");

/** Modal groups of G codes. Group 0, not modal, is here as 15: there 0 means no group. */
export const Group = { motion: 1, distance: 3, units: 6, offset: 12, other: 15 } as const;
/** Group of a G code; index is ten times the code. */
export const G_GROUP = new Uint8Array(1000);
for (const [group, codes] of [
  [Group.motion, [0, 1, 2, 3, 38.2, 80, 81, 82, 83, 84, 85, 86, 87, 88, 89]],
  [2, [17, 18, 19]],
  [Group.distance, [90, 91]],
  [5, [93, 94]],
  [Group.units, [20, 21]],
  [7, [40, 41, 42]],
  [8, [43, 49]],
  [10, [98, 99]],
  [Group.offset, [54, 55, 56, 57, 58, 59, 59.1, 59.2, 59.3]],
  [13, [61, 61.1, 64]],
  [Group.other, [4, 10, 28, 30, 53, 92, 92.1, 92.2, 92.3]],
] as const) {
  for (const code of codes) G_GROUP[Math.round(10 * code)] = group;
}

/** Modal groups of M codes. */
export const MGroup = { stop: 4, tool: 6, spindle: 7, coolant: 8, override: 9 } as const;
export const M_GROUP = new Uint8Array(100);
for (const [group, codes] of [
  [MGroup.stop, [0, 1, 2, 30, 60]],
  [MGroup.tool, [6]],
  [MGroup.spindle, [3, 4, 5]],
  [MGroup.coolant, [7, 8, 9]],
  [MGroup.override, [48, 49]],
] as const) {
  for (const code of codes) M_GROUP[code] = group;
}
/** All M groups at once, as bits: one word more than the four a line may hold (NISTIR 6556 section 3.3.5). */
export const M_TOO_MANY = Object.values(MGroup).reduce((bits, group) => bits | (1 << group), 0);

/** G codes of the language that the reader refuses, by ten times the code. */
export const G_REFUSED: ReadonlyMap<number, string> = new Map([
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

/** Ten times the code that touches with a probe. Refused but in programs that are read as probing. */
export const TOUCH = 382;

/** Those of them after which nobody knows from the program where the cutter stands. */
export const LOSES_PLACE: ReadonlySet<number> = new Set([
  280, 300, 382, 530, 810, 820, 830, 840, 850, 860, 870, 880, 890, 920, 921, 922, 923,
]);

/** Calls of other programs: no codes of NISTIR 6556, but of many controllers (common practice, no source). */
export const CALLS: ReadonlyMap<string, string> = new Map([
  ["G65", "G65 calls a macro"],
  ["G66", "G66 calls a macro after every move"],
  ["G67", "G67 ends a macro's calls"],
  ["M97", "M97 calls a part of the program"],
  ["M98", "M98 calls a subprogram"],
  ["M99", "M99 ends a subprogram or goes back to a line"],
  ["M198", "M198 calls a subprogram"],
]);

/** So far may a number be from the integer it must be, NISTIR 6556 section 3.3.2.1. */
export const INTEGER_TOLERANCE = 0.0001;
