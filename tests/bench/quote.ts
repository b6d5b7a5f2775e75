// A quote as it is asked for: a cold process on all cores against a bare Node, and how far ten times the invented
// tables move what is likely.

import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { BenchRow } from "./ratio.ts";

const PROGRAM = join(import.meta.dirname, "..", "slabtrue.mjs");
const SHOP = join(import.meta.dirname, "..", "..", "samples", "shops", "gantry-mm.json");
const TABLE = "--length 2400 --width 1100 --thickness 57 --finished 45 --species walnut".split(" ");
const RUNS = 3;

export function benchQuote(): BenchRow[] {
  const folder = mkdtempSync(join(tmpdir(), "slabtrue-bench-"));
  try {
    const bare = join(folder, "bare.mjs");
    writeFileSync(bare, "");
    const quote = (invent: number, ...more: string[]) => [
      PROGRAM,
      "quote",
      ...TABLE,
      "--shop",
      SHOP,
      "--invent",
      `${invent}`,
      "--json",
      ...more,
    ];
    const [bareMs, upperMs, bothMs, castMs] = medianMillis([
      [bare],
      quote(200, "--faces", "upper"),
      quote(200),
      quote(200, "--slabs", "2", "--shell", "6"),
    ]);
    const likely = (invent: number) =>
      JSON.parse(run(quote(invent, "--faces", "upper"))).price.likely as number;
    const [few, many] = [likely(200), likely(2000)];
    return [
      {
        name: "quote, 200 faces of a 2.4 x 1.1 m table: to a bare Node",
        ratio: upperMs / bareMs,
        target: 60,
        detail: `${upperMs.toFixed(0)} ms to ${bareMs.toFixed(0)} ms; 200 tables with both faces ${(bothMs / bareMs).toFixed(0)}, of two slabs cast with a shell, six faces each, ${(castMs / bareMs).toFixed(0)}`,
      },
      {
        name: "quote: how far 2,000 tables move what 200 said is likely",
        ratio: Math.abs(many / few - 1),
        target: 0.03,
        detail: `${few.toFixed(2)} and ${many.toFixed(2)}`,
      },
    ];
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function medianMillis(commands: readonly string[][]): number[] {
  const times = commands.map(() => [] as number[]);
  for (let k = 0; k < RUNS; k++)
    for (const [c, command] of commands.entries()) {
      const start = performance.now();
      run(command);
      times[c].push(performance.now() - start);
    }
  return times.map((list) => list.sort((a, b) => a - b)[list.length >> 1]);
}

function run(command: readonly string[]): string {
  const { status, stdout, stderr } = spawnSync(process.execPath, command, { encoding: "utf8" });
  if (status !== 0) throw new Error(`${command.join(" ")}: ${stderr}`);
  return stdout;
}
