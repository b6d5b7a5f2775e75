// What is chosen by the clock: half circles or straight turns, the direction of rows, low lifts.

import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Machine, Piece, Ring } from "../../src/job/job.ts";
import { trackTimes } from "../../src/motion/clock.ts";
import { Kind } from "../../src/motion/track.ts";
import { type PassesPlan, planPasses } from "../../src/passes/passes.ts";
import { uncutStock } from "../../src/survey/stock.ts";
import { anyRing, rectangle, ringOf } from "../region/shapes.ts";
import { box } from "../survey/pieces.ts";
import { machineWith, type SetupChange, setupOf } from "./setups.ts";

const SEED = 20_261_125;
const BOARD = rectangle(0, 0, 600, 200);

function planned(
  change: SetupChange = {},
  pieces: readonly Piece[] = [box(53, BOARD)],
  machine: Machine = machineWith(),
): PassesPlan {
  return planPasses(setupOf({ pieces, ...change }), machine, pieces.map(uncutStock), 0, "mm");
}

const isArc = (kind: number) => kind === Kind.arcClockwise || kind === Kind.arcCounter;
const arcsIn = ({ track }: PassesPlan) => track.kind.subarray(0, track.count).filter(isArc).length;
const secondsOf = ({ track }: PassesPlan, machine = machineWith()) => trackTimes(track, machine).total;

describe("turns from row to row", () => {
  test("are half circles at a feed at which corners cost time, and straight where they cost none", () => {
    const rows = planned().layers.reduce((sum, layer) => sum + layer.rows, 0);
    expect(arcsIn(planned())).toBe(rows - planned().layers.length);
    // By hand: at 10 mm/s four ramps at 500 mm/s2 lose 0.04 s, and a half circle is longer by more than a turn saves.
    expect(arcsIn(planned({ passes: { feedMmPerMin: 600 } }))).toBe(0);
  });

  test("as half circles bulge no farther than the last material but by their radius, and join rows half as far away", () => {
    const { track } = planned();
    for (let k = 1; k < track.count; k++) {
      if (!isArc(track.kind[k])) continue;
      const radius = Math.hypot(track.x[k] - track.centreX[k], track.y[k] - track.centreY[k]);
      expect(Math.abs(track.y[k] - track.y[k - 1])).toBeCloseTo(2 * radius, 9);
      expect(track.x[k]).toBe(track.x[k - 1]);
      const inside = Math.min(track.x[k], 600 - track.x[k]);
      expect(inside).toBeGreaterThan(0);
    }
  });

  test("are straight where an overrun is asked for, and where the machine has no room for more", () => {
    expect(arcsIn(planned({ passes: { overrunMm: 10 } }))).toBe(0);
    const { track } = planned({ passes: { feedMmPerMin: 600 } });
    const reach = (values: Float64Array) =>
      Math.max(...values.subarray(1, track.count)) - Math.min(...values.subarray(1, track.count));
    const [x, y] = [reach(track.x), reach(track.y)];
    const tight = { ...machineWith(), travelMm: { x: x + 1e-6, y: y + 60, z: 180 } };
    const plan = planned({ passes: { feedMmPerMin: 600 } }, undefined, tight);
    expect(arcsIn(plan)).toBe(0);
  });
});

describe("the quickest direction", () => {
  const outlines: Record<string, Ring> = {
    "a triangle": ringOf([0, 0], [900, 0], [200, 400]),
    "a board aslant": ringOf([0, 0], [800, 300], [700, 560], [-100, 260]),
    "a long one": rectangle(0, 0, 900, 150),
    "an L": ringOf([0, 0], [700, 0], [700, 150], [180, 150], [180, 500], [0, 500]),
  };

  test.each(Object.keys(outlines))("of %s is not slower than any other that may be asked for", (name) => {
    const pieces = [box(52, outlines[name])];
    const fastest = planned({ passes: { fastest: true } }, pieces);
    for (const degrees of [0, 90]) {
      const asked = planned({ passes: { angleRad: (degrees * Math.PI) / 180 } }, pieces);
      expect(secondsOf(fastest)).toBeLessThanOrEqual(secondsOf(asked) + 1e-9);
    }
  });

  test("property: of any outline it is no slower than along the grain", () => {
    fc.assert(
      fc.property(anyRing(250), fc.integer({ min: 0, max: 179 }), (ring, degrees) => {
        const pieces = [{ ...box(52, ring), grainRad: (degrees * Math.PI) / 180 }];
        const [fastest, grain] = [true, false].map((asked) =>
          secondsOf(planned({ passes: { fastest: asked } }, pieces)),
        );
        expect(fastest).toBeLessThanOrEqual(grain + 1e-9);
      }),
      { seed: SEED, numRuns: 12 },
    );
  });
});

describe("ways in air", () => {
  // Two boards too far apart to run on from one to the other.
  const apart = [box(53, rectangle(0, 0, 300, 100)), box(53, rectangle(1200, 0, 1500, 100))];

  test("between boards go as fast as the machine feeds, 1 mm over what the layer above has left", () => {
    const plan = planned({}, apart);
    const { track, layers, zeroMm } = plan;
    // Feeds have no limit here, so they go as fast as rapids.
    const { x, y } = machineWith().rapidMmPerMin;
    let fast = 0;
    for (let k = 1; k < track.count; k++) {
      if (track.kind[k] !== Kind.cut || track.value[k] <= 6000) continue;
      fast++;
      expect(track.value[k]).toBe(Math.min(x, y));
      for (const z of [track.z[k - 1], track.z[k]])
        expect(z + zeroMm.z).toBeCloseTo(layers[track.layer[k]].layer.topMm + 1, 9);
    }
    const rapids = [...track.kind.subarray(2, track.count)].filter((kind) => kind === Kind.rapid).length;
    expect(fast + rapids).toBeGreaterThan(0);
  });

  test("where rapids are much quicker than feeds they are rapids, with the clearance", () => {
    const machine = machineWith();
    const slow = { ...machine, feedLimitMmPerMin: { x: 6000, y: 6000, z: 6000 } };
    const { track } = planned({}, apart, { ...slow, rapidMmPerMin: { x: 60_000, y: 60_000, z: 60_000 } });
    const across = [];
    for (let k = 2; k < track.count; k++)
      if (track.kind[k] === Kind.rapid && track.x[k] !== track.x[k - 1] && !Number.isNaN(track.x[k - 1]))
        across.push(track.z[k]);
    expect(across.length).toBeGreaterThan(0);
    for (const z of across) expect(z).toBeGreaterThanOrEqual(50 + 10);
  });
});
