// What the wood is, before anything is cut: how flat, how it wants to lie, what thickness it has in it, and what
// each share of clean-up costs. Millimetres, in the lay as measured.

import { PlanError } from "./errors.ts";
import type { Job, Piece, Setup } from "./job/job.ts";
import { inOrOn, ON_OUTLINE_MM } from "./job/outline.ts";
import { trackTimes } from "./motion/clock.ts";
import { grainOf } from "./passes/angle.ts";
import { planPasses } from "./passes/passes.ts";
import type { Seat } from "./plan.ts";
import { type Cloud, fieldCloud, pointCloud, together } from "./survey/cloud.ts";
import { type DensityAdvice, readingsFor } from "./survey/density.ts";
import { between, boxOf, gridOver, type HeightField, insideMask, pitchFor } from "./survey/field.ts";
import { type Form, formOf } from "./survey/form.ts";
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
  readonly bestMm: number;
  /** The lay of the best tilt, and the shims that give it. */
  readonly seat: Seat;
  /** Where it comes to rest by itself; more than one: it rocks. */
  readonly rests: readonly Rest[];
  readonly cleanUp: readonly CleanUpRow[];
  /** Why the clean-up curve is empty or ends early; "" when it does not. */
  readonly cleanUpNote: string;
  /** How many readings a margin of `ADVICE_MARGIN_MM` would take; null where none were taken. */
  readonly density: DensityAdvice | null;
  /** The upper face on samples, for drawing. */
  readonly face: HeightField;
}

export interface CleanUpRow {
  readonly share: number;
  /** The floor below the highest reading, and above the bed. */
  readonly depthMm: number;
  readonly floorMm: number;
  readonly layers: number;
  readonly seconds: number;
}

export const ADVICE_MARGIN_MM = 0.5;
const SHARES = [0.8, 0.9, 0.95, 0.99, 1];
const PITCH_MM = 2;
const SAMPLES_MAX = 1_500_000;
/** Minutes are estimates of what is measured so far: samples for them may lie this far apart. */
const CURVE_PITCH_MM = 5;
/** Within so much of its length beside the middle, wood's centre of mass may lie. Common practice, no source. */
const NEAR_SHARE = 0.01;

/** All pieces as they were first laid; cast ones are not surveyed, they lie in no lay yet. */
export function surveyJob(job: Job): PieceSurvey[] {
  return job.pieces.filter(({ madeOf }) => madeOf.length === 0).map((piece) => surveyPiece(piece, job));
}

/** The best lay of each piece that was measured, by id. */
export function bestSeats(job: Job): Map<string, Seat> {
  const measured = job.pieces.filter(
    ({ madeOf, upper, under, calipers }) =>
      madeOf.length === 0 && (upper !== null || under !== null || calipers !== null),
  );
  return new Map(measured.map((piece) => [piece.id, seatOf(bodyOf(piece)).seat]));
}

function surveyPiece(piece: Piece, job: Job): PieceSurvey {
  const body = bodyOf(piece);
  const { stock, face, upper, under } = body;
  const { seat, bestMm } = seatOf(body);
  const readings = insideReadings(piece, stock.up.readings);
  const scatter = stock.up.readings && scatterOf({ kind: "points", xyz: stock.up.readings });
  const middle = balanceOf(piece.outline);
  const box = boxOf([piece.outline]);
  const longMm = Math.max(box.maxX - box.minX, box.maxY - box.minY);
  return {
    piece,
    flatnessMm: readings.length === 0 ? 0 : minimumZone(pointCloud(readings)).apartMm,
    form: formOf((x, y) => between(face, x, y), piece.outline, grainOf(piece)),
    scatter,
    outside: shareOutside(body),
    asLaidMm: least(upper, 0, 0) - most(under, 0, 0),
    bestMm,
    seat,
    rests: restsOf(under, middle, NEAR_SHARE * longMm),
    ...curveOf(piece, stock, scatter, job),
    density:
      scatter && readings.length > 0
        ? readingsFor(ADVICE_MARGIN_MM, scatter, readings.length / 3, middle.area)
        : null,
    face,
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

function shareOutside({ stock, face, mask }: Body): number {
  // Ten thousand places tell a share to a hundredth of a percent.
  const step = Math.max(1, Math.floor(Math.sqrt(mask.length / 10_000)));
  let [inside, outside] = [0, 0];
  for (let row = 0; row < face.rows; row += step)
    for (let col = 0; col < face.cols; col += step) {
      if (mask[row * face.cols + col] === 0) continue;
      inside++;
      if (!stock.up.surface.covers(face.x0 + col * face.pitchMm, face.y0 + row * face.pitchMm)) outside++;
    }
  return inside === 0 ? 0 : outside / inside;
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

function curveOf(
  piece: Piece,
  stock: Stock,
  scatter: Scatter | null,
  { setups, shop, units }: Job,
): Pick<PieceSurvey, "cleanUp" | "cleanUpNote"> {
  const first = setups.find(
    ({ face, pieces }) => face === "upper" && pieces.some(({ id }) => id === piece.id),
  );
  if (first === undefined)
    return { cleanUp: [], cleanUpNote: "no setup cuts its upper face, so what clean-up costs is not known" };
  const marginMm = first.marginMm ?? defaultMargin(scatter === null ? [] : [scatter]);
  const cleanUp: CleanUpRow[] = [];
  for (const share of SHARES) {
    const setup: Setup = { ...first, pieces: [piece], target: { kind: "cleanUp", share } };
    try {
      const { floorMm, layers, track } = planPasses(
        setup,
        // A piece that is longer than the travel is cut in lays: its minutes are about the same.
        { ...shop.machine, travelMm: { x: 1e6, y: 1e6, z: shop.machine.travelMm.z } },
        [stock],
        marginMm,
        units,
        CURVE_PITCH_MM,
      );
      const seconds = trackTimes(track, shop.machine).total;
      cleanUp.push({ share, depthMm: stock.highestMm - floorMm, floorMm, layers: layers.length, seconds });
    } catch (error) {
      if (!(error instanceof PlanError)) throw error;
      return { cleanUp, cleanUpNote: error.message };
    }
  }
  return { cleanUp, cleanUpNote: "" };
}
