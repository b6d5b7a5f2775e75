// Does the program do that, and nothing else: a track is run on the wood, and everything that is not as
// the setup says becomes a finding. The wood is the upper bound of the faces (measured + margin); what is
// left of the measured faces follows from it, because both are cut to the same height. Frame coordinates
// in millimetres. Hold-down, deflection, worn edges and lost steps cannot be seen here.

import type { Machine, Setup } from "../job/job.ts";
import type { Track } from "../motion/track.ts";
import type { Lay } from "../passes/lays.ts";
import type { HeightField } from "../survey/field.ts";
import type { Stock } from "../survey/stock.ts";
import type { Units } from "../units.ts";
import type { RoughPlace } from "./body.ts";
import { pieceLeft } from "./left.ts";
import { ROUNDING_MM, Run } from "./run.ts";
import { layOut, type Wood } from "./wood.ts";

/** One thing wrong with a program; `code` is stable, `line` is the program's, from 1 (0: the whole). */
export interface Finding {
  readonly code: string;
  readonly line: number;
  readonly text: string;
}

export interface Proof {
  readonly ok: boolean;
  readonly cellMm: number;
  /** Least share, over the pieces, of the measured face of the wood that was cut down to the floor. */
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
  /** Share of the measured face of the wood that was cut down to the floor. */
  readonly cleanUp: number;
  /** The same of the face where there is no wood; null where there is nothing else. */
  readonly resinCleanUp: number | null;
  /** Share that stays rough: under and beside keep-outs, and below the floor. */
  readonly underKeepOuts: number;
  readonly belowFloor: number;
  /** Heights above the bed of the measured face afterwards, where the cutter reaches; all of it when nowhere. */
  readonly lowestMm: number;
  readonly highestMm: number;
  /** From face to face. */
  readonly thickness: { readonly least: number; readonly most: number };
  /** The same in one place inside the outline, frame coordinates. */
  readonly thicknessAt: (x: number, y: number) => number;
  /** Where wood stays as it was, the largest places first. */
  readonly rough: readonly RoughPlace[];
  readonly removedMm3: { readonly wood: number; readonly resin: number };
  /** The highest place that is left, under keep-outs too. */
  readonly highestLeftMm: number;
  /** How far off the counted shares may be. */
  readonly cleanUpSlack: number;
  /** Where the cutting edge has been, earlier setups included; for the next setup's stock. */
  readonly cut: () => HeightField;
}

export interface Proven {
  readonly proof: Proof;
  /** The first hundred; of a line's findings of one code the worst. */
  readonly findings: readonly Finding[];
  /** How many there are. */
  readonly count: number;
  readonly pieces: readonly ProvenPiece[];
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
  /** Of a piece cut in several lays, those up to the program's own; what they do not clear may stand. */
  readonly lays?: readonly Lay[];
}

/** Runs a track on the stocks; `took` is 1 for every entry that takes material. Never throws for what a program does. */
export function prove(track: Track, task: ProofTask): Proven & { readonly took: Uint8Array } {
  const proving = new Proving(task);
  const took = new Uint8Array(track.count);
  proving.take(track, 0, took);
  return { ...proving.end(), took };
}

/** Runs a track that comes in pieces on the stocks. */
export class Proving {
  private readonly task: ProofTask;
  private readonly wood: Wood;
  private readonly run: Run;

  /** `wood` goes on from where an earlier program of the setup has left it. */
  constructor(task: ProofTask, wood: Wood = layOut(task.stocks, task.marginMm)) {
    this.task = task;
    this.wood = wood;
    this.run = new Run(task, this.wood);
  }

  /** Runs the entries from `first` on; sets `took` to 1 for each that takes material, else to 0. */
  take(track: Track, first: number, took: Uint8Array): void {
    this.run.take(track, first, took);
  }

  /** What is left, and all that was found wrong. */
  end(): Proven {
    const { task, wood, run } = this;
    const pieces = wood.parts.map((part) => pieceLeft(part, wood, task, run));
    checkFaces(pieces, task, run);
    return { ...provenOf(pieces, checkTravel(task, run), wood, run), pieces };
  }
}

function provenOf(
  pieces: readonly ProvenPiece[],
  outsideTravel: number,
  wood: Wood,
  run: Run,
): Omit<Proven, "pieces"> {
  const inReach = pieces.filter((piece) => piece.underKeepOuts < 1);
  return {
    proof: {
      ok: run.count === 0,
      cellMm: wood.map.grid.pitchMm,
      cleanUp: Math.min(...pieces.map((piece) => piece.cleanUp)),
      highestMm: Math.max(...inReach.map((piece) => piece.highestMm)),
      lowestMm: Math.min(...inReach.map((piece) => piece.lowestMm)),
      deepestCutMm: run.deepest,
      rapidHits: run.hits("rapid-hit"),
      keepOutHits: run.hits("keep-out") + run.hits("nose"),
      plungeHits: run.hits("plunge"),
      outsideTravel,
    },
    findings: run.findings(),
    count: run.count,
  };
}

function checkFaces(pieces: readonly ProvenPiece[], { setup, lays }: ProofTask, run: Run): void {
  const { target } = setup;
  // One lay clears its own ground only.
  if (target.kind !== "cleanUp" || lays !== undefined) return;
  for (const { id, cleanUp, cleanUpSlack } of pieces) {
    if (cleanUp < target.share - 0.002 - cleanUpSlack)
      run.reportWhole(
        "clean-up",
        `piece "${id}": ${(100 * cleanUp).toFixed(1)} % of the face is cut; the setup asks for ${(100 * target.share).toFixed(1)} %`,
      );
  }
}

/** Reports axes on which the program needs more than the travel; returns how many. */
function checkTravel({ machine }: ProofTask, run: Run): number {
  let axes = 0;
  for (const axis of ["x", "y", "z"] as const) {
    const span = run.high[axis] - run.low[axis];
    const travelMm = machine.travelMm[axis];
    if (!(span > travelMm + ROUNDING_MM)) continue;
    axes++;
    run.reportWhole(
      "travel",
      `needs ${run.length(span)} in ${axis.toUpperCase()}; the machine has ${run.length(travelMm)}`,
    );
  }
  return axes;
}
