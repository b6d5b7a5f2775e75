// The fields that both files are made of: lengths, feeds, ids and the like, as zod schemas that give
// mm and mm/min for a file's unit. Each says in its findings what was found and what is wanted.

import * as z from "zod";
import {
  FEED_FORMS,
  formatFeed,
  formatLength,
  LENGTH_FORMS,
  parseFeed,
  parseLength,
  type Units,
} from "../units.ts";
import { describeValue, listed, quoted } from "./wording.ts";

/** Beyond this no length makes sense, mm. */
const LENGTH_MAX_MM = 100_000;
const FEED_MAX_MM_PER_MIN = 1_000_000;

export type Context = z.core.$RefinementCtx;

export function report(ctx: Context, message: string, path: (string | number)[] = []): void {
  ctx.issues.push({ code: "custom", input: ctx.value, message, path });
}

export const unit = z.enum(["mm", "in"]).describe("The unit of this file's bare numbers.");

/** A field that a later release builds: known, and refused whatever it holds. */
export function notBuilt(what: string) {
  return z
    .never({ error: `${what} is not built yet; take it out` })
    .optional()
    .describe("Not built yet.");
}

export const id = z
  .string()
  .min(1)
  .max(80)
  .refine((name) => name.trim() !== "", "found only blanks; wanted a name")
  .refine((name) => !/\p{Cc}/u.test(name), {
    error: (issue) =>
      `${describeValue(issue.input)}; wanted a name without line ends or other control characters`,
  });

export function lengthIn(units: Units, fits: (mm: number) => boolean, least: string) {
  const wanted = `wanted a length: a number in ${units}, or ${LENGTH_FORMS}`;
  return z
    .union([z.number(), z.string()], { error: (issue) => `${describeValue(issue.input)}; ${wanted}` })
    .transform((written, ctx) => {
      const mm = parseLength(written, units);
      if (mm === null) report(ctx, `${describeValue(written)}; ${wanted}${unitHint(written)}`);
      else if (!(Math.abs(mm) <= LENGTH_MAX_MM))
        report(
          ctx,
          `${describeValue(written)}; wanted at most ${formatLength(LENGTH_MAX_MM, units)} (100 m)`,
        );
      else if (!fits(mm)) report(ctx, `${describeValue(written)}; wanted ${least}`);
      else return mm;
      return z.NEVER;
    });
}

/** The finding for a value that is not of a form. */
export function wantedForm(form: string) {
  return { error: (issue: z.core.$ZodRawIssue) => `${describeValue(issue.input)}; wanted ${form}` };
}

/** Lets a check of some fields run whenever nothing is wrong with those; what else is wrong hides it not. */
export function whenSound(...names: string[]) {
  return {
    when: ({ issues }: z.core.ParsePayload) => !issues.some(({ path }) => names.includes(String(path?.[0]))),
  };
}

/** A number in quotes is the commonest slip. */
function unitHint(written: number | string): string {
  if (typeof written !== "string" || !/^\s*-?\d+(\.\d+)?\s*$/.test(written)) return "";
  return `; write ${written.trim()} without quotes, or with its unit`;
}

function lengthsIn(units: Units) {
  const coordinate = lengthIn(units, () => true, "").describe(
    `A length: a number in the file's unit, or ${LENGTH_FORMS}.`,
  );
  const size = lengthIn(units, (mm) => mm > 0, "more than 0").describe("A length above 0.");
  const space = lengthIn(units, (mm) => mm >= 0, "0 or more").describe("A length, 0 or more.");
  const place = z.tuple([coordinate, coordinate], wantedForm("[x, y]"));
  return { coordinate, size, space, place };
}

function feedIn(units: Units) {
  const wanted = `wanted a feed: a number in ${units}/min, or ${FEED_FORMS}`;
  return z
    .union([z.number(), z.string()], { error: (issue) => `${describeValue(issue.input)}; ${wanted}` })
    .transform((written, ctx) => {
      if (written === "advise") {
        report(ctx, `"advise" is not built yet; give the feed`);
        return z.NEVER;
      }
      const feed = parseFeed(written, units);
      if (feed === null) report(ctx, `${describeValue(written)}; ${wanted}`);
      else if (!(feed > 0)) report(ctx, `${describeValue(written)}; wanted more than 0`);
      else if (!(feed <= FEED_MAX_MM_PER_MIN))
        report(ctx, `${describeValue(written)}; wanted at most ${formatFeed(FEED_MAX_MM_PER_MIN, units)}`);
      else return feed;
      return z.NEVER;
    })
    .describe(`A feed: a number in the file's unit per minute, or ${FEED_FORMS}.`);
}

/** Fields of which exactly one must be given; `found` holds the names of those that are. */
export function exactlyOne(ctx: Context, value: object, names: readonly string[]): string | null {
  const found = names.filter((name) => (value as Record<string, unknown>)[name] !== undefined);
  if (found.length === 1) return found[0];
  const given =
    found.length === 0 ? "found none" : `found ${found.map((name) => quoted(name)).join(" and ")}`;
  report(ctx, `${given}; wanted exactly one of ${listed(names.map((name) => quoted(name)))}`);
  return null;
}

/** Lengths of any sign, above 0, and of 0 or more; places [x, y]. By the unit of bare numbers, in mm. */
export const lengths = { mm: lengthsIn("mm"), in: lengthsIn("in") } as const;

/** Feeds by the unit of bare numbers, in mm/min. */
export const feeds = { mm: feedIn("mm"), in: feedIn("in") } as const;
