// The clock against brute force on random tracks of straight moves and arcs, tangent or not.

import fc from "fast-check";
import { expect, test } from "vitest";
import { trackTimes } from "../../src/motion/clock.ts";
import { Kind, Track } from "../../src/motion/track.ts";
import { type SlowMove, slowSeconds } from "../oracles/slow-clock.ts";
import { evenMachine, gantry } from "./machines.ts";

const step = fc.record({
  what: fc.constantFrom("rapid", "cut", "cut", "arc"),
  direction: fc.integer({ min: 0, max: 359 }),
  length: fc.integer({ min: 1, max: 80 }),
  rise: fc.constantFrom(0, 0, 0, -20, 35),
  turn: fc.constantFrom(-180, -90, -30, 45, 120, 180, 300),
  radius: fc.constantFrom(2, 12, 31.75, 200),
  /** Whether the move goes on in the direction of the one before. */
  smooth: fc.boolean(),
  feed: fc.constantFrom(20, 75, 150, 400),
});

test("60 random tracks, seed 21: brute force in steps of 0.05 mm gives the same time within 0.3 percent", () => {
  fc.assert(
    fc.property(
      fc.array(step, { minLength: 1, maxLength: 8 }),
      fc.constantFrom(gantry, evenMachine()),
      (steps, machine) => {
        const moves: SlowMove[] = [];
        let at: readonly [number, number, number] = [0, 0, 0];
        let heading = 0;
        for (const s of steps) {
          if (!s.smooth) heading = (s.direction * Math.PI) / 180;
          const [x, y, z] = at;
          if (s.what === "arc") {
            const sign = Math.sign(s.turn);
            const sweep = (s.turn * Math.PI) / 180;
            const centre = {
              x: x - sign * s.radius * Math.sin(heading),
              y: y + sign * s.radius * Math.cos(heading),
            };
            heading += sweep;
            const to = [
              centre.x + sign * s.radius * Math.sin(heading),
              centre.y - sign * s.radius * Math.cos(heading),
              z,
            ] as const;
            moves.push({ rapid: false, feed: s.feed, from: at, to, arc: { ...centre, sweep } });
            at = to;
          } else {
            const to = [
              x + s.length * Math.cos(heading),
              y + s.length * Math.sin(heading),
              z + s.rise,
            ] as const;
            moves.push({ rapid: s.what === "rapid", feed: s.feed, from: at, to, arc: null });
            at = to;
          }
        }
        const track = new Track(16);
        track.push(Kind.rapid, 0, 0, 0);
        for (const move of moves) {
          const curved = (move.arc?.sweep ?? 0) > 0 ? Kind.arcCounter : Kind.arcClockwise;
          const kind = move.arc !== null ? curved : move.rapid ? Kind.rapid : Kind.cut;
          const i = track.push(kind, ...move.to, move.feed * 60);
          track.centreX[i] = move.arc?.x ?? 0;
          track.centreY[i] = move.arc?.y ?? 0;
        }
        const { total } = trackTimes(track, machine);
        expect(Math.abs(total / slowSeconds(moves, machine, 0.05) - 1)).toBeLessThan(0.003);
      },
    ),
    { seed: 21, numRuns: 60 },
  );
});
