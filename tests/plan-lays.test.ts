// Planks longer than the machine, cut in several lays: the same plank on a longer machine, cut at once, is the
// oracle, and the independent judge where something stands on the bed. No outside source.

import { describe, expect, test } from "vitest";
import { InputError } from "../src/errors.ts";
import { checkProgram, type Plan, type PlannedSetup } from "../src/plan.ts";
import type { Loose } from "./job/example.ts";
import { JudgesBench } from "./oracles/judge-bench.ts";
import { readStrictly } from "./oracles/strict-reader.ts";
import { asRead, codesOf, gridOf, type Height, jobOf, planned, refusal, textOf } from "./planned.ts";

const SEAM_MM = 0.05;
/** 1500 x 120 from (60, 40). */
const BOX = { x: 60, y: 40, length: 1500, width: 120 };
const FACE: Height = (x, y) => {
  const [u, v] = [(x - 810) / 750, (y - 100) / 60];
  return 52 - 1.4 * u * u + 0.8 * v * v + 0.9 * u * v + 0.3 * u;
};
const PLANK = {
  ...{ id: "plank", material: "ash", grain: 0 },
  outline: { length: BOX.length, width: BOX.width, at: [BOX.x, BOX.y] },
  upper: gridOf(FACE, BOX, 25),
};

/** The plank's job on a machine with that travel in X. */
function plankJob(travelX: number, setup: Loose = {}, piece: Loose = PLANK, ...more: Loose[]): Loose {
  const reindex = { overlap: 25 };
  const job = jobOf([piece], { id: "top", target: { depth: 2.2 }, reindex, ...setup }, ...more);
  job.shop.machine.travel.x = travelX;
  return job;
}

const litres = ({ removedLitres }: PlannedSetup) => removedLitres.wood + removedLitres.resin;

/** X of the places in each program, in the bed's frame. */
function spans(setup: PlannedSetup): { min: number; max: number }[] {
  return setup.programs.map((_, lay) => {
    const { moves, problems } = readStrictly(textOf(setup, lay));
    expect(problems).toEqual([]);
    const xs = moves.map(({ x }) => x).filter((x) => !Number.isNaN(x));
    return { min: Math.min(...xs) + setup.zeroMm.x, max: Math.max(...xs) + setup.zeroMm.x };
  });
}

/** The ground that each program says it clears, in the frame of the first lay. */
function grounds(setup: PlannedSetup): number[][] {
  return setup.programs.map((_, lay) => {
    const found = /clears it from X (-?[\d.]+) mm to (-?[\d.]+) mm/.exec(textOf(setup, lay));
    return (found ?? []).slice(1).map(Number);
  });
}

function expectSame(short: PlannedSetup, long: PlannedSetup, highestCut: number): void {
  expect(short.programs.length).toBeGreaterThan(1);
  expect(long.programs).toHaveLength(1);
  expect(short.floorMm).toBe(long.floorMm);
  expect(Math.abs(litres(short) / litres(long) - 1)).toBeLessThan(0.002);
  const [mine, theirs] = [short.pieces[0], long.pieces[0]];
  expect(Math.abs(mine.cleanUp - theirs.cleanUp)).toBeLessThan(0.002);
  expect(Math.abs(mine.thinnestMm - theirs.thinnestMm)).toBeLessThan(SEAM_MM);
  expect(Math.abs(mine.thickestMm - theirs.thickestMm)).toBeLessThan(SEAM_MM);
  for (let x = BOX.x + 2; x < BOX.x + BOX.length; x += 3.7)
    for (const y of [44, 90, 121, 157]) {
      const [a, b] = [mine.thicknessAtMm(x, y), theirs.thicknessAtMm(x, y)];
      expect(Math.abs(a - b), `at ${x} ${y}: ${a} and ${b}`).toBeLessThan(SEAM_MM);
      expect(a).toBeLessThan(highestCut + SEAM_MM);
    }
}

describe("a plank cut in lays is the plank cut at once", () => {
  test.each([
    ["plain", {}],
    ["rows across", { passes: { angle: 90 } }],
    ["rows askew", { passes: { angle: 35 } }],
    ["rows that go on past the end", { passes: { overrun: 20 } }],
    ["rows one way, with a finish", { passes: { rows: "one-way", finish: { depth: 0.5, stepover: 0.4 } } }],
    ["in thin layers, with a wide overlap", { passes: { depth: 0.8 }, reindex: { overlap: 60 } }],
    ["to a share of the face", { target: { cleanUp: 0.6 } }],
    ["from the highest spot", { zero: { x: 60, y: 40, z: "high-spot" } }],
  ] as const)("%s", (_, setup) => {
    const [short] = planned(plankJob(760, setup)).setups;
    const [long] = planned(plankJob(2600, setup)).setups;
    expectSame(short, long, short.floorMm);
    expect(short.proof.ok).toBe(true);
    expect(short.zeroMm).toEqual(long.zeroMm);
    expect(short.layers.filter(({ zMm }) => zMm === short.floorMm)).toHaveLength(short.programs.length);

    // All on one window of the bed, each within the travel.
    const all = spans(short);
    for (const { min, max } of all) expect(max - min).toBeLessThanOrEqual(760.001);
    const reach = Math.max(...all.map(({ max }) => max)) - Math.min(...all.map(({ min }) => min));
    expect(reach).toBeLessThanOrEqual(760.001);
  });

  test("with its grain across, which turns the rows", () => {
    const across = { ...PLANK, grain: 90 };
    const [short] = planned(plankJob(760, {}, across)).setups;
    const [long] = planned(plankJob(2600, {}, across)).setups;
    expectSame(short, long, short.floorMm);
  });

  test("on both faces, whichever way it is turned", () => {
    const under = (turn: string) => ({
      ...{ id: "under", face: "under", turn, reindex: { overlap: 25 }, target: { thickness: 45 } },
    });
    for (const turn of ["x", "y"]) {
      const both = (travel: number) =>
        planned(plankJob(travel, { target: { cleanUp: 1 } }, PLANK, under(turn)));
      const [short, long] = [both(760), both(2600)];
      for (const k of [0, 1]) {
        expect(short.setups[k].floorMm).toBe(long.setups[k].floorMm);
        expect(Math.abs(litres(short.setups[k]) / litres(long.setups[k]) - 1)).toBeLessThan(0.002);
      }
      expect(short.setups[1].programs.length).toBeGreaterThan(1);
      expect(codesOf(short.setups[1])).not.toContain("rocks");
      expect(short.setups[1].pieces[0].thinnestMm).toBeCloseTo(45, 3);
    }
  });
});

describe("the lays", () => {
  const plan = (travel: number, setup: Loose = {}) => planned(plankJob(travel, setup)).setups[0];
  const shifts = ({ programs }: PlannedSetup) => programs.map(({ shiftMm }) => shiftMm);

  test("are pushed by equal whole millimetres, and each is a file of its own", () => {
    for (const travel of [1300, 620]) {
      const setup = plan(travel);
      const pushes = shifts(setup).map(([x]) => x);
      expect(pushes[0]).toBe(0);
      const push = -pushes[1];
      expect(push % 1).toBe(0);
      expect(pushes).toEqual(pushes.map((_, k) => 0 - k * push));
      expect(shifts(setup).every(([, y]) => y === 0)).toBe(true);
      expect(setup.programs.map(({ file }) => file)).toEqual(pushes.map((_, k) => `01-top-${k + 1}.nc`));
      const seconds = setup.programs.reduce((sum, program) => sum + program.seconds, 0);
      expect(seconds).toBeCloseTo(setup.seconds.total, 9);
    }
  });

  test("overlap as asked, cover the plank, and leave no thin rest", () => {
    for (const [travel, overlap] of [
      [900, 10],
      [450, 40],
    ]) {
      const setup = plan(travel, { reindex: { overlap } });
      const found = grounds(setup);
      expect(found[0][0]).toBeCloseTo(60, 6);
      expect(found[found.length - 1][1]).toBeCloseTo(1560, 6);
      const lengths = found.map(([from, to]) => to - from);
      for (let k = 1; k < found.length; k++)
        expect(found[k - 1][1] - found[k][0]).toBeGreaterThanOrEqual(overlap - 1e-6);
      expect(Math.min(...lengths)).toBeGreaterThan(0.5 * Math.max(...lengths));
    }
  });

  test("are as few as the travel allows, and one where it does", () => {
    const longest = plan(2600);
    const reach = Math.max(...spans(longest).map(({ min, max }) => max - min));
    expect(plan(Math.ceil(reach)).programs).toHaveLength(1);
    // The cutter's centre need not go quite to the ends, but 100 mm less is too short.
    expect(plan(1400).programs).toHaveLength(2);
    expect(plan(900).programs).toHaveLength(2);
  });

  test("in inches are pushed by eighths", () => {
    const job = plankJob(800);
    job.units = "in";
    const inches = (mm: number) => mm / 25.4;
    job.pieces[0] = {
      ...PLANK,
      outline: { length: "1500 mm", width: "160 mm", at: ["60 mm", "40 mm"] },
      upper: {
        grid: {
          at: PLANK.upper.grid.at.map(inches),
          step: PLANK.upper.grid.step.map(inches),
          rows: PLANK.upper.grid.rows.map((row: number[]) => row.map(inches)),
        },
      },
    };
    Object.assign(job.setups[0], { target: { depth: "2.2 mm" }, margin: "0.5 mm", reindex: { overlap: 1 } });
    job.setups[0].passes = { depth: "3 mm", feed: "6 m/min", speed: 14000 };
    const [setup] = planned(job).setups;
    const push = -setup.programs[1].shiftMm[0] / 3.175;
    expect(push).toBeCloseTo(Math.round(push), 9);
    expect(textOf(setup, 1)).toMatch(/^G20$/m);
  });
});

describe("what stands on the bed", () => {
  // A cleat beside the middle of the window: it stands beside another place of the plank in each lay.
  const keepOut = [{ name: "cleat", outline: { length: 60, width: 30, at: [330, 145] }, height: 60 }];

  test("is kept clear of in each lay, and what it covers in one is cut in another", () => {
    const job = plankJob(760, { keepOut, target: { depth: 2 } });
    const plan = planned(job);
    const [setup] = plan.setups;
    const bench = new JudgesBench(
      {
        ...job,
        pieces: [{ ...PLANK, outline: corners() }],
        setups: [{ ...job.setups[0], keepOut: cornered() }],
      },
      2,
    );
    const verdict = bench.next(
      setup.programs.map((program, lay) => ({ text: textOf(setup, lay), shiftMm: program.shiftMm[0] })),
      setup.floorMm,
    );
    expect(verdict.problems).toEqual([]);
    expect(setup.pieces[0].cleanUp).toBeCloseTo(verdict.pieces.plank.cleanUp, 2);
    expect(codesOf(setup)).toContain("under-keep-outs");
  });

  test("in no lay's way where the plank has been pushed past it: the far end of its shade is cut", () => {
    const [with_, without] = [plankJob(760, { keepOut }), plankJob(760)].map((job) => planned(job).setups[0]);
    // In the first lay it stands at x 330 to 390 of the plank, and so on by each push.
    const touched = with_.programs.map(({ shiftMm: [shift] }) => [330 - shift, 390 - shift]);
    expect(touched.length).toBe(without.programs.length);
    for (const x of [250, 480, 800, 1200, 1500])
      if (!touched.some(([from, to]) => x > from - 45 && x < to + 45))
        expect(with_.pieces[0].thicknessAtMm(x, 156)).toBeCloseTo(without.pieces[0].thicknessAtMm(x, 156), 2);
  });

  const box = (x: number, y: number, length: number, width: number) => [
    [x, y],
    [x + length, y],
    [x + length, y + width],
    [x, y + width],
  ];

  test("where the wood would be pushed into a stop it is told, and which lays to name", () => {
    // Before the plank's near end: the push goes through it.
    const stop = { name: "end stop", outline: box(-20, 80, 70, 40), height: 60 };
    const before = planned(plankJob(760, { keepOut: [stop] })).setups[0];
    expect(before.warnings.find(({ code }) => code === "pushed-keep-out")?.text).toContain(
      'before lay 2 the wood is pushed to where keep-out "end stop" stands: take it away by then, and say so with "lays": [1]',
    );
    const told = planned(plankJob(760, { keepOut: [{ ...stop, lays: [1] }] })).setups[0];
    expect(codesOf(told)).not.toContain("pushed-keep-out");
  });

  test("a clamp that moves on with the wood is named for each lay, and kept clear of there alone", () => {
    const [{ programs }] = planned(plankJob(760)).setups;
    const last = programs.length;
    const shift = programs[last - 1].shiftMm[0];
    // On the far end: out of reach in the first lay, near the near end of the bed in the last.
    const clamp = { name: "clamp", outline: box(1520, 85, 60, 30), height: 70 };
    const fixed = planned(plankJob(760, { keepOut: [clamp] })).setups[0];
    expect(fixed.warnings.find(({ code }) => code === "pushed-keep-out")?.text).toContain(
      'stands over the wood of lay 1, and in every lay it is kept clear at that place on the bed; if it moves on with the wood, give it "lays": [1]',
    );
    const keepOut = [
      { ...clamp, lays: Array.from({ length: last - 1 }, (_, k) => k + 1) },
      { ...clamp, name: "clamp again", outline: box(1520 + shift, 85, 60, 30), lays: [last] },
    ];
    const job = plankJob(760, { keepOut, target: { depth: 2 } });
    const [setup] = planned(job).setups;
    expect(codesOf(setup)).not.toContain("pushed-keep-out");
    expect(codesOf(setup)).toContain("under-keep-outs");
    const bench = new JudgesBench({ ...job, pieces: [{ ...PLANK, outline: corners() }] }, 2);
    const verdict = bench.next(
      setup.programs.map((program, lay) => ({ text: textOf(setup, lay), shiftMm: program.shiftMm[0] })),
      setup.floorMm,
    );
    expect(verdict.problems).toEqual([]);
  });

  test("lays without reindex are refused, and lays that are not there are told", () => {
    const keepOut = [{ name: "cleat", outline: box(300, 170, 60, 20), height: 20, lays: [7] }];
    const [setup] = planned(plankJob(760, { keepOut })).setups;
    expect(setup.warnings.find(({ code }) => code === "pushed-keep-out")?.text).toMatch(
      /^keep-out "cleat" is named for lay 7; there are \d lays$/,
    );
    expect(() => planned(plankJob(2000, { keepOut, reindex: undefined }))).toThrow(InputError);
  });

  function corners(): number[][] {
    return [
      [60, 40],
      [1560, 40],
      [1560, 160],
      [60, 160],
    ];
  }
  function cornered(): Loose[] {
    const outline = [
      [330, 145],
      [390, 145],
      [390, 175],
      [330, 175],
    ];
    return [{ name: "cleat", outline, height: 60 }];
  }
});

describe("a lay's program is checked on what the lays before leave", () => {
  // It rises towards the far end.
  const rising = { ...PLANK, upper: gridOf((x) => 50 + (x - 60) / 300, BOX, 50) };
  const job = plankJob(760, { target: { depth: 5.5 } }, rising);
  const read = asRead(job);
  const [setup] = planned(job).setups;
  const check = (lay: number, of: number) => checkProgram(read, "top", setup.programs[of - 1].text, lay);

  test("each passes for its own lay", () => {
    for (let lay = 1; lay <= setup.programs.length; lay++)
      expect(check(lay, lay), `lay ${lay}`).toMatchObject({ ok: true, findings: [] });
  });

  test("and fails for a later one, where more stands", () => {
    const count = setup.programs.length;
    expect(count).toBeGreaterThan(2);
    for (let lay = 2; lay <= count; lay++)
      for (let of = 1; of < lay; of++) expect(check(lay, of).ok, `${of} as ${lay}`).toBe(false);
  });

  test("a lay that there is not is the option's fault, with how many there are", () => {
    const count = setup.programs.length;
    expect(() => check(count + 1, 1)).toThrow(InputError);
    expect(() => check(count + 1, 1)).toThrow(`cut in ${count} lays`);
  });
});

describe("a plank too long for the machine", () => {
  test("without reindex is refused with how much too long, and with what would help", () => {
    const job = plankJob(1000);
    delete job.setups[0].reindex;
    const found = refusal(job);
    expect(found.code).toBe("top: travel");
    expect(found.text).toMatch(/in X .*more than the travel of 1000 mm/);
    expect(found.text).not.toContain("90 degrees");
    expect(found.text).toContain('with "reindex": { "overlap": 30 } in the setup it is cut in several lays');
  });

  test("that lies along the short axis is told both: to turn it and to push it", () => {
    const job = plankJob(500);
    delete job.setups[0].reindex;
    Object.assign(job.shop.machine.travel, { x: 1000, y: 1000 });
    job.pieces = [{ id: "plank", outline: { length: 200, width: 1600 }, thickness: 60 }];
    expect(refusal(job).text).toMatch(
      /in Y .*turned by 90 degrees on the bed, and with "reindex": \{ "overlap": 30 \} in the setup/,
    );
  });

  test("that fits turned by 90 degrees is said to", () => {
    const job = plankJob(500);
    delete job.setups[0].reindex;
    job.shop.machine.travel.y = 1700;
    expect(refusal(job).text).toContain("turned by 90 degrees on the bed it would fit");
  });

  test("is too wide too: pushing along X does not help", () => {
    const job = plankJob(760);
    job.shop.machine.travel.y = 30;
    expect(refusal(job)).toMatchObject({ code: "top: travel", text: expect.stringMatching(/in Y/) });
  });

  test("for a machine of hardly the cutter's size: no lay would clear any ground", () => {
    expect(refusal(plankJob(130)).code).toBe("top: travel");
  });
});

test("the proof finds a lay that was left out", () => {
  const job = plankJob(760);
  const plan: Plan = planned(job);
  const [setup] = plan.setups;
  const bench = new JudgesBench(
    {
      ...job,
      pieces: [
        {
          ...PLANK,
          outline: [
            [60, 40],
            [1560, 40],
            [1560, 160],
            [60, 160],
          ],
        },
      ],
    },
    3,
  );
  const some = setup.programs.slice(1).map((program, k) => ({
    text: textOf(setup, k + 1),
    shiftMm: program.shiftMm[0],
  }));
  const codes = bench.next(some, setup.floorMm).problems.map(({ code }) => code);
  expect(codes).toContain("standing");
});
