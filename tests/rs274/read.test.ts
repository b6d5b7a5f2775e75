// What the reader makes of a line, rule by rule; section numbers are those of NISTIR 6556.

import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { Kind, Track } from "../../src/motion/track.ts";
import type { FindingCode } from "../../src/rs274/findings.ts";
import { checkStartLine, ProgramReader, type ReadProgram, readProgram } from "../../src/rs274/read.ts";

/** Reads lines after a start that leaves nothing open, and ends the program. */
function read(...lines: string[]): ReadProgram {
  return readProgram(["G21 G90 G0 Z50", "X0 Y0 F600", ...lines, "M30", ""].join("\n"));
}

/** Entries as short rows, without those of the start and the end. */
function rows({ track }: ReadProgram): unknown[][] {
  const name = Object.keys(Kind);
  return Array.from({ length: track.count }, (_, i) => [
    name[track.kind[i]],
    track.x[i],
    track.y[i],
    track.z[i],
    track.value[i],
  ]).slice(2, -1);
}

function codes(program: ReadProgram): FindingCode[] {
  return program.findings.map((finding) => finding.code);
}

describe("words and numbers", () => {
  test("blanks may stand anywhere, letters be small, numbers end or start with a point (3.3)", () => {
    const program = read("g1x +0. 12 34y 7", "\tX 5.\tY+.5", "x-0", "G 0 Z 1 0", "g01 X1 f0600.0");
    expect(program.findings).toEqual([]);
    expect(rows(program)).toEqual([
      ["cut", 0.1234, 7, 50, 600],
      ["cut", 5, 0.5, 50, 600],
      ["cut", 0, 0.5, 50, 600],
      ["rapid", 0, 0.5, 10, NaN],
      ["cut", 1, 0.5, 10, 600],
    ]);
  });

  test("numbers are read as exactly as parseFloat does, 17 digits and more too", () => {
    const digits = fc.stringMatching(/^[+-]?(\d{1,22}(\.\d{0,22})?|\.\d{1,22})$/);
    fc.assert(
      fc.property(fc.array(digits, { minLength: 1, maxLength: 5 }), (numbers) => {
        const { track, findings } = read(...numbers.map((number) => `G0 X${number}`));
        expect(findings).toEqual([]);
        expect(numbers.map((_, k) => track.x[k + 2])).toEqual(
          numbers.map((number) => Number.parseFloat(number) + 0),
        );
      }),
      { seed: 1, numRuns: 500 },
    );
  });

  test("codes count as whole when within 0.0001 (3.3.2.1)", () => {
    expect(read("G1.00001 X1", "G0.99999 X2", "M5.0").findings).toEqual([]);
    expect(codes(read("G1.001 X1"))).toEqual(["unknown-code"]);
    expect(codes(read("M3.5"))).toEqual(["unknown-code"]);
  });

  test("CR LF, CR alone and blank lines end lines as LF does", () => {
    const text = "G21 G90\r\n\r\nG0 Z5\rX1\n\n\r\nY2\r\nM2\r\n";
    const program = readProgram(text);
    expect(program.findings).toEqual([]);
    const { track } = program;
    expect([...track.line.subarray(0, track.count)]).toEqual([3, 4, 7, 8]);
  });

  test("a line of 256 characters is read, one of 257 is not (3.3)", () => {
    expect(read(`X1${" ".repeat(254)}`).findings).toEqual([]);
    const program = read("X1", `X2${" ".repeat(255)}`);
    expect(codes(program)).toEqual(["line-too-long"]);
    expect(rows(program)).toEqual([["rapid", 1, 0, 50, NaN]]);
    expect(codes(readProgram(`(${"x".repeat(100_000)})\nM2\n`))).toEqual(["line-too-long"]);
  });

  test("line numbers stand first and may repeat (3.3.1)", () => {
    expect(read("N10 X1", "n99999X2", "N10", "/ N3 X3").findings.filter((f) => !f.note)).toEqual([]);
  });
});

describe("order of execution (table 8)", () => {
  test("feed, speed, spindle, units and distance are set before the move, whatever the order of words", () => {
    const program = read("G1 X10 F500 S12000 M3 G91 M0", "X1");
    expect(rows(program)).toEqual([
      ["spindle", 0, 0, 50, 12_000],
      ["cut", 10, 0, 50, 500],
      ["stop", 10, 0, 50, NaN],
      ["cut", 11, 0, 50, 500],
    ]);
  });

  test("a feed beside a change of units is in the units from before", () => {
    expect(rows(read("G1 X1 F10 G20"))).toEqual([["cut", 25.4, 0, 50, 10]]);
    expect(rows(read("G20", "G1 X1 F10 G21", "X2"))).toEqual([
      ["cut", 1, 0, 50, 254],
      ["cut", 2, 0, 50, 254],
    ]);
  });

  test("a dwell comes before the move on its line, another tool before the spindle", () => {
    expect(rows(read("X5 G4 P1.5", "M3 S9000 T2 M6"))).toEqual([
      ["dwell", 0, 0, 50, 1.5],
      ["rapid", 5, 0, 50, NaN],
      ["toolChange", 5, 0, 50, 2],
      ["spindle", 5, 0, 50, 9000],
    ]);
  });

  test("the end comes after the move on its line, and nothing after the end is read (3.6.1)", () => {
    const program = readProgram("G21 G0 Z5\nX1 M30\nnonsense (\nG1 X9\n");
    expect([program.ok, program.lines]).toEqual([true, 2]);
    expect(program.track.count).toBe(3);
    expect(program.track.kind[2]).toBe(Kind.end);
  });
});

describe("modes", () => {
  test("G91 adds, from an unknown place to an unknown one", () => {
    const program = readProgram("G21 G91 G0 Z5\nG90 X1\nG91 X1 Y1 Z1\nM2\n");
    const { track } = program;
    expect(program.ok).toBe(true);
    expect([track.x[2], track.y[2], track.z[2]]).toEqual([2, NaN, NaN]);
  });

  test("inches become mm; the units stated first are told", () => {
    const program = readProgram("G20 G90\nG0 Z2\nG1 X1 F10\nM2\n");
    expect([program.track.x[1], program.track.z[1], program.track.value[1]]).toEqual([25.4, 50.8, 254]);
    expect(program.units).toBe("in");
  });

  test("a speed while the spindle turns is a spindle entry, one while it rests is not; M3 without speed turns at 0", () => {
    expect(rows(read("S9000", "M3", "S12000", "S12000", "M5", "S8000", "M4", "M3 S0"))).toEqual([
      ["spindle", 0, 0, 50, 9000],
      ["spindle", 0, 0, 50, 12_000],
      ["spindle", 0, 0, 50, 0],
      ["spindle", 0, 0, 50, -8000],
      ["spindle", 0, 0, 50, 0],
    ]);
    expect(rows(read("M3"))).toEqual([["spindle", 0, 0, 50, 0]]);
  });

  test("after another tool the spindle stands still (3.6.3)", () => {
    expect(rows(read("M3 S9000", "T1 M6", "S9500"))).toHaveLength(2);
  });

  test("another work offset makes the place unknown and is noted; the same one does not", () => {
    const program = read("G54", "G59.3", "X1");
    expect(program.ok).toBe(true);
    expect(codes(program)).toEqual(["offset-change"]);
    expect(rows(program)).toEqual([
      ["offset", 0, 0, 50, 54],
      ["offset", NaN, NaN, NaN, 59.3],
      ["rapid", 1, NaN, NaN, NaN],
    ]);
  });

  test("codes that change nothing here are read without a word", () => {
    const words = [
      "G17",
      "G40",
      "G49",
      "G61",
      "G61.1",
      "G64",
      "G94",
      "G98",
      "G99",
      "M7",
      "M8",
      "M9",
      "M48",
      "T4",
    ];
    const program = read(...words);
    expect(program.findings).toEqual([]);
    expect(rows(program)).toEqual([]);
    expect(rows(read("M0", "M1", "M60"))).toHaveLength(3);
  });

  test("without G20 or G21 before the first move mm are assumed, and that is noted", () => {
    const program = readProgram("G0 X1\nX2\nM2\n");
    expect(program.ok).toBe(true);
    expect(codes(program)).toEqual(["units-not-stated"]);
  });
});

describe("arcs", () => {
  function arc(...lines: string[]): number[] {
    const { track, findings } = read(...lines);
    expect(findings).toEqual([]);
    const i = track.count - 2;
    return [track.kind[i], track.x[i], track.y[i], track.centreX[i], track.centreY[i]];
  }

  test("I and J count from the start, in G91 too; one left out is 0", () => {
    expect(arc("X7 Y7", "G2 X10 Y16 Z9 I3 J4")).toEqual([Kind.arcClockwise, 10, 16, 10, 11]);
    expect(arc("X7 Y7", "G91 G3 X6 I3")).toEqual([Kind.arcCounter, 13, 7, 10, 7]);
  });

  test("end and start in one place are a full circle", () => {
    expect(arc("X32.5", "G2 X32.5 J2.5")).toEqual([Kind.arcClockwise, 32.5, 0, 32.5, 2.5]);
  });

  test("arcs are modal like straight moves", () => {
    expect(arc("G2 X10 I5", "X0 I-5")).toEqual([Kind.arcClockwise, 0, 0, 5, 0]);
  });

  test("R above 0 is the shorter way, below 0 the longer, both clockwise and counter-clockwise", () => {
    const h = Math.sqrt(75);
    const near = (found: number[], centreY: number) => {
      expect(found[3]).toBeCloseTo(5, 12);
      expect(found[4]).toBeCloseTo(centreY, 12);
    };
    near(arc("G2 X10 Y0 R10"), -h);
    near(arc("G3 X10 Y0 R10"), h);
    near(arc("G2 X10 Y0 R-10"), h);
    near(arc("G3 X10 Y0 R-10"), -h);
    near(arc("G3 X10 Y0 R5"), 0);
  });

  test("radii may differ by 0.002 mm or 0.0002 in, not by more (3.5.3.2)", () => {
    expect(read("G2 X10.002 Y0 I5.001 J0", "X0 I-5.001").ok).toBe(true);
    expect(codes(read("G2 X10.0021 Y0 I5 J0"))).toEqual(["arc-radius"]);
    expect(read("G2 X10.002 Y0 I5 J0").ok).toBe(true);
    expect(read("G20", "G2 X1.0002 Y0 I0.5 J0").ok).toBe(true);
    expect(codes(read("G20", "G2 X1.0003 Y0 I0.5 J0"))).toEqual(["arc-radius"]);
  });
});

describe("errors: each with its line and column, and reading goes on", () => {
  const table: [line: string, code: FindingCode, column: number][] = [
    ["G0", "axis-missing", 1],
    ["F5 G1", "axis-missing", 4],
    ["G2 I1", "axis-missing", 1],
    ["G0 G1 X1", "modal-clash", 4],
    ["G90 X1 G91", "modal-clash", 8],
    ["G4 P1 G53 X1", "modal-clash", 7],
    ["M3 M5", "modal-clash", 4],
    ["M7 M8", "modal-clash", 4],
    ["M0 M5 M6 M7 M48", "modal-clash", 13],
    ["X1 Y2 X3", "repeated-word", 7],
    ["X1 (open", "bad-comment", 4],
    ["X1 (a (b) c)", "bad-comment", 7],
    ["X1 (bell \u0007)", "bad-comment", 10],
    ["N-5 X1", "bad-line-number", 1],
    ["N000009 X1", "bad-line-number", 1],
    ["N1.5 X1", "bad-line-number", 1],
    ["N X1", "bad-number", 1],
    ["X1 N5", "bad-line-number", 4],
    ["(c) N5 X1", "bad-line-number", 5],
    ["N1 N2 X1", "bad-line-number", 4],
    ["G2 X10 Y0", "arc-form", 4],
    ["G2 Z1 I5", "arc-form", 4],
    ["G2 X10 I5 R5", "arc-form", 4],
    ["G2 X11 R4.99", "arc-radius", 8],
    ["G2 X1 Y0 R5", "arc-radius", 10],
    ["G2 X10 I4", "arc-radius", 8],
    ["G2 X10 I0", "arc-radius", 8],
    ["G4 P-1", "no-dwell-time", 1],
    ["G4", "no-dwell-time", 1],
    ["G80 X1", "no-motion-mode", 5],
    ["X1 S-5", "bad-value", 4],
    ["T-1", "bad-value", 1],
    ["T1.5", "bad-value", 1],
    ["F-600 X1", "bad-value", 1],
    ["X1e3", "unknown-letter", 3],
    ["E5", "unknown-letter", 1],
    ["U5", "unknown-letter", 1],
    ["X", "bad-number", 1],
    ["X-", "bad-number", 1],
    ["X1.2.3", "bad-number", 1],
    ["X1-2", "bad-number", 1],
    ["X--2", "bad-number", 1],
    ["5 X1", "bad-number", 1],
    ["G5 X1", "unknown-code", 1],
    ["G54.1", "unknown-code", 1],
    ["G-1 X1", "unknown-code", 1],
    ["G1000 X1", "unknown-code", 1],
    ["M77", "unknown-code", 1],
    ["X1 I5", "unused-word", 4],
    ["X1 P5", "unused-word", 4],
    ["X1 K5", "unused-word", 4],
    ["X1 H5", "unused-word", 4],
    ["X1 R5", "unused-word", 4],
    ["X1 @", "bad-character", 4],
    ["X1 /", "bad-character", 4],
    ["X1 \u00e9", "bad-character", 4],
    ["%", "percent", 1],
    ["X1 %", "percent", 4],
    ["G18", "unsupported", 1],
    ["X1 G19", "unsupported", 4],
    ["G28", "unsupported", 1],
    ["G28 X1", "unsupported", 1],
    ["G30", "unsupported", 1],
    ["G53 G0 X1", "unsupported", 1],
    ["G92 X1", "unsupported", 1],
    ["G92.1", "unsupported", 1],
    ["G10 L2 P1 X1", "unsupported", 1],
    ["G38.2 Z1", "unsupported", 1],
    ["G81 X1 Z1 R2", "unsupported", 1],
    ["G41 D1", "unsupported", 1],
    ["G43 H1", "unsupported", 1],
    ["G93", "unsupported", 1],
    ["M49", "unsupported", 1],
    ["X1 A5", "unsupported", 4],
    ["O100 sub", "unsupported", 1],
    ["#1=5", "unsupported", 1],
    ["X#1", "unsupported", 2],
    ["X[1+2]", "unsupported", 2],
    ["X sin[30]", "unsupported", 3],
  ];
  for (const [line, code, column] of table) {
    test(`${JSON.stringify(line)} is ${code} at column ${column}`, () => {
      const program = read("X1", line, "G0 X7 Y7 Z7");
      expect(program.ok).toBe(false);
      expect(program.findings.map((f) => [f.code, f.line, f.column, f.note])).toEqual([
        [code, 4, column, false],
      ]);
      expect(program.findings[0].text).toMatch(/^[A-Z%"#(].*\.$/);
      // The line after it is carried out.
      const last = program.track.count - 2;
      expect([program.track.x[last], program.track.y[last], program.track.z[last]]).toEqual([7, 7, 7]);
    });
  }

  test("a cut without a feed is reported once until a feed comes, and is still in the track", () => {
    const program = readProgram("G21 G0 Z5\nG1 X1\nY1\nF0\nX2\nF5 X3\nM2\n");
    expect(program.findings.map((f) => [f.code, f.line])).toEqual([
      ["no-feed", 2],
      ["no-feed", 5],
    ]);
    const { track } = program;
    expect([...track.value.subarray(1, 5)]).toEqual([NaN, NaN, 0, 5]);
  });

  test("an axis word before any G0 or G1 has no motion mode", () => {
    expect(codes(readProgram("G21 X1\nM2\n"))).toEqual(["no-motion-mode"]);
  });

  test("an arc from an unknown place has no start", () => {
    expect(codes(readProgram("G21 F5 G0 X1\nG2 X5 I2\nM2\n"))).toEqual(["arc-start"]);
  });

  test("after a code that moves where this reader cannot follow, the place is unknown", () => {
    const { track } = read("G28 Z0", "X5");
    expect([track.x[2], track.y[2], track.z[2]]).toEqual([5, NaN, NaN]);
  });

  test("a hundred findings are kept, and notes among errors once", () => {
    const program = read(
      ...Array.from({ length: 500 }, () => "X1 X2 ; twice"),
      ...Array(50).fill("X1 ; note"),
    );
    expect(program.findings).toHaveLength(100);
    expect(program.ok).toBe(false);
    expect(read(...Array(50).fill("X1 ; note")).findings).toHaveLength(1);
  });
});

describe("notes: worth knowing, not wrong", () => {
  test("a semicolon's comment, a block delete and characters beyond ASCII in a comment", () => {
    const program = read("X1 ; (open G1", "/X2", "(caf\u00e9)");
    expect(program.ok).toBe(true);
    expect(program.findings.map((f) => [f.code, f.line, f.column, f.note])).toEqual([
      ["semicolon", 3, 4, true],
      ["block-delete", 4, 1, true],
      ["comment-character", 5, 5, true],
    ]);
    expect(rows(program)).toHaveLength(2);
  });

  test("several comments on a line, messages and comments between words are read over (3.3.4)", () => {
    const program = read("(a)X1(b)Y2(MSG, c)", "( m sG ,hello)");
    expect(program.findings).toEqual([]);
    expect(rows(program)).toEqual([["rapid", 1, 2, 50, NaN]]);
  });
});

describe("ends (3.1)", () => {
  const moves = "G21 G0 Z5\nX1\n";
  test("M2, M30, or a pair of percent signs end a program", () => {
    expect(readProgram(`${moves}M2\n`).ok).toBe(true);
    expect(readProgram(`${moves}M30`).ok).toBe(true);
    const between = readProgram(`\n % \n${moves}%\nG1 nonsense\n`);
    expect(between.findings).toEqual([]);
    expect(between.track.kind[between.track.count - 1]).toBe(Kind.end);
    expect(readProgram(`%\n${moves}M30\n(text) nobody reads\n%\n`).findings).toEqual([]);
  });

  test("an opening percent sign wants a closing one, also after M30", () => {
    expect(codes(readProgram(`%\n${moves}M30\n`))).toEqual(["percent"]);
    expect(codes(readProgram(`%\n${moves}`))).toEqual(["no-end"]);
    expect(codes(readProgram(`(c)\n%\n${moves}M30\n`))).toEqual(["percent"]);
  });

  test("when the text stops without an end, that is an error, with or without a last line end", () => {
    expect(readProgram(moves).findings[0].text).toMatch(/after line 2 without/);
    expect(readProgram("G21 G0 Z5\nX1").findings[0].text).toMatch(/in the middle of line 2 without/);
    expect(codes(readProgram(""))).toEqual(["no-end"]);
  });
});

test("whatever the text, the reader does not throw, finds the same in pieces, and places findings inside it", () => {
  const piece = fc.oneof(
    fc.constantFrom(
      "G0",
      "G1",
      "G2",
      "X",
      "Y1",
      "Z-2.5",
      "I",
      "J1",
      "R5",
      "F100",
      "(",
      ")",
      "%",
      "\n",
      "\r\n",
      " ",
    ),
    fc.constantFrom(
      "M3",
      "S1",
      "M30",
      "N5",
      "/",
      ";",
      "#1",
      "[",
      "G4",
      "P1",
      "G91",
      "G20",
      "G28",
      ".",
      "-",
      "é",
    ),
    fc.string({ maxLength: 6 }),
  );
  const text = fc.array(piece, { maxLength: 60 }).map((pieces) => pieces.join(""));
  fc.assert(
    fc.property(text, fc.integer({ min: 1, max: 20 }), (program, size) => {
      const whole = readProgram(program);
      const reader = new ProgramReader(new Track(1));
      for (let k = 0; k < program.length; k += size) reader.feed(program.slice(k, k + size));
      const pieces = reader.finish();
      expect(pieces.findings).toEqual(whole.findings);
      expect(pieces.lines).toBe(whole.lines);
      expect(pieces.track.count).toBe(whole.track.count);
      for (const finding of whole.findings) {
        expect(finding.line).toBeLessThanOrEqual(program.split(/\r\n|\r|\n/).length);
        expect(finding.column).toBeGreaterThan(0);
      }
    }),
    { seed: 4, numRuns: 1000 },
  );
});

test("between pieces the track may be emptied: a long program fits a small track", () => {
  const reader = new ProgramReader(new Track(16));
  reader.feed("G21 G91 G0 Z1\n");
  let moves = reader.track.count;
  for (let k = 0; k < 1000; k++) {
    reader.track.count = 0;
    reader.feed("G90 X5\nG91 X1\n");
    moves += reader.track.count;
  }
  expect(reader.track.x[1]).toBe(6);
  expect(moves).toBe(2001);
  expect(reader.track.kind.length).toBe(16);
});

describe("a shop's own start and end lines", () => {
  for (const line of [
    "M7",
    "M8",
    "S9000 M3",
    "G4 P2",
    "T2 M6",
    "M0 (clamp the slab)",
    "(MSG, dust on)",
    "G64",
    "G61",
  ]) {
    test(`${line} is fine`, () => expect(checkStartLine(line)).toBeNull());
  }
  const refused: [string, RegExp][] = [
    ["G0 Z50", /moves the cutter/],
    ["G21 G0 Z50", /moves the cutter|units/],
    ["X5", /without G0/],
    ["G20", /units/],
    ["G91", /incremental/],
    ["G55", /work offset/],
    ["M30", /ends the program/],
    ["M2", /ends the program/],
    ["G28", /home/],
    ["G53 G0 Z0", /machine coordinates/],
    ["M77", /no code/],
    ["M99", /subprogram/],
    ["O<probe> call", /O words/],
    ["#1=2", /Parameters/],
    ["; dust on", /semicolon/],
    ["N5 M7", /line number/],
    ["%", /start with/],
    ["/M7", /start with/],
    ["M7\nM8", /one line/],
    ["  ", /empty/],
    ["(Übermaß)", /ASCII/],
    [`(${"x".repeat(250)})`, /characters/],
    ["(open", /not closed/],
  ];
  for (const [line, why] of refused) {
    test(`${JSON.stringify(line.slice(0, 20))} is refused`, () => expect(checkStartLine(line)).toMatch(why));
  }
});
