import type { Job, KeepOut, Setup } from "./job/job.ts";
import type { Track } from "./motion/track.ts";
import { Bench } from "./plan/bench.ts";
import { handMinutes } from "./plan/hands.ts";
import { movement } from "./plan/movement.ts";
import { type Cast, castsOf } from "./plan/pour.ts";
import type { RoughPlace } from "./proof/body.ts";
import { type Checked, checkPieces, type Seconds } from "./proof/check.ts";
import type { Finding, Proof, ProofTask } from "./proof/prove.ts";
import type { Tilt } from "./survey/placed.ts";
import type { Shim } from "./survey/shims.ts";
import type { Stock } from "./survey/stock.ts";

/** Something worth telling that does not stop the plan; `code` is stable. */
export interface Warning {
  readonly code: string;
  readonly text: string;
}

export interface LayerReport {
  /** The layer's floor above the bed. */
  readonly zMm: number;
  /** How deep it bites at most. */
  readonly depthMm: number;
  readonly kind: "rough" | "finish";
  /** Cuts: stretches of rows, and ways along keep-outs. */
  readonly rows: number;
  /** Length of the moves that take material. */
  readonly cutLengthMm: number;
  /** Where material may stand above the layer's floor. */
  readonly areaMm2: number;
  readonly seconds: number;
}

export interface PlannedProgram {
  /** File name, safe on every system: `01-skim-upper.nc`. */
  readonly file: string;
  readonly shiftMm: readonly [number, number];
  readonly text: Uint8Array;
  readonly seconds: number;
  /** As it was read back, and 1 for each of its entries that takes material. */
  readonly track: Track;
  readonly took: Uint8Array;
  /** Of a setup cut in several lays; null: it is cut in one. */
  readonly lay: PlannedLay | null;
}

export interface PlannedLay {
  /** From 1; a lay that finds nothing to cut has no program. */
  readonly number: number;
  /** The ground that it clears, in the frame of the first lay. */
  readonly fromX: number;
  readonly toX: number;
  /** What stands on the bed then, and where it stands there. */
  readonly keepOuts: readonly KeepOut[];
}

export interface PlannedSetup {
  readonly setup: Setup;
  /** Above the bed. */
  readonly floorMm: number;
  /** Where the program's zero lies in the frame. */
  readonly zeroMm: { readonly x: number; readonly y: number; readonly z: number };
  readonly marginMm: number;
  /** Direction of the rows, from +X. */
  readonly angleRad: number;
  readonly programs: readonly PlannedProgram[];
  readonly layers: readonly LayerReport[];
  /** Program coordinates. */
  readonly extentMm: {
    readonly min: readonly [number, number, number];
    readonly max: readonly [number, number, number];
  };
  readonly seconds: Seconds;
  readonly removedLitres: { readonly wood: number; readonly resin: number };
  /** How far the highest measured place stood above the floor. */
  readonly removedMostMm: number;
  readonly pieces: readonly PlannedPiece[];
  readonly proof: Proof;
  readonly warnings: readonly Warning[];
  /** The pieces as the setup finds them. */
  readonly found: readonly Stock[];
  /** The pieces as it leaves them; made when first asked for. */
  readonly left: () => readonly Stock[];
}

/** What a setup does to one piece. */
export interface PlannedPiece {
  readonly id: string;
  /** Share of the face that is cut down to the floor: of its wood, and of its resin (null: it has none). */
  readonly cleanUp: number;
  readonly resinCleanUp: number | null;
  /** From face to face, as measured, where the cutter reaches. */
  readonly thinnestMm: number;
  readonly thickestMm: number;
  /** The greatest thickness, after sanding, at which this face comes out clean all over. */
  readonly cleanThicknessMm: number;
  /** From face to face in one place. */
  readonly thicknessAtMm: (x: number, y: number) => number;
  /** The largest places that stay rough, frame coordinates. */
  readonly rough: readonly RoughPlace[];
  readonly removedLitres: { readonly wood: number; readonly resin: number };
}

export interface Plan {
  readonly job: Job;
  readonly setups: readonly PlannedSetup[];
  /** The shims on which pieces lie at first. */
  readonly seats: Seats;
  /** One entry a piece of wood and resin. */
  readonly casts: readonly Cast[];
  /** What is odd in the job's files; cast pieces that nothing cuts; how wood will move where moisture is given. One sentence each. */
  readonly notes: readonly string[];
  readonly seconds: { readonly machine: number; readonly shop: number };
  readonly cautions: readonly string[];
}

/** How a piece lies on shims, and what goes under it where, in the frame of its first lay. */
export interface Seat extends Tilt {
  readonly shims: readonly Shim[];
}

/** By the piece's id. */
export type Seats = ReadonlyMap<string, Seat>;

/** What `checkProgram` says of a program. */
export interface CheckResult extends Checked {
  readonly ok: boolean;
}

export type { Finding, Proof, Seconds };

/** What every plan reminds of. Common shop cautions; no standard is quoted. */
const CAUTIONS = [
  "Hold the piece so that it cannot shift or lift, and check that every clamp and cleat stands where the job says: the programs keep clear of those that it names, and of no others.",
  "Check that the cutter is rated for its speed, its inserts are sharp and tight, and its diameter is the one in the shop file.",
  "Set zero as the job says and run the first moves above the piece with a hand on the stop. Never leave the machine running unattended.",
  "Dust of wood and of resin harms lungs and can burn: use extraction and a respirator, and let resin cure before it is cut.",
  "A simulation cannot see hold-down, a worn insert or lost steps. Follow the makers' manuals, your local rules and trained people.",
];

/**
 * Plans and proves every setup of a job; `seats` tilts pieces when they are first laid, `tell` hears of each
 * setup before it is planned. Throws PlanError when a setup cannot be planned or is not safe.
 */
export function planJob(
  job: Job,
  seats: Seats = new Map(),
  tell: (setup: Setup, index: number) => void = () => {},
): Plan {
  const bench = new Bench(job, seats);
  const setups = job.setups.map((setup, index) => {
    tell(setup, index);
    return bench.plan(setup);
  });
  const machine = setups.reduce((sum, setup) => sum + setup.seconds.total, 0);
  return {
    ...{ job, setups, seats },
    casts: castsOf(job, setups),
    notes: [
      ...job.notes,
      ...uncutCasts(job),
      ...job.pieces.flatMap((piece) => movement(piece, setups, job) ?? []),
    ],
    seconds: { machine, shop: machine + 60 * minutesOf(job, setups) },
    cautions: CAUTIONS,
  };
}

/** What people do, all of it. */
function minutesOf(job: Job, setups: readonly PlannedSetup[]): number {
  const pushes = setups.reduce((sum, { programs }) => sum + programs.length - 1, 0);
  return Object.values(handMinutes(job, pushes)).reduce((sum, minutes) => sum + minutes, 0);
}

/** Cast pieces that nothing cuts: a link to a wrong setup takes all that come after it from them. */
function uncutCasts({ pieces, setups }: Job): string[] {
  const cut = new Set(setups.flatMap((setup) => setup.pieces.map(({ id }) => id)));
  return pieces
    .filter(({ id, madeOf }) => madeOf.length > 0 && !cut.has(id))
    .map(
      ({ id }) =>
        `no setup cuts the cast piece "${id}": check "after" in its "madeOf", and the setups' "pieces"`,
    );
}

/**
 * Proves any program, its text whole or in pieces, on the stock that the setups before its own leave. Throws
 * PlanError when those cannot be planned, or when the setup itself asks for what cannot be.
 */
export function checkProgram(
  job: Job,
  setupId: string,
  text: Uint8Array | Iterable<Uint8Array>,
  lay = 1,
  seats: Seats = new Map(),
): CheckResult {
  const checked = checkPieces(
    text instanceof Uint8Array ? [text] : text,
    proofTask(job, setupId, lay, seats),
  );
  return { ok: checked.count === 0, ...checked };
}

/** What a program of a setup is proven on: the stock that the setups before leave. Throws as `checkProgram` does. */
export function proofTask(job: Job, setupId: string, lay = 1, seats: Seats = new Map()): ProofTask {
  const bench = new Bench(job, seats);
  for (const setup of job.setups) {
    if (setup.id === setupId) return bench.task(setup, lay);
    bench.plan(setup);
  }
  throw new Error(`the job has no setup "${setupId}"`);
}
