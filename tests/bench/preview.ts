// The preview page: what it weighs, how soon it is seen, how quick it answers. In a browser that draws in software,
// against the same page with a tiny piece, taking turns.

import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { deflateRawSync, gzipSync } from "node:zlib";
import type { Browser, Page } from "playwright-core";
import { readJob } from "../../src/job/read.ts";
import { planJob } from "../../src/plan.ts";
import { pack } from "../../src/preview/pack.ts";
import { launch } from "../browser/chromium.ts";
import type { RawJob } from "../oracles/judge-job.ts";
import { type BenchRow, seeded } from "./ratio.ts";
import { tableJob } from "./table-job.ts";

const DIST = join(import.meta.dirname, "..");
const OPENINGS = 7;
const REPLANS = 5;

export async function benchPreview(): Promise<BenchRow[]> {
  const folder = mkdtempSync(join(tmpdir(), "slabtrue-bench-"));
  const browser = await launch();
  try {
    const [tiny, table] = [tinyJob(), tableJob(1)].map((job, k) => previewOf(job, join(folder, `${k}`)));
    return [...weights(), ...(await pictures(browser, tiny, table)), ...(await answers(browser, table))];
  } finally {
    await browser.close();
    rmSync(folder, { recursive: true });
  }
}

function row(name: string, ratio: number, target: number, detail: string): BenchRow {
  return { name, ratio, target, detail };
}

/** The bench table's setup on next to nothing: a mesh of few triangles. */
function tinyJob(): RawJob {
  const job = tableJob(1);
  const piece = {
    id: "table",
    thickness: 40,
    outline: { length: 60, width: 40 },
  } as RawJob["pieces"][number];
  const setups = job.setups.map((setup) => ({ ...setup, target: { thickness: 38 } }));
  return { ...job, pieces: [piece], setups } as RawJob;
}

function previewOf(job: RawJob, name: string): string {
  writeFileSync(`${name}.json`, JSON.stringify(job));
  const program = join(DIST, "slabtrue.mjs");
  const args = [program, "preview", `${name}.json`, "--out", `${name}.html`];
  const { status, stderr } = spawnSync(process.execPath, args, { encoding: "utf8" });
  if (status !== 0) throw new Error(stderr);
  return `${name}.html`;
}

function weights(): BenchRow[] {
  const page = readFileSync(join(DIST, "preview.html"));
  const planner = /id="slabtrue-planner">([^<]*)</.exec(page.toString())?.[1] ?? "";
  const kb = (bytes: number) => `${(bytes / 1000).toFixed(0)} kB`;
  const whole = gzipSync(page, { level: 9 }).length;
  const drawing = gzipSync(page.toString().replace(planner, ""), { level: 9 }).length;
  const moves = millionMoves();
  return [
    row("preview: page without data, to 600 kB", page.length / 600e3, 1, kb(page.length)),
    row(
      "preview: compressed, without the planner, to 150 kB",
      drawing / 150e3,
      1,
      `${kb(drawing)}, with it ${kb(whole)}`,
    ),
    row("preview: a million moves in the page, to 10 MB", moves / 10e6, 1, `${(moves / 1e6).toFixed(1)} MB`),
  ];
}

/** Bytes in the page of a program that was not simplified: rows in steps of about 20 mm. */
function millionMoves(): number {
  const count = 1_000_000;
  const random = seeded(7);
  const columns = {
    kind: new Uint8Array(count).fill(1),
    ...{ x: new Float64Array(count), y: new Float64Array(count), z: new Float64Array(count) },
    value: new Float64Array(count).fill(6000),
    ...{ line: new Int32Array(count), row: new Int32Array(count) },
  };
  for (let k = 0; k < count; k++) {
    const at = Math.floor(k / 120);
    columns.x[k] = (20_000 * (at % 2 === 0 ? k % 120 : 119 - (k % 120)) + Math.round(8000 * random())) / 1000;
    columns.y[k] = ((at * 38_100) % 1_100_000) / 1000;
    columns.z[k] = 55 - Math.floor(at / 29) / 100;
    columns.line[k] = k + 12;
    columns.row[k] = at;
  }
  return Math.ceil((deflateRawSync(pack(columns).bytes, { level: 6 }).length * 4) / 3);
}

/** In the page: when the first picture was there, and how long another takes, in milliseconds. */
const PICTURES = `(async () => {
  const gl = document.querySelector("canvas").getContext("webgl2");
  const pixel = new Uint8Array(4);
  const drawn = async () => {
    await new Promise((done) => requestAnimationFrame(done));
    const from = performance.now();
    // Nothing can be read before it is drawn.
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel);
    return performance.now() - from;
  };
  await drawn();
  await drawn();
  const first = performance.now();
  const stage = document.querySelector(".stage");
  const frames = [];
  for (let k = 0; k < 5; k++) {
    // A pause, so that it is drawn as finely as it gets.
    await new Promise((done) => setTimeout(done, 500));
    stage.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowLeft" }));
    frames.push(await drawn());
  }
  return { first, frame: frames.sort((a, b) => a - b)[2] };
})()`;

async function pictures(browser: Browser, tiny: string, table: string): Promise<BenchRow[]> {
  const found = [tiny, table].map(() => ({ first: [] as number[], frame: [] as number[] }));
  for (let n = 0; n < OPENINGS; n++)
    for (const [k, file] of [tiny, table].entries()) {
      const page = await opened(browser, file);
      const { first, frame } = await page.evaluate<{ first: number; frame: number }>(PICTURES);
      found[k].first.push(first);
      found[k].frame.push(frame);
      await page.close();
    }
  const [little, large] = found.map(({ first, frame }) => ({ first: median(first), frame: median(frame) }));
  const ms = (value: number) => `${value.toFixed(0)} ms`;
  return [
    row("preview: first picture, to that of a tiny piece", large.first / little.first, 1.5, ms(large.first)),
    row("preview: frame, to that of a tiny piece", large.frame / little.frame, 4, ms(large.frame)),
  ];
}

/** In the page: sets a stepover, and says how long it was until its plan was shown. */
const REPLAN = (percent: number) => `(async () => {
  const field = document.querySelector("#try-stepover");
  const busy = document.querySelector(".busy");
  const from = performance.now();
  field.value = "${percent}";
  field.dispatchEvent(new Event("change"));
  await new Promise((done) => {
    const watch = new MutationObserver(() => {
      if (busy.textContent !== "") return;
      watch.disconnect();
      done();
    });
    watch.observe(busy, { childList: true, characterData: true, subtree: true });
  });
  return performance.now() - from;
})()`;

/** In the page: the slowest of many jumps along the time rail. */
const JUMPS = `(() => {
  const rail = document.querySelector(".rail-slider");
  let slowest = 0;
  for (let n = 0; n < 60; n++) {
    const from = performance.now();
    rail.value = rail.max * ((n * 0.618034) % 1);
    rail.dispatchEvent(new Event("input"));
    slowest = Math.max(slowest, performance.now() - from);
  }
  return slowest;
})()`;

async function answers(browser: Browser, table: string): Promise<BenchRow[]> {
  const page = await opened(browser, table);
  await page.waitForTimeout(1000);
  const slowest = await page.evaluate<number>(JUMPS);
  const percents = Array.from({ length: REPLANS + 1 }, (_, k) => 50 + 3 * k);
  const inPage: number[] = [];
  const inNode: number[] = [];
  for (const percent of percents) {
    inPage.push(await page.evaluate<number>(REPLAN(percent)));
    inNode.push(planMillis(percent));
  }
  await page.close();
  // The first starts the worker.
  const [there, here] = [median(inPage.slice(1)), median(inNode.slice(1))];
  return [
    row("preview: plan anew and shown, to the same plan in Node", there / here, 3, `${there.toFixed(0)} ms`),
    row("preview: slowest jump to another time, to 100 ms", slowest / 100, 1, `${slowest.toFixed(1)} ms`),
  ];
}

function planMillis(percent: number): number {
  const job = tableJob(1);
  const setups = job.setups.map((setup) => ({
    ...setup,
    passes: { ...setup.passes, stepover: percent / 100 },
  }));
  const text = JSON.stringify({ ...job, setups });
  const from = performance.now();
  planJob(readJob(text, "job.json", { readText: () => "" }));
  return performance.now() - from;
}

async function opened(browser: Browser, file: string): Promise<Page> {
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
  await page.goto(pathToFileURL(file).href);
  await page.waitForSelector("html[data-ready]");
  return page;
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1];
}
