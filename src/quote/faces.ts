// Faces that nobody has measured yet, invented: a slab bowed, cupped, twisted, wedged and marked by the saw, both
// faces alike but for wedge and marks; a cast piece level but for its cup. They are readings on a grid, so
// what plans a measured face plans these. Millimetres above the bed.

import type { Piece, Readings, Ring, Warp } from "../job/job.ts";
import { boxOf } from "../survey/field.ts";
import { type Surface, upperFace } from "../survey/surface.ts";
import type { Dice } from "./dice.ts";

/** What was drawn by chance, to see what drives a spread. Each is how much of it there is, whatever its sign. */
export interface Drawn {
  readonly bow: number;
  readonly cup: number;
  readonly twist: number;
  readonly wedge: number;
  readonly sawMarks: number;
  readonly shell: number;
  readonly pour: number;
}

export const NOTHING_DRAWN: Drawn = { bow: 0, cup: 0, twist: 0, wedge: 0, sawMarks: 0, shell: 0, pour: 0 };

type GridReadings = Extract<Readings, { kind: "grid" }>;

/** Distance of invented readings: about that at which a maker measures. */
const STEP_MM = 100;
const STEPS_MIN = 4;
const STEPS_MAX = 60;
/** No invented place lies lower. */
const LOWEST_MM = 0.01;

/** Whether the piece is sawn wood: what is cast has no bow, cup or twist of a log. */
export function isSawn({ wood, shellMm, madeOf }: Piece): boolean {
  return wood === null && madeOf.length === 0 && shellMm.upper === 0 && shellMm.under === 0;
}

/**
 * The piece with readings on both faces: those that were taken, and invented ones where none were. `thicknessMm`
 * is what it was sawn to.
 */
export function inventedSlab(
  piece: Piece,
  thicknessMm: number,
  warp: Warp,
  dice: Dice,
): { piece: Piece; drawn: Drawn } {
  const grid = nodesOver(piece.outline);
  const { along, across, lengthMm, widthMm } = axesOf(piece, grid);
  const bow = warp.bow * lengthMm * dice.normal();
  const cup = warp.cup * widthMm * dice.normal();
  const twist = warp.twist * lengthMm * dice.normal();
  const wedge = warp.wedge * lengthMm * dice.normal();
  const sawMarks = warp.sawMarksMm * (0.5 + dice.share());
  const shape = Float64Array.from(along, (u, k) => {
    const v = across[k];
    return bow * 4 * u * (1 - u) + cup * 4 * v * (1 - v) + (twist * (2 * u - 1) * (2 * v - 1)) / 4;
  });
  const marks = () => shape.map(() => sawMarks * dice.normal());
  const [upperMarks, underMarks] = [marks(), marks()];

  const measuredUnder = piece.under !== null || piece.calipers !== null;
  if (piece.upper !== null && measuredUnder) return { piece, drawn: NOTHING_DRAWN };
  if (piece.upper !== null) {
    // The other face of a sawn slab follows the measured one; its bow, cup and twist are known.
    const follows = smooth(heightsAt(upperFace(piece), grid), grid);
    const under = onBed(follows.map((z, k) => z + wedge * (along[k] - 0.5) + underMarks[k]));
    return {
      piece: { ...piece, under: { ...grid, z: under } },
      drawn: { ...NOTHING_DRAWN, wedge: Math.abs(wedge), sawMarks },
    };
  }
  const under =
    piece.under === null
      ? onBed(shape.map((z, k) => z + underMarks[k]))
      : smooth(heightsAt(faceThrough(piece, piece.under), grid), grid);
  const upper = under.map((z, k) => {
    const marksMm = upperMarks[k] - (piece.under === null ? underMarks[k] : 0);
    return Math.max(LOWEST_MM, z + thicknessMm + wedge * (along[k] - 0.5) + marksMm);
  });
  return {
    piece: {
      ...piece,
      upper: { ...grid, z: upper },
      ...(measuredUnder ? {} : { under: { ...grid, z: under } }),
    },
    drawn: {
      ...NOTHING_DRAWN,
      ...{ bow: Math.abs(bow), cup: Math.abs(cup), twist: Math.abs(twist), wedge: Math.abs(wedge), sawMarks },
    },
  };
}

/** A cast piece with its upper face invented about `levelMm`, of which `shellMm` are resin over the wood. */
export function inventedCast(
  piece: Piece,
  levelMm: number,
  shellMm: number,
  warp: Warp,
  dice: Dice,
): { piece: Piece; drawn: Drawn } {
  const grid = nodesOver(piece.outline);
  const { across, widthMm } = axesOf(piece, grid);
  const shell = warp.shellShare * shellMm * dice.normal();
  const pour = warp.pour * widthMm * dice.normal();
  const z = Float64Array.from(across, (v) => {
    const level = levelMm + Math.max(-shellMm, shell) + pour * (4 * v * (1 - v) - 0.5);
    return Math.max(LOWEST_MM, level);
  });
  const drawn = { ...NOTHING_DRAWN, shell: Math.abs(shell), pour: Math.abs(pour) };
  return { piece: { ...piece, upper: { ...grid, z } }, drawn };
}

/** About how thick a slab is of which only the upper face was measured: it lies on the bed where it is lowest. */
export function thicknessFromUpper(piece: Piece): number {
  const grid = nodesOver(piece.outline);
  return lowest(smooth(heightsAt(upperFace(piece), grid), grid));
}

function nodesOver(outline: Ring): Omit<GridReadings, "z"> {
  const box = boxOf([outline]);
  const steps = (lengthMm: number) =>
    Math.max(STEPS_MIN, Math.min(STEPS_MAX, Math.round(lengthMm / STEP_MM)));
  const [lengthX, lengthY] = [box.maxX - box.minX, box.maxY - box.minY];
  const [stepsX, stepsY] = [steps(lengthX), steps(lengthY)];
  return {
    kind: "grid",
    ...{ x0: box.minX, y0: box.minY, dx: lengthX / stepsX, dy: lengthY / stepsY },
    ...{ cols: stepsX + 1, rows: stepsY + 1 },
  };
}

/** Where each node lies along and across the grain, from 0 to 1, and how far the grid reaches; the grain goes by the nearer axis. */
function axesOf({ grainRad }: Piece, { dx, dy, cols, rows }: Omit<GridReadings, "z">) {
  const [lengthX, lengthY] = [dx * (cols - 1), dy * (rows - 1)];
  const alongX =
    grainRad === null ? lengthX >= lengthY : Math.abs(Math.cos(grainRad)) >= Math.abs(Math.sin(grainRad));
  const x = Float64Array.from({ length: cols * rows }, (_, k) => (k % cols) / (cols - 1));
  const y = Float64Array.from({ length: cols * rows }, (_, k) => Math.floor(k / cols) / (rows - 1));
  return alongX
    ? { along: x, across: y, lengthMm: lengthX, widthMm: lengthY }
    : { along: y, across: x, lengthMm: lengthY, widthMm: lengthX };
}

function heightsAt(surface: Surface, { x0, y0, dx, dy, cols, rows }: Omit<GridReadings, "z">): Float64Array {
  return Float64Array.from({ length: cols * rows }, (_, k) =>
    surface.heightAt(x0 + dx * (k % cols), y0 + dy * Math.floor(k / cols)),
  );
}

/** Each height as the mean of itself and those around it, as many on either side, so that slopes stay. */
function smooth(z: Float64Array, { cols, rows }: Omit<GridReadings, "z">): Float64Array {
  return z.map((_, at) => {
    const [col, row] = [at % cols, Math.floor(at / cols)];
    const reachX = Math.min(1, col, cols - 1 - col);
    const reachY = Math.min(1, row, rows - 1 - row);
    let sum = 0;
    for (let j = row - reachY; j <= row + reachY; j++)
      for (let i = col - reachX; i <= col + reachX; i++) sum += z[j * cols + i];
    return sum / ((2 * reachX + 1) * (2 * reachY + 1));
  });
}

/** Lowered or raised until the lowest place lies on the bed. */
function onBed(z: Float64Array): Float64Array {
  const low = lowest(z);
  return z.map((height) => height - low);
}

function lowest(z: Float64Array): number {
  return z.reduce((least, height) => Math.min(least, height), Number.POSITIVE_INFINITY);
}

/** A face through readings, whichever face of the piece they are of. */
function faceThrough(piece: Piece, readings: Readings): Surface {
  return upperFace({ ...piece, upper: readings });
}

/** Whether a face was measured. */
export function isMeasured({ upper, under, calipers }: Piece, face: "upper" | "under"): boolean {
  if (face === "upper") return upper !== null;
  return under !== null || (calipers !== null && upper !== null);
}
