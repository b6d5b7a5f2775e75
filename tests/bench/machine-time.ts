// Machine time of the samples against what the wood itself demands: the sum over layers of (area where
// material may stand above the layer's floor) / (stepover x diameter x feed). Beside it, against a raster over
// the whole rectangle around the pieces with the same layers, stepover and feed.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import { readJob } from "../../src/job/read.ts";
import { type PlannedSetup, planJob } from "../../src/plan.ts";
import { boxOf } from "../../src/survey/field.ts";
import type { BenchRow } from "./ratio.ts";

const SAMPLES = ["cupped-slab", "live-edge-cleats", "river-top", "spoilboard"];

export function benchMachineTime(): BenchRow[] {
  const folder = join(import.meta.dirname, "..", "..", "samples");
  const rows = SAMPLES.flatMap((sample) => {
    const file = join(folder, sample, "job.json");
    const job = readJob(readFileSync(file, "utf8"), file, { readText: (path) => readFileSync(path, "utf8") });
    return planJob(job).setups.map((setup) => ({ sample, seconds: setup.seconds.total, ...demanded(setup) }));
  });
  const sum = (value: (row: (typeof rows)[number]) => number) =>
    rows.reduce((all, row) => all + value(row), 0);
  const each = rows.map(
    ({ sample, seconds, bound, raster }) =>
      `${sample} ${(seconds / 60).toFixed(1)} min, ${(seconds / bound).toFixed(3)} and ${(seconds / raster).toFixed(3)}`,
  );
  return [
    {
      name: "machine time over the samples: to the area bound",
      ratio: sum((row) => row.seconds) / sum((row) => row.bound),
      target: 1.2,
      detail: `to the full-rectangle raster ${(sum((row) => row.seconds) / sum((row) => row.raster)).toFixed(3)}; ${each.join("; ")}`,
    },
  ];
}

/** Seconds that the area bound and a raster over the whole rectangle would take. */
function demanded({ setup, layers }: PlannedSetup): { bound: number; raster: number } {
  const { passes, cutter, pieces } = setup;
  const box = boxOf(pieces.map((piece) => piece.outline));
  const [width, length] = [box.maxY - box.minY, box.maxX - box.minX].sort((a, b) => a - b);
  let bound = 0;
  let raster = 0;
  for (const { kind, areaMm2 } of layers) {
    const finish = kind === "finish" ? passes.finish : null;
    const step = (finish ?? passes).stepoverShare * cutter.diameterMm;
    const feed = (finish ?? passes).feedMmPerMin / 60;
    bound += areaMm2 / (step * feed);
    const rows = Math.ceil(width / step);
    raster += (rows * (length + cutter.diameterMm) + (rows - 1) * step) / feed;
  }
  return { bound, raster };
}
