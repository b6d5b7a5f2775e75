// A sample job as the judge wants it: the shop and the readings that stand in files of their own are put
// into the job. Plain JSON and plain CSV only.

import { readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import type { RawJob, RawShop } from "./judge-job.ts";

const SAMPLES = fileURLToPath(new URL("../../samples", import.meta.url));
export const SAMPLE_NAMES = ["cupped-slab", "live-edge-cleats", "river-top", "spoilboard"];

export function readSample(name: string): RawJob {
  const file = join(SAMPLES, name, "job.json");
  const beside = (path: string) => readFileSync(join(dirname(file), path), "utf8");
  const job = JSON.parse(readFileSync(file, "utf8")) as RawJob & { shop: string | RawShop };
  for (const piece of job.pieces) {
    const upper = piece.upper as { file?: string } | undefined;
    if (upper?.file) piece.upper = { points: pointsOf(beside(upper.file)) };
  }
  return { ...job, shop: typeof job.shop === "string" ? JSON.parse(beside(job.shop)) : job.shop };
}

/** Lines of three numbers; comments and the header are passed over. */
function pointsOf(csv: string): number[][] {
  return csv
    .split(/\r?\n/)
    .map((line) => line.split(",").map(Number.parseFloat))
    .filter((row) => row.length === 3 && row.every(Number.isFinite));
}
