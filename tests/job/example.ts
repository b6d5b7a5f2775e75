// A small sound job of an invented workshop, and what to do with it in tests.

import { InputError, type InputIssue } from "../../src/errors.ts";
import type { Job } from "../../src/job/job.ts";
import { type JobHost, readJob } from "../../src/job/read.ts";

// biome-ignore lint/suspicious/noExplicitAny: tests write wrong values on purpose
export type Loose = any;

export function exampleShop(): Loose {
  return {
    format: "slabtrue-shop/1",
    units: "mm",
    machine: {
      name: "loft router",
      travel: { x: 2600, y: 1320, z: 180 },
      feedLimit: { x: 15000, y: 15000, z: 4000 },
      rapid: { x: 20000, y: 20000, z: 6000 },
      acceleration: { x: 500, y: 500, z: 250 },
      spindle: { speedMin: 6000, speedMax: 24000, powerKw: 3 },
    },
    cutters: [
      {
        id: "flat63",
        diameter: 63.5,
        edges: 3,
        speedMax: 18000,
        depthMax: 4,
        chipLoad: { min: 0.08, max: 0.5 },
      },
    ],
  };
}

export function exampleJob(): Loose {
  return {
    format: "slabtrue-job/1",
    name: "Bench for the boathouse",
    units: "mm",
    shop: exampleShop(),
    pieces: [
      {
        id: "left",
        outline: [
          [0, 0],
          [1000, 0],
          [1000, 400],
          [0, 400],
        ],
        thickness: 60,
      },
      { id: "right", outline: { length: 1000, width: 300, at: [0, 500] }, thickness: 55 },
    ],
    setups: [
      {
        id: "skim",
        face: "upper",
        cutter: "flat63",
        target: { depth: 3 },
        passes: { feed: 6000, speed: 14000 },
      },
    ],
  };
}

/** A host with these files and no others. */
export function hostWith(files: Readonly<Record<string, string>> = {}): JobHost {
  return {
    readText(path) {
      const text = files[path];
      if (text === undefined) throw new Error(`ENOENT: no such file or directory, open '${path}'`);
      return text;
    },
  };
}

/** The example after `change`, read. */
export function read(change: (job: Loose) => unknown = () => {}, host: JobHost = hostWith()): Job {
  const job = exampleJob();
  change(job);
  return readJob(JSON.stringify(job, null, 1), "bench/job.json", host);
}

/** What is wrong with the example after `change`, as `place: text`. */
export function findings(change: (job: Loose) => unknown, host?: JobHost): string[] {
  return issuesOf(() => read(change, host)).map(({ place, text }) => `${place}: ${text}`);
}

/** The findings that `run` throws; none when it throws nothing. Any other error fails the test. */
export function issuesOf(run: () => unknown): readonly InputIssue[] {
  try {
    run();
  } catch (error) {
    if (error instanceof InputError) return error.issues;
    throw error;
  }
  return [];
}

/** Sets a field of the job, named as in a finding; undefined takes it out. */
export const set = (path: string, value: unknown) => (job: Loose) => {
  const steps = path.match(/\w+/g) as string[];
  const last = steps.pop() as string;
  steps.reduce((at, step) => at[step], job)[last] = value;
};
