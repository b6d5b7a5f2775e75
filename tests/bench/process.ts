// The program as a whole, as it is started: cold processes against a bare Node, taking turns. Also the
// sizes that only a whole process shows: peak memory, and how both grow with the job.

import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { BenchRow } from "./ratio.ts";
import { tableJob } from "./table-job.ts";

const SPAWNS = 15;
const PROGRAM = join(import.meta.dirname, "..", "slabtrue.mjs");

/** Two slabs skimmed on both faces, cast, both shells removed. */
const WHOLE_TABLE = join(import.meta.dirname, "../../samples/river-table/job.json");

/** Rows for `--help`, a plan of the bench table, and one of twice the area. */
export function benchProcess(): BenchRow[] {
  const folder = mkdtempSync(join(tmpdir(), "slabtrue-bench-"));
  try {
    const file = (name: string, text: string) => {
      const path = join(folder, name);
      writeFileSync(path, text);
      return path;
    };
    const bare = [file("bare.mjs", "")];
    const plan = (job: string) => [PROGRAM, "plan", job, "--out", join(folder, "out"), "--force"];
    const once = plan(file("once.json", JSON.stringify(tableJob(1))));
    const twice = plan(file("twice.json", JSON.stringify(tableJob(2))));
    const survey = [PROGRAM, "survey", file("dense.json", JSON.stringify(tableJob(1))), "--json"];
    const whole = plan(WHOLE_TABLE);
    const [bareMs, helpMs, onceMs, twiceMs, surveyMs, wholeMs] = medianMillis([
      ...[bare, [PROGRAM, "--help"], once, twice, survey, whole],
    ]);
    const peakMb = peakMegabytes(once);
    return [
      row(
        "plan, 2.4 x 1.1 m table, six layers: to a bare Node",
        onceMs / bareMs,
        10,
        `${onceMs.toFixed(0)} ms to ${bareMs.toFixed(0)} ms`,
      ),
      row("--help: to a bare Node", helpMs / bareMs, 1.6, `${helpMs.toFixed(0)} ms`),
      row(
        "plan, twice the area: of what lies above a bare Node",
        (twiceMs - bareMs) / (onceMs - bareMs),
        2.2,
        `${twiceMs.toFixed(0)} ms`,
      ),
      row("survey of the same table: to a bare Node", surveyMs / bareMs, 10, `${surveyMs.toFixed(0)} ms`),
      row(
        "plan, both slabs, cast and shells: to a bare Node",
        wholeMs / bareMs,
        40,
        `${wholeMs.toFixed(0)} ms`,
      ),
      row("plan: peak memory in MB, to 400 MB", peakMb / 400, 1, `${peakMb.toFixed(0)} MB`),
    ];
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function row(name: string, ratio: number, target: number, detail: string): BenchRow {
  return { name, ratio, target, detail };
}

function medianMillis(commands: readonly string[][]): number[] {
  const times = commands.map(() => [] as number[]);
  for (let spawn = 0; spawn < SPAWNS; spawn++)
    for (const [k, command] of commands.entries()) times[k].push(millis(command));
  return times.map((list) => list.sort((a, b) => a - b)[list.length >> 1]);
}

function millis(command: readonly string[]): number {
  const start = performance.now();
  const { status, stderr } = spawnSync(process.execPath, command, { encoding: "utf8" });
  if (status !== 0) throw new Error(`${command.join(" ")}: ${stderr}`);
  return performance.now() - start;
}

function peakMegabytes(command: readonly string[]): number {
  const report = 'process.on("exit", () => console.error("PEAK", process.resourceUsage().maxRSS))';
  const hook = `data:text/javascript,${encodeURIComponent(report)}`;
  const { stderr } = spawnSync(process.execPath, ["--import", hook, ...command], { encoding: "utf8" });
  return Number(/PEAK (\d+)/.exec(stderr)?.[1]) / 1024;
}
