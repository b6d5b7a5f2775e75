import { expect, test } from "vitest";
import { PlanError } from "../src/errors.ts";
import { readJob } from "../src/job/read.ts";
import { planJob, proofTask } from "../src/plan.ts";
import { resumeProgram } from "../src/resume.ts";
import { judge } from "./oracles/judge.ts";
import { randomJob, Dice } from "./oracles/random-jobs.ts";
const host = { readText: (p: string): string => { throw new Error(p); } };
test("fuzz", () => {
  let made = 0, refused = 0, whole = 0, planRefused = 0; let worst = 0;
  const back: number[] = [];
  for (let seed = Number(process.env.FROM ?? 1); seed <= Number(process.env.TO ?? 40); seed++) {
    const { job: raw, label } = randomJob(seed);
    const job = readJob(JSON.stringify(raw), "r.json", host);
    let planned;
    try { planned = planJob(job).setups[0]; } catch (e) { if (e instanceof PlanError) { planRefused++; continue; } throw e; }
    const text = planned.programs[0].text;
    const lines = new TextDecoder().decode(text).split("\n");
    const task = proofTask(job, job.setups[0].id);
    const dice = new Dice(seed + 1000);
    for (let t = 0; t < 4; t++) {
      const n = Math.floor(dice.between(15, lines.length - 3));
      const replaceCutter = dice.chance(0.4);
      const t0 = performance.now();
      let r;
      try {
        r = resumeProgram(task, { text, name: "x.nc", afterLine: n, replaceCutter, jobName: job.name, style: job.shop.program, tool: 1 });
      } catch (e) { if (e instanceof PlanError && e.code === "nothing-left") { refused++; continue; } console.log(seed, n, replaceCutter, String(e)); throw e; }
      worst = Math.max(worst, performance.now() - t0);
      made++;
      if (r.fromLine === 0) { whole++; console.log("WHOLE", seed, n, replaceCutter); } else back.push(n + 1 - r.fromLine); if (n + 1 - r.fromLine > 20) console.log("BACK", seed, n, replaceCutter, r.fromLine, label);
      const rest = new TextDecoder().decode(r.text);
      const high = /G0 Z([-\d.]+)/.exec(rest)![1];
      const both = [...lines.slice(0, n), `G0 Z${high}`, ...rest.split("\n")].join("\n");
      const v = judge(raw, "top", both, planned.floorMm, {});
      if (v.problems.length > 0) { console.log("PROBLEM", seed, label, n, replaceCutter, r.fromLine, JSON.stringify(v.problems.slice(0, 4))); }
    }
  }
  back.sort((a, b) => a - b);
  console.log({ made, refused, whole, planRefused, worst: worst.toFixed(0), median: back[back.length >> 1], p90: back[Math.floor(back.length * .9)], max: back.at(-1), min: back[0] });
}, 600000);
