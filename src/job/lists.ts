// Lists of readings that stand in a file: one may hold those of several pieces, each of which takes its own. What lies
// too far from every piece is told by its line. Millimetres.

import { formatLength, formatPoint, type Units } from "../units.ts";
import type { PieceDraft } from "./drawings.ts";
import type { Readings } from "./job.ts";
import { distanceToEdge, inOrOn, ON_OUTLINE_MM } from "./outline.ts";
import { pointReadings } from "./readings.ts";
import { EDGE_MM, slipOf } from "./slips.ts";
import type { Path } from "./text.ts";
import { quoted } from "./wording.ts";

/** After so many nobody reads on. */
const TOLD_MAX = 5;

/** Readings, flat `[x, y, z, ...]`. */
export interface ReadingList {
  /** The file's name, or the place in the job that holds the readings. */
  readonly name: string;
  readonly xyz: Float64Array;
  /** The file's line of each reading; null where they stand in no file. */
  readonly lines: ArrayLike<number> | null;
}

type Face = "upper" | "under";
/** Takes a mistake and where in the job it is. */
type Report = (at: Path, text: string) => void;

/** The lists of a job, each read once, and what is odd in them. */
export class Lists {
  private readonly units: Units;
  private readonly drafts: readonly (PieceDraft | null)[];
  private readonly read: (face: Face, path: string, at: Path) => ReadingList | null;
  /** By face and file, the readings of each piece that names it; null: the file does not hold. */
  private readonly known = new Map<string, ReadonlyMap<PieceDraft, ArrayLike<number>> | null>();
  private readonly odd: string[] = [];

  constructor(
    units: Units,
    drafts: readonly (PieceDraft | null)[],
    read: (face: Face, path: string, at: Path) => ReadingList | null,
  ) {
    this.units = units;
    this.drafts = drafts;
    this.read = read;
  }

  /** The readings in a file that are the piece's own: all of them where no other piece names it for that face. */
  ownOf(draft: PieceDraft, face: Face, path: string, at: Path, report: Report): Readings | null {
    const key = `${face} ${path}`;
    const known = this.known.get(key);
    const shares = known === undefined ? this.sharesOf(face, path, at, report) : known;
    this.known.set(key, shares);
    const own = shares?.get(draft);
    if (own === undefined) return null;
    const nameOf = () => "the same file";
    return pointReadings(own, this.units, nameOf, (_, text) => report(at, `of this piece: ${text}`));
  }

  /** Looks for readings in the job itself that lie far from their piece. */
  look(draft: PieceDraft, face: Face, xyz: Float64Array): void {
    const list = { name: `"${face}" of piece ${quoted(draft.id)}`, xyz, lines: null };
    this.odd.push(...farNote(list, [draft], sharedOut(list, [draft], this.units).far, this.units));
  }

  notes(): readonly string[] {
    return this.odd;
  }

  private sharesOf(
    face: Face,
    path: string,
    at: Path,
    report: Report,
  ): ReadonlyMap<PieceDraft, ArrayLike<number>> | null {
    const list = this.read(face, path, at);
    if (list === null) return null;
    const takers = this.drafts.flatMap((draft) => {
      const written = draft?.[face];
      return draft && written?.kind === "file" && written.file === path ? [draft] : [];
    });
    const { own, far } = sharedOut(list, takers, this.units);
    const outlines = takers.map(({ outline }) => outline);
    const slip = slipOf(list.xyz, outlines, far.length, this.units);
    if (slip !== null) {
      const say = slip.meant === null ? "" : `; a first line "# units: ${slip.meant}" in the file says so`;
      report(at, `${quoted(list.name, 200)}: ${slip.text}${say}`);
      return null;
    }
    this.odd.push(...farNote(list, takers, far, this.units));
    return new Map(takers.map((taker, k) => [taker, takers.length > 1 ? own[k] : list.xyz]));
  }
}

interface Shares {
  /** Of each piece its own readings, flat. */
  readonly own: readonly number[][];
  /** Index of each reading that lies far from all of them. */
  readonly far: readonly number[];
}

/** Each reading for the piece in which it lies, or else the nearest one at whose edge it lies. */
function sharedOut({ xyz }: ReadingList, takers: readonly PieceDraft[], units: Units): Shares {
  const own: number[][] = takers.map(() => []);
  const far: number[] = [];
  for (let k = 0; k < xyz.length; k += 3) {
    const takes = takersOf(xyz[k], xyz[k + 1], takers, EDGE_MM[units]);
    for (const n of takes) own[n].push(xyz[k], xyz[k + 1], xyz[k + 2]);
    if (takes.length === 0) far.push(k / 3);
  }
  return { own, far };
}

function takersOf(x: number, y: number, takers: readonly PieceDraft[], edgeMm: number): number[] {
  const inside = takers.flatMap(({ outline }, n) => (inOrOn(outline, x, y, ON_OUTLINE_MM) ? [n] : []));
  if (inside.length > 0) return inside;
  const off = takers.map(({ outline }) => distanceToEdge(outline, x, y));
  const nearest = Math.min(...off);
  return nearest <= edgeMm ? [off.indexOf(nearest)] : [];
}

/** One sentence about the readings that lie far from all pieces; none where all lie well. */
function farNote(
  list: ReadingList,
  takers: readonly PieceDraft[],
  far: readonly number[],
  units: Units,
): string[] {
  if (far.length === 0) return [];
  const { name, xyz, lines } = list;
  const named = far.slice(0, TOLD_MAX).map((k) => {
    const place = formatPoint(xyz[3 * k], xyz[3 * k + 1], units);
    return lines === null ? place : `line ${lines[k]} ${place}`;
  });
  const more = far.length > TOLD_MAX ? ` and ${far.length - TOLD_MAX} more` : "";
  const one = far.length === 1;
  const who =
    takers.length === 1 ? `piece ${quoted(takers[0].id)}` : "each of the pieces that name this file";
  const what = takers.length === 1 ? "still counts for its surface" : "was left out";
  const whats = takers.length === 1 ? "still count for its surface" : "were left out";
  return [
    `${name}: ${one ? "a reading lies" : `${far.length} readings lie`} more than ${formatLength(EDGE_MM[units], units)} outside ${who}, ` +
      `and ${one ? what : whats}: ${named.join(", ")}${more}; put x and y right, or take ${one ? "it" : "them"} out`,
  ];
}
