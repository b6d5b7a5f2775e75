// Samples, and changes of them, planned once a file, with the scenes that the preview draws of them.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import { parse } from "jsonc-parser";
import { readJob } from "../../src/job/read.ts";
import { type Plan, planJob } from "../../src/plan.ts";
import { type Scene, sceneOf } from "../../src/preview/scene.ts";

const SAMPLES = join(import.meta.dirname, "../../samples");

/** Twice as long as the sample, and longer than the travel. */
export const LONG = "cupped-slab, in two lays";

// biome-ignore lint/suspicious/noExplicitAny: raw jobs
const CHANGES: Readonly<Record<string, (job: any) => void>> = {
  [LONG]: ({ pieces, setups }) => {
    pieces[0].outline.length *= 2;
    pieces[0].upper.grid.step[0] *= 2;
    setups[0].reindex = { overlap: 40 };
  },
};

const known = new Map<string, { plan: Plan; scene: Scene }>();

export function sample(name: string): { plan: Plan; scene: Scene } {
  const found = known.get(name) ?? planned(name);
  known.set(name, found);
  return found;
}

function planned(name: string): { plan: Plan; scene: Scene } {
  const file = join(SAMPLES, name.replace(/,.*/, ""), "job.json");
  const raw = parse(readFileSync(file, "utf8"));
  CHANGES[name]?.(raw);
  const job = readJob(JSON.stringify(raw), file, { readText: (path) => readFileSync(path, "utf8") });
  const plan = planJob(job);
  return { plan, scene: sceneOf(plan) };
}
