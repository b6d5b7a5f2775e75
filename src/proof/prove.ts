// Does the program do that, and nothing else: a track is run on the wood, and everything that is not as
// the setup says becomes a finding. The wood is the upper bound of the faces (measured + margin); what is
// left of the measured faces follows from it, because both are cut to the same height. Frame coordinates
// in millimetres. Hold-down, deflection, worn edges and lost steps cannot be seen here.

import type { KeepOut, Machine, Setup } from "../job/job.ts";
import { arcSweepRad } from "../motion/arc.ts";
import { isMotion, Kind, type Track } from "../motion/track.ts";
import { forbiddenAt, unreachable } from "../passes/reach.ts";
import { EMPTY, intersection, type Region, regionOf, rings } from "../region/region.ts";
import { type Box, boxOf, type Grid, type HeightField, insideMask, pitchFor } from "../survey/field.ts";
import { type Stock, stockHeights } from "../survey/stock.ts";
import { formatLength, formatPoint, type Units } from "../units.ts";
import { distanceToRing } from "./distance.ts";
import { ZMap } from "./zmap.ts";

/** One thing wrong with a program; `code` is stable, `line` is the program's, from 1 (0: the whole). */
export interface Finding {
  readonly code: string;
  readonly line: number;
  readonly text: string;
}

export interface Proof {
  readonly ok: boolean;
  readonly cellMm: number;
  /** Least share, over the pieces, of the measured face that was cut down to the floor. */
  readonly cleanUp: number;
  /** Highest and lowest place of the measured faces afterwards, above the bed, out of a keep-out's reach. */
  readonly highestMm: number;
  readonly lowestMm: number;
  readonly deepestCutMm: number;
  readonly rapidHits: number;
  readonly keepOutHits: number;
  readonly plungeHits: number;
  readonly outsideTravel: number;
}

/** What is left of one piece. */
export interface ProvenPiece {
  readonly id: string;
  /** Share of the measured face that was cut down to the floor. */
  readonly cleanUp: number;
  /** Share that stays rough: under and beside keep-outs, and below the floor. */
  readonly underKeepOuts: number;
  readonly belowFloor: number;
  /** Heights above the bed of the measured face afterwards, where the cutter reaches. */
  readonly lowestMm: number;
  readonly highestMm: number;
  readonly removedMm3: number;
  /** The highest place that is left, under keep-outs too. */
  readonly highestLeftMm: number;
  readonly grid: Grid;
  /** Where the cutting edge has been, earlier setups included; for the next setup's stock. */
  readonly cut: () => HeightField;
}

export interface Proven {
  readonly proof: Proof;
  readonly findings: readonly Finding[];
  readonly pieces: readonly ProvenPiece[];
  /** 1 for every entry of the track that took material. */
  readonly took: Uint8Array;
}

export interface ProofTask {
  readonly setup: Setup;
  readonly machine: Machine;
  /** Of the texts. */
  readonly units: Units;
  /** G54 ... as 54 ...: the only offset of which it is known where it lies. */
  readonly workOffset: number;
  readonly stocks: readonly Stock[];
  readonly marginMm: number;
  readonly floorMm: number;
  readonly zeroMm: { readonly x: number; readonly y: number; readonly z: number };
}

const CELL_MM = 1;
const CELLS_MAX = 24_000_000;
const FINDINGS_MAX = 100;
/** What rounding of coordinates and of single-precision heights may amount to. */
const ROUNDING_MM = 0.005;
/** What single precision may take from a height or add to it. */
const SINGLE_MM = 2e-5;
/** Clearances beside and above are kept to this. */
const CLEARANCE_MM = 0.02;
/** Wood up to this above the floor counts as cut down to it. */
const LEFT_MM = 0.05;
/** Descents flatter than this are levelling, not plunging. */
const LEVEL_SLOPE = 1e-3;
/** Chords of arcs leave the arc by at most this. */
const SAGITTA_MM = 0.01;

/** Runs a track on the stocks. Never throws for what a program does. */
export function prove(track: Track, task: ProofTask): Proven {
  const bench = layOut(task);
  const run = new Run(track, task, bench);
  run.all();
  const pieces = bench.parts.map((part) => pieceLeft(part, bench, task, run));
  checkFaces(pieces, task, run);
  const outsideTravel = checkTravel(track, task, run);
  const inReach = pieces.filter((piece) => piece.lowestMm <= piece.highestMm);
  return {
    proof: {
      ok: run.count === 0,
      cellMm: bench.map.grid.pitchMm,
      cleanUp: Math.min(...pieces.map((piece) => piece.cleanUp)),
      highestMm: Math.max(...inReach.map((piece) => piece.highestMm)),
      lowestMm: Math.min(...inReach.map((piece) => piece.lowestMm)),
      deepestCutMm: run.deepest,
      rapidHits: run.hits("rapid-hit"),
      keepOutHits: run.hits("keep-out") + run.hits("nose"),
      plungeHits: run.hits("plunge"),
      outsideTravel,
    },
    findings: run.findings,
    pieces,
    took: run.took,
  };
}

// The wood on the bed ----------------------------------------------------------------------

/** One piece's part of the map. */
interface Part {
  readonly stock: Stock;
  readonly grid: Grid;
  /** Where the part's first sample lies in the map. */
  readonly col: number;
  readonly row: number;
  readonly inside: Uint8Array;
  /** Heights before anything is cut, margin included. */
  readonly before: Float32Array;
}

interface Bench {
  readonly map: ZMap;
  readonly parts: readonly Part[];
  readonly highest: number;
}

function layOut({ stocks, marginMm }: ProofTask): Bench {
  const whole = boxOf(stocks.map((stock) => stock.piece.outline));
  const pitchMm = pitchFor(whole, CELL_MM, CELLS_MAX);
  const grid = anchoredGrid(whole, pitchMm);
  const z = new Float32Array(grid.cols * grid.rows).fill(Number.NEGATIVE_INFINITY);
  let highest = Number.NEGATIVE_INFINITY;
  const parts = stocks.map((stock) => {
    const { outline } = stock.piece;
    const own = anchoredGrid(boxOf([outline]), pitchMm);
    const col = Math.round((own.x0 - grid.x0) / pitchMm);
    const row = Math.round((own.y0 - grid.y0) / pitchMm);
    const inside = insideMask([outline], own);
    const before = stockHeights(stock, marginMm, own);
    for (let j = 0, k = 0; j < own.rows; j++)
      for (let i = 0, at = (row + j) * grid.cols + col; i < own.cols; i++, k++, at++)
        if (inside[k] === 1) {
          z[at] = before[k];
          if (before[k] > highest) highest = before[k];
        }
    return { stock, grid: own, col, row, inside, before };
  });
  return { map: new ZMap(grid, z), parts, highest };
}

/** A grid over the box whose samples lie at the middles of cells that every setup shares. */
function anchoredGrid(box: Box, pitchMm: number): Grid {
  const firstCol = Math.floor(box.minX / pitchMm);
  const firstRow = Math.floor(box.minY / pitchMm);
  return {
    x0: (firstCol + 0.5) * pitchMm,
    y0: (firstRow + 0.5) * pitchMm,
    pitchMm,
    cols: Math.ceil(box.maxX / pitchMm) - firstCol,
    rows: Math.ceil(box.maxY / pitchMm) - firstRow,
  };
}

// Running the track ------------------------------------------------------------------------

class Run {
  readonly findings: Finding[] = [];
  readonly took: Uint8Array;
  count = 0;
  deepest = 0;
  private readonly counts = new Map<string, number>();
  private readonly track: Track;
  private readonly task: ProofTask;
  private readonly bench: Bench;
  private readonly map: ZMap;
  private readonly radius: number;
  private readonly slopeAllowed: number;
  /** Wood can reach the spindle nose only when some stands this high over the cutting edge. */
  private readonly noseWood: boolean;
  private x = Number.NaN;
  private y = Number.NaN;
  private z = Number.NaN;
  private line = 0;
  private speed = 0;
  /** Height at which the disc last cut where it now stands; NaN after anything else. */
  private cutAt = Number.NaN;
  /** Deepest bite of the move under way. */
  private moveBite = 0;

  constructor(track: Track, task: ProofTask, bench: Bench) {
    this.track = track;
    this.task = task;
    this.bench = bench;
    this.map = bench.map;
    this.took = new Uint8Array(track.count);
    this.radius = task.setup.cutter.diameterMm / 2;
    const ramp = task.setup.passes.rampRad;
    this.slopeAllowed = ramp === null ? LEVEL_SLOPE : Math.tan(ramp) + LEVEL_SLOPE;
    const above = task.machine.nose?.aboveMm ?? Number.POSITIVE_INFINITY;
    this.noseWood = bench.highest > lowestZ(track) + task.zeroMm.z + above;
  }

  hits(code: string): number {
    return this.counts.get(code) ?? 0;
  }

  report(code: string, text: string, line = this.line): void {
    this.count++;
    this.counts.set(code, this.hits(code) + 1);
    if (this.findings.length < FINDINGS_MAX) this.findings.push({ code, line, text });
  }

  all(): void {
    const { track, task } = this;
    const { zeroMm } = task;
    for (let k = 0; k < track.count; k++) {
      this.line = track.line[k];
      const kind = track.kind[k];
      if (!isMotion(kind)) {
        this.event(kind, track.value[k]);
        continue;
      }
      const x = track.x[k] + zeroMm.x;
      const y = track.y[k] + zeroMm.y;
      const z = track.z[k] + zeroMm.z;
      if (kind === Kind.rapid) this.rapid(x, y, z);
      else {
        if (!(track.value[k] > 0)) this.report("no-feed", "feed move without a feed (F)");
        this.moveBite = 0;
        const took = kind === Kind.cut ? this.feed(x, y, z) : this.arc(k, x, y, z);
        if (took) this.checkCut();
        this.took[k] = took ? 1 : 0;
      }
      this.x = x;
      this.y = y;
      this.z = z;
      if (z < -ROUNDING_MM) this.report("bed", `goes ${this.length(-z)} below the top of the bed`);
    }
  }

  private event(kind: number, value: number): void {
    if (kind === Kind.spindle) this.speed = value;
    else if (kind === Kind.end) this.speed = 0;
    else if (kind === Kind.offset && value !== this.task.workOffset)
      this.report(
        "work-offset",
        `changes to G${value}: where that zero lies is not known, only that of G${this.task.workOffset}`,
      );
  }

  private rapid(x: number, y: number, z: number): void {
    const moves = x !== this.x || y !== this.y;
    this.cutAt = Number.NaN;
    if (Number.isNaN(this.x) || Number.isNaN(this.y) || Number.isNaN(this.z)) {
      this.firstRapid(x, y, z);
      return;
    }
    const met = this.map.look(this.x, this.y, this.z, x, y, z, this.radius);
    const { bite, highest } = met;
    if (bite > ROUNDING_MM) {
      this.report(
        "rapid-hit",
        `rapid through material: ${this.length(bite)} deep at ${this.placeOf(x, y, z)}`,
      );
    } else if (moves) {
      const low = Math.min(z, this.z);
      const over = Math.max(highest, this.keepOutsUnder(x, y));
      const { zMm } = this.task.setup.clear;
      if (over > 0 && low < over + zMm - CLEARANCE_MM)
        this.report(
          "clearance",
          `rapid passes ${this.length(low - over)} over what lies under it; the setup asks for ${this.length(zMm)}`,
        );
    }
    this.checkAround(x, y, z);
  }

  /** Until a program has said where all axes are, only a height above everything is safe. */
  private firstRapid(x: number, y: number, z: number): void {
    if (Number.isNaN(x) && Number.isNaN(y)) return;
    const { keepOuts } = this.task.setup;
    const stands = Math.max(this.bench.highest, ...keepOuts.map(({ heightMm }) => heightMm));
    if (!(this.z > stands) || !(z > stands))
      this.report(
        "first-move",
        `moves in X or Y before Z is above everything on the bed (${this.length(stands)} above it)`,
      );
  }

  /** A straight feed move; returns whether it took material. */
  private feed(x: number, y: number, z: number): boolean {
    if (Number.isNaN(this.x) || Number.isNaN(this.y) || Number.isNaN(this.z)) {
      this.firstRapid(x, y, z);
      return false;
    }
    this.checkAround(x, y, z);
    const moves = x !== this.x || y !== this.y;
    if (z === this.z) {
      const met = this.map.cutLevel(this.x, this.y, x, y, z, this.radius, this.cutAt <= z);
      this.cutAt = z;
      return this.note(met.bite, met.volume, z);
    }
    const met = this.map.cutSlope(this.x, this.y, this.z, x, y, z, this.radius);
    this.cutAt = z < this.z ? z : Number.NaN;
    const { bite, volume } = met;
    const slope = (this.z - z) / Math.sqrt((x - this.x) ** 2 + (y - this.y) ** 2);
    if (bite > ROUNDING_MM && z < this.z) this.checkDescent(bite, moves, slope, x, y, z);
    return this.note(bite, volume, Math.min(z, this.z));
  }

  private checkDescent(bite: number, moves: boolean, slope: number, x: number, y: number, z: number): void {
    if (!moves) {
      if (!this.task.setup.cutter.centreCutting)
        this.report(
          "plunge",
          `straight down into material, ${this.length(bite)} deep at ${this.placeOf(x, y, z)}: this cutter does not cut at its centre`,
        );
    } else if (slope > this.slopeAllowed) {
      const degrees = (Math.atan(slope) * 180) / Math.PI;
      this.report(
        "plunge",
        `down into material at ${degrees.toFixed(1)} degrees, ${this.length(bite)} deep at ${this.placeOf(x, y, z)}; ` +
          (this.task.setup.passes.rampRad === null
            ? "the setup allows no ramp"
            : "steeper than the ramp allowed"),
      );
    }
  }

  private arc(k: number, x: number, y: number, z: number): boolean {
    const { track, task } = this;
    const cx = track.centreX[k] + task.zeroMm.x;
    const cy = track.centreY[k] + task.zeroMm.y;
    const clockwise = track.kind[k] === Kind.arcClockwise;
    const sweep = arcSweepRad(this.x, this.y, x, y, cx, cy, clockwise);
    const radius = Math.sqrt((this.x - cx) ** 2 + (this.y - cy) ** 2);
    const start = Math.atan2(this.y - cy, this.x - cx);
    const step = 2 * Math.acos(Math.max(0, 1 - SAGITTA_MM / Math.max(radius, SAGITTA_MM)));
    const chords = Math.max(1, Math.ceil(sweep / step));
    const startZ = this.z;
    let took = false;
    for (let chord = 1; chord <= chords; chord++) {
      const share = chord / chords;
      const angle = start + (clockwise ? -1 : 1) * sweep * share;
      const last = chord === chords;
      const tx = last ? x : cx + radius * Math.cos(angle);
      const ty = last ? y : cy + radius * Math.sin(angle);
      const tz = last ? z : startZ + (z - startZ) * share;
      if (this.feed(tx, ty, tz)) took = true;
      this.x = tx;
      this.y = ty;
      this.z = tz;
    }
    return took;
  }

  private note(bite: number, volume: number, z: number): boolean {
    this.moveBite = Math.max(this.moveBite, bite);
    const { floorMm } = this.task;
    if (bite > ROUNDING_MM && z < floorMm - ROUNDING_MM)
      this.report("gouge", `cuts ${this.length(floorMm - z)} below the floor`);
    return volume > 0;
  }

  /** What a move that took material must have: a depth within the setup's, and a turning spindle. */
  private checkCut(): void {
    const { depthMm } = this.task.setup.passes;
    this.deepest = Math.max(this.deepest, this.moveBite);
    if (this.moveBite > depthMm + ROUNDING_MM)
      this.report(
        "bite",
        `takes ${this.length(this.moveBite)} at once; the setup allows ${this.length(depthMm)}`,
      );
    if (this.speed < 0) this.report("spindle-backwards", "cuts with the spindle turning backwards (M4)");
    else if (!(this.speed > 0)) this.report("spindle-off", "cuts with the spindle standing still");
  }

  /** Keep-outs, and what the spindle nose may meet, on the straight way to a place. */
  private checkAround(x: number, y: number, z: number): void {
    const { setup, machine } = this.task;
    const { nose } = machine;
    const low = Math.min(z, this.z);
    for (const keepOut of setup.keepOuts) {
      this.checkKeepOut(keepOut, this.radius, low, x, y, "keep-out", "the cutter");
      if (nose !== null)
        this.checkKeepOut(keepOut, nose.diameterMm / 2, low + nose.aboveMm, x, y, "nose", "the spindle nose");
    }
    if (nose !== null && this.noseWood) {
      const [az, bz] = [this.z + nose.aboveMm, z + nose.aboveMm];
      const { bite } = this.map.look(this.x, this.y, az, x, y, bz, nose.diameterMm / 2);
      if (bite > ROUNDING_MM)
        this.report(
          "nose",
          `the spindle nose runs into material, ${this.length(bite)} deep at ${this.placeOf(x, y, z)}`,
        );
    }
  }

  private checkKeepOut(
    { name, outline, heightMm }: KeepOut,
    radius: number,
    low: number,
    x: number,
    y: number,
    code: string,
    what: string,
  ): void {
    if (heightMm <= low + ROUNDING_MM) return;
    const { sideMm } = this.task.setup.clear;
    const away = distanceToRing(outline, this.x, this.y, x, y) - radius;
    if (away < sideMm - CLEARANCE_MM)
      this.report(
        code,
        away < 0
          ? `${what} runs into keep-out "${name}"`
          : `${what} passes keep-out "${name}" at ${this.length(away)}; the setup asks for ${this.length(sideMm)}`,
      );
  }

  /** Height of the highest keep-out under the disc on the way to (x, y), 0 for none. */
  private keepOutsUnder(x: number, y: number): number {
    let highest = 0;
    for (const { outline, heightMm } of this.task.setup.keepOuts)
      if (heightMm > highest && distanceToRing(outline, this.x, this.y, x, y) < this.radius)
        highest = heightMm;
    return highest;
  }

  /** A length as the user reads lengths. */
  length(valueMm: number): string {
    return formatLength(valueMm, this.task.units);
  }

  /** A place as the program names it. */
  placeOf(x: number, y: number, z?: number): string {
    const { zeroMm, units } = this.task;
    const height = z === undefined ? "" : `, Z ${this.length(z - zeroMm.z)}`;
    return formatPoint(x - zeroMm.x, y - zeroMm.y, units) + height;
  }
}

function lowestZ(track: Track): number {
  let lowest = Number.POSITIVE_INFINITY;
  for (let k = 0; k < track.count; k++) if (track.z[k] < lowest) lowest = track.z[k];
  return lowest;
}

// What is left -----------------------------------------------------------------------------

function pieceLeft(part: Part, bench: Bench, task: ProofTask, run: Run): ProvenPiece {
  const { stock, grid, inside, before } = part;
  const { floorMm } = task;
  const { map } = bench;
  // A stock that nobody has cut yet stands its margin above what was measured, everywhere.
  const measured = stock.cut === null ? null : stockHeights(stock, 0, grid);
  const { marginMm } = task;
  const blocked = outOfReach(task, stock, bench);
  const shaded = blocked.paths.length > 0 ? insideMask(rings(blocked), grid) : null;
  let [cells, cleaned, shadedCells, low, standing] = [0, 0, 0, 0, 0];
  let [lowest, highest, removed] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, 0];
  let highestLeft = Number.NEGATIVE_INFINITY;
  let worst = { over: 0, col: 0, row: 0 };
  for (let row = 0, k = 0; row < grid.rows; row++) {
    let at = (part.row + row) * map.grid.cols + part.col;
    for (let col = 0; col < grid.cols; col++, k++, at++) {
      if (inside[k] === 0) continue;
      cells++;
      const after = map.z[at];
      const found = measured === null ? before[k] - marginMm : measured[k];
      const left = Math.min(after, found);
      removed += found - left;
      if (left > highestLeft) highestLeft = left;
      const above = found > floorMm + SINGLE_MM;
      if (above && after < before[k] && left <= floorMm + ROUNDING_MM) cleaned++;
      if (shaded !== null && shaded[k] === 1) {
        shadedCells++;
        continue;
      }
      if (!above) low++;
      if (left < lowest) lowest = left;
      if (left > highest) highest = left;
      if (after > floorMm + LEFT_MM) {
        standing++;
        if (after - floorMm > worst.over) worst = { over: after - floorMm, col, row };
      }
    }
  }
  const cellArea = grid.pitchMm * grid.pitchMm;
  if (standing > 0) {
    const place = run.placeOf(grid.x0 + worst.col * grid.pitchMm, grid.y0 + worst.row * grid.pitchMm);
    run.report(
      "left-standing",
      `piece "${stock.piece.id}": ${((standing * cellArea) / 100).toFixed(0)} cm2 within reach may stand above the floor, ` +
        `up to ${run.length(worst.over)} at ${place}`,
      0,
    );
  }
  return {
    id: stock.piece.id,
    cleanUp: cleaned / cells,
    underKeepOuts: shadedCells / cells,
    belowFloor: low / cells,
    lowestMm: lowest,
    highestMm: highest,
    removedMm3: removed * cellArea,
    highestLeftMm: highestLeft,
    grid,
    cut: () => ({ ...grid, z: withEarlier(cutBelow(part, map), stock.cut, grid) }),
  };
}

/** The cutting edge's height wherever it has taken something of the part, +Infinity elsewhere. */
function cutBelow({ grid, col, row, before, inside }: Part, map: ZMap): Float32Array {
  const cut = new Float32Array(grid.cols * grid.rows).fill(Number.POSITIVE_INFINITY);
  for (let j = 0, k = 0; j < grid.rows; j++)
    for (let i = 0, at = (row + j) * map.grid.cols + col; i < grid.cols; i++, k++, at++)
      if (inside[k] === 1 && map.z[at] < before[k]) cut[k] = map.z[at];
  return cut;
}

/** What of a piece no disc can reach at the floor. */
function outOfReach({ setup, machine, floorMm }: ProofTask, stock: Stock, bench: Bench): Region {
  const { nose } = machine;
  let forbidden = forbiddenAt(setup, nose, floorMm, EMPTY);
  if (forbidden.core.paths.length > 0 && nose !== null && bench.highest > floorMm + nose.aboveMm) {
    // Wood beside keep-outs that stays higher than the nose keeps the nose away in turn.
    const standing = intersection(forbidden.core, regionOf([stock.piece.outline]));
    forbidden = forbiddenAt(setup, nose, floorMm, standing);
  }
  return unreachable(forbidden, setup.cutter.diameterMm / 2);
}

/** Where both setups have cut, the lower counts; grids are anchored alike, so samples coincide. */
function withEarlier(cut: Float32Array, earlier: HeightField | null, grid: Grid): Float32Array {
  if (earlier === null) return cut;
  const col = Math.round((grid.x0 - earlier.x0) / grid.pitchMm);
  const row = Math.round((grid.y0 - earlier.y0) / grid.pitchMm);
  for (let j = 0, k = 0; j < grid.rows; j++)
    for (let i = 0; i < grid.cols; i++, k++) {
      const [c, r] = [i + col, j + row];
      if (c < 0 || r < 0 || c >= earlier.cols || r >= earlier.rows) continue;
      cut[k] = Math.min(cut[k], earlier.z[r * earlier.cols + c]);
    }
  return cut;
}

function checkFaces(pieces: readonly ProvenPiece[], { setup }: ProofTask, run: Run): void {
  const { target } = setup;
  if (target.kind !== "cleanUp") return;
  for (const { id, cleanUp, grid } of pieces) {
    // Cells are counted whole, so a share is known to about half a cell all around what is cut.
    const slack = 0.002 + (grid.cols + grid.rows) / (grid.cols * grid.rows);
    if (cleanUp < target.share - slack)
      run.report(
        "clean-up",
        `piece "${id}": ${(100 * cleanUp).toFixed(1)} % of the face is cut; the setup asks for ${(100 * target.share).toFixed(1)} %`,
        0,
      );
  }
}

/** Reports axes on which the program needs more than the travel; returns how many. */
function checkTravel(track: Track, { machine }: ProofTask, run: Run): number {
  let axes = 0;
  const check = (name: string, values: Float64Array, travelMm: number) => {
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (let k = 0; k < track.count; k++) {
      if (values[k] < low) low = values[k];
      if (values[k] > high) high = values[k];
    }
    if (high - low <= travelMm + ROUNDING_MM || !(high > low)) return;
    axes++;
    run.report(
      "travel",
      `needs ${run.length(high - low)} in ${name}; the machine has ${run.length(travelMm)}`,
      0,
    );
  };
  check("X", track.x, machine.travelMm.x);
  check("Y", track.y, machine.travelMm.y);
  check("Z", track.z, machine.travelMm.z);
  return axes;
}
