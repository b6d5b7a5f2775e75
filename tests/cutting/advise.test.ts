import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { type Asked, advise, type Cutting } from "../../src/cutting/advise.ts";
import { chipShare } from "../../src/cutting/chips.ts";
import { type Material, materialNamed } from "../../src/cutting/materials.ts";
import { cuttingWarnings } from "../../src/cutting/warnings.ts";
import type { Cutter, Machine, Setup } from "../../src/job/job.ts";

const machine: Machine = {
  name: "shed router",
  travelMm: { x: 2500, y: 1300, z: 150 },
  feedLimitMmPerMin: { x: 12_000, y: 10_000, z: 3000 },
  rapidMmPerMin: { x: 15_000, y: 15_000, z: 4000 },
  accelerationMmPerS2: { x: 500, y: 500, z: 200 },
  cornerDeviationMm: 0.05,
  spindle: {
    speedMin: 6000,
    speedMax: 24_000,
    powerKw: 3,
    efficiency: 0.8,
    spinUpSeconds: 5,
    outOfSquare: { x: 0, y: 0 },
  },
  nose: null,
};
const cutter: Cutter = {
  id: "flat60",
  name: "60 mm surfacing cutter",
  diameterMm: 60,
  edges: 3,
  speedMax: 18_000,
  depthMaxMm: 4,
  chipLoadMm: { min: 0.1, max: 0.3 },
  centreCutting: false,
  inserts: null,
};
const walnut = materialNamed("walnut") as Material;
const resin = materialNamed("resin") as Material;
const base: Cutting = {
  cutter,
  machine,
  depthMm: 2,
  stepoverShare: 0.6,
  finish: null,
  wood: walnut,
  resin: null,
};
const ALL: Asked = {
  speed: "advise",
  feedMmPerMin: "advise",
  resinFeedMmPerMin: null,
  finishFeedMmPerMin: null,
};
const ask = (asked: Partial<Asked> = {}, cutting: Partial<Cutting> = {}) =>
  advise({ ...ALL, ...asked }, { ...base, ...cutting }, "mm");
const spindle = (change: Partial<Machine["spindle"]>): Machine => ({
  ...machine,
  spindle: { ...machine.spindle, ...change },
});

// By hand: chips of 0.2 mm, the middle of the range; a row 60 mm wide and 2 mm deep in walnut at 40 J/cm3
// takes 2.4 kW at 30 000 mm/min. The slower axis reaches 10 000 mm/min, which wants 10 000 / 0.6 = 16 666 rev/min.
test("when the axes are what is slow then the feed is theirs and the speed follows", () => {
  const { feedMmPerMin, speed, text } = ask();
  expect(speed).toBe(16_600);
  // Rounded down with the speed: 0.2 * 3 * 16 600 = 9960.
  expect(feedMmPerMin).toBe(9950);
  expect(text).toBe(
    'cutter "flat60" at 16600 rev/min; 9950 mm/min in the passes, where the axes reach 10000 mm/min',
  );
});

test("when the cutter may not turn faster then chips bound the feed", () => {
  // By hand: 0.2 * 3 * 12 000 = 7200.
  const { feedMmPerMin, speed, text } = ask({}, { cutter: { ...cutter, speedMax: 12_000 } });
  expect([feedMmPerMin, speed]).toEqual([7200, 12_000]);
  expect(text).toContain(
    "chips of 0.2 mm are the middle of the cutter's range at the greatest speed of cutter",
  );
});

test("when the spindle is weak then its power bounds the feed", () => {
  // By hand: 0.4 kW / (60 mm * 2 mm * 40 J/cm3) = 5000 mm/min, 5000 / 0.6 = 8333 rev/min.
  const { feedMmPerMin, speed, text } = ask({}, { machine: spindle({ powerKw: 0.5 }) });
  expect(speed).toBe(8300);
  expect(feedMmPerMin).toBe(4950);
  expect(text).toContain(
    "a row as wide as the cutter, 2 mm deep in walnut, takes all of the spindle's 0.4 kW",
  );
});

test("when rows are narrow then the feed is higher by the thinning of chips", () => {
  // By hand: at 10 % of the cutter chips are 0.6 of the feed per edge, so 0.2 / 0.6 * 3 * 10 000 = 10 000 mm/min.
  const { feedMmPerMin, speed } = ask({ speed: 10_000 }, { stepoverShare: 0.1 });
  expect([feedMmPerMin, speed]).toEqual([10_000, 10_000]);
  expect(chipShare(0.1, 1)).toBeCloseTo(0.6, 12);
});

test("when the feed is given then it stays, and the speed makes its chips right", () => {
  // By hand: 6000 / 0.6 = 10 000 rev/min.
  expect(ask({ feedMmPerMin: 6000 })).toMatchObject({
    feedMmPerMin: 6000,
    speed: 10_000,
    resinFeedMmPerMin: null,
  });
  expect(ask({ feedMmPerMin: 6000 }).text).toContain("6000 mm/min in the passes as given");
});

test("when the speed is given then it stays, and the feed makes its chips right", () => {
  // By hand: 0.2 * 3 * 14 000 = 8400 mm/min.
  expect(ask({ speed: 14_000 })).toMatchObject({ feedMmPerMin: 8400, speed: 14_000 });
});

test("when there is resin then it gets a feed of its own, and the speed leaves no chip too thin", () => {
  // By hand: 2.4 kW / (60 mm * 2 mm * 200 J/cm3) = 6000 mm/min; 6000 / (3 * 16 600) = 0.12 mm, within the range.
  const { resinFeedMmPerMin, speed, text } = ask({}, { resin });
  expect([resinFeedMmPerMin, speed]).toEqual([6000, 16_600]);
  expect(text).toContain("6000 mm/min in resin, where a row as wide");
  // Half the power: 3000 mm/min, whose chips are 0.1 mm at 10 000 rev/min; the wood then gets 0.2 * 3 * 10 000.
  const weak = ask({}, { resin, machine: spindle({ powerKw: 1.5 }) });
  expect([weak.resinFeedMmPerMin, weak.speed, weak.feedMmPerMin]).toEqual([3000, 10_000, 6000]);
});

test("when the feed is given and resin's is not then resin is cut with it, as the job says", () => {
  expect(ask({ feedMmPerMin: 5000 }, { resin }).resinFeedMmPerMin).toBeNull();
  expect(ask({ feedMmPerMin: 5000, resinFeedMmPerMin: 3000 }, { resin }).resinFeedMmPerMin).toBe(3000);
});

test("when there is a finish pass then it gets the feed of its own rows, or what the job gives", () => {
  const finish = { depthMm: 0.5, stepoverShare: 0.2 };
  // By hand: at 20 % chips are 0.8 of the feed per edge: 0.2 / 0.8 * 3 * 10 000 = 7500 mm/min.
  expect(ask({ speed: 10_000 }, { finish }).finishFeedMmPerMin).toBe(7500);
  expect(ask({ speed: 10_000, finishFeedMmPerMin: 4000 }, { finish }).finishFeedMmPerMin).toBe(4000);
  expect(ask({ feedMmPerMin: 5000 }, { finish }).finishFeedMmPerMin).toBe(5000);
});

test("when the job is in inches then so are the text and what feeds are rounded to", () => {
  const { feedMmPerMin, text } = advise(ALL, base, "in");
  expect(feedMmPerMin / 50.8).toBeCloseTo(Math.round(feedMmPerMin / 50.8), 9);
  expect(text).toContain("392 in/min in the passes, where the axes reach 393.7 in/min");
});

test("when cutter and spindle share no speed then the cutter's is kept", () => {
  expect(ask({}, { machine: spindle({ speedMin: 20_000 }) }).speed).toBe(18_000);
});

const seed = 20260;
describe(`any shop and job, seed ${seed}`, () => {
  const cuttings = fc.record({
    diameterMm: fc.double({ min: 20, max: 100, noNaN: true }),
    edges: fc.integer({ min: 1, max: 6 }),
    speedMax: fc.integer({ min: 8000, max: 24_000 }),
    chip: fc.tuple(
      fc.double({ min: 0.02, max: 0.3, noNaN: true }),
      fc.double({ min: 1.2, max: 6, noNaN: true }),
    ),
    powerKw: fc.double({ min: 0.3, max: 10, noNaN: true }),
    feedX: fc.double({ min: 2000, max: 30_000, noNaN: true }),
    depthMm: fc.double({ min: 0.3, max: 4, noNaN: true }),
    stepoverShare: fc.double({ min: 0.1, max: 1, noNaN: true }),
    finish: fc.option(
      fc.record({
        depthMm: fc.double({ min: 0.2, max: 1, noNaN: true }),
        stepoverShare: fc.double({ min: 0.3, max: 0.8, noNaN: true }),
      }),
    ),
    withResin: fc.boolean(),
    units: fc.constantFrom("mm" as const, "in" as const),
  });

  test("the advice draws no warning wherever anything could be right", () => {
    let sound = 0;
    fc.assert(
      fc.property(cuttings, (drawn) => {
        const { chip, powerKw, feedX, depthMm, stepoverShare, finish, withResin, units } = drawn;
        const chipLoadMm = { min: chip[0], max: chip[0] * chip[1] };
        const own = {
          ...cutter,
          diameterMm: drawn.diameterMm,
          edges: drawn.edges,
          speedMax: drawn.speedMax,
          chipLoadMm,
        };
        const on: Machine = {
          ...machine,
          feedLimitMmPerMin: { x: feedX, y: feedX, z: 2000 },
          spindle: { ...machine.spindle, powerKw },
        };
        const cutting = {
          ...base,
          cutter: own,
          machine: on,
          depthMm,
          stepoverShare,
          finish,
          resin: withResin ? resin : null,
        };
        const advice = advise(ALL, cutting, units);
        const outline = Float64Array.of(0, 0, 900, 0, 900, 400, 0, 400);
        const setup = {
          pieces: [
            {
              ...{ id: "top", material: withResin ? "walnut and epoxy" : "walnut", outline, madeOf: [] },
              ...{ wood: withResin ? [outline] : null, shellMm: { upper: 0, under: 0 } },
            },
          ],
          cutter: own,
          passes: {
            ...{ stepoverShare, depthMm, speed: advice.speed, feedMmPerMin: advice.feedMmPerMin },
            resinFeedMmPerMin: advice.resinFeedMmPerMin,
            finish: finish && { ...finish, feedMmPerMin: advice.finishFeedMmPerMin },
          },
        } as unknown as Setup;
        const warnings = cuttingWarnings(setup, on, stepoverShare * own.diameterMm, depthMm, 0, units);

        // The least speed wants the least feed: if that one is out of reach, nothing can be right.
        const slots = [
          { shares: [stepoverShare], depths: [depthMm], energy: walnut.energyJPerCm3.high },
          ...(finish
            ? [
                {
                  shares: [finish.stepoverShare],
                  depths: [finish.depthMm],
                  energy: walnut.energyJPerCm3.high,
                },
              ]
            : []),
          ...(withResin
            ? [
                {
                  shares: [stepoverShare, ...(finish ? [finish.stepoverShare] : [])],
                  depths: [depthMm, ...(finish ? [finish.depthMm] : [])],
                  energy: resin.energyJPerCm3.high,
                },
              ]
            : []),
        ];
        const possible = slots.every(({ shares, depths, energy }) => {
          const chips = shares.map((share) => chipShare(share, 1));
          const least = (chipLoadMm.min * own.edges * 6000) / Math.min(...chips);
          const power = (powerKw * 0.8 * 6e7) / (Math.max(...depths) * own.diameterMm * energy);
          // A thousandth for rounding of feeds, and middle chips of the widest row that are thick enough for the narrowest.
          return (
            least * 1.001 <= Math.min(feedX, power) &&
            ((chipLoadMm.min + chipLoadMm.max) / 2 / Math.max(...chips)) * Math.min(...chips) >=
              chipLoadMm.min * 1.01
          );
        });
        if (!possible) return;
        sound++;
        expect(warnings).toEqual([]);
      }),
      { seed, numRuns: 2000 },
    );
    expect(sound).toBeGreaterThan(300);
  });
});
