// Lengths, feeds and angles, areas, volumes and masses: text <-> millimetres, mm/min, radians. A number is in the file's own
// unit; text carries its unit and may be a tape reading (8' 2 1/2"). An inch is 25.4 mm exactly
// (16 CFR 500.19). Knows nothing of files: what cannot be read is null, never NaN or Infinity.

export type Units = "mm" | "in";

export const MM_PER_INCH = 25.4;

/** What a length may look like other than a bare number, for texts. */
export const LENGTH_FORMS = `text with its unit such as "57 mm", "12 cm", "1.2 m", "2.25 in", "2 1/4 in", "8' 2 1/2\\"" or "8 ft"`;

/** What a feed may look like other than a bare number, for texts. */
export const FEED_FORMS = `text with its unit such as "6 m/min", "6000 mm/min", "100 mm/s" or "236 in/min"`;

/** So many mm for so many of the unit, in whole numbers: 24 * 25.4 is not 609.6 in floating point, 24 * 254 / 10 is. */
const RATIOS: Readonly<Record<string, readonly [mm: number, units: number]>> = {
  mm: [1, 1],
  cm: [10, 1],
  m: [1000, 1],
  in: [254, 10],
  '"': [254, 10],
  ft: [3048, 10],
  "'": [3048, 10],
};

const DECIMAL = String.raw`\d+(?:\.\d+)?|\.\d+`;
const FRACTION = String.raw`(?:(\d+) +)?(\d+)/(\d+)`;
const METRIC = new RegExp(`^(-?)(${DECIMAL}) *(mm|cm|m)$`);
const INCHES = new RegExp(`^(-?)(?:(${DECIMAL})|${FRACTION}) *(in|"|ft|')$`);
const FEET_AND_INCHES = new RegExp(`^(-?)(\\d+) *(?:'|ft) *(?:(${DECIMAL})|${FRACTION}) *(?:"|in)$`);
const FEED = new RegExp(`^(${DECIMAL}) *(mm|cm|m|in|ft)/(min|s)$`);

const body = ({ source }: RegExp) => source.slice(1, -1);

/** Texts that may be lengths, and those without a minus; texts that may be feeds. For JSON Schemas. */
export const LENGTH_PATTERN = `^\\s*(?:${[METRIC, INCHES, FEET_AND_INCHES].map(body).join("|")})\\s*$`;
export const SIZE_PATTERN = LENGTH_PATTERN.replaceAll("(-?)", "");
export const FEED_PATTERN = `^\\s*${body(FEED)}\\s*$`;

/** A length in mm, from a number in `units` or text with its own unit; null where it is neither. */
export function parseLength(written: number | string, units: Units): number | null {
  if (typeof written === "number") return inMm(written, units);
  // Nothing that long is a length, and no expression here need look at it.
  if (written.length > 60) return null;
  const text = written.trim();

  const metric = METRIC.exec(text);
  if (metric) return inMm(sign(metric[1]) * Number(metric[2]), metric[3]);

  const inches = INCHES.exec(text);
  if (inches) {
    const count = decimalOrFraction(inches[2], inches[3], inches[4], inches[5]);
    return inMm(sign(inches[1]) * count, inches[6]);
  }

  const tape = FEET_AND_INCHES.exec(text);
  if (tape) {
    const count = decimalOrFraction(tape[3], tape[4], tape[5], tape[6]);
    return inMm(sign(tape[1]) * (12 * Number(tape[2]) + count), "in");
  }
  return null;
}

/** A feed in mm/min, from a number in `units` per minute or text with its own unit; null where it is neither. */
export function parseFeed(written: number | string, units: Units): number | null {
  if (typeof written === "number") return inMm(written, units);
  const feed = written.length > 60 ? null : FEED.exec(written.trim());
  if (!feed) return null;
  return inMm(Number(feed[1]) * (feed[3] === "s" ? 60 : 1), feed[2]);
}

/** The unit as a word in a sentence: "in inches". */
export function unitWord(units: Units): string {
  return units === "mm" ? "mm" : "inches";
}

/** A length in mm as a number in `units`, not rounded. */
export function inUnits(mm: number, units: Units): number {
  const [perMm, perUnit] = RATIOS[units];
  return (mm * perUnit) / perMm;
}

/** A length for people: `"57.15 mm"`, `"2.25 in"`; to 0.01 mm (0.001 mm below 1 mm) or 0.0001 in. */
export function formatLength(mm: number, units: Units): string {
  return `${lengthDigits(mm, units)} ${units}`;
}

/** A feed for people: `"6000 mm/min"`, `"236.2 in/min"`. */
export function formatFeed(mmPerMin: number, units: Units): string {
  return `${plain(inUnits(mmPerMin, units), units === "mm" ? 0 : 1)} ${units}/min`;
}

/** A place for people: `"(1200, 34.5) mm"`, `"(47.25, 1.375) in"`; to 0.01 mm or 0.001 in. */
export function formatPoint(xMm: number, yMm: number, units: Units): string {
  const digits = (mm: number) => plain(inUnits(mm, units), units === "mm" ? 2 : 3);
  return `(${digits(xMm)}, ${digits(yMm)}) ${units}`;
}

const MM2_PER_SQUARE_INCH = MM_PER_INCH ** 2;
const SQUARE_INCHES_PER_FOOT = 144;

/** An area for people: `"30.5 cm2"`, `"0.16 m2"`, `"13.2 sq in"`, `"1.72 sq ft"`. */
export function formatArea(mm2: number, units: Units): string {
  const [small, large, per, name, largeName] =
    units === "mm"
      ? [mm2 / 100, mm2 / 1e6, 1000, "cm2", "m2"]
      : [
          mm2 / MM2_PER_SQUARE_INCH,
          mm2 / MM2_PER_SQUARE_INCH / SQUARE_INCHES_PER_FOOT,
          SQUARE_INCHES_PER_FOOT,
          "sq in",
          "sq ft",
        ];
  if (small >= per) return `${large.toFixed(2)} ${largeName}`;
  return `${small.toFixed(small < 100 ? 1 : 0)} ${name}`;
}

/** The gallon of the United States is 231 cubic inches, and four quarts: NIST Handbook 44, appendix C. */
const LITRES_PER_GALLON = (231 * MM_PER_INCH ** 3) / 1e6;

/** A volume for people: `"3.4 litres"`, `"3.6 quarts"`, `"1.2 gallons"`. */
export function formatVolume(litres: number, units: Units, decimals = 1): string {
  if (units === "mm") return `${litres.toFixed(decimals)} litres`;
  const gallons = litres / LITRES_PER_GALLON;
  return gallons < 1 ? `${(4 * gallons).toFixed(decimals)} quarts` : `${gallons.toFixed(decimals)} gallons`;
}

/** The pound avoirdupois is exactly this: NIST Handbook 44, appendix C. */
const KG_PER_POUND = 0.45359237;

/** A mass for people: `"23.4 kg"`, `"51.6 lb"`. */
export function formatMass(kg: number, units: Units): string {
  return units === "mm" ? `${kg.toFixed(1)} kg` : `${(kg / KG_PER_POUND).toFixed(1)} lb`;
}

export function radians(degrees: number): number {
  return (degrees * Math.PI) / 180;
}

export function degrees(rad: number): number {
  return (rad * 180) / Math.PI;
}

function lengthDigits(mm: number, units: Units): string {
  if (units === "in") return plain(inUnits(mm, "in"), 4);
  return plain(mm, Math.abs(mm) < 1 ? 3 : 2);
}

/** Fixed decimals without trailing zeros, exponents or `-0`. */
function plain(value: number, decimals: number): string {
  const fixed = value.toFixed(decimals);
  const short = fixed.includes(".") ? fixed.replace(/\.?0+$/, "") : fixed;
  return short === "-0" ? "0" : short;
}

function sign(minus: string): number {
  return minus === "-" ? -1 : 1;
}

/** NaN where the fraction is none: no denominator, or a whole number beside more than a whole ("2 5/4"). */
function decimalOrFraction(decimal?: string, whole?: string, over?: string, under?: string): number {
  if (decimal !== undefined) return Number(decimal);
  const share = Number(over) / Number(under);
  if (whole === undefined) return share;
  return share < 1 ? Number(whole) + share : Number.NaN;
}

/** Null instead of NaN and Infinity, 0 instead of -0. */
function inMm(count: number, unit: string): number | null {
  const [mm, units] = RATIOS[unit];
  const value = (count * mm) / units;
  return Number.isFinite(value) ? value + 0 : null;
}
