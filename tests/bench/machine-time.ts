// Machine time of a set of jobs against what the wood itself demands: the sum over layers of (area where
// material may stand above the layer's floor) / (stepover x diameter x feed). Beside it, against a raster over
// the whole rectangle around the pieces with the same layers, stepover and feed.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import type { Machine } from "../../src/job/job.ts";
import { readJob } from "../../src/job/read.ts";
import { trackTimes } from "../../src/motion/clock.ts";
import { isMotion } from "../../src/motion/track.ts";
import { type PlannedProgram, type PlannedSetup, planJob } from "../../src/plan.ts";
import { areaOf, regionOf } from "../../src/region/region.ts";
import { boxOf } from "../../src/survey/field.ts";
import { machineJobs } from "./machine-jobs.ts";
import type { BenchRow } from "./ratio.ts";

/** An area of fewer cutters than this is all edge: no ratio is asked of it. */
const CUTTERS_MIN = 20;
const FOLDER = join(import.meta.dirname, "..", "..", "samples");

export function benchMachineTime(): BenchRow[] {
  const samples = ["cupped-slab", "live-edge-cleats", "river-table", "spoilboard"].map((sample) => {
    const file = join(FOLDER, sample, "job.json");
    return {
      name: sample,
      job: readJob(readFileSync(file, "utf8"), file, { readText: (path) => readFileSync(path, "utf8") }),
    };
  });
  const made = machineJobs().map((raw) => ({
    name: String(raw.name),
    job: readJob(JSON.stringify(raw), "bench.json", { readText: () => "" }),
  }));
  const rows = [...samples, ...made].flatMap(({ name, job }) =>
    planJob(job).setups.map((setup) => ({
      sample: `${name} ${setup.setup.id}`,
      seconds: setup.seconds.total,
      aside: (setup.seconds.linking + setup.seconds.rapid) / setup.seconds.total,
      ...demanded(setup, job.shop.machine),
    })),
  );
  const sum = (value: (row: (typeof rows)[number]) => number) =>
    rows.reduce((all, row) => all + value(row), 0);
  const each = rows.map(
    ({ sample, seconds, bound, raster, aside }) =>
      `${sample} ${(seconds / 60).toFixed(1)} min, ${(seconds / bound).toFixed(3)} and ${(seconds / raster).toFixed(3)}, ${(100 * aside).toFixed(1)} % links and rapids`,
  );
  const worst = rows
    .filter(({ large }) => large)
    .reduce((one, other) => (one.seconds / one.bound > other.seconds / other.bound ? one : other));

  return [
    {
      name: `machine time over ${rows.length} setups: to the area bound`,
      ratio: sum((row) => row.seconds) / sum((row) => row.bound),
      target: 1.1,
      detail: `to the full-rectangle raster ${(sum((row) => row.seconds) / sum((row) => row.raster)).toFixed(3)}; ${each.join("; ")}`,
    },
    {
      name: "machine time of the worst setup over 20 cutters large: to the area bound",
      ratio: worst.seconds / worst.bound,
      target: 1.25,
      detail: worst.sample,
    },
    {
      name: "machine time of layers over a whole rectangle: to a raster that loses nothing",
      ratio: sum((row) => row.whole.seconds) / sum((row) => row.whole.perfect),
      target: 1.07,
      detail: "as few rows as cover it, no longer than cleaning needs, joined at full speed",
    },
    {
      name: "links and rapids in layers over a whole rectangle: share of their time",
      ratio: sum((row) => row.whole.aside) / sum((row) => row.whole.seconds),
      target: 0.06,
      detail: `${(sum((row) => row.whole.seconds) / 60).toFixed(1)} min of layers`,
    },
  ];
}

/** Seconds that the area bound and a raster over the whole rectangle would take. */
function demanded(
  { setup, layers, programs, seconds }: PlannedSetup,
  machine: Machine,
): {
  bound: number;
  raster: number;
  large: boolean;
  /** Of layers that cut all of a rectangle: their time without the spindle's start, links and rapids, the least. */
  whole: { seconds: number; aside: number; perfect: number };
} {
  const { passes, cutter, pieces, keepOuts } = setup;
  const box = boxOf(pieces.map((piece) => piece.outline));
  const [width, length] = [box.maxY - box.minY, box.maxX - box.minX].sort((a, b) => a - b);
  let bound = 0;
  let raster = 0;
  let area = 0;
  const whole = { seconds: 0, aside: 0, perfect: 0 };
  const isRectangle =
    areaOf(regionOf(pieces.map((piece) => piece.outline))) > 0.999 * width * length && keepOuts.length === 0;
  const aside = asideByLayer(programs[0], layers.length, machine);
  for (const [index, { kind, areaMm2 }] of layers.entries()) {
    const finish = kind === "finish" ? passes.finish : null;
    const step = (finish ?? passes).stepoverShare * cutter.diameterMm;
    const feed = meanFeed(programs[0], index, (finish ?? passes).feedMmPerMin) / 60;
    bound += areaMm2 / (step * feed);
    area += areaMm2 / layers.length;
    const rows = Math.ceil(width / step);
    raster += (rows * (length + cutter.diameterMm) + (rows - 1) * step) / feed;
    if (!isRectangle || areaMm2 < 0.999 * width * length) continue;
    const least = Math.ceil((width - cutter.diameterMm) / step) + 1;
    const ends = Math.sqrt(cutter.diameterMm ** 2 - step ** 2);
    whole.perfect += (least * (length - ends) + (least - 1) * step) / feed;
    whole.seconds += layers[index].seconds - (index === 0 ? seconds.spindle : 0);
    whole.aside += aside[index];
  }
  const cutterMm2 = (Math.PI / 4) * cutter.diameterMm ** 2;
  return { bound, raster, large: area > CUTTERS_MIN * cutterMm2, whole };
}

/** Seconds of moves that take nothing. */
function asideByLayer({ track, took }: PlannedProgram, layers: number, machine: Machine): Float64Array {
  const aside = new Float64Array(layers);
  const { seconds } = trackTimes(track, machine);
  for (let k = 0; k < track.count; k++)
    if (track.layer[k] >= 0 && isMotion(track.kind[k]) && took[k] === 0) aside[track.layer[k]] += seconds[k];
  return aside;
}

/** What is programmed over a layer's cuts, wood and resin each at its own feed. */
function meanFeed({ track, took }: PlannedProgram, layer: number, otherwise: number): number {
  let [length, minutes] = [0, 0];
  for (let k = 1; k < track.count; k++) {
    if (track.layer[k] !== layer || took[k] === 0) continue;
    const way = Math.sqrt((track.x[k] - track.x[k - 1]) ** 2 + (track.y[k] - track.y[k - 1]) ** 2);
    length += way;
    minutes += way / track.value[k];
  }
  return minutes > 0 ? length / minutes : otherwise;
}
