// An independent judge of programs: runs a program's text on the raw job's wood, slowly and plainly, and
// says everything that is wrong with it. Millimetres in the bed's frame: Z up, bed = 0; a program
// coordinate plus the setup's zero is a frame coordinate. The cutter is a flat disc that is put down
// every step along each move; the wood is one height a cell. Shares no code with src. Does not know
// turned pieces, wood in resin, lays of a reindexed piece, or acceleration.

import { faceOf } from "./judge-face.ts";
import { type JudgedKeepOut, type JudgedSetup, judgedSetup, type RawJob } from "./judge-job.ts";
import { boxOf, distanceToShape, isInside } from "./judge-plane.ts";
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
  | "nose"; // the spindle nose in wood, or too near to a keep-out

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
  /** Where in its cell a height is sampled, each 0 to 1: chosen so that rows do not fall on samples. */
  readonly sampleAt?: readonly [number, number];
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
const FLOOR_SHARE_MM = 0.1; // how much a floor that follows from a share may be too low
const SHARE = 0.012; // what counting whole cells may get wrong in a share: where a level runs along a row of cells, a row

interface Stock {
  readonly cols: number;
  readonly rows: number;
  readonly cellMm: number;
  /** Place of the first sample. */
  readonly x0: number;
  readonly y0: number;
  /** Index of the piece that a cell belongs to, -1 for none. */
  readonly piece: Int8Array;
  /** The measured face; -Infinity where there is no piece. */
  readonly measured: Float64Array;
  /** The highest that wood may stand now: measured plus margin, lowered by every cut. */
  readonly top: Float64Array;
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
  const stock = stockOf(setup, options);
  const problems = new Map<string, Problem>();
  const report = (code: ProblemCode, line: number, what: string) => {
    const key = `${code} ${line}`;
    if (!problems.has(key)) problems.set(key, { code, line, text: what });
  };

  judgeFloor(setup, stock, floorMm, report);
  const program = readProgram(text);
  for (const problem of program.problems) report(problem.code, problem.line, problem.text);
  if (program.units !== setup.units) report("units", 0, `program in ${program.units}, job in ${setup.units}`);
  if (!program.ended) report("end", 0, "neither M2 nor M30");

  const moves = inFrame(program.moves, setup);
  judgeStart(setup, stock, moves, report);
  judgeTravel(setup, moves, report);
  const cutter = { setup, stock, floorMm, stepMm: options.stepMm ?? 1, highestMm: highestOf(setup, stock) };
  for (const move of moves) run(move, cutter, report);

  const unreachable = judgeStanding(setup, stock, floorMm, report);
  const minutes = moves.reduce((sum, move) => sum + minutesOf(move, setup), program.dwellSeconds / 60);
  return {
    problems: [...problems.values()].sort((a, b) => a.line - b.line),
    cleanUpShare: cleanUpShares(setup, stock, floorMm),
    unreachableShare: unreachable,
    removedLitres: removedLitres(stock),
    minutesNaive: minutes,
  };
}

type Report = (code: ProblemCode, line: number, text: string) => void;

interface Cutter {
  readonly setup: JudgedSetup;
  readonly stock: Stock;
  readonly floorMm: number;
  readonly stepMm: number;
  /** Of all wood and keep-outs, before the first cut. */
  readonly highestMm: number;
}

function stockOf(setup: JudgedSetup, options: JudgeOptions): Stock {
  const cellMm = options.cellMm ?? 2;
  const [shareX, shareY] = options.sampleAt ?? [0.31, 0.17];
  const box = boxOf(setup.pieces.map((piece) => piece.outline));
  const x0 = box.xMin + (shareX - 1) * cellMm;
  const y0 = box.yMin + (shareY - 1) * cellMm;
  const cols = Math.ceil((box.xMax - x0) / cellMm) + 1;
  const rows = Math.ceil((box.yMax - y0) / cellMm) + 1;
  const piece = new Int8Array(cols * rows).fill(-1);
  const measured = new Float64Array(cols * rows).fill(-Infinity);
  setup.pieces.forEach((one, index) => {
    const face = faceOf(one);
    for (let i = 0; i < piece.length; i++) {
      const x = x0 + (i % cols) * cellMm;
      const y = y0 + Math.floor(i / cols) * cellMm;
      if (!isInside(one.outline, x, y)) continue;
      piece[i] = index;
      measured[i] = face(x, y);
    }
  });
  return { cols, rows, cellMm, x0, y0, piece, measured, top: measured.map((z) => z + setup.marginMm) };
}

function placeOf(stock: Stock, i: number): [number, number] {
  return [stock.x0 + (i % stock.cols) * stock.cellMm, stock.y0 + Math.floor(i / stock.cols) * stock.cellMm];
}

function highestOf(setup: JudgedSetup, stock: Stock): number {
  const wood = stock.top.reduce((a, b) => Math.max(a, b), -Infinity);
  return setup.keepOuts.reduce((highest, keepOut) => Math.max(highest, keepOut.heightMm), wood);
}

/** The highest reading inside the outlines; of a box its thickness. A reading on an outline is inside. */
function highSpotMm(setup: JudgedSetup): number {
  let highest = -Infinity;
  for (const piece of setup.pieces) {
    if (!piece.readings) highest = Math.max(highest, piece.thicknessMm);
    for (const [x, y, z] of piece.readings?.points ?? []) {
      if (distanceToShape(piece.outline, x, y) < 1e-6) highest = Math.max(highest, z);
    }
  }
  return highest;
}

/** Whether the floor is the one that the target means. */
function judgeFloor(setup: JudgedSetup, stock: Stock, floorMm: number, report: Report): void {
  const { target } = setup;
  if (target.cleanUp === undefined) {
    const wanted =
      target.thickness !== undefined
        ? target.thicknessMm + setup.leaveMm
        : highSpotMm(setup) - target.depthMm;
    if (!(Math.abs(floorMm - wanted) <= FLOOR_MM)) report("floor", 0, `claimed ${floorMm}, meant ${wanted}`);
    return;
  }
  // The narrowest and the widest reading of what is not cut: what lies under a keep-out, and all in its shade.
  const open = (z: number) => leastShare(setup, stock, z, (x, y) => !isCovered(setup, x, y, z));
  const reachable = (z: number) => leastShare(setup, stock, z, (x, y) => isReachable(setup, x, y, z));
  const most = open(floorMm);
  if (most < target.cleanUp - SHARE)
    report("floor", 0, `${floorMm} cuts ${most} at most, asked ${target.cleanUp}`);
  const higher = floorMm + FLOOR_SHARE_MM;
  const least = reachable(higher);
  if (least >= Math.min(1, target.cleanUp + SHARE))
    report("floor", 0, `${floorMm}: even ${higher} cuts ${least}, asked ${target.cleanUp}`);
}

/** Of all pieces the least share of the area that is measured above z and that `counts`. */
function leastShare(
  setup: JudgedSetup,
  stock: Stock,
  z: number,
  counts: (x: number, y: number) => boolean,
): number {
  const cells = setup.pieces.map(() => ({ all: 0, above: 0 }));
  for (let i = 0; i < stock.piece.length; i++) {
    if (stock.piece[i] < 0) continue;
    const piece = cells[stock.piece[i]];
    piece.all++;
    if (stock.measured[i] > z && counts(...placeOf(stock, i))) piece.above++;
  }
  return Math.min(...cells.map(({ all, above }) => above / all));
}

function isCovered(setup: JudgedSetup, x: number, y: number, z: number): boolean {
  return setup.keepOuts.some(({ heightMm, outline }) => heightMm > z && isInside(outline, x, y));
}

function inFrame(moves: readonly Move[], setup: JudgedSetup): Move[] {
  const zeroZ = setup.zero.z === "high-spot" ? highSpotMm(setup) : 0;
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

function judgeStart(setup: JudgedSetup, stock: Stock, moves: readonly Move[], report: Report): void {
  const highest = highestOf(setup, stock);
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
  const { setup, stock, floorMm } = cutter;
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
      const wood = highestUnder(stock, x, y, nose.radiusMm - RIM_MM);
      if (wood > z + nose.aboveMm + TOUCH_MM)
        report("nose", move.line, `wood ${wood}, nose ${z + nose.aboveMm}, at ${x} ${y}`);
    }
    const wood = highestUnder(stock, x, y, setup.radiusMm - RIM_MM);
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
    const cut = lower(stock, x, y, z, setup.radiusMm + RIM_MM);
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
function highestUnder(stock: Stock, x: number, y: number, radius: number): number {
  const { cols, rows, cellMm, x0, y0, top } = stock;
  let highest = -Infinity;
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
  return highest;
}

/** Cuts the wood under a disc down to z; whether there was any. */
function lower(stock: Stock, x: number, y: number, z: number, radius: number): boolean {
  const { cols, rows, cellMm, x0, y0, top } = stock;
  let cut = false;
  const rowMax = Math.min(rows - 1, Math.floor((y + radius - y0) / cellMm));
  for (let row = Math.max(0, Math.ceil((y - radius - y0) / cellMm)); row <= rowMax; row++) {
    const dy = y0 + row * cellMm - y;
    const half = Math.sqrt(radius * radius - dy * dy);
    const colMax = Math.min(cols - 1, Math.floor((x + half - x0) / cellMm));
    for (let col = Math.max(0, Math.ceil((x - half - x0) / cellMm)); col <= colMax; col++) {
      if (top[row * cols + col] <= z) continue;
      top[row * cols + col] = z;
      cut = true;
    }
  }
  return cut;
}

/** Reports wood left where the cutter could have gone; returns the share of the area where it could not. */
function judgeStanding(setup: JudgedSetup, stock: Stock, floorMm: number, report: Report): number {
  let cells = 0;
  let unreachable = 0;
  const left = setup.pieces.map(() => ({ cells: 0, highest: -Infinity, at: [0, 0] }));
  for (let i = 0; i < stock.piece.length; i++) {
    if (stock.piece[i] < 0) continue;
    cells++;
    if (stock.top[i] <= floorMm + STANDING_MM) continue;
    const [x, y] = placeOf(stock, i);
    if (!isReachable(setup, x, y, floorMm)) {
      unreachable++;
      continue;
    }
    const piece = left[stock.piece[i]];
    piece.cells++;
    if (stock.top[i] > piece.highest) [piece.highest, piece.at] = [stock.top[i], [x, y]];
  }
  left.forEach((piece, index) => {
    if (piece.cells === 0) return;
    const area = piece.cells * stock.cellMm ** 2;
    const highest = `highest ${piece.highest} at ${piece.at.join(" ")}`;
    report("standing", 0, `${setup.pieces[index].id}: ${area} mm2 above ${floorMm}, ${highest}`);
  });
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

function cleanUpShares(setup: JudgedSetup, stock: Stock, floorMm: number): Record<string, number> {
  const shares = setup.pieces.map((piece, index) => {
    let all = 0;
    let clean = 0;
    for (let i = 0; i < stock.piece.length; i++) {
      if (stock.piece[i] !== index) continue;
      all++;
      if (stock.measured[i] > floorMm && stock.top[i] <= floorMm + STANDING_MM) clean++;
    }
    return [piece.id, clean / all] as const;
  });
  return Object.fromEntries(shares);
}

function removedLitres(stock: Stock): number {
  let mm3 = 0;
  for (let i = 0; i < stock.piece.length; i++) {
    if (stock.piece[i] >= 0) mm3 += Math.max(0, stock.measured[i] - stock.top[i]) * stock.cellMm ** 2;
  }
  return mm3 / 1e6;
}

function distance(x: number, y: number): number {
  return Math.sqrt(x * x + y * y);
}
