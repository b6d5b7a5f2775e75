import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { readCsv } from "../../src/job/csv.ts";
import type { Units } from "../../src/units.ts";

const SEED = 20_260_103;

function xyz(text: string, units: Units = "mm"): number[] {
  const { readings, issues } = readCsv(text, "face.csv", units);
  expect(issues).toEqual([]);
  if (readings?.kind !== "points") throw new Error("no points");
  return [...readings.xyz];
}

const refused = (text: string, units: Units = "mm") => {
  const { readings, issues } = readCsv(text, "face.csv", units);
  expect(readings).toBeNull();
  return issues.map(({ file, place, line, column, text: says }) => {
    expect([file, place]).toEqual(["face.csv", ""]);
    return `${line}:${column}: ${says}`;
  });
};

const READ = [0, 0, 50.5, 900, 0, 51, 0, 300, 49];

describe("what is read", () => {
  test.each([
    ["commas", "0,0,50.5\n900,0,51\n0,300,49"],
    ["commas and blanks", "0, 0, 50.5\n900, 0, 51\n0, 300, 49\n"],
    ["semicolons", "0;0;50.5\n900;0;51\n0;300;49"],
    ["semicolons with decimal commas", "0;0;50,5\n900;0;51,0\n0;300;49,"],
    ["tabs with decimal commas", "0\t0\t50,5\n900\t0\t51\n0\t300\t49"],
    ["blanks", "0 0 50.5\n  900   0 51\n0 300 49  "],
    ["blanks with decimal commas", "0,0 0,0 50,5\n900,0 0,0 51,0\n0,0 300,0 49,0"],
    ["a header", "x,y,z\n0,0,50.5\n900,0,51\n0,300,49"],
    ["a header with units", "X (mm);Y (mm);Z (mm)\n0;0;50.5\n900;0;51\n0;300;49"],
    ["a header in other words", '"Ost","Nord","Hoehe"\n0,0,50.5\n900,0,51\n0,300,49'],
    ["comments and empty lines", "# probed\n; twice\n\nx y z\n0 0 50.5\n # west\n900 0 51\n\n0 300 49\n;"],
    ["a byte-order mark and CRLF", "\uFEFFx,y,z\r\n0,0,50.5\r\n900,0,51\r\n0,300,49\r\n"],
    ["line ends of old", "0,0,50.5\r900,0,51\r0,300,49"],
    ["quotes round numbers", '"0","0","50.5"\n"900","0","51"\n\'0\',\'300\',\'49\''],
    ["exponents, signs and bare points", "+0,-0,5.05e1\n9E2,.0,51.\n0,300,4.9e+01"],
    ["units", "0 mm;0 mm;5.05 cm\n0.9 m;0;51\n0;300 mm;49 mm"],
    ["a reading given twice", "0,0,50.5\n900,0,51\n0,0,50.5\n0,300,49"],
  ])("%s", (_, text) => {
    expect(xyz(text)).toEqual(READ);
  });

  test("bare numbers are in the job's unit", () => {
    expect(xyz("0,0,2\n24,0,2.25\n0,12,2", "in")).toEqual([0, 0, 50.8, 609.6, 0, 57.15, 0, 304.8, 50.8]);
  });

  test(`readings survive being written with any separator, seed ${SEED}`, () => {
    const thousandths = fc.tuple(fc.nat(9e5), fc.nat(9e5), fc.integer({ min: 1, max: 1e6 }));
    const way = fc.constantFrom(
      [",", "."],
      [";", "."],
      [";", ","],
      ["\t", "."],
      ["\t", ","],
      [" ", "."],
      [" ", ","],
    );
    const end = fc.constantFrom("\n", "\r\n", "\r");
    fc.assert(
      fc.property(
        fc.array(thousandths, { minLength: 3, maxLength: 40 }),
        way,
        end,
        (some, [separator, point], eol) => {
          // Far enough apart not to be the same place, every other one aside: not all on one line.
          const rows = some.map(([x, y, z], k) => [1000 * k + x / 1000, (k % 2) * 5000 - y / 1000, z / 1000]);
          const line = (row: number[]) =>
            row.map((value) => value.toFixed(3).replace(".", point)).join(separator);
          expect(xyz(rows.map(line).join(eol))).toEqual(rows.flat().map((value) => Number(value.toFixed(3))));
        },
      ),
      { seed: SEED },
    );
  });
});

describe("what is refused", () => {
  const sound = "0,0,50\n900,0,51\n0,300,49\n";

  test.each([
    ["a column too few", `${sound}5,5`, '4:1: found 2 columns in "5,5"; wanted 3: x, y, z'],
    [
      "a column too many",
      `${sound}5,5,50,1`,
      '4:1: found 4 columns in "5,5,50,1"; wanted 3: x, y, z; a decimal comma? write a point',
    ],
    ["a word", `${sound}5,5,high`, '4:5: found "high" for z; wanted a number'],
    ["nothing", `${sound}5,,50`, '4:1: found "" for y; wanted a number'],
    ["two decimal marks", `${sound}5,5,5.0.1`, '4:5: found "5.0.1" for z; wanted a number'],
    ["NaN", `${sound}5,NaN,50`, '4:3: found "NaN" for y; wanted a number'],
    ["NaN in the first line", `NaN,NaN,NaN\n${sound}`, '1:1: found "NaN" for x; wanted a number'],
    ["infinity", `${sound}5,5,1e999`, '4:5: found "1e999" for z; wanted a number'],
    ["hexadecimal", `${sound}5,5,0x32`, '4:5: found "0x32" for z; wanted a number'],
    ["another separator half way", `${sound}5;5;50`, '4:1: found 1 column in "5;5;50"; wanted 3: x, y, z'],
    ["a second header", `${sound}x,y,z`, '4:1: found "x" for x; wanted a number'],
    [
      "below the bed",
      `${sound}5,5,-1`,
      '4:5: found "-1" for z; wanted a height above the bed, more than 0 and at most 1 m',
    ],
    [
      "on the bed",
      `${sound}5,5,0`,
      '4:5: found "0" for z; wanted a height above the bed, more than 0 and at most 1 m',
    ],
    [
      "higher than a slab",
      `${sound}5,5,1001`,
      '4:5: found "1001" for z; wanted a height above the bed, more than 0 and at most 1 m',
    ],
    [
      "beyond any bed",
      `${sound}200000,5,50`,
      '4:1: found "200000" for x; wanted a place within 100 m of the origin',
    ],
  ])("%s", (_, text, says) => {
    expect(refused(text)).toEqual([says]);
  });

  test("two heights at one place name both lines", () => {
    expect(refused(`# probe\n${sound}900,0,52.5`)).toEqual([
      "5:1: two heights at the same place (900, 0) mm: 52.5 mm here, 51 mm in line 3; keep the right one",
    ]);
  });

  test("too few readings, or all on one line, say what is needed", () => {
    expect(refused("")[0]).toMatch(/^0:0: found no reading; a face needs at least 3/);
    expect(refused("x,y,z\n")[0]).toMatch(/^0:0: found no reading/);
    expect(refused("5,5,50\n5,5,50\n")[0]).toMatch(/^0:0: found 1 reading; a face needs at least 3/);
    expect(refused("0,0,50\n100,100,50\n200,200.01,50\n300,300,51")[0]).toMatch(
      /^0:0: all 4 readings lie on one line; a face needs at least one reading beside it/,
    );
  });

  test("many mistakes are counted after the twentieth", () => {
    const found = refused(sound + "5,5,x\n".repeat(1000));
    expect(found).toHaveLength(21);
    expect(found[19]).toMatch(/^23:5: /);
    expect(found[20]).toBe("0:0: and 980 more mistakes in this file");
  });

  test("a file that is no CSV, or hostile, is quoted harmlessly", () => {
    const found = refused(`x,y,z\n<html>\n\u0000\u001b[2J\u009b1m${"A".repeat(900)}`).join();
    expect(found).toContain("\\u0000\\u001b[2J\\u009b1mAAA");
    expect(found.length).toBeLessThan(300);
    expect([...found].every((character) => character >= " " && character <= "~")).toBe(true);
  });

  test("a line that never ends is not taken apart", () => {
    expect(refused(`${sound}${"1 ".repeat(10_000_000)}`)).toEqual([
      "4:1: found a line of 19999999 characters; wanted 3 columns: x, y, z",
    ]);
  });

  test("a file of more than 64 MB is refused unread", () => {
    expect(refused(" ".repeat(64 * 2 ** 20 + 1))[0]).toMatch(/^0:0: the file is larger than 64 MB/);
  });
});

test("100 000 readings are read in well under a second", () => {
  const rows = Array.from(
    { length: 100_000 },
    (_, k) => `${k % 400},${Math.floor(k / 400)},${50 + (k % 7) / 10}`,
  );
  const text = rows.join("\n");
  const start = performance.now();
  expect(xyz(text)).toHaveLength(300_000);
  expect(performance.now() - start).toBeLessThan(2000);
});
