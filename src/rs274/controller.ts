// What a controller does with one line of RS-274/NGC: modes in force, order of execution, moves. In goes a block of
// words, out come entries of the track in mm, mm/min and program coordinates. Source of the rules: NISTIR 6556
// sections 3.4 to 3.8. Does not know the text; codes this reader refuses are named and not carried out.

import { Kind, type Track } from "../motion/track.ts";
import type { Units } from "../units.ts";
import {
  bitsOf,
  G_REFUSED,
  Group,
  INTEGER_TOLERANCE,
  LOSES_PLACE,
  letterOf,
  MGroup,
  nameOf,
  TOUCH,
} from "./codes.ts";
import type { Findings } from "./findings.ts";

/** The words of one line. Sets of letters and of groups are bits; what is not in its set is left over from lines before. */
export class Block {
  letters = 0;
  gGroups = 0;
  mGroups = 0;
  /** By letter. */
  readonly values = new Float64Array(32);
  readonly columns = new Int32Array(32);
  /** By modal group; G codes times ten. */
  readonly gCodes = new Int32Array(16);
  readonly gColumns = new Int32Array(16);
  readonly mCodes = new Int32Array(16);
  readonly mColumns = new Int32Array(16);

  has(letter: number): boolean {
    return (this.letters & (1 << letter)) !== 0;
  }

  /** Ten times the G code of a group, -1 if there is none. */
  g(group: number): number {
    return this.gGroups & (1 << group) ? this.gCodes[group] : -1;
  }

  m(group: number): number {
    return this.mGroups & (1 << group) ? this.mCodes[group] : -1;
  }
}

const F = letterOf("F");
const I = letterOf("I");
const J = letterOf("J");
const P = letterOf("P");
const R = letterOf("R");
const S = letterOf("S");
const T = letterOf("T");
const X = letterOf("X");
const Y = letterOf("Y");
const Z = letterOf("Z");
const AXES = bitsOf("XYZ");
const AXES_AND_FEED = bitsOf("XYZF");
const ROTARY = [letterOf("A"), letterOf("B"), letterOf("C")];
/** Words that only codes refused here make use of. */
const NEVER_USED = [letterOf("D"), letterOf("H"), letterOf("K"), letterOf("L"), letterOf("Q")];
const NO_MOTION = -1;

/** Radii of an arc may differ by this much, NISTIR 6556 section 3.5.3.2: mm in G21, inches in G20. */
const RADIUS_TOLERANCE_MM = 0.002;
const RADIUS_TOLERANCE_INCH = 0.0002;
/** A touch must start farther than this from where it goes to, NISTIR 6556 section 3.5.9.1: 0.01 inch. */
const TOUCH_MM_MIN = 0.254;

// Places in `state`.
const FEED = 3;
const MM_PER_UNIT = 4;

export class Controller {
  /** After M2, M30 or the closing %. */
  ended = false;
  units: Units | null = null;
  firstUnits: Units | null = null;
  incremental = false;
  private readonly track: Track;
  private readonly findings: Findings;
  private readonly block: Block;
  /** Whether the program may touch with a probe (G38.2). */
  private readonly probing: boolean;
  /** X, Y, Z in mm and the feed in mm/min, NaN until the program has given them; mm per unit. A typed array, for a double in a field would be an object at every line. */
  private readonly state = new Float64Array([NaN, NaN, NaN, NaN, 1]);
  /** G0 to G3 as 0 to 3, G38.2 as 38.2. */
  private motion = NO_MOTION;
  private offset = 54;
  private speed = 0;
  /** 1 for M3, -1 for M4, 0 for M5. */
  private turning = 0;
  private tool = 0;
  private toldNoFeed = false;

  constructor(track: Track, findings: Findings, block: Block, probing = false) {
    this.track = track;
    this.findings = findings;
    this.block = block;
    this.probing = probing;
  }

  /**
   * Carries out a line in the order of NISTIR 6556 table 8. A line that may not stand is reported and nothing of
   * it is done; of an arc that has no centre only the end is remembered.
   */
  execute(): void {
    const { block } = this;
    const { letters, gGroups, values } = block;
    // Nearly every line of a long program is a straight move and nothing else.
    if (block.mGroups === 0 && (gGroups & ~(1 << Group.motion)) === 0 && (letters & ~AXES_AND_FEED) === 0) {
      const motion = gGroups === 0 ? this.motion : block.gCodes[Group.motion] / 10;
      const feed = block.has(F) ? values[F] : 0;
      if (motion >= 0 && motion <= 1 && (letters & AXES) !== 0 && feed >= 0 && this.units !== null) {
        if (block.has(F)) this.setFeed();
        this.motion = motion;
        this.moveStraight();
        return;
      }
    }
    if ((letters | gGroups | block.mGroups) !== 0) this.executeAny();
  }

  /** Ends the program, once. */
  end(): void {
    if (!this.ended) this.push(Kind.end, NaN);
    this.ended = true;
  }

  private executeAny(): void {
    const { block } = this;
    const { values } = block;
    if (!this.isSupported()) return;
    const code = block.g(Group.motion);
    const motion = code === 800 ? NO_MOTION : code >= 0 ? code / 10 : this.motion;
    const isDwell = block.g(Group.other) === 40;
    if (!this.isComplete(code, motion, isDwell)) return;

    if (block.has(F)) this.setFeed();
    const speedBefore = this.speed;
    if (block.has(S)) this.speed = values[S];
    if (block.has(T)) this.tool = Math.round(values[T]);
    if (block.m(MGroup.tool) >= 0) {
      this.push(Kind.toolChange, this.tool);
      // A tool change leaves the spindle stopped, section 3.6.3.
      this.turning = 0;
    }
    const turn = block.m(MGroup.spindle);
    if (turn >= 0) this.turning = turn === 3 ? 1 : turn === 4 ? -1 : 0;
    if (turn >= 0 || (this.turning !== 0 && this.speed !== speedBefore)) {
      this.push(Kind.spindle, this.turning * this.speed + 0);
    }
    if (isDwell) this.push(Kind.dwell, values[P]);
    if (block.g(Group.units) >= 0) this.setUnits(block.g(Group.units) === 200 ? "in" : "mm");
    if (block.g(Group.offset) >= 0) this.setOffset(block.g(Group.offset) / 10);
    if (block.g(Group.distance) >= 0) this.incremental = block.g(Group.distance) === 910;
    this.motion = motion;
    if ((block.letters & AXES) !== 0) {
      if (this.units === null) {
        const text = "The program moves without G20 or G21 before: read as millimetres.";
        this.findings.note("units-not-stated", 1, text);
      }
      if (motion <= 1) this.moveStraight();
      else if (motion <= 3) this.moveArc();
      else this.moveTouch();
    }
    const stop = block.m(MGroup.stop);
    if (stop === 2 || stop === 30) this.end();
    else if (stop >= 0) this.push(Kind.stop, NaN);
  }

  /** Whether all the line asks for is read; else reports the first thing that is not. */
  private isSupported(): boolean {
    const { block, findings } = this;
    for (let group = 1; group < 16; group++) {
      const code = block.g(group);
      const refused = G_REFUSED.get(code);
      if (refused === undefined || (code === TOUCH && this.probing)) continue;
      if (LOSES_PLACE.has(code)) this.forgetPlace();
      findings.error("unsupported", block.gColumns[group], `${refused}.`);
      return false;
    }
    if (block.m(MGroup.override) === 49) {
      const text = "M49 takes feed and speed overrides out of the operator's hands.";
      findings.error("unsupported", block.mColumns[MGroup.override], text);
      return false;
    }
    for (const letter of ROTARY) {
      if (!block.has(letter)) continue;
      this.failWord("unsupported", letter, `${nameOf(letter)} is a rotary axis; only X, Y and Z are read.`);
      return false;
    }
    return true;
  }

  /** Whether the line's words are enough for what it asks, and no more; else reports the first that is wrong. */
  private isComplete(code: number, motion: number, isDwell: boolean): boolean {
    const { block, findings } = this;
    const { values } = block;
    const moves = (block.letters & AXES) !== 0;
    if (code >= 0 && code !== 800 && !moves) {
      findings.error("axis-missing", block.gColumns[Group.motion], `G${motion} needs X, Y or Z on its line.`);
      return false;
    }
    if (moves && motion === NO_MOTION) {
      const letter = block.has(X) ? X : block.has(Y) ? Y : Z;
      this.failWord("no-motion-mode", letter, `${nameOf(letter)} without G0, G1, G2 or G3 in force.`);
      return false;
    }
    for (const letter of NEVER_USED) {
      if (!block.has(letter)) continue;
      this.failWord("unused-word", letter, `${nameOf(letter)} has no meaning with the codes in force here.`);
      return false;
    }
    const isArc = moves && (motion === 2 || motion === 3);
    for (const letter of [I, J, R]) {
      if (!block.has(letter) || isArc) continue;
      this.failWord(
        "unused-word",
        letter,
        `${nameOf(letter)} belongs to an arc (G2, G3); this line makes none.`,
      );
      return false;
    }
    if (block.has(P) && !isDwell) {
      this.failWord("unused-word", P, "P belongs to a dwell (G4); this line makes none.");
      return false;
    }
    if (isDwell && !(block.has(P) && values[P] >= 0)) {
      const found = block.has(P) ? `found P${values[P]}` : "there is none";
      findings.error(
        "no-dwell-time",
        block.gColumns[Group.other],
        `G4 needs P with 0 or more seconds; ${found}.`,
      );
      return false;
    }
    for (const letter of [F, S, T]) {
      if (!block.has(letter) || values[letter] >= 0) continue;
      const name = nameOf(letter);
      this.failWord("bad-value", letter, `${name}${values[letter]}: ${name} may not be negative.`);
      return false;
    }
    if (block.has(T) && Math.abs(values[T] - Math.round(values[T])) > INTEGER_TOLERANCE) {
      this.failWord("bad-value", T, `T${values[T]}: the number of a tool is a whole number.`);
      return false;
    }
    return !isArc || this.isArcComplete(motion);
  }

  private isArcComplete(motion: number): boolean {
    const { block } = this;
    const hasOffset = block.has(I) || block.has(J);
    let wrong = "";
    if (!block.has(X) && !block.has(Y)) wrong = "needs X or Y";
    else if (block.has(R) && hasOffset) wrong = "takes either R or I and J, not both";
    else if (!block.has(R) && !hasOffset) wrong = "needs I or J for its centre, or R";
    else return true;
    this.failWord("arc-form", block.has(X) ? X : block.has(Y) ? Y : Z, `The arc G${motion} ${wrong}.`);
    return false;
  }

  /** Takes over F, in the units in force. */
  private setFeed(): void {
    this.state[FEED] = this.block.values[F] * this.state[MM_PER_UNIT];
    this.toldNoFeed = false;
  }

  private setUnits(units: Units): void {
    this.units = units;
    this.firstUnits ??= units;
    this.state[MM_PER_UNIT] = units === "in" ? 25.4 : 1;
  }

  private setOffset(offset: number): void {
    if (offset !== this.offset) {
      const [x, y, z] = this.state;
      const isPlaced = !(Number.isNaN(x) && Number.isNaN(y) && Number.isNaN(z));
      const text = `G${offset} takes another zero; where the cutter stands is known again after its next moves.`;
      if (isPlaced) this.findings.note("offset-change", 1, text);
      this.forgetPlace();
    }
    this.offset = offset;
    this.push(Kind.offset, offset);
  }

  private forgetPlace(): void {
    this.state.fill(NaN, 0, 3);
  }

  /** Takes over X, Y and Z. */
  private setPlace(): void {
    const { block, state } = this;
    const mmPerUnit = state[MM_PER_UNIT];
    for (let axis = 0; axis < 3; axis++) {
      if (!block.has(X + axis)) continue;
      const mm = block.values[X + axis] * mmPerUnit;
      state[axis] = this.incremental ? state[axis] + mm : mm;
    }
  }

  private moveStraight(): void {
    this.setPlace();
    if (this.motion === 0) {
      this.push(Kind.rapid, NaN);
    } else {
      if (!(this.state[FEED] > 0)) this.reportNoFeed();
      this.push(Kind.cut, this.state[FEED]);
    }
  }

  private reportNoFeed(): void {
    if (this.toldNoFeed) return;
    this.toldNoFeed = true;
    const found = this.state[FEED] === 0 ? "the feed is 0" : "no F came before";
    const verb = this.motion === TOUCH / 10 ? "touches" : "cuts";
    this.findings.error("no-feed", 1, `G${this.motion} ${verb} with a feed, and ${found}.`);
  }

  /** A touch, NISTIR 6556 sections 3.5.9.1 and 4.3.6.6: from far enough, with a feed, the spindle at rest. */
  private moveTouch(): void {
    const { block, findings, state } = this;
    const [x, y, z] = state;
    this.setPlace();
    const mm = Math.sqrt((state[0] - x) ** 2 + (state[1] - y) ** 2 + (state[2] - z) ** 2);
    const column = block.columns[block.has(X) ? X : block.has(Y) ? Y : Z];
    if (this.turning !== 0) {
      findings.error(
        "touch-spindle",
        column,
        "G38.2 touches with a probe while the spindle turns: M5 first.",
      );
    }
    if (!(state[FEED] > 0)) this.reportNoFeed();
    if (!(mm > TOUCH_MM_MIN)) {
      const found = Number.isNaN(mm)
        ? "a place that the program has not given in full"
        : `${this.length(mm)} from it`;
      const text = `G38.2 must start more than ${this.length(TOUCH_MM_MIN)} from where it goes to; it starts at ${found}.`;
      findings.error("touch-start", column, text);
    }
    this.push(Kind.touch, state[FEED]);
    for (let axis = 0; axis < 3; axis++) if (block.has(X + axis)) state[axis] = NaN;
  }

  /** An arc in either form, NISTIR 6556 section 3.5.3. */
  private moveArc(): void {
    const { block, state, track } = this;
    const { values } = block;
    const mmPerUnit = state[MM_PER_UNIT];
    const [startX, startY] = state;
    this.setPlace();
    if (!(state[FEED] > 0)) this.reportNoFeed();
    if (Number.isNaN(startX + startY)) {
      const text = `The arc G${this.motion} starts at a place whose X or Y the program has not given yet.`;
      this.failWord("arc-start", block.has(X) ? X : Y, text);
      return;
    }
    const clockwise = this.motion === 2;
    const dx = state[0] - startX;
    const dy = state[1] - startY;
    // I and J are counted from the start, in G90 as in G91; one left out is 0.
    let centreX = block.has(I) ? values[I] * mmPerUnit : 0;
    let centreY = block.has(J) ? values[J] * mmPerUnit : 0;
    if (block.has(R)) {
      const beside = this.centreBesideChord(dx, dy, values[R] * mmPerUnit, clockwise);
      if (Number.isNaN(beside)) return;
      centreX = 0.5 * dx + dy * beside;
      centreY = 0.5 * dy - dx * beside;
    } else if (!this.radiiAgree(centreX, centreY, dx, dy)) {
      return;
    }
    const i = this.push(clockwise ? Kind.arcClockwise : Kind.arcCounter, state[FEED]);
    track.centreX[i] = startX + centreX;
    track.centreY[i] = startY + centreY;
  }

  /** Whether the end lies on the circle through the start, as near as section 3.5.3.2 wants it. */
  private radiiAgree(centreX: number, centreY: number, dx: number, dy: number): boolean {
    const startMm = Math.hypot(centreX, centreY);
    const endMm = Math.hypot(centreX - dx, centreY - dy);
    if (startMm > 0 && Math.abs(startMm - endMm) <= this.radiusToleranceMm()) return true;
    const text =
      startMm > 0
        ? `The arc's radius is ${this.length(startMm)} at its start and ${this.length(endMm)} at its end.`
        : "The arc's centre is its start.";
    this.failWord("arc-radius", this.block.has(I) ? I : J, text);
    return false;
  }

  /**
   * How far to the right of its chord (dx, dy) the centre of an arc of radius `rMm` lies, as a share of the chord;
   * NaN and a finding if there is none. A positive radius is at most a half circle, a negative one more.
   */
  private centreBesideChord(dx: number, dy: number, rMm: number, clockwise: boolean): number {
    const chordMm = Math.hypot(dx, dy);
    const radiusMm = Math.abs(rMm);
    if (chordMm === 0) {
      this.failWord("arc-radius", R, "An arc given by R may not end where it starts; give I and J.");
      return NaN;
    }
    if (chordMm / 2 - radiusMm > this.radiusToleranceMm()) {
      const text = `Start and end are ${this.length(chordMm)} apart, more than twice the radius of ${this.length(radiusMm)}.`;
      this.failWord("arc-radius", R, text);
      return NaN;
    }
    const besideMm = Math.sqrt(Math.max(0, radiusMm * radiusMm - (chordMm * chordMm) / 4));
    return (clockwise === rMm > 0 ? besideMm : -besideMm) / chordMm;
  }

  private radiusToleranceMm(): number {
    const tolerance = this.units === "in" ? RADIUS_TOLERANCE_INCH * 25.4 : RADIUS_TOLERANCE_MM;
    // The slack is for the last digits of the subtraction.
    return tolerance * (1 + 1e-9);
  }

  /** A length for people, in the unit in force. */
  private length(mm: number): string {
    return this.units === "in" ? `${(mm / 25.4).toFixed(5)} in` : `${mm.toFixed(4)} mm`;
  }

  private push(kind: Kind, value: number): number {
    const { state } = this;
    return this.track.push(kind, state[0], state[1], state[2], value, this.findings.line);
  }

  private failWord(code: Parameters<Findings["error"]>[0], letter: number, text: string): void {
    this.findings.error(code, this.block.columns[letter], text);
  }
}
