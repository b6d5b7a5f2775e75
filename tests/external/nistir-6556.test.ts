// The reader against T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3",
// NISTIR 6556, 17 August 2000: its worked examples, its sample program and its rules. The blocks are the report's;
// lengths and centres were worked out from them by hand and with a small reader of another make.

import { describe, expect, test } from "vitest";
import { arcSweepRad } from "../../src/motion/arc.ts";
import { trackTimes } from "../../src/motion/clock.ts";
import { Kind, type Track } from "../../src/motion/track.ts";
import { readProgram } from "../../src/rs274/read.ts";
import { evenMachine } from "../motion/machines.ts";

/** Appendix C.1, "Sample Simple Program": engraves two words, in mm. */
const SAMPLE = `
n0010 g21 g0 x0 y0 z50 (top of part should be on XY plane)
n0020 t1 m6 m3 f20 s4000 (use an engraver or small ball-nose endmill)
n0030 g0 x0 y0 z2
n0040 g1 z-0.5 (start H)
n0050 y10
n0060 g0 z2
n0070 y5
n0080 g1 z-0.5
n0090 x 7
n0100 g0 z2
n0110 y0
n0120 g1 z-0.5
n0130 y10
n0140 g0 z2
n0150 x11 y2.5
n0160 g1 z-0.5 (start e)
n0170 x16
n0190 g3 x13.5 y0 i-2.5
n0200 g1 x16
n0210 g0 z2
n0220 x20 y0
n0230 g1 z-0.5 (start l)
n0240 y9
n0250 g0 z2
n0260 x26
n0270 g1 z-0.5 (start l)
n0280 y0
n0290 g0 z2
n0300 x32.5
n0310 g1 z-0.5 (start o)
n0320 g2 x32.5 j2.5
n0330 g0 z2
n0340 x45 y5
n0350 g1 z-0.5 (start w)
n0360 x47 y0
n0370 x48.5 y3
n0380 x50 y0
n0390 x52 y5
n0400 g0 z2
n0410 x57.5 y0
n0420 g1 z-0.5 (start o)
n0430 g2 x57.5 j2.5
n0440 g0 z2
n0450 x64
n0460 g1 z-0.5 (start r)
n0470 y5
n0480 y4
n0490 g2 x69 r4
n0500 g0 z2
n0510 x73 y0
n0520 g1 z-0.5 (start l)
n0530 y9
n0540 g0 z2
n0550 x81
n0560 g1 z-0.5 (start d)
n0570 y0
n0580 x79.5
n0590 g2 j2.5 y5
n0600 g1 x81
n0610 g0 z50
n0620 m2
`;

/** Length of entry i, which starts where the one before it ended. */
function lengthMm(track: Track, i: number): number {
  const { x, y, z, kind, centreX, centreY } = track;
  if (kind[i] < Kind.arcClockwise) return Math.hypot(x[i] - x[i - 1], y[i] - y[i - 1], z[i] - z[i - 1]);
  const radius = Math.hypot(x[i] - centreX[i], y[i] - centreY[i]);
  const clockwise = kind[i] === Kind.arcClockwise;
  const sweep = arcSweepRad(x[i - 1], y[i - 1], x[i], y[i], centreX[i], centreY[i], clockwise);
  return Math.hypot(radius * sweep, z[i] - z[i - 1]);
}

function ofKind(track: Track, ...kinds: Kind[]): number[] {
  return Array.from({ length: track.count }, (_, i) => i).filter((i) =>
    kinds.includes(track.kind[i] as Kind),
  );
}

function sum(values: number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

describe("appendix C.1, the sample program", () => {
  const program = readProgram(SAMPLE);
  const { track } = program;
  const length = (...kinds: Kind[]) => sum(ofKind(track, ...kinds).map((i) => lengthMm(track, i)));

  test("it reads without a finding", () => expect(program.findings).toEqual([]));

  test("it has 59 motion blocks: 25 G0, 29 G1, 1 G3, 4 G2", () => {
    const counts = [Kind.rapid, Kind.cut, Kind.arcCounter, Kind.arcClockwise].map(
      (kind) => ofKind(track, kind).length,
    );
    expect(counts).toEqual([25, 29, 1, 4]);
  });

  test("one tool change, then one spindle start at 4000, and an end", () => {
    const events = ofKind(track, Kind.toolChange, Kind.spindle, Kind.end, Kind.stop, Kind.dwell);
    expect(events.map((i) => [track.kind[i], track.value[i]])).toEqual([
      [Kind.toolChange, 1],
      [Kind.spindle, 4000],
      [Kind.end, NaN],
    ]);
  });

  const arcs: [line: string, centreX: number, centreY: number, length: number][] = [
    ["n0190", 13.5, 2.5, 11.780972451],
    ["n0320", 32.5, 2.5, 15.707963268],
    ["n0430", 57.5, 2.5, 15.707963268],
    ["n0490", 66.5, 0.877501, 5.401052263],
    ["n0590", 79.5, 2.5, 7.853981634],
  ];
  for (const [number, centreX, centreY, mm] of arcs) {
    test(`arc ${number}: centre (${centreX}, ${centreY}), length ${mm} mm`, () => {
      const line = SAMPLE.split("\n").findIndex((text) => text.startsWith(number)) + 1;
      const i = track.line.subarray(0, track.count).indexOf(line);
      expect(track.centreX[i]).toBeCloseTo(centreX, 6);
      expect(track.centreY[i]).toBeCloseTo(centreY, 6);
      expect(lengthMm(track, i)).toBeCloseTo(mm, 9);
    });
  }

  test("at feed: straight 126.978533547 mm and arcs 56.451932884 mm, together 183.430466431 mm", () => {
    expect(length(Kind.cut)).toBeCloseTo(126.978533547, 9);
    expect(length(Kind.arcClockwise, Kind.arcCounter)).toBeCloseTo(56.451932884, 9);
  });

  test("at rapid, from the first known place (0, 0, 50): 202.052800641 mm", () => {
    expect(
      sum(
        ofKind(track, Kind.rapid)
          .slice(1)
          .map((i) => lengthMm(track, i)),
      ),
    ).toBeCloseTo(202.052800641, 9);
  });

  test("at F20, as speed changes at once (section 2.1.2.16): 9.171523322 min at feed", () => {
    expect(trackTimes(track, evenMachine(1e12, 1e6)).feed / 60).toBeCloseTo(9.171523322, 6);
  });
});

/** The last motion of a program that goes to (x, y, z) at rapid first. */
function lastMove(start: string, block: string): { track: Track; i: number } {
  const program = readProgram(`g21 g90 f100\ng0 ${start}\n${block}\nm2\n`);
  expect(program.findings).toEqual([]);
  return { track: program.track, i: program.track.count - 2 };
}

describe("worked examples", () => {
  test("section 3.5.3: G17 G2 x10 y16 i3 j4 z9 from (7, 7) is a helix about (10, 11) of radius 5", () => {
    const { track, i } = lastMove("x7 y7 z0", "G17 G2 x10 y16 i3 j4 z9");
    expect([track.kind[i], track.centreX[i], track.centreY[i], track.z[i]]).toEqual([
      Kind.arcClockwise,
      10,
      11,
      9,
    ]);
    expect(Math.hypot(track.x[i] - 10, track.y[i] - 11)).toBe(5);
  });

  test("table 10: g2 x0 r7.01 z0.5 from (3, 1, 0) is clockwise about (1.5, 7.847635)", () => {
    // The report writes x[6-[4*3/2]]; this reader takes no expressions.
    const { track, i } = lastMove("x3 y1 z0", "g2 x0 r7.01 z0.5");
    expect(track.kind[i]).toBe(Kind.arcClockwise);
    expect(track.centreX[i]).toBeCloseTo(1.5, 12);
    expect(track.centreY[i]).toBeCloseTo(7.847635, 6);
  });

  test("appendix B: G2 X-2.6 Y-0.2 J1 from (-2, -2) has radius 1 at both ends", () => {
    const { track, i } = lastMove("x-2 y-2 z0", "G2 X-2.6 Y-0.2 J1");
    expect([track.centreX[i], track.centreY[i]]).toEqual([-2, -1]);
    expect(Math.hypot(track.x[i] + 2, track.y[i] + 1)).toBeCloseTo(1, 12);
  });

  test("section 3.3: g0x +0. 12 34y 7 is g0 x+0.1234 y7", () => {
    const { track, i } = lastMove("z1", "g0x +0. 12 34y 7");
    expect([track.x[i], track.y[i]]).toEqual([0.1234, 7]);
  });

  test("section 5.3: 2000 moves of 0.1 mm at 1000 mm/min take 12 s, as speed changes at once", () => {
    const moves = Array.from({ length: 2000 }, (_, k) => `x${((k + 1) / 10).toFixed(1)}`).join("\n");
    const { track } = readProgram(`g21 g90\ng0 x0 y0 z0\ng1 f1000 x0\n${moves}\nm2\n`);
    expect(trackTimes(track, evenMachine(1e12)).feed).toBeCloseTo(12, 6);
  });
});

describe("rules", () => {
  const start = "g21 g0 x0 y0 z5 f100\n";
  const codes = (text: string) => readProgram(text).findings.map((finding) => finding.code);

  test("table 8: G1 X10 F600 S12000 M3 G21 G90 sets everything before it moves", () => {
    const { track } = readProgram("G20 G91 G0 X0 Y0 Z0\nG1 X10 F600 S12000 M3 G21 G90\nM2\n");
    expect(track.kind[1]).toBe(Kind.spindle);
    expect([track.kind[2], track.x[2], track.value[2]]).toEqual([Kind.cut, 10, 600 * 25.4]);
  });

  test("section 3.5.3.2: radii 0.002 mm apart are an arc, 0.003 mm apart are an error", () => {
    expect(codes(`${start}g2 x10.002 i5\nm2\n`)).toEqual([]);
    expect(codes(`${start}g2 x10.003 i5\nm2\n`)).toEqual(["arc-radius"]);
  });

  test("section 3.5.3.1: an arc by radius may not end where it starts", () => {
    expect(codes(`${start}g2 x0 y0 r5\nm2\n`)).toEqual(["arc-radius"]);
  });

  test("section 3.5.17: I and J are increments from the start in G90 and G91 alike", () => {
    for (const mode of ["g90", "g91"]) {
      const { track } = readProgram(`${start}g0 x10\n${mode} g3 x${mode === "g90" ? 20 : 10} i5\nm2\n`);
      expect([track.x[2], track.centreX[2]]).toEqual([20, 15]);
    }
  });

  test("section 3.1: a percent line wants another; M2 or M30 does without both; one in the middle is an error", () => {
    expect(codes(`%\n${start}%\n`)).toEqual([]);
    expect(codes(`${start}m30\n`)).toEqual([]);
    expect(codes(`%\n${start}`)).toContain("no-end");
    expect(codes(`${start}%\nm2\n`)).toEqual(["percent"]);
  });

  test("section 3.3.5: four M words may be on a line, two of a group may not", () => {
    expect(codes(`${start}m3 m7 m48 m0\nm2\n`)).toEqual([]);
    expect(codes(`${start}m3 m4\nm2\n`)).toEqual(["modal-clash"]);
  });

  test("section 3.6.2: M3 with S0 is legal", () => {
    expect(codes(`${start}s0 m3\nm2\n`)).toEqual([]);
  });

  test("section 3.3 and appendix E: semicolons are no part of the language, and are told as such", () => {
    expect(codes(`${start}x1 ; away\nm2\n`)).toEqual(["semicolon"]);
  });
});
