// How long a job's setups take on given faces: the real motion and the real
// clock, without writing a program and proving it. Faces are sampled coarsely, and a setup is taken to leave its
// floor wherever wood stood higher. Seconds.

import { PlanError } from "../errors.ts";
import type { Job, Piece, Setup } from "../job/job.ts";
import { ClockColumns, trackTimes } from "../motion/clock.ts";
import { Kind } from "../motion/track.ts";
import { leaveOn, levelsOf } from "../passes/floor.ts";
import { type Lay, laysOf } from "../passes/lays.ts";
import { planPasses } from "../passes/passes.ts";
import { slowedInResin } from "../passes/resin.ts";
import { castStock } from "../survey/cast.ts";
import { boxOf, gridOver, type HeightField, insideMask, pitchFor } from "../survey/field.ts";
import { defaultMargin, scatterOf } from "../survey/scatter.ts";
import { cutStock, type Stock, stockHeights, turnedFor, uncutStock } from "../survey/stock.ts";
import { woodHeights } from "../survey/timber.ts";
import { isMeasured } from "./faces.ts";

/** Samples of faces: fine enough for hours, ten times coarser than for cutting; so many at least across a piece. */
const PITCH_MM = 20;
const SAMPLES_ACROSS = 24;
const SAMPLES_MAX = 60_000;
/** Where so little is missing at the floor the face counts as clean. */
const CLEAN_MM = 0.05;

/** What a setup takes. */
export interface SetupTime {
  readonly seconds: number;
  /** Of them, in rows: what wears the edges. */
  readonly rowSeconds: number;
  /** Share of the wood's face that stays below the floor, so rough or under resin; 0 where the target does not ask for all of it. */
  readonly missedShare: number;
  /** How often a long piece is pushed on between programs. */
  readonly pushes: number;
}

/** Pieces with all their faces. */
export interface Faces {
  /** A piece as it is first laid. */
  laid(piece: Piece): Piece;
  /** A cast piece as it comes out of its mold, level at `levelMm`. */
  cast(piece: Piece, levelMm: number): Piece;
  /** How far a face of the piece that is still to be measured will be said to stand above its readings. */
  marginMm(pieceId: string): number;
}

/** What is the same whatever faces are invented; filled as it comes to be known. */
export class Known {
  /** By setup. */
  readonly times = new Map<string, SetupTime & { readonly floorMm: number }>();
  /** By face and piece. */
  private readonly margins = new Map<string, number>();

  /** How far a measured face may stand above its readings. */
  margin(face: string, readings: Float64Array): number {
    const margin = this.margins.get(face) ?? defaultMargin([scatterOf({ kind: "points", xyz: readings })]);
    this.margins.set(face, margin);
    return margin;
  }
}

/** One entry a setup of the job. */
export function timesOf(job: Job, faces: Faces, known: Known): SetupTime[] {
  const bench = new Bench(job, faces, known);
  return job.setups.map((setup) => bench.time(setup));
}

/** The pieces as they stand between setups. */
class Bench {
  private readonly job: Job;
  private readonly faces: Faces;
  private readonly known: Known;
  private readonly stocks = new Map<string, Stock>();

  constructor(job: Job, faces: Faces, known: Known) {
    this.job = job;
    this.faces = faces;
    this.known = known;
  }

  time(written: Setup): SetupTime {
    const stocks = turnedFor(
      written.pieces.map((piece) => this.stock(piece)),
      written,
    );
    const setup = { ...written, pieces: stocks.map(({ piece }) => piece) };
    const certain = this.isCertain(written, stocks);
    const known = certain ? this.known.times.get(setup.id) : undefined;
    const time = known ?? this.planned(setup, stocks);
    if (certain) this.known.times.set(setup.id, time);
    this.leave(setup, stocks, time.floorMm);
    return time;
  }

  private stock(piece: Piece): Stock {
    const known = this.stocks.get(piece.id);
    if (known !== undefined) return known;
    const fresh = piece.madeOf.length > 0 ? this.cast(piece) : uncutStock(this.faces.laid(piece));
    this.stocks.set(piece.id, fresh);
    return fresh;
  }

  private cast(piece: Piece): Stock {
    const parts = piece.madeOf.map(({ piece: id, angleRad, atMm }) => {
      const stock = this.stocks.get(id);
      if (stock === undefined) throw new PlanError("mold", "", `piece "${id}" is cast before it was cut`);
      return { stock: coarse(stock), placing: { angleRad, atMm } };
    });
    const level = castStock(piece, parts);
    if (piece.upper !== null) return level;
    const { timbers } = level;
    return { ...uncutStock(this.faces.cast({ ...level.piece }, level.highestMm)), timbers };
  }

  private planned(setup: Setup, stocks: readonly Stock[]): SetupTime & { readonly floorMm: number } {
    const marginMm = setup.marginMm ?? this.margin(stocks);
    if (setup.reindexMm !== null && this.isLong(setup, stocks))
      return this.plannedInLays(setup, setup.reindexMm, stocks, marginMm);
    try {
      const { floorMm, ...time } = this.run(setup, stocks, marginMm);
      return { ...time, floorMm, missedShare: missedShare(setup, stocks, floorMm), pushes: 0 };
    } catch (error) {
      if (!(error instanceof PlanError)) throw error;
      // A face that already lies below the floor takes no time.
      if (error.code === "nothing-to-cut")
        return {
          ...{ seconds: 0, rowSeconds: 0, floorMm: Number.POSITIVE_INFINITY, pushes: 0 },
          missedShare: wantsAll(setup) ? 1 : 0,
        };
      if (error.code !== "travel" || setup.reindexMm === null) throw error;
      return this.plannedInLays(setup, setup.reindexMm, stocks, marginMm);
    }
  }

  /** Whether the pieces are longer than the travel for certain. */
  private isLong({ cutter }: Setup, stocks: readonly Stock[]): boolean {
    const { minX, maxX } = boxOf(stocks.map(({ piece }) => piece.outline));
    return maxX - minX - cutter.diameterMm > this.job.shop.machine.travelMm.x;
  }

  private run(
    setup: Setup,
    stocks: readonly Stock[],
    marginMm: number,
    lay?: Lay,
    machine = this.job.shop.machine,
  ) {
    const { shop, units } = this.job;
    const pitchMm = Math.min(...stocks.map(pitchOf));
    const passes = planPasses(setup, machine, stocks, marginMm, units, pitchMm, lay);
    const track = slowedInResin(passes, setup, stocks, marginMm, pitchMm);
    const { seconds, total } = trackTimes(track, shop.machine, COLUMNS);
    let rowSeconds = 0;
    for (let k = 0; k < track.count; k++)
      if (track.row[k] >= 0 && track.kind[k] !== Kind.rapid) rowSeconds += seconds[k];
    return { seconds: total, rowSeconds, floorMm: passes.floorMm };
  }

  /**
   * Where nothing stands on the bed as in one go on a machine that is long enough, which takes about the same; else
   * each lay as if those before had left the wood as it was: what overlaps counts twice.
   */
  private plannedInLays(setup: Setup, overlapMm: number, stocks: readonly Stock[], marginMm: number) {
    const { shop, units } = this.job;
    const levels = levelsOf(setup, shop.machine, stocks, units, Math.min(...stocks.map(pitchOf)));
    const { floorMm } = levels;
    const standsMm = Math.max(...stocks.map((stock) => stock.highestMm)) + marginMm - floorMm;
    let [seconds, rowSeconds] = [0, 0];
    const lays = laysOf(setup, overlapMm, shop.machine, stocks, levels, standsMm, units);
    const { machine } = shop;
    const long = { ...machine, travelMm: { ...machine.travelMm, x: 1e6 } };
    for (const lay of setup.keepOuts.length === 0 ? [null] : lays) {
      const run =
        lay === null
          ? this.run(setup, stocks, marginMm, undefined, long)
          : this.run(lay.setup, stocks, marginMm, lay);
      seconds += run.seconds;
      rowSeconds += run.rowSeconds;
    }
    return {
      ...{ seconds, rowSeconds, floorMm, pushes: lays.length - 1 },
      missedShare: missedShare(setup, stocks, floorMm),
    };
  }

  /** As the readings say where they were taken, else what is thought of those to come. */
  private margin(stocks: readonly Stock[]): number {
    const margins = stocks.map(({ piece, faceUp, up: { readings } }) => {
      if (readings === null || !this.isGiven(piece.id, faceUp)) return this.faces.marginMm(piece.id);
      return this.known.margin(`${faceUp} ${piece.id}`, readings);
    });
    return Math.max(...margins);
  }

  private isGiven(id: string, face: Setup["face"]): boolean {
    const piece = this.job.pieces.find((one) => one.id === id);
    return piece !== undefined && isMeasured(piece, face);
  }

  /** Whether the setup comes out the same whatever was invented. */
  private isCertain({ face, target }: Setup, stocks: readonly Stock[]): boolean {
    return stocks.every(({ piece, up, down }) => {
      const fresh = up.cut === null && down.cut === null && piece.madeOf.length === 0;
      const upper = fresh && face === "upper" && target.kind !== "even" && this.isGiven(piece.id, "upper");
      return upper || this.isSettled(piece);
    });
  }

  /** Whether all of a piece is known: its faces, or how it was cast from pieces that are known. */
  private isSettled({ id, madeOf }: Piece): boolean {
    const own = this.isGiven(id, "upper") && (madeOf.length > 0 || this.isGiven(id, "under"));
    const parts = madeOf.map((part) => this.job.pieces.find((piece) => piece.id === part.piece));
    return own && parts.every((part) => part !== undefined && this.isSettled(part));
  }

  private leave(setup: Setup, stocks: readonly Stock[], floorMm: number): void {
    const leaveMm = leaveOn(setup);
    for (const stock of stocks) {
      const grid = gridOf(stock);
      const z = new Float32Array(grid.cols * grid.rows).fill(floorMm);
      const cut: HeightField = { ...grid, z };
      const highestMm = Math.min(stock.highestMm, floorMm);
      this.stocks.set(stock.piece.id, cutStock(stock, cut, highestMm, leaveMm));
    }
  }
}

const COLUMNS = new ClockColumns();

function pitchOf({ piece }: Stock): number {
  const box = boxOf([piece.outline]);
  const across = Math.min(box.maxX - box.minX, box.maxY - box.minY);
  return pitchFor(box, Math.min(PITCH_MM, across / SAMPLES_ACROSS), SAMPLES_MAX);
}

function gridOf(stock: Stock) {
  const pitchMm = pitchOf(stock);
  return gridOver(boxOf([stock.piece.outline]), pitchMm, 2 * pitchMm);
}

/** A stock of which the mold is told by coarse samples: those of a cut that took nothing. */
function coarse(stock: Stock): Stock {
  if (stock.up.cut !== null || stock.down.cut !== null) return stock;
  const grid = gridOf(stock);
  const z = new Float32Array(grid.cols * grid.rows).fill(Number.POSITIVE_INFINITY);
  return { ...stock, up: { ...stock.up, cut: { ...grid, z } } };
}

/** Whether a setup is to clean all of a face: the others ask for a share, or for a depth. */
function wantsAll({ target: { kind } }: Setup): boolean {
  return kind === "thickness" || kind === "even";
}

function missedShare(setup: Setup, stocks: readonly Stock[], floorMm: number): number {
  if (!wantsAll(setup)) return 0;
  let [missed, whole] = [0, 0];
  for (const stock of stocks) {
    const grid = gridOf(stock);
    const heights = stockHeights(stock, 0, grid);
    const inside = insideMask([stock.piece.outline], grid);
    const wood = stock.timbers === null ? null : woodHeights(stock.timbers, grid).top;
    for (let k = 0; k < heights.length; k++) {
      if (inside[k] === 0 || wood?.[k] === Number.NEGATIVE_INFINITY) continue;
      whole++;
      const height = wood === null ? heights[k] : Math.min(heights[k], wood[k]);
      if (height < floorMm - CLEAN_MM) missed++;
    }
  }
  return whole === 0 ? 0 : missed / whole;
}
