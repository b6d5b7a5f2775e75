// The pieces as they stand between setups, and each setup planned, written, read back and proven on them.

import { cuttingWarnings } from "../cutting/warnings.ts";
import { assert, InputError, PlanError } from "../errors.ts";
import type { Job, Piece, Setup } from "../job/job.ts";
import { once } from "../once.ts";
import { type Levels, leaveOn, levelsOf } from "../passes/floor.ts";
import { type Lay, laysOf, moved } from "../passes/lays.ts";
import { nothingInReach, type PassesPlan, planPasses } from "../passes/passes.ts";
import { slowedInResin } from "../passes/resin.ts";
import { faceOf } from "../passes/tasks.ts";
import type { PlannedLay, PlannedPiece, PlannedSetup, Seats, Warning } from "../plan.ts";
import { stockSoFar } from "../proof/left.ts";
import { type ProofTask, type Proven, type ProvenPiece, Proving } from "../proof/prove.ts";
import { checkRoom, layOut, standingWood, type Wood } from "../proof/wood.ts";
import { readProgram } from "../rs274/read.ts";
import { writeProgram } from "../rs274/write.ts";
import { castStock } from "../survey/cast.ts";
import { defaultMargin, type Scatter, scatterOf } from "../survey/scatter.ts";
import type { Shim } from "../survey/shims.ts";
import { cutStock, type Stock, tiltedStock, turnedFor, uncutStock } from "../survey/stock.ts";
import { checkApart, checkMold, pushWarnings, rockingWarning } from "./lay.ts";
import { extentOf, header, layerNotes, type PlannedRun, report, sumOf, tagAlike } from "./program.ts";
import {
  adviceNotes,
  farZeroWarnings,
  highestOfAll,
  lowKeepOutWarnings,
  pieceWarnings,
  readingWarnings,
  thinWarnings,
  WIDE_MARGIN_MM,
  wideMarginWarning,
} from "./warnings.ts";

/** The pieces as they stand between setups. */
export class Bench {
  private readonly job: Job;
  private readonly seats: Seats;
  private readonly stocks = new Map<string, Stock>();
  private readonly scatters = new Map<string, Scatter>();

  constructor(job: Job, seats: Seats) {
    this.job = job;
    this.seats = seats;
  }

  plan(written: Setup): PlannedSetup {
    const { setup, stocks, warnings } = this.lay(written);
    const marginMm = this.margin(setup, stocks);
    const { runs, lays, levels, proven } = this.runs(written, setup, stocks, marginMm);
    const { floorMm, zero } = levels;
    const left = once(() => leave(setup, stocks, proven.pieces));
    this.keep(written, left);
    const pieces = proven.pieces.map((piece, k) => plannedPiece(piece, floorMm, setup, stocks[k]));
    return {
      setup,
      floorMm,
      zeroMm: zero,
      marginMm,
      angleRad: runs[0].passes.angleRad,
      programs: runs.map(({ program }) => program),
      layers: runs.flatMap((run) => run.layers),
      extentMm: extentOf(runs.map(({ program }) => program.track)),
      seconds: sumOf(runs.map(({ seconds }) => seconds)),
      removedLitres: {
        wood: pieces.reduce((sum, { removedLitres }) => sum + removedLitres.wood, 0),
        resin: pieces.reduce((sum, { removedLitres }) => sum + removedLitres.resin, 0),
      },
      removedMostMm: Math.max(0, ...stocks.map((stock) => stock.highestMm - floorMm)),
      pieces,
      proof: proven.proof,
      warnings: [
        ...warnings,
        ...pushWarnings(setup, lays, stocks),
        ...this.warnings(setup, stocks, runs[0].passes, proven.pieces, pieces),
      ],
      ...{ found: stocks, left },
    };
  }

  /** The setup's programs, proven on one wood: one, or one for each lay of what is longer than the travel. */
  private runs(
    written: Setup,
    setup: Setup,
    stocks: readonly Stock[],
    marginMm: number,
  ): {
    runs: readonly PlannedRun[];
    lays: readonly Lay[];
    levels: Omit<Levels, "steps">;
    proven: Proven;
  } {
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
      throw new PlanError("nothing-in-reach", setup.id, nothingInReach(setup));
    const deepestCutMm = Math.max(...runs.map(({ proven }) => proven.proof.deepestCutMm));
    return { runs, lays: lays ?? [], levels, proven: { ...last, proof: { ...last.proof, deepestCutMm } } };
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
    const lays = laysOf(setup, setup.reindexMm, shop.machine, stocks, levels, standsMm, units);
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
    const planned = slowedInResin(passes, setup, task.stocks, task.marginMm);
    const output = writeProgram(planned, {
      units: job.units,
      style: job.shop.program,
      tool: job.shop.cutters.findIndex(({ id }) => id === setup.cutter.id) + 1,
      header: header(job, setup, passes, lay, this.shims(task.stocks)),
      notes: layerNotes(job, planned, passes),
    });
    const text = output.text.slice();
    const read = readProgram(text);
    assert(read.ok, `the reader refuses what the writer wrote: ${read.findings[0]?.text}`);
    const { track } = read;
    tagAlike(track, planned);
    const took = new Uint8Array(track.count);
    const proving = new Proving(task, lay === undefined ? wood : standingWood(wood));
    proving.take(track, 0, took);
    const proven = proving.end();
    if (!proven.proof.ok) {
      const [first] = proven.findings;
      // Passes that need too much travel in X or Y were refused before: here it is the height.
      const cause = first.code === "travel" ? highestOfAll(task) : "";
      throw new PlanError(
        first.code,
        setup.id,
        `the program that was made is not safe: ${first.text}${cause}`,
        first.line,
      );
    }
    const { seconds, layers } = report(track, took, passes, job);
    const shiftMm = [lay?.shiftMm ?? 0, 0] as const;
    const program = { file, shiftMm, text, seconds: seconds.total, track, took, lay: plannedLay(task, lay) };
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
    const stocks = turnedFor(before, written);
    const warnings = before.flatMap((stock, k) => (stocks[k] === stock ? [] : (rockingWarning(stock) ?? [])));
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
    const parts = piece.madeOf.map((part) => {
      const stock = this.stocks.get(part.piece);
      assert(stock !== undefined, `the part ${part.piece} was never cut`);
      return { stock, placing: { angleRad: part.angleRad, atMm: part.atMm } };
    });
    const stock = castStock(piece, parts);
    checkMold(
      stock,
      setup,
      this.job.units,
      parts.map((part) => part.stock),
    );
    return stock;
  }

  /** What lies under pieces that nothing has turned over yet: their under faces are uncut. */
  private shims(stocks: readonly Stock[]): readonly Shim[] {
    const asLaid = stocks.filter(({ faceUp, down }) => faceUp === "upper" && down.cut === null);
    return asLaid.flatMap(({ piece }) => this.seats.get(piece.id)?.shims ?? []);
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
    const name = plainName(setup.id);
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
      ...stocks.flatMap((stock) => readingWarnings(stock, this.scatter(stock), setup, units)),
      ...farZeroWarnings(setup, machine, units),
      ...this.marginWarnings(setup, stocks),
      ...proven.flatMap((left, k) => pieceWarnings(left, pieces[k], setup, units)),
      ...stocks.flatMap((stock, k) => thinWarnings(stock, pieces[k], units)),
      ...lowKeepOutWarnings(setup, passes.floorMm, units),
      ...adviceNotes(setup),
      ...cuttingWarnings(setup, machine, stepMm, depthMm, passes.angleRad, units, this.job.shop.materials),
    ];
  }

  /** Says where a wide margin comes from: it costs layers, and more readings or better ones save them. */
  private marginWarnings(setup: Setup, stocks: readonly Stock[]): Warning[] {
    const marginMm = this.margin(setup, stocks);
    if (setup.marginMm !== null || marginMm < WIDE_MARGIN_MM) return [];
    return stocks.flatMap((stock) => {
      const scatter = this.scatter(stock);
      if (scatter === null || defaultMargin([scatter]) < marginMm) return [];
      return wideMarginWarning(stock.piece.id, scatter, marginMm, this.job.units);
    });
  }
}

/** A name as files have it on every system: plain letters and digits, accents dropped, single dashes between. */
function plainName(name: string): string {
  const plain = name.normalize("NFKD").replace(/\p{M}/gu, "").replace(/ß/g, "ss");
  const short = plain
    .replace(/[^A-Za-z0-9_-]+/g, "-")
    .replace(/-{2,}/g, "-")
    .slice(0, 60);
  return short.replace(/^-+|-+$/g, "") || "setup";
}

/** What a setup leaves of its stocks. */
function leave(setup: Setup, stocks: readonly Stock[], pieces: readonly ProvenPiece[]): readonly Stock[] {
  return pieces.map(({ cut, highestLeftMm }, k) =>
    cutStock(stocks[k], cut(), Math.min(stocks[k].highestMm, highestLeftMm), leaveOn(setup)),
  );
}

function plannedLay({ lays }: ProofTask, lay: Lay | undefined): PlannedLay | null {
  if (lay === undefined || lays === undefined) return null;
  const { fromX, toX, shiftMm, setup } = lay;
  const keepOuts = setup.keepOuts.map((keepOut) => moved(keepOut, shiftMm));
  return { number: lays.length, fromX, toX, keepOuts };
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
