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
  return SAMPLES.flatMap((sample) => {
    const file = join(folder, sample, "job.json");
    const job = readJob(readFileSync(file, "utf8"), file, { readText: (path) => readFileSync(path, "utf8") });
    return planJob(job).setups.map((setup) => against(sample, setup));
  });
}

function against(sample: string, planned: PlannedSetup): BenchRow {
  const { setup, layers, seconds } = planned;
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
  return {
    name: `machine time of ${sample}: to the area bound`,
    ratio: seconds.total / bound,
    target: 1.2,
    detail: `${(seconds.total / 60).toFixed(1)} min; to the full-rectangle raster ${(seconds.total / raster).toFixed(3)}`,
  };
}
