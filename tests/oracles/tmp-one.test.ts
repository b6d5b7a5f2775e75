import { test } from "vitest";
import { readJob } from "../../src/job/read.ts";
import { randomTable } from "./random-tables.ts";
import { laysOf } from "../../src/passes/lays.ts";
import { levelsOf } from "../../src/passes/floor.ts";
import { uncutStock } from "../../src/survey/stock.ts";
test("x", () => {
  const { job } = randomTable(116);
  console.log(JSON.stringify(job.setups), JSON.stringify(job.pieces[0].outline), job.pieces[0].grain, job.shop.machine.travel, JSON.stringify(job.pieces[0].upper));
  const j = readJob(JSON.stringify(job), "r", { readText: () => "" });
  const s = j.setups[0]; const st = s.pieces.map(uncutStock);
  const lv = levelsOf(s, j.shop.machine, st, "mm");
  for (const l of laysOf(s, s.reindexMm!, j.shop.machine, st, lv, 3, "mm")) console.log(l.shiftMm, l.fromX, l.toX, l.stairMm, l.windowMinX, l.windowMaxX);
});
