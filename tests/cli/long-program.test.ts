// A program as long as some machines' own software writes them: checked in bounded memory, with word of how far it
// is, and with the same answer as the short program that goes the same way. LINES=5000000 makes it that long.

import { spawn } from "node:child_process";
import { closeSync, openSync, readFileSync, statSync, writeFileSync, writeSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { jobFolder, PROGRAM, slabtrue } from "./run.ts";

const LINES = Number(process.env.LINES ?? 200_000);
/** Of the whole process, of which the runtime itself takes about 60. */
const MEGABYTES_MAX = 400;

/** Writes the program with each of its straight cuts along X in many steps; returns how many lines there are. */
function writeInSteps(program: string, file: string): number {
  const handle = openSync(file, "w");
  const rows = /^(?:G1 )?(?:X(-?[\d.]+))(?: F\d+)?$/;
  const lines = program.trimEnd().split("\n");
  const steps = Math.ceil(LINES / lines.filter((line) => rows.test(line)).length);
  let [x, count, cutting] = [Number.NaN, 0, false];
  for (const line of lines) {
    cutting = /G[01]/.test(line) ? /G1\b/.test(line) : cutting;
    const to = Number(/X(-?[\d.]+)/.exec(line)?.[1] ?? x);
    const text: string[] = [];
    const inSteps = cutting && rows.test(line);
    // Mode and feed stand on the first step.
    const [mode, feed] = [/G1 /.exec(line)?.[0] ?? "", / F\d+/.exec(line)?.[0] ?? ""];
    for (let k = 1; inSteps && k < steps; k++) {
      const way = `X${(x + ((to - x) * k) / steps).toFixed(5)}`;
      text.push(`N${(count + k) % 99_999} ${k === 1 ? `${mode}${way}${feed}` : way}\r\n`);
    }
    text.push(`${inSteps ? `X${to}` : line}\r\n`);
    count += text.length;
    writeSync(handle, text.join(""));
    x = to;
  }
  closeSync(handle);
  return count;
}

test(`${LINES} lines are checked in at most ${MEGABYTES_MAX} MB, and take the machine as long as the same way in few`, async () => {
  const folder = jobFolder();
  await slabtrue(folder, "plan", "job.json");
  const file = join(folder, "long.nc");
  const program = readFileSync(join(folder, "job-plan/01-skim.nc"), "utf8");
  const lines = writeInSteps(program, file);
  expect(lines).toBeGreaterThanOrEqual(LINES);

  const usage = join(folder, "usage.json");
  const report = join(folder, "report.cjs");
  writeFileSync(
    report,
    `process.on("exit", () => require("fs").writeFileSync(${JSON.stringify(usage)}, String(process.resourceUsage().maxRSS / 1024)))`,
  );
  const args = [
    "--require",
    report,
    PROGRAM,
    "check",
    "long.nc",
    "--job",
    "job.json",
    "--setup",
    "skim",
    "--json",
  ];
  const start = performance.now();
  const child = spawn(process.execPath, args, { cwd: folder });
  let [stdout, stderr] = ["", ""];
  child.stdout.on("data", (data) => (stdout += data));
  child.stderr.on("data", (data) => (stderr += data));
  const status = await new Promise((done) => child.on("close", done));
  const seconds = (performance.now() - start) / 1000;
  const megabytes = Number(readFileSync(usage, "utf8"));

  expect({ status, findings: JSON.parse(stdout).findings }).toEqual({ status: 0, findings: [] });
  const planned = JSON.parse(readFileSync(join(folder, "job-plan/plan.json"), "utf8"));
  expect(JSON.parse(stdout).seconds.total).toBeCloseTo(planned.setups[0].seconds.total, 2);
  expect(megabytes).toBeLessThan(MEGABYTES_MAX);
  if (seconds > 3) expect(stderr).toMatch(/^long\.nc: checked \d+ of \d+ MB$/m);
  const size = statSync(file).size / 2 ** 20;
  console.info(
    `${lines} lines, ${size.toFixed(0)} MB: checked in ${seconds.toFixed(1)} s and ${megabytes.toFixed(0)} MB`,
  );
}, 300_000);
