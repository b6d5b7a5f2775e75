// How wood will move on its way from the moisture it is worked at to that of the place where it will be
// used. Wood Handbook, FPL-GTR-190, chapter 13: change = size x coefficient x change of moisture, good from 6
// to 14 % and rough beyond; the sawing is not known, so radial and tangential are the two ends. Millimetres,
// moisture in percent of the oven-dry mass. Single boards differ, and resin around wood holds it back: "about".

import type { Piece, Ring, ShopMaterial } from "../job/job.ts";
import { formatLength, MM_PER_INCH, type Units } from "../units.ts";
import { GENERAL_HARDWOOD, type Material, materialNamed, woodNamed } from "./materials.ts";

export type Moisture = NonNullable<Piece["moisture"]>;

/** Above the fibre saturation point wood keeps its size: about 30 % (Wood Handbook, from memory). */
const SATURATED = 30;
/** Where the coefficients hold. */
const HOLDS = { from: 6, to: 14 };

/** Growth of a size with the moisture, by `coefficient` for each percent, mm; negative: it shrinks. */
export function movementMm(sizeMm: number, coefficient: number, { now, inUse }: Moisture): number {
  return sizeMm * coefficient * (Math.min(inUse, SATURATED) - Math.min(now, SATURATED));
}

/** What is known of a piece when the note is made. */
export interface Moving {
  readonly piece: Pick<Piece, "id" | "material" | "moisture">;
  readonly thicknessMm: number;
  /** Of its wood, across the grain. */
  readonly widthMm: number;
  /** Whether it is cast in, and cannot move freely. */
  readonly inResin: boolean;
}

/** How a piece's wood will move, for its maker; null where no moisture is given or there is no wood to move. */
export function movementNote(
  { piece, thicknessMm, widthMm, inResin }: Moving,
  units: Units,
  materials: readonly ShopMaterial[] = [],
): string | null {
  const { id, material, moisture } = piece;
  if (moisture === null || !(widthMm > 0 && thicknessMm > 0)) return null;
  const named = woodNamed(material, materials);
  if (named?.kind === "board" || (named === null && materialNamed(material, materials) !== null)) return null;
  const { now, inUse } = moisture;
  const wood = named?.movement ? named : GENERAL_HARDWOOD;
  const moves = movementMm(1, 1, moisture);
  const way = `from ${now} % moisture now to ${inUse} % in use`;
  const start = `piece "${id}"${material === "" ? "" : ` (${material})`}:`;
  if (moves === 0) return `${start} ${way} it will keep its size`;
  const verb = moves < 0 ? "shrink" : "swell";
  return (
    `${start} ${way} it will ${verb} by ${range(thicknessMm, wood, moisture, units)} in its thickness of ` +
    `${formatLength(thicknessMm, units)}, and by ${range(widthMm, wood, moisture, units)} across the grain ` +
    `in its width of ${formatLength(widthMm, units)}; along the grain it hardly moves. ` +
    `${inResin ? "Resin holds it back: what it cannot move pulls at the seam" : "Fasten it so that it can move"}` +
    `${guessed(named)}${rough(moisture)}`
  );
}

/** `about 0.3 to 0.5 mm`: the ends for wood sawn either way, as fine as such a figure deserves. */
function range(sizeMm: number, { movement }: Material, moisture: Moisture, units: Units): string {
  const { radial, tangential } = movement ?? { radial: 0, tangential: 0 };
  const stepMm = units === "mm" ? 0.1 : MM_PER_INCH / 100;
  const [least, most] = [radial, tangential]
    .map((coefficient) => Math.round(Math.abs(movementMm(sizeMm, coefficient, moisture)) / stepMm) * stepMm)
    .sort((a, b) => a - b);
  if (most === 0) return `less than ${formatLength(stepMm, units)}`;
  if (least === 0) return `up to about ${formatLength(most, units)}`;
  if (least === most) return `about ${formatLength(most, units)}`;
  return `about ${formatLength(least, units).replace(` ${units}`, "")} to ${formatLength(most, units)}`;
}

function guessed(named: Material | null): string {
  if (named?.movement) return "";
  return `. How this wood moves is not in the table: the range is that of common hardwoods`;
}

function rough({ now, inUse }: Moisture): string {
  const { from, to } = HOLDS;
  if (Math.min(now, inUse) >= from && Math.max(now, inUse) <= to) return "";
  return `. Outside ${from} to ${to} % moisture such figures are rough`;
}

const LINES = 200;

/** How wide wood with these outlines is across the grain at its widest, gaps between them not counted, mm. */
export function widthAcrossGrainMm(outlines: readonly Ring[], grainRad: number): number {
  const [cos, sin] = [Math.cos(grainRad), Math.sin(grainRad)];
  const turned = outlines.map((ring) =>
    ring.map((_, k) => (k % 2 === 0 ? ring[k] * cos + ring[k + 1] * sin : ring[k] * cos - ring[k - 1] * sin)),
  );
  const along = turned.flatMap((ring) => [...ring.filter((_, k) => k % 2 === 0)]);
  const [from, to] = [Math.min(...along), Math.max(...along)];
  let widest = 0;
  for (let line = 0; line < LINES; line++) {
    const u = from + ((line + 0.5) / LINES) * (to - from);
    widest = Math.max(
      widest,
      turned.reduce((sum, ring) => sum + chordMm(ring, u), 0),
    );
  }
  return widest;
}

/** How much of the line at `u` across the grain lies inside a ring of (u, v). */
function chordMm(ring: Ring, u: number): number {
  const crossings: number[] = [];
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
    if (ring[p] > u === ring[k] > u) continue;
    crossings.push(ring[p + 1] + ((ring[k + 1] - ring[p + 1]) * (u - ring[p])) / (ring[k] - ring[p]));
  }
  crossings.sort((a, b) => a - b);
  let length = 0;
  for (let k = 1; k < crossings.length; k += 2) length += crossings[k] - crossings[k - 1];
  return length;
}
