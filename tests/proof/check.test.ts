// A program checked in pieces: the same is found, and the same time comes out, wherever it is cut.

import fc from "fast-check";
import { expect, test } from "vitest";
import { trackTimes } from "../../src/motion/clock.ts";
import { type Checked, checkPieces, Spent } from "../../src/proof/check.ts";
import { prove } from "../../src/proof/prove.ts";
import { readProgram } from "../../src/rs274/read.ts";
import { evenMachine } from "../motion/machines.ts";
import { type Bed, CLEAN, changed, keepOut, ring, taskOf } from "./bench.ts";

const bytes = (text: string) => new TextEncoder().encode(text);
const check = (lines: readonly string[], bed: Bed = {}) =>
  checkPieces([bytes(`${lines.join("\n")}\n`)], taskOf(bed));
const told = ({ findings }: Checked) => findings.map(({ code, line }) => `${code} ${line}`);

const bed: Bed = {
  machine: { ...evenMachine(400), nose: { diameterMm: 60, aboveMm: 8 } },
  setup: { keepOuts: [keepOut(40, 70, 60, 90)] },
};

const n = (min: number, max: number) =>
  fc.integer({ min: min * 10, max: max * 10 }).map((tenths) => tenths / 10);
const anyLine = fc.oneof(
  { weight: 8, arbitrary: fc.tuple(n(-40, 140), n(-30, 90)).map(([x, y]) => `X${x} Y${y}`) },
  { weight: 4, arbitrary: n(-0.5, 0.5).map((x) => `G91 X${x}\nG90`) },
  { weight: 3, arbitrary: fc.tuple(fc.constantFrom("G0", "G1"), n(18, 45)).map(([g, z]) => `${g} Z${z}`) },
  {
    weight: 3,
    arbitrary: fc.tuple(fc.constantFrom("G2", "G3"), n(1, 40)).map(([g, r]) => `G91 ${g} X${r} R${r}\nG90`),
  },
  { weight: 2, arbitrary: n(1, 20).map((j) => `G3 X${j} I${j / 2} J${-j}`) },
  { weight: 2, arbitrary: n(1, 12).map((i) => `G91 G2 X0 I${i}\nG90`) },
  fc.constantFrom(
    ...[
      "F900",
      "F12000",
      "M5",
      "S9000 M3",
      "G4 P0.5",
      "M0",
      "G1 X5",
      "",
      "(a note)",
      "; a note",
      "%",
      "nonsense",
    ],
    ...["M98 P7", "G55", "G54", "G20", "G21", "X", "N5 G1 Y3.5 F3000"],
  ),
);
/** A sound start, anything, and mostly an end; cut at any places, with either kind of line end. */
const anyProgram = fc
  .record({
    lines: fc.array(anyLine, { maxLength: 60 }),
    start: fc.boolean(),
    last: fc.constantFrom("M30\n", "M30", "M3", "G1 X1", "\n", "M2\n%"),
    lineEnd: fc.constantFrom("\n", "\r\n"),
    cuts: fc.array(fc.nat(3000), { maxLength: 12 }),
  })
  .map(({ lines, start, last, lineEnd, cuts }) => {
    const text = [...(start ? CLEAN.slice(0, 7) : []), ...lines, last].join("\n").replaceAll("\n", lineEnd);
    return { text, cuts: cuts.filter((at) => at < text.length).sort((a, b) => a - b) };
  });

test("300 random programs, seed 77, cut at random places or line by line, give what they give in one piece", () => {
  const task = taskOf(bed);
  fc.assert(
    fc.property(anyProgram, ({ text, cuts }) => {
      const whole = bytes(text);
      const ends = [0, ...cuts, whole.length];
      const inPieces = ends.slice(1).map((end, k) => whole.subarray(ends[k], end));
      const byBytes = Array.from(whole, (_, k) => whole.subarray(k, k + 1));
      const once = checkPieces([whole], task);
      expect(checkPieces(inPieces, task)).toEqual(once);
      expect(checkPieces(byBytes, task)).toEqual(once);
      // What reader, proof and clock make of the whole track, each in one go.
      const read = readProgram(text);
      const { took, proof, count } = prove(read.track, task);
      const spent = new Spent();
      spent.add(read.track, took, trackTimes(read.track, task.machine).seconds, read.track.count);
      expect(once.seconds.total).toBeCloseTo(spent.seconds().total, 9);
      expect(once.seconds.cutting).toBeCloseTo(spent.seconds().cutting, 9);
      expect({ ...once.proof, ok: proof.ok }).toEqual(proof);
      expect(once.count).toBeGreaterThanOrEqual(count);
    }),
    { seed: 77, numRuns: 300 },
  );
});

test("a fast way in many short moves keeps its speed over the borders of pieces", () => {
  const steps = Array.from({ length: 4000 }, (_, k) => `X${(-25 + (k * 150) / 4000).toFixed(3)}`);
  const text = changed(7, "F5000", ...steps, "X125").join("\n");
  const whole = checkPieces([bytes(text)], taskOf());
  const lines = text.split("\n").map((line) => bytes(`${line}\n`));
  expect(checkPieces(lines, taskOf())).toEqual(whole);
  // The same way in one move: speed changes nowhere on it.
  expect(whole.seconds.total).toBeCloseTo(check(CLEAN).seconds.total, 6);
});

test("a sound program has no finding, whatever it looks like", () => {
  const foreign = [
    "%",
    "n10 g17g21g90g94g40g49g80g54",
    "",
    "N20 (half circle at the far end)",
    "N30 s12000m3",
    "g4 p6",
    "  G0 z 50",
    "x-25.Y+10",
    "g1 z19 f1000",
    "G1X1 25F5000",
    "g3 y40 r15",
    "g91 g1 x-150",
    "g90",
    "G00 Z50.000",
    "m05",
    "M30",
    "%",
  ];
  for (const end of ["\n", "\r\n", "\r"]) {
    const checked = checkPieces([bytes(foreign.join(end))], taskOf());
    expect(checked.findings).toEqual([]);
    expect(checked.count).toBe(0);
  }
});

test("calls of other programs are refused by name and line", () => {
  const lines = ["M98 P1000 L2", "M99", "G65 P9010 A1", "o100 sub", "O1000", "M97 P5", "G66 P1", "M198 P3"];
  const checked = check(changed(11, ...lines, "M5"));
  expect(checked.findings.map(({ code, line }) => `${code} ${line}`)).toEqual(
    lines.map((_, k) => `unsupported ${11 + k}`),
  );
  checked.findings.forEach(({ text }, k) => {
    expect(text).toContain(lines[k].split(" ")[0].replace(/^o.*/i, "O words"));
  });
});

test.each([
  ["no end", CLEAN.slice(0, -1).join("\n"), 11],
  ["an end cut short", CLEAN.join("\n").slice(0, -1), 12],
  ["a word cut short", CLEAN.slice(0, -3).join("\n").slice(0, -2), 9],
  ["a letter without its number", `${CLEAN.slice(0, -1).join("\n")}\nG0 X`, 12],
  ["nothing but an end in a comment", `${CLEAN.slice(0, -1).join("\n")}\n(M30)\n`, 12],
  ["no closing %", ["%", ...CLEAN].join("\n"), 13],
])("a program with %s is no whole program", (_, text, line) => {
  const { findings } = checkPieces([bytes(text)], taskOf());
  const ends = findings.filter(({ code }) => code === "no-end" || code === "percent");
  expect(ends.map((finding) => finding.line)).toEqual([line]);
  expect(ends[0].text).toMatch(/cut off|never closes/);
});

test("a fault is told before what follows from it", () => {
  // The step to the second row is lost to a letter for a nought: the first is cut twice, and wood stands.
  expect(told(check(changed(8, "Y4O")))).toEqual(["unsupported 8", "left-standing 0"]);
  // Without units, nothing that follows is sure.
  expect(told(check(changed(1, "G17 G90 G94"), { setup: { clear: { zMm: 100, sideMm: 5 } } }))[0]).toBe(
    "units 0",
  );
  expect(told(check(CLEAN.slice(0, 8)))).toEqual(["no-end 8", "left-standing 0"]);
});

test("of a hundred thousand findings a hundred are kept, those of the whole among them, and all are counted", () => {
  const bad = Array.from({ length: 50_000 }, () => "X125\nX-25 Y10\nG1 Q1").join("\n");
  const { findings, count } = check(changed(8, "G1 Z12", bad, "Y10"));
  expect(findings).toHaveLength(100);
  expect(findings.slice(-1)[0].code).toBe("left-standing");
  expect(count).toBeGreaterThan(50_000);
});

test("a program for two boards far apart in one piece or many is timed alike", () => {
  const pieces = [
    { ...taskOf().setup.pieces[0], id: "a" },
    { ...taskOf().setup.pieces[0], id: "b", outline: ring(300, 0, 400, 60) },
  ];
  const lines = changed(10, "G0 Z50", "X275 Y10", "G1 Z19", "X425", "Y40", "X275", "G0 Z50");
  const whole = check(lines, { pieces });
  expect(whole.findings).toEqual([]);
  const inPieces = lines.map((line) => bytes(`${line}\n`));
  expect(checkPieces(inPieces, taskOf({ pieces }))).toEqual(whole);
});
