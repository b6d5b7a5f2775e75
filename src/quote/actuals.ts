// What the machine really took: the lines of actuals.csv, and what they say of the next job. A line is one run
// of one setup. Files may come back from a spreadsheet with other separators, so reading is generous; what
// cannot be understood is left out and told. Nothing here changes a program.

/** One run of one setup, as planned and as it was. */
export interface Actual {
  /** ISO day, as 2026-03-09; "" where the file has no such day. */
  readonly date: string;
  readonly job: string;
  readonly setup: string;
  readonly cutter: string;
  readonly plannedMinutes: number;
  readonly actualMinutes: number;
}

// The file ------------------------------------------------------------------------------------

/** How the file begins: spreadsheets take a file for UTF-8 by its mark. */
export const ACTUALS_BEGIN = "\ufeffdate,job,setup,cutter,planned minutes,actual minutes\n";
const COLUMNS = 6;
const NAME_MAX = 120;
/** What a line that was cut off is closed with: one column more or no number, so that no reader takes it for a run. */
const CUT_OFF = "cut off";

/** The run as a line of the file, its end included. */
export function actualLine({ date, job, setup, cutter, plannedMinutes, actualMinutes }: Actual): string {
  const names = [job, setup, cutter].map(nameField);
  return `${[date, ...names, minutesField(plannedMinutes), minutesField(actualMinutes)].join(",")}\n`;
}

/**
 * What must be written before the next line, given how the file ends now: nothing after a line end; else what
 * was cut off is closed and made void, for a number may have lost its last digits.
 */
export function mendingOf(tail: string): string {
  const last = tail.slice(tail.lastIndexOf("\n") + 1);
  if (last === "" || last === "\ufeff") return "";
  const open = last.split('"').length % 2 === 0;
  return `${open ? '"' : ""},${CUT_OFF}\n`;
}

/** The runs in the file's text, and what was left out, one sentence a line. */
export function readActuals(text: string): { runs: Actual[]; notes: string[] } {
  const runs: Actual[] = [];
  const notes: string[] = [];
  const lines = text.replace(/^\ufeff/, "").split("\n");
  let separator = ",";
  lines.forEach((raw, index) => {
    const line = raw.replace(/\r$/, "");
    if (line.trim() === "" || line === `,${CUT_OFF}`) return;
    if (/planned minutes/.test(line)) {
      separator = /[;\t]/.exec(line)?.[0] ?? ",";
      return;
    }
    const told = (what: string) => void notes.push(`line ${index + 1} ${what}, and is left out`);
    if (index === lines.length - 1) {
      told("has no line end, so a number in it may have lost digits");
      return;
    }
    const fields = fieldsOf(line, separator);
    if (fields.at(-1)?.trim() === CUT_OFF) told("was cut off when it was written");
    else if (fields.length !== COLUMNS) told(`has ${fields.length} columns instead of ${COLUMNS}`);
    else {
      const run = runOf(fields, separator);
      if (run === null) told("has no minutes above 0 in its last two columns");
      else runs.push(run);
    }
  });
  return { runs, notes };
}

function runOf(fields: readonly string[], separator: string): Actual | null {
  const [date, job, setup, cutter] = fields.map((field) => unguarded(field));
  const [plannedMinutes, actualMinutes] = fields.slice(4).map((field) => {
    // Where commas do not part columns, a spreadsheet may have made them the decimal sign.
    return Number((separator === "," ? field : field.replace(",", ".")).trim() || Number.NaN);
  });
  const sound = (minutes: number) => minutes > 0 && Number.isFinite(minutes);
  if (!sound(plannedMinutes) || !sound(actualMinutes)) return null;
  const day = /^\d{4}-\d\d-\d\d$/.test(date.trim()) ? date.trim() : "";
  return { date: day, job, setup, cutter, plannedMinutes, actualMinutes };
}

/** What a spreadsheet would run as a formula (also in the wide forms of East Asian keyboards). */
const FORMULA = /^'*\s*[=+\-@＝＋－＠]/;

/** A name as one field: nothing in it begins a formula, parts columns or ends a line. */
function nameField(name: string): string {
  // Semicolons and tabs part columns in other spreadsheets, quotes or not.
  const plain = name.replace(/[\p{Cc}\p{Cf}\p{Zl}\p{Zp};]/gu, " ").slice(0, NAME_MAX);
  const safe = FORMULA.test(plain) ? `'${plain}` : plain;
  return /[",]|^\s|\s$/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

function unguarded(field: string): string {
  return field.startsWith("'") && FORMULA.test(field) ? field.slice(1) : field;
}

function minutesField(minutes: number): string {
  return String(Number(minutes.toFixed(2)));
}

/** The fields of one line; a field in double quotes may hold the separator, and a doubled quote is one. */
function fieldsOf(line: string, separator: string): string[] {
  const fields: string[] = [];
  let at = 0;
  while (true) {
    if (line[at] === '"') {
      let field = "";
      for (at++; at < line.length; at++) {
        if (line[at] !== '"') field += line[at];
        else if (line[at + 1] === '"') field += line[at++];
        else break;
      }
      const next = line.indexOf(separator, at);
      fields.push(field + line.slice(at + 1, next < 0 ? line.length : next));
      if (next < 0) return fields;
      at = next + 1;
    } else {
      const next = line.indexOf(separator, at);
      fields.push(line.slice(at, next < 0 ? line.length : next));
      if (next < 0) return fields;
      at = next + 1;
    }
  }
}

// What it says ----------------------------------------------------------------------------------

/** How the machine has kept to its plans, and what to expect of the next one. */
export interface MachineRatio {
  /** So many runs count, and so many are so far from their plan that they do not. */
  readonly runs: number;
  readonly leftOut: number;
  readonly jobs: number;
  /** The first day on record; "" where none is known. */
  readonly since: string;
  /** Actual over planned minutes: the median, weighted by planned minutes, and its spread; 1 and 0 of no runs. */
  readonly median: number;
  readonly spread: number;
  /** What to reckon with: median and spread drawn towards what is thought of a machine without any runs. */
  readonly expected: number;
  readonly expectedSpread: number;
}

/**
 * A machine of which nothing is known is taken to keep to its plan within a tenth (standard deviation), and that
 * counts like three runs. Common practice, no source.
 */
const UNKNOWN = { ratio: 1, spread: 0.1, runs: 3 };

/** 1.4826 median deviations are a standard deviation where deviations are normal. */
const NORMAL = 1.4826;

/** A run as far from its plan as this is a slip, or was broken off, until others say the same. Common practice, no source. */
const ODD_RATIO = 3;
const ODD_RUNS = 3;

/** Whether a run is too far from its plan to be believed by itself. */
export function isOdd({ plannedMinutes, actualMinutes }: Actual): boolean {
  const ratio = actualMinutes / plannedMinutes;
  return ratio > ODD_RATIO || ratio < 1 / ODD_RATIO;
}

/** The runs that count: odd ones only where they are three at least, and more than the others. */
function counting(recorded: readonly Actual[]): readonly Actual[] {
  const usual = recorded.filter((run) => !isOdd(run));
  const odd = recorded.length - usual.length;
  return odd >= ODD_RUNS && odd > usual.length ? recorded : usual;
}

/**
 * The ratio that recorded runs show, hardly moved by a run that went wrong or a slip of the pen: a weighted median
 * with a weighted median deviation. `expected` is (3 * 1 + n * median) / (3 + n) of n runs; its spread is that of
 * the variances, weighted alike.
 */
export function machineRatio(recorded: readonly Actual[]): MachineRatio {
  const runs = counting(recorded);
  const days = runs.map(({ date }) => date).filter((date) => date !== "");
  const found = {
    ...{ runs: runs.length, leftOut: recorded.length - runs.length },
    jobs: new Set(runs.map(({ job }) => job)).size,
    since: days.sort()[0] ?? "",
  };
  if (runs.length === 0)
    return { ...found, median: 1, spread: 0, expected: UNKNOWN.ratio, expectedSpread: UNKNOWN.spread };
  const weights = runs.map(({ plannedMinutes }) => plannedMinutes);
  const ratios = runs.map(({ plannedMinutes, actualMinutes }) => actualMinutes / plannedMinutes);
  const median = weightedMedian(ratios, weights);
  const off = ratios.map((ratio) => Math.abs(ratio - median));
  const spread = NORMAL * weightedMedian(off, weights);
  const n = runs.length;
  const all = n + UNKNOWN.runs;
  return {
    ...found,
    ...{ median, spread },
    expected: (UNKNOWN.runs * UNKNOWN.ratio + n * median) / all,
    expectedSpread: Math.sqrt((UNKNOWN.runs * UNKNOWN.spread ** 2 + n * spread ** 2) / all),
  };
}

/** The value with half of the weight on either side; the middle between two where the halves part there. */
export function weightedMedian(values: readonly number[], weights: readonly number[]): number {
  const order = values.map((value, k) => ({ value, weight: weights[k] })).sort((a, b) => a.value - b.value);
  const half = order.reduce((sum, { weight }) => sum + weight, 0) / 2;
  let below = 0;
  for (const [k, { value, weight }] of order.entries()) {
    below += weight;
    const parts = Math.abs(below - half) <= 1e-12 * half;
    if (parts && k + 1 < order.length) return (value + order[k + 1].value) / 2;
    if (below >= half || parts) return value;
  }
  return Number.NaN;
}
