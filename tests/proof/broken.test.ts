// The proof before broken programs. Faults are put into the programs of the samples and of random jobs, and what
// harms is for the independent judge to say: what it calls harmful the proof must find, what it calls clean the
// proof must leave alone. FAULTS=3000 injects that many instead of the usual; SEED=7 takes other jobs and dice.

import { afterAll, describe, expect, test } from "vitest";
import { PlanError } from "../../src/errors.ts";
import type { Job } from "../../src/job/job.ts";
import { readJob } from "../../src/job/read.ts";
import { type CheckResult, checkProgram, planJob } from "../../src/plan.ts";
import { type JudgeOptions, judge, type Problem } from "../oracles/judge.ts";
import { type JudgedSetup, judgedSetup, type RawJob, toMm } from "../oracles/judge-job.ts";
import { Dice, randomJob } from "../oracles/random-jobs.ts";
import { readSample, SAMPLE_NAMES } from "../oracles/read-sample.ts";
import { FAULT_KINDS, type Fault, type FaultKind, inject, type Target } from "./faults.ts";

const FAULTS = Number(process.env.FAULTS ?? 60);
const SEED = Number(process.env.SEED ?? 1);
const JOBS = 12;

/** Kinds of which the judge knows nothing. They harm whatever the program does. */
const CERTAIN: readonly FaultKind[] = ["spindle backwards", "other offset"];
/** Only programs with arcs have these, so there they come first. */
const OF_ARCS: readonly FaultKind[] = [
  "arc flipped",
  "arc's centre shifted",
  "arc's centre lost",
  "straight for arc",
];

/** A sound program, and all that is needed to try it. */
interface Base {
  readonly name: string;
  readonly raw: RawJob;
  readonly job: Job;
  readonly judged: JudgedSetup;
  readonly setupId: string;
  readonly floorMm: number;
  readonly marginMm: number;
  readonly lines: readonly string[];
  readonly target: Target;
}

/** Null for a job that cannot be planned. */
function baseOf(name: string, raw: RawJob): Base | null {
  const readText = (path: string): string => {
    throw new Error(`the job is whole and needs no ${path}`);
  };
  const job = readJob(JSON.stringify(raw), "job.json", { readText });
  try {
    const { floorMm, marginMm, zeroMm, setup, programs } = planJob(job).setups[0];
    const judged = judgedSetup(raw, setup.id, marginMm);
    const perUnitMm = raw.units === "in" ? 25.4 : 1;
    const keepOuts = judged.keepOuts
      .filter(({ heightMm }) => heightMm > floorMm)
      .map(({ outline }) => {
        const middle = (axis: 0 | 1) =>
          outline.reduce((sum, corner) => sum + corner[axis], 0) / outline.length;
        return [(middle(0) - zeroMm.x) / perUnitMm, (middle(1) - zeroMm.y) / perUnitMm] as const;
      });
    const lines = new TextDecoder().decode(programs[0].text).trimEnd().split("\n");
    const target = { perUnitMm, keepOuts };
    return { name, raw, job, judged, setupId: setup.id, floorMm, marginMm, lines, target };
  } catch (error) {
    if (error instanceof PlanError) return null;
    throw error;
  }
}

function checked(base: Base, lines: readonly string[]): CheckResult {
  return checkProgram(base.job, base.setupId, new TextEncoder().encode(`${lines.join("\n")}\n`));
}

function allBases(): Base[] {
  const bases = SAMPLE_NAMES.flatMap((name) => baseOf(name, readSample(name)) ?? []);
  for (let seed = SEED; bases.length < JOBS; seed++)
    bases.push(...[baseOf(`random job ${seed}`, randomJob(seed).job)].flatMap((base) => base ?? []));
  return bases;
}

function problemsOf(
  base: Base,
  text: string,
  options: JudgeOptions,
  change: Change = {},
): readonly Problem[] {
  const { setupId, marginMm } = base;
  const raw = structuredClone(base.raw);
  for (const cutter of raw.shop.cutters)
    cutter.diameter = `${toMm(cutter.diameter, raw.shop.units) + (change.widerMm ?? 0)} mm`;
  for (const setup of raw.setups)
    setup.clear = { ...setup.clear, side: `${base.judged.clearSideMm - (change.lessAirMm ?? 0)} mm` };
  return judge(raw, setupId, text, change.floorMm ?? base.floorMm, { marginMm, ...options }).problems;
}

interface Change {
  /** Of the cutter. */
  readonly widerMm?: number;
  /** Beside keep-outs. */
  readonly lessAirMm?: number;
  readonly floorMm?: number;
}

/** Coarse cells, and places as far apart as leave scallops of 0.015 mm, which the judge's rim covers. */
function quick({ judged: { radiusMm } }: Base): JudgeOptions {
  return { cellMm: 6, stepMm: Math.min(2, Math.sqrt(8 * radiusMm * 0.015)) };
}

/** Cells of 1 mm with their samples in the places where the proof has its own. */
const FINE: JudgeOptions = { cellMm: 1, stepMm: 0.5, sampleAt: "middles" };

/** What of the judge's problems the proof, too, is bound to find. */
function harms(base: Base, text: string, problems: readonly Problem[]): readonly Problem[] {
  let bound = problems;
  // Wood up to 0.05 mm above the floor counts as cut for the proof, up to 0.02 mm for the judge.
  if (bound.some(({ code }) => code === "standing")) {
    const higher = problemsOf(base, text, quick(base), { floorMm: base.floorMm + 0.03 });
    if (!higher.some(({ code }) => code === "standing"))
      bound = bound.filter(({ code }) => code !== "standing");
  }
  // Feed moves with the spindle at rest harm nothing as long as they are in air: with a floor above everything
  // every move that cuts is a gouge.
  if (bound.some(({ code }) => code === "spindle")) {
    const cuts = new Set(
      problemsOf(base, text, quick(base), { floorMm: 1e6 }).flatMap(({ code, line }) =>
        code === "gouge" ? [line] : [],
      ),
    );
    bound = bound.filter(({ code, line }) => code !== "spindle" || cuts.has(line));
  }
  return bound;
}

/**
 * Whether the judge finds any problem when it looks as closely as the proof does. It cuts with a rim 0.02 mm wider than the cutter
 * and touches with one narrower, and holds its tongue for 0.3 mm beside what keep-outs shade.
 */
function harmsClosely(base: Base, text: string): boolean {
  return [{}, { widerMm: 0.04 }, { widerMm: -0.04 }, { lessAirMm: 0.3 }].some(
    (change) => problemsOf(base, text, FINE, change).length > 0,
  );
}

const counts = { injected: 0, harmful: 0, caught: 0, clean: 0 };

/** What is wrong with the proof's verdict on a broken program, or null. */
function wrongVerdict(base: Base, fault: Fault): string | null {
  counts.injected++;
  const text = `${fault.lines.join("\n")}\n`;
  const { ok, findings } = checked(base, fault.lines);
  const certain = CERTAIN.includes(fault.kind);
  const problems = certain ? [] : problemsOf(base, text, quick(base));
  const harmful =
    certain ||
    (ok ? harms(base, text, problems).length > 0 : problems.length > 0 || harmsClosely(base, text));
  if (harmful) counts.harmful++;
  else counts.clean++;
  if (harmful && !ok) counts.caught++;
  if (harmful !== ok) return null;
  const told = (list: readonly { code: string; line: number; text: string }[]) =>
    list.slice(0, 3).map(({ code, line, text: what }) => `  ${code} ${line}: ${what}`);
  return [
    `${fault.kind}, line ${fault.label}`,
    ...(harmful
      ? ["the judge finds, and the proof does not:", ...told(problems)]
      : ["the proof finds, and the judge does not:", ...told(findings)]),
  ].join("\n");
}

describe("a broken program", () => {
  const bases = allBases();
  const perBase = Math.ceil(FAULTS / bases.length);

  test.each(bases.map((base, k) => [base.name, base, k] as const))(
    "%s is sound before it is broken",
    (_, base) => {
      const text = `${base.lines.join("\n")}\n`;
      expect(checked(base, base.lines).findings).toEqual([]);
      expect(problemsOf(base, text, quick(base))).toEqual([]);
    },
  );

  test.each(bases.map((base, k) => [base.name, base, k] as const))(
    `of %s is found when it harms and left alone when not, seed ${SEED}`,
    (_, base, k) => {
      const dice = new Dice(1000 * SEED + k);
      const hasArcs = base.lines.some((line) => /^[^(;]*[IJ]-?\d/.test(line));
      for (let n = 0; n < perBase; n++) {
        const ofArcs = hasArcs && n % 2 === 0;
        const kinds = ofArcs ? OF_ARCS : FAULT_KINDS;
        const kind = kinds[((ofArcs ? k + n : k * perBase + n) >> (ofArcs ? 1 : 0)) % kinds.length];
        const fault = inject(kind, base.lines, dice, base.target);
        if (fault !== null) expect(wrongVerdict(base, fault)).toBeNull();
      }
    },
    20_000 * (1 + perBase),
  );

  test("does harm often enough for that to say something", () => {
    expect(counts.harmful).toBeGreaterThan(0.4 * counts.injected);
    expect(counts.clean).toBeGreaterThan(0.1 * counts.injected);
  });

  afterAll(() => {
    const { injected, harmful, caught, clean } = counts;
    console.info(
      `faults injected ${injected}, harmful ${harmful}, of these caught ${caught}; harmless and left alone ${clean}`,
    );
  });
});
