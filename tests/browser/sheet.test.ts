// The operator's sheet as it leaves the printer.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import type { Browser } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import type { Job } from "../../src/job/job.ts";
import { readJob } from "../../src/job/read.ts";
import { planJob } from "../../src/plan.ts";
import { sheetHtml } from "../../src/sheet/sheet.ts";
import { bestSeats } from "../../src/survey.ts";
import type { Loose } from "../job/example.ts";
import { asRead, jobOf } from "../planned.ts";
import { launch } from "./chromium.ts";

let browser: Browser;
beforeAll(async () => {
  browser = await launch();
}, 300_000);
afterAll(() => browser?.close());

const SAMPLES = join(import.meta.dirname, "../../samples");

function sample(name: string): Job {
  const file = join(SAMPLES, name, "job.json");
  return readJob(readFileSync(file, "utf8"), file, { readText: (path) => readFileSync(path, "utf8") });
}

/** A bar of 2400 mm in three lays, cleats along it and a clamp that stays with the first lay. */
function longBar(): Job {
  const cleat = (name: string, x: number, more: Loose = {}) => ({
    ...{ name, outline: { length: 50, width: 50, at: [x, -60] }, height: 30, ...more },
  });
  const bar = {
    ...{ id: "bar", outline: { length: 2400, width: 700, at: [20, 0] } },
    upper: { grid: { at: [20, 0], step: [1200, 350], rows: [[56, 55, 57], [55, 54, 56], [56, 55, 58]] } }, // biome-ignore format: a row a row
  };
  const job = jobOf([bar], {
    ...{ id: "top", target: { depth: 3 }, reindex: { overlap: 30 } },
    keepOut: [cleat("cleat A", 40), cleat("cleat B", 900), cleat("a clamp that moves", 700, { lays: [1] })],
  });
  job.shop.machine.travel.x = 1250;
  return asRead(job);
}

interface Box {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** By more than the white around words. */
function meet(a: Box, b: Box): boolean {
  const wide = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
  const high = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
  return wide > 1 && high > 3;
}

const JOBS: [string, () => Job][] = [
  ...["cupped-slab", "live-edge-cleats", "river-table"].map((name): [string, () => Job] => [
    name,
    () => sample(name),
  ]),
  ["a long bar", longBar],
];

test.each(JOBS)(
  "%s: a page a setup, on A4 and on Letter, its shims with it, no word over another",
  async (_, make) => {
    const job = make();
    const page = await browser.newPage();
    await page.setContent(sheetHtml(planJob(job, bestSeats(job))));
    for (const format of ["A4", "Letter"]) {
      const pdf = (await page.pdf({ format })).toString("latin1");
      expect(pdf.match(/\/Type\s*\/Page\b/g), format).toHaveLength(job.setups.length);
    }
    const over: string[] = [];
    for (const drawing of await page.locator("svg").all()) {
      const words: { text: string; box: Box }[] = [];
      for (const word of await drawing.locator("text").all()) {
        const box = await word.boundingBox();
        if (box !== null) words.push({ text: (await word.textContent()) ?? "", box });
      }
      words.forEach(({ text, box }, k) => {
        for (const other of words.slice(0, k))
          if (meet(box, other.box)) over.push(`${text} over ${other.text}`);
      });
      expect(words.length).toBeGreaterThan(1);
    }
    expect(over).toEqual([]);
    await page.close();
  },
);

test("keep-outs are told with height and place, each lay is drawn with what stands there then", () => {
  const plan = planJob(longBar());
  const html = sheetHtml(plan);
  expect(plan.setups[0].programs).toHaveLength(3);
  expect(html).toContain("cleat A, 30 mm high");
  expect(html).toMatch(/<b>cleat B<\/b> 30 mm high, from \(900, -60\) mm to \(950, -10\) mm/);
  expect(html).toContain("in lay 1 only");
  const [first, second, third] = html.split(/<b>Lay \d<\/b>, /).slice(1);
  expect(first).toContain("as first laid");
  expect(first).toContain("a clamp that moves");
  const { shiftMm } = plan.setups[0].programs[1];
  expect(second).toContain(`pushed ${-shiftMm[0]} mm towards -X in all`);
  expect(second).toContain("cleat A");
  expect(second).not.toContain("a clamp that moves");
  expect(third).toContain("cut here");
});

test("shims say under which of several pieces they go", () => {
  const job = sample("river-table");
  expect(sheetHtml(planJob(job, bestSeats(job)))).toMatch(
    /<b>Shims<\/b> under <b>left<\/b> .*; under <b>right<\/b> /,
  );
});
