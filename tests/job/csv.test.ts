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
  // 3/4 in is 19.05 mm, 1 3/4 in 44.45 mm, 5' 3 1/2" 63.5 in or 1612.9 mm: an inch is 25.4 mm, 16 CFR 500.19.
  test.each([
    ["commas", `0,0,3/4\n5' 3 1/2",0,1 3/4\n0,12,1.75`],
    ["semicolons", `0;0;3/4\n5' 3 1/2";0;1 3/4\n0;12;1 3/4"`],
    ["fractions from the first line on", `0 1/2,0,3/4\n63 1/2,0,1 3/4\n0 1/2,12,1 3/4`],
    ["a table's program", `x,y,z\n0,0,3/4\n"5' 3 1/2""",0,"1 3/4"""\n0,12,1 3/4`],
  ])("fractions and feet of an inch job, with %s", (_, text) => {
    const read = xyz(text, "in");
    const x = text.startsWith("0 1/2") ? 12.7 : 0;
    [x, 0, 19.05, 1612.9, 0, 44.45, x, 304.8, 44.45].forEach((mm, k) => {
      expect(read[k]).toBeCloseTo(mm, 9);
    });
  });

  test("when a fraction stands in a list in mm then it wants its unit", () => {
    expect(refused("0,0,3/4\n900,0,51\n0,300,49")).toEqual([
      '1:5: found "3/4" for z; wanted a number in mm, or the fraction with its unit, as "3/4 in"',
    ]);
  });

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
    ["a header in another order", "Height;Y;X\n50,5;0;0\n51;0;900\n49;300;0"],
    ["a header in capitals and long", "X_Pos,Y_Pos,Z-Height\n0,0,50.5\n900,0,51\n0,300,49"],
    ["a header with an index", "No.;x;y;z\n1;0;0;50.5\n2;900;0;51\n3;0;300;49"],
    ["a header with text beside", "z,x,y,where\n50.5,0,0,near left\n51,900,0,\n49,0,300,knot"],
    ["a header in a comment", "# y x z\n0 0 50.5\n0 900 51\n300 0 49"],
    ["an index whose name is #", "#,x,y,z\n1,0,0,50.5\n2,900,0,51\n3,0,300,49"],
    ["six axes", "0.0 0.0 50.5 0.0 0.0 0.0\n900.0 0.0 51.0 0.0 0.0 0.0\n0.0 300.0 49.0 0.0 0.0 0.0"],
    ["six axes with a header", "X,Y,Z,A,B,C\n0,0,50.5,0,0,0\n900,0,51,0,0,0\n0,300,49,0,0,0"],
    ["words of a controller", "X0 Y0 Z50.5\nX900. Y0. Z51. A0\nX=0, Y=300, Z=49"],
    ["comments in brackets and behind", "(probed)\n0 0 50.5 # west\n900 0 51 (east)\n(knot)\n0 300 49"],
    ["the unit it is in already", "# units: mm\n0,0,50.5\n900,0,51\n0,300,49"],
    [
      "another unit",
      "# Unit = in\n0,0,1.98818897638\n35.43307086614,0,2.00787401575\n0,11.81102362205,1.92913385827",
    ],
    [
      "another unit in the header",
      "x [mm],y [mm],z [in]\n0,0,1.98818897638\n900,0,2.00787401575\n0,300,1.92913385827",
    ],
    ["a shift", "# shift: -100, 50.5\n100,-50.5,50.5\n1000,-50.5,51\n100,249.5,49"],
    ["a shift without #, with units", "shift: -10 cm, 0\n100,0,50.5\n1000,0,51\n100,300,49"],
    [
      "cells left empty by a table's program",
      '"# by hand, twice",,\nx,y,z,,\n0,0,50.5,,\n,,,,\n900,0,51,,\n0,300,49,,',
    ],
  ])("%s", (_, text) => {
    const read = xyz(text);
    expect(read).toHaveLength(READ.length);
    read.forEach((value, k) => {
      expect(value).toBeCloseTo(READ[k], 9);
    });
  });

  test("swapped columns are told from ordinary ones: x and y are not the same", () => {
    expect(xyz("y,x,height\n1,2,50\n3,900,51\n300,4,49")).toEqual([2, 1, 50, 900, 3, 51, 4, 300, 49]);
  });

  test("a header's unit stands above the job's, a comment's too", () => {
    const rows = "0,0,2\n24,0,2.25\n0,12,2";
    const inches = [0, 0, 50.8, 609.6, 0, 57.15, 0, 304.8, 50.8];
    expect(xyz(`x (in),y (in),z (in)\n${rows}`)).toEqual(inches);
    expect(xyz(`; units in\n${rows}`)).toEqual(inches);
    expect(xyz(`units,inches\n${rows}`)).toEqual(inches);
    // Only a remark.
    expect(xyz(`# units in doubt were read twice\n${rows}`, "in")).toEqual(inches);
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
    [
      "a height that is not filled in yet",
      `${sound}5,5,`,
      "4:1: the height is not filled in yet; fill in the height or delete the line",
    ],
    [
      "a decimal comma between commas",
      `x,y,z\n${sound}5,5,50,1`,
      '5:1: found 4 columns in "5,5,50,1"; wanted 3: x, y, z; a decimal comma? write a point',
    ],
    [
      "numbers with decimal commas that commas part",
      "10,5,20,5,31,2\n900,5,20,5,31,2\n10,5,300,5,31,2",
      '1:1: found "10,5,20,5,31,2", which may be 6 columns or numbers with decimal commas; wanted columns parted by semicolons, or decimal points',
    ],
    [
      "commas and tabs at once",
      `${sound.replaceAll(",", "\t")}5\t5,50.5`,
      '4:1: found 2 columns in "5\\t5,50.5"; wanted 3: x, y, z; columns must be parted alike throughout',
    ],
    [
      "a column of text that nobody named",
      "0,0,50.5,a\n",
      '1:10: found "a" in column 4; wanted a number there, or a header line that names the columns',
    ],
    [
      "more columns than before",
      "0 0 50.5 0\n900 0 51 0\n0 300 49",
      '3:1: found 3 columns in "0 300 49"; wanted 4 as in the rows before',
    ],
    [
      "an index that nobody named",
      "1 10 20 50.5\n2 900 20 51\n3 10 300 49",
      "1:1: the first of 4 columns counts the rows; wanted x there, or a header line that names the columns, as n,x,y,z",
    ],
    [
      "a header of other words",
      `Breite,Laenge,Dicke\n${sound}`,
      '1:1: the header "Breite,Laenge,Dicke" names no column for x; wanted x, y and z, in any order, each once',
    ],
    [
      "a header with x twice",
      `x,x,z\n${sound}`,
      '1:1: the header "x,x,z" names more than one column for x; wanted x, y and z, in any order, each once',
    ],
    [
      "a unit that is not ours",
      `x (cm),y (cm),z (cm)\n${sound}`,
      '1:1: the header names "cm" as the unit of x; wanted mm or in',
    ],
    [
      "a unit in a comment that is not ours",
      `# units: cm\n${sound}`,
      '1:1: found "cm" as the unit; wanted mm or in',
    ],
    [
      "a unit for some columns only",
      `x,y,z (in)\n${sound}`,
      "1:1: the header names in, and not for all of x, y and z; wanted one unit for all",
    ],
    [
      "two units",
      `# units: mm\nx (in),y (in),z (in)\n${sound}`,
      "2:1: the header names in, and line 1 says mm",
    ],
    ["a unit that comes too late", `${sound}# units: in`, '4:1: "units" must stand above the first reading'],
    [
      "half a shift",
      `# shift: 120\n${sound}`,
      '1:1: found "120" as the shift; wanted two lengths, as shift: 120 110',
    ],
    ["words without Z", `${sound.replace(/^.*$/gm, "X1 Y2")}`, '1:1: found no Z in "X1 Y2"; wanted one'],
    [
      "a row without x among semicolons",
      `${sound.replaceAll(",", ";")};5;50`,
      '4:1: found "" for x; wanted a number',
    ],
    [
      "a touch on the bare bed",
      `5,-60,0.02\n${Array.from({ length: 9 }, (_, k) => `${9 * k},${k % 3},50`).join("\n")}`,
      "1:1: the first reading is next to nothing, all others are far above it: a touch on the bare bed is no reading; delete the line",
    ],
    [
      "a touch a little below the bed",
      `5,-60,-0.02\n${sound}`,
      '1:7: found "-0.02" for z; wanted a height above the bed, more than 0 and at most 1 m; a touch on the bare bed is no reading: delete the line',
    ],
  ])("%s", (_, text, says) => {
    expect(refused(text)[0]).toBe(says);
  });

  test("heights of an under face may be 0, where the caller says so", () => {
    const rule = { fits: (mm: number) => mm >= 0, wanted: "0 or more" };
    const text = Array.from({ length: 9 }, (_, k) => `${9 * k},${k % 3},${k === 0 ? 0 : 20}`).join("\n");
    expect(readCsv(text, "face.csv", "mm", rule).issues).toEqual([]);
    expect(readCsv(text, "face.csv", "mm").readings).toBeNull();
  });

  test("a line that looks like words almost to its end is soon given up", () => {
    const start = performance.now();
    refused(`${sound}${"X1111111 ".repeat(100)}!\n${"X  =  1".repeat(140)}!`);
    refused(`#${",".repeat(900)}x\n`.repeat(5000));
    refused(`5${" ".repeat(900)}x\n`.repeat(5000));
    expect(performance.now() - start).toBeLessThan(1000);
  });

  test("two heights at one place name both lines", () => {
    expect(refused(`# probe\n${sound}900,0,52.5`)).toEqual([
      "5:1: two heights at the same place (900, 0) mm: 52.5 mm here, 51 mm in line 3; keep the right one, and see that each reading stands as x, y, z",
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
