// Slips of a whole list of readings: x and y exchanged, inches taken for millimetres or the other way round. Seen
// where many readings lie far off the piece, and the slip undone would put them on it. And sizes that no table has.
// Millimetres.

import { formatLength, MM_PER_INCH, type Units } from "../units.ts";
import type { Piece, Ring } from "./job.ts";
import { distanceToEdge, inOrOn, ON_OUTLINE_MM } from "./outline.ts";
import { xyzOf } from "./readings.ts";
import { quoted } from "./wording.ts";

/** A reading so far off a piece's edge may still be the piece's: waney edges, a tape's error. Common practice, no source. */
export const EDGE_MM = { mm: 50, in: 2 * MM_PER_INCH };
/** So many far readings, and such a share of all, are more than single slips. Common practice, no source. */
const FAR_MIN = 3;
const FAR_SHARE = 1 / 3;
/** No slab is so low, and no list of readings crowds into so small a share of a piece. Common practice, no source. */
const LOW_MM = 10;
const CROWDED_SHARE = 0.1;
/** Readings of a piece reach at least over so much of it. Common practice, no source. */
const REACH_SHARE = 0.25;

interface Slip {
  readonly ask: string;
  /** In which the readings were meant; null: as they were read. */
  readonly meant: Units | null;
  readonly undone: (x: number, y: number) => readonly [number, number];
}

const AS_READ: Pick<Slip, "undone"> = { undone: (x, y) => [x, y] };
const EXCHANGED: Slip = { ask: "are x and y exchanged?", meant: null, undone: (x, y) => [y, x] };
/** By the unit in which a job's numbers are read. */
const OTHER_UNIT: Readonly<Record<Units, Slip>> = {
  mm: {
    ask: "are the readings in inches? They were read in mm.",
    meant: "in",
    undone: (x, y) => [MM_PER_INCH * x, MM_PER_INCH * y],
  },
  in: {
    ask: "are the readings in mm? They were read in inches.",
    meant: "mm",
    undone: (x, y) => [x / MM_PER_INCH, y / MM_PER_INCH],
  },
};

/** What is wrong with a list, one sentence, and in which unit it was meant (null: as it was read). */
interface FoundSlip {
  readonly text: string;
  readonly meant: Units | null;
}

/**
 * What is wrong with readings, flat `[x, y, z, ...]`, of these pieces as a whole, of which `far` lie far off; null:
 * nothing that is known.
 */
export function slipOf(
  xyz: ArrayLike<number>,
  outlines: readonly Ring[],
  far: number,
  units: Units,
): FoundSlip | null {
  const count = xyz.length / 3;
  const other = OTHER_UNIT[units];
  if (far < FAR_MIN || far < FAR_SHARE * count) {
    if (units === "in" || !isCrowded(xyz, outlines) || farOff(xyz, outlines, units, other) > 0) return null;
    const text = `${other.ask} They all lie in one corner of the piece, lower than ${formatLength(LOW_MM, units)}`;
    return { text, meant: other.meant };
  }
  // What is made smaller lies on any piece: it must also reach over it.
  const fits = units === "mm" || reachesOver(xyz, outlines, other);
  const [best] = (fits ? [EXCHANGED, other] : [EXCHANGED])
    .map((slip) => ({ ...slip, left: farOff(xyz, outlines, units, slip) }))
    .sort((a, b) => a.left - b.left);
  if (best.left > far / 2) return null;
  const where = `more than ${formatLength(EDGE_MM[units], units)} outside`;
  const text = `${best.ask} ${far} of ${count} readings lie ${where} the piece, but ${best.left} of ${count} if they are`;
  return { text, meant: best.meant };
}

/** How many readings lie far from all pieces as they stand, or with a slip undone. */
export function farOff(
  xyz: ArrayLike<number>,
  outlines: readonly Ring[],
  units: Units,
  { undone }: Pick<Slip, "undone"> = AS_READ,
): number {
  let far = 0;
  for (let k = 0; k < xyz.length; k += 3) {
    const [x, y] = undone(xyz[k], xyz[k + 1]);
    if (isFar(x, y, outlines, EDGE_MM[units])) far++;
  }
  return far;
}

/** Whether a place lies too far from all pieces to be a reading of any. */
function isFar(x: number, y: number, outlines: readonly Ring[], edgeMm: number): boolean {
  return outlines.every((ring) => !inOrOn(ring, x, y, ON_OUTLINE_MM) && distanceToEdge(ring, x, y) > edgeMm);
}

/** Whether all readings lie in a small corner of the pieces and next to the bed, as inches read as millimetres do. */
function isCrowded(xyz: ArrayLike<number>, outlines: readonly Ring[]): boolean {
  const share = shareReached(xyz, outlines);
  return reachOf(xyz, 2, 3).most < LOW_MM && Math.max(...share) < CROWDED_SHARE;
}

/** Whether readings with a slip undone reach over much of the pieces. */
function reachesOver(xyz: ArrayLike<number>, outlines: readonly Ring[], { undone }: Slip): boolean {
  const factor = undone(1, 1);
  return shareReached(xyz, outlines).every((share, axis) => factor[axis] * share > REACH_SHARE);
}

/** How far readings reach along X and Y, as a share of the widest piece. */
function shareReached(xyz: ArrayLike<number>, outlines: readonly Ring[]): number[] {
  return [0, 1].map(
    (axis) =>
      widthOf(reachOf(xyz, axis, 3)) / Math.max(...outlines.map((ring) => widthOf(reachOf(ring, axis, 2)))),
  );
}

interface Reach {
  readonly least: number;
  readonly most: number;
}

function widthOf({ least, most }: Reach): number {
  return most - least;
}

function reachOf(values: ArrayLike<number>, first: number, step: number): Reach {
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (let k = first; k < values.length; k += step) {
    if (values[k] < least) least = values[k];
    if (values[k] > most) most = values[k];
  }
  return { least, most };
}

/** Tables are longer than this and shorter, and slabs thinner. Common practice, no source. */
export const SIZE_MM = { least: 100, longest: 10_000, thickest: 300 };

/** Pieces of a size that no table has: told, as the unit may be wrong. One sentence each. */
export function oddSizes(pieces: readonly Piece[], units: Units): string[] {
  const length = (mm: number) => formatLength(mm, units);
  return pieces.flatMap(({ id, outline, thicknessMm, upper }) => {
    const long = Math.max(...[0, 1].map((axis) => widthOf(reachOf(outline, axis, 2))));
    const high = upper === null ? (thicknessMm ?? 0) : reachOf(xyzOf(upper), 2, 3).most;
    const odd = [
      ...(long > SIZE_MM.longest ? [`${length(long)} long, more than ${length(SIZE_MM.longest)}`] : []),
      ...(long < SIZE_MM.least ? [`only ${length(long)} long, less than ${length(SIZE_MM.least)}`] : []),
      ...(high > SIZE_MM.thickest ? [`${length(high)} high, more than ${length(SIZE_MM.thickest)}`] : []),
    ];
    return odd.map((what) => `piece ${quoted(id)} is ${what}: is its unit right?`);
  });
}
