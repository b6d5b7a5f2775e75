// Jobs of an invented workshop for tests of the whole way, and what came of them. Millimetres.

import { InputError, PlanError } from "../src/errors.ts";
import type { Job } from "../src/job/job.ts";
import { readJob } from "../src/job/read.ts";
import { type Plan, type PlannedSetup, planJob } from "../src/plan.ts";
import { exampleShop, hostWith, type Loose } from "./job/example.ts";

const SETUP = {
  face: "upper",
  cutter: "flat63",
  margin: 0.5,
  passes: { depth: 3, feed: 6000, speed: 14000 },
};

/** A job in mm of these pieces; each setup says what is not as in the plain one. */
export function jobOf(pieces: Loose[], ...setups: Loose[]): Loose {
  return {
    format: "slabtrue-job/1",
    name: "Ferry house table",
    units: "mm",
    shop: exampleShop(),
    pieces,
    setups: setups.map((setup) => ({ ...SETUP, ...setup, passes: { ...SETUP.passes, ...setup.passes } })),
  };
}

export function asRead(job: Loose): Job {
  return readJob(JSON.stringify(job), "job.json", hostWith());
}

export function planned(job: Loose): Plan {
  return planJob(asRead(job));
}

/** The code of the PlanError, or the places of the InputError, with which a job is refused; and the text. */
export function refusal(job: Loose): { readonly code: string; readonly text: string } {
  try {
    planned(job);
  } catch (error) {
    if (error instanceof PlanError) return { code: `${error.setup}: ${error.code}`, text: error.message };
    if (error instanceof InputError)
      return { code: error.issues.map(({ place }) => place).join(" "), text: error.message };
    throw error;
  }
  throw new Error("the job was planned");
}

export function textOf({ programs }: PlannedSetup, lay = 0): string {
  return new TextDecoder().decode(programs[lay].text);
}

export function codesOf({ warnings }: PlannedSetup): string[] {
  return warnings.map(({ code }) => code);
}

export type Height = (x: number, y: number) => number;

/** A grid of readings of `height` over a box, at least `stepMm` apart, for a job file. */
export function gridOf(
  height: Height,
  box: { x: number; y: number; length: number; width: number },
  stepMm: number,
): Loose {
  const [cols, rows] = [box.length, box.width].map((way) => Math.floor(way / stepMm));
  const [dx, dy] = [box.length / cols, box.width / rows];
  const heights = Array.from({ length: rows + 1 }, (_, row) =>
    Array.from({ length: cols + 1 }, (_, col) => height(box.x + col * dx, box.y + row * dy)),
  );
  return { grid: { at: [box.x, box.y], step: [dx, dy], rows: heights } };
}

/** The sum of `value` over a box by its middles, times their area: an integral by brute force. */
export function integral(
  value: Height,
  box: { x: number; y: number; length: number; width: number },
  stepMm = 0.5,
): number {
  const [cols, rows] = [Math.round(box.length / stepMm), Math.round(box.width / stepMm)];
  const [dx, dy] = [box.length / cols, box.width / rows];
  let sum = 0;
  for (let row = 0; row < rows; row++)
    for (let col = 0; col < cols; col++) sum += value(box.x + (col + 0.5) * dx, box.y + (row + 0.5) * dy);
  return sum * dx * dy;
}
