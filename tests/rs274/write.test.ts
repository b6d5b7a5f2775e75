// The text the writer makes, byte for byte where it matters, and what it does with text from users.

import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { Kind, type Track } from "../../src/motion/track.ts";
import { readProgram } from "../../src/rs274/read.ts";
import { commentLines, type ProgramOptions, writeProgram } from "../../src/rs274/write.ts";
import { readStrictly } from "../oracles/strict-reader.ts";
import { plainStyle } from "./style.ts";
import { startedTrack } from "./tracks.ts";

const mm: ProgramOptions = { units: "mm", style: plainStyle };
const inch: ProgramOptions = { units: "in", style: plainStyle };

function lines(track: Track, options: ProgramOptions = mm): string[] {
  return new TextDecoder().decode(writeProgram(track, options).text).split("\n").slice(0, -1);
}

/** What stands after the spindle start and before the end block. */
function body(track: Track, options: ProgramOptions = mm): string[] {
  const all = lines(track, options);
  return all.slice(all.findIndex((line) => line.endsWith("M3")) + 1, all.indexOf("M5"));
}

test("golden: a short program in mm", () => {
  const track = startedTrack();
  track.push(Kind.dwell, -40, 10, 90, 8);
  track.push(Kind.rapid, -40, 10, 72.5);
  track.push(Kind.cut, 100, 10, 72.5, 6000);
  const arc = track.push(Kind.arcCounter, 100, 34, 72.5, 6000);
  track.centreX[arc] = 100;
  track.centreY[arc] = 22;
  track.push(Kind.cut, -0.0004, 34, 72.5, 4500.25);
  track.push(Kind.rapid, -0.0004, 34, 90);
  track.push(Kind.spindle, -0.0004, 34, 90, 0);
  track.push(Kind.end, -0.0004, 34, 90);
  const options = {
    ...mm,
    header: ["Roastery counter"],
    notes: [{ entry: 4, text: "layer 1 of 2, Z 72.5" }],
  };
  expect(lines(track, options)).toEqual([
    "(Roastery counter)",
    ...["G17", "G21", "G90", "G94", "G40", "G49", "G80", "G54"],
    "G0 Z90.000",
    "X-40.000 Y10.000",
    "S14000 M3",
    "G4 P8",
    "(layer 1 of 2, Z 72.5)",
    "Z72.500",
    "G1 X100.000 F6000",
    "G3 X100.000 Y34.000 I0.000 J12.000",
    "G1 X0.000 F4500.25",
    "G0 Z90.000",
    "M5",
    "M30",
  ]);
  expect([...track.line.subarray(0, track.count)]).toEqual([10, 11, 12, 13, 15, 16, 17, 18, 19, 20, 21]);
});

describe("numbers", () => {
  test("a coordinate is rounded once, to the last decimal, and never written as minus nothing", () => {
    const track = startedTrack();
    for (const x of [1.0006, -1.0004, 0.0004, -0.0004, -0.0006, 999.9996, 12345.678, -0.5]) {
      track.push(Kind.rapid, x, 10, 90);
    }
    // The second of the two that round to nothing is left out.
    expect(body(track)).toEqual([
      ...["X1.001", "X-1.000", "X0.000", "X-0.001", "X1000.000", "X12345.678", "X-0.500"],
    ]);
  });

  test("in inches four decimals, converted before rounding", () => {
    const track = startedTrack();
    track.push(Kind.cut, 25.4, -12.7, 88.9, 6000);
    expect(body(track, inch)).toEqual(["G1 X1.0000 Y-0.5000 Z3.5000 F236.2205"]);
    expect(lines(track, inch)).toContain("G20");
  });

  test("digits of every length come out as toFixed prints them", () => {
    fc.assert(
      fc.property(fc.integer({ min: -99_999_999, max: 99_999_999 }), (n) => {
        fc.pre(n !== -40_000);
        const track = startedTrack();
        track.push(Kind.rapid, n / 1000, 10, 90);
        expect(body(track)).toEqual([`X${(n / 1000).toFixed(3)}`]);
      }),
      { seed: 3, numRuns: 500 },
    );
  });

  test("a number that is no place on a machine is our own fault, not a program", () => {
    for (const x of [1e10, Infinity, -Infinity]) {
      const track = startedTrack();
      track.push(Kind.rapid, x, 0, 0);
      expect(() => writeProgram(track, mm)).toThrow(/no place on a machine/);
    }
    const slow = startedTrack();
    slow.push(Kind.cut, 0, 0, 0, 0.0001);
    expect(() => writeProgram(slow, mm)).toThrow(/rounds to nothing/);
  });
});

describe("what is left out", () => {
  test("when a move comes to nothing after rounding, it is left out and keeps the line before", () => {
    const track = startedTrack();
    track.push(Kind.cut, -40.0003, 10.0002, 90, 6000);
    track.push(Kind.cut, 0, 10, 90, 6000);
    expect(body(track)).toEqual(["G1 X0.000 F6000"]);
    expect(track.line[3]).toBe(track.line[2]);
  });

  test("when many small moves add up, none of their way is lost", () => {
    const track = startedTrack();
    for (let i = 1; i <= 100; i++) track.push(Kind.cut, -40 + i * 0.0004, 10, 90, 6000);
    expect(body(track).at(-1)).toMatch(/X-39\.960$/);
  });
});

describe("arcs", () => {
  function arc(radius: number, fromDegrees: number, sweepDegrees: number, feed = 6000): Track {
    const track = startedTrack();
    const start = (fromDegrees * Math.PI) / 180;
    const end = start + (sweepDegrees * Math.PI) / 180;
    track.push(Kind.rapid, radius * Math.cos(start), radius * Math.sin(start), 90);
    const full = Math.abs(sweepDegrees) === 360;
    const kind = sweepDegrees > 0 ? Kind.arcCounter : Kind.arcClockwise;
    const x = full ? track.x[3] : radius * Math.cos(end);
    const y = full ? track.y[3] : radius * Math.sin(end);
    const i = track.push(kind, x, y, 90, feed);
    track.centreX[i] = 0;
    track.centreY[i] = 0;
    return track;
  }

  test("when an arc is a full circle, X and Y are written all the same", () => {
    expect(body(arc(30, 0, -360)).at(-1)).toBe("G2 X30.000 Y0.000 I-30.000 J0.000 F6000");
  });

  test("when an arc is nearly full, it stays nearly full or becomes full, never nothing", () => {
    for (const sweep of [359.99, 359.9999, 359.999999, -359.9999]) {
      const read = readProgram(writeProgram(arc(30, 77, sweep), mm).text).track;
      const last = read.count - 3;
      expect(read.kind[last]).toBe(sweep > 0 ? Kind.arcCounter : Kind.arcClockwise);
      const gap = Math.hypot(read.x[last] - read.x[last - 1], read.y[last] - read.y[last - 1]);
      expect(gap).toBeLessThan((30 * (360 - Math.abs(sweep)) * Math.PI) / 180 + 0.0015);
      expect(Math.hypot(read.centreX[last], read.centreY[last])).toBeLessThan(0.02);
    }
  });

  test("when an arc is flatter than the rounding, it is a straight line", () => {
    expect(body(arc(30, 10, 0.3)).at(-1)).toMatch(/^G1 X/);
    expect(body(arc(30, 10, 3)).at(-1)).toMatch(/^G3 X/);
  });

  test("2000 arcs, seed 5: the radii agree within 2 last decimals in both units, as section 3.5.3.2 of NISTIR 6556 wants", () => {
    const radius = fc.double({ min: 0.05, max: 3000, noNaN: true });
    const degrees = fc.double({ min: -360, max: 360, noNaN: true });
    fc.assert(
      fc.property(radius, degrees, degrees, fc.constantFrom(mm, inch), (r, from, sweep, options) => {
        fc.pre(Math.abs(sweep) > 0.001);
        const strict = readStrictly(
          new TextDecoder().decode(writeProgram(arc(r, from, sweep), options).text),
        );
        expect(strict.problems).toEqual([]);
      }),
      { seed: 5, numRuns: 2000 },
    );
  });

  test("when an arc is a helix, Z is on its line", () => {
    const track = arc(30, 0, 90);
    track.z[4] = 89;
    expect(body(track).at(-1)).toBe("G3 X0.000 Y30.000 Z89.000 I-30.000 J0.000 F6000");
  });
});

describe("events", () => {
  test("M4, a change of speed, stops, another tool and another offset are written as what they are", () => {
    const track = startedTrack();
    const event = (kind: Kind, value: number) => track.push(kind, -40, 10, 90, value);
    event(Kind.spindle, -12_000);
    event(Kind.spindle, -9000.5);
    event(Kind.stop, NaN);
    event(Kind.offset, 54);
    event(Kind.offset, 59.1);
    event(Kind.toolChange, 3);
    event(Kind.dwell, 0.25);
    event(Kind.dwell, 0);
    track.push(Kind.rapid, -40, 10, 90);
    expect(body(track)).toEqual([
      ...["S12000 M4", "S9000.5 M4", "M0", "G59.1", "T3 M6", "G4 P0.25"],
      // After another zero every coordinate is said again.
      "X-40.000 Y10.000 Z90.000",
    ]);
  });

  test("when the shop changes tools by M6, the call stands after its own lines and before the first move", () => {
    const style = { ...plainStyle, toolChange: "M6" as const, start: ["M7", "G4 P2"], end: ["M9"] };
    const all = lines(startedTrack(), { units: "mm", style, tool: 5 });
    expect(all.slice(7, 12)).toEqual(["G54", "M7", "G4 P2", "T5 M6", "G0 Z90.000"]);
    expect(all.slice(-3)).toEqual(["M5", "M9", "M30"]);
  });

  test("when the track goes on after its end, the text does not", () => {
    const track = startedTrack();
    track.push(Kind.end, -40, 10, 90);
    track.push(Kind.cut, 0, 0, 0, 6000);
    expect(lines(track).at(-1)).toBe("M30");
    expect(body(track)).toEqual([]);
  });

  test("when the spindle was stopped by the track, M5 stands once", () => {
    const track = startedTrack();
    track.push(Kind.spindle, -40, 10, 90, 0);
    expect(lines(track).filter((line) => line === "M5").length).toBe(1);
  });
});

describe("line numbers", () => {
  test("every line has its own number, comments too, and reads all the same", () => {
    const style = { ...plainStyle, lineNumbers: true };
    const all = lines(startedTrack(), { units: "mm", style, header: ["counter"] });
    all.forEach((line, k) => {
      expect(line.startsWith(`N${k + 1} `)).toBe(true);
    });
    expect(readProgram(all.map((line) => `${line}\n`).join("")).findings).toEqual([]);
  });

  test("when there are more than 99999 lines, numbers start anew at 1", () => {
    const track = startedTrack();
    for (let i = 0; i < 100_010; i++) track.push(Kind.cut, i % 2, 10, 90, 6000);
    const all = lines(track, { units: "mm", style: { ...plainStyle, lineNumbers: true } });
    expect(all[99_998].split(" ")[0]).toBe("N99999");
    expect(all[99_999].split(" ")[0]).toBe("N1");
  });
});

describe("comments", () => {
  test("when comments are off, there are none", () => {
    const style = { ...plainStyle, comments: false };
    const all = lines(startedTrack(), {
      units: "mm",
      style,
      header: ["x"],
      notes: [{ entry: 0, text: "y" }],
    });
    expect(all.filter((line) => line.includes("("))).toEqual([]);
  });

  test("when a name tries to close the comment or start a line, it stays a comment", () => {
    expect(commentLines("a) G0 Z-100 (b")).toEqual(["a] G0 Z-100 [b"]);
    expect(commentLines("one\r\nG0 Z-100\n%\nM30")).toEqual(["one G0 Z-100 percent M30"]);
    expect(commentLines("95 % clean")).toEqual(["95 percent clean"]);
  });

  test("accents are dropped, signs have a plain form, the rest becomes a question mark", () => {
    expect(commentLines("Nußbaum · Übermaß ½ × 3 – “river”")).toEqual([
      'Nussbaum ? Ubermass 1/2 x 3 - "river"',
    ]);
    expect(commentLines("栗の木 🌳")).toEqual(["??? ?"]);
    expect(commentLines("wait! ~50; go")).toEqual(["wait. -50, go"]);
    expect(commentLines(" \t\u0000 ")).toEqual(["?"]);
    expect(commentLines("   ")).toEqual([]);
  });

  test("words that controllers act on at the start of a comment are moved away from the start", () => {
    for (const text of [
      "MSG, hello",
      "m s g,x",
      "DEBUG,#5",
      "PRINT,x",
      "LOGOPEN,f",
      "log close",
      "PROBEOPEN f",
      "py,1",
    ]) {
      expect(commentLines(text)[0].startsWith("- ")).toBe(true);
    }
    expect(commentLines("Message to the operator")).toEqual(["Message to the operator"]);
  });

  test("when a text is long, it is folded between words, and every piece is harmless", () => {
    const text = `${"walnut ".repeat(60)}${"x".repeat(300)} MSG, boo`;
    const folded = commentLines(text);
    for (const line of folded) expect(line.length).toBeLessThanOrEqual(98);
    expect(folded.join("").replaceAll(/[ -]/g, "")).toBe(text.replaceAll(/[ -]/g, ""));
  });

  test("300 hostile texts, seed 9: the program keeps its moves and reads without a finding", () => {
    const piece = fc.oneof(
      fc.string({ unit: "binary", maxLength: 40 }),
      fc.constantFrom(
        "(",
        ")",
        "%",
        "\n",
        "\r",
        ";",
        "MSG,",
        "M30",
        "G0Z-9",
        "\u2028",
        "\u0085",
        "/",
        "#",
        "\ud800",
      ),
    );
    const hostile = fc.array(piece, { maxLength: 30 }).map((pieces) => pieces.join(""));
    const wanted = readStrictly(
      lines(startedTrack())
        .map((line) => `${line}\n`)
        .join(""),
    ).moves;
    fc.assert(
      fc.property(hostile, hostile, fc.boolean(), (header, note, lineNumbers) => {
        const style = { ...plainStyle, lineNumbers };
        const options = { units: "mm" as const, style, header: [header], notes: [{ entry: 1, text: note }] };
        const { text } = writeProgram(startedTrack(), options);
        const strict = readStrictly(new TextDecoder().decode(text));
        expect(strict.problems).toEqual([]);
        expect(strict.moves.map(({ line: _, ...move }) => move)).toEqual(
          wanted.map(({ line: _, ...move }) => move),
        );
        expect(readProgram(text).findings).toEqual([]);
      }),
      { seed: 9, numRuns: 300 },
    );
  });
});
