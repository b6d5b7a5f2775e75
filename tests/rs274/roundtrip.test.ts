// What is written and read back is the same track, within the rounding of its last decimal.

import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { Kind, Track } from "../../src/motion/track.ts";
import { ProgramReader, readProgram } from "../../src/rs274/read.ts";
import { writeProgram } from "../../src/rs274/write.ts";
import type { Units } from "../../src/units.ts";
import { readStrictly } from "../oracles/strict-reader.ts";
import { plainStyle } from "./style.ts";
import { anyTrack, pointsOnMove } from "./tracks.ts";

const decoder = new TextDecoder();

/** A centre moved by ten decimals, seen from the far side of its circle: its own way, twice. */
const ARC_OFF = 45;

/** Half the last decimal, mm. */
const HALF = { mm: 0.0005, in: 0.00005 * 25.4 } as const;

describe.each<Units>(["mm", "in"])("in %s, 400 random tracks, seed 274", (units) => {
  const options = { units, style: plainStyle };

  test("every program passes the strict reader, and reads without a finding", () => {
    fc.assert(
      fc.property(anyTrack, fc.boolean(), (track, lineNumbers) => {
        const { text, lines } = writeProgram(track, { units, style: { ...plainStyle, lineNumbers } });
        const strict = readStrictly(decoder.decode(text));
        expect(strict.problems).toEqual([]);
        const read = readProgram(text);
        expect(read.findings).toEqual([]);
        expect([read.ok, read.lines, read.units]).toEqual([true, lines, units]);
        // The two readers agree on every move.
        const moves = movesOf(read.track);
        expect(moves.length).toBe(strict.moves.length);
        moves.forEach((i, k) => {
          const move = strict.moves[k];
          expect(read.track.line[i]).toBe(move.line);
          expect([read.track.x[i], read.track.y[i], read.track.z[i]]).toEqual([move.x, move.y, move.z]);
          expect(`G${read.track.kind[i]}`).toBe(move.word);
          expect(read.track.value[i]).toEqual(move.feed);
          if (read.track.kind[i] < Kind.arcClockwise) return;
          expect([read.track.centreX[i], read.track.centreY[i]]).toEqual([move.centreX, move.centreY]);
        });
      }),
      { seed: 274, numRuns: 400 },
    );
  });

  test("every entry comes back at its line: end within half a decimal, feed within half a decimal", () => {
    fc.assert(
      fc.property(anyTrack, (track) => {
        const { text } = writeProgram(track, options);
        const read = readProgram(text).track;
        const byLine = new Map<number, number>();
        for (let i = 0; i < read.count; i++) byLine.set(read.line[i], i);
        for (let k = 0; k < track.count; k++) {
          const i = byLine.get(track.line[k]);
          if (i === undefined) throw new Error(`entry ${k} has line ${track.line[k]}`);
          // An end nearly on its start may be put onto it, one decimal off.
          const slack = HALF[units] * (track.kind[k] >= Kind.arcClockwise ? 3 : 1) + 1e-9;
          if (!Number.isNaN(track.x[k])) expect(Math.abs(read.x[i] - track.x[k])).toBeLessThanOrEqual(slack);
          if (!Number.isNaN(track.y[k])) expect(Math.abs(read.y[i] - track.y[k])).toBeLessThanOrEqual(slack);
          expect(Math.abs(read.z[i] - track.z[k])).toBeLessThanOrEqual(HALF[units] + 1e-9);
          if (track.kind[k] === Kind.dwell || track.kind[k] === Kind.spindle) {
            expect(read.kind[i]).toBe(track.kind[k]);
            expect(read.value[i]).toBe(track.value[k]);
          }
        }
      }),
      { seed: 274, numRuns: 400 },
    );
  });

  test("every arc's path comes back within a few decimals all along, full circles and flat ones too", () => {
    fc.assert(
      fc.property(anyTrack, (track) => {
        const { text } = writeProgram(track, options);
        const read = readProgram(text).track;
        const byLine = new Map(movesOf(read).map((i) => [read.line[i], i]));
        for (const i of movesOf(track)) {
          // Left out, as it came to nothing, or from a place not known yet.
          if (i < 2 || track.line[i] === track.line[i - 1]) continue;
          const there = pointsOnMove(track, i, 17);
          const back = pointsOnMove(read, byLine.get(track.line[i]) ?? 0, 17);
          const apart = there.map((p, k) => Math.hypot(p.x - back[k].x, p.y - back[k].y, p.z - back[k].z));
          expect(Math.max(...apart)).toBeLessThan(ARC_OFF * HALF[units]);
        }
      }),
      { seed: 274, numRuns: 400 },
    );
  });

  test("written, read and written again, the text stays the same, but for arcs as flat as the rounding", () => {
    fc.assert(
      fc.property(anyTrack, (track) => {
        fc.pre(
          movesOf(track).every(
            (i) => track.kind[i] < Kind.arcClockwise || riseOfArc(track, i) > 4 * HALF[units],
          ),
        );
        const once = decoder.decode(writeProgram(track, options).text);
        const twice = decoder.decode(writeProgram(readProgram(once).track, options).text);
        expect(twice).toBe(once);
      }),
      { seed: 274, numRuns: 400 },
    );
  });
});

test("when the text comes in pieces of any size, the same track is read", () => {
  fc.assert(
    fc.property(
      anyTrack,
      fc.constantFrom("\n", "\r\n", "\r"),
      fc.integer({ min: 1, max: 40 }),
      (track, end, size) => {
        const text = decoder
          .decode(writeProgram(track, { units: "mm", style: plainStyle }).text)
          .replaceAll("\n", end);
        const whole = readProgram(text);
        expect(whole.findings).toEqual([]);
        const reader = new ProgramReader(new Track());
        for (let k = 0; k < text.length; k += size) reader.feed(text.slice(k, k + size));
        const pieces = reader.finish();
        expect(pieces.findings).toEqual([]);
        expect(pieces.lines).toBe(whole.lines);
        expect(columns(pieces.track)).toEqual(columns(whole.track));
      },
    ),
    { seed: 275, numRuns: 150 },
  );
});

function movesOf(track: Track): number[] {
  return Array.from({ length: track.count }, (_, i) => i).filter((i) => track.kind[i] <= Kind.arcCounter);
}

/** How far an arc's middle lies off its chord. */
function riseOfArc(track: Track, i: number): number {
  const [start, middle, end] = pointsOnMove(track, i, 3);
  return Math.hypot(middle.x - (start.x + end.x) / 2, middle.y - (start.y + end.y) / 2);
}

function columns(track: Track): unknown[] {
  const { count, kind, x, y, z, value, line } = track;
  return [kind, x, y, z, value, line].map((column) => Array.from(column.subarray(0, count)));
}
