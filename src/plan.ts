// The whole way, from a job to its proven programs: each setup finds what the one before left, gets its
// motion planned, its program written, and the written text read back, proven and timed.
// Millimetres, seconds and litres throughout; document.ts says the same in the job's unit.

import { movementNote, widthAcrossGrainMm } from "./cutting/movement.ts";
import { cuttingWarnings } from "./cutting/warnings.ts";
import { assert, InputError, PlanError } from "./errors.ts";
import type { Job, Piece, Setup } from "./job/job.ts";
import { checkApart, checkMold, rockingWarning } from "./lay.ts";
import { trackTimes } from "./motion/clock.ts";
import type { Track } from "./motion/track.ts";
import { grainOf } from "./passes/angle.ts";
import { type Levels, levelsOf } from "./passes/floor.ts";
import { type Lay, laysOf } from "./passes/lays.ts";
import { type PassesPlan, planPasses } from "./passes/passes.ts";
import { slowedInResin } from "./passes/resin.ts";
import { faceOf } from "./passes/tasks.ts";
import { type Cast, castsOf } from "./pour.ts";
import type { RoughPlace } from "./proof/body.ts";
import { type Checked, checkPieces, type Seconds, Spent } from "./proof/check.ts";
import { stockSoFar } from "./proof/left.ts";
import {
  type Finding,
  type Proof,
  type ProofTask,
  type Proven,
  type ProvenPiece,
  Proving,
} from "./proof/prove.ts";
import { checkRoom, layOut, type Wood } from "./proof/wood.ts";
import { readProgram } from "./rs274/read.ts";
import { writeProgram } from "./rs274/write.ts";
import { castStock } from "./survey/cast.ts";
import { boxOf, gridOver, insideMask } from "./survey/field.ts";
import type { Tilt } from "./survey/placed.ts";
import { defaultMargin, type Scatter, scatterOf } from "./survey/scatter.ts";
import type { Shim } from "./survey/shims.ts";
import { cutStock, type Stock, tiltedStock, turnedStock, uncutStock } from "./survey/stock.ts";
import { formatLength, formatPoint, type Units } from "./units.ts";

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
}

export interface PlannedSetup {
  readonly setup: Setup;
  /** Above the bed. */
  readonly floorMm: number;
  /** Where the program's zero lies in the frame. */
  readonly zeroMm: { readonly x: number; readonly y: number; readonly z: number };
  readonly marginMm: number;
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
  /** How wood will move where moisture is given, one sentence a piece. */
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
    notes: job.pieces.flatMap((piece) => movement(piece, setups, job) ?? []),
    seconds: { machine, shop: machine + 60 * bench.handMinutes },
    cautions: CAUTIONS,
  };
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
): CheckResult {
  const checked = checkPieces(text instanceof Uint8Array ? [text] : text, proofTask(job, setupId, lay));
  return { ok: checked.count === 0, ...checked };
}

/** What a program of a setup is proven on: the stock that the setups before leave. Throws as `checkProgram` does. */
export function proofTask(job: Job, setupId: string, lay = 1): ProofTask {
  const bench = new Bench(job, new Map());
  for (const setup of job.setups) {
    if (setup.id === setupId) return bench.task(setup, lay);
    bench.plan(setup);
  }
  throw new Error(`the job has no setup "${setupId}"`);
}

/** How a piece's wood will move once it is as the last of its setups leaves it; null where nothing is to be said. */
function movement(
  { id, moisture }: Piece,
  setups: readonly PlannedSetup[],
  { pieces, units, shop }: Job,
): string | null {
  const lastOf = (name: string) => {
    const last = setups.findLast((setup) => setup.pieces.some((piece) => piece.id === name));
    const index = last?.pieces.findIndex((piece) => piece.id === name) ?? -1;
    return last && { stock: last.found[index], thicknessMm: last.pieces[index].thickestMm };
  };
  const own = lastOf(id);
  if (own === undefined || moisture === null) return null;
  // A part of a cast is as thick as the cast.
  let whole = id;
  for (;;) {
    const cast = pieces.find(({ madeOf }) => madeOf.some((part) => part.piece === whole));
    if (cast === undefined) break;
    whole = cast.id;
  }
  const { piece, timbers } = own.stock;
  const { thicknessMm } = lastOf(whole) ?? own;
  const outlines = timbers?.map(({ outline }) => outline) ?? [piece.outline];
  const widthMm = widthAcrossGrainMm(outlines, grainOf(piece));
  return movementNote({ piece, thicknessMm, widthMm }, units, shop.materials);
}

/** The pieces as they stand between setups. */
class Bench {
  /** What people do around the machine's own time, so far. */
  handMinutes = 0;
  private readonly job: Job;
  private readonly seats: Seats;
  private readonly stocks = new Map<string, Stock>();
  private readonly scatters = new Map<string, Scatter>();
  private cutter = "";

  constructor(job: Job, seats: Seats) {
    this.job = job;
    this.seats = seats;
    this.handMinutes = job.shop.handMinutes.load;
  }

  plan(written: Setup): PlannedSetup {
    const { setup, stocks, warnings } = this.lay(written);
    const marginMm = this.margin(setup, stocks);
    const { runs, levels, proven } = this.runs(written, setup, stocks, marginMm);
    const { floorMm, zero } = levels;
    const left = once(() => leave(setup, stocks, proven.pieces));
    this.keep(written, left);
    this.count(setup);
    const pieces = proven.pieces.map((piece, k) => plannedPiece(piece, floorMm, setup, stocks[k]));
    return {
      setup,
      floorMm,
      zeroMm: zero,
      marginMm,
      programs: runs.map(({ program }) => program),
      layers: runs.flatMap((run) => run.layers),
      extentMm: extentOf(runs.map(({ program }) => program.track)),
      seconds: sumOf(runs.map(({ seconds }) => seconds)),
      removedLitres: {
        wood: pieces.reduce((sum, { removedLitres }) => sum + removedLitres.wood, 0),
        resin: pieces.reduce((sum, { removedLitres }) => sum + removedLitres.resin, 0),
      },
      removedMostMm: Math.max(...stocks.map((stock) => stock.highestMm)) - floorMm,
      pieces,
      proof: proven.proof,
      warnings: [...warnings, ...this.warnings(setup, stocks, runs[0].passes, proven.pieces, pieces)],
      ...{ found: stocks, left },
    };
  }

  /** The setup's programs, proven on one wood: one, or one for each lay of what is longer than the travel. */
  private runs(
    written: Setup,
    setup: Setup,
    stocks: readonly Stock[],
    marginMm: number,
  ): { runs: readonly PlannedRun[]; levels: Omit<Levels, "steps">; proven: Proven } {
    const { units, shop } = this.job;
    const { whole, lays } = this.laysNeeded(setup, stocks, marginMm);
    const levels = whole === null ? lays[0].levels : { floorMm: whole.floorMm, zero: whole.zeroMm };
    const wood = layOut(stocks, marginMm);
    const runs: PlannedRun[] = [];
    let last: Proven | null = null;
    for (const [k, lay] of (whole === null ? lays : [undefined]).entries()) {
      const standing = k === 0 ? stocks : wood.parts.map((part) => stockSoFar(part, wood));
      const passes =
        lay === undefined
          ? whole
          : planned(() => planPasses(lay.setup, shop.machine, standing, marginMm, units, undefined, lay));
      // A lay may find nothing to do where only the rest of the piece is high.
      if (passes === null) continue;
      const file = this.fileName(written, lay === undefined ? null : k + 1);
      const run = this.run(this.taskOf(setup, stocks, marginMm, levels, lays, k), passes, lay, file, wood);
      runs.push(run);
      last = run.proven;
    }
    if (last === null || runs.length === 0)
      throw new PlanError(
        "nothing-in-reach",
        setup.id,
        "keep-outs leave no place where the cutter could cut",
      );
    const deepestCutMm = Math.max(...runs.map(({ proven }) => proven.proof.deepestCutMm));
    return { runs, levels, proven: { ...last, proof: { ...last.proof, deepestCutMm } } };
  }

  /** The passes of the whole setup; null where it takes several lays. */
  private laysNeeded(
    setup: Setup,
    stocks: readonly Stock[],
    marginMm: number,
  ): { whole: PassesPlan; lays: null } | { whole: null; lays: readonly Lay[] } {
    const { units, shop } = this.job;
    try {
      return { whole: planPasses(setup, shop.machine, stocks, marginMm, units), lays: null };
    } catch (error) {
      if (!(error instanceof PlanError) || error.code !== "travel" || setup.reindexMm === null) throw error;
    }
    const levels = levelsOf(setup, shop.machine, stocks, units);
    const standsMm = Math.max(...stocks.map((stock) => faceOf(stock, marginMm).highest)) - levels.floorMm;
    const layers = Math.ceil(standsMm / setup.passes.depthMm) + 1;
    const lays = laysOf(setup, setup.reindexMm, shop.machine, stocks, levels, layers, units);
    return { whole: null, lays };
  }

  /** One program: planned, written, read back, proven, timed. Throws PlanError when it is not safe. */
  private run(
    task: ProofTask,
    passes: PassesPlan,
    lay: Lay | undefined,
    file: string,
    wood: Wood,
  ): PlannedRun {
    const { job } = this;
    const { setup } = task;
    const track = slowedInResin(passes, setup, task.stocks, task.marginMm);
    const output = writeProgram(track, {
      units: job.units,
      style: job.shop.program,
      tool: job.shop.cutters.findIndex(({ id }) => id === setup.cutter.id) + 1,
      header: header(job, setup, passes, lay, this.shims(setup)),
      notes: layerNotes(job, track, passes),
    });
    const text = output.text.slice();
    const read = readProgram(text);
    assert(read.ok, `the reader refuses what the writer wrote: ${read.findings[0]?.text}`);
    tagAlike(read.track, track);
    const took = new Uint8Array(read.track.count);
    const proving = new Proving(task, wood);
    proving.take(read.track, 0, took);
    const proven = proving.end();
    if (!proven.proof.ok) {
      const [first] = proven.findings;
      throw new PlanError(
        first.code,
        setup.id,
        `the program that was made is not safe: ${first.text}`,
        first.line,
      );
    }
    const { seconds, layers } = report(read.track, took, passes, job);
    const shiftMm = [lay?.shiftMm ?? 0, 0] as const;
    const program = { file, shiftMm, text, seconds: seconds.total, track: read.track, took };
    return { program, passes, seconds, layers, proven };
  }

  /** What a program for the setup is proven on; `lay` counts from 1. */
  task(written: Setup, lay: number): ProofTask {
    const { units, shop } = this.job;
    const { setup, stocks } = this.lay(written);
    const marginMm = this.margin(setup, stocks);
    const lays = setup.reindexMm === null ? null : this.laysNeeded(setup, stocks, marginMm).lays;
    const count = lays?.length ?? 1;
    if (lay > count)
      throw new InputError([
        {
          ...{ file: "command line", place: "--lay", line: 0, column: 0 },
          text: `found ${lay}; setup "${setup.id}" is cut in ${count === 1 ? "one lay" : `${count} lays`}`,
        },
      ]);
    const levels = levelsOf(setup, shop.machine, stocks, units);
    const wood = layOut(stocks, marginMm);
    for (let k = 0; k < lay - 1 && lays !== null; k++) {
      const standing = wood.parts.map((part) => stockSoFar(part, wood));
      const passes = planned(() =>
        planPasses(lays[k].setup, shop.machine, standing, marginMm, units, undefined, lays[k]),
      );
      if (passes !== null)
        this.run(this.taskOf(setup, stocks, marginMm, levels, lays, k), passes, lays[k], "", wood);
    }
    const standing = lay === 1 ? stocks : wood.parts.map((part) => stockSoFar(part, wood));
    return this.taskOf(setup, standing, marginMm, levels, lays, lay - 1);
  }

  private taskOf(
    setup: Setup,
    stocks: readonly Stock[],
    marginMm: number,
    levels: Omit<Levels, "steps">,
    lays: readonly Lay[] | null,
    k: number,
  ): ProofTask {
    const { units, shop } = this.job;
    return {
      ...{ machine: shop.machine, units, workOffset: shop.program.workOffset, stocks, marginMm },
      floorMm: levels.floorMm,
      ...(lays === null
        ? { setup, zeroMm: levels.zero }
        : { setup: lays[k].setup, zeroMm: lays[k].levels.zero, lays: lays.slice(0, k + 1) }),
    };
  }

  /** The setup with its pieces as they lie for it: cast, turned over, on shims. */
  private lay(written: Setup): { setup: Setup; stocks: readonly Stock[]; warnings: readonly Warning[] } {
    const before = written.pieces.map((piece) => this.stock(piece, written));
    const box = boxOf(before.map(({ piece }) => piece.outline));
    const warnings: Warning[] = [];
    let turns = false;
    const stocks = before.map((stock) => {
      if (stock.faceUp === written.face) return stock;
      turns = true;
      const rocks = rockingWarning(stock);
      if (rocks !== null) warnings.push(rocks);
      // The way back to the upper face is the way it came.
      const axis = written.face === "under" ? written.turn : stock.turned;
      return turnedStock(stock, axis, axis === "x" ? box.minY + box.maxY : box.minX + box.maxX);
    });
    if (turns) this.handMinutes += this.job.shop.handMinutes.turnOver;
    const pieces = stocks.map(({ piece }) => piece);
    checkApart(pieces, written, this.job.units);
    checkRoom(stocks, written, this.job.units);
    return { setup: { ...written, pieces }, stocks, warnings };
  }

  private stock(piece: Piece, setup: Setup): Stock {
    const known = this.stocks.get(piece.id);
    if (known !== undefined) return known;
    const fresh = piece.madeOf.length > 0 ? this.cast(piece, setup) : this.firstLay(piece);
    this.stocks.set(piece.id, fresh);
    return fresh;
  }

  private firstLay(piece: Piece): Stock {
    const stock = uncutStock(piece);
    const seat = this.seats.get(piece.id);
    return seat === undefined ? stock : tiltedStock(stock, seat);
  }

  private cast(piece: Piece, setup: Setup): Stock {
    this.handMinutes += this.job.shop.handMinutes.load;
    const parts = piece.madeOf.map((part) => {
      const stock = this.stocks.get(part.piece);
      assert(stock !== undefined, `the part ${part.piece} was never cut`);
      return { stock, placing: { angleRad: part.angleRad, atMm: part.atMm } };
    });
    const stock = castStock(piece, parts);
    checkMold(stock, setup, this.job.units);
    return stock;
  }

  /** What lies under pieces that nothing has turned over yet. */
  private shims({ face, pieces }: Setup): readonly Shim[] {
    return face === "upper" ? pieces.flatMap(({ id }) => this.seats.get(id)?.shims ?? []) : [];
  }

  /** What the setups after this one find, as far as there are any. */
  private keep(setup: Setup, left: () => readonly Stock[]): void {
    const { setups, pieces } = this.job;
    const later = setups.slice(setups.indexOf(setup) + 1);
    setup.pieces.forEach(({ id }, k) => {
      const used =
        later.some((other) => other.pieces.some((piece) => piece.id === id)) ||
        pieces.some(({ madeOf }) => madeOf.some((part) => part.piece === id));
      if (used) this.stocks.set(id, left()[k]);
    });
  }

  private count(setup: Setup): void {
    const { zero, cutterChange } = this.job.shop.handMinutes;
    this.handMinutes += zero;
    if (this.cutter !== "" && this.cutter !== setup.cutter.id) this.handMinutes += cutterChange;
    this.cutter = setup.cutter.id;
  }

  /** Of the face that is up, as it was first laid. */
  private scatter({ piece: { id }, faceUp, up }: Stock): Scatter | null {
    if (up.readings === null) return null;
    const key = `${faceUp} ${id}`;
    const scatter = this.scatters.get(key) ?? scatterOf({ kind: "points", xyz: up.readings });
    this.scatters.set(key, scatter);
    return scatter;
  }

  private margin(setup: Setup, stocks: readonly Stock[]): number {
    if (setup.marginMm !== null) return setup.marginMm;
    return defaultMargin(stocks.flatMap((stock) => this.scatter(stock) ?? []));
  }

  private fileName(setup: Setup, lay: number | null): string {
    const number = String(this.job.setups.indexOf(setup) + 1).padStart(2, "0");
    const name = setup.id.replace(/[^A-Za-z0-9_-]+/g, "-").slice(0, 60);
    return `${number}-${name}${lay === null ? "" : `-${lay}`}.${this.job.shop.program.extension}`;
  }

  private warnings(
    setup: Setup,
    stocks: readonly Stock[],
    passes: PassesPlan,
    proven: readonly ProvenPiece[],
    pieces: readonly PlannedPiece[],
  ): Warning[] {
    const { machine } = this.job.shop;
    const { units } = this.job;
    const depthMm = Math.max(...passes.layers.map(({ layer }) => layer.topMm - layer.zMm));
    const stepMm = setup.passes.stepoverShare * setup.cutter.diameterMm;
    return [
      ...stocks.flatMap((stock) => this.readingWarnings(stock)),
      ...this.marginWarnings(setup, stocks),
      ...proven.flatMap((left, k) => pieceWarnings(left, pieces[k], setup, units)),
      ...lowKeepOutWarnings(setup, passes.floorMm, units),
      ...adviceNotes(setup),
      ...cuttingWarnings(setup, machine, stepMm, depthMm, passes.angleRad, units, this.job.shop.materials),
    ];
  }

  /** Says where a wide margin comes from: it costs layers, and more readings or better ones save them. */
  private marginWarnings(setup: Setup, stocks: readonly Stock[]): Warning[] {
    const marginMm = this.margin(setup, stocks);
    if (setup.marginMm !== null || marginMm < WIDE_MARGIN_MM) return [];
    const { units } = this.job;
    return stocks.flatMap((stock) => {
      const scatter = this.scatter(stock);
      if (scatter === null || defaultMargin([scatter]) < marginMm) return [];
      return {
        code: "wide-margin",
        text:
          `piece "${stock.piece.id}": its readings are off each other by about ${formatLength(scatter.sigmaMm, units)}, so the margin is ` +
          `${formatLength(marginMm, units)}; check them, take more, or set "margin" yourself`,
      };
    });
  }

  private readingWarnings(stock: Stock): Warning[] {
    const scatter = this.scatter(stock);
    if (scatter === null) return [];
    const { piece, up } = stock;
    const { units } = this.job;
    const found: Warning[] = [];
    for (const { x, y, z, missMm } of scatter.suspects.slice(0, 5))
      found.push({
        code: "suspect-reading",
        text:
          `piece "${piece.id}": the reading ${formatLength(z, units)} at ${formatPoint(x, y, units)} is ` +
          `${formatLength(Math.abs(missMm), units)} ${missMm > 0 ? "higher" : "lower"} than its neighbours say; measure it again`,
      });
    const outside = shareOutside(piece, up.surface.covers);
    if (outside > 0.005)
      found.push({
        code: "outside-readings",
        text: `piece "${piece.id}": ${(100 * outside).toFixed(1)} % of the face lies beyond the outermost readings and is guessed from them`,
      });
    return found;
  }
}

/** What a setup leaves of its stocks. */
function leave(setup: Setup, stocks: readonly Stock[], pieces: readonly ProvenPiece[]): readonly Stock[] {
  const { kind } = setup.target;
  const leaveMm = kind === "thickness" || kind === "even" ? setup.leaveMm : 0;
  return pieces.map(({ cut, highestLeftMm }, k) =>
    cutStock(stocks[k], cut(), Math.min(stocks[k].highestMm, highestLeftMm), leaveMm),
  );
}

/** One program of a setup, and what came of it. */
interface PlannedRun {
  readonly program: PlannedProgram;
  readonly passes: PassesPlan;
  readonly seconds: Seconds;
  readonly layers: readonly LayerReport[];
  readonly proven: Proven;
}

/** A lay's passes; null where it finds nothing to cut. */
function planned(make: () => PassesPlan): PassesPlan | null {
  try {
    return make();
  } catch (error) {
    if (error instanceof PlanError && error.code === "nothing-in-reach") return null;
    throw error;
  }
}

function sumOf(seconds: readonly Seconds[]): Seconds {
  const sum = (key: keyof Seconds) => seconds.reduce((total, one) => total + one[key], 0);
  return {
    total: sum("total"),
    cutting: sum("cutting"),
    linking: sum("linking"),
    rapid: sum("rapid"),
    spindle: sum("spindle"),
  };
}

function once<T>(make: () => T): () => T {
  let made: { readonly value: T } | null = null;
  return () => {
    made ??= { value: make() };
    return made.value;
  };
}

function plannedPiece(
  { id, cleanUp, resinCleanUp, thickness, thicknessAt, rough, removedMm3 }: ProvenPiece,
  floorMm: number,
  setup: Setup,
  stock: Stock,
): PlannedPiece {
  const deepest = Math.max(0, ...rough.map(({ deepMm }) => deepMm));
  return {
    ...{ id, cleanUp, resinCleanUp, rough },
    thicknessAtMm: thicknessAt,
    thinnestMm: thickness.least,
    thickestMm: thickness.most,
    cleanThicknessMm: floorMm - deepest - setup.leaveMm - stock.down.leaveMm,
    removedLitres: { wood: removedMm3.wood / 1e6, resin: removedMm3.resin / 1e6 },
  };
}

function pieceWarnings(left: ProvenPiece, planned: PlannedPiece, setup: Setup, units: Units): Warning[] {
  const found: Warning[] = [];
  const percent = (share: number) => `${(100 * share).toFixed(1)} %`;
  if (left.cleanUp === 0 && left.belowFloor > 0)
    found.push({
      code: "piece-untouched",
      text: `piece "${left.id}" is not cut: its face lies below the floor`,
    });
  else if (left.belowFloor > 0.001 && setup.target.kind !== "cleanUp") {
    const [deepest] = [...planned.rough].sort((a, b) => b.deepMm - a.deepMm);
    const where =
      deepest === undefined
        ? ""
        : `, up to ${formatLength(deepest.deepMm, units)} deep at ${formatPoint(deepest.x, deepest.y, units)}`;
    const could =
      setup.target.kind === "thickness" && planned.cleanThicknessMm > 0
        ? `; clean all over it can be finished to ${formatLength(planned.cleanThicknessMm, units)} at most`
        : "";
    found.push({
      code: "stays-rough",
      text: `piece "${left.id}": ${percent(left.belowFloor)} of the face lies below the floor and stays rough${where}${could}`,
    });
  }
  if (left.underKeepOuts > 0)
    found.push({
      code: "under-keep-outs",
      text: `piece "${left.id}": ${percent(left.underKeepOuts)} of the face lies under or too near to keep-outs and stays as it is`,
    });
  return found;
}

/** What was taken where the job leaves feeds and speed to us. */
function adviceNotes({ passes: { advised } }: Setup): Warning[] {
  return advised === undefined ? [] : [{ code: "advised", text: `feeds and speed are advised: ${advised}` }];
}

/** Margins from here on are told, and why. */
const WIDE_MARGIN_MM = 1.5;
/** So little air over a keep-out deserves a second measurement. Common practice, no source. */
const THIN_AIR_MM = 3;

/** Keep-outs lower than the floor are cut over, as the job says; a tape's error is enough to hit one. */
function lowKeepOutWarnings(setup: Setup, floorMm: number, units: Units): Warning[] {
  return setup.keepOuts
    .filter(({ heightMm }) => heightMm < floorMm && floorMm - heightMm < THIN_AIR_MM)
    .map(({ name, heightMm }) => ({
      code: "thin-air",
      text: `keep-out "${name}" is only ${formatLength(floorMm - heightMm, units)} lower than the floor, so the cutter may pass right over it; measure it again`,
    }));
}

/** Share of the face outside its readings. */
function shareOutside(piece: Piece, covers: (x: number, y: number) => boolean): number {
  const box = boxOf([piece.outline]);
  const pitchMm = Math.sqrt(((box.maxX - box.minX) * (box.maxY - box.minY)) / 10_000);
  const grid = gridOver(box, pitchMm, 0);
  const mask = insideMask([piece.outline], grid);
  let [inside, outside] = [0, 0];
  for (let k = 0; k < mask.length; k++) {
    if (mask[k] === 0) continue;
    inside++;
    const x = grid.x0 + (k % grid.cols) * pitchMm;
    const y = grid.y0 + Math.floor(k / grid.cols) * pitchMm;
    if (!covers(x, y)) outside++;
  }
  return inside === 0 ? 0 : outside / inside;
}

// Telling ----------------------------------------------------------------------------------

function header(
  job: Job,
  setup: Setup,
  passes: PassesPlan,
  lay: Lay | undefined,
  shims: readonly Shim[],
): string[] {
  const { units } = job;
  const length = (mm: number) => formatLength(mm, units);
  const zero = setup.zero.z === "bed" ? "top of the bed" : "highest place of the piece";
  return [
    `${job.name} - ${setup.id}`,
    `pieces: ${setup.pieces.map((piece) => piece.id).join(", ")} - ${setup.face} face up`,
    `cutter: ${setup.cutter.name}, diameter ${length(setup.cutter.diameterMm)}`,
    ...(lay === undefined ? [] : layLines(lay, length)),
    ...shims.map(
      ({ x, y, thicknessMm }) =>
        `shim: ${length(Math.round(thicknessMm * 100) / 100)} under X ${length(Math.round(x))} Y ${length(Math.round(y))} of the job`,
    ),
    `zero: X ${length(setup.zero.xMm)} Y ${length(setup.zero.yMm)} of the job, Z on the ${zero}`,
    `floor: ${length(passes.floorMm)} above the bed, Z ${length(passes.floorMm - passes.zeroMm.z)} here`,
  ];
}

function layLines({ shiftMm, fromX, toX }: Lay, length: (mm: number) => string): string[] {
  const push = shiftMm === 0 ? "as first laid" : `pushed ${length(-shiftMm)} from there towards -X`;
  return [`lay: ${push}; clears X ${length(fromX + shiftMm)} to ${length(toX + shiftMm)} of the job`];
}

function layerNotes(job: Job, track: Track, passes: PassesPlan): { entry: number; text: string }[] {
  const { layers } = passes;
  const notes: { entry: number; text: string }[] = [];
  let before = -1;
  for (let k = 0; k < track.count; k++) {
    const index = track.layer[k];
    if (index === before || index < 0) continue;
    before = index;
    const { layer } = layers[index];
    const z = formatLength(layer.zMm - passes.zeroMm.z, job.units);
    const kind = layer.kind === "finish" ? ", finish" : "";
    notes.push({ entry: k, text: `layer ${index + 1} of ${layers.length}, Z ${z}${kind}` });
  }
  return notes;
}

/** Copies layers and rows from the planned track to the one that was read, by line. */
function tagAlike(read: Track, planned: Track): void {
  let from = 0;
  for (let k = 0; k < read.count; k++) {
    while (from < planned.count && planned.line[from] < read.line[k]) from++;
    if (from >= planned.count || planned.line[from] !== read.line[k]) continue;
    read.layer[k] = planned.layer[from];
    read.row[k] = planned.row[from];
  }
}

function report(
  track: Track,
  took: Uint8Array,
  passes: PassesPlan,
  job: Job,
): { seconds: Seconds; layers: LayerReport[] } {
  const times = trackTimes(track, job.shop.machine);
  const layerSeconds = new Float64Array(passes.layers.length);
  const lengths = new Float64Array(passes.layers.length);
  for (let k = 1; k < track.count; k++) {
    const layer = track.layer[k];
    if (layer < 0) continue;
    layerSeconds[layer] += times.seconds[k];
    if (took[k] === 0) continue;
    const [dx, dy, dz] = [
      track.x[k] - track.x[k - 1],
      track.y[k] - track.y[k - 1],
      track.z[k] - track.z[k - 1],
    ];
    lengths[layer] += Math.sqrt(dx * dx + dy * dy + dz * dz);
  }
  return {
    seconds: secondsOf(track, took, times.seconds),
    layers: passes.layers.map(({ layer, rows, areaMm2 }, k) => ({
      zMm: layer.zMm,
      depthMm: layer.topMm - layer.zMm,
      kind: layer.kind,
      rows,
      cutLengthMm: lengths[k],
      areaMm2,
      seconds: layerSeconds[k],
    })),
  };
}

function secondsOf(track: Track, took: Uint8Array, times: Float64Array): Seconds {
  const spent = new Spent();
  spent.add(track, took, times, track.count);
  return spent.seconds();
}

/** Over all programs, each in its own coordinates. */
function extentOf(tracks: readonly Track[]): PlannedSetup["extentMm"] {
  const range = (axis: "x" | "y" | "z"): [number, number] => {
    let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (const track of tracks) {
      const values = track[axis];
      for (let k = 0; k < track.count; k++) {
        if (values[k] < low) low = values[k];
        if (values[k] > high) high = values[k];
      }
    }
    return [low, high];
  };
  const [x, y, z] = [range("x"), range("y"), range("z")];
  return { min: [x[0], y[0], z[0]], max: [x[1], y[1], z[1]] };
}
