// Does the program do that, and nothing else: a track is run on the wood, and everything that is not as
// the setup says becomes a finding. The wood is the upper bound of the faces (measured + margin); what is
// left of the measured faces follows from it, because both are cut to the same height. Frame coordinates
// in millimetres. Hold-down, deflection, worn edges and lost steps cannot be seen here.

import type { Machine, Setup } from "../job/job.ts";
import type { Track } from "../motion/track.ts";
import type { Grid, HeightField } from "../survey/field.ts";
import type { Stock } from "../survey/stock.ts";
import type { Units } from "../units.ts";
import { pieceLeft } from "./left.ts";
import { ROUNDING_MM, Run } from "./run.ts";
import { layOut } from "./wood.ts";

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
  /** Heights above the bed of the measured face afterwards, where the cutter reaches; all of it when nowhere. */
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

/** Runs a track on the stocks. Never throws for what a program does. */
export function prove(track: Track, task: ProofTask): Proven {
  const wood = layOut(task.stocks, task.marginMm);
  const run = new Run(track, task, wood);
  run.all();
  const pieces = wood.parts.map((part) => pieceLeft(part, wood, task, run));
  checkFaces(pieces, task, run);
  const outsideTravel = checkTravel(task, run);
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
    findings: run.findings,
    pieces,
    took: run.took,
  };
}

function checkFaces(pieces: readonly ProvenPiece[], { setup }: ProofTask, run: Run): void {
  const { target } = setup;
  if (target.kind !== "cleanUp") return;
  for (const { id, cleanUp, grid } of pieces) {
    // Cells are counted whole, so a share is known to about half a cell all around what is cut.
    const slack = 0.002 + (grid.cols + grid.rows) / (grid.cols * grid.rows);
    if (cleanUp < target.share - slack)
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
