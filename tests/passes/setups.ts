// Setups for tests, millimetres: a 60 mm cutter on an even machine, changed as a test needs it.

import type { KeepOut, Machine, Passes, Piece, Ring, Setup, Target } from "../../src/job/job.ts";
import { evenMachine } from "../motion/machines.ts";
import { rectangle } from "../region/shapes.ts";

const PASSES: Passes = {
  depthMm: 2,
  finish: null,
  stepoverShare: 0.6,
  angleRad: 0,
  fastest: false,
  edgeFirst: false,
  rows: "both-ways",
  overrunMm: null,
  feedMmPerMin: 6000,
  resinFeedMmPerMin: 6000,
  speed: 14_000,
  rampRad: null,
};

export interface SetupChange {
  readonly pieces?: readonly Piece[];
  readonly target?: Target;
  readonly diameterMm?: number;
  readonly passes?: Partial<Passes>;
  readonly keepOuts?: readonly KeepOut[];
  readonly clear?: Setup["clear"];
  readonly leaveMm?: number;
  readonly zero?: Setup["zero"];
}

export function setupOf(change: SetupChange = {}): Setup {
  return {
    id: "top",
    face: "upper",
    turn: "x",
    pieces: change.pieces ?? [],
    cutter: {
      id: "flat",
      name: "insert surfacing cutter",
      diameterMm: change.diameterMm ?? 60,
      edges: 3,
      speedMax: 18_000,
      depthMaxMm: 12,
      chipLoadMm: { min: 0.02, max: 0.6 },
      centreCutting: false,
      inserts: null,
    },
    target: change.target ?? { kind: "thickness", mm: 50 },
    leaveMm: change.leaveMm ?? 0,
    marginMm: 0,
    passes: { ...PASSES, ...change.passes },
    keepOuts: change.keepOuts ?? [],
    clear: change.clear ?? { zMm: 10, sideMm: 5 },
    zero: change.zero ?? { xMm: 0, yMm: 0, z: "bed" },
    reindexMm: null,
  };
}

export function keepOut(outline: Ring, heightMm: number): KeepOut {
  return { name: "cleat", outline, heightMm, lays: null };
}

/** A cleat of 40 x 20 about a place. */
export function cleat(x: number, y: number, heightMm: number): KeepOut {
  return keepOut(rectangle(x - 20, y - 10, x + 20, y + 10), heightMm);
}

export function machineWith(nose: Machine["nose"] = null): Machine {
  return { ...evenMachine(), nose };
}
