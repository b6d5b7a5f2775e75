// Samples planned once a file, with the scenes that the preview draws of them.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import { readJob } from "../../src/job/read.ts";
import { type Plan, planJob } from "../../src/plan.ts";
import { type Scene, sceneOf } from "../../src/preview/scene.ts";

const SAMPLES = join(import.meta.dirname, "../../samples");
const known = new Map<string, { plan: Plan; scene: Scene }>();

export function sample(name: string): { plan: Plan; scene: Scene } {
  const found = known.get(name) ?? planned(name);
  known.set(name, found);
  return found;
}

function planned(name: string): { plan: Plan; scene: Scene } {
  const file = join(SAMPLES, name, "job.json");
  const job = readJob(readFileSync(file, "utf8"), file, { readText: (path) => readFileSync(path, "utf8") });
  const plan = planJob(job);
  return { plan, scene: sceneOf(plan) };
}
