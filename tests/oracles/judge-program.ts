// The judge's own reader of programs: text to a list of moves in mm, program coordinates, one object
// a move. Knows the few words a surfacing program needs (NISTIR 6556 section 3); any other word is a problem.

export interface Move {
  readonly kind: "rapid" | "cut";
  /** Line of the text, from 1. */
  readonly line: number;
  /** NaN for an axis that no word has given yet. */
  readonly from: readonly [number, number, number];
  readonly to: readonly [number, number, number];
  /** Null: a straight line. Counter-clockwise sweeps are positive, clockwise ones negative. */
  readonly arc: { readonly x: number; readonly y: number; readonly sweepRad: number } | null;
  /** mm/min; NaN where none was given before. */
  readonly feed: number;
  /** Whether the spindle was started before, and with a speed. */
  readonly spindle: boolean;
  /** The axis words of the line, as "XZ". */
  readonly axes: string;
}

export interface ReadProgram {
  readonly moves: readonly Move[];
  readonly dwellSeconds: number;
  readonly units: "mm" | "in" | null;
  readonly ended: boolean;
  readonly problems: readonly { code: "unreadable" | "arc"; line: number; text: string }[];
}

// Words that change nothing for a program in the XY plane with absolute coordinates and feeds per minute.
const IDLE_WORDS = new Set("G17 G40 G49 G80 G90 G94 G54 G55 G56 G57 G58 G59 M0 M1".split(" "));
const MOTIONS = new Set(["G0", "G1", "G2", "G3"]);
/** By 0.002 mm, or by 0.0002 in. */
const ARC_RADII_APART_MM = { mm: 0.002, in: 0.0002 * 25.4 }; // NISTIR 6556 section 3.5.3.2

export function readProgram(text: string): ReadProgram {
  const moves: Move[] = [];
  const problems: ReadProgram["problems"][number][] = [];
  let motion = "";
  let units: "mm" | "in" | null = null;
  let feed = NaN;
  let speed = 0;
  let turning = false;
  let dwellSeconds = 0;
  let ended = false;
  let at: [number, number, number] = [NaN, NaN, NaN];

  const lines = text.split(/\r?\n/);
  for (let index = 0; index < lines.length && !ended; index++) {
    const line = index + 1;
    const bad = (what: string) =>
      problems.push({ code: "unreadable", line, text: `${what}: ${lines[index]}` });
    const words = wordsOf(lines[index]);
    if (typeof words === "string") {
      bad(words);
      continue;
    }
    for (const code of words.codes) {
      if (MOTIONS.has(code)) motion = code;
      else if (code === "G20") units = "in";
      else if (code === "G21") units = "mm";
      else if (code === "M3" || code === "M4") turning = true;
      else if (code === "M5" || code === "M6") turning = false;
      else if (code === "M2" || code === "M30") ended = true;
      else if (code !== "G4" && !IDLE_WORDS.has(code)) bad(`no use for ${code}`);
    }
    const scale = units === "in" ? 25.4 : 1;
    const value = (letter: string, otherwise: number) => words.values.get(letter) ?? otherwise;
    feed = words.values.has("F") ? value("F", NaN) * scale : feed;
    speed = value("S", speed);
    if (words.codes.includes("G4")) dwellSeconds += value("P", 0);

    const axes = ["X", "Y", "Z"].filter((axis) => words.values.has(axis)).join("");
    const centred = words.values.has("I") || words.values.has("J");
    const round = motion === "G2" || motion === "G3";
    if (axes === "") {
      if (centred || words.codes.some((code) => MOTIONS.has(code))) bad("no axis");
      continue;
    }
    if (motion === "" || centred !== round) {
      bad(motion === "" ? "a place without G0, G1, G2 or G3" : "I and J belong to G2 and G3");
      continue;
    }
    const to: [number, number, number] = [
      words.values.has("X") ? value("X", 0) * scale : at[0],
      words.values.has("Y") ? value("Y", 0) * scale : at[1],
      words.values.has("Z") ? value("Z", 0) * scale : at[2],
    ];
    let arc: Move["arc"] = null;
    if (round) {
      const [i, j] = [value("I", 0) * scale, value("J", 0) * scale];
      const [endX, endY] = [to[0] - at[0] - i, to[1] - at[1] - j];
      const apartMm = Math.abs(Math.sqrt(i * i + j * j) - Math.sqrt(endX * endX + endY * endY));
      if (!(apartMm <= ARC_RADII_APART_MM[scale === 1 ? "mm" : "in"]))
        problems.push({ code: "arc", line, text: `radii differ by ${apartMm} mm: ${lines[index]}` });
      arc = { x: at[0] + i, y: at[1] + j, sweepRad: sweep(-i, -j, endX, endY, motion === "G3") };
    }
    const kind = motion === "G0" ? "rapid" : "cut";
    moves.push({ kind, line, from: at, to, arc, feed, spindle: turning && speed > 0, axes });
    at = to;
  }
  return { moves, dwellSeconds, units, ended, problems };
}

/** G and M words as `codes`, all others by their letter; or what is wrong with the line. */
function wordsOf(line: string): { codes: string[]; values: Map<string, number> } | string {
  const bare = line
    .replace(/\([^()]*\)/g, "")
    .replace(/\s/g, "")
    .toUpperCase();
  const codes: string[] = [];
  const values = new Map<string, number>();
  if (bare === "%") return { codes, values };
  const word = /([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))/y;
  while (word.lastIndex < bare.length) {
    const found = word.exec(bare);
    if (!found) return "not a word";
    const letter = found[1];
    const value = Number(found[2]);
    if (letter === "G" || letter === "M") codes.push(`${letter}${value}`);
    else if (!"XYZIJFSNPT".includes(letter)) return `no use for ${letter}`;
    else if (values.has(letter)) return `${letter} twice`;
    else values.set(letter, value);
  }
  return { codes, values };
}

/** From the one direction round to the other; a full turn when they are the same. */
function sweep(xFrom: number, yFrom: number, xTo: number, yTo: number, counter: boolean): number {
  const angle = Math.atan2(xFrom * yTo - yFrom * xTo, xFrom * xTo + yFrom * yTo);
  if (counter) return angle > 1e-9 ? angle : angle + 2 * Math.PI;
  return angle < -1e-9 ? angle : angle - 2 * Math.PI;
}
