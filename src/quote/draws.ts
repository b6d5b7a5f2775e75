// One invented table after the other: what its setups take, how the machine keeps to its plan and how quick people
// are that day. Each table depends on the seed and its number alone, so any number of workers may share them out.
// Minutes.

import type { Job, Piece, Setup } from "../job/job.ts";
import { handMinutes } from "../plan/hands.ts";
import type { MachineRatio } from "./actuals.ts";
import { Dice } from "./dice.ts";
import {
  type Drawn,
  inventedCast,
  inventedSlab,
  isMeasured,
  isSawn,
  NOTHING_DRAWN,
  thicknessFromUpper,
} from "./faces.ts";
import { type Faces, Known, timesOf } from "./times.ts";

/** What is to be quoted. Plain data: it goes to workers as it is. */
export interface Task {
  readonly job: Job;
  readonly seed: number;
  readonly ratio: Pick<MachineRatio, "expected" | "expectedSpread">;
}

/** The parts of a table's time. */
export const PARTS = [
  "skim",
  "shell upper",
  "shell under",
  "cutter changes",
  "turning over",
  "zeroing",
  "loading",
  "pushing on",
] as const;
export type PartName = (typeof PARTS)[number];
/** Of them, how many are the machine's; people's follow. */
export const MACHINE_PARTS = 3;

/** What may be different from table to table. */
export const DRIVERS = [
  "bow",
  "cup",
  "twist",
  "wedge",
  "sawMarks",
  "shell",
  "pour",
  "machine",
  "hands",
] as const;
export type Driver = (typeof DRIVERS)[number];

/** One invented table. */
export interface Draw {
  /** By `PARTS`. */
  readonly minutes: readonly number[];
  /** In rows, of the machine's minutes. */
  readonly rowMinutes: number;
  /** How much of each driver there was, by `DRIVERS`. */
  readonly drivers: readonly number[];
  /** The largest share of a face that its setup cannot clean, and that setup's id. */
  readonly missedShare: number;
  readonly missedBy: string;
  /** How often long pieces are pushed on between programs. */
  readonly pushes: number;
}

/** Draws a task's tables; what is the same for all of them is worked out once. */
export class Drawer {
  private readonly task: Task;
  private readonly known = new Known();

  constructor(task: Task) {
    this.task = task;
  }

  /** The table of that number. Throws PlanError when it cannot be planned. */
  draw(index: number): Draw {
    const { job, seed, ratio } = this.task;
    const dice = new Dice(seed, index);
    const { quoting } = job.shop;
    // Drawn first, so that they do not depend on what the job has of pieces.
    const machine = Math.max(0.1, ratio.expected + ratio.expectedSpread * dice.normal());
    const hands = Math.max(0.1, 1 + quoting.handShare * dice.normal());
    const drawn = { ...NOTHING_DRAWN };
    const times = timesOf(job, facesBy(job, dice, drawn), this.known);

    const pushes = times.reduce((sum, time) => sum + time.pushes, 0);
    const minutes = handParts(job, pushes).map((each) => hands * each);
    let rowMinutes = 0;
    times.forEach(({ seconds, rowSeconds }, k) => {
      minutes[PARTS.indexOf(partOf(job.setups[k]))] += (machine * seconds) / 60;
      rowMinutes += (machine * rowSeconds) / 60;
    });
    const missedShare = Math.max(0, ...times.map((time) => time.missedShare));
    const missedBy = job.setups[times.findIndex((time) => time.missedShare === missedShare)]?.id ?? "";
    return {
      minutes,
      rowMinutes,
      drivers: DRIVERS.map((name) => ({ ...drawn, machine, hands })[name]),
      ...{ missedShare, missedBy, pushes },
    };
  }
}

/** People's minutes as the shop says them, by `PARTS`, when long pieces are pushed on so often. */
export function handParts(job: Job, pushed: number): number[] {
  const { loads, turns, cutterChanges, zeros, pushes } = handMinutes(job, pushed);
  const minutes: Readonly<Record<PartName, number>> = {
    ...{ skim: 0, "shell upper": 0, "shell under": 0 },
    "cutter changes": cutterChanges,
    "turning over": turns,
    zeroing: zeros,
    loading: loads,
    "pushing on": pushes,
  };
  return PARTS.map((part) => minutes[part]);
}

/** Under which part a setup's time counts. */
export function partOf({ pieces, face }: Setup): PartName {
  if (pieces.every(isSawn)) return "skim";
  return face === "upper" ? "shell upper" : "shell under";
}

/** So many standard deviations of the saw's marks are about the margin that readings of them ask for. */
const MARGIN_SIGMAS = 3.5;
const MARGIN_MM = { least: 0.5, most: 3 };

/** Faces by chance where none were measured; adds to `drawn` how much of everything there was. */
function facesBy({ shop }: Job, dice: Dice, drawn: { -readonly [name in keyof Drawn]: number }): Faces {
  const { warp } = shop.quoting;
  const add = (more: Drawn) => {
    for (const name of Object.keys(drawn) as (keyof Drawn)[]) drawn[name] += more[name];
  };
  const marks = new Map<string, number>();
  return {
    marginMm: (id) => {
      const wanted = MARGIN_SIGMAS * (marks.get(id) ?? 0);
      return Math.min(MARGIN_MM.most, Math.max(MARGIN_MM.least, wanted));
    },
    laid: (piece) => {
      const { thicknessMm } = piece;
      // A piece cast before the job began is level, and lies on the bed.
      const made = isSawn(piece)
        ? inventedSlab(piece, thicknessMm ?? thicknessFromUpper(piece), warp, dice)
        : piece.upper === null && thicknessMm !== null
          ? inventedCast(piece, thicknessMm, piece.shellMm.upper, warp, dice)
          : { piece, drawn: NOTHING_DRAWN };
      add(made.drawn);
      marks.set(piece.id, made.drawn.sawMarks);
      return made.piece;
    },
    cast: (piece, levelMm) => {
      const made = inventedCast(piece, levelMm, piece.shellMm.upper, warp, dice);
      add(made.drawn);
      return made.piece;
    },
  };
}

/** The job as it was before anyone measured; null where nobody has. */
export function unmeasured(job: Job): Job | null {
  if (!job.pieces.some((piece) => isMeasured(piece, "upper") || isMeasured(piece, "under"))) return null;
  const bare = new Map(job.pieces.map((piece) => [piece.id, bareOf(piece)]));
  const swap = (piece: Piece) => bare.get(piece.id) ?? piece;
  return {
    ...job,
    pieces: job.pieces.map(swap),
    setups: job.setups.map((setup) => ({ ...setup, pieces: setup.pieces.map(swap) })),
  };
}

function bareOf(piece: Piece): Piece {
  // What is cast is as thick as its wood and shell make it.
  const unknown = piece.upper === null || piece.madeOf.length > 0;
  const thicknessMm = piece.thicknessMm ?? (unknown ? null : thicknessFromUpper(piece));
  return { ...piece, thicknessMm, upper: null, under: null, calipers: null };
}
