// A quote, or quotes of several settings side by side, as lines for a maker to read.

import type { Job, Setup } from "../src/job/job.ts";
import { type Quote, quoteDocument } from "../src/quote/quote.ts";
import type { Limit } from "../src/quote/settings.ts";
import { driverParts, hoursText, missedText } from "../src/quote/words.ts";
import { formatFeed, formatLength, inUnits } from "../src/units.ts";
import { aligned } from "./report.ts";
import { wrapped } from "./terminal.ts";

/** Money as it is written here. */
export function moneyIn(currency: string): (amount: number) => string {
  const format = new Intl.NumberFormat(undefined, { style: "currency", currency });
  return (amount) => format.format(amount);
}

export function quoteLines(
  quote: Quote,
  { name }: Job,
  assumptions: readonly string[],
  notes: readonly string[],
): string[] {
  const { hours, price, parts, faces, seed, drivers } = quote;
  const money = moneyIn(quote.currency);
  const missed = missedText(quote);
  const told = parts.filter((part) => part.minutes > 0 || part.price > 0);
  return [
    name,
    "",
    ...aligned([
      ["", "Low", "Likely", "High"],
      ["Hours", ...[hours.low, hours.likely, hours.high].map(hoursText)],
      ["Price", ...[price.low, price.likely, price.high].map(money)],
    ]),
    ...wrapped(
      "",
      `Machine and people together. Of ${faces} invented tables (seed ${seed}) one in ten takes less than the low figure, one in ten more than the high.`,
    ),
    "",
    ...aligned([
      ["Part", "Time", "Price"],
      ...told.map((part) => [
        part.name,
        part.minutes > 0 ? hoursText(part.minutes / 60) : "",
        money(part.price),
      ]),
      ["likely", hoursText(hours.likely), money(price.likely)],
    ]),
    "",
    ...(drivers.length === 0
      ? []
      : wrapped("", `What makes the spread of hours: ${driverParts(drivers).join(", ")}.`)),
    ...(missed === "" ? [] : wrapped("Mind: ", missed)),
    ...notes.flatMap((note) => wrapped("", note)),
    "",
    "What it assumes",
    ...assumptions.flatMap((line) => wrapped("- ", line)),
  ];
}

export interface Compared {
  /** The first setup, with the settings. */
  readonly setup: Setup;
  readonly quote: Quote;
  readonly limits: readonly Limit[];
  /** Whether it is cut like this when nothing is changed. */
  readonly asIs: boolean;
}

export function compareLines(
  compared: readonly Compared[],
  { name, units }: Job,
  tables: number,
  leftOut: readonly string[],
): string[] {
  return [
    name,
    "",
    ...aligned([
      [
        "Cutter",
        "Depth",
        "Stepover",
        "Feed",
        "rev/min",
        "Hours",
        "Price likely",
        "Low to high",
        "What binds",
      ],
      ...compared.map(({ setup: { cutter, passes }, quote, limits, asIs }) => {
        const money = moneyIn(quote.currency);
        return [
          `${cutter.id}${asIs ? " *" : ""}`,
          formatLength(passes.depthMm, units),
          String(passes.stepoverShare),
          formatFeed(passes.feedMmPerMin, units),
          String(passes.speed),
          hoursText(quote.hours.likely),
          money(quote.price.likely),
          `${money(quote.price.low)} to ${money(quote.price.high)}`,
          limits.join(", "),
        ];
      }),
    ]),
    "",
    ...wrapped(
      "",
      `Best first; * is as it is without a change. Feeds and speeds of the others are advised. On ${tables} invented tables, the same for all.`,
    ),
    ...leftOut.flatMap((text) => wrapped("Left out: ", text)),
  ];
}

export function compareDocument(
  compared: readonly Compared[],
  { units }: Job,
  leftOut: readonly string[],
): object {
  const length = (mm: number) => Number(inUnits(mm, units).toFixed(5));
  return {
    format: "slabtrue-compare/1",
    units,
    compared: compared.map(({ setup: { cutter, passes }, quote, limits, asIs }) => ({
      ...{ cutter: cutter.id, depth: length(passes.depthMm), stepover: passes.stepoverShare, asIs },
      ...{ feed: length(passes.feedMmPerMin), speed: passes.speed, limits },
      ...quoteDocument(quote),
    })),
    leftOut,
  };
}
