// What can go wrong before any work is done, and help.

import { spawn } from "node:child_process";
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { jobFolder, newFolder, PROGRAM, slabtrue } from "./run.ts";

test.concurrent("when no command is given then help goes to stderr and the status is 2", async () => {
  const run = await slabtrue(newFolder());
  expect(run).toMatchObject({ status: 2, stdout: "" });
  expect(run.stderr).toContain("Usage: slabtrue");
});

test.concurrent("when an option is misspelt then the right one is proposed, with --json as a document", async () => {
  const run = await slabtrue(newFolder(), "plan", "job.json", "--forse", "--json");
  expect(run.status).toBe(2);
  expect(run.stderr).toContain("--forse");
  expect(run.stderr).toContain("Did you mean --force?");
  expect(JSON.parse(run.stdout)).toMatchObject({ ok: false, errors: [{ file: "command line" }] });
});

test.concurrent("when the job is not there, a folder, or no text then one line says so", async () => {
  const folder = newFolder();
  mkdirSync(join(folder, "jobs"));
  writeFileSync(join(folder, "noise.json"), Uint8Array.of(0x7b, 0xff, 0x00, 0x80));
  const runs = await Promise.all(
    ["none.json", "jobs", "noise.json"].map((file) => slabtrue(folder, "plan", file)),
  );
  expect(runs.map(({ status }) => status)).toEqual([2, 2, 2]);
  expect(runs.map(({ stderr }) => stderr)).toEqual([
    "none.json: cannot be read: there is no such file\n",
    "jobs: cannot be read: it is a folder, and a file is wanted\n",
    "noise.json: cannot be read: it is not UTF-8 text\n",
  ]);
});

test.concurrent("when the job is wrong then every mistake is told with line, column and place", async () => {
  const folder = jobFolder((job) => {
    job.setups[0].cutter = "flat36";
    job.pieces[0].thickness = -40;
  });
  const run = await slabtrue(folder, "plan", "job.json", "--json");
  expect(run.status).toBe(2);
  expect(run.stderr).toMatch(/^job\.json:\d+:\d+: pieces\[0\]\.thickness: .*-40/m);
  expect(run.stderr).toMatch(/^job\.json:\d+:\d+: setups\[0\]\.cutter: .*flat36/m);
  const { ok, errors } = JSON.parse(run.stdout);
  expect(ok).toBe(false);
  expect(errors[0]).toMatchObject({ code: "input", file: "job.json", place: "pieces[0].thickness" });
  expect(errors[0].line).toBeGreaterThan(1);
});

test.concurrent("when the job begins with a byte-order mark then it is read all the same", async () => {
  const folder = newFolder();
  writeFileSync(join(folder, "job.json"), "\uFEFF{}");
  const run = await slabtrue(folder, "plan", "job.json");
  expect(run.status).toBe(2);
  expect(run.stderr).toContain("format");
});

test.concurrent("when nobody reads what it prints then it ends quietly", async () => {
  const folder = jobFolder();
  for (const args of [
    ["schema", "plan"],
    ["probe", "job.json", "--by-hand"],
    ["plan", "job.json", "--json"],
  ]) {
    const run = spawn(process.execPath, [PROGRAM, ...args], { cwd: folder });
    run.stdout.destroy();
    run.stderr.destroy();
    expect(await new Promise((done) => run.on("exit", done))).toBe(0);
  }
});
