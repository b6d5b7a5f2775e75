// From the text of a job file to the job: reads it and the files it names, checks every field and how
// they fit together, and reports all that is wrong at once. Files are read by the host; this is pure.

import type * as z from "zod";
import { assert, InputError, type InputIssue } from "../errors.ts";
import type { Units } from "../units.ts";
import { readCsv } from "./csv.ts";
import { checked, soundItems, throwIfAny } from "./findings.ts";
import type { Cutter, Job, Piece, Readings, Shop } from "./job.ts";
import { linkedSetup } from "./link.ts";
import { inOrOn } from "./outline.ts";
import type { pieceSchema } from "./piece.ts";
import { anyReading } from "./readings.ts";
import { jobSchema, shopSchema } from "./schema.ts";
import { cutterOf, shopOf } from "./shop.ts";
import { type Path, parseSource, placeText, type Source } from "./text.ts";
import { printable, quoted } from "./wording.ts";

/** What the reader cannot do itself. */
export interface JobHost {
  /** The whole text of a file, its path beside the job file's own; throws when it cannot be read. */
  readText(path: string): string;
  /**
   * What is wrong with the lines that the shop adds to every program: of each finding the line's index
   * and a sentence. Left out: only the lines' shape is checked.
   */
  checkProgramLines?(
    lines: readonly string[],
    where: "start" | "end",
  ): readonly { readonly index: number; readonly text: string }[];
}

/** The job in a job file's text, complete, in mm. Throws InputError with everything that is wrong. */
export function readJob(jobText: string, jobFile: string, host: JobHost): Job {
  const source = parseSource(jobText, jobFile);
  const issues = [...source.issues];
  const raw = fieldsOf(source.value);
  const units = unitsOf(raw);
  const schema = jobSchema(units, unitsOf(fieldsOf(raw.shop)));
  const draft = checked(schema, source.value, source, [], issues);
  const shop =
    typeof raw.shop === "string"
      ? shopBeside(raw.shop, source, host, issues)
      : // What is wrong with a shop in the job was found with the job.
        shopWithin(source, ["shop"], raw.shop, host, issues, []);

  // Where the whole does not hold, its sound parts are still checked against each other.
  const items = { pieces: schema.shape.pieces.element, setups: schema.shape.setups.element };
  const pieceDrafts = draft?.pieces ?? soundItems(items.pieces, raw.pieces);
  const setupDrafts = draft?.setups ?? soundItems(items.setups, raw.setups);
  const pieces = pieceDrafts.map((piece, k) => piece && finishedPiece(piece, k, source, units, host, issues));
  const named = {
    pieces: byId(raw.pieces, pieces, source, ["pieces"], issues),
    cutters: shop?.cutters ?? null,
  };
  byId(raw.setups, setupDrafts, source, ["setups"], issues);
  const setups = setupDrafts.map(
    (setup, k) => setup && linkedSetup(setup, ["setups", k], named, source, units, issues),
  );

  throwIfAny(issues);
  return {
    name: draft?.name ?? fileName(jobFile),
    units,
    shop: whole(shop?.shop),
    pieces: pieces.map(whole),
    setups: setups.map(whole),
  };
}

/** The shop in a shop file's text, in mm. Throws InputError with everything that is wrong. */
export function readShop(
  shopText: string,
  shopFile: string,
  host: Pick<JobHost, "checkProgramLines"> = {},
): Shop {
  const source = parseSource(shopText, shopFile);
  const issues = [...source.issues];
  const { shop } = shopWithin(source, [], source.value, host, issues, issues);
  throwIfAny(issues);
  return whole(shop);
}

// The shop -----------------------------------------------------------------------------------

interface ShopFound {
  /** Null where the shop does not hold. */
  readonly shop: Shop | null;
  /** By id; null is a cutter that does not hold. */
  readonly cutters: ReadonlyMap<string, Cutter | null>;
}

function shopBeside(path: string, source: Source, host: JobHost, issues: InputIssue[]): ShopFound | null {
  const file = beside(source.file, path);
  const text = readBeside(file, host, source, ["shop"], issues);
  if (text === null) return null;
  try {
    const shopSource = parseSource(text, file);
    issues.push(...shopSource.issues);
    return shopWithin(shopSource, [], shopSource.value, host, issues, issues);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    issues.push(...error.issues);
    return null;
  }
}

/** The shop at `at` of a file; what its schema finds goes to `schemaIssues`, everything else to `issues`. */
function shopWithin(
  source: Source,
  at: Path,
  value: unknown,
  host: Pick<JobHost, "checkProgramLines">,
  issues: InputIssue[],
  schemaIssues: InputIssue[],
): ShopFound {
  const raw = fieldsOf(value);
  const schema = shopSchema(unitsOf(raw));
  const draft = checked(schema, value, source, at, schemaIssues);
  const cutterDrafts = draft?.cutters ?? soundItems(schema.shape.cutters.element, raw.cutters);
  const cutters = cutterDrafts.map((cutter) => cutter && cutterOf(cutter));
  if (draft && host.checkProgramLines) {
    for (const where of ["start", "end"] as const)
      for (const { index, text } of host.checkProgramLines(draft.program[where], where))
        issues.push(source.issueAt([...at, "program", where, index], text));
  }
  return {
    shop: draft && shopOf(draft),
    cutters: byId(raw.cutters, cutters, source, [...at, "cutters"], issues),
  };
}

// Pieces -------------------------------------------------------------------------------------

function finishedPiece(
  draft: z.output<ReturnType<typeof pieceSchema>>,
  index: number,
  source: Source,
  units: Units,
  host: JobHost,
  issues: InputIssue[],
): Piece | null {
  const at = ["pieces", index, "upper"];
  let upper: Readings | null = null;
  if (draft.upper?.kind === "file") {
    upper = readingsBeside(draft.upper.file, [...at, "file"], source, units, host, issues);
    if (upper === null) return null;
  } else if (draft.upper) upper = draft.upper;

  if (upper && !anyReading(upper, (x, y) => inOrOn(draft.outline, x, y, ON_OUTLINE_MM))) {
    const text = "none of the readings lies inside the outline or on it";
    issues.push(source.issueAt(at, `${text}; are both measured from the same origin and in the same unit?`));
    return null;
  }
  return {
    id: draft.id,
    material: draft.material,
    outline: draft.outline,
    grainRad: draft.grain ?? null,
    thicknessMm: draft.thickness ?? null,
    upper,
  };
}

/** A reading this near the outline is on it, mm. */
const ON_OUTLINE_MM = 0.001;

function readingsBeside(
  path: string,
  at: Path,
  source: Source,
  units: Units,
  host: JobHost,
  issues: InputIssue[],
): Readings | null {
  const file = beside(source.file, path);
  const text = readBeside(file, host, source, at, issues);
  if (text === null) return null;
  const read = readCsv(text, file, units);
  issues.push(...read.issues);
  return read.readings;
}

// Files --------------------------------------------------------------------------------------

/** A path as the file that names it means it: relative to where that file is. */
function beside(file: string, path: string): string {
  if (/^(?:[\\/]|[A-Za-z]:)/.test(path)) return path;
  return (
    file.slice(0, Math.max(file.lastIndexOf("/"), file.lastIndexOf("\\")) + 1) + path.replace(/^(\.\/)+/, "")
  );
}

function readBeside(
  file: string,
  host: JobHost,
  source: Source,
  at: Path,
  issues: InputIssue[],
): string | null {
  try {
    return host.readText(file);
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error);
    const why = /^ENOENT\b/.test(message) ? "there is no such file" : printable(message, 200);
    issues.push(source.issueAt(at, `cannot read ${quoted(file, 200)}: ${why}`));
    return null;
  }
}

function fileName(file: string): string {
  return file.replace(/^.*[\\/]/s, "").replace(/\.[^.]*$/, "");
}

// Raw values ---------------------------------------------------------------------------------

function fieldsOf(value: unknown): Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value)
    ? (value as Record<string, unknown>)
    : {};
}

/** A file whose unit cannot be told is read as mm: that it cannot be told is reported. */
function unitsOf(fields: Readonly<Record<string, unknown>>): Units {
  return fields.units === "in" ? "in" : "mm";
}

/** The items of a list by their ids as written, the sound ones and the others; reports ids given twice. */
function byId<T>(
  list: unknown,
  items: readonly (T | null)[],
  source: Source,
  at: Path,
  issues: InputIssue[],
): Map<string, T | null> {
  const found = new Map<string, T | null>();
  const places = new Map<string, number>();
  items.forEach((item, k) => {
    const { id } = fieldsOf((list as readonly unknown[])[k]);
    if (typeof id !== "string") return;
    const first = places.get(id);
    if (first === undefined) {
      places.set(id, k);
      found.set(id, item);
      return;
    }
    const text = `the id ${quoted(id)} is already that of ${placeText([...at, first])}; every id may be given once`;
    issues.push(source.issueAt([...at, k, "id"], text));
  });
  return found;
}

/** What must be whole, as nothing was found wrong with it. */
function whole<T>(part: T | null | undefined): T {
  assert(part !== null && part !== undefined, "a part of the job is missing, and nothing says why");
  return part;
}
