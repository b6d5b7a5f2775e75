// `slabtrue actual`: the file it keeps, by one writer and by several at once.

import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { exampleShop } from "../job/example.ts";
import { jobFolder, slabtrue } from "./run.ts";

const BEGIN = "\ufeffdate,job,setup,cutter,planned minutes,actual minutes\n";

/** A planned job whose shop file stands in a folder of its own. */
async function planned(): Promise<string> {
  const folder = jobFolder((job) => {
    job.name = "=Jetty table";
    job.shop = "shops/loft.json";
  });
  mkdirSync(join(folder, "shops"));
  writeFileSync(join(folder, "shops", "loft.json"), JSON.stringify(exampleShop()));
  const run = await slabtrue(folder, "plan", "job.json", "--out", "out/plan");
  expect(run.stderr).toBe("");
  return folder;
}

test("a run is recorded beside the shop file, told in the next plan, and changes no program", async () => {
  const folder = await planned();
  const programs = () =>
    readdirSync(join(folder, "out/plan"))
      .filter((name) => name.endsWith(".nc"))
      .map((name) => readFileSync(join(folder, "out/plan", name), "utf8"));
  const before = programs();
  const plan = JSON.parse(readFileSync(join(folder, "out/plan/plan.json"), "utf8"));
  expect(plan.shop).toBe("../../shops/loft.json");
  const [{ id, seconds }] = plan.setups;

  const minutes = String(Number((seconds.total / 60).toFixed(2)));
  const taken = (1.25 * Number(minutes)).toFixed(1);
  const run = await slabtrue(folder, "actual", "out/plan", "--setup", id, "--minutes", taken);
  expect(run).toMatchObject({ status: 0, stderr: "" });
  const text = readFileSync(join(folder, "shops/actuals.csv"), "utf8");
  expect(text).toMatch(
    new RegExp(`^${BEGIN}\\d{4}-\\d\\d-\\d\\d,'=Jetty table,${id},flat63,${minutes},${taken}\\n$`),
  );
  // From another folder, by the file instead of the folder.
  await slabtrue(join(folder, "shops"), "actual", "../out/plan/plan.json", "--setup", id, "--minutes", taken);
  expect(readFileSync(join(folder, "shops/actuals.csv"), "utf8").split("\n")).toHaveLength(4);

  const list = await slabtrue(join(folder, "shops"), "actual", "--list");
  expect(list.status).toBe(0);
  expect(list.stdout).toMatch(
    /, the middle of 2 runs of 1 job since \d{4}-\d\d-\d\d; long runs count more\./,
  );
  const again = await slabtrue(folder, "plan", "job.json", "--out", "out/plan");
  expect(again.stdout).toContain("the middle of 2 runs of 1 job since");
  expect(programs()).toEqual(before);
});

test("minutes may be a clock's time, as a plan prints it", async () => {
  const folder = await planned();
  for (const [minutes, took] of [
    ["0:41:30", "41.5"],
    ["6:15", "6.25"],
    ["1:02:00", "62"],
  ]) {
    const run = await slabtrue(folder, "actual", "out/plan", "--setup", "skim", "--minutes", minutes);
    expect(run.status).toBe(0);
    expect(readFileSync(join(folder, "shops/actuals.csv"), "utf8")).toMatch(new RegExp(`,${took}\\n$`));
  }
});

test("a slip of minutes is told when it is recorded, and does not count in what is reckoned with", async () => {
  const folder = await planned();
  const [{ seconds }] = JSON.parse(readFileSync(join(folder, "out/plan/plan.json"), "utf8")).setups;
  const record = (factor: number, ...more: string[]) => {
    const minutes = ((factor * seconds.total) / 60).toFixed(2);
    return slabtrue(folder, "actual", "out/plan", "--setup", "skim", "--minutes", minutes, ...more);
  };
  const slip = await record(10);
  expect(slip.status).toBe(0);
  expect(slip.stderr.replace(/\s+/g, " ")).toMatch(
    /Mind: that is (9\.9|10\.0)\d times the plan\. Is the number in min/,
  );
  expect(slip.stdout).toContain("1 recorded run is more than three times off the plan and does not count.");
  const good = await record(1.2);
  expect(good.stderr).toBe("");
  expect(good.stdout).toContain(" in 1 run of 1 job");
  const { ratio } = JSON.parse((await record(0.02, "--json")).stdout);
  expect(ratio).toMatchObject({ runs: 1, leftOut: 2 });
  expect(ratio.expected).toBeCloseTo(1.05, 2);
});

test("when many write at once then every run is there once, under one header", async () => {
  const folder = await planned();
  const minutes = Array.from({ length: 12 }, (_, k) => 1 + k / 10);
  const runs = await Promise.all(
    minutes.map((each) => slabtrue(folder, "actual", "out/plan", "--setup", "skim", "--minutes", `${each}`)),
  );
  expect(runs.map(({ status }) => status)).toEqual(minutes.map(() => 0));
  const lines = readFileSync(join(folder, "shops/actuals.csv"), "utf8").split("\n");
  expect(`${lines[0]}\n`).toBe(BEGIN);
  const found = lines.slice(1, -1).map((line) => Number(line.split(",").at(-1)));
  expect(found.sort((a, b) => a - b)).toEqual(minutes);
  expect(readdirSync(join(folder, "shops")).sort()).toEqual(["actuals.csv", "loft.json"]);
});

test("when the last line was cut off then the next begins a line of its own and a note says so", async () => {
  const folder = await planned();
  const file = join(folder, "shops/actuals.csv");
  writeFileSync(file, `${BEGIN}2026-03-09,"Jetty, table",skim,flat63,10,1`);
  const run = await slabtrue(folder, "actual", "out/plan", "--setup", "skim", "--minutes", "0.6");
  expect(run.status).toBe(0);
  expect(run.stderr).toContain("line 2 was cut off when it was written, and is left out");
  expect(run.stdout).toContain(" in 1 run of 1 job");
  expect(readFileSync(file, "utf8")).toContain("skim,flat63,10,1,cut off\n");
});

// Nothing writes here, so that one plan will do.
const shared = planned();

test.each([
  [["--setup", "skam", "--minutes", "3"], /--setup: found "skam"; the setups of out\/plan are "skim"/],
  [["--setup", "skim"], /--minutes: missing; wanted the minutes/],
  [["--setup", "skim", "--minutes", "-3"], /--minutes: found "-3"/],
  [["--setup", "skim", "--minutes", "1h"], /--minutes: found "1h"/],
  [["--setup", "skim", "--minutes", "0:61:00"], /--minutes: found "0:61:00"/],
  [["--setup", "skim", "--minutes", "0"], /--minutes: found "0"/],
  [["--minutes", "5"], /--setup: missing/],
  [["--setup", "skim", "--minutes", "5", "--shop", "gone/shop.json"], /there is no such file/],
])("when asked with %j then the mistake is told and nothing is written", async (options, told) => {
  const folder = await shared;
  const run = await slabtrue(folder, "actual", "out/plan", ...options);
  expect(run.status).toBe(2);
  expect(run.stderr).toMatch(told);
  expect(existsSync(join(folder, "shops/actuals.csv"))).toBe(false);
});

test("when there is no plan, or its shop file has moved, then what to name is said", async () => {
  const folder = await planned();
  const none = await slabtrue(folder, "actual", "out", "--setup", "skim", "--minutes", "3");
  expect(none).toMatchObject({ status: 2, stdout: "" });
  expect(none.stderr).toContain("out: cannot be read as a plan");
  const job = await slabtrue(folder, "actual", "job.json", "--setup", "skim", "--minutes", "3");
  expect(job.stderr).toContain("job.json: is not a plan");
  const file = join(folder, "out/plan/plan.json");
  writeFileSync(file, readFileSync(file, "utf8").replace("loft.json", "left.json"));
  const moved = await slabtrue(folder, "actual", "out/plan", "--setup", "skim", "--minutes", "3");
  expect(moved.status).toBe(2);
  expect(moved.stderr).toContain("left.json, and there is no such file; name it with --shop");
});
