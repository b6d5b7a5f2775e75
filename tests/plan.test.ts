// From a job file to proven programs and what is told of them. Expectations are worked out on paper unless a
// source stands beside them; SOAK=200 plans that many random jobs for the strict reader instead of 20.

import { describe, expect, test } from "vitest";
import { planDocument } from "../src/document.ts";
import { PlanError } from "../src/errors.ts";
import type { Job } from "../src/job/job.ts";
import { readJob } from "../src/job/read.ts";
import { trackTimes } from "../src/motion/clock.ts";
import { checkProgram, type Plan, type PlannedSetup, planJob } from "../src/plan.ts";
import { readProgram } from "../src/rs274/read.ts";
import { exampleShop, hostWith, type Loose } from "./job/example.ts";
import { randomJob } from "./oracles/random-jobs.ts";
import { readSample, SAMPLE_NAMES } from "./oracles/read-sample.ts";
import { readStrictly, type StrictMove } from "./oracles/strict-reader.ts";

const SETUP = {
  id: "top",
  face: "upper",
  cutter: "flat63",
  target: { depth: 3 },
  margin: 0.5,
  passes: { feed: 6000, speed: 14000 },
};
/** 400 x 200 x 60 from (100, 50). */
const BOX = { id: "box", outline: { length: 400, width: 200, at: [100, 50] }, grain: 0, thickness: 60 };

/** A job in mm of these pieces, and setups that differ from the plain one so. */
function jobOf(pieces: Loose[], ...setups: Loose[]): Loose {
  return {
    format: "slabtrue-job/1",
    name: "Gatehouse shelf",
    units: "mm",
    shop: exampleShop(),
    pieces,
    setups: setups.map((setup) => ({ ...SETUP, ...setup, passes: { ...SETUP.passes, ...setup.passes } })),
  };
}

function asRead(job: Loose): Job {
  return readJob(JSON.stringify(job), "job.json", hostWith());
}

function planned(job: Loose): Plan {
  return planJob(asRead(job));
}

/** The first setup of a job of these pieces and one setup. */
function top(pieces: Loose[], setup: Loose = {}): PlannedSetup {
  return planned(jobOf(pieces, setup)).setups[0];
}

function refusal(job: Loose): PlanError {
  try {
    planned(job);
  } catch (error) {
    if (error instanceof PlanError) return error;
    throw error;
  }
  throw new Error("the job was planned");
}

function textOf({ programs }: PlannedSetup): string {
  return new TextDecoder().decode(programs[0].text);
}

function litres({ removedLitres }: PlannedSetup): number {
  return removedLitres.wood + removedLitres.resin;
}

function codesOf({ warnings }: PlannedSetup): string[] {
  return warnings.map(({ code }) => code);
}

/** A piece like the box whose face is `height`, read every 50 mm, the first row at `y0`. */
function measured(height: (x: number, y: number) => number, more: Loose = {}, y0 = 50): Loose {
  const heights = Array.from({ length: 5 }, (_, row) =>
    Array.from({ length: 9 }, (_, col) => height(100 + 50 * col, y0 + 50 * row)),
  );
  const upper = { grid: { at: [100, y0], step: [50, 50], rows: heights } };
  return { id: "box", outline: BOX.outline, grain: 0, upper, ...more };
}

/** Rises by 10 mm along the box, from 50 to 60. */
const rising = (x: number) => 50 + (x - 100) / 40;

describe("a box", () => {
  test("loses its area times the depth, exactly", () => {
    const plan = top([BOX]);
    expect(plan.floorMm).toBe(57);
    expect(litres(plan)).toBeCloseTo(0.4 * 2 * 0.3, 6); // 4 x 2 x 0.03 dm
    expect(plan.removedMostMm).toBe(3);
    expect(plan.pieces).toMatchObject([{ id: "box", cleanUp: 1, thinnestMm: 57, thickestMm: 57 }]);
    expect(plan.proof).toMatchObject({ ok: true, cleanUp: 1, highestMm: 57, lowestMm: 57 });
    expect(plan.warnings).toEqual([]);
  });

  const besideCleat = (thickness: number) => {
    const job = jobOf([BOX], {
      target: { thickness },
      passes: { depth: 4 },
      keepOut: [{ name: "cleat", outline: { length: 40, width: 40, at: [280, 230] }, height: 62 }],
    });
    job.shop.machine.nose = { diameter: 150, above: 25 };
    return planned(job).setups[0];
  };
  test("cut deep beside a cleat, wood that stays too near for the spindle nose is out of reach, not left standing", () => {
    const plan = besideCleat(34);
    expect(plan.proof).toMatchObject({ ok: true, lowestMm: 34, highestMm: 34 });
    // The last layer keeps the nose off what stands beside the cleat.
    expect(plan.pieces[0].cleanUp).toBeLessThan(0.9);
    expect(codesOf(plan)).toContain("under-keep-outs");
  });

  test("cut deeper still, what is forbidden beside a cleat does not grow with every layer", () => {
    expect(besideCleat(20).proof.ok).toBe(true);
  });

  test("and so do two, and one that is no rectangle", () => {
    const other = { ...BOX, id: "other", outline: { length: 150, width: 80, at: [100, 300] }, thickness: 59 };
    expect(litres(top([BOX, other]))).toBeCloseTo(0.4 * 2 * 0.3 + 0.15 * 0.8 * 0.2, 6);
    const step = [
      [0, 0],
      [400, 0],
      [400, 100],
      [250, 100],
      [250, 200],
      [0, 200],
    ];
    expect(litres(top([{ ...BOX, outline: step }]))).toBeCloseTo((0.4 * 1 + 0.25 * 1) * 0.3 * 1, 6);
  });

  test("is cut in equal layers from the highest wood that may stand, the last at the floor", () => {
    const { layers } = top([BOX], { passes: { depth: 1.2 } });
    expect(layers.map(({ zMm }) => Number(zMm.toFixed(3)))).toEqual([59.333, 58.167, 57]);
    expect(layers.every(({ depthMm }) => depthMm < 1.2)).toBe(true);
    expect(layers.every(({ kind, areaMm2 }) => kind === "rough" && Math.round(areaMm2) === 80_000)).toBe(
      true,
    );
    const finish = { depth: 0.4, stepover: 0.3, feed: 4000 };
    const last = top([BOX], { passes: { finish } }).layers.at(-1);
    expect(last).toMatchObject({ zMm: 57, kind: "finish" });
    expect(last?.depthMm).toBeCloseTo(0.4, 9);
  });

  // 56.7 in single precision is 56.7000008: a layer must not be added for that.
  test("of 56.7 mm without margin is cut 2 mm down in one layer of 2 mm", () => {
    const plan = top([{ ...BOX, thickness: 56.7 }], { target: { depth: 2 }, margin: 0 });
    expect(plan.layers).toHaveLength(1);
  });
});

describe("the floor", () => {
  const floor = (piece: Loose, setup: Loose) => top([piece], setup).floorMm;

  test("of a thickness is the thickness and what is left for sanding", () => {
    expect(floor(BOX, { target: { thickness: 55 } })).toBe(55);
    expect(floor(BOX, { target: { thickness: 55 }, leave: 0.4 })).toBe(55.4);
    expect(floor(measured(rising), { target: { thickness: "2 in" }, leave: 0.4 })).toBeCloseTo(51.2, 9);
  });

  test("of a depth lies below the highest reading inside the outlines, whatever is left for sanding", () => {
    expect(floor(measured(rising), { target: { depth: 2 }, leave: 0.4 })).toBe(58);
    const outside = { grid: { at: [50, 0], step: [50, 50], rows: [] as number[][] } };
    for (let row = 0; row < 7; row++)
      outside.grid.rows.push(Array.from({ length: 11 }, (_, col) => (col === 10 ? 90 : 55)));
    // The readings at x 550 stand at 90, beyond the outline's end at 500.
    expect(floor({ ...BOX, thickness: undefined, upper: outside }, { target: { depth: 2 } })).toBe(53);
    const two = [
      BOX,
      { ...BOX, id: "high", outline: { length: 100, width: 100, at: [100, 300] }, thickness: 61.5 },
    ];
    expect(top(two, { target: { depth: 2 } }).floorMm).toBe(59.5);
  });

  test("of a share is the highest that cuts as much of every piece, whatever is left for sanding", () => {
    // The plane lies above 60 - 10 s over the share s; a share is to be reached, so a hair lower.
    for (const share of [0.25, 0.6, 0.9]) {
      const plan = top([measured(rising)], { target: { cleanUp: share }, leave: 0.4 });
      expect(plan.floorMm).toBeLessThanOrEqual(60 - 10 * share);
      expect(plan.floorMm).toBeGreaterThan(60 - 10 * share - 0.02);
      expect(plan.pieces[0].cleanUp).toBeCloseTo(share, 2);
    }
    expect(top([measured(rising)], { target: { cleanUp: 1 } }).floorMm).toBeCloseTo(50, 2);
    const outline = { length: 400, width: 150, at: [100, 300] };
    const low = measured((x) => rising(x) - 4, { id: "low", outline }, 300);
    expect(top([measured(rising), low], { target: { cleanUp: 0.5 } }).floorMm).toBeCloseTo(51, 1);
  });

  test("is not moved by the margin, but the first layer is", () => {
    for (const margin of [0, 0.5, 3]) {
      const plan = top([measured(rising)], { target: { depth: 2 }, margin });
      expect(plan.floorMm).toBe(58);
      expect(plan.marginMm).toBe(margin);
      const deep = plan.layers.reduce((sum, { depthMm }) => sum + depthMm, 0);
      expect(deep).toBeCloseTo(2 + margin, 2);
    }
  });

  test("is the height that the program names", () => {
    const plan = top([BOX], { target: { depth: 1.23456 }, zero: { z: "high-spot" } });
    expect(plan.floorMm).toBe(60 - 1.235);
    expect(textOf(plan)).toContain("Z-1.235");
    expect(plan.extentMm.min[2]).toBe(-1.235);
  });
});

describe("the margin that nobody set", () => {
  const margin = (piece: Loose) => top([piece], { margin: undefined, target: { depth: 2 } }).marginMm;

  test("is half a millimetre for a box and for readings that agree", () => {
    expect(margin(BOX)).toBe(0.5);
    expect(margin(measured(rising))).toBe(0.5);
  });

  test("is more when the readings scatter more", () => {
    const rough = measured((x, y) => 55 + 0.8 * Math.sin(12.9898 * x + 78.233 * y));
    expect(margin(rough)).toBeGreaterThan(1);
  });
});

describe("a job that cannot be made is refused", () => {
  test("nothing-to-cut: with the floor at the highest place or above it, both told", () => {
    const error = refusal(jobOf([BOX], { target: { thickness: 60 } }));
    expect(error).toMatchObject({ code: "nothing-to-cut", setup: "top", line: 0 });
    const high = refusal(jobOf([BOX], { target: { thickness: 58 }, leave: 4 }));
    expect(high.message).toMatch(/62 mm.*60 mm/);
  });

  test("nothing-to-cut: both faces of a piece thinner than the even target", () => {
    for (const even of [60, 64]) {
      const error = refusal(jobOf([measured(rising)], { target: { even } }));
      expect(error).toMatchObject({ code: "nothing-to-cut", setup: "top" });
      expect(error.message).toContain(`measures 60 mm, and ${even} mm are to be left`);
    }
    expect(top([measured(rising)], { target: { even: 50 } }).removedMostMm).toBeGreaterThan(0);
  });

  test("travel in Z: names what stands so high, and where its unit may be wrong", () => {
    const clamp = { name: "clamp", outline: { length: 40, width: 40, at: [0, 0] } };
    const tall = refusal(jobOf([BOX], { keepOut: [{ ...clamp, height: 300 }] }));
    expect(tall).toMatchObject({ code: "travel" });
    expect(tall.message).toMatch(/in Z.*highest of all stands keep-out "clamp", 300 mm above the bed/);
    expect(tall.message).not.toContain("is it");
    const inches = refusal(jobOf([BOX], { keepOut: [{ ...clamp, height: "45 in" }] }));
    expect(inches.message).toContain('"clamp", 1143 mm above the bed; is it 45 mm?');
    const typo = measured((x, y) => (x === 300 && y === 150 ? 550 : 55));
    const wrong = refusal(jobOf([typo], { target: { thickness: 54 } }));
    expect(wrong.message).toContain('piece "box" at (300, 150) mm, 550 mm above the bed');
  });

  test("floor-in-bed: with the floor in the spoilboard", () => {
    const error = refusal(jobOf([BOX], { target: { depth: 60 } }));
    expect(error).toMatchObject({ code: "floor-in-bed", setup: "top" });
    expect(refusal(jobOf([BOX], { target: { depth: 62 } })).message).toMatch(/2 mm below.*60 mm/);
  });

  test("travel: wider than the machine, both told", () => {
    const long = { ...BOX, outline: { length: 2700, width: 200 } };
    const error = refusal(jobOf([long], {}));
    expect(error).toMatchObject({ code: "travel", setup: "top" });
    expect(error.message).toMatch(/in X.*2600 mm/);
    expect(error.message).not.toContain("highest");
    expect(error.message).not.toContain("in Y");
    const shop = exampleShop();
    shop.machine.travel.z = 10;
    expect(refusal({ ...jobOf([BOX], {}), shop }).code).toBe("travel");
  });

  test("nothing-in-reach: under a keep-out", () => {
    const keepOut = [{ name: "lid", outline: { length: 500, width: 300, at: [50, 0] }, height: 70 }];
    const error = refusal(jobOf([BOX], { keepOut }));
    expect(error).toMatchObject({ code: "nothing-in-reach", setup: "top" });
  });

  test("clean-up: more than keep-outs leave, and how much could be", () => {
    const keepOut = [{ name: "clamp", outline: { length: 100, width: 200, at: [250, 50] }, height: 70 }];
    const error = refusal(jobOf([measured(rising)], { keepOut, target: { cleanUp: 0.9 } }));
    expect(error).toMatchObject({ code: "clean-up", setup: "top" });
    // Rim and clamp stay 5 mm apart: of 400 mm, 290 are left.
    expect(error.message).toMatch(/90\.0 %.*72\.[3-5] %/);
  });

  test("the setup named is the one that fails", () => {
    expect(refusal(jobOf([BOX], { id: "first" }, { id: "second", target: { depth: 57 } }))).toMatchObject({
      code: "floor-in-bed",
      setup: "second",
    });
  });
});

describe("a piece cast in a mold, with walls all around", () => {
  const wall = (name: string, x: number, y: number, length: number, width: number) => ({
    name,
    outline: { length, width, at: [x, y] },
    height: 75,
  });
  const keepOut = [
    wall("near wall", 80, 30, 440, 20),
    wall("far wall", 80, 250, 440, 20),
    wall("left wall", 80, 50, 20, 200),
    wall("right wall", 500, 50, 20, 200),
  ];

  test("has no air to come down in", () => {
    const error = refusal(jobOf([BOX], { keepOut }));
    expect(error).toMatchObject({ code: "no-air", setup: "top" });
    expect(error.message).toContain('"entry": { "ramp": 2 }');
  });

  test("is cut from a ramp, up to the clearance from its walls", () => {
    const plan = top([BOX], { keepOut, passes: { entry: { ramp: 2 } } });
    expect(plan.proof.ok).toBe(true);
    // 5 mm along the walls and the corners that a disc of 63.5 mm leaves.
    const reach = (390 * 190 - (4 - Math.PI) * 31.75 ** 2) / 80_000;
    expect(plan.pieces[0].cleanUp).toBeGreaterThan(reach - 0.005);
    expect(plan.pieces[0].cleanUp).toBeLessThan(reach + 0.001);
    expect(codesOf(plan)).toContain("under-keep-outs");
  });
});

describe("two setups on the same face", () => {
  const twice = (first: Loose, second: Loose, piece: Loose = BOX) =>
    planned(jobOf([piece], { id: "first", ...first }, { id: "second", ...second })).setups;

  test("the second finds what the first left: its layers start from the cut face", () => {
    const [first, second] = twice({ target: { depth: 5 } }, { target: { depth: 1.5 } });
    expect(first.layers).toHaveLength(3);
    expect(second.floorMm).toBe(53.5);
    expect(second.layers).toHaveLength(1);
    expect(second.layers[0].depthMm).toBeCloseTo(1.5, 2);
    expect(litres(first) + litres(second)).toBeCloseTo(0.4 * 2 * 0.65, 6);
    expect(second.removedMostMm).toBeCloseTo(1.5, 9);
  });

  test("also when the piece lies askew, and none of its air is cut again", () => {
    const askew = {
      ...BOX,
      outline: [
        [110.3, 60.7],
        [490.2, 95.1],
        [470.8, 240.4],
        [300.1, 262.9],
        [95.5, 215.2],
      ],
    };
    const [, second] = twice({ target: { depth: 5 } }, { target: { depth: 1.5 } }, askew);
    expect(second.layers).toHaveLength(1);
  });

  test("depth and high-spot refer to the cut face", () => {
    const [, second] = twice(
      { target: { thickness: 56.7 } },
      { target: { depth: 1 }, zero: { x: 100, y: 50, z: "high-spot" } },
    );
    expect(second.zeroMm).toEqual({ x: 100, y: 50, z: 56.7 });
    expect(second.floorMm).toBeCloseTo(55.7, 9);
    expect(textOf(second)).toContain("Z-1.000");
  });

  test("a face that the first left partly uncut is found as it is", () => {
    // Cut down to 55 the plane is level over half its length and falls to 50 beyond.
    const [first, second] = twice(
      { target: { thickness: 55 }, margin: 0 },
      { target: { cleanUp: 1 }, margin: 0 },
      measured(rising),
    );
    expect(first.pieces[0].cleanUp).toBeCloseTo(0.5, 2);
    expect(second.floorMm).toBeCloseTo(50, 2);
    // 10 mm on average 5: half of it 5 mm deep on average 2.5, over half the face; the rest is the second's.
    expect(litres(first)).toBeCloseTo(0.4 * 2 * 0.25 * 0.5, 3);
    expect(litres(first) + litres(second)).toBeCloseTo(0.4 * 2 * 0.5, 3);
    // At the border of what was cut, the highest of the samples around counts: 0.1 mm on 4 mm of this slope.
    const highest = second.layers[0].zMm + second.layers[0].depthMm;
    expect(highest).toBeGreaterThanOrEqual(55);
    expect(highest).toBeLessThanOrEqual(55.11);
  });

  test("what stood under the first one's keep-out is the second's to cut, from its full height", () => {
    const clamp = (x: number) => [
      { name: "clamp", outline: { length: 60, width: 60, at: [x, 220] }, height: 80 },
    ];
    const [first, second] = twice(
      { keepOut: clamp(150) },
      { target: { thickness: 57 }, keepOut: clamp(350) },
    );
    expect(first.pieces[0].cleanUp).toBeLessThan(0.97);
    const [highest] = second.layers;
    expect(highest.zMm + highest.depthMm).toBeCloseTo(60.5, 2);
    // Only the ground that the first had to leave: the clamp, and 5 mm and some corners around it.
    expect(highest.areaMm2).toBeLessThan(4500);
    expect(litres(first) + litres(second)).toBeCloseTo(0.4 * 2 * 0.3, 3);
    // What lies at the floor since the first setup is not rough.
    expect(codesOf(second)).toEqual(["under-keep-outs"]);
  });

  const again = (thickness: number) =>
    refusal(jobOf([BOX], { target: { thickness } }, { id: "again", target: { thickness } }));
  test("when the first has cut all that the second would then the second has nothing to cut", () => {
    for (const thickness of [57, 56.7, 56.3, 50.8])
      expect(again(thickness)).toMatchObject({ code: "nothing-to-cut", setup: "again" });
  });

  // 55.123 in single precision is 55.1230011.
  test("also where the floor is a little higher in single precision", () => {
    expect(again(55.123)).toMatchObject({ code: "nothing-to-cut", setup: "again" });
  });

  test("each program is sound on its own wood only", () => {
    const raw = jobOf([BOX], { id: "first", target: { depth: 5 } }, { id: "second", target: { depth: 1.5 } });
    const job = asRead(raw);
    const [first, second] = planJob(job).setups;
    expect(checkProgram(job, "first", first.programs[0].text)).toMatchObject({ ok: true, findings: [] });
    expect(checkProgram(job, "second", second.programs[0].text)).toMatchObject({ ok: true, findings: [] });
    expect(checkProgram(job, "first", second.programs[0].text).findings.map(({ code }) => code)).toContain(
      "bite",
    );
    expect(checkProgram(job, "second", first.programs[0].text).findings.map(({ code }) => code)).toEqual([
      "left-standing",
    ]);
  });

  test("the second may cut some of the pieces, and the others are not its wood", () => {
    const other = { ...BOX, id: "other", outline: { length: 400, width: 100, at: [100, 300] } };
    const setups = planned(
      jobOf([BOX, other], { id: "both" }, { id: "one", pieces: ["other"], target: { depth: 1 } }),
    ).setups;
    expect(setups[1].floorMm).toBe(56);
    expect(litres(setups[1])).toBeCloseTo(0.4 * 1 * 0.1, 6);
    expect(setups[1].pieces.map(({ id }) => id)).toEqual(["other"]);
  });
});

describe("file names", () => {
  const names = (...ids: string[]) =>
    planned(jobOf([BOX], ...ids.map((id, k) => ({ id, target: { depth: 1 + k - k } })))).setups.map(
      ({ programs }) => programs[0].file,
    );

  test("are numbered in the order of work and safe on every system, whatever the setups are called", () => {
    expect(names("skim-upper", "../../etc/passwd", "a b/c\\d:e*?", "Öl & Wachs (1)", "con", "...")).toEqual([
      "01-skim-upper.nc",
      "02-etc-passwd.nc",
      "03-a-b-c-d-e.nc",
      "04-Ol-Wachs-1.nc",
      "05-con.nc",
      "06-setup.nc",
    ]);
    const [long] = names("x".repeat(80));
    expect(long.length).toBeLessThanOrEqual(70);
  });

  test("nothing in a name gets out of the program's comments", () => {
    const job = jobOf([{ ...BOX, id: "box) G0 Z-50 (" }], { id: "top) M3 (" });
    job.name = "shelf)\nG0 X0 (";
    const [setup] = planned(job).setups;
    expect(readStrictly(textOf(setup)).problems).toEqual([]);
    expect(checkProgram(asRead(job), "top) M3 (", setup.programs[0].text).ok).toBe(true);
  });
});

describe("what is told", () => {
  const job = jobOf(
    [
      measured((x, y) => 55 + 2 * Math.sin(x / 90) + y / 100),
      { ...BOX, id: "other", outline: { length: 300, width: 150, at: [100, 300] } },
    ],
    { id: "first", target: { cleanUp: 0.7 }, pieces: ["box"] },
    { id: "second", target: { depth: 4 }, pieces: ["other"], passes: { finish: { depth: 0.5 } } },
  );
  const plan = planned(job);

  test("seconds add up, over parts, programs, setups and layers, and are the clock's for the written text", () => {
    for (const { seconds, programs, layers } of plan.setups) {
      const { total, cutting, linking, rapid, spindle } = seconds;
      expect(cutting + linking + rapid + spindle).toBeCloseTo(total, 9);
      expect(programs.reduce((sum, program) => sum + program.seconds, 0)).toBeCloseTo(total, 9);
      expect(layers.reduce((sum, layer) => sum + layer.seconds, 0)).toBeCloseTo(total, 6);
      expect(trackTimes(readProgram(programs[0].text).track, plan.job.shop.machine).total).toBeCloseTo(
        total,
        9,
      );
      expect(Math.min(cutting, linking, rapid, spindle)).toBeGreaterThan(0);
    }
    const machine = plan.setups.reduce((sum, { seconds }) => sum + seconds.total, 0);
    expect(plan.seconds.machine).toBeCloseTo(machine, 9);
    expect(plan.seconds.shop).toBe(plan.seconds.machine); // the shop says nothing of people
  });

  test("shop seconds are the machine's and the people's: load where other pieces come onto the bed, zero each setup, change between cutters", () => {
    const withRates = structuredClone(job);
    withRates.shop.cutters.push({ ...withRates.shop.cutters[0], id: "other63" });
    withRates.shop.rates = {
      currency: "CAD",
      machineHour: 95,
      labourHour: 65,
      minutes: { load: 20, turnOver: 15, cutterChange: 4, zero: 3 },
    };
    const people = (told: Plan) => told.seconds.shop - told.seconds.machine;
    expect(people(planned(withRates))).toBeCloseTo(60 * (2 * 20 + 2 * 3), 6);
    withRates.setups[1].cutter = "other63";
    expect(people(planned(withRates))).toBeCloseTo(60 * (2 * 20 + 2 * 3 + 4), 6);
  });

  test("the extent is the program's own", () => {
    for (const setup of plan.setups) {
      const { moves } = readStrictly(textOf(setup));
      (["x", "y", "z"] as const).forEach((axis, k) => {
        const places = moves
          .flatMap((move, n) => [move, ...placesOnArc(moves[n - 1], move)])
          .map((place) => place[axis])
          .filter((place) => !Number.isNaN(place));
        // Of arcs only so many places are looked at.
        expect(setup.extentMm.min[k]).toBeCloseTo(Math.min(...places), 3);
        expect(setup.extentMm.max[k]).toBeCloseTo(Math.max(...places), 3);
      });
    }
  });

  test("layers go down, none deeper than allowed, and cut what they say", () => {
    for (const { layers, floorMm, setup } of plan.setups) {
      expect(layers.at(-1)?.zMm).toBe(floorMm);
      layers.forEach((layer, k) => {
        expect(layer.depthMm).toBeLessThanOrEqual(setup.passes.depthMm + 1e-9);
        if (k > 0) expect(layers[k - 1].zMm - layer.zMm).toBeCloseTo(layer.depthMm, 9);
        expect(layer.cutLengthMm).toBeGreaterThan(0);
        expect(layer.rows).toBeGreaterThan(0);
      });
    }
  });

  test("cautions are never left out", () => expect(plan.cautions.length).toBeGreaterThan(3));
});

describe("warnings", () => {
  test("suspect-reading: one that its neighbours deny, where and by how much", () => {
    const typo = measured((x, y) => (x === 300 && y === 150 ? 65 : 55));
    const plan = top([typo], { target: { depth: 11 }, margin: 1 });
    const found = plan.warnings.filter(({ code }) => code === "suspect-reading");
    expect(found).toHaveLength(1);
    expect(found[0].text).toMatch(/65 mm at \(300, 150\) mm is \d+(\.\d+)? mm higher/);
    expect(codesOf(top([measured(rising)], { target: { depth: 2 } }))).not.toContain("suspect-reading");
  });

  test("outside-readings: the share of the face beyond them", () => {
    const short = measured(rising, { outline: { length: 500, width: 200, at: [100, 50] } });
    const plan = top([short], { target: { depth: 2 } });
    expect(plan.warnings.find(({ code }) => code === "outside-readings")?.text).toMatch(/20\.[0-2] %/);
    expect(codesOf(top([measured(rising)], { target: { depth: 2 } }))).not.toContain("outside-readings");
  });

  test("outside-readings: with more than a third of the face guessed, the plan there is one too", () => {
    const short = measured(rising, { outline: { length: 700, width: 200, at: [100, 50] } });
    const plan = top([short], { target: { depth: 2 } });
    const text = plan.warnings.find(({ code }) => code === "outside-readings")?.text;
    expect(text).toMatch(/4[23]\.\d %.*is a guess, and the cutter may bite deeper than it says/);
  });

  test("not-read: a box whose face is to come clean, and no other target", () => {
    expect(codesOf(top([BOX], { target: { cleanUp: 0.9 } }))).toContain("not-read");
    expect(codesOf(top([BOX], { target: { depth: 2 } }))).not.toContain("not-read");
    expect(codesOf(top([measured(rising)], { target: { cleanUp: 0.9 } }))).not.toContain("not-read");
  });

  test("far-zero: farther from the wood than the machine travels", () => {
    const far = top([BOX], { zero: { x: 2540 * 25.4, y: 0, z: "bed" } });
    expect(far.warnings.find(({ code }) => code === "far-zero")?.text).toContain("right unit?");
    expect(codesOf(top([BOX], { zero: { x: -2000, y: 0, z: "bed" } }))).not.toContain("far-zero");
  });

  test("wide-margin: names the reading that is off by the most", () => {
    const rough = measured((x, y) => 55 + 0.9 * Math.sin(12.9898 * x + 78.233 * y));
    const plan = top([rough], { margin: undefined, target: { depth: 3 } });
    const text = plan.warnings.find(({ code }) => code === "wide-margin")?.text;
    expect(text).toMatch(
      /worst: [\d.]+ mm at \(\d+, \d+\) mm is [\d.]+ mm (higher|lower) than its neighbours/,
    );
  });

  test("stays-rough: the share of the face below the floor, unless a share was asked for", () => {
    const plan = top([measured(rising)], { target: { thickness: 57.5 } });
    expect(plan.warnings.find(({ code }) => code === "stays-rough")?.text).toMatch(/7[45]\.\d %|75 %/);
    expect(codesOf(top([measured(rising)], { target: { cleanUp: 0.25 } }))).not.toContain("stays-rough");
  });

  test("thin: next to nothing left of a slab, but not where a thin board is skimmed", () => {
    const slip = top([BOX], { target: { thickness: 3 } });
    expect(slip.warnings.find(({ code }) => code === "thin")?.text).toContain("only 3 mm of 60 mm are left");
    expect(codesOf(top([BOX], { target: { thickness: 21 } }))).not.toContain("thin");
    const board = { ...BOX, thickness: 10 };
    expect(codesOf(top([board], { target: { depth: 0.5 } }))).not.toContain("thin");
  });

  test("piece-untouched: one whose face lies below the floor", () => {
    const low = { ...BOX, id: "low", outline: { length: 100, width: 100, at: [100, 300] }, thickness: 40 };
    const plan = top([BOX, low]);
    expect(plan.warnings).toContainEqual({
      code: "piece-untouched",
      text: expect.stringContaining('"low"'),
    });
    expect(plan.pieces[1]).toMatchObject({ cleanUp: 0, thinnestMm: 40, thickestMm: 40 });
  });

  test("under-keep-outs: a piece that they cover is told with the thickness it has", () => {
    const low = { ...BOX, id: "low", outline: { length: 100, width: 100, at: [100, 300] }, thickness: 59 };
    const keepOut = [{ name: "lid", outline: { length: 120, width: 120, at: [90, 290] }, height: 70 }];
    const plan = top([BOX, low], { keepOut });
    expect(plan.pieces[1]).toMatchObject({ id: "low", cleanUp: 0, thinnestMm: 59, thickestMm: 59 });
    expect(plan.proof).toMatchObject({ lowestMm: 57, highestMm: 57 });
    expect(codesOf(plan)).toEqual(["under-keep-outs"]);
  });

  test("under-keep-outs: the share that they keep from the cutter", () => {
    const keepOut = [{ name: "cleat", outline: { length: 400, width: 20, at: [100, 240] }, height: 65 }];
    // 10 mm under the cleat, 5 mm beside it: 15 of 200.
    const plan = top([BOX], { keepOut });
    expect(plan.warnings.find(({ code }) => code === "under-keep-outs")?.text).toMatch(/7\.[5-6] %/);
    expect(plan.pieces[0].cleanUp).toBeCloseTo(1 - 15 / 200, 2);
    expect(codesOf(top([BOX], { keepOut: [{ ...keepOut[0], height: 50 }] }))).not.toContain(
      "under-keep-outs",
    );
  });
});

describe("the same job", () => {
  test("gives the same programs to the byte, and the same figures", () => {
    for (const job of [randomJob(3).job, randomJob(11).job, readSample("live-edge-cleats")]) {
      const [once, again] = [planned(job), planned(job)];
      expect(planDocument(again)).toEqual(planDocument(once));
      expect(again.setups.map(textOf)).toEqual(once.setups.map(textOf));
    }
  });

  test("in inches is cut as in mm", () => {
    const keepOut = (scale: number) => [
      {
        name: "cleat",
        outline: [
          [20, 9],
          [22, 9],
          [22, 11],
          [20, 11],
        ].map((corner) => corner.map((v) => v * scale)),
        height: 3 * scale,
      },
    ];
    const height = (x: number, y: number) => 2.2 + 0.004 * x - 0.0008 * (y - 5) ** 2;
    const make = (units: "in" | "mm") => {
      const scale = units === "in" ? 1 : 25.4;
      const rows = Array.from({ length: 6 }, (_, row) =>
        Array.from({ length: 13 }, (_, col) => height(2 + 2 * col, 2 * row) * scale),
      );
      const piece = {
        id: "slab",
        outline: { length: 24 * scale, width: 10 * scale, at: [2 * scale, 0] },
        grain: 0,
        upper: { grid: { at: [2 * scale, 0], step: [2 * scale, 2 * scale], rows } },
      };
      return {
        ...jobOf([piece], {
          target: { depth: 0.1 * scale },
          margin: 0.015 * scale,
          passes: { depth: 0.06 * scale, feed: 240 * scale },
          keepOut: keepOut(scale),
          clear: { z: 0.4 * scale, side: 0.2 * scale },
        }),
        units,
      };
    };
    const [mm, inch] = [planned(make("mm")), planned(make("in"))].map(({ setups }) => setups[0]);
    expect(Math.abs(mm.floorMm - inch.floorMm)).toBeLessThanOrEqual(0.0005 + 0.00127); // half a last decimal each
    expect(inch.layers).toHaveLength(mm.layers.length);
    expect(Math.abs(litres(mm) / litres(inch) - 1)).toBeLessThan(0.002); // the floors' 2 um of 1 mm
    expect(Math.abs(mm.pieces[0].cleanUp - inch.pieces[0].cleanUp)).toBeLessThan(0.002);
    expect(Math.abs(mm.seconds.total / inch.seconds.total - 1)).toBeLessThan(0.02);
    expect(textOf(inch)).toMatch(/^G20$/m);
    expect(textOf(mm)).toMatch(/^G21$/m);
  });

  // A slab of five corners, read at scattered places, and the same turned or seen in a mirror.
  const corners = [
    [0, 0],
    [420, 25],
    [460, 160],
    [300, 230],
    [20, 190],
  ] as const;
  const places = Array.from(
    { length: 90 },
    (_, k) => [((k * 137) % 521) - 30, ((k * 89) % 271) - 20] as const,
  );
  const height = (x: number, y: number) => 58 + ((x - 200) / 110) ** 2 - ((y - 100) / 90) ** 2;
  const laid = (turn: (x: number, y: number) => readonly [number, number], grain: number) => {
    const piece = {
      id: "slab",
      outline: corners.map(([x, y]) => turn(x, y)),
      grain,
      upper: { points: places.map(([x, y]) => [...turn(x, y), height(x, y)]) },
    };
    return top([piece], { target: { depth: 3 } });
  };
  const plain = laid((x, y) => [x + 200, y + 200], 0);
  const round = (degrees: number) => (x: number, y: number) => {
    const a = (degrees * Math.PI) / 180;
    return [x * Math.cos(a) - y * Math.sin(a) + 600, x * Math.sin(a) + y * Math.cos(a) + 500] as const;
  };

  test.each([
    ["turned by a quarter", round(90), 90],
    ["turned by half", round(180), 180],
    ["turned by 37 degrees", round(37), 37],
    ["in a mirror along X", (x: number, y: number) => [700 - x, y + 200] as const, 180],
    ["in a mirror along Y", (x: number, y: number) => [x + 200, 600 - y] as const, 0],
  ])("%s loses as much wood", (_, turn, grain) => {
    const other = laid(turn, grain);
    expect(other.floorMm).toBe(plain.floorMm);
    // Cells of 1 mm, counted whole, know a volume to about half a cell along the rim of what is cut.
    expect(Math.abs(litres(other) / litres(plain) - 1)).toBeLessThan(0.005);
    expect(Math.abs(other.pieces[0].cleanUp - plain.pieces[0].cleanUp)).toBeLessThan(0.005);
    expect(other.layers).toHaveLength(plain.layers.length);
  });
});

describe("every program that is written", () => {
  const strictly = (plan: Plan, job: Loose) => {
    const { start = [], end = [] } = job.shop.program ?? {};
    for (const setup of plan.setups) {
      const { problems, units, moves } = readStrictly(textOf(setup), [...start, ...end]);
      expect(problems).toEqual([]);
      expect(units).toBe(job.units);
      expect(moves.length).toBeGreaterThan(3);
    }
  };

  test.each(SAMPLE_NAMES)("for the sample %s is as strict as we promise", (name) => {
    const job = readSample(name);
    strictly(planned(job), job);
  });

  const seeds = Array.from({ length: Number(process.env.SOAK ?? 20) }, (_, k) => 301 + k);
  test("and for random jobs", () => {
    let written = 0;
    for (const seed of seeds) {
      const { job } = randomJob(seed);
      try {
        strictly(planned(job), job);
        written++;
      } catch (error) {
        if (!(error instanceof PlanError)) throw error;
      }
    }
    expect(written).toBeGreaterThan(0.8 * seeds.length);
  }, 600_000);

  test("with a shop's own lines, line numbers, tool changes and another offset too", () => {
    const job = jobOf([BOX], { id: "first" }, { id: "second", target: { depth: 1 } });
    job.shop.program = {
      workOffset: "G56",
      lineNumbers: true,
      toolChange: "M6",
      start: ["M8"],
      end: ["M9"],
    };
    const plan = planned(job);
    strictly(plan, job);
    for (const setup of plan.setups) expect(textOf(setup)).toMatch(/^N\d+ G56$/m);
  });
});

describe("a program that is checked", () => {
  const raw = jobOf([BOX], {});
  const job = asRead(raw);
  const text = textOf(planJob(job).setups[0]);
  const check = (changed: string) => checkProgram(job, "top", new TextEncoder().encode(changed));
  const codes = (changed: string) => check(changed).findings.map(({ code, line }) => `${code} ${line}`);

  test("is sound when it is ours, and timed as it was planned", () => {
    const result = check(text);
    expect(result).toMatchObject({ ok: true, findings: [] });
    expect(result.seconds).toEqual(planJob(job).setups[0].seconds);
  });

  test("units: must say mm or inches", () => {
    expect(codes(text.replace("G21\n", ""))).toEqual(["units 0"]);
  });

  test("what the reader cannot read is told with what the proof finds, each once", () => {
    const lines = text.split("\n");
    const at = lines.findIndex((line) => line.startsWith("G1 "));
    expect(codes(lines.toSpliced(at, 0, "G28").join("\n"))).toContain(`unsupported ${at + 1}`);
    const noFeed = codes(text.replace(/ F\d+/g, ""));
    expect(noFeed.filter((code) => code === `no-feed ${at + 1}`)).toHaveLength(1);
  });

  test("may be empty, cut off or no program at all", () => {
    expect(check("").findings.map(({ code }) => code)).toEqual(["no-end", "left-standing"]);
    expect(check("hello").ok).toBe(false);
    expect(check(text.slice(0, text.length / 2)).findings.map(({ code }) => code)).toContain("no-end");
    expect(check("%\n%\n").ok).toBe(false);
  });

  test("of a setup that the job does not have is a fault of the caller", () => {
    expect(() => checkProgram(job, "bottom", new Uint8Array())).toThrow('no setup "bottom"');
  });
});

/** Places along an arc, a thousand to the quarter. */
function placesOnArc(from: StrictMove | undefined, to: StrictMove): { x: number; y: number; z: number }[] {
  if (from === undefined || to.word === "G0" || to.word === "G1") return [];
  const { centreX, centreY, z } = to;
  const radius = Math.hypot(from.x - centreX, from.y - centreY);
  const turn = to.word === "G3" ? 1 : -1;
  const start = Math.atan2(from.y - centreY, from.x - centreX);
  const end = Math.atan2(to.y - centreY, to.x - centreX);
  const sweep = (((turn * (end - start)) % (2 * Math.PI)) + 2 * Math.PI) % (2 * Math.PI);
  return Array.from({ length: 4000 }, (_, k) => {
    const angle = start + (turn * sweep * k) / 4000;
    return { x: centreX + radius * Math.cos(angle), y: centreY + radius * Math.sin(angle), z };
  });
}
