// The header line of a file of readings: which columns are x, y and z, in any order and among others, and in which unit.

import type { Units } from "../units.ts";
import { quoted } from "./wording.ts";

export interface Header {
  /** Columns in all. */
  readonly columns: number;
  /** Where x, y and z stand, from 0. */
  readonly order: readonly [number, number, number];
  /** The units that the header names for x, y and z; null where it names none. */
  readonly units: readonly (Units | null)[];
}

/** What a column of a reading's place may be called, without blanks, case, accents and unit. */
const NAMES: readonly ReadonlySet<string>[] = [
  new Set(["x", "xpos", "posx", "xposition", "xcoord", "xcoordinate", "xaxis", "east", "easting", "ost"]),
  new Set(["y", "ypos", "posy", "yposition", "ycoord", "ycoordinate", "yaxis", "north", "northing", "nord"]),
  new Set(
    "z zpos posz zposition zcoord zcoordinate zaxis height zheight hohe hoehe elevation level reading".split(
      " ",
    ),
  ),
];
/** What may stand beside them in a header that is a comment. */
const BESIDE = new Set(
  "a b c d e u v w i j k n no nr num number index idx id point touch line f feed s".split(" "),
);

const UNITS: ReadonlyMap<string, Units> = new Map(
  Object.entries({
    ...{ mm: "mm", millimeter: "mm", millimeters: "mm", millimetre: "mm", millimetres: "mm" },
    ...{ in: "in", inch: "in", inches: "in", '"': "in" },
  } as const),
);
/** Units that are lengths and not ours. */
const OTHER_UNITS =
  /^(?:cm|dm|m|ft|feet|foot|'|yd|um|\u00b5m|thou|mils?|centimet(?:er|re)s?|met(?:er|re)s?)$/i;

/** The unit that a text names, or null. */
export function unitOf(text: string): Units | null {
  return UNITS.get(text.trim().replace(/\.$/, "").toLowerCase()) ?? null;
}

/** The header in a line, or what is wrong with it. */
export function headerOf(line: string): Header | string {
  const columns = partsOf(line).map(columnOf);
  while (columns.length > 3 && columns.at(-1)?.name === "") columns.pop();
  const order: number[] = [];
  const units: (Units | null)[] = [];
  for (const [axis, names] of NAMES.entries()) {
    const found = columns.flatMap(({ name }, k) => (names.has(name) ? [k] : []));
    const wanted = "wanted x, y and z, in any order, each once";
    if (found.length !== 1) {
      const what = `${found.length === 0 ? "no" : "more than one"} column for ${"xyz"[axis]}`;
      return `the header ${quoted(line)} names ${what}; ${wanted}`;
    }
    const { unit } = columns[found[0]];
    const known = unit === "" ? null : unitOf(unit);
    if (known === null && OTHER_UNITS.test(unit))
      return `the header names ${quoted(unit)} as the unit of ${"xyz"[axis]}; wanted mm or in`;
    order.push(found[0]);
    units.push(known);
  }
  return { columns: columns.length, order: order as [number, number, number], units };
}

/** Whether a comment is a header and nothing else: every word in it names a column. */
export function namesWords(comment: string): boolean {
  const parts = partsOf(comment.replace(/^[,;\s]+/, ""));
  const known = ({ name }: Column) => BESIDE.has(name) || NAMES.some((names) => names.has(name));
  return parts.length >= 3 && parts.map(columnOf).every(known) && typeof headerOf(comment) !== "string";
}

interface Column {
  readonly name: string;
  readonly unit: string;
}

function partsOf(line: string): string[] {
  const by = [";", "\t", ","].find((mark) => line.includes(mark));
  if (by !== undefined) return line.split(by);
  // A unit in brackets belongs to the word before it.
  return line.trim().match(/[^\s()[\]]+(?:\s*[([][^)\]]*[)\]])?/g) ?? [];
}

function columnOf(part: string): Column {
  const bare = part.trim().replace(/^(["'])(.*)\1$/, "$2");
  const unit =
    /[([]\s*([^)\]]*?)\s*[)\]]\s*$/.exec(bare)?.[1] ??
    /[\s_/](mm|in|inch|inches|cm)\.?$/i.exec(bare)?.[1] ??
    "";
  const isUnit = unit !== "" && (unitOf(unit) !== null || OTHER_UNITS.test(unit));
  const name = isUnit ? bare.slice(0, bare.lastIndexOf(unit)) : bare;
  return {
    name: name
      .normalize("NFKD")
      .toLowerCase()
      .replace(/[^a-z0-9#]/g, ""),
    unit: isUnit ? unit : "",
  };
}
