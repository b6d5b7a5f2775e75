// Jobs of several setups before the judge: faces, turns, casts, resin feed, lays. First the judge itself against
// a board worked out on paper, then random jobs. TABLES=300 runs that many instead of 14; SEED=17 runs that one,
// or starts there. No outside source.

import { describe, expect, test } from "vitest";
import { PlanError } from "../../src/errors.ts";
import { readJob } from "../../src/job/read.ts";
import { type Plan, planJob } from "../../src/plan.ts";
import { JudgesBench, type LayProgram, type SetupVerdict } from "./judge-bench.ts";
import type { RawJob, RawSetup } from "./judge-job.ts";
import { plainShop } from "./plain-shop.ts";
import { randomTable } from "./random-tables.ts";

const first = Number(process.env.SEED ?? 1);
const count = Number(process.env.TABLES ?? (process.env.SEED ? 1 : 14));

// A board of 300 x 120 x 30 with a corner cut off, and a cast of it in a mold of 320 x 140.
const board: RawJob["pieces"][number] = {
  id: "board",
  grain: 0,
  thickness: 30,
  outline: [
    [0, 0],
    [300, 0],
    [300, 120],
    [90, 120],
    [0, 40],
  ],
};
const mold: RawJob["pieces"][number] = {
  id: "top",
  grain: 0,
  outline: [
    [0, 0],
    [320, 0],
    [320, 140],
    [0, 140],
  ],
  shell: { upper: 3, under: 2 },
  madeOf: [{ piece: "board", at: [10, 10], after: "skim" }],
};

function jobOf(
  pieces: RawJob["pieces"],
  setups: (Partial<RawSetup> & Pick<RawSetup, "id" | "target">)[],
): RawJob {
  return {
    ...{ format: "slabtrue-job/1", name: "bench", units: "mm", shop: plainShop(40), pieces },
    setups: setups.map((setup) => ({
      ...{ face: "upper", cutter: "flat", margin: 0.5 },
      ...setup,
      passes: { feed: 6000, speed: 14000, ...setup.passes },
    })),
  };
}

describe("the judge's bench", () => {
  const resin = { feed: 6000, speed: 14000, resinFeed: 4000 };
  const cast = jobOf(
    [board, mold],
    [
      { id: "skim", target: { thickness: 28 } },
      { id: "shell", target: { depth: 4 }, passes: resin },
      { id: "under", face: "under", target: { thickness: 26 }, passes: resin },
    ],
  );
  const plan = planned(cast);
  /** The cast's programs, each changed as asked, before the judge of a job that may differ too. */
  const codes = (change: (text: string, setup: number) => string, job: RawJob = cast) =>
    judgedTexts(
      job,
      plan.setups.map(({ programs }, k) => [
        { text: change(new TextDecoder().decode(programs[0].text), k), shiftMm: 0 },
      ]),
      plan.setups.map(({ floorMm }) => floorMm),
    ).map(({ problems }) => [...new Set(problems.map(({ code }) => code))]);

  // The board is 300 x 120 less a corner of 90 x 80 / 2; 28 thick it lies 2 over the floor of the mold, in 33.
  test("has volumes and heights as on paper", () => {
    const verdicts = judged(cast, plan);
    expect(verdicts.flatMap(({ problems }) => problems)).toEqual([]);
    const [area, whole] = [3.24, 4.48];
    const [skim, shell, under] = verdicts.map(({ pieces }) => pieces);
    expect(skim.board.woodLitres / (area * 0.02)).toBeCloseTo(1, 1);
    expect(shell.top.woodLitres / (area * 0.01)).toBeCloseTo(1, 1);
    expect(shell.top.resinLitres / (whole * 0.04 - area * 0.01)).toBeCloseTo(1, 1);
    // It lies on 29, of which 3 come off: 2 of resin, 1 of wood.
    expect(under.top.woodLitres / (area * 0.01)).toBeCloseTo(1, 1);
    expect(under.top.thinnestMm).toBeCloseTo(26, 9);
    expect(under.top.thickestMm).toBeCloseTo(26, 9);
  });

  test("finds resin cut at the wood's feed", () => {
    const fast = codes((text, k) => (k === 1 ? text.replaceAll("F4000", "F6000") : text));
    expect(fast).toEqual([[], ["resin-feed"], []]);
  });

  test("finds wood that was turned the other way, in another place, or not at all", () => {
    const same = (text: string) => text;
    const skimmed = (change: Partial<RawSetup>) => {
      const setups: RawSetup[] = [
        cast.setups[0],
        {
          ...cast.setups[1],
          id: "turned",
          face: "under",
          target: { thickness: 26 },
          pieces: ["board"],
          ...change,
        },
      ];
      const job = { ...cast, pieces: [board], setups };
      return job;
    };
    const turned = planned(skimmed({}));
    const against = (job: RawJob) =>
      judgedTexts(
        job,
        turned.setups.map(({ programs }) => [
          { text: new TextDecoder().decode(programs[0].text), shiftMm: 0 },
        ]),
        turned.setups.map(({ floorMm }) => floorMm),
      ).map(({ problems }) => problems.map(({ code }) => code));
    expect(against(skimmed({}))).toEqual([[], []]);
    expect(against(skimmed({ turn: "y" }))[1].length).toBeGreaterThan(0);
    expect(against(skimmed({ face: "upper" }))[1]).toContain("standing");
    // A part set 30 mm farther on is wood where resin was, and resin where wood was.
    const moved = {
      ...mold,
      madeOf: [{ piece: "board", at: [10, 10], angle: 0, after: "skim" }],
      shell: { upper: 3, under: 3 },
    };
    expect(codes(same, { ...cast, pieces: [board, moved] })[1]).toContain("floor");
  });

  test("finds a floor that forgets what was left for sanding, and volumes that are not even", () => {
    const floorsOf = (setups: Parameters<typeof jobOf>[1], floors: number[]) => {
      const job = jobOf([board], setups);
      const verdicts = judgedTexts(
        job,
        floors.map(() => []),
        floors,
      );
      return verdicts.map(({ problems }) => problems.some(({ code }) => code === "floor"));
    };
    const both: Parameters<typeof jobOf>[1] = [
      { id: "upper", target: { thickness: 28 }, leave: 0.5 },
      { id: "under", face: "under", target: { thickness: 25 }, leave: 0.2 },
    ];
    expect(floorsOf(both, [28.5, 25.7])).toEqual([false, false]);
    expect(floorsOf(both, [28, 25.2])).toEqual([true, true]);
    // 30 thick to 26: two from each face.
    expect(floorsOf([{ id: "upper", target: { even: 26 } }], [28])).toEqual([false]);
    expect(floorsOf([{ id: "upper", target: { even: 26 }, leave: 0.3 }], [28.3])).toEqual([false]);
    expect(floorsOf([{ id: "upper", target: { even: 26 } }], [28.1])).toEqual([true]);
  });
});

const seeds = Array.from({ length: count }, (_, i) => first + i);
const cellMm = process.env.TABLES ? 2 : 3;

describe("all programs of a job have no problem", () => {
  const refused: string[] = [];

  test.each(seeds)("of a random table, seed %i", (seed) => {
    const { job, label } = randomTable(seed);
    const plan = plannedOrRefused(job);
    if (plan instanceof PlanError) {
      const mayRefuse = ["nothing-to-cut", "no-air", "clean-up", "nothing-in-reach"].includes(plan.code);
      expect(mayRefuse, `${label}: ${plan.setup} ${plan.code}, ${plan.message}`).toBe(true);
      refused.push(`seed ${seed}: ${plan.setup} ${plan.code}, ${plan.message}`);
      return;
    }
    expectClean(job, plan, label);
  });

  test("and few jobs are refused", () => {
    expect(refused.length, refused.join("\n")).toBeLessThanOrEqual(Math.max(2, 0.15 * count));
  });
});

function plannedOrRefused(job: RawJob): Plan | PlanError {
  const readText = (path: string): string => {
    throw new Error(`the job is whole and needs no ${path}`);
  };
  try {
    return planJob(readJob(JSON.stringify(job), "random.json", { readText }));
  } catch (error) {
    if (error instanceof PlanError) return error;
    throw error;
  }
}

function planned(job: RawJob): Plan {
  const plan = plannedOrRefused(job);
  if (plan instanceof PlanError) throw plan;
  return plan;
}

function judged(job: RawJob, plan: Plan): SetupVerdict[] {
  const lays = plan.setups.map(({ programs }) =>
    programs.map(({ text, shiftMm }) => ({ text: new TextDecoder().decode(text), shiftMm: shiftMm[0] })),
  );
  return judgedTexts(
    job,
    lays,
    plan.setups.map(({ floorMm }) => floorMm),
    plan.setups.map(({ marginMm }) => marginMm),
  );
}

/** The programs of each setup in turn, as its lays. */
function judgedTexts(
  job: RawJob,
  lays: readonly (readonly LayProgram[])[],
  floors: readonly number[],
  margins: readonly number[] = [],
): SetupVerdict[] {
  const bench = new JudgesBench(job, cellMm);
  return lays.map((programs, k) => bench.next(programs, floors[k], margins[k]));
}

function expectClean(job: RawJob, plan: Plan, label: string): void {
  judged(job, plan).forEach(({ problems, pieces }, k) => {
    const planned = plan.setups[k];
    const at = `${label}: ${planned.setup.id}`;
    expect(problems, at).toEqual([]);
    expect(planned.proof.ok, at).toBe(true);
    for (const piece of planned.pieces) {
      const left = pieces[piece.id];
      const near = (what: string, mine: number, theirs: number, within: number) =>
        expect(Math.abs(mine - theirs), `${at}: ${what} of ${piece.id}, ${mine} and ${theirs}`).toBeLessThan(
          within,
        );
      // Both count cells: they may differ by a cell along every edge, and by what a slope rises over one.
      if (!left.coarse) near("clean-up", piece.cleanUp, left.cleanUp, 0.02);
      const { wood, resin } = piece.removedLitres;
      near("wood", wood, left.woodLitres, 0.004 + 0.015 * left.woodLitres);
      near("resin", resin, left.resinLitres, 0.004 + 0.015 * left.resinLitres);
      if (planned.setup.keepOuts.length > 0) continue;
      near("thinnest", piece.thinnestMm, left.thinnestMm, 0.1);
      near("thickest", piece.thickestMm, left.thickestMm, 0.1);
    }
  });
}
