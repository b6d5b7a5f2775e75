import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { jobFolder, slabtrue } from "./run.ts";

let folder = "";
const check = (program: string, setup = "skim", ...more: string[]) =>
  slabtrue(folder, "check", program, "--job", "job.json", "--setup", setup, ...more);

beforeAll(async () => {
  folder = jobFolder();
  await slabtrue(folder, "plan", "job.json");
});

test.concurrent("when a program is our own then nothing is found", async () => {
  const run = await check("job-plan/01-skim.nc");
  expect(run).toMatchObject({ status: 0, stderr: expect.stringMatching(/^(.*checked .*\n)*$/) });
  expect(run.stdout).toContain("nothing found wrong");
});

test.concurrent("when someone lowered a cut then the lines that gouge are told and the status is 3", async () => {
  const lines = readFileSync(join(folder, "job-plan/01-skim.nc"), "utf8").split("\n");
  // The floor is 37 mm; wherever the program goes down to it, it now goes 5 mm deeper.
  const broken = lines.map((line) => line.replace(/Z37(\.0*)?(?![\d.])/, "Z32"));
  const changed = broken.findIndex((line, k) => line !== lines[k]) + 1;
  expect(changed).toBeGreaterThan(0);
  writeFileSync(join(folder, "broken.nc"), broken.join("\n"));

  const told = await check("broken.nc");
  expect(told.status).toBe(3);
  expect(told.stdout).toMatch(/^line \d+: .*\[gouge\]/m);
  expect(told.stdout).toMatch(/Do not run it\.\n$/);

  const json = await check("broken.nc", "skim", "--json");
  expect(json.status).toBe(3);
  const document = JSON.parse(json.stdout);
  expect(document.ok).toBe(false);
  expect(document.proof.ok).toBe(false);
  // Going down in air does no harm; the row after it does.
  const gouging = document.findings.filter(({ code }: { code: string }) => code === "gouge");
  expect(gouging[0].line).toBe(changed + 1);
});

test.concurrent("when the program is not there or a folder then that is wrong with it: status 3", async () => {
  const run = await check("nothing.nc", "skim", "--json");
  expect(run.status).toBe(3);
  expect(run.stderr).toBe("the program nothing.nc cannot be read: there is no such file\n");
  expect(JSON.parse(run.stdout)).toMatchObject({ ok: false, errors: [{ code: "unreadable" }] });
  expect(await check(".", "skim")).toMatchObject({ status: 3 });
});

test.concurrent("when the job has no such setup then those it has are named: status 2", async () => {
  const run = await check("job-plan/01-skim.nc", "skimm");
  expect(run.status).toBe(2);
  expect(run.stderr).toContain('--setup: found "skimm"');
  expect(run.stderr).toContain('"skim"');
});

test.concurrent("when speed or feed lie above what cutter and axes bear then that is told with line and numbers: status 0", async () => {
  const lines = readFileSync(join(folder, "job-plan/01-skim.nc"), "utf8").split("\n");
  const fast = lines.map((line) => line.replace(/\bS14000\b/, "S19000").replace(/\bF6000\b/, "F16000"));
  writeFileSync(join(folder, "fast.nc"), fast.join("\n"));
  const lineOf = (word: string) => fast.findIndex((line) => line.includes(word)) + 1;

  const told = await check("fast.nc");
  expect(told.status).toBe(0);
  const text = told.stdout.replace(/\n {6}/g, " ");
  expect(text).toContain(
    `Mind: line ${lineOf("S19000")}: 19000 rev/min is more than cutter "flat63" bears (at most 18000`,
  );
  expect(text).toMatch(
    /^Mind: line \d+: a feed of 16000 mm\/min asks 16000 mm\/min of X, which reaches 15000/m,
  );

  const document = JSON.parse((await check("fast.nc", "skim", "--json")).stdout);
  expect(document).toMatchObject({ ok: true, findings: [] });
  expect(new Set(document.warnings.map(({ code }: { code: string }) => code))).toEqual(
    new Set(["feed-limit", "speed"]),
  );
  expect(document.warnings.every(({ line }: { line: number }) => line > 0)).toBe(true);
});

test.concurrent("when it is the rest of a broken-off program then that is told before its findings", async () => {
  const rest = [
    "resume",
    "job-plan/01-skim.nc",
    "--job",
    "job.json",
    "--setup",
    "skim",
    "--after-line",
    "34",
  ];
  expect((await slabtrue(folder, ...rest, "--out", "rest.nc")).status).toBe(0);
  const told = await check("rest.nc");
  expect(told.status).toBe(3);
  expect(told.stdout.replace(/\s+/g, " ")).toMatch(
    /^Mind: by its first lines this is the rest of 01-skim\.nc after line 34, for wood that the lines before have cut\./,
  );
  expect(JSON.parse((await check("rest.nc", "skim", "--json")).stdout).notes).toHaveLength(1);
});

test.concurrent("when a setup of several lays is checked as the wrong one then --lay is told", async () => {
  const long = jobFolder((job) => {
    job.shop.machine.travel.x = 200;
    job.setups[0].reindex = { overlap: 20 };
  });
  expect((await slabtrue(long, "plan", "job.json")).status).toBe(0);
  const args = ["check", "job-plan/01-skim-2.nc", "--job", "job.json", "--setup", "skim"];
  const wrong = await slabtrue(long, ...args);
  expect(wrong.status).toBe(3);
  expect(wrong.stdout.replace(/\s+/g, " ")).toContain(
    "this was run as lay 1. If it is another's, say which with --lay.",
  );
  expect((await slabtrue(long, ...args, "--lay", "2")).status).toBe(0);
  const rest = await slabtrue(long, "resume", ...args.slice(1), "--after-line", "20");
  expect(rest).toMatchObject({ status: 3, stdout: "" });
  expect(rest.stderr.replace(/\s+/g, " ")).toContain("If it is another's, say which with --lay.");
});
