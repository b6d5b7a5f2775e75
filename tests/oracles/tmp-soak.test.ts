// Jobs of several setups before the judge: faces, turns, casts, resin feed, lays. First the judge itself against
// a board worked out on paper, then random jobs. SOAK=300 runs that many instead of 14; SEED=17 runs that one,
// or starts there. No outside source.

import { describe, expect, test } from "vitest";
import { PlanError } from "../../src/errors.ts";
import { readJob } from "../../src/job/read.ts";
import { type Plan, planJob } from "../../src/plan.ts";
import { JudgesBench, type SetupVerdict } from "./judge-bench.ts";
import type { RawJob } from "./judge-job.ts";
import { randomTable } from "./random-tables.ts";

const first = Number(process.env.SEED ?? 1);
const count = Number(process.env.SOAK ?? (process.env.SEED ? 1 : 14));
const seeds = Array.from({ length: count }, (_, i) => first + i);
const cellMm = process.env.SOAK ? 2 : 3;

describe("all programs of a job have no problem", () => {
  const refused: string[] = [];

  test.each(seeds)("of a random table, seed %i", async (seed) => {
    const { job, label } = randomTable(seed);
    if (process.env.ONLY && !label.includes(process.env.ONLY)) return;
    const plan = plannedOrRefused(job);
    const { appendFileSync } = await import("node:fs");
    appendFileSync(
      "/tmp/soak-labels.txt",
      `${seed} ${plan instanceof PlanError ? `REFUSED ${plan.setup} ${plan.code} ${plan.message}` : `ok ${plan.setups.map((s) => s.programs.length).join(" ")} feeds ${new TextDecoder().decode(plan.setups.at(-1)!.programs[0].text).match(/F4200/g)?.length ?? 0}`} | ${label}\n`,
    );
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

function judged(job: RawJob, plan: Plan): SetupVerdict[] {
  const bench = new JudgesBench(job, cellMm);
  return plan.setups.map(({ programs, floorMm, marginMm }) => {
    const lays = programs.map(({ text, shiftMm }) => ({
      text: new TextDecoder().decode(text),
      shiftMm: shiftMm[0],
    }));
    return bench.next(lays, floorMm, marginMm);
  });
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
      near("clean-up", piece.cleanUp, left.cleanUp, 0.02);
      const { wood, resin } = piece.removedLitres;
      near("wood", wood, left.woodLitres, 0.004 + 0.015 * left.woodLitres);
      near("resin", resin, left.resinLitres, 0.004 + 0.015 * left.resinLitres);
      if (planned.setup.keepOuts.length > 0) continue;
      near("thinnest", piece.thinnestMm, left.thinnestMm, 0.1);
      near("thickest", piece.thickestMm, left.thickestMm, 0.1);
    }
  });
}
