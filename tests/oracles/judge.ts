// An independent judge of programs: runs a program's text on the raw job's wood, slowly and plainly, and
// says everything that is wrong with it. Millimetres in the bed's frame: Z up, bed = 0; a program
// coordinate plus the setup's zero is a frame coordinate. The cutter is a flat disc that is put down
// every step along each move; the wood is one height a cell. Shares no code with src. Does not know
// acceleration. `judge` takes a piece as it was first laid; what setups leave to each other: judge-bench.ts.

import { faceOf } from "./judge-face.ts";
import {
  type JudgedKeepOut,
  type JudgedPiece,
  type JudgedSetup,
  judgedSetup,
  type RawJob,
} from "./judge-job.ts";
import { boxOf, distanceToShape, isInside, type Polygon } from "./judge-plane.ts";
import { type Move, readProgram } from "./judge-program.ts";

export type ProblemCode =
  | "unreadable" // a line that is no plain RS-274/NGC
  | "arc" // an arc whose radii differ
  | "units" // the program's unit is not the job's
  | "end" // no M2 or M30
  | "first-move" // not Z alone to above everything
  | "feed" // a feed move before any F
  | "spindle" // a feed move with the spindle stopped
  | "travel" // wider than the machine
  | "bed" // below the spoilboard's top
  | "gouge" // wood cut below the floor
  | "standing" // wood left above the floor where the cutter could have gone
  | "floor" // the floor claimed is not the target's
  | "rapid-hit" // a rapid through wood
  | "rapid-low" // a rapid with too little air below
  | "plunge" // straight down into wood
  | "steep" // sloping down into wood, steeper than the ramp
  | "bite" // more wood at once than a pass may take
  | "keep-out" // the cutter too near to a keep-out
  | "nose" // the spindle nose in wood, or too near to a keep-out
  | "resin-feed"; // resin taken faster than the setup says

export interface Problem {
  readonly code: ProblemCode;
  /** Line of the program, from 1; 0 for the program as a whole. */
  readonly line: number;
  readonly text: string;
}

export interface Verdict {
  /** At most one of a code for each line. */
  readonly problems: readonly Problem[];
  /** By piece: share of the outline's area where the measured face stood above the floor and was cut down to it. */
  readonly cleanUpShare: Readonly<Record<string, number>>;
  /** Share of the outlines' area that stays above the floor because no disc clear of the keep-outs can cover it. */
  readonly unreachableShare: number;
  /** Of the measured faces, margin not counted. */
  readonly removedLitres: number;
  /** Lengths over feeds and rapids, and dwells; every move at full speed from end to end. */
  readonly minutesNaive: number;
}

export interface JudgeOptions {
  /** Side of a cell, mm. */
  readonly cellMm?: number;
  /**
   * Where in its cell a height is sampled, each 0 to 1: chosen so that rows do not fall on samples. Cells begin at
   * each piece's least corner; "middles": at the middles of cells that begin at whole places of the frame.
   */
  readonly sampleAt?: readonly [number, number] | "middles";
  /** Greatest way between two places of the disc, mm. */
  readonly stepMm?: number;
  /** Used where the job names no margin. */
  readonly marginMm?: number;
}

// A row may end exactly at the edge of the wood, coordinates are rounded to 1 or 2.5 um, and discs a step
// apart leave scallops of step^2 / 8R. So the cutter cuts with a rim this much wider than it is, and
// touches with one this much narrower.
const RIM_MM = 0.02;
const TOUCH_MM = 0.005; // a rim this far inside wood touches it
const STANDING_MM = 0.02; // wood this far above the floor stands
const GOUGE_MM = 0.005;
const BITE_MM = 0.005;
const CLEAR_MM = 0.02;
const SHADE_MM = 0.15; // how near to what keep-outs shade the judge holds its tongue
const BED_MM = 0.0005; // half the last decimal of a program
const FLOOR_MM = 0.01;
const RESIN_MM = 0.08; // so much over or under wood is a matter of where in its cell a height is taken
const FLOOR_SHARE_MM = 0.1; // how much a floor that follows from a share may be too low
const SHARE = 0.012; // what counting whole cells may get wrong in a share: where a level runs along a row of cells, a row

/** One piece as a setup finds it, and as its programs leave it: heights above the bed at the middle of each cell. */
export interface Patch {
  readonly id: string;
  readonly outline: Polygon;
  readonly cols: number;
  readonly rows: number;
  readonly cellMm: number;
  /** Place of the first sample. */
  readonly x0: number;
  readonly y0: number;
  readonly inside: Uint8Array;
  /** The measured face, or where it was cut; -Infinity outside. */
  readonly measured: Float64Array;
  /** The highest that wood may stand now: measured plus margin, lowered by every cut. */
  readonly top: Float64Array;
  /** The wood in resin, NaN where there is none; null: all is wood. */
  readonly wood: { readonly top: Float64Array; readonly bottom: Float64Array } | null;
  /** The highest measured place; of a box its thickness. */
  readonly highestMm: number;
}

/** What of a program is judged. */
export interface Judged {
  readonly setup: JudgedSetup;
  /** How far the wood has been pushed along X since its first lay. */
  readonly shiftMm: number;
  /** Which lay it is, counted from 1. */
  readonly lay: number;
  /** All lays so far, this one too: what none of them can reach may stand. Null: more follow. */
  readonly lays: readonly number[] | null;
}

/**
 * Judges `text` as the program of the setup named, whose plan claims the floor `floorMm` above the bed.
 * The job must be resolved (judge-job.ts). Throws only where the job itself is beyond the judge.
 */
export function judge(
  job: RawJob,
  setupId: string,
  text: string,
  floorMm: number,
  options: JudgeOptions = {},
): Verdict {
  const setup = judgedSetup(job, setupId, options.marginMm);
  if (setup.face !== "upper") throw new Error("a face that was turned over is for the judge's bench");
  const patches = setup.pieces.map((piece) => patchOf(piece, setup.marginMm, options));
  const problems: Problem[] = [];
  judgeFloor(setup, patches, floorMm, (code, line, what) => problems.push({ code, line, text: what }));
  const verdict = judgeProgram(
    { setup, shiftMm: 0, lay: 1, lays: [0] },
    patches,
    text,
    floorMm,
    options.stepMm,
  );
  return { ...verdict, problems: [...problems, ...verdict.problems] };
}

/** Judges one program of a setup on the patches, which it cuts. */
export function judgeProgram(
  { setup: written, shiftMm, lay, lays }: Judged,
  patches: readonly Patch[],
  text: string,
  floorMm: number,
  stepMm = 1,
): Verdict {
  const problems = new Map<string, Problem>();
  const report = (code: ProblemCode, line: number, what: string) => {
    const key = `${code} ${line}`;
    if (!problems.has(key)) problems.set(key, { code, line, text: what });
  };
  // In the frame of the first lay what stands on the bed is pushed instead of the wood.
  const setup = pushed(written, shiftMm, lay);
  const program = readProgram(text);
  for (const problem of program.problems) report(problem.code, problem.line, problem.text);
  if (program.units !== setup.units) report("units", 0, `program in ${program.units}, job in ${setup.units}`);
  if (!program.ended) report("end", 0, "neither M2 nor M30");

  const moves = inFrame(program.moves, setup, highSpotMm(patches));
  judgeStart(setup, patches, moves, report);
  judgeTravel(setup, moves, report);
  const cutter = { setup, patches, floorMm, stepMm, highestMm: highestOf(setup, patches) };
  for (const move of moves) run(move, cutter, report);

  const unreachable =
    lays === null
      ? 0
      : judgeStanding(
          lays.map((each, k) => pushed(written, each, k + 1)),
          patches,
          floorMm,
          report,
        );
  const minutes = moves.reduce((sum, move) => sum + minutesOf(move, setup), program.dwellSeconds / 60);
  return {
    problems: [...problems.values()].sort((a, b) => a.line - b.line),
    cleanUpShare: Object.fromEntries(patches.map((patch) => [patch.id, cleanUpShare(patch, floorMm)])),
    unreachableShare: unreachable,
    removedLitres: patches.reduce((sum, patch) => sum + removedLitres(patch), 0),
    minutesNaive: minutes,
  };
}

function pushed(setup: JudgedSetup, shiftMm: number, lay: number): JudgedSetup {
  return {
    ...setup,
    zero: { ...setup.zero, xMm: setup.zero.xMm - shiftMm },
    keepOuts: setup.keepOuts
      .filter((keepOut) => keepOut.lays?.includes(lay) ?? true)
      .map((keepOut) => ({
        ...keepOut,
        outline: keepOut.outline.map(([x, y]) => [x - shiftMm, y] as const),
      })),
  };
}

export type Report = (code: ProblemCode, line: number, text: string) => void;

interface Cutter {
  readonly setup: JudgedSetup;
  readonly patches: readonly Patch[];
  readonly floorMm: number;
  readonly stepMm: number;
  /** Of all wood and keep-outs, before the first cut. */
  readonly highestMm: number;
}

/** Samples over an outline, and which of them lie inside. */
export function cellsOver(outline: Polygon, options: JudgeOptions) {
  const cellMm = options.cellMm ?? 2;
  const box = boxOf([outline]);
  const middle = (least: number) => (Math.floor(least / cellMm) + 1.5 - least / cellMm) % 1;
  const { sampleAt = [0.31, 0.17] } = options;
  const [shareX, shareY] = sampleAt === "middles" ? [middle(box.xMin), middle(box.yMin)] : sampleAt;
  const x0 = box.xMin + (shareX - 1) * cellMm;
  const y0 = box.yMin + (shareY - 1) * cellMm;
  const cols = Math.ceil((box.xMax - x0) / cellMm) + 1;
  const rows = Math.ceil((box.yMax - y0) / cellMm) + 1;
  const inside = Uint8Array.from({ length: cols * rows }, (_, i) =>
    isInside(outline, x0 + (i % cols) * cellMm, y0 + Math.floor(i / cols) * cellMm) ? 1 : 0,
  );
  return { cellMm, x0, y0, cols, rows, inside };
}

/** A height for each cell inside, -Infinity elsewhere. */
export function heightsOn(
  cells: ReturnType<typeof cellsOver>,
  face: (x: number, y: number) => number,
): Float64Array {
  return Float64Array.from(cells.inside, (inside, i) =>
    inside === 1 ? face(...placeOf(cells, i)) : -Infinity,
  );
}

function patchOf(piece: JudgedPiece, marginMm: number, options: JudgeOptions): Patch {
  const cells = cellsOver(piece.outline, options);
  const measured = heightsOn(cells, faceOf(piece));
  const { id, outline } = piece;
  const top = measured.map((z) => z + marginMm);
  return { ...cells, id, outline, measured, top, wood: null, highestMm: highestReading(piece) };
}

export function placeOf(
  { x0, y0, cols, cellMm }: { x0: number; y0: number; cols: number; cellMm: number },
  i: number,
): [number, number] {
  return [x0 + (i % cols) * cellMm, y0 + Math.floor(i / cols) * cellMm];
}

function highestOf(setup: JudgedSetup, patches: readonly Patch[]): number {
  const start = setup.keepOuts.reduce((highest, { heightMm }) => Math.max(highest, heightMm), -Infinity);
  return patches.reduce((highest, { top }) => top.reduce((a, b) => Math.max(a, b), highest), start);
}

/** The highest reading inside the outline; of a box its thickness. A reading on the outline is inside. */
export function highestReading({ readings, thicknessMm, outline }: JudgedPiece): number {
  if (!readings) return thicknessMm;
  return readings.points.reduce(
    (highest, [x, y, z]) => (distanceToShape(outline, x, y) < 1e-6 ? Math.max(highest, z) : highest),
    -Infinity,
  );
}

function highSpotMm(patches: readonly Patch[]): number {
  return Math.max(...patches.map(({ highestMm }) => highestMm));
}

/** Whether the floor is the one that the target means, of a target that does not look at under faces. */
export function judgeFloor(
  setup: JudgedSetup,
  patches: readonly Patch[],
  floorMm: number,
  report: Report,
  leaveBelowMm = 0,
  withinMm = FLOOR_MM,
): void {
  const { target } = setup;
  if (target.cleanUp === undefined) {
    const wanted =
      target.thickness !== undefined
        ? target.thicknessMm + setup.leaveMm + leaveBelowMm
        : highSpotMm(patches) - target.depthMm;
    if (!(Math.abs(floorMm - wanted) <= withinMm)) report("floor", 0, `claimed ${floorMm}, meant ${wanted}`);
    return;
  }
  // The narrowest and the widest reading of what is not cut: what lies under a keep-out, and all in its shade.
  const open = (z: number) => leastShare(patches, z, (x, y) => !isCovered(setup, x, y, z));
  const reachable = (z: number) => leastShare(patches, z, (x, y) => isReachable(setup, x, y, z));
  const most = open(floorMm);
  if (most < target.cleanUp - SHARE)
    report("floor", 0, `${floorMm} cuts ${most} at most, asked ${target.cleanUp}`);
  const higher = floorMm + FLOOR_SHARE_MM;
  const least = reachable(higher);
  if (least >= Math.min(1, target.cleanUp + SHARE))
    report("floor", 0, `${floorMm}: even ${higher} cuts ${least}, asked ${target.cleanUp}`);
}

/** The height of the face that counts for clean-up; NaN where it does not. */
function countedFace({ inside, measured, wood }: Patch, i: number): number {
  if (inside[i] === 0) return NaN;
  return wood ? Math.min(measured[i], wood.top[i]) : measured[i];
}

/** Of all pieces the least share of the area that is measured above z and that `counts`. */
function leastShare(patches: readonly Patch[], z: number, counts: (x: number, y: number) => boolean): number {
  const shares = patches.map((patch) => {
    let [all, above] = [0, 0];
    for (let i = 0; i < patch.inside.length; i++) {
      const face = countedFace(patch, i);
      if (Number.isNaN(face)) continue;
      all++;
      if (face > z && counts(...placeOf(patch, i))) above++;
    }
    return above / all;
  });
  return Math.min(...shares);
}

function isCovered(setup: JudgedSetup, x: number, y: number, z: number): boolean {
  return setup.keepOuts.some(({ heightMm, outline }) => heightMm > z && isInside(outline, x, y));
}

function inFrame(moves: readonly Move[], setup: JudgedSetup, highestMm: number): Move[] {
  const zeroZ = setup.zero.z === "high-spot" ? highestMm : 0;
  const shifted = ([x, y, z]: Move["from"]): Move["from"] => [
    x + setup.zero.xMm,
    y + setup.zero.yMm,
    z + zeroZ,
  ];
  return moves.map((move) => ({
    ...move,
    from: shifted(move.from),
    to: shifted(move.to),
    arc: move.arc && { ...move.arc, x: move.arc.x + setup.zero.xMm, y: move.arc.y + setup.zero.yMm },
  }));
}

function judgeStart(
  setup: JudgedSetup,
  patches: readonly Patch[],
  moves: readonly Move[],
  report: Report,
): void {
  const highest = highestOf(setup, patches);
  moves.forEach((move, index) => {
    const alone = move.axes === "Z" && move.kind === "rapid";
    if (index === 0 && !(alone && move.to[2] > highest))
      report("first-move", move.line, `${move.kind} ${move.axes} to z ${move.to[2]}, highest ${highest}`);
    // Where it comes from is unknown, so it must clear everything.
    const unknown = Number.isNaN(move.from[0] + move.from[1] + move.from[2]);
    if (index > 0 && unknown && !(move.to[2] >= highest + setup.clearZMm - CLEAR_MM))
      report("first-move", move.line, `across at z ${move.to[2]}, highest ${highest}`);
  });
}

function judgeTravel(setup: JudgedSetup, moves: readonly Move[], report: Report): void {
  const least = [Infinity, Infinity, Infinity];
  const most = [-Infinity, -Infinity, -Infinity];
  for (const move of moves) {
    // Straight moves reach no further than their ends.
    forEachPlace(move, move.arc ? 1 : Infinity, (...place) => {
      place.forEach((value, axis) => {
        if (value < least[axis]) least[axis] = value;
        if (value > most[axis]) most[axis] = value;
      });
    });
  }
  setup.travelMm.forEach((limit, axis) => {
    const span = most[axis] - least[axis];
    if (span > limit + 0.001) report("travel", 0, `${"XYZ"[axis]} ${span}, travel ${limit}`);
  });
}

/** Puts the disc down along one move, reports what is wrong with it, and takes away what it cuts. */
function run(move: Move, cutter: Cutter, report: Report): void {
  const { setup, patches, floorMm } = cutter;
  if (move.kind === "cut") {
    if (!(move.feed > 0)) report("feed", move.line, "no feed");
    if (!move.spindle) report("spindle", move.line, "spindle stopped");
  }
  if (Number.isNaN(move.from[0] + move.from[1] + move.from[2])) return;

  const across = move.arc !== null || move.from[0] !== move.to[0] || move.from[1] !== move.to[1];
  const drop = move.from[2] - move.to[2];
  if (!across && drop <= 0) return; // A straight lift touches nothing that its foot does not.
  const steepest = setup.rampSlope * 1.001 + 0.002 / lengthXy(move);
  const tooSteep = drop > 0 && !(setup.rampSlope > 0 && drop / lengthXy(move) <= steepest);

  forEachPlace(move, cutter.stepMm, (x, y, z) => {
    if (!across && z !== move.to[2]) return;
    if (z < -BED_MM) report("bed", move.line, `z ${z}`);
    judgeKeepOuts(setup, x, y, z, move.line, report);
    if (z >= cutter.highestMm + setup.clearZMm) return;
    const nose = setup.nose;
    if (nose && z + nose.aboveMm < cutter.highestMm) {
      const wood = highestUnder(patches, x, y, nose.radiusMm - RIM_MM);
      if (wood > z + nose.aboveMm + TOUCH_MM)
        report("nose", move.line, `wood ${wood}, nose ${z + nose.aboveMm}, at ${x} ${y}`);
    }
    const wood = highestUnder(patches, x, y, setup.radiusMm - RIM_MM);
    const touches = wood > z + TOUCH_MM;
    const where = `wood ${wood}, z ${z}, at ${x} ${y}`;
    if (touches && !across) report("plunge", move.line, where);
    else if (touches && move.kind === "rapid") report("rapid-hit", move.line, where);
    else if (touches && tooSteep) report("steep", move.line, where);
    if (move.kind === "rapid") {
      const highest = Math.max(wood, keepOutUnder(setup, x, y));
      if (across && !touches && z < highest + setup.clearZMm - CLEAR_MM)
        report("rapid-low", move.line, `highest below ${highest}, z ${z}, at ${x} ${y}`);
      return;
    }
    if (wood - z > setup.depthMm + BITE_MM) report("bite", move.line, where);
    const { cut, resin } = lower(patches, x, y, z, setup.radiusMm + RIM_MM);
    if (resin && move.feed > setup.resinFeedMmPerMin * 1.001)
      report("resin-feed", move.line, `${move.feed} in resin, at ${x} ${y}`);
    if (cut && z < floorMm - GOUGE_MM) report("gouge", move.line, `floor ${floorMm}, z ${z}, at ${x} ${y}`);
  });
}

function judgeKeepOuts(
  setup: JudgedSetup,
  x: number,
  y: number,
  z: number,
  line: number,
  report: Report,
): void {
  for (const { name, outline, heightMm } of setup.keepOuts) {
    if (heightMm <= z + 0.001) continue;
    const air = distanceToShape(outline, x, y);
    const where = `z ${z}, height ${heightMm}, at ${x} ${y}`;
    if (air < setup.radiusMm + setup.clearSideMm - CLEAR_MM)
      report("keep-out", line, `${name}: rim ${air - setup.radiusMm} away, ${where}`);
    if (!setup.nose || heightMm <= z + setup.nose.aboveMm + 0.001) continue;
    if (air < setup.nose.radiusMm + setup.clearSideMm - CLEAR_MM)
      report("nose", line, `${name}: nose ${air - setup.nose.radiusMm} away, ${where}`);
  }
}

function keepOutUnder(setup: JudgedSetup, x: number, y: number): number {
  let highest = -Infinity;
  for (const { outline, heightMm } of setup.keepOuts) {
    if (distanceToShape(outline, x, y) < setup.radiusMm - RIM_MM) highest = Math.max(highest, heightMm);
  }
  return highest;
}

/** Calls `visit` at both ends of the move and at least every `stepMm` between them. */
function forEachPlace(move: Move, stepMm: number, visit: (x: number, y: number, z: number) => void): void {
  const [xa, ya, za] = move.from;
  const [xb, yb, zb] = move.to;
  const rise = zb - za;
  const length = Math.sqrt(lengthXy(move) ** 2 + rise * rise);
  const steps = Number.isNaN(length) ? 1 : Math.max(1, Math.ceil(length / stepMm));
  for (let k = 0; k <= steps; k++) {
    const t = k / steps;
    if (k === 0 || k === steps) {
      visit(...(k === 0 ? move.from : move.to));
    } else if (move.arc) {
      const angle = move.arc.sweepRad * t;
      const [dx, dy] = [xa - move.arc.x, ya - move.arc.y];
      const x = move.arc.x + dx * Math.cos(angle) - dy * Math.sin(angle);
      const y = move.arc.y + dx * Math.sin(angle) + dy * Math.cos(angle);
      visit(x, y, za + rise * t);
    } else {
      visit(xa + (xb - xa) * t, ya + (yb - ya) * t, za + rise * t);
    }
  }
}

function lengthXy(move: Move): number {
  const [xa, ya] = move.from;
  if (move.arc) return Math.abs(move.arc.sweepRad) * distance(xa - move.arc.x, ya - move.arc.y);
  return distance(move.to[0] - xa, move.to[1] - ya);
}

function minutesOf(move: Move, setup: JudgedSetup): number {
  const way = [0, 1, 2].map((axis) => Math.abs(move.to[axis] - move.from[axis]));
  if (way.some(Number.isNaN)) return 0;
  if (move.kind === "rapid") return Math.max(...way.map((mm, axis) => mm / setup.rapidMmPerMin[axis]));
  return distance(lengthXy(move), way[2]) / move.feed;
}

/** Highest wood under a disc, -Infinity over none. */
function highestUnder(patches: readonly Patch[], x: number, y: number, radius: number): number {
  let highest = -Infinity;
  for (const { cols, rows, cellMm, x0, y0, top } of patches) {
    const rowMax = Math.min(rows - 1, Math.floor((y + radius - y0) / cellMm));
    for (let row = Math.max(0, Math.ceil((y - radius - y0) / cellMm)); row <= rowMax; row++) {
      const dy = y0 + row * cellMm - y;
      const half = Math.sqrt(radius * radius - dy * dy);
      const colMax = Math.min(cols - 1, Math.floor((x + half - x0) / cellMm));
      for (let col = Math.max(0, Math.ceil((x - half - x0) / cellMm)); col <= colMax; col++) {
        const z = top[row * cols + col];
        if (z > highest) highest = z;
      }
    }
  }
  return highest;
}

/** Cuts the wood under a disc down to z; whether there was any, and whether resin was among it, as measured. */
function lower(
  patches: readonly Patch[],
  x: number,
  y: number,
  z: number,
  radius: number,
): { cut: boolean; resin: boolean } {
  let [cut, resin] = [false, false];
  for (const patch of patches) {
    const { cols, rows, cellMm, x0, y0, top } = patch;
    const rowMax = Math.min(rows - 1, Math.floor((y + radius - y0) / cellMm));
    for (let row = Math.max(0, Math.ceil((y - radius - y0) / cellMm)); row <= rowMax; row++) {
      const dy = y0 + row * cellMm - y;
      const half = Math.sqrt(radius * radius - dy * dy);
      const colMax = Math.min(cols - 1, Math.floor((x + half - x0) / cellMm));
      for (let col = Math.max(0, Math.ceil((x - half - x0) / cellMm)); col <= colMax; col++) {
        const i = row * cols + col;
        if (top[i] <= z) continue;
        resin ||= hasResinAbove(patch, i, z);
        top[i] = z;
        cut = true;
      }
    }
  }
  return { cut, resin };
}

/** Whether what was measured and still stands above z in a cell is in part resin. */
function hasResinAbove({ wood, measured, top }: Patch, i: number, z: number): boolean {
  const stands = Math.min(measured[i], top[i]);
  if (wood === null || stands <= z + RESIN_MM) return false;
  if (Number.isNaN(wood.top[i])) return true;
  return stands > wood.top[i] + RESIN_MM || z < wood.bottom[i] - RESIN_MM;
}

/** Reports wood left where the cutter could have gone; returns the share of the area where it could not. */
function judgeStanding(
  setups: readonly JudgedSetup[],
  patches: readonly Patch[],
  floorMm: number,
  report: Report,
): number {
  let cells = 0;
  let unreachable = 0;
  for (const patch of patches) {
    const left = { cells: 0, highest: -Infinity, at: [0, 0] };
    for (let i = 0; i < patch.inside.length; i++) {
      if (patch.inside[i] === 0) continue;
      cells++;
      if (patch.top[i] <= floorMm + STANDING_MM) continue;
      const [x, y] = placeOf(patch, i);
      if (!setups.every((setup) => isReachable(setup, x, y, floorMm))) {
        unreachable++;
        continue;
      }
      left.cells++;
      if (patch.top[i] > left.highest) [left.highest, left.at] = [patch.top[i], [x, y]];
    }
    if (left.cells === 0) continue;
    const area = left.cells * patch.cellMm ** 2;
    const highest = `highest ${left.highest} at ${left.at.join(" ")}`;
    report("standing", 0, `${patch.id}: ${area} mm2 above ${floorMm}, ${highest}`);
  }
  return unreachable / cells;
}

/** Whether some disc over (x, y), well inside its rim, is well clear of every keep-out at the floor. */
function isReachable(setup: JudgedSetup, x: number, y: number, floorMm: number): boolean {
  const [rings, spokes] = [4, 48];
  const reach = setup.radiusMm - SHADE_MM;
  const near = setup.keepOuts.filter(
    (keepOut) => distanceToShape(keepOut.outline, x, y) < centreAir(setup, keepOut, floorMm) + reach,
  );
  const isClear = (cx: number, cy: number) =>
    near.every((keepOut) => distanceToShape(keepOut.outline, cx, cy) >= centreAir(setup, keepOut, floorMm));
  if (isClear(x, y)) return true;
  for (let ring = rings; ring > 0; ring--) {
    const radius = (reach * ring) / rings;
    for (let spoke = 0; spoke < spokes; spoke++) {
      const angle = (2 * Math.PI * spoke) / spokes;
      if (isClear(x + radius * Math.cos(angle), y + radius * Math.sin(angle))) return true;
    }
  }
  return false;
}

/** How far from a keep-out the cutter's centre stays at height z, and a little more; -1 where it need not. */
function centreAir(setup: JudgedSetup, { heightMm }: JudgedKeepOut, z: number): number {
  if (heightMm < z) return -1;
  const nose = setup.nose && heightMm >= z + setup.nose.aboveMm ? setup.nose.radiusMm : 0;
  return Math.max(setup.radiusMm, nose) + setup.clearSideMm + SHADE_MM;
}

function cleanUpShare(patch: Patch, floorMm: number): number {
  let all = 0;
  let clean = 0;
  for (let i = 0; i < patch.inside.length; i++) {
    const face = countedFace(patch, i);
    if (Number.isNaN(face)) continue;
    all++;
    if (face > floorMm && patch.top[i] <= floorMm + STANDING_MM) clean++;
  }
  return clean / all;
}

function removedLitres({ inside, measured, top, cellMm }: Patch): number {
  let mm3 = 0;
  for (let i = 0; i < inside.length; i++)
    if (inside[i] === 1) mm3 += Math.max(0, measured[i] - top[i]) * cellMm ** 2;
  return mm3 / 1e6;
}

function distance(x: number, y: number): number {
  return Math.sqrt(x * x + y * y);
}
