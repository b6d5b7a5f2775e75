// Draws shared out over the machine's cores: this thread and workers take turns by a shared counter. Which of them
// draws a table makes no difference to it.

import { existsSync } from "node:fs";
import { availableParallelism } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { Worker } from "node:worker_threads";
import { PlanError } from "../src/errors.ts";
import { type Draw, Drawer, type Task } from "../src/quote/draws.ts";
import { isMeasured } from "../src/quote/faces.ts";

export interface WorkerTask {
  readonly task: Task;
  readonly counter: SharedArrayBuffer;
  readonly count: number;
}

export type FromWorker =
  | { readonly index: number; readonly draw: Draw }
  | { readonly index: number; readonly error: { code: string; setup: string; message: string } };

const WORKER_FILE = "quote-worker.mjs";
const CORES_MAX = 16;
/** A worker takes a while to start and to become quick; for fewer tables it is not worth it. */
const TABLES_MIN = 25;

/** The first `count` tables of a task, in order; `tell` hears how many are done. Throws PlanError when one cannot be planned. */
export async function drawAll(task: Task, count: number, tell: (done: number) => void): Promise<Draw[]> {
  const draws = new Array<Draw>(count);
  const failures: { index: number; error: PlanError }[] = [];
  const next = new Int32Array(new SharedArrayBuffer(4));
  let done = 0;
  const take = (message: FromWorker) => {
    if ("draw" in message) draws[message.index] = message.draw;
    else {
      const { code, setup, message: text } = message.error;
      failures.push({ index: message.index, error: new PlanError(code, setup, text) });
    }
    tell(++done);
  };
  const drawer = new Drawer(task);
  const drawOne = (index: number) => {
    try {
      take({ index, draw: drawer.draw(index) });
    } catch (error) {
      if (!(error instanceof PlanError)) throw error;
      take({ index, error });
      Atomics.store(next, 0, count);
    }
  };

  const workers = worthWorkers(task, count) ? startWorkers({ task, counter: next.buffer, count }, take) : [];
  for (let index = Atomics.add(next, 0, 1); index < count; index = Atomics.add(next, 0, 1)) {
    drawOne(index);
    // Lets what workers say arrive.
    await new Promise((resolve) => setImmediate(resolve));
  }
  await Promise.all(workers);
  // All tables before a failure are drawn by now, so which failure is told does not depend on who was quicker.
  failures.sort((a, b) => a.index - b.index);
  if (failures.length > 0) throw failures[0].error;
  return draws;
}

/** What is measured is planned once, and the rest is a matter of milliseconds. */
function worthWorkers({ job }: Task, count: number): boolean {
  const known = job.pieces.every((piece) => isMeasured(piece, "upper") && isMeasured(piece, "under"));
  return count >= TABLES_MIN && !known;
}

function startWorkers(data: WorkerTask, take: (message: FromWorker) => void): Promise<void>[] {
  const here = dirname(fileURLToPath(import.meta.url));
  const file = [here, dirname(here)].map((folder) => join(folder, WORKER_FILE)).find(existsSync);
  if (file === undefined) return [];
  const others = Math.min(CORES_MAX, availableParallelism()) - 1;
  return Array.from({ length: others }, () => {
    const worker = new Worker(file, { workerData: data });
    worker.on("message", take);
    return new Promise<void>((resolve, reject) => {
      worker.on("error", reject);
      worker.on("exit", () => resolve());
    });
  });
}
