import { test } from "vitest";
import type { PlanError } from "../../src/errors.ts";
import { readJob } from "../../src/job/read.ts";
import { levelsOf } from "../../src/passes/floor.ts";
import { laysOf } from "../../src/passes/lays.ts";
import { planJob } from "../../src/plan.ts";
import { uncutStock } from "../../src/survey/stock.ts";
import { randomTable } from "./random-tables.ts";

test("x", () => {
  const { job, label } = randomTable(Number(process.env.SEED));
  console.log(
    label,
    JSON.stringify(job.setups),
    job.pieces.map((p) => JSON.stringify(p.outline) + p.grain + JSON.stringify(p.upper)).join("\n"),
    job.shop.machine.travel.x,
  );
  const j = readJob(JSON.stringify(job), "r", { readText: () => "" });
  const s = j.setups[0];
  const st = s.pieces.map(uncutStock);
  const lv = levelsOf(s, j.shop.machine, st, "mm");
  try {
    for (const l of laysOf(s, s.reindexMm!, j.shop.machine, st, lv, 3, "mm"))
      console.log(l.shiftMm, l.fromX, l.toX, l.stairMm, l.windowMinX, l.windowMaxX);
  } catch (e) {
    console.log(e.message);
  }
  try {
    planJob(j);
  } catch (e) {
    console.log(e.message, (e as PlanError).line);
  }
});
