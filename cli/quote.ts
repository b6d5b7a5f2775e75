// `slabtrue quote`: hours and price before or after a slab is measured, from sizes or from a job.

import { InputError, PlanError } from "../src/errors.ts";
import type { Cutter, Job, Setup, Shop } from "../src/job/job.ts";
import { readShop } from "../src/job/read.ts";
import { SIZE_MM } from "../src/job/slips.ts";
import type { MachineRatio } from "../src/quote/actuals.ts";
import { type Task, unmeasured } from "../src/quote/draws.ts";
import { isQuotePage, quotePage } from "../src/quote/page.ts";
import { type Quote, quoteDocument, quoteOf, type Rates } from "../src/quote/quote.ts";
import {
  bindingLimits,
  type Settings,
  settingsToCompare,
  tooDeepToCompare,
  type Vary,
  withSettings,
} from "../src/quote/settings.ts";
import { jobFromSizes } from "../src/quote/sizes.ts";
import { assumptionsOf, narrowedText, stepsOf } from "../src/quote/words.ts";
import { formatFeed, formatLength, LENGTH_FORMS, parseLength, type Units, unitWord } from "../src/units.ts";
import { ratioLines } from "./actual.ts";
import { ratioBeside } from "./actuals-file.ts";
import { host, inputError, readJobFile, readText, reason } from "./files.ts";
import { writeOut } from "./out-file.ts";
import { drawAll } from "./quote-pool.ts";
import { type Compared, compareDocument, compareLines, moneyIn, quoteLines } from "./quote-report.ts";
import { printJson, printLines, printMessages, wrapped } from "./terminal.ts";

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
/** What readings are worth is told to the nearest percent or two. */
const DRAWS_UNMEASURED = 100;
/** Settings are compared on the same tables, so few tell which is better. */
const DRAWS_COMPARED = 20;

export async function quote(jobFile: string | undefined, options: QuoteOptions): Promise<void> {
  const job = jobFile === undefined ? jobOfSizes(options) : jobOfFile(jobFile, options);
  if (jobFile === undefined) printMessages(bareText(options, job));
  const { rates } = job.shop.quoting;
  if (rates === null)
    throw inputError(
      job.shopFile,
      `has no "rates", and a price needs them: currency, machineHour, labourHour and minutes`,
    );
  const seed = wholeNumber("--seed", options.seed, 1, 0, 2 ** 32 - 1);
  const count = wholeNumber("--invent", options.invent, DRAWS, 10, DRAWS_MAX);
  const vary = varyOf(options.compare);
  if (vary !== null && options.html !== undefined)
    throw wrongOption("--html", "found beside --compare; a page is of one quote: ask for one of the two");
  const ratio = ratioBeside(job.shopFile);
  const task: Task = {
    job,
    seed,
    ratio: { expected: ratio.expected, expectedSpread: ratio.expectedSpread },
  };
  if (vary !== null) await compare(task, vary, rates, options);
  else await quoteOne(task, count, rates, ratio, options);
}

async function quoteOne(
  task: Task,
  count: number,
  rates: Rates,
  ratio: MachineRatio,
  options: QuoteOptions,
): Promise<void> {
  const { job } = task;
  const { html, json } = options;
  const bare = unmeasured(job);
  const found = await drawn(task, count, rates, "tables invented");
  const fewer = Math.min(count, DRAWS_UNMEASURED);
  const before =
    bare && (await drawn({ ...task, job: bare }, fewer, rates, "tables invented as if unmeasured"));
  const narrowed = before === null ? "" : narrowedText(before.hours, found.hours);
  const assumptions = [
    ...(options.length === undefined ? [] : riverText(job)),
    ...assumptionsOf(job, ratio, found.pushes),
  ];
  const advised = options.length === undefined ? [] : [advisedText(job)];
  const notes = [...advised, ...(narrowed === "" ? [] : [narrowed]), ...ratioLines(ratio)];
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
  else printLines(quoteLines(found, job, assumptions, notes));
}

async function compare(
  task: Task,
  vary: readonly Vary[],
  rates: Rates,
  { json, length }: QuoteOptions,
): Promise<void> {
  const fromSizes = length !== undefined;
  const { job } = task;
  const [{ cutter, passes }] = job.setups;
  const now = { cutter, depthMm: passes.depthMm, stepoverShare: passes.stepoverShare };
  const settings = settingsToCompare(now, vary, job.shop, job.units);
  // A job has feeds of its own; that of sizes is one of those compared.
  const jobs = settings.map((one) => ({
    job: withSettings(job, one),
    asIs: fromSizes && alike(one, now),
  }));
  if (!fromSizes) jobs.unshift({ job, asIs: true });
  const tell = counting("settings", jobs.length);
  const compared: Compared[] = [];
  const refused: Refused[] = [];
  const leftOut = tooDeepToCompare(now, vary, job.shop, job.units);
  for (const [k, { job, asIs }] of jobs.entries()) {
    const [setup] = job.setups;
    const limits = bindingLimits(setup, job.shop, fromSizes || !asIs);
    try {
      const draws = await drawAll({ ...task, job }, DRAWS_COMPARED, () => {});
      compared.push({ setup, quote: quoteOf(job, rates, task.seed, draws), limits, asIs });
    } catch (error) {
      // A large cutter may need more travel than there is; the others do not.
      if (!(error instanceof PlanError)) throw error;
      refused.push({ setup, error });
    }
    tell(k + 1);
  }
  if (compared.length === 0) {
    printMessages(leftOut.flatMap((text) => wrapped("Left out: ", text)));
    throw refused[0].error;
  }
  leftOut.push(...refusedTexts(refused, job.units));
  compared.sort((a, b) => a.quote.price.likely - b.quote.price.likely);
  if (json) printJson(compareDocument(compared, job, leftOut));
  else printLines(compareLines(compared, job, DRAWS_COMPARED, leftOut));
}

interface Refused {
  readonly setup: Setup;
  readonly error: PlanError;
}

/** Which settings cannot be planned: of each kind of reason the first, and how many more there are. */
function refusedTexts(refused: readonly Refused[], units: Units): string[] {
  const kinds = new Map<string, Refused[]>();
  for (const one of refused) {
    const kind = `${one.setup.cutter.id} ${one.error.code}`;
    kinds.set(kind, [...(kinds.get(kind) ?? []), one]);
  }
  return [...kinds.values()].map(([{ setup, error }, ...more]) => {
    const { cutter, passes } = setup;
    const at = `${formatLength(passes.depthMm, units)}, stepover ${passes.stepoverShare}`;
    return `cutter ${cutter.id} at ${at}${more.length === 0 ? "" : ` and ${more.length} more like it`}: ${error.message}`;
  });
}

function alike(a: Settings, b: Settings): boolean {
  return a.cutter.id === b.cutter.id && a.depthMm === b.depthMm && a.stepoverShare === b.stepoverShare;
}

/** Draws and quotes, with the count on stderr. */
async function drawn(task: Task, count: number, rates: Rates, what: string): Promise<Quote> {
  return quoteOf(task.job, rates, task.seed, await drawAll(task, count, counting(what, count)));
}

/** Tells how many are done on stderr, from a second on and ever more seldom. */
function counting(what: string, count: number): (done: number) => void {
  const start = performance.now();
  let nextMs = 1000;
  return (done) => {
    const ms = performance.now() - start;
    if (ms < nextMs || done === count) return;
    printMessages([`${done} of ${count} ${what}`]);
    nextMs = ms + Math.max(2000, ms / 2);
  };
}

/** Sizes without a unit are read in the shop's: said, for a 96 may be meant in inches. */
function bareText(options: QuoteOptions, { units }: Job): string[] {
  const bare = ([...SIZES, "shell"] as const).filter((name) => BARE.test(options[name] ?? ""));
  if (bare.length === 0) return [];
  const named = bare.map((name) => `--${name} ${options[name]?.trim()}`).join(", ");
  const [first] = bare;
  const text =
    `read in ${unitWord(units)}, the unit of the shop file, as no unit stands beside: ${named}. ` +
    `To be sure write it: --${first} "${options[first]?.trim()} ${units}".`;
  return wrapped("Mind: ", text);
}

/** From sizes alone nobody has said how fast the machine goes. */
function advisedText({ setups: [{ passes, cutter }], units }: Job): string {
  return (
    `The hours are counted at a feed of ${formatFeed(passes.feedMmPerMin, units)} and ${passes.speed} rev/min, advised as ` +
    `the most that cutter ${cutter.id}, spindle and axes bear; at your own feeds it may take longer. To have it counted ` +
    `at yours, write "feed" and "speed" in the "passes" of a job file, and ask slabtrue quote JOB.`
  );
}

/** How wide the river of a table made from sizes is taken to be. */
function riverText({ pieces, shop }: Job): string[] {
  const slabs = pieces.at(-1)?.madeOf.length ?? 0;
  const percent = Math.round(100 * shop.quoting.riverShare);
  return slabs < 2 ? [] : [`Resin between the slabs makes up ${percent} % of the width.`];
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
  const size = (name: (typeof SIZES)[number]) =>
    lengthOf(`--${name}`, options[name] ?? "", shop, ...RANGES_MM[name]);
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
  const shellMm =
    options.shell === undefined ? 0 : lengthOf("--shell", options.shell, shop, 0, SIZE_MM.thickest);
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

const BARE = /^\s*\d+(\.\d+)?\s*$/;

/** No table is shorter or longer, no slab thicker; thinner ones bend away. Common practice, no source. */
const RANGES_MM: Readonly<Record<(typeof SIZES)[number], readonly [number, number]>> = {
  length: [SIZE_MM.least, SIZE_MM.longest],
  width: [20, SIZE_MM.longest],
  thickness: [5, SIZE_MM.thickest],
  finished: [2, SIZE_MM.thickest],
};

/** A length with its unit; a bare number is in the shop's. */
function lengthOf(place: string, written: string, { units }: Shop, leastMm: number, mostMm: number): number {
  const bare = BARE.test(written);
  const mm = parseLength(bare ? Number(written) : written, units);
  if (mm !== null && mm >= leastMm && mm <= mostMm) return mm;
  const range = `from ${formatLength(leastMm, units)} to ${formatLength(mostMm, units)}`;
  const read = bare ? `, read in ${unitWord(units)}` : "";
  throw wrongOption(
    place,
    `found "${written}"${read}; wanted a length ${range}: ${LENGTH_FORMS}, or a number in ${unitWord(units)}`,
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
