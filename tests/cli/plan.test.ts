import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { skimText } from "../../cli/report.ts";
import type { Units } from "../../src/units.ts";
import { jobFolder, slabtrue, writeJob } from "./run.ts";

const names = (folder: string, ...path: string[]) => readdirSync(join(folder, ...path)).sort();
const text = (folder: string, ...path: string[]) => readFileSync(join(folder, ...path), "utf8");

test.concurrent("a plan lies beside its job, and says on stdout what its plan.json says", async () => {
  const folder = jobFolder();
  const run = await slabtrue(folder, "plan", "job.json");
  // A busy machine takes over a second, and hears how far it is.
  expect(run).toMatchObject({ status: 0, stderr: expect.stringMatching(/^(planning .*\n)*$/) });
  expect(names(folder)).toEqual(["job-plan", "job.json"]);
  expect(names(folder, "job-plan")).toEqual(["01-skim.nc", "plan.json", "preview.html", "sheet.html"]);

  const plan = JSON.parse(text(folder, "job-plan", "plan.json"));
  expect(plan).toMatchObject({ format: "slabtrue-plan/1", units: "mm", setups: [{ id: "skim", floor: 37 }] });
  for (const told of [
    "37 mm above the bed",
    "100.0 %",
    "01-skim.nc",
    "Before you cut",
    plan.cautions[0].slice(0, 30),
  ])
    expect(run.stdout).toContain(told);
  expect(run.stdout).toMatch(/Machine time +0:0\d:\d\d/);
});

test.concurrent("when a plan is planned again then it takes the old one's place", async () => {
  const folder = jobFolder();
  await slabtrue(folder, "plan", "job.json", "--out", "shop/tuesday");
  writeJob(folder, (job) => {
    job.setups[0].id = "flatten";
  });
  const run = await slabtrue(folder, "plan", "job.json", "--out", "shop/tuesday", "--json");
  // A busy machine takes over a second, and hears how far it is.
  expect(run).toMatchObject({ status: 0, stderr: expect.stringMatching(/^(planning .*\n)*$/) });
  expect(names(folder, "shop")).toEqual(["tuesday"]);
  expect(names(folder, "shop", "tuesday")).toEqual([
    "01-flatten.nc",
    "plan.json",
    "preview.html",
    "sheet.html",
  ]);
  expect(run.stdout).toBe(text(folder, "shop", "tuesday", "plan.json"));
});

test.concurrent("when a plan cannot be made then the status is 3, and the old one stays as it was", async () => {
  const folder = jobFolder();
  await slabtrue(folder, "plan", "job.json");
  const before = text(folder, "job-plan", "plan.json");
  writeJob(folder, (job) => {
    job.setups[0].target = { thickness: 45 };
  });
  const run = await slabtrue(folder, "plan", "job.json", "--json");
  expect(run.status).toBe(3);
  expect(run.stderr).toContain("setup skim: ");
  expect(run.stderr).toContain("45 mm");
  const { ok, errors } = JSON.parse(run.stdout);
  expect([ok, errors.length, errors[0].setup]).toEqual([false, 1, "skim"]);
  expect(names(folder)).toEqual(["job-plan", "job.json"]);
  expect(text(folder, "job-plan", "plan.json")).toBe(before);
});

test.concurrent("when the folder holds something else then it is left alone, and with --force added to", async () => {
  const folder = jobFolder();
  mkdirSync(join(folder, "notes"));
  writeFileSync(join(folder, "notes", "moisture.txt"), "9 %");
  const refused = await slabtrue(folder, "plan", "job.json", "--out", "notes");
  expect(refused).toMatchObject({ status: 2, stdout: "" });
  expect(refused.stderr).toContain("moisture.txt");
  expect(refused.stderr).toContain("--force");
  expect(names(folder, "notes")).toEqual(["moisture.txt"]);

  const forced = await slabtrue(folder, "plan", "job.json", "--out", "notes", "--force");
  expect(forced.status).toBe(0);
  expect(names(folder)).toEqual(["job.json", "notes"]);
  expect(names(folder, "notes")).toEqual([
    "01-skim.nc",
    "moisture.txt",
    "plan.json",
    "preview.html",
    "sheet.html",
  ]);
  expect(text(folder, "notes", "moisture.txt")).toBe("9 %");
});

test.concurrent("when names in the job could act on the screen then they are printed without what cannot be seen", async () => {
  const folder = jobFolder((job) => {
    job.name = "Bar \u001b[31mtop\u202e \u009bred";
  });
  const [told, json] = [
    await slabtrue(folder, "plan", "job.json"),
    await slabtrue(folder, "plan", "job.json", "--json"),
  ];
  for (const { status, stdout, stderr } of [told, json]) {
    expect(status).toBe(0);
    expect(stdout + stderr).not.toMatch(/(?!\n)\p{Cc}|\p{Cf}/u);
  }
  expect(told.stdout).toContain("Bar [31mtop red");
  expect(JSON.parse(json.stdout).job).toBe("Bar \u001b[31mtop\u202e \u009bred");
});

test("what a deeper skim would have meant is told without what is next to nothing", () => {
  const skim = {
    setup: "shell",
    skims: ["skim a", "skim b"],
    deeperMm: 2,
    secondsMore: 300,
    secondsLess: 600,
  };
  const told = (change: object, units: Units = "mm") =>
    skimText({ ...skim, resinLitresLess: 1.2, ...change }, units);
  expect(told({})).toMatch(
    /would take about 5 min more in skim a and skim b, and save about 10 min in shell and 1\.2 litres of resin\.$/,
  );
  // Resin is sold by the litre as well: 1.2 litres are 0.317 gallons.
  expect(told({}, "in")).toMatch(/10 min in shell and 1\.3 quarts \(1\.2 litres\) of resin\.$/);
  expect(told({ secondsMore: 0, secondsLess: 0 })).toMatch(/would save 1\.2 litres of resin\.$/);
  expect(told({ secondsLess: 0, resinLitresLess: 0 })).toMatch(
    /would take about 5 min more in skim a and skim b\.$/,
  );
  expect(told({ secondsMore: 0, secondsLess: 0, resinLitresLess: 0 })).toMatch(
    /cost and save next to nothing\.$/,
  );
});
