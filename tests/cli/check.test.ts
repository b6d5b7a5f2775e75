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

test.concurrent("when the program cannot be read then it is no safe program: status 3", async () => {
  const run = await check("nothing.nc", "skim", "--json");
  expect(run.status).toBe(3);
  expect(run.stderr).toBe("the program nothing.nc cannot be read: there is no such file\n");
  expect(JSON.parse(run.stdout)).toMatchObject({ ok: false, errors: [{ code: "unreadable" }] });
});

test.concurrent("when the job has no such setup then those it has are named: status 2", async () => {
  const run = await check("job-plan/01-skim.nc", "skimm");
  expect(run.status).toBe(2);
  expect(run.stderr).toContain('--setup: found "skimm"');
  expect(run.stderr).toContain('"skim"');
});
