import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { jobFolder, slabtrue } from "./run.ts";

const PROGRAM = "job-plan/01-skim.nc";
let folder = "";
let lines = 0;
const resume = (afterLine: string | number, ...more: string[]) =>
  slabtrue(
    folder,
    "resume",
    PROGRAM,
    "--job",
    "job.json",
    "--setup",
    "skim",
    "--after-line",
    `${afterLine}`,
    ...more,
  );

beforeAll(async () => {
  folder = jobFolder();
  await slabtrue(folder, "plan", "job.json");
  lines = readFileSync(join(folder, PROGRAM), "utf8").trimEnd().split("\n").length;
});

test.concurrent("when a program broke off then its rest goes to stdout, and stderr says what it is", async () => {
  const run = await resume(25);
  expect(run.status).toBe(0);
  expect(run.stdout).toMatch(/^\(.*the rest of 01-skim.nc after its line 25\)\n/);
  expect(run.stdout).toMatch(/M5\nM30\n$/);
  expect(run.stderr).toMatch(/^It goes on with line \d+ of job-plan\/01-skim.nc\. Proven/);
});

test.concurrent("when a file is named then the rest is written there, and written again, and nothing else is overwritten", async () => {
  expect(await resume(25, "--out", "rest.nc")).toMatchObject({ status: 0, stdout: "" });
  expect((await resume(27, "--out", "rest.nc")).status).toBe(0);
  expect(readFileSync(join(folder, "rest.nc"), "utf8")).toContain("after its line 27");
  writeFileSync(join(folder, "other.nc"), "G21\nM30\n");
  expect((await resume(25, "--out", "other.nc")).status).toBe(2);
  expect((await resume(25, "--out", PROGRAM)).stderr).toContain(
    "--out: found job-plan/01-skim.nc, the program itself",
  );
});

test.concurrent("when the cutter was replaced then the program stops first, and that is told", async () => {
  const run = await resume(25, "--replace-cutter");
  expect(run.stdout).toMatch(/\(new cutter: set Z zero anew: touch off on the bed .*\)\nM0\nG0 Z/);
  expect(run.stderr).toContain("Set Z zero anew");
  expect(run.stderr.replace(/\s+/g, " ")).toMatch(
    /It goes on with line (\d+) of .* the last whole row is cut again from its start: from \([-\d., ]+\) mm to \([-\d., ]+\) mm of the program, lines? \1/,
  );
});

test.concurrent("when Z zero is on the high spot then it is told how to set it on the bed", async () => {
  const high = jobFolder((job) => {
    job.setups[0].zero = { z: "high-spot" };
  });
  await slabtrue(high, "plan", "job.json");
  const run = await slabtrue(
    high,
    ...["resume", PROGRAM, "--job", "job.json", "--setup", "skim", "--after-line", "25", "--replace-cutter"],
  );
  // The slab is 40 mm thick: its top is zero, and the bed lies 40 mm below.
  expect(run.stdout).toContain("touch off on the bed and set Z to -40 mm, then go on)");
  expect(run.stderr.replace(/\s+/g, " ")).toContain("touch off on the bed and set Z to -40 mm");
});

test.concurrent("when the number is none of the program's lines then the program's are told: status 2", async () => {
  for (const line of [lines + 1, "1.5"]) {
    const run = await resume(line);
    expect(run.status).toBe(2);
    expect(run.stderr).toContain(`--after-line: found ${line};`);
    expect(run.stderr).toContain(`has ${lines} lines`);
  }
  expect((await resume(25, "--lay", "2")).stderr).toContain("--lay");
});

test.concurrent("when nothing is left, or there is no such program, then the status is 3", async () => {
  const over = await resume(lines);
  expect(over).toMatchObject({ status: 3, stdout: "" });
  expect(over.stderr).toContain("nothing is left to do");
  const missing = await slabtrue(
    folder,
    ...["resume", "none.nc", "--job", "job.json", "--setup", "skim", "--after-line", "3"],
  );
  expect(missing).toMatchObject({ status: 3, stdout: "" });
  expect(missing.stderr).toBe("the program none.nc cannot be read: there is no such file\n");
});

test.concurrent("when the job has no such setup then those it has are named: status 2", async () => {
  const run = await slabtrue(
    folder,
    ...["resume", PROGRAM, "--job", "job.json", "--setup", "skimm", "--after-line", "3"],
  );
  expect(run.status).toBe(2);
  expect(run.stderr).toContain('"skim"');
});
