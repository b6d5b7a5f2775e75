// The reader on straight probes, against NISTIR 6556 (Kramer, Proctor, Messina: "The NIST RS274NGC Interpreter -
// Version 3", 2000): the rules of section 3.5.9.1 and, for the spindle, of section 4.3.6.6.

import { describe, expect, test } from "vitest";
import { Kind } from "../../src/motion/track.ts";
import { readProgram } from "../../src/rs274/read.ts";

const probing = (...lines: string[]) => readProgram(`${lines.join("\n")}\nM2\n`, undefined, true);
const codes = (...lines: string[]) => probing(...lines).findings.map(({ code, line }) => [code, line]);
const START = "G21 G90 G94 G0 X0 Y0 Z10 F100";

test("a probe straight down is read with its feed, and leaves Z unknown until it is given again", () => {
  const { ok, track } = probing(START, "G38.2 Z0", "G0 X5", "Z10");
  expect(ok).toBe(true);
  expect([...track.kind.slice(0, track.count)]).toEqual([
    Kind.rapid,
    Kind.touch,
    Kind.rapid,
    Kind.rapid,
    Kind.end,
  ]);
  expect([track.x[1], track.y[1], track.z[1], track.value[1]]).toEqual([0, 0, 0, 100]);
  expect([track.x[2], track.z[2]]).toEqual([5, Number.NaN]);
  expect(track.z[3]).toBe(10);
});

describe("it is an error", () => {
  test.each([
    ["if no X, Y or Z is used", ["G38.2 F100"], "axis-missing"],
    ["if a rotary axis moves", ["G38.2 Z0 A5"], "unsupported"],
    ["if inverse time feed is in force", ["G93 G38.2 Z0"], "unsupported"],
    ["if cutter compensation is on", ["G41 D1"], "unsupported"],
    ["if the point is less than 0.254 mm away", ["G38.2 Z9.75"], "touch-start"],
    ["if it is there already", ["G38.2 Z10"], "touch-start"],
    ["if the feed is zero", ["F0", "G38.2 Z0"], "no-feed"],
    ["if the spindle turns", ["S1000 M3", "G38.2 Z0"], "touch-spindle"],
    ["if one follows another from where nobody knows", ["G38.2 Z5", "G38.2 Z0"], "touch-start"],
  ])("%s", (_, lines, code) => {
    expect(codes(START, ...lines)[0]).toEqual([code, lines.length + 1]);
  });

  test("in inches less than 0.01 in away, and not more", () => {
    const inch = "G20 G90 G94 G0 X0 Y0 Z1 F5";
    expect(codes(inch, "G38.2 Z0.991")).toEqual([["touch-start", 2]]);
    expect(codes(inch, "G38.2 Z0.989")).toEqual([]);
  });

  test("if no feed was ever given", () => {
    expect(codes("G21 G90 G94 G0 X0 Y0 Z10", "G38.2 Z0")).toEqual([["no-feed", 2]]);
  });
});

test("a spindle that was stopped is at rest", () => {
  expect(codes(START, "S1000 M3", "M5", "G38.2 Z0")).toEqual([]);
});

test("programs that are not said to probe may not", () => {
  const { findings } = readProgram(`${START}\nG38.2 Z0\nM2\n`);
  expect(findings).toMatchObject([{ code: "unsupported", line: 2, column: 1 }]);
  expect(findings[0].text).toContain("G38.2");
});
