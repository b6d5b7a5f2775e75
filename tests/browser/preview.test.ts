// The preview page in a real browser, opened from the file system as a maker would.

import { readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { unzipSync } from "fflate";
import type { Browser, Download, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { newFolder, slabtrue } from "../cli/run.ts";
import { launch } from "./chromium.ts";
import {
  clockTime,
  drop,
  EMPTY_PAGE,
  figure,
  jobCopy,
  open,
  planOf,
  previewOf,
  SAMPLES,
  scrub,
} from "./pages.ts";

const AXE = readFileSync(new URL(import.meta.resolve("axe-core")), "utf8");
const JOB = join(SAMPLES, "live-edge-cleats/job.json");
/** Installing the browser may take a while. */
const INSTALL_MS = 300_000;

let browser: Browser;
let preview: string;

beforeAll(async () => {
  [browser, preview] = await Promise.all([launch(), previewOf(JOB)]);
}, INSTALL_MS);
afterAll(() => browser?.close());

/** Names of serious findings of axe, and where. */
async function seriousFindings(page: Page): Promise<string[]> {
  await page.evaluate(AXE);
  return page.evaluate(`axe.run(document, { resultTypes: ["violations"] }).then(({ violations }) =>
    violations.filter(({ impact }) => impact === "serious" || impact === "critical")
      .map(({ id, nodes }) => id + ": " + nodes.map(({ target }) => target).join(" | ")))`);
}

async function saved(page: Page, button: string): Promise<{ name: string; bytes: Buffer }> {
  const [download] = await Promise.all([
    page.waitForEvent("download") as Promise<Download>,
    page.getByRole("button", { name: button }).click(),
  ]);
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}

/** Waits until all of the program has been run once, so that the material is known. */
async function counted(page: Page): Promise<void> {
  await expect.poll(() => page.locator(".rail-taken").textContent(), { timeout: 20_000 }).toMatch(/^taken/);
}

/** Types into a field and waits until the plan follows it. */
async function tryValue(page: Page, id: string, typed: string): Promise<void> {
  await page.fill(id, typed);
  await page.press(id, "Enter");
  await expect
    .poll(() => page.locator(`${id}-change`).textContent(), { timeout: 20_000 })
    .toMatch(/min|same time|not possible/);
}

describe("opening", () => {
  test("from the file system: no error, no request, the numbers of the command line", async () => {
    const { page, errors, requests } = await open(browser, preview);
    const plan = await planOf(JOB);
    expect(await page.locator("h1").textContent()).toBe("Boathouse bar top");
    const [setup] = plan.setups;
    expect(await figure(page, "Machine time").textContent()).toBe(clockTime(setup.seconds.total));
    const rows = setup.layers.reduce((sum: number, layer: { rows: number }) => sum + layer.rows, 0);
    expect(await figure(page, "Passes").textContent()).toBe(`${setup.layers.length} layers, ${rows} rows`);
    await page.waitForTimeout(300);
    expect(errors).toEqual([]);
    expect(requests).toEqual([]);
    // Something was drawn: not all of the piece's place has one colour.
    const picture = await page.locator(".stage").screenshot();
    expect(picture.length).toBeGreaterThan(20_000);
    await page.close();
  });

  test("its policy lets no other script run, and nothing be fetched", async () => {
    const { page } = await open(browser, preview);
    const result = await page.evaluate(`(async () => {
      const script = document.createElement("script");
      script.textContent = "window.ran = true";
      document.body.append(script);
      document.body.insertAdjacentHTML("beforeend", "<img src=x onerror='window.ran = true'>");
      await new Promise((done) => setTimeout(done, 100));
      const fetched = await fetch("data:text/plain,x").then(() => true, () => false);
      return { ran: window.ran === true, fetched };
    })()`);
    expect(result).toEqual({ ran: false, fetched: false });
    await page.close();
  });

  test("hostile names stay text", async () => {
    const name = '</script><img src=x onerror="window.hacked=1"> $& $` \u2028 <!--';
    const job = jobCopy("cupped-slab", (raw) => {
      raw.name = name;
      raw.pieces[0].material = "<b>oak</b>";
      raw.setups[0].keepOut = [
        {
          name: "<svg onload=window.hacked=1>",
          outline: [
            [-90, 200],
            [-40, 200],
            [-40, 260],
            [-90, 260],
          ],
          height: 30,
        },
      ];
    });
    const { page, errors } = await open(browser, await previewOf(job));
    expect(await page.locator("h1").textContent()).toBe(name);
    expect(await page.locator(".label-keep-out").textContent()).toContain("<svg onload=window.hacked=1>");
    expect(await page.locator("#page img, #page b, .labels svg").count()).toBe(0);
    expect(await page.evaluate("window.hacked")).toBeUndefined();
    expect(errors).toEqual([]);
    await page.close();
  });

  test("without WebGL: the plan from above, and all numbers", async () => {
    const blind = await launch("--disable-3d-apis");
    const { page, errors } = await open(blind, preview);
    expect(await page.locator(".plan-view svg path.plan-track-0").getAttribute("d")).toMatch(/^M/);
    expect(await page.locator(".plan-keep-out").count()).toBe(5);
    expect(await figure(page, "Machine time").textContent()).toMatch(/^0:1/);
    await scrub(page, 1);
    expect(await page.locator(".rail-left").textContent()).toContain("left 0:00:00");
    expect(errors).toEqual([]);
    await blind.close();
  });
});

describe("playback", () => {
  test("ends at the proof's residual, with all material taken", async () => {
    const { page } = await open(browser, preview);
    const { proof, floor, removed } = (await planOf(JOB)).setups[0];
    await counted(page);
    await scrub(page, 1);
    // The sample is in inches; a quart of the United States is 0.946352946 litres, NIST Handbook 44, appendix C.
    const quarts = ((removed.wood + removed.resin) / 0.946352946).toFixed(2);
    expect(await page.locator(".rail-taken").textContent()).toBe(
      `taken ${quarts} quarts of ${quarts} quarts, 100 %`,
    );
    const stands = (await page.locator(".rail-stands").textContent()) ?? "";
    const [low, high] = [...stands.matchAll(/-?\d+(?:\.\d+)?/g)].map(([number]) => Number(number));
    expect(high).toBeCloseTo(proof.highest - floor, 3);
    // The lowest place may lie between the screen's samples.
    expect(Math.abs(low - (proof.lowest - floor))).toBeLessThan(0.001);
    await page.close();
  });

  test("plays at its pace, steps by rows, and jumps", async () => {
    const { page } = await open(browser, preview);
    await counted(page);
    await page.selectOption('[aria-label="How many times as fast"]', "500");
    await page.getByRole("button", { name: "Play" }).click();
    await expect.poll(() => page.locator(".rail-taken").textContent(), { timeout: 15_000 }).toMatch(/100 %$/);
    expect(await page.locator(".play").textContent()).toBe("Play");
    await scrub(page, 0);
    await page.getByRole("button", { name: "Next row" }).click();
    expect(await page.locator(".rail-where").textContent()).toMatch(/row \d+/);
    const first = await page.locator(".rail-where").textContent();
    await page.getByRole("button", { name: "Next row" }).click();
    const second = await page.locator(".rail-where").textContent();
    expect(second).toMatch(/row \d+/);
    expect(second).not.toBe(first);
    await scrub(page, 0.618);
    expect(await page.locator(".rail-where").textContent()).toMatch(/layer \d of 3/);
    await page.close();
  });

  test("what is under the pointer is told: layer, row, feed, Z, line, time", async () => {
    const { page } = await open(browser, preview);
    await page.getByRole("button", { name: "Above", exact: true }).click();
    await page.waitForTimeout(300);
    const box = await page.locator(".stage").boundingBox();
    if (box === null) throw new Error("the stage is not seen");
    const tip = page.locator(".tip");
    // Down across the piece; it meets a row of the first layer somewhere.
    for (let share = 0.35; share < 0.8 && !(await tip.isVisible()); share += 0.01)
      await page.mouse.move(box.x + box.width * 0.35, box.y + box.height * share);
    expect(await tip.textContent()).toMatch(
      /^layer 1 of 3, row \d+, feed 220 in\/min, Z -?[\d.]+ in, line \d+, done at 0:\d\d:\d\d$/,
    );
    await page.close();
  });
});

describe("trying another way", () => {
  test("gives the numbers of the command line, says what changed, and goes back", async () => {
    const { page, errors, requests } = await open(browser, preview);
    const before = await figure(page, "Machine time").textContent();
    await tryValue(page, "#try-stepover", "50");
    await tryValue(page, "#try-target", "2.35");
    const job = await saved(page, "Changed job file");
    expect(job.name).toBe("job.json");
    const text = job.bytes.toString();
    expect(text).toContain('"stepover": 0.5,');
    expect(text).toContain('"thickness": 2.35');
    // Everything else stands as it was written.
    const changed = text.replace('"stepover": 0.5,', '"stepover": 0.65,').replace("2.35", '"2 3/8 in"');
    expect(changed).toBe(readFileSync(JOB, "utf8"));

    const again = jobCopy("live-edge-cleats", () => {});
    writeFileSync(again, text.replace("../shops/gantry-inch.json", "shop.json"));
    writeFileSync(
      join(dirname(again), "bar-upper.csv"),
      readFileSync(join(SAMPLES, "live-edge-cleats/bar-upper.csv")),
    );
    const plan = await planOf(again);
    const [setup] = plan.setups;
    expect(await figure(page, "Machine time").textContent()).toBe(clockTime(setup.seconds.total));
    const archive = unzipSync((await saved(page, "All programs (zip)")).bytes);
    const inPage = JSON.parse(Buffer.from(archive["plan.json"]).toString());
    expect(inPage.setups).toEqual(plan.setups);
    expect(await page.locator("#try-target-change").textContent()).toMatch(
      /^[+−]?.*min, .*pass.*, −0.025 in$/,
    );

    await page.getByRole("button", { name: "Undo" }).click();
    await page.getByRole("button", { name: "Undo" }).click();
    expect(await figure(page, "Machine time").textContent()).toBe(before);
    expect(errors).toEqual([]);
    expect(requests).toEqual([]);
    await page.close();
  });

  test("programs saved without a change are those of the plan folder, byte by byte", async () => {
    const { page } = await open(browser, preview);
    const folder = newFolder();
    await slabtrue(folder, "plan", JOB, "--out", join(folder, "plan"));
    const archive = unzipSync((await saved(page, "All programs (zip)")).bytes);
    const file = "01-flatten-upper.nc";
    expect(Buffer.from(archive[file]).equals(readFileSync(join(folder, "plan", file)))).toBe(true);
    await page.locator("summary", { hasText: "One program at a time" }).click();
    const single = await saved(page, file);
    expect([single.name, single.bytes.equals(readFileSync(join(folder, "plan", file)))]).toEqual([
      file,
      true,
    ]);
    await page.close();
  });

  test("what cannot be planned says so as the command line does, and the old plan stays", async () => {
    const { page } = await open(browser, preview);
    const before = await figure(page, "Machine time").textContent();
    await tryValue(page, "#try-depth", "5 mm");
    expect(await page.locator("#try-depth-change").textContent()).toBe("not possible");
    expect(await page.locator(".trouble").textContent()).toBe(
      'job.json:41:28: setups[0].passes.depth: found 0.1969 in a pass; wanted at most 0.1563 in, the depthMax of cutter "flat2.5"',
    );
    expect(await figure(page, "Machine time").textContent()).toBe(before);
    expect(await page.getByRole("button", { name: "All programs (zip)" }).isDisabled()).toBe(true);
    await page.keyboard.press("Control+z");
    expect(await page.locator(".trouble").textContent()).toBe("");
    await page.close();
  });
});

describe("dropping files", () => {
  const shop = readFileSync(join(SAMPLES, "shops/gantry-mm.json"), "utf8");
  const job = readFileSync(join(SAMPLES, "cupped-slab/job.json"), "utf8");

  test("a job with its shop is planned; what is missing is told, and may come later", async () => {
    const { page, errors, requests } = await open(browser, EMPTY_PAGE);
    expect(await page.locator(".empty h2").textContent()).toBe("No plan is open");
    expect(await seriousFindings(page)).toEqual([]);
    await drop(page, { "job.json": job });
    const problem = page.locator(".problem");
    await problem.locator("li").first().waitFor();
    expect(await problem.locator("li").allTextContents()).toEqual([
      expect.stringMatching(
        /^job\.json:\d+:11: shop: cannot read "\.\.\/shops\/gantry-mm\.json": there is no such file$/,
      ),
    ]);
    expect(await seriousFindings(page)).toEqual([]);
    await drop(page, { "gantry-mm.json": shop });
    await figure(page, "Machine time").waitFor();
    const plan = await planOf(join(SAMPLES, "cupped-slab/job.json"));
    expect(await figure(page, "Machine time").textContent()).toBe(clockTime(plan.setups[0].seconds.total));
    expect(await problem.isVisible()).toBe(false);
    expect(errors).toEqual([]);
    expect(requests).toEqual([]);
    await page.close();
  });

  test("mistakes are told as the command line tells them", async () => {
    const { page } = await open(browser, EMPTY_PAGE);
    const wrong = job.replace('"depth": 2,', '"depht": 2,').replace('"grain": 0,', '"grain": "along",');
    await drop(page, { "job.json": wrong, "gantry-mm.json": shop });
    await page.locator(".problem li").first().waitFor();
    const told = await page.locator(".problem li").allTextContents();
    const folder = dirname(jobCopy("cupped-slab", () => {}));
    writeFileSync(join(folder, "job.json"), wrong.replace("../shops/gantry-mm.json", "shop.json"));
    const { stderr } = await slabtrue(folder, "plan", "job.json");
    expect(told).toEqual(stderr.trim().split("\n"));
    await page.close();
  });

  test("any program is shown and timed, and on a plan's wood it is checked", async () => {
    const program =
      "G21 G90 G17 G94\nS12000 M3\nG0 Z30\nG0 X0 Y0\nG1 Z5 F900\nG1 X500 F6000\nG1 Y40\nG1 X0\nG0 Z30\nM30\n";
    const { page, errors } = await open(browser, EMPTY_PAGE);
    await drop(page, { "rows.ngc": program });
    await figure(page, "Machine time").waitFor();
    expect(await page.locator(".panel h2").textContent()).toBe("Program rows.ngc");
    expect(await figure(page, "Passes").textContent()).toBe("1 layer, 3 rows");
    await drop(page, { "job.json": job, "gantry-mm.json": shop });
    await expect
      .poll(() => page.locator("h1").textContent(), { timeout: 20_000 })
      .toBe("Lighthouse reading table");
    await drop(page, { "rows.ngc": program });
    await page.locator(".proof-bad").waitFor();
    expect(await page.locator(".mind").textContent()).toContain("line 5: straight down into material");
    await page.getByRole("button", { name: "Back to the plan" }).click();
    expect(await page.locator(".panel h2").textContent()).toBe("Setup skim-upper");
    expect(errors).toEqual([]);
    await page.close();
  });
});

describe("everyone", () => {
  test("by keys alone: choose a setup, play, step, shade, units, try, undo", async () => {
    const both = jobCopy("cupped-slab", ({ setups }) => {
      setups.push({ ...setups[0], id: "skim-under", face: "under", target: { thickness: 52 } });
    });
    const { page } = await open(browser, await previewOf(both));
    const chosen = page.locator('[role="radio"][aria-checked="true"] .rung-id');
    for (let n = 0; n < 10; n++) {
      await page.keyboard.press("Tab");
      if ((await page.evaluate("document.activeElement.getAttribute('role')")) === "radio") break;
    }
    await page.keyboard.press("ArrowDown");
    expect(await chosen.textContent()).toBe("skim-under");
    await page.keyboard.press("1");
    expect(await chosen.textContent()).toBe("skim-upper");
    await page.locator(".stage").focus();
    await page.keyboard.press("ArrowLeft");
    await page.keyboard.press("Space");
    expect(await page.locator(".play").textContent()).toBe("Pause");
    await page.keyboard.press("Space");
    await page.keyboard.press(".");
    expect(await page.locator(".rail-where").textContent()).toContain("row");
    await page.keyboard.press("]");
    expect(await page.locator(".rail-where").textContent()).toContain("layer 2");
    await page.keyboard.press("s");
    expect(await page.locator("#shade").inputValue()).toBe("height");
    await page.keyboard.press("u");
    expect(await figure(page, "Floor").textContent()).toMatch(/ in above the bed$/);
    await page.locator(".rail-slider").focus();
    await page.keyboard.press("End");
    expect(await page.locator(".rail-left").textContent()).toContain("left 0:00:00");
    await tryValue(page, "#try-feed", "250 in/min");
    expect(await page.locator("#try-feed-change").textContent()).toMatch(/min|same time/);
    await page.locator(".stage").focus();
    await page.keyboard.press("Control+z");
    expect(await page.locator("#try-feed-change").textContent()).toBe("");
    await page.close();
  });

  for (const colorScheme of ["light", "dark"] as const)
    test(`axe finds nothing serious, ${colorScheme}, everything unfolded`, async () => {
      const { page } = await open(browser, preview, { colorScheme });
      await page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true");
      await page.selectOption("#shade", "thickness");
      expect(await seriousFindings(page)).toEqual([]);
      await page.close();
    });

  test("on a tablet upright: nothing runs over the side, a tap tells of a move, two fingers bring nearer", async () => {
    const { page, errors } = await open(browser, preview, {
      viewport: { width: 820, height: 1180 },
      hasTouch: true,
      isMobile: true,
    });
    expect(await page.evaluate("document.documentElement.scrollWidth")).toBeLessThanOrEqual(820);
    const stage = page.locator(".stage");
    const [before, box] = [await stage.screenshot(), await stage.boundingBox()];
    if (box === null) throw new Error("the stage is not seen");
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    const touch = await page.context().newCDPSession(page);
    const fingers = (apart: number) => [
      { x: x - apart, y, id: 1 },
      { x: x + apart, y, id: 2 },
    ];
    await touch.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: fingers(60) });
    for (const apart of [80, 110, 150])
      await touch.send("Input.dispatchTouchEvent", { type: "touchMove", touchPoints: fingers(apart) });
    await touch.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
    await page.waitForTimeout(500);
    expect((await stage.screenshot()).equals(before)).toBe(false);
    await page.getByRole("button", { name: "Above", exact: true }).tap();
    for (let share = 0.35; share < 0.8 && !(await page.locator(".tip").isVisible()); share += 0.03)
      await page.touchscreen.tap(box.x + box.width * 0.35, box.y + box.height * share);
    expect(await page.locator(".tip").textContent()).toContain("layer 1 of 3");
    expect(errors).toEqual([]);
    await page.close();
  });
});

test("the page without a plan is small enough", () => {
  expect(readFileSync(EMPTY_PAGE).length).toBeLessThanOrEqual(600_000);
});
