// Runs the built command line in a folder of its own, as a maker would.

import { execFile } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll } from "vitest";
import { exampleJob, type Loose } from "../job/example.ts";

export const PROGRAM = join(import.meta.dirname, "../../dist/slabtrue.mjs");

export interface Run {
  readonly status: number;
  readonly stdout: string;
  readonly stderr: string;
}

/** Runs `slabtrue` with these arguments in `folder`. */
export function slabtrue(folder: string, ...args: string[]): Promise<Run> {
  return new Promise((done) => {
    execFile(process.execPath, [PROGRAM, ...args], { cwd: folder }, (error, stdout, stderr) =>
      done({ status: error === null ? 0 : Number(error.code), stdout, stderr }),
    );
  });
}

// Asked for within a test, afterAll would come too late to be heard.
const folders: string[] = [];
afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
});

/** A new empty folder, gone after the tests of the file. */
export function newFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), "slabtrue-test-"));
  folders.push(folder);
  return folder;
}

/** A new folder with a `job.json` that plans in no time, changed by `change`. */
export function jobFolder(change: (job: Loose) => void = () => {}): string {
  const folder = newFolder();
  writeJob(folder, change);
  return folder;
}

/** Writes that job anew, in lines so that places in it have line numbers. */
export function writeJob(folder: string, change: (job: Loose) => void = () => {}): void {
  const job = exampleJob();
  job.pieces = [{ id: "leaf", outline: { length: 300, width: 150 }, thickness: 40 }];
  job.setups[0].margin = 0.5;
  change(job);
  writeFileSync(join(folder, "job.json"), JSON.stringify(job, null, 1));
}
