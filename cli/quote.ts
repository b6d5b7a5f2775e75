// `slabtrue quote`: hours and price before or after a slab is measured, from sizes or from a job.

import { InputError } from "../src/errors.ts";
import type { Cutter, Job, Shop } from "../src/job/job.ts";
import { readShop } from "../src/job/read.ts";
import type { MachineRatio } from "../src/quote/actuals.ts";
import { type Task, unmeasured } from "../src/quote/draws.ts";
import { isQuotePage, quotePage } from "../src/quote/page.ts";
import { type Quote, quoteDocument, quoteOf, type Rates } from "../src/quote/quote.ts";
import {
  bindingLimits,
  type Settings,
  settingsToCompare,
  type Vary,
  withSettings,
} from "../src/quote/settings.ts";
import { jobFromSizes } from "../src/quote/sizes.ts";
import { assumptionsOf, narrowedText, stepsOf } from "../src/quote/words.ts";
import { formatLength, inUnits, LENGTH_FORMS, parseLength } from "../src/units.ts";
import { ratioLines } from "./actual.ts";
import { ratioBeside } from "./actuals-file.ts";
import { host, inputError, readJobFile, readText, reason } from "./files.ts";
import { writeOut } from "./out-file.ts";
import { drawAll } from "./quote-pool.ts";
import { type Compared, compareLines, moneyIn, quoteLines } from "./quote-report.ts";
import { printJson, printLines, printMessages } from "./terminal.ts";

export interface QuoteOptions {
  readonly length?: string;
  readonly width?: string;
  readonly thickness?: string;
  readonly finished?: string;
  readonly slabs?: string;
  readonly shell?: string;
  readonly species?: string;
  readonly faces?: string;
  readonly shop?: string;
  readonly cutter?: string;
  readonly seed?: string;
  readonly invent?: string;
  readonly compare?: string;
  readonly html?: string;
  readonly json?: boolean;
}

const DRAWS = 200;
const DRAWS_MAX = 100_000;
/** Settings are compared on the same tables, so few tell which is better. */
const DRAWS_COMPARED = 20;

export async function quote(jobFile: string | undefined, options: QuoteOptions): Promise<void> {
  const job = jobFile === undefined ? jobOfSizes(options) : jobOfFile(jobFile, options);
  const { rates } = job.shop.quoting;
  if (rates === null)
    throw inputError(
      job.shopFile,
      `has no "rates", and a price needs them: currency, machineHour, labourHour and minutes`,
    );
  const seed = wholeNumber("--seed", options.seed, 1, 0, 2 ** 32 - 1);
  const count = wholeNumber("--invent", options.invent, DRAWS, 10, DRAWS_MAX);
  const vary = varyOf(options.compare);
  const ratio = ratioBeside(job.shopFile);
  const task: Task = {
    job,
    seed,
    ratio: { expected: ratio.expected, expectedSpread: ratio.expectedSpread },
  };
  if (vary !== null) await compare(task, vary, rates, options.json === true);
  else await quoteOne(task, count, rates, ratio, options);
}

async function quoteOne(
  task: Task,
  count: number,
  rates: Rates,
  ratio: MachineRatio,
  { html, json }: QuoteOptions,
): Promise<void> {
  const { job, seed } = task;
  const bare = unmeasured(job);
  const found = await drawn(task, count, rates, "tables invented");
  const before =
    bare && (await drawn({ ...task, job: bare }, count, rates, "tables invented as if unmeasured"));
  const narrowed = before === null ? "" : narrowedText(before.hours, found.hours);
  const assumptions = assumptionsOf(job, ratio);
  const notes = [...(narrowed === "" ? [] : [narrowed]), ...ratioLines(ratio)];
  if (html !== undefined) {
    const page = quotePage(found, {
      ...{ name: job.name, steps: stepsOf(job), assumptions, notes },
      validUntil: dayIn(job.shop.quoting.validDays),
      money: moneyIn(rates.currency),
    });
    writeOut(html, page, isQuotePage);
    printMessages([`Written to ${html}: one page for the client, one for the shop.`]);
  }
  if (json)
    printJson({ ...quoteDocument(found), ...(before && { unmeasured: quoteDocument(before).hours }) });
  else printLines(quoteLines({ ...found, seed }, job, assumptions, notes));
}

async function compare(
  { job, ...task }: Task,
  vary: readonly Vary[],
  rates: Rates,
  json: boolean,
): Promise<void> {
  const [{ cutter, passes }] = job.setups;
  const now = { cutter, depthMm: passes.depthMm, stepoverShare: passes.stepoverShare };
  const all = settingsToCompare(now, vary, job.shop);
  const compared: Compared[] = [];
  for (const [k, settings] of all.entries()) {
    const one = withSettings(job, settings);
    const found = await drawn(
      { ...task, job: one },
      DRAWS_COMPARED,
      rates,
      `tables of setting ${k + 1} of ${all.length}`,
    );
    compared.push({
      settings,
      quote: found,
      setup: one.setups[0],
      limits: bindingLimits(one.setups[0], job.shop),
    });
  }
  compared.sort((a, b) => a.quote.price.likely - b.quote.price.likely);
  const isNow = (settings: Settings) =>
    settings.cutter.id === now.cutter.id &&
    settings.depthMm === now.depthMm &&
    settings.stepoverShare === now.stepoverShare;
  if (json)
    printJson({
      format: "slabtrue-compare/1",
      units: job.units,
      compared: compared.map(({ settings, quote, setup, limits }) => ({
        cutter: settings.cutter.id,
        depth: Number(inUnits(settings.depthMm, job.units).toFixed(5)),
        stepover: settings.stepoverShare,
        now: isNow(settings),
        feed: Number(inUnits(setup.passes.feedMmPerMin, job.units).toFixed(2)),
        speed: setup.passes.speed,
        limits,
        ...quoteDocument(quote),
      })),
    });
  else printLines(compareLines(compared, isNow, job, DRAWS_COMPARED));
}

/** Draws and quotes, with the count on stderr. */
async function drawn(task: Task, count: number, rates: Rates, what: string): Promise<Quote> {
  const start = performance.now();
  let nextMs = 1000;
  const draws = await drawAll(task, count, (done) => {
    const ms = performance.now() - start;
    if (ms < nextMs || done === count) return;
    printMessages([`${done} of ${count} ${what}`]);
    nextMs = ms + Math.max(2000, ms / 2);
  });
  return quoteOf(task.job, rates, task.seed, draws);
}

// What is asked for ---------------------------------------------------------------------------------

const SIZES = ["length", "width", "thickness", "finished"] as const;
const ONLY_SIZES = [...SIZES, "slabs", "shell", "species", "faces", "shop", "cutter"] as const;

function jobOfFile(jobFile: string, options: QuoteOptions): Job {
  const given = ONLY_SIZES.filter((name) => options[name] !== undefined);
  if (given.length > 0)
    throw wrongOption(
      `--${given[0]}`,
      "found beside a job, and the job says that itself; give either a job or sizes",
    );
  return readJobFile(jobFile);
}

function jobOfSizes(options: QuoteOptions): Job {
  const missing = [...SIZES, "shop" as const].filter((name) => options[name] === undefined);
  if (missing.length > 0 || options.shop === undefined)
    throw wrongOption(
      missing.map((name) => `--${name}`).join(", "),
      "missing; wanted a job, or the sizes --length, --width, --thickness, --finished and the file --shop",
    );
  const shopFile = options.shop;
  const shop = shopIn(shopFile);
  const size = (name: (typeof SIZES)[number]) => lengthOf(`--${name}`, options[name] ?? "", shop, false);
  const lengthMm = size("length");
  const widthMm = size("width");
  const thicknessMm = size("thickness");
  const finishedMm = size("finished");
  const length = (mm: number) => formatLength(mm, shop.units);
  if (finishedMm >= thicknessMm)
    throw wrongOption(
      "--finished",
      `found ${length(finishedMm)}; wanted less than the slabs' thickness of ${length(thicknessMm)}`,
    );
  const slabs = wholeNumber("--slabs", options.slabs, 1, 1, 50);
  const shellMm = options.shell === undefined ? 0 : lengthOf("--shell", options.shell, shop, true);
  const faces = options.faces ?? "both";
  if (faces !== "both" && faces !== "upper")
    throw wrongOption("--faces", `found "${faces}"; wanted "both" or "upper"`);
  const cutter = options.cutter === undefined ? shop.cutters[0] : cutterOf(options.cutter, shop);
  const made = slabs === 1 ? "1 slab" : `${slabs} slabs`;
  const name = `Table ${length(lengthMm)} x ${length(widthMm)}, ${made} of ${length(thicknessMm)}${shellMm > 0 ? " in resin" : ""}, finished ${length(finishedMm)}`;
  return jobFromSizes(
    {
      ...{ lengthMm, widthMm, thicknessMm, finishedMm, slabs, shellMm, faces, cutter },
      species: options.species ?? "",
    },
    shop,
    shopFile,
    name,
  );
}

function shopIn(file: string): Shop {
  let text: string;
  try {
    text = readText(file);
  } catch (error) {
    throw inputError(file, `cannot be read: ${reason(error)}`);
  }
  return readShop(text, file, host);
}

function cutterOf(id: string, { cutters }: Shop): Cutter {
  const found = cutters.find((cutter) => cutter.id === id);
  if (found !== undefined) return found;
  const ids = cutters.map((cutter) => `"${cutter.id}"`).join(", ");
  throw wrongOption("--cutter", `found "${id}"; the cutters of the shop are ${ids}`);
}

const LENGTH_MAX_MM = 20_000;

/** A length with its unit; a bare number is in the shop's. */
function lengthOf(place: string, written: string, { units }: Shop, orNone: boolean): number {
  const bare = /^\s*\d+(\.\d+)?\s*$/.test(written);
  const mm = parseLength(bare ? Number(written) : written, units);
  if (mm !== null && (mm > 0 || (orNone && mm === 0)) && mm <= LENGTH_MAX_MM) return mm;
  const most = formatLength(LENGTH_MAX_MM, units);
  throw wrongOption(
    place,
    `found "${written}"; wanted a length ${orNone ? "from 0" : "above 0"} up to ${most}: ${LENGTH_FORMS}, or a number in ${units}`,
  );
}

function wholeNumber(
  place: string,
  written: string | undefined,
  fallback: number,
  least: number,
  most: number,
): number {
  if (written === undefined) return fallback;
  const number = /^\s*\d+\s*$/.test(written) ? Number(written) : Number.NaN;
  if (number >= least && number <= most) return number;
  throw wrongOption(place, `found "${written}"; wanted a whole number from ${least} to ${most}`);
}

const VARY = ["cutter", "stepover", "depth"] as const;

function varyOf(written: string | undefined): Vary[] | null {
  if (written === undefined) return null;
  const names = written.split(",").map((name) => name.trim());
  const wrong = names.find((name) => !(VARY as readonly string[]).includes(name));
  if (wrong !== undefined)
    throw wrongOption("--compare", `found "${wrong}"; wanted one or more of ${VARY.join(",")}`);
  return names as Vary[];
}

/** The day so many days from now, as people here write it. */
function dayIn(days: number): string {
  const day = new Date();
  day.setDate(day.getDate() + days);
  return new Intl.DateTimeFormat(undefined, { dateStyle: "long" }).format(day);
}

function wrongOption(place: string, text: string): InputError {
  return new InputError([{ file: "command line", place, line: 0, column: 0, text }]);
}
