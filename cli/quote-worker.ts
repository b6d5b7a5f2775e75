// A worker of `slabtrue quote`: invents tables and times them, taking turns with the others by a shared counter.

import { parentPort, workerData } from "node:worker_threads";
import { PlanError } from "../src/errors.ts";
import { Drawer } from "../src/quote/draws.ts";
import type { FromWorker, WorkerTask } from "./quote-pool.ts";

const { task, counter, count } = workerData as WorkerTask;
const say = (message: FromWorker) => parentPort?.postMessage(message);
const next = new Int32Array(counter);
const drawer = new Drawer(task);
for (let index = Atomics.add(next, 0, 1); index < count; index = Atomics.add(next, 0, 1)) {
  try {
    say({ index, draw: drawer.draw(index) });
  } catch (error) {
    if (!(error instanceof PlanError)) throw error;
    const { code, setup, message } = error;
    say({ index, error: { code, setup, message } });
    Atomics.store(next, 0, count);
  }
}
