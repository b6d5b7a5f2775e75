// The operator's sheet as it leaves the printer.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import type { Browser } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import { readJob } from "../../src/job/read.ts";
import { planJob } from "../../src/plan.ts";
import { sheetHtml } from "../../src/sheet/sheet.ts";
import { bestSeats } from "../../src/survey.ts";
import { launch } from "./chromium.ts";

let browser: Browser;
beforeAll(async () => {
  browser = await launch();
}, 300_000);
afterAll(() => browser?.close());

const SAMPLES = join(import.meta.dirname, "../../samples");

test.each(["cupped-slab", "live-edge-cleats", "river-table"])(
  "%s: a page a setup, on A4 and on Letter, its shims with it",
  async (sample) => {
    const file = join(SAMPLES, sample, "job.json");
    const job = readJob(readFileSync(file, "utf8"), file, { readText: (path) => readFileSync(path, "utf8") });
    const page = await browser.newPage();
    await page.setContent(sheetHtml(planJob(job, bestSeats(job))));
    for (const format of ["A4", "Letter"]) {
      const pdf = (await page.pdf({ format })).toString("latin1");
      expect(pdf.match(/\/Type\s*\/Page\b/g), format).toHaveLength(job.setups.length);
    }
    await page.close();
  },
);
