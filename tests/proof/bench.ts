// A board on the bed, a program by hand, and what the proof finds wrong with it. Millimetres.

import type { KeepOut, Machine, Passes, Piece, Ring, Setup } from "../../src/job/job.ts";
import { type ProofTask, prove } from "../../src/proof/prove.ts";
import { readProgram } from "../../src/rs274/read.ts";
import { type Stock, uncutStock } from "../../src/survey/stock.ts";
import { evenMachine } from "../motion/machines.ts";
import { PLAIN } from "../survey/pieces.ts";

/** What differs from a board of 100 x 60 x 20 with 0.5 margin, cut down to 19 by a 40 mm cutter, at most 2 a pass. */
export interface Bed {
  readonly pieces?: readonly Piece[];
  readonly setup?: Partial<Setup>;
  readonly passes?: Partial<Passes>;
  readonly centreCutting?: boolean;
  readonly machine?: Partial<Machine>;
  readonly floorMm?: number;
  readonly marginMm?: number;
  readonly workOffset?: number;
  readonly units?: ProofTask["units"];
  /** What earlier setups left of the pieces; nobody has cut them otherwise. */
  readonly stocks?: readonly Stock[];
}

export function ring(x0: number, y0: number, x1: number, y1: number): Ring {
  return Float64Array.from([x0, y0, x1, y0, x1, y1, x0, y1]);
}

export function board(outline: Ring = ring(0, 0, 100, 60), thicknessMm = 20, id = "board"): Piece {
  return { id, material: "", outline, grainRad: 0, thicknessMm, upper: null, ...PLAIN };
}

export function keepOut(x0: number, y0: number, x1: number, y1: number, heightMm = 30): KeepOut {
  return { name: "cleat", outline: ring(x0, y0, x1, y1), heightMm, lays: null };
}

/** Clears the board in two rows; the second one's rim runs along the far edge. */
export const CLEAN = [
  "G17 G21 G90 G94 G40 G49 G80 G54",
  "S12000 M3",
  "G4 P6",
  "G0 Z50",
  "X-25 Y10",
  "G1 Z19 F1000",
  "X125 F5000",
  "Y40",
  "X-25",
  "G0 Z50",
  "M5",
  "M30",
];

/** The clean program with the `line`-th line (from 1) replaced by others. */
export function changed(line: number, ...others: string[]): string[] {
  return [...CLEAN.slice(0, line - 1), ...others, ...CLEAN.slice(line)];
}

/** The clean program with all lines from the `line`-th up to the spindle's stop replaced by others. */
export function from(line: number, ...others: string[]): string[] {
  return [...CLEAN.slice(0, line - 1), ...others, "M5", "M30"];
}

export function proven(program: readonly string[], bed: Bed = {}): ReturnType<typeof prove> {
  return prove(readProgram(program.join("\n")).track, taskOf(bed));
}

export function taskOf(bed: Bed = {}): ProofTask {
  const pieces = bed.pieces ?? [board()];
  const setup: Setup = {
    id: "top",
    face: "upper",
    turn: "x",
    pieces,
    cutter: {
      id: "flat",
      name: "insert surfacing cutter",
      diameterMm: 40,
      edges: 3,
      speedMax: 18_000,
      depthMaxMm: 12,
      chipLoadMm: { min: 0.02, max: 0.6 },
      centreCutting: bed.centreCutting ?? false,
      inserts: null,
    },
    target: { kind: "thickness", mm: 19 },
    leaveMm: 0,
    marginMm: 0.5,
    passes: {
      depthMm: 2,
      finish: null,
      stepoverShare: 0.6,
      angleRad: 0,
      fastest: false,
      edgeFirst: false,
      rows: "both-ways",
      overrunMm: null,
      feedMmPerMin: 5000,
      resinFeedMmPerMin: 5000,
      speed: 12_000,
      rampRad: null,
      ...bed.passes,
    },
    keepOuts: [],
    clear: { zMm: 10, sideMm: 5 },
    zero: { xMm: 0, yMm: 0, z: "bed" },
    reindexMm: null,
    ...bed.setup,
  };
  const { zero } = setup;
  const highest = Math.max(...pieces.map((piece) => piece.thicknessMm ?? Number.NaN));
  return {
    setup,
    machine: { ...evenMachine(), ...bed.machine },
    units: bed.units ?? "mm",
    workOffset: bed.workOffset ?? 54,
    stocks: bed.stocks ?? pieces.map(uncutStock),
    marginMm: bed.marginMm ?? 0.5,
    floorMm: bed.floorMm ?? 19,
    zeroMm: { x: zero.xMm, y: zero.yMm, z: zero.z === "bed" ? 0 : highest },
  };
}

/** The findings as "code line", in their order. */
export function found(program: readonly string[], bed: Bed = {}): string[] {
  return proven(program, bed).findings.map(({ code, line }) => `${code} ${line}`);
}
