// The fields that both files are made of: lengths, feeds, ids and the like, as zod schemas that give
// mm and mm/min for a file's unit. Each says in its findings what was found and what is wanted.

import * as z from "zod";
import {
  FEED_FORMS,
  FEED_PATTERN,
  formatFeed,
  formatLength,
  LENGTH_FORMS,
  LENGTH_PATTERN,
  parseFeed,
  parseLength,
  SIZE_PATTERN,
  type Units,
  unitWord,
} from "../units.ts";
import { describeValue, listed, quoted } from "./wording.ts";

/** Beyond this no length makes sense, mm. */
const LENGTH_MAX_MM = 100_000;
const FEED_MIN_MM_PER_MIN = 1;
const FEED_MAX_MM_PER_MIN = 1_000_000;

export type Context = z.core.$RefinementCtx;

/** A finding at `path` below the value that is checked. */
export function report(ctx: Context, message: string, path: (string | number)[] = []): void {
  ctx.issues.push({ code: "custom", input: ctx.value, message, path });
}

/** Schemas differ by the unit of bare numbers; each is built when first wanted, as that takes longer than a parse. */
export function perUnit<T>(build: (units: Units) => T): (units: Units) => T {
  const built = new Map<Units, T>();
  return (units) => {
    const known = built.get(units);
    if (known !== undefined) return known;
    const fresh = build(units);
    built.set(units, fresh);
    return fresh;
  };
}

/** The finding for a value that is not of a form. */
export function wantedForm(form: string) {
  return { error: (issue: z.core.$ZodRawIssue) => `${describeValue(issue.input)}; wanted ${form}` };
}

/** The unit of a file. */
export const unit = z.enum(["mm", "in"]).describe("The unit of this file's bare numbers.");

/** What editors find a file's JSON Schema by. */
export const schemaLink = z
  .string()
  .optional()
  .describe("Path of this file's JSON Schema, for editors; nothing else looks at it.");

// zod measures whatever has a `length`, such as an outline's group of fields; only texts and lists count
// here. Its types know no `when` for these checks, so it comes along with an option that they know.
const ifText = { abort: false, when: ({ value }: z.core.ParsePayload) => typeof value === "string" };
const ifList = { abort: false, when: ({ value }: z.core.ParsePayload) => Array.isArray(value) };

/** A text that is not empty. */
export const someText = z.string().min(1, ifText);

/** A list of `least` to `most` items. */
export function list<T extends z.ZodType>(item: T, least: number, most: number) {
  return z.array(item).min(least, ifList).max(most, ifList);
}

/** What others name a piece, a setup or a cutter by. */
export const id = someText
  .max(80, ifText)
  .refine((name) => name.trim() !== "", "found only blanks; wanted a name")
  .refine(
    (name) => !/\p{Cc}/u.test(name),
    wantedForm("a name without line ends or other control characters"),
  );

/** A length that `fits`, in mm; `least` says what would. */
export function lengthIn(units: Units, fits: (mm: number) => boolean, least: string) {
  const form = `a length: a number in ${unitWord(units)}, or ${LENGTH_FORMS}`;
  return z.union([z.number(), z.string()], wantedForm(form)).transform((written, ctx) => {
    const mm = parseLength(written, units);
    if (mm === null) report(ctx, `${describeValue(written)}; wanted ${form}${unitHint(written)}`);
    else if (!(Math.abs(mm) <= LENGTH_MAX_MM))
      report(ctx, `${describeValue(written)}; wanted at most ${formatLength(LENGTH_MAX_MM, units)} (100 m)`);
    else if (!fits(mm)) report(ctx, `${describeValue(written)}; wanted ${least}`);
    else return mm;
    return z.NEVER;
  });
}

/** Lets a check of some fields of a group run whenever nothing is wrong with those, whatever else is. */
export function whenSound(...names: string[]) {
  return {
    when: ({ value, issues }: z.core.ParsePayload) =>
      typeof value === "object" &&
      value !== null &&
      !issues.some(({ code, path }) =>
        path?.length ? names.includes(String(path[0])) : code === "invalid_type",
      ),
  };
}

/** A number in quotes is the commonest slip. */
function unitHint(written: number | string): string {
  if (typeof written !== "string" || !/^\s*-?\d+(\.\d+)?\s*$/.test(written)) return "";
  return `; write ${written.trim()} without quotes, or with its unit`;
}

/** Lengths of any sign, above 0, and of 0 or more; places [x, y]. In mm. */
export const lengths = perUnit((units) => {
  const coordinate = lengthIn(units, () => true, "").meta({
    description: `A length: a number in the file's unit, or ${LENGTH_FORMS}.`,
    pattern: LENGTH_PATTERN,
  });
  const size = lengthIn(units, (mm) => mm > 0, "more than 0").meta({
    description: "A length above 0.",
    exclusiveMinimum: 0,
    pattern: SIZE_PATTERN,
  });
  const space = lengthIn(units, (mm) => mm >= 0, "0 or more").meta({
    description: "A length, 0 or more.",
    minimum: 0,
    pattern: SIZE_PATTERN,
  });
  const place = z.tuple([coordinate, coordinate], wantedForm("[x, y]"));
  return { coordinate, size, space, place };
});

/** A feed above 0, in mm/min. */
export const feeds = perUnit((units) => {
  const form = feedForm(units);
  return z
    .union([z.number(), z.string()], wantedForm(form))
    .transform((written, ctx) => feedOf(written, units, form, ctx))
    .meta({
      description: `A feed: a number in the file's unit per minute, or ${FEED_FORMS}.`,
      exclusiveMinimum: 0,
      pattern: FEED_PATTERN,
    });
});

/** A feed in mm/min, or "advise". */
export const feedsOrAdvice = perUnit((units) => {
  const form = `${feedForm(units)}, or "advise"`;
  return z
    .union([z.number(), z.string()], wantedForm(form))
    .transform((written, ctx) => (written === "advise" ? written : feedOf(written, units, form, ctx)))
    .meta({
      description: `A feed: a number in the file's unit per minute, ${FEED_FORMS}, or "advise".`,
      exclusiveMinimum: 0,
      pattern: `^advise$|${FEED_PATTERN}`,
    });
});

function feedForm(units: Units): string {
  return `a feed: a number in ${units}/min, or ${FEED_FORMS}`;
}

function feedOf(written: number | string, units: Units, form: string, ctx: Context): number {
  const mmPerMin = parseFeed(written, units);
  if (mmPerMin === null) report(ctx, `${describeValue(written)}; wanted ${form}${feedHint(written)}`);
  else if (!(mmPerMin > 0)) report(ctx, `${describeValue(written)}; wanted more than 0`);
  else if (!(mmPerMin >= FEED_MIN_MM_PER_MIN))
    report(ctx, `${describeValue(written)}; wanted at least ${formatFeed(FEED_MIN_MM_PER_MIN, units)}`);
  else if (!(mmPerMin <= FEED_MAX_MM_PER_MIN))
    report(ctx, `${describeValue(written)}; wanted at most ${formatFeed(FEED_MAX_MM_PER_MIN, units)}`);
  else return mmPerMin;
  return z.NEVER;
}

/** Feeds as people say them. */
const SAID_FEEDS: Readonly<Record<string, string>> = { ipm: "in/min", fpm: "ft/min", mmpm: "mm/min" };

function feedHint(written: number | string): string {
  const said = /^\s*(\d+(?:\.\d+)?)\s*(?:(ipm|fpm|mmpm)\.?)?\s*$/i.exec(String(written));
  if (said === null) return "";
  const [, count, unit] = said;
  return unit === undefined
    ? `; write ${count} without quotes, or with its unit`
    : `; write "${count} ${SAID_FEEDS[unit.toLowerCase()]}"`;
}

/** The name of the one field that is given of those of which exactly one must be, or null after reporting. */
export function exactlyOne(ctx: Context, value: object, names: readonly string[]): string | null {
  const found = names.filter((name) => (value as Record<string, unknown>)[name] !== undefined);
  if (found.length === 1) return found[0];
  const given =
    found.length === 0 ? "found none" : `found ${found.map((name) => quoted(name)).join(" and ")}`;
  report(ctx, `${given}; wanted exactly one of ${listed(names.map((name) => quoted(name)))}`);
  return null;
}
