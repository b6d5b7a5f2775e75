// From invented tables to a quote: hours and price as low, likely and high, the parts that make up the likely
// one, and what drives the spread. Pure statistics over draws; money in the shop's currency.

import type { Job } from "../job/job.ts";
import { DRIVERS, type Draw, type Driver, handParts, MACHINE_PARTS, PARTS } from "./draws.ts";

export interface Range {
  /** One table in ten takes less. */
  readonly low: number;
  readonly likely: number;
  /** One table in ten takes more. */
  readonly high: number;
}

export interface QuotePart {
  readonly name: string;
  readonly minutes: number;
  readonly price: number;
}

export interface Quote {
  readonly currency: string;
  readonly seed: number;
  /** How many tables were invented. */
  readonly faces: number;
  readonly hours: Range;
  readonly price: Range;
  /** They add up to the likely hours and price. */
  readonly parts: readonly QuotePart[];
  /** Share of the spread of the hours that each explains by itself, greatest first. */
  readonly drivers: readonly { readonly name: Driver; readonly share: number }[];
  /** Share of the tables of which more than a hundredth of a face stays rough, or its wood under resin. */
  readonly missedShare: number;
  /** The setups that leave it so, the most frequent first. */
  readonly missedBy: readonly string[];
  /** How often long pieces are pushed on between programs, in the likely table. */
  readonly pushes: number;
  /** Hours of each table, in order. */
  readonly sortedHours: readonly number[];
}

/** What an hour costs; a quote needs it. */
export type Rates = NonNullable<Job["shop"]["quoting"]["rates"]>;

/** More of a face than this is missed in earnest. */
const MISSED_SHARE = 0.01;

/** The quote that the draws of a job make. */
export function quoteOf(job: Job, rates: Rates, seed: number, draws: readonly Draw[]): Quote {
  const priced = draws.map((draw) => pricedDraw(draw, job, rates));
  const { parts, pushes } = likelyTable(draws, job, rates);
  const total = (of: (part: QuotePart) => number) => rounded(sum(parts.map(of)));
  const minutes = range(
    priced.map((one) => one.minutes),
    total((part) => part.minutes),
  );
  return {
    currency: rates.currency,
    seed,
    faces: draws.length,
    hours: { low: minutes.low / 60, likely: minutes.likely / 60, high: minutes.high / 60 },
    price: range(
      priced.map((one) => one.price),
      total((part) => part.price),
    ),
    parts,
    drivers: driversOf(
      draws,
      priced.map((one) => one.minutes),
    ),
    ...missedIn(draws),
    pushes,
    sortedHours: priced.map((one) => one.minutes / 60).sort((a, b) => a - b),
  };
}

const PART_NAMES = [...PARTS, "inserts", "labour", "margin"] as const;

/**
 * The parts of the table in the middle: the machine's minutes as the middle fifth of the tables by machine's time has
 * them, people's as the shop says.
 */
function likelyTable(draws: readonly Draw[], job: Job, rates: Rates): { parts: QuotePart[]; pushes: number } {
  const machineMinutes = ({ minutes }: Draw) => sum(minutes.slice(0, MACHINE_PARTS));
  const middle = middleFifth([...draws].sort((a, b) => machineMinutes(a) - machineMinutes(b)));
  const pushes = Math.round(mean(middle.map((draw) => draw.pushes)));
  const people = handParts(job, pushes);
  const likely: Draw = {
    minutes: people.map((each, k) =>
      k < MACHINE_PARTS ? mean(middle.map(({ minutes }) => minutes[k])) : each,
    ),
    rowMinutes: mean(middle.map(({ rowMinutes }) => rowMinutes)),
    drivers: [],
    ...{ missedShare: 0, missedBy: "", pushes },
  };
  const parts = pricedDraw(likely, job, rates).parts.map(({ minutes, price }, k) => ({
    name: PART_NAMES[k],
    minutes: rounded(minutes),
    price: rounded(price),
  }));
  return { parts, pushes };
}

/** How many tables do not come out clean, and which setups leave them so. */
function missedIn(draws: readonly Draw[]): Pick<Quote, "missedShare" | "missedBy"> {
  const missed = draws.filter(({ missedShare }) => missedShare > MISSED_SHARE);
  const counts = new Map<string, number>();
  for (const { missedBy } of missed) counts.set(missedBy, (counts.get(missedBy) ?? 0) + 1);
  const missedBy = [...counts].sort((a, b) => b[1] - a[1]).map(([id]) => id);
  return { missedShare: missed.length / draws.length, missedBy };
}

interface Priced {
  readonly parts: readonly { readonly minutes: number; readonly price: number }[];
  readonly minutes: number;
  readonly price: number;
}

/** A draw's parts with their prices. "labour" is the minding of the running machine: its minutes are the machine's own. */
function pricedDraw(
  { minutes, rowMinutes }: Draw,
  { shop: { quoting }, setups }: Job,
  { machineHour, labourHour }: Rates,
): Priced {
  const parts = minutes.map((each, k) => ({
    minutes: each,
    price: (each / 60) * (k < MACHINE_PARTS ? machineHour : labourHour),
  }));
  const machine = sum(minutes.slice(0, MACHINE_PARTS));
  // Setups with different cutters share the rows' time alike; few jobs have two.
  const wear = mean(
    setups.map(({ cutter: { inserts } }) => (inserts ? inserts.setCost / inserts.lifeHours : 0)),
  );
  parts.push({ minutes: 0, price: (rowMinutes / 60) * wear });
  parts.push({ minutes: 0, price: (machine / 60) * quoting.mindingShare * labourHour });
  const cost = sum(parts.map(({ price }) => price));
  parts.push({ minutes: 0, price: cost * quoting.marginShare });
  return {
    parts,
    minutes: sum(minutes),
    price: sum(parts.map(({ price }) => price)),
  };
}

/** The tenth and nine tenths of values around what is likely. */
function range(values: readonly number[], likely: number): Range {
  const sorted = [...values].sort((a, b) => a - b);
  return {
    low: Math.min(likely, rounded(quantile(sorted, 0.1))),
    likely,
    high: Math.max(likely, rounded(quantile(sorted, 0.9))),
  };
}

/** Between the two nearest of sorted values, straight. */
export function quantile(sorted: readonly number[], share: number): number {
  const at = share * (sorted.length - 1);
  const below = Math.floor(at);
  const above = Math.min(sorted.length - 1, below + 1);
  return sorted[below] + (sorted[above] - sorted[below]) * (at - below);
}

/** The middle fifth of a list, at least one: its mean is a steadier median, and parts of a mean add up. */
function middleFifth<T>(sorted: readonly T[]): readonly T[] {
  const cut = Math.floor(0.4 * sorted.length);
  return sorted.slice(cut, Math.max(cut + 1, sorted.length - cut));
}

/** Tables are put in so many groups of like size by each driver. */
const GROUPS = 10;
/** With fewer tables than this, and below this share, nothing can be told from chance. */
const DRAWS_MIN = 50;
const SHARE_MIN = 0.02;

/**
 * Share of the hours' variance that lies between groups of tables alike in one driver, less what chance alone would
 * put there (the epsilon squared of analysis of variance).
 */
function driversOf(draws: readonly Draw[], minutes: readonly number[]): Quote["drivers"] {
  if (draws.length < DRAWS_MIN) return [];
  return DRIVERS.map((name, k) => {
    const values = draws.map(({ drivers }) => drivers[k]);
    return { name, share: explainedShare(values, minutes) };
  })
    .filter(({ share }) => share >= SHARE_MIN)
    .sort((a, b) => b.share - a.share);
}

export function explainedShare(driver: readonly number[], values: readonly number[]): number {
  const order = driver.map((value, k) => ({ value, y: values[k] })).sort((a, b) => a.value - b.value);
  if (order[0].value === order[order.length - 1].value) return 0;
  const all = mean(values);
  const groups = Array.from({ length: GROUPS }, (_, g) =>
    order.slice(Math.floor((g * order.length) / GROUPS), Math.floor(((g + 1) * order.length) / GROUPS)),
  ).filter((group) => group.length > 0);
  let [between, within] = [0, 0];
  for (const group of groups) {
    const middle = mean(group.map(({ y }) => y));
    between += group.length * (middle - all) ** 2;
    for (const { y } of group) within += (y - middle) ** 2;
  }
  if (between + within === 0) return 0;
  const chance = ((groups.length - 1) * within) / (order.length - groups.length);
  return Math.max(0, (between - chance) / (between + within));
}

function mean(values: readonly number[]): number {
  return sum(values) / values.length;
}

function sum(values: readonly number[]): number {
  return values.reduce((all, value) => all + value, 0);
}

/** Hundredths of a minute and of the currency: what is printed adds up. */
function rounded(value: number): number {
  return Math.round(value * 100) / 100;
}

/** What a quote says with `--json`. */
export function quoteDocument({ currency, seed, faces, hours, price, parts, drivers, missedShare }: Quote) {
  const figures = (value: number) => Number(value.toFixed(6));
  const rangeIn = ({ low, likely, high }: Range) => ({
    low: figures(low),
    likely: figures(likely),
    high: figures(high),
  });
  return {
    format: QUOTE_FORMAT,
    ...{ currency, seed, faces },
    hours: rangeIn(hours),
    price: rangeIn(price),
    parts: parts.map(({ name, minutes, price }) => ({ name, minutes, price })),
    drivers: drivers.map(({ name, share }) => ({ name, share: Number(share.toFixed(3)) })),
    missed: figures(missedShare),
  };
}

const QUOTE_FORMAT = "slabtrue-quote/1";
