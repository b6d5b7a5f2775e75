// What the wood is, before anything is cut: how flat, how it wants to lie, what thickness it has in it, and what
// each share of clean-up costs. Millimetres, in the lay as measured.

import { PlanError } from "./errors.ts";
import type { Job, Piece, Setup } from "./job/job.ts";
import { inOrOn, ON_OUTLINE_MM } from "./job/outline.ts";
import { trackTimes } from "./motion/clock.ts";
import { grainOf } from "./passes/angle.ts";
import { levelsOf } from "./passes/floor.ts";
import { planPasses } from "./passes/passes.ts";
import type { Seat } from "./plan.ts";
import { type Cloud, fieldCloud, pointCloud, together } from "./survey/cloud.ts";
import { type DensityAdvice, readingsFor } from "./survey/density.ts";
import { between, boxOf, gridOver, type HeightField, insideMask, pitchFor } from "./survey/field.ts";
import { type Form, formOf } from "./survey/form.ts";
import { shareOutside } from "./survey/outside.ts";
import { balanceOf } from "./survey/ring.ts";
import { defaultMargin, type Scatter, scatterOf } from "./survey/scatter.ts";
import { type Seat as Rest, restsOf } from "./survey/seats.ts";
import { shimsFor, supportPlaces } from "./survey/shims.ts";
import { type Stock, stockHeights, uncutStock, underHeights } from "./survey/stock.ts";
import { minimumZone, thickestPlank } from "./survey/zone.ts";

export interface PieceSurvey {
  readonly piece: Piece;
  /** Minimum zone of the readings on the face, square to its planes. */
  readonly flatnessMm: number;
  readonly form: Form;
  /** How well the readings agree; null where none were taken. */
  readonly scatter: Scatter | null;
  /** Share of the face beyond the readings. */
  readonly outside: number;
  /** Greatest thickness that comes out clean on both faces: level as it lies, and at the best tilt. Negative: none. */
  readonly asLaidMm: number;
  /** Above the bed as it lies: the highest place of the under face, and the highest of all. */
  readonly underMostMm: number;
  readonly highestMm: number;
  readonly bestMm: number;
  /** The lay of the best tilt, and the shims that give it. */
  readonly seat: Seat;
  /** Where it comes to rest by itself; more than one: it rocks. */
  readonly rests: readonly Rest[];
  /** A row for each share, the least first. */
  readonly cleanUp: readonly CleanUpRow[];
  /** How many readings a margin of `ADVICE_MARGIN_MM` would take; null where none were taken. */
  readonly density: DensityAdvice | null;
  /** The upper face on samples, for drawing. */
  readonly face: HeightField;
  /** 1 for its samples inside the outline. */
  readonly mask: Uint8Array;
}

export interface CleanUpRow {
  readonly share: number;
  /** The floor below the highest reading, and above the bed; null where none gives the share. */
  readonly depthMm: number | null;
  readonly floorMm: number | null;
  /** What cutting down to it takes; null where no setup could. */
  readonly layers: number | null;
  readonly seconds: number | null;
  /** Why something is null; "" where nothing is. */
  readonly reason: string;
}

export const ADVICE_MARGIN_MM = 0.5;
const SHARES = [0.8, 0.9, 0.95, 0.99, 1];
const PITCH_MM = 2;
const SAMPLES_MAX = 1_500_000;
/** Samples for the curve's floors, and for its minutes, which are estimates of what is measured so far. */
const FLOOR_PITCH_MM = 5;
const MINUTES_PITCH_MM = 8;
/** Within so much of its length beside the middle, wood's centre of mass may lie. Common practice, no source. */
const NEAR_SHARE = 0.01;

/** All pieces as they were first laid; of cast ones, those that were measured when they came out of the mold. */
export function surveyJob(job: Job): PieceSurvey[] {
  return job.pieces
    .filter(({ madeOf, upper }) => madeOf.length === 0 || upper !== null)
    .map((piece) => surveyPiece(piece, job));
}

/**
 * The best lay by id of each piece that was measured and is first cut as it was laid: one that is turned over before
 * its first cut never lies on what is put under it.
 */
export function bestSeats(job: Job): Map<string, Seat> {
  const seated = job.pieces.filter(
    (piece) =>
      piece.madeOf.length === 0 &&
      isMeasured(piece) &&
      job.setups.find((setup) => cuts(setup, piece))?.face === "upper",
  );
  return new Map(seated.map((piece) => [piece.id, seatOf(bodyOf(piece)).seat]));
}

function cuts({ pieces }: Setup, piece: Piece): boolean {
  return pieces.some(({ id }) => id === piece.id);
}

export function isMeasured({ upper, under, calipers }: Piece): boolean {
  return upper !== null || under !== null || calipers !== null;
}

function surveyPiece(piece: Piece, job: Job): PieceSurvey {
  const body = bodyOf(piece);
  const { stock, face, mask, upper, under } = body;
  const { seat, bestMm } = seatOf(body);
  const readings = insideReadings(piece, stock.up.readings);
  const scatter = stock.up.readings && scatterOf({ kind: "points", xyz: stock.up.readings });
  const middle = balanceOf(piece.outline);
  const underMostMm = most(under, 0, 0);
  const box = boxOf([piece.outline]);
  const longMm = Math.max(box.maxX - box.minX, box.maxY - box.minY);
  return {
    piece,
    flatnessMm: readings.length === 0 ? 0 : minimumZone(pointCloud(readings)).apartMm,
    form: formOf((x, y) => between(face, x, y), piece.outline, grainOf(piece)),
    scatter,
    outside: shareOutside(piece.outline, stock.up.surface.covers),
    asLaidMm: least(upper, 0, 0) - underMostMm,
    underMostMm,
    highestMm: most(upper, 0, 0),
    bestMm,
    seat,
    rests: restsOf(under, middle, NEAR_SHARE * longMm),
    cleanUp: curveOf(piece, stock, scatter, job),
    density:
      scatter && readings.length > 0
        ? readingsFor(ADVICE_MARGIN_MM, scatter, readings.length / 3, middle.area)
        : null,
    ...{ face, mask },
  };
}

// Faces ------------------------------------------------------------------------------------------

/** A piece's faces, on samples and as points that leave out nothing. */
interface Body {
  readonly piece: Piece;
  readonly stock: Stock;
  readonly face: HeightField;
  readonly below: HeightField;
  readonly mask: Uint8Array;
  readonly upper: Cloud;
  readonly under: Cloud;
}

function bodyOf(piece: Piece): Body {
  const stock = uncutStock(piece);
  const box = boxOf([piece.outline]);
  const pitchMm = pitchFor(box, PITCH_MM, SAMPLES_MAX);
  const grid = gridOver(box, pitchMm, 2 * pitchMm);
  const mask = insideMask([piece.outline], grid);
  const face = { ...grid, z: stockHeights(stock, 0, grid) };
  const below = { ...grid, z: underHeights(stock, grid) };
  const cloud = (field: HeightField, readings: Float64Array | null) => {
    const points = [edgePoints(piece, field), insideReadings(piece, readings)].filter(
      (xyz) => xyz.length > 0,
    );
    return together(fieldCloud(field, mask), ...points.map(pointCloud));
  };
  return {
    ...{ piece, stock, face, below, mask },
    upper: cloud(face, stock.up.readings),
    under: cloud(below, stock.down.readings),
  };
}

/** Heights along the outline, a sample's width apart. */
function edgePoints({ outline }: Piece, field: HeightField): Float64Array {
  const xyz: number[] = [];
  for (let k = 0, p = outline.length - 2; k < outline.length; p = k, k += 2) {
    const [dx, dy] = [outline[k] - outline[p], outline[k + 1] - outline[p + 1]];
    const steps = Math.max(1, Math.ceil(Math.sqrt(dx * dx + dy * dy) / field.pitchMm));
    for (let step = 1; step <= steps; step++) {
      const [x, y] = [outline[p] + (dx * step) / steps, outline[p + 1] + (dy * step) / steps];
      xyz.push(x, y, between(field, x, y));
    }
  }
  return Float64Array.from(xyz);
}

function insideReadings({ outline }: Piece, xyz: Float64Array | null): Float64Array {
  if (xyz === null) return new Float64Array(0);
  const inside: number[] = [];
  for (let k = 0; k < xyz.length; k += 3)
    if (inOrOn(outline, xyz[k], xyz[k + 1], ON_OUTLINE_MM)) inside.push(xyz[k], xyz[k + 1], xyz[k + 2]);
  return Float64Array.from(inside);
}

/** The least height over the plane z = a x + b y. */
function least(cloud: Cloud, a: number, b: number): number {
  return extreme(cloud.extremes(a, b).low, a, b, -1);
}

function most(cloud: Cloud, a: number, b: number): number {
  return extreme(cloud.extremes(a, b).high, a, b, 1);
}

function extreme(xyz: readonly number[], a: number, b: number, sign: 1 | -1): number {
  let best = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < xyz.length; k += 3)
    best = Math.max(best, sign * (xyz[k + 2] - a * xyz[k] - b * xyz[k + 1]));
  return sign * best;
}

// Seat -------------------------------------------------------------------------------------------

function seatOf({ piece, below, upper, under }: Body): { seat: Seat; bestMm: number } {
  const plank = thickestPlank(upper, under);
  const places = supportPlaces(piece.outline, grainOf(piece));
  const shims = shimsFor(plank, under, (x, y) => between(below, x, y), places);
  const seat = { tiltX: plank.a, tiltY: plank.b, raiseMm: 0 - least(under, plank.a, plank.b), shims };
  return { seat, bestMm: plank.apartMm };
}

// Clean-up ---------------------------------------------------------------------------------------

function curveOf(piece: Piece, stock: Stock, scatter: Scatter | null, job: Job): CleanUpRow[] {
  const unknown = { depthMm: null, floorMm: null, layers: null, seconds: null };
  if (piece.madeOf.length > 0) {
    const reason = "its wood lies in it as earlier setups leave it: the plan tells how much comes clean";
    return SHARES.map((share) => ({ share, ...unknown, reason }));
  }
  const first = job.setups.find((setup) => setup.face === "upper" && cuts(setup, piece));
  // Heights need no setup of its own, only that nothing stands in the way.
  const setup: Setup = { ...(first ?? { ...job.setups[0], keepOuts: [] }), pieces: [piece] };
  const costAt = first && costsOf(setup, stock, scatter, job);
  return SHARES.map((share) => {
    const target = { kind: "cleanUp", share } as const;
    try {
      const { floorMm } = levelsOf(
        { ...setup, target },
        job.shop.machine,
        [stock],
        job.units,
        FLOOR_PITCH_MM,
      );
      const cost = costAt?.(floorMm) ?? {
        ...{ layers: null, seconds: null },
        reason: "no setup cuts its upper face, so what that takes is not known",
      };
      return { share, depthMm: stock.highestMm - floorMm, floorMm, ...cost };
    } catch (error) {
      if (!(error instanceof PlanError)) throw error;
      return { share, ...unknown, reason: error.message };
    }
  });
}

type Cost = Pick<CleanUpRow, "layers" | "seconds" | "reason">;

/** What a setup takes to cut its one piece down to a floor; each floor is planned once. */
function costsOf(
  setup: Setup,
  stock: Stock,
  scatter: Scatter | null,
  { shop: { machine }, units }: Job,
): (floorMm: number) => Cost {
  const marginMm = setup.marginMm ?? defaultMargin(scatter === null ? [] : [scatter]);
  // A piece that is longer than the travel is cut in lays: its minutes are about the same.
  const wide = { ...machine, travelMm: { x: 1e6, y: 1e6, z: machine.travelMm.z } };
  const planned = (floorMm: number): Cost => {
    const target = { kind: "depth", mm: stock.highestMm - floorMm } as const;
    try {
      const { layers, track } = planPasses(
        { ...setup, target },
        wide,
        [stock],
        marginMm,
        units,
        MINUTES_PITCH_MM,
      );
      return { layers: layers.length, seconds: trackTimes(track, machine).total, reason: "" };
    } catch (error) {
      if (!(error instanceof PlanError)) throw error;
      return { layers: null, seconds: null, reason: error.message };
    }
  };
  const known = new Map<number, Cost>();
  return (floorMm) => {
    const cost = known.get(floorMm) ?? planned(floorMm);
    known.set(floorMm, cost);
    return cost;
  };
}
