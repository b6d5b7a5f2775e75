// From the text of a job file to the job: reads it and the files it names, checks every field and how
// they fit together, and reports all that is wrong at once. Files are read by the host; this is pure.

import type * as z from "zod";
import { assert, InputError, type InputIssue } from "../errors.ts";
import { formatPoint, type Units } from "../units.ts";
import { type CastPlan, livesOf } from "./casting.ts";
import { readCsv } from "./csv.ts";
import {
  type PieceDraft,
  pieceWithRings,
  type RingReader,
  type SetupDraft,
  setupWithRings,
} from "./drawings.ts";
import { checked, soundItems, throwIfAny } from "./findings.ts";
import type { Job, Piece, Readings, Ring, Shop } from "./job.ts";
import { checkNames, linkedSetup, type Named, type Report } from "./link.ts";
import { Lists, type ReadingList } from "./lists.ts";
import { inOrOn, ON_OUTLINE_MM, overlapOf } from "./outline.ts";
import { UNDER } from "./piece.ts";
import { inJobFrame, type Probed } from "./probed.ts";
import { xyzOf } from "./readings.ts";
import { jobSchema, shopSchema } from "./schema.ts";
import type { DrawingRef } from "./shape.ts";
import { cutterOf, shopOf } from "./shop.ts";
import { farOff, oddSizes, slipOf } from "./slips.ts";
import { svgRing } from "./svg.ts";
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
  checkIsJson(jobText, jobFile);
  const source = parseSource(jobText, jobFile);
  const raw = fieldsOf(source.value);
  checkKind(raw, "job", source);
  const issues = [...source.issues];
  const units = unitsOf(raw);
  const file: OpenFile = { source, units, host, issues };
  const schema = jobSchema(units, unitsOf(fieldsOf(raw.shop)));
  const draft = checked(schema, source.value, source, [], issues);
  const shop = typeof raw.shop === "string" ? shopBeside(raw.shop, file) : shopInside(raw.shop, file);

  // Where the whole does not hold, its sound parts are still checked against each other.
  const items = { pieces: schema.shape.pieces.element, setups: schema.shape.setups.element };
  const ringFor: RingReader = (outline, at) =>
    outline instanceof Float64Array ? outline : ringBeside(outline, at, file);
  const pieceDrafts = (draft?.pieces ?? soundItems(items.pieces, raw.pieces)).map(
    (piece, k) => piece && pieceWithRings(piece, ["pieces", k], ringFor),
  );
  const setupDrafts = (draft?.setups ?? soundItems(items.setups, raw.setups)).map(
    (setup, k) => setup && setupWithRings(setup, ["setups", k], ringFor),
  );
  const probed = probedFirst(pieceDrafts, setupDrafts[0] ?? null);
  const lists = new Lists(units, pieceDrafts, (face, path, at) => listBeside(face, path, at, file, probed));
  const pieces = pieceDrafts.map((piece, k) => piece && finishedPiece(piece, ["pieces", k], file, lists));
  const named: Named = {
    pieces: byId(raw.pieces, pieces, ["pieces"], file),
    cutters: shop?.cutters ?? null,
    shop: shop?.shop ?? null,
  };
  byId(raw.setups, setupDrafts, ["setups"], file);
  const lives = livesOf(castPlan(pieces, setupDrafts), (id, path, text) => {
    const at = pieces.findIndex((piece) => piece?.id === id);
    issues.push(source.issueAt(["pieces", at, ...path], text));
  });
  const setups = setupDrafts.map((setup, k) => {
    const report: Report = (path, text) => issues.push(source.issueAt(["setups", k, ...path], text));
    if (setup !== null) return linkedSetup(setup, k, named, lives, units, report);
    checkNames(fieldsOf((raw.setups as readonly unknown[])[k]), named, report);
    return null;
  });

  throwIfAny(issues);
  const soundPieces = pieces.map(whole);
  return {
    name: draft?.name ?? baseName(jobFile),
    units,
    shop: whole(shop?.shop),
    shopFile: typeof raw.shop === "string" ? beside(jobFile, raw.shop) : jobFile,
    pieces: soundPieces,
    setups: setups.map(whole),
    notes: [...lists.notes(), ...oddSizes(soundPieces, units)],
  };
}

/** The shop in a shop file's text, in mm. Throws InputError with everything that is wrong. */
export function readShop(
  shopText: string,
  shopFile: string,
  host: Pick<JobHost, "checkProgramLines"> = {},
): Shop {
  const issues: InputIssue[] = [];
  const found = shopIn(shopText, shopFile, host, issues);
  throwIfAny(issues);
  return whole(found?.shop);
}

/** The job file while it is read, and all that was found wrong, in it and in the files it names. */
interface OpenFile {
  readonly source: Source;
  readonly units: Units;
  readonly host: JobHost;
  readonly issues: InputIssue[];
}

// The shop -----------------------------------------------------------------------------------

interface ShopFound {
  /** Null where the shop does not hold. */
  readonly shop: Shop | null;
  readonly cutters: Named["cutters"];
}

function shopBeside(path: string, file: OpenFile): ShopFound | null {
  const shopFile = beside(file.source.file, path);
  const text = readBeside(shopFile, ["shop"], file);
  return text === null ? null : shopIn(text, shopFile, file.host, file.issues);
}

/** The shop that is written into the job: what its schema finds wrong was found with the job's. */
function shopInside(value: unknown, { source, host, issues }: OpenFile): ShopFound {
  const draft = checked(shopSchema(unitsOf(fieldsOf(value))), value, source, ["shop"], []);
  return shopFound(draft, value, source, ["shop"], host, issues);
}

function shopIn(
  text: string,
  file: string,
  host: Pick<JobHost, "checkProgramLines">,
  issues: InputIssue[],
): ShopFound | null {
  try {
    const source = parseSource(text, file);
    checkKind(fieldsOf(source.value), "shop", source);
    issues.push(...source.issues);
    const draft = checked(shopSchema(unitsOf(fieldsOf(source.value))), source.value, source, [], issues);
    return shopFound(draft, source.value, source, [], host, issues);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    issues.push(...error.issues);
    return null;
  }
}

function shopFound(
  draft: z.output<ReturnType<typeof shopSchema>> | null,
  value: unknown,
  source: Source,
  at: Path,
  host: Pick<JobHost, "checkProgramLines">,
  issues: InputIssue[],
): ShopFound {
  const raw = fieldsOf(value);
  const item = shopSchema(unitsOf(raw)).shape.cutters.element;
  const cutters = (draft?.cutters ?? soundItems(item, raw.cutters)).map(
    (cutter) => cutter && cutterOf(cutter),
  );
  if (draft && host.checkProgramLines) {
    for (const where of ["start", "end"] as const)
      for (const { index, text } of host.checkProgramLines(draft.program[where], where))
        issues.push(source.issueAt([...at, "program", where, index], text));
    for (const [where, name] of [
      ["start", "logStart"],
      ["end", "logEnd"],
    ] as const)
      for (const { index, text } of draft.probe ? host.checkProgramLines(draft.probe[name], where) : [])
        issues.push(source.issueAt([...at, "probe", name, index], text));
  }
  return {
    shop: draft && shopOf(draft),
    cutters: byId(raw.cutters, cutters, [...at, "cutters"], { source, issues }),
  };
}

// Pieces -------------------------------------------------------------------------------------

function finishedPiece(draft: PieceDraft, at: Path, file: OpenFile, lists: Lists): Piece | null {
  const upper = faceReadings(draft, "upper", at, file, lists);
  const under = faceReadings(draft, "under", at, file, lists);
  const calipers: Readings | null = draft.thicknesses ? { kind: "points", xyz: draft.thicknesses } : null;
  if (calipers !== null) checkPlaces(calipers, draft.outline, [...at, "thicknesses"], file);
  if (upper === undefined || under === undefined) return null;
  checkWood(draft, at, file);
  return {
    id: draft.id,
    material: draft.material,
    outline: draft.outline,
    grainRad: draft.grain ?? null,
    thicknessMm: draft.thickness ?? null,
    upper,
    under,
    calipers: draft.thicknesses ?? null,
    wood: draft.wood ?? null,
    shellMm: draft.shell,
    madeOf: (draft.madeOf ?? []).map(({ piece, at, angle, after }) => ({
      ...{ piece, after },
      angleRad: angle,
      atMm: at,
    })),
    moisture: draft.moisture ?? null,
  };
}

/** What a probing program of the job's first setup touches; its log counts from that setup's zero. */
function probedFirst(pieces: readonly (PieceDraft | null)[], first: SetupDraft | null): Probed | undefined {
  if (first === null) return undefined;
  const outlines = pieces.flatMap((piece) => {
    if (piece === null) return [];
    return (first.pieces?.includes(piece.id) ?? piece.madeOf === undefined) ? [piece.outline] : [];
  });
  return { outlines, zero: first.zero };
}

/** The readings of a face, null where none were taken, undefined after reporting what is wrong with them. */
function faceReadings(
  draft: PieceDraft,
  face: "upper" | "under",
  at: Path,
  file: OpenFile,
  lists: Lists,
): Readings | null | undefined {
  const written = draft[face];
  if (written === undefined) return null;
  const readings =
    written.kind === "file"
      ? lists.ownOf(draft, face, written.file, [...at, face, "file"], (at, text) =>
          file.issues.push(file.source.issueAt(at, text)),
        )
      : written;
  if (written.kind === "points") lists.look(draft, face, written.xyz);
  if (readings === null) return undefined;
  // A file is looked at as a whole: it may hold the readings of several pieces.
  const check = written.kind === "file" ? checkWithin : checkPlaces;
  return check(readings, draft.outline, [...at, face], file) ? readings : undefined;
}

/** Whether readings lie on their piece, and not as if all were read with the same slip. */
function checkPlaces(readings: Readings, outline: Ring, at: Path, file: OpenFile): boolean {
  const xyz = xyzOf(readings);
  const slip = slipOf(xyz, [outline], farOff(xyz, [outline], file.units), file.units);
  if (slip === null) return checkWithin(readings, outline, at, file);
  file.issues.push(file.source.issueAt(at, slip.text));
  return false;
}

function checkWithin(readings: Readings, outline: Ring, at: Path, file: OpenFile): boolean {
  const xyz = xyzOf(readings);
  for (let k = 0; k < xyz.length; k += 3) if (inOrOn(outline, xyz[k], xyz[k + 1], ON_OUTLINE_MM)) return true;
  const text = "none of the readings lies inside the outline or on it";
  const ask = "are both measured from the same origin and in the same unit?";
  file.issues.push(file.source.issueAt(at, `${text}; ${ask}`));
  return false;
}

/** Wood must lie in its piece, each wood beside the others. */
function checkWood({ outline, wood = [] }: PieceDraft, at: Path, file: OpenFile): void {
  const say = (k: number, text: string) => file.issues.push(file.source.issueAt([...at, "wood", k], text));
  for (const [k, ring] of wood.entries()) {
    if (overlapOf(outline, ring) === null) say(k, "this wood lies outside the outline of its piece");
    for (const other of wood.slice(0, k)) {
      const place = overlapOf(other, ring);
      if (place === null) continue;
      say(
        k,
        `two outlines of wood overlap at ${formatPoint(place[0], place[1], file.units)}; each must lie beside the others`,
      );
      break;
    }
  }
}

function castPlan(pieces: readonly (Piece | null)[], setups: readonly (SetupDraft | null)[]): CastPlan {
  return {
    pieces: new Map(pieces.flatMap((piece) => (piece === null ? [] : [[piece.id, piece] as const]))),
    setups: setups.map((setup) => ({ id: setup?.id ?? "", pieces: setup?.pieces ?? null })),
  };
}

function listBeside(
  face: "upper" | "under",
  path: string,
  at: Path,
  file: OpenFile,
  probed: Probed | undefined,
): ReadingList | null {
  const name = beside(file.source.file, path);
  const text = readBeside(name, at, file);
  if (text === null) return null;
  const { readings, lines, issues } = readCsv(text, name, file.units, face === "under" ? UNDER : undefined);
  file.issues.push(...issues);
  if (readings === null) return null;
  const { xyz } = probed === undefined ? readings : inJobFrame(readings, probed);
  return { name, xyz, lines };
}

function ringBeside({ file: path, id }: DrawingRef, at: Path, file: OpenFile): Ring | null {
  const svgFile = beside(file.source.file, path);
  const text = readBeside(svgFile, [...at, "svg"], file);
  if (text === null) return null;
  try {
    return svgRing(text, svgFile, id, file.units);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    file.issues.push(...error.issues);
    return null;
  }
}

// Files --------------------------------------------------------------------------------------

/** A path as the file that names it means it: relative to where that file is. */
function beside(file: string, path: string): string {
  if (/^(?:[\\/]|[A-Za-z]:)/.test(path)) return path;
  return (
    file.slice(0, Math.max(file.lastIndexOf("/"), file.lastIndexOf("\\")) + 1) + path.replace(/^(\.\/)+/, "")
  );
}

/** The text of a file that is named at `at`, or null after reporting why it cannot be read. */
function readBeside(path: string, at: Path, { source, host, issues }: OpenFile): string | null {
  try {
    return host.readText(path);
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error);
    const why = /^ENOENT\b/.test(message) ? "there is no such file" : printable(message, 200);
    issues.push(source.issueAt(at, `cannot read ${quoted(path, 200)}: ${why}`));
    return null;
  }
}

function baseName(file: string): string {
  return file.replace(/^.*[\\/]/s, "").replace(/\.[^.]*$/, "");
}

// Other files --------------------------------------------------------------------------------

/** What a file of ours says of itself, and what it is. */
const KINDS: Readonly<Record<string, string>> = {
  "slabtrue-job/1": "a job file",
  "slabtrue-shop/1": "a shop file",
  "slabtrue-plan/1": "a plan that slabtrue wrote",
};
const WANTED = {
  job: 'wanted a job file, which names its shop file in "shop"',
  shop: "wanted the shop file: machine, cutters and what else stays the same",
};

/** Another file of ours has nothing of what is wanted: that is said once. Throws InputError. */
function checkKind(
  { format }: Readonly<Record<string, unknown>>,
  wanted: "job" | "shop",
  source: Source,
): void {
  if (typeof format !== "string" || format === `slabtrue-${wanted}/1` || !Object.hasOwn(KINDS, format))
    return;
  throw new InputError([source.issueAt(["format"], `this is ${KINDS[format]}; ${WANTED[wanted]}`)]);
}

/** A list of readings or a program is no job: told as such, not by its first comma. Throws InputError. */
function checkIsJson(text: string, file: string): void {
  const first = text
    .replace(/^\uFEFF/, "")
    .trimStart()
    .slice(0, 1);
  if (!/[^{[/"]/.test(first)) return;
  const name = baseName(file) + (/\.[^.\\/]*$/.exec(file)?.[0] ?? "");
  const list = /^[-\d.xX#"]/.test(first)
    ? `. A list of readings is named in a job file: "upper": { "file": ${quoted(name, 200)} }`
    : "";
  const what = `this is no job file: a job file is text that begins with {${list}`;
  throw new InputError([{ file, place: "", line: 0, column: 0, text: what }]);
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

/** The items of a list by their ids as written, null where there is no list; reports ids given twice. */
function byId<T>(
  list: unknown,
  items: readonly (T | null)[],
  at: Path,
  { source, issues }: Pick<OpenFile, "source" | "issues">,
): Map<string, T | null> | null {
  if (!Array.isArray(list)) return null;
  const found = new Map<string, T | null>();
  const places = new Map<string, number>();
  items.forEach((item, k) => {
    const { id } = fieldsOf(list[k]);
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
