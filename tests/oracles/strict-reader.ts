// A small, slow, strict reader for the programs this project writes, made from NISTIR 6556 sections 3.3 to 3.8 and
// from what we promise on top: one statement a line, nothing said twice, Z first and alone, a safe start and end.
// One object a move; shares no code with src/. What it does not expect is a problem.

export interface StrictMove {
  readonly word: "G0" | "G1" | "G2" | "G3";
  /** Line of the text, from 1. */
  readonly line: number;
  /** End of the move in mm, NaN for an axis that has not been given yet; centre of an arc. */
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly centreX: number;
  readonly centreY: number;
  /** mm/min; NaN for G0. */
  readonly feed: number;
  /** rev/min, negative counter-clockwise, 0 at rest. */
  readonly spindle: number;
}

export interface StrictProgram {
  readonly moves: readonly StrictMove[];
  readonly problems: readonly string[];
  readonly dwellSeconds: number;
  readonly units: "mm" | "in" | null;
  readonly comments: readonly string[];
}

const START = ["G17", "G90", "G94", "G40", "G49", "G80"];
const OFFSETS = ["G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"];
/** Letters that may stand beside a code, all of them. */
const BESIDE: Record<string, string> = {
  G0: "XYZ",
  G1: "XYZF",
  G2: "XYZIJF",
  G3: "XYZIJF",
  G4: "P",
  M3: "S",
  M4: "S",
  M6: "T",
};
const ALONE = [...START, ...OFFSETS, "G20", "G21", "M0", "M5", "M30"];
/** Comments that act on some controllers. */
const ACTS = /^(msg|debug|print|log|probeopen|probeclose|py|abort)/i;

/** Reads `text`; lines equal to one of `ownLines` are the shop's and passed over. */
export function readStrictly(text: string, ownLines: readonly string[] = []): StrictProgram {
  const problems: string[] = [];
  const moves: StrictMove[] = [];
  const comments: string[] = [];
  const stated = new Set<string>();
  let units: "mm" | "in" | null = null;
  let motion = "";
  let at: Record<string, string> = {};
  let mm = { x: NaN, y: NaN, z: NaN };
  let feed = "";
  let spindle = 0;
  let dwellSeconds = 0;
  let ended = false;
  let stopped = false;

  const lines = text.split("\n");
  if (lines.pop() !== "") problems.push("the last line is not ended");
  for (const [index, line] of lines.entries()) readLine(line, index);
  if (!ended) problems.push("the program has no end");
  return { moves, problems, dwellSeconds, units, comments };

  /** What it returns is of no use: the first thing wrong with a line ends it. */
  function readLine(whole: string, index: number): unknown {
    const bad = (what: string) => problems.push(`line ${index + 1}, "${whole}": ${what}`);
    if (whole.length > 256) bad("longer than 256 characters");
    if (!/^[\x20-\x7e]+$/.test(whole)) bad("empty, or not printable ASCII");
    if (ended) bad("after the end");
    const line = whole.replace(/^N[0-9]{1,5} /, "");
    if (ownLines.includes(line)) return;
    if (line.startsWith("(")) {
      const inside = /^\(([^()]+)\)$/.exec(line)?.[1];
      if (inside === undefined) return bad("a comment that is empty, not closed or holds parentheses");
      if (ACTS.test(inside.replaceAll(" ", ""))) bad("a comment that acts");
      comments.push(inside);
      return;
    }
    const words = line.split(" ");
    for (const word of words) {
      if (!/^[A-Z]-?(0|[1-9][0-9]*)(\.[0-9]+)?$/.test(word)) return bad(`"${word}" is not a plain word`);
      if (/^.-[0.]*$/.test(word)) bad("minus nothing");
    }
    const letters = words.map((word) => word[0]).join("");
    if (new Set(letters).size !== letters.length) return bad("a letter twice");
    const value = (letter: string) =>
      Number(words.find((word) => word.startsWith(letter))?.slice(1) ?? "NaN");
    const codes = words.filter((word) => "GM".includes(word[0]));
    if (codes.length > 1) return bad("more than one statement");
    const code = codes[0] ?? motion;
    if (codes.length === 1 && letters.indexOf("G") > 0) bad("words before the G word");
    if (codes[0] === motion && motion !== "") bad("the motion word is in force already");

    if (ALONE.includes(code) && words.length > 1) return bad(`${code} does not stand alone`);
    if (START.includes(code) || OFFSETS.includes(code)) {
      if (stated.has(code)) bad("stated twice");
      stated.add(code);
      if (code === "G80") motion = "";
      if (OFFSETS.includes(code)) {
        stated.add("offset");
        at = {};
        mm = { x: NaN, y: NaN, z: NaN };
      }
      return;
    }
    if (code === "G20" || code === "G21") {
      if (units !== null) bad("units twice");
      units = code === "G20" ? "in" : "mm";
      return;
    }
    if (code === "M0") return;
    if (code === "M5" || code === "M30") {
      if (code === "M30" && !stopped) bad("the spindle was not stopped at the end");
      stopped = true;
      spindle = 0;
      ended = code === "M30";
      return;
    }
    const allowed = BESIDE[code];
    if (allowed === undefined) return bad(`unknown code ${code}`);
    for (const letter of letters) {
      if (!"GM".includes(letter) && !allowed.includes(letter)) return bad(`${letter} beside ${code}`);
    }
    if (code === "G4") {
      if (!(value("P") >= 0)) return bad("a dwell without its time");
      dwellSeconds += value("P");
      return;
    }
    if (code === "M6") {
      if (!Number.isInteger(value("T"))) bad("a tool change without a tool");
      stopped = true;
      spindle = 0;
      return;
    }
    if (code === "M3" || code === "M4") {
      if (!(value("S") > 0)) return bad("a spindle without speed");
      spindle = code === "M3" ? value("S") : -value("S");
      stopped = false;
      return;
    }

    // A move.
    if (motion === "" && moves.length === 0) {
      for (const word of START) if (!stated.has(word)) bad(`a move before ${word}`);
      if (!stated.has("offset")) bad("a move before the work offset");
      if (units === null) bad("a move before the units");
      if (code !== "G0" || letters !== "GZ") bad("the first move is not Z alone at rapid");
    }
    motion = code;
    const isArc = code === "G2" || code === "G3";
    const perUnit = units === "in" ? 25.4 : 1;
    const places = units === "in" ? /\.[0-9]{4}$/ : /\.[0-9]{3}$/;
    for (const word of words) {
      if ("XYZIJ".includes(word[0]) && !places.test(word)) bad(`${word} has not its number of decimals`);
    }
    if (!/[XYZ]/.test(letters)) return bad("a move without axes");
    if (letters.replace(/[GF]/g, "") !== [..."XYZIJ"].filter((l) => letters.includes(l)).join(""))
      bad("order of words");
    const from = mm;
    const next = { ...mm };
    for (const axis of ["X", "Y", "Z"]) {
      const word = words.find((w) => w[0] === axis);
      if (word === undefined) continue;
      if (word === at[axis] && !(isArc && axis !== "Z")) bad(`${word} is where it is already`);
      at[axis] = word;
      next[axis.toLowerCase() as "x" | "y" | "z"] = Number(word.slice(1)) * perUnit;
    }
    mm = next;
    const feedWord = words.find((w) => w[0] === "F");
    if (feedWord !== undefined) {
      if (feedWord === feed) bad("the feed is in force already");
      if (/\.[0-9]*0$/.test(feedWord)) bad("zeros at the end of a feed");
      if (!(value("F") > 0)) bad("no feed at all");
      feed = feedWord;
    }
    if (code !== "G0" && feed === "") bad("a cut before any feed");
    if (code !== "G0" && spindle === 0) bad("a cut with the spindle at rest");
    let centreX = NaN;
    let centreY = NaN;
    if (isArc) {
      for (const letter of "XYIJ") if (!letters.includes(letter)) bad(`an arc without ${letter}`);
      if (Number.isNaN(from.x + from.y)) bad("an arc from an unknown place");
      centreX = from.x + value("I") * perUnit;
      centreY = from.y + value("J") * perUnit;
      const start = Math.hypot(from.x - centreX, from.y - centreY);
      const end = Math.hypot(next.x - centreX, next.y - centreY);
      const tolerance = units === "in" ? 0.0002 * 25.4 : 0.002;
      if (!(Math.abs(start - end) <= tolerance) || start === 0) bad(`radii ${start} and ${end}`);
    }
    moves.push({
      word: code as StrictMove["word"],
      line: index + 1,
      ...next,
      centreX,
      centreY,
      feed: code === "G0" ? NaN : Number(feed.slice(1)) * perUnit,
      spindle,
    });
  }
}
