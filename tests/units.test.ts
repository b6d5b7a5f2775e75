import fc from "fast-check";
import { describe, expect, test } from "vitest";
import {
  degrees,
  formatArea,
  formatFeed,
  formatLength,
  formatMass,
  formatPoint,
  formatVolume,
  inUnits,
  MM_PER_INCH,
  parseFeed,
  parseLength,
  radians,
  type Units,
} from "../src/units.ts";

const SEED = 20_260_101;
const units = fc.constantFrom<Units>("mm", "in");
const plain = { noNaN: true, noDefaultInfinity: true };

describe("lengths", () => {
  // By hand, 25.4 mm an inch and 304.8 mm a foot (16 CFR 500.19).
  test.each([
    ["57 mm", 57],
    ["57mm", 57],
    [" 57 mm ", 57],
    ["-0.5 mm", -0.5],
    [".5 mm", 0.5],
    ["12 cm", 120],
    ["1.2 m", 1200],
    ["2.25 in", 57.15],
    ["2 1/4 in", 57.15],
    ['2 1/4"', 57.15],
    ['1/16"', 1.5875],
    ["5/4 in", 31.75],
    ["8 ft", 2438.4],
    ["8'", 2438.4],
    ["8' 2 1/2\"", 2501.9],
    ["8'2.5\"", 2501.9],
    ["8 ft 2 1/2 in", 2501.9],
    ["8' 1/2\"", 2451.1],
    ["-8' 2\"", -2489.2],
    ["0 mm", 0],
    ["-0 mm", 0],
  ])("%s is %f mm, whatever the file's unit", (text, mm) => {
    expect(parseLength(text, "mm")).toBeCloseTo(mm, 9);
    expect(parseLength(text, "in")).toBe(parseLength(text, "mm"));
  });

  test.each([
    "",
    " ",
    "57",
    "mm",
    "57 mn",
    "57 mm or so",
    "57,5 mm",
    "1,200 mm",
    "1e3 mm",
    "+5 mm",
    "- 5 mm",
    "5. mm",
    "0x10 mm",
    "Infinity mm",
    "NaN mm",
    "1/0 in",
    "0/0 in",
    "2 5/4 in",
    "2.5 1/4 in",
    "1/2 mm",
    "2 -1/4 in",
    "8' 2",
    '8 2"',
    "8.5' 2\"",
    "57 mm 57 mm",
    "57\nmm",
    "5７ mm",
    `${"9".repeat(400)} mm`,
    `1/${"9".repeat(20)}${" ".repeat(60)} in`,
  ])("%j is no length", (text) => {
    expect(parseLength(text, "mm")).toBeNull();
  });

  test("a number is in the file's unit, and inches are not off in the last digit", () => {
    expect(parseLength(57, "mm")).toBe(57);
    expect(parseLength(24, "in")).toBe(609.6);
    expect(parseLength(2.25, "in")).toBe(57.15);
    expect(MM_PER_INCH).toBe(25.4);
  });

  test(`any number or text gives a finite length or null, seed ${SEED}`, () => {
    const parts = fc.constantFrom(
      "8",
      "2",
      "1/4",
      " ",
      ".",
      "-",
      "'",
      '"',
      "in",
      "ft",
      "mm",
      "cm",
      "m",
      "/",
      "0",
    );
    const text = fc.oneof(
      fc.string(),
      fc.array(parts, { maxLength: 8 }).map((some) => some.join("")),
    );
    fc.assert(
      fc.property(fc.oneof(fc.double(), text), units, (written, unit) => {
        const mm = parseLength(written, unit);
        expect(mm === null || (Number.isFinite(mm) && !Object.is(mm, -0))).toBe(true);
      }),
      { seed: SEED, numRuns: 2000 },
    );
  });

  test(`a whole number of 64ths reads the same as fraction and as decimal, seed ${SEED}`, () => {
    fc.assert(
      fc.property(fc.nat(100), fc.integer({ min: 1, max: 63 }), (whole, over) => {
        const fraction = parseLength(`${whole} ${over}/64 in`, "mm");
        expect(fraction).toBe(parseLength(`${whole + over / 64} in`, "mm"));
        expect(fraction).toBe(parseLength(whole + over / 64, "in"));
      }),
      { seed: SEED },
    );
  });

  test(`what is formatted reads back to its last digit, seed ${SEED}`, () => {
    fc.assert(
      fc.property(fc.double({ ...plain, min: -1e5, max: 1e5 }), units, (mm, unit) => {
        const back = parseLength(formatLength(mm, unit), "mm") as number;
        expect(Math.abs(back - mm)).toBeLessThanOrEqual(unit === "in" ? 0.00005 * 25.4 + 1e-9 : 0.005 + 1e-9);
      }),
      { seed: SEED, numRuns: 1000 },
    );
  });

  test("lengths are formatted with sensible decimals, without trailing zeros, exponents or -0", () => {
    expect(formatLength(57.15, "mm")).toBe("57.15 mm");
    expect(formatLength(57.15, "in")).toBe("2.25 in");
    expect(formatLength(70, "mm")).toBe("70 mm");
    expect(formatLength(100, "mm")).toBe("100 mm");
    expect(formatLength(0.0254, "mm")).toBe("0.025 mm");
    expect(formatLength(0.0254, "in")).toBe("0.001 in");
    expect(formatLength(-0.00001, "mm")).toBe("0 mm");
    expect(formatLength(1e5, "mm")).toBe("100000 mm");
    expect(formatPoint(1200, 34.5, "mm")).toBe("(1200, 34.5) mm");
    expect(formatPoint(25.4, -12.7, "in")).toBe("(1, -0.5) in");
    expect(formatPoint(100, 1 / 3, "in")).toBe("(3.937, 0.013) in");
  });

  // 1 sq ft is 929.0304 cm2, 1 US gallon 3.785411784 litres, 1 pound 0.45359237 kg: NIST Handbook 44, appendix C.
  test("areas, volumes and masses are told in the units of the workshop", () => {
    expect(formatArea(3050, "mm")).toBe("30.5 cm2");
    expect(formatArea(163_000, "mm")).toBe("0.16 m2");
    expect(formatArea(64_516, "in")).toBe("100 sq in");
    expect(formatArea(92_903.04, "in")).toBe("1.00 sq ft");
    expect(formatVolume(3.44, "mm")).toBe("3.4 litres");
    expect(formatVolume(3.785411784 * 2.5, "in")).toBe("2.5 gallons");
    expect(formatVolume(3.785411784 / 4, "in")).toBe("1.0 quarts");
    expect(formatMass(10, "mm")).toBe("10.0 kg");
    expect(formatMass(45.359237, "in")).toBe("100.0 lb");
  });

  test(`from mm to a unit and back is no change, seed ${SEED}`, () => {
    fc.assert(
      fc.property(fc.double({ ...plain, min: -1e5, max: 1e5 }), units, (mm, unit) => {
        expect(parseLength(inUnits(mm, unit), unit)).toBeCloseTo(mm, 9);
      }),
      { seed: SEED },
    );
  });
});

describe("feeds", () => {
  test.each([
    ["6 m/min", 6000],
    ["6000 mm/min", 6000],
    ["236 in/min", 5994.4],
    ["100 mm/s", 6000],
    ["20 ft/min", 6096],
  ])("%s is %f mm/min, whatever the file's unit", (text, mmPerMin) => {
    expect(parseFeed(text, "mm")).toBeCloseTo(mmPerMin, 9);
    expect(parseFeed(text, "in")).toBe(parseFeed(text, "mm"));
  });

  test.each(["", "6000", "6 m", "6 m/h", "-6 m/min", "6 m / min", "6 m/min/min", "1e4 mm/min", "advise"])(
    "%j is no feed",
    (text) => {
      expect(parseFeed(text, "mm")).toBeNull();
    },
  );

  test("a number is in the file's unit a minute", () => {
    expect(parseFeed(6000, "mm")).toBe(6000);
    expect(parseFeed(240, "in")).toBe(6096);
    expect(parseFeed(Number.POSITIVE_INFINITY, "in")).toBeNull();
    expect(parseFeed(Number.NaN, "mm")).toBeNull();
  });

  test("feeds are formatted whole in mm, to a tenth in inches", () => {
    expect(formatFeed(6000, "mm")).toBe("6000 mm/min");
    expect(formatFeed(6000, "in")).toBe("236.2 in/min");
    expect(formatFeed(5994.4, "in")).toBe("236 in/min");
  });
});

test("angles turn between degrees and radians", () => {
  expect(radians(180)).toBe(Math.PI);
  expect(degrees(radians(37))).toBeCloseTo(37, 12);
});
