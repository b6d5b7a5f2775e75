// The clock against closed forms. Formulas: textbook trapezoid of speed; circle in a corner; all re-derived by hand.

import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Machine } from "../../src/job/job.ts";
import { ClockColumns, straightSeconds, trackTimes } from "../../src/motion/clock.ts";
import { Kind, Track } from "../../src/motion/track.ts";
import { evenMachine, gantry } from "./machines.ts";

/** A track that starts at a known place at rest: the way there is not counted. */
function trackFrom(x: number, y: number, z: number): Track {
  const track = new Track(16);
  track.push(Kind.rapid, x, y, z);
  return track;
}

function total(track: Track, machine: Machine): number {
  return trackTimes(track, machine).total;
}

describe("one move from rest to rest", () => {
  test("when the move is long enough for its speed, it takes L/v + v/a", () => {
    const track = trackFrom(0, 0, 0);
    track.push(Kind.cut, 1000, 0, 0, 6000);
    expect(total(track, evenMachine())).toBeCloseTo(10.2, 12);
    expect(straightSeconds(1000, 0, 0, 6000, evenMachine())).toBeCloseTo(10.2, 12);
  });

  test("when the move is too short for its speed, it takes 2 sqrt(L/a)", () => {
    expect(straightSeconds(10, 0, 0, 6000, evenMachine())).toBeCloseTo(2 * Math.sqrt(10 / 500), 12);
  });

  test("when two axes share a move, the slower axis for its part of the heading sets speed and acceleration", () => {
    // 3-4-5: heading (0.6, 0.8). Feed limits 15000 / 0.6 and 12000 / 0.8 = 15000 mm/min; acceleration 400 / 0.8 = 500.
    const seconds = straightSeconds(600, 800, 0, 30_000, gantry);
    expect(seconds).toBeCloseTo(1000 / 250 + 250 / 500, 12);
    // As a rapid: 18000 / 0.8 = 22500 mm/min.
    expect(straightSeconds(600, 800, 0, "rapid", gantry)).toBeCloseTo(1000 / 375 + 375 / 500, 12);
  });

  test("when nothing moves, nothing passes", () => {
    expect(straightSeconds(0, 0, 0, "rapid", gantry)).toBe(0);
    const track = trackFrom(1, 2, 3);
    track.push(Kind.cut, 1, 2, 3, 6000);
    expect(total(track, gantry)).toBe(0);
  });

  test("when no feed was given, the axes' limits hold and the total stays a number", () => {
    const track = trackFrom(0, 0, 0);
    track.push(Kind.cut, 1000, 0, 0, NaN);
    expect(total(track, gantry)).toBeCloseTo(1000 / 250 + 250 / 500, 12);
  });
});

describe("corners", () => {
  /** Two cuts of 100 mm with the given angle between the legs, seen from inside. */
  function corner(interiorDegrees: number): Track {
    const track = trackFrom(-100, 0, 0);
    track.push(Kind.cut, 0, 0, 0, 6000);
    const turn = Math.PI - (interiorDegrees * Math.PI) / 180;
    track.push(Kind.cut, 100 * Math.cos(turn), 100 * Math.sin(turn), 0, 6000);
    return track;
  }

  /** By the rule: circle of radius d s / (1 - s), acceleration the smallest of limit over change of heading. */
  function ruleSpeed(machine: Machine, u: readonly number[], w: readonly number[]): number {
    const limits = [
      machine.accelerationMmPerS2.x,
      machine.accelerationMmPerS2.y,
      machine.accelerationMmPerS2.z,
    ];
    const available = Math.min(...limits.map((limit, k) => limit / Math.abs(w[k] - u[k])));
    const cosine = -(u[0] * w[0] + u[1] * w[1] + u[2] * w[2]);
    const s = Math.sin(Math.acos(cosine) / 2);
    return Math.sqrt((available * machine.cornerDeviationMm * s) / (1 - s));
  }

  for (const degrees of [60, 90, 135, 170]) {
    test(`when the legs stand at ${degrees} degrees, the corner is passed at the speed of the rule`, () => {
      const machine = evenMachine();
      const columns = new ClockColumns();
      trackTimes(corner(degrees), machine, columns);
      const turn = Math.PI - (degrees * Math.PI) / 180;
      const speed = Math.min(100, ruleSpeed(machine, [1, 0, 0], [Math.cos(turn), Math.sin(turn), 0]));
      expect(Math.sqrt(columns.exitSq[1])).toBeCloseTo(speed, 9);
    });
  }

  test("when the track turns back on itself, it stops", () => {
    const track = trackFrom(0, 0, 0);
    track.push(Kind.cut, 100, 0, 0, 6000);
    track.push(Kind.cut, 0, 0, 0, 6000);
    expect(total(track, evenMachine())).toBeCloseTo(2 * (1 + 0.2), 12);
  });

  test("when a rapid runs into a cut, the corner rule holds between them", () => {
    const machine = evenMachine();
    const track = trackFrom(0, 0, 0);
    track.push(Kind.rapid, 1000, 0, 0);
    track.push(Kind.cut, 1000, 1000, 0, 6000);
    const corner = ruleSpeed(machine, [1, 0, 0], [0, 1, 0]);
    const half = (v: number) => v / 500 + (corner ** 2 / (2 * 500) - (corner / 500) * v) / v;
    const ends = (v: number) => 1000 / v + v / 500 - corner / 500 + corner ** 2 / (2 * 500 * v);
    expect(half(100)).toBeGreaterThan(0);
    expect(total(track, machine)).toBeCloseTo(ends(250) + ends(100), 9);
  });

  test("when Z is softer than X and Y, a corner down into Z is passed at Z's acceleration", () => {
    const columns = new ClockColumns();
    const track = trackFrom(0, 0, 100);
    track.push(Kind.rapid, 200, 0, 100);
    track.push(Kind.rapid, 200, 0, 0);
    trackTimes(track, gantry, columns);
    expect(Math.sqrt(columns.exitSq[1])).toBeCloseTo(ruleSpeed(gantry, [1, 0, 0], [0, 0, -1]), 9);
  });

  test("when the corner deviation is nothing, every corner is a stop and a straight line is not", () => {
    const track = trackFrom(0, 0, 0);
    track.push(Kind.cut, 500, 0, 0, 6000);
    track.push(Kind.cut, 1000, 0, 0, 6000);
    track.push(Kind.cut, 1000, 1000, 0, 6000);
    expect(total(track, evenMachine(500, 0))).toBeCloseTo(2 * 10.2, 9);
  });

  test("when a move of no length stands in a corner, the time is the same", () => {
    const plain = corner(90);
    const stuffed = trackFrom(-100, 0, 0);
    stuffed.push(Kind.cut, 0, 0, 0, 6000);
    stuffed.push(Kind.cut, 0, 0, 0, 3000);
    stuffed.push(Kind.rapid, 0, 0, 0);
    stuffed.push(Kind.cut, plain.x[2], plain.y[2], 0, 6000);
    expect(total(stuffed, gantry)).toBe(total(plain, gantry));
  });
});

describe("arcs", () => {
  test("when a full circle is run from rest to rest, its phase law gives the time in closed form", () => {
    // v^2 = a r sin(2 s / r) up to a quarter turn of phase: r pi / 4 on each side, each r / 2 / sqrt(a r) times
    // the lemniscate constant 2.622057554292119; the rest at sqrt(a r).
    const [a, r] = [500, 10];
    const track = trackFrom(r, 0, 0);
    const i = track.push(Kind.arcCounter, r, 0, 0, 60_000);
    track.centreX[i] = 0;
    track.centreY[i] = 0;
    const v = Math.sqrt(a * r);
    const ramps = 2 * (r / 2 / v) * 2.622057554292119;
    expect(total(track, evenMachine(a))).toBeCloseTo(ramps + (2 * Math.PI * r - (r * Math.PI) / 2) / v, 9);
  });

  test("when an arc is slow for its radius, it is timed as the straight line of its length, nearly", () => {
    // The budget is hardly touched at 20 mm/s on r = 1000 (0.4 of 500 mm/s^2).
    const track = trackFrom(1000, 0, 0);
    const i = track.push(Kind.arcCounter, 0, 1000, 0, 1200);
    track.centreX[i] = 0;
    track.centreY[i] = 0;
    expect(total(track, evenMachine())).toBeCloseTo(
      straightSeconds(500 * Math.PI, 0, 0, 1200, evenMachine()),
      6,
    );
  });

  test("when an arc never reaches its speed, fine steps of the law give the same time", () => {
    const [a, r, sweep] = [500, 30, 1.1];
    const track = trackFrom(r, 0, 0);
    const i = track.push(Kind.arcClockwise, r * Math.cos(sweep), -r * Math.sin(sweep), 0, 60_000);
    track.centreX[i] = 0;
    track.centreY[i] = 0;
    // Half the arc speeding up: integrate dt = dv / sqrt(a^2 - (v^2 / r)^2) in steps of v, to where half the way is done.
    let way = 0;
    let time = 0;
    const dv = 1e-5 * Math.sqrt(a * r);
    for (let v = dv / 2; way < (r * sweep) / 2; v += dv) {
      const tangential = Math.sqrt(a * a - ((v * v) / r) ** 2);
      way += (v * dv) / tangential;
      time += dv / tangential;
    }
    expect(total(track, evenMachine(a))).toBeCloseTo(2 * time, 4);
  });

  test("when an arc is a helix, the feed holds along the helix", () => {
    const machine = evenMachine(1e9);
    const track = trackFrom(10, 0, 0);
    const i = track.push(Kind.arcCounter, 10, 0, 30, 600);
    track.centreX[i] = 0;
    track.centreY[i] = 0;
    expect(total(track, machine)).toBeCloseTo(Math.hypot(20 * Math.PI, 30) / 10, 4);
  });

  test("when a half circle is split at any angles, the time stays", () => {
    fc.assert(
      fc.property(
        fc.uniqueArray(fc.integer({ min: 1, max: 99 }), { maxLength: 6 }),
        fc.double({ min: 1, max: 200, noNaN: true }),
        fc.double({ min: 100, max: 20_000, noNaN: true }),
        fc.double({ min: -5, max: 5, noNaN: true }),
        (shares, r, feed, rise) => {
          const build = (at: number[]) => {
            const track = trackFrom(-100, r, 0);
            track.push(Kind.cut, 0, r, 0, feed);
            for (const share of [...at, 1]) {
              const angle = Math.PI / 2 - share * Math.PI;
              const i = track.push(
                Kind.arcClockwise,
                r * Math.cos(angle),
                r * Math.sin(angle),
                rise * share,
                feed,
              );
              track.centreX[i] = 0;
              track.centreY[i] = 0;
            }
            track.push(Kind.cut, -100, -r, rise, feed);
            return track;
          };
          const whole = total(build([]), gantry);
          expect(total(build(shares.map((n) => n / 100).sort((a, b) => a - b)), gantry) / whole).toBeCloseTo(
            1,
            6,
          );
        },
      ),
      { seed: 11, numRuns: 200 },
    );
  });
});

describe("look-ahead", () => {
  test("when a straight move is split into collinear pieces, the time stays", () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(coordinate(), coordinate(), coordinate()), { minLength: 2, maxLength: 8 }),
        fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 8, maxLength: 8 }),
        (corners, pieces) => {
          const whole = trackFrom(0, 0, 0);
          const split = trackFrom(0, 0, 0);
          let [x, y, z] = [0, 0, 0];
          corners.forEach(([nx, ny, nz], k) => {
            const kind = k % 3 === 0 ? Kind.rapid : Kind.cut;
            whole.push(kind, nx, ny, nz, 5000);
            for (let p = 1; p <= pieces[k]; p++) {
              const t = p / pieces[k];
              split.push(kind, x + (nx - x) * t, y + (ny - y) * t, z + (nz - z) * t, 5000);
            }
            [x, y, z] = [nx, ny, nz];
          });
          const expected = total(whole, gantry);
          expect(Math.abs(total(split, gantry) - expected)).toBeLessThan(1e-6 * expected + 1e-9);
        },
      ),
      { seed: 12, numRuns: 300 },
    );
  });

  test("when the track is run backwards, the time stays", () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(coordinate(), coordinate(), coordinate()), { minLength: 3, maxLength: 30 }),
        (corners) => {
          const run = (points: typeof corners) => {
            const track = trackFrom(...points[0]);
            for (const point of points.slice(1)) track.push(Kind.cut, ...point, 7000);
            return total(track, gantry);
          };
          expect(run([...corners].reverse())).toBeCloseTo(run(corners), 9);
        },
      ),
      { seed: 13, numRuns: 200 },
    );
  });

  test("when the track zigzags in all axes, every move keeps to its speed and can brake to the next", () => {
    const columns = new ClockColumns();
    const track = trackFrom(0, 0, 0);
    for (let i = 1; i < 5000; i++) {
      track.push(Kind.cut, 50 * Math.cos(i * i), 50 * Math.sin(i * 1.7), (i % 7) - 3, 3000 + (i % 5) * 1000);
    }
    const times = trackTimes(track, gantry, columns);
    let sum = 0;
    let entrySq = 0;
    for (let i = 1; i < track.count; i++) {
      sum += times.seconds[i];
      const exitSq = columns.exitSq[i];
      const length = Math.hypot(
        track.x[i] - track.x[i - 1],
        track.y[i] - track.y[i - 1],
        track.z[i] - track.z[i - 1],
      );
      const changeSq = (2 * length) / columns.softness[i];
      expect(Math.abs(exitSq - entrySq)).toBeLessThanOrEqual(changeSq * (1 + 1e-9) + 1e-9);
      expect(Math.sqrt(exitSq)).toBeLessThanOrEqual(columns.speed[i] * (1 + 1e-12));
      expect(times.seconds[i]).toBeGreaterThanOrEqual((length / columns.speed[i]) * (1 - 1e-9));
      entrySq = exitSq;
    }
    expect(entrySq).toBe(0);
    expect(times.total).toBeCloseTo(sum, 6);
  });

  test("when anything but motion stands between two collinear moves, the cutter is at rest there", () => {
    for (const kind of [Kind.dwell, Kind.spindle, Kind.toolChange, Kind.stop, Kind.offset]) {
      const track = trackFrom(0, 0, 0);
      track.push(Kind.cut, 1000, 0, 0, 6000);
      track.push(kind, 1000, 0, 0, 0);
      track.push(Kind.cut, 2000, 0, 0, 6000);
      expect(total(track, evenMachine())).toBeCloseTo(20.4, 9);
    }
  });
});

describe("what is counted", () => {
  test("when the first place becomes known move by move, counting starts there and from rest", () => {
    const track = new Track(8);
    track.push(Kind.rapid, NaN, NaN, 50);
    track.push(Kind.rapid, 10, NaN, 50);
    track.push(Kind.rapid, 10, 20, 50);
    track.push(Kind.rapid, 1510, 20, 50);
    const times = trackTimes(track, evenMachine(800));
    expect([...times.seconds.slice(0, 3)]).toEqual([0, 0, 0]);
    expect(times.total).toBeCloseTo(6.3125, 12);
    expect(times.rapid).toBe(times.total);
  });

  test("when the spindle starts from standstill, its spin-up is counted once and a dwell after it counts towards it", () => {
    const spun = (...events: [Kind, number][]) => {
      const track = trackFrom(0, 0, 0);
      for (const [kind, value] of events) track.push(kind, 0, 0, 0, value);
      return trackTimes(track, evenMachine()).spindle;
    };
    expect(spun([Kind.spindle, 14000])).toBe(8);
    expect(spun([Kind.spindle, 14000], [Kind.dwell, 5])).toBe(8);
    expect(spun([Kind.spindle, 14000], [Kind.dwell, 12])).toBe(12);
    expect(spun([Kind.spindle, 14000], [Kind.dwell, 5], [Kind.dwell, 5])).toBe(10);
    expect(spun([Kind.spindle, 14000], [Kind.spindle, 12000])).toBe(8);
    expect(spun([Kind.spindle, 14000], [Kind.spindle, 0], [Kind.spindle, 14000])).toBe(16);
    expect(spun([Kind.spindle, 14000], [Kind.spindle, -14000])).toBe(16);
    expect(spun([Kind.spindle, 14000], [Kind.toolChange, 2], [Kind.spindle, 14000])).toBe(16);
    expect(spun([Kind.spindle, 0])).toBe(0);
    expect(spun([Kind.dwell, 3])).toBe(3);
  });

  test("when a motion stands between start and dwell, the dwell is counted in full", () => {
    const track = trackFrom(0, 0, 0);
    track.push(Kind.spindle, 0, 0, 0, 14000);
    track.push(Kind.rapid, 100, 0, 0);
    track.push(Kind.dwell, 100, 0, 0, 5);
    expect(trackTimes(track, evenMachine()).spindle).toBe(13);
  });

  test("when a person is waited for, no time passes", () => {
    const track = trackFrom(0, 0, 0);
    track.push(Kind.stop, 0, 0, 0);
    track.push(Kind.end, 0, 0, 0);
    expect(total(track, evenMachine())).toBe(0);
  });

  test("when columns are given again, a shorter track is timed as with new ones", () => {
    const columns = new ClockColumns();
    const long = trackFrom(0, 0, 0);
    for (let i = 1; i < 100; i++) long.push(Kind.cut, i % 2 ? 100 : 0, i, 0, 6000);
    trackTimes(long, gantry, columns);
    const short = trackFrom(0, 0, 0);
    short.push(Kind.spindle, 0, 0, 0, 9000);
    short.push(Kind.cut, 100, 0, 0, 6000);
    expect(trackTimes(short, gantry, columns).total).toBe(trackTimes(short, gantry).total);
  });
});

function coordinate(): fc.Arbitrary<number> {
  return fc.integer({ min: -400, max: 400 }).map((v) => v / 2);
}
