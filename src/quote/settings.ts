// A job with another cutter, depth or stepover, its feeds and speed advised anew, and what binds those: the axes, the
// spindle's power, the cutter's chip load, or the ridges that a spindle out of square leaves. Millimetres.

import { type Asked, advise } from "../cutting/advise.ts";
import { cuttingPowerKw, removalCm3PerS } from "../cutting/chips.ts";
import { discSlope, ridgeMm } from "../cutting/ridge.ts";
import { hardestOf } from "../cutting/warnings.ts";
import type { Cutter, Job, Setup, Shop } from "../job/job.ts";
import { rowAngle } from "../passes/angle.ts";
import { formatLength, MM_PER_INCH, type Units } from "../units.ts";

export interface Settings {
  readonly cutter: Cutter;
  readonly depthMm: number;
  readonly stepoverShare: number;
}

/** The job with these settings in every setup. */
export function withSettings(job: Job, settings: Settings): Job {
  return { ...job, setups: job.setups.map((setup) => setupWith(setup, settings, job)) };
}

function setupWith(setup: Setup, { cutter, depthMm, stepoverShare }: Settings, { shop, units }: Job): Setup {
  const finish = setup.passes.finish && {
    ...setup.passes.finish,
    depthMm: Math.min(depthMm, setup.passes.finish.depthMm),
  };
  const asked: Asked = {
    speed: "advise",
    feedMmPerMin: "advise",
    resinFeedMmPerMin: "advise",
    finishFeedMmPerMin: finish === null ? null : "advise",
  };
  const cutting = {
    ...{ cutter, machine: shop.machine, depthMm, stepoverShare, finish },
    ...hardestOf(setup.pieces, shop.materials),
  };
  const advice = advise(asked, cutting, units);
  return {
    ...setup,
    cutter,
    passes: {
      ...setup.passes,
      ...{ depthMm, stepoverShare, speed: advice.speed, feedMmPerMin: advice.feedMmPerMin },
      resinFeedMmPerMin: advice.resinFeedMmPerMin,
      finish: finish && { ...finish, feedMmPerMin: advice.finishFeedMmPerMin ?? advice.feedMmPerMin },
    },
  };
}

export type Vary = "cutter" | "stepover" | "depth";

/** What makers try beside their own. */
const STEPOVERS = [0.5, 0.6, 0.7, 0.8];
const DEPTHS_MM = { mm: [1, 2, 3], in: [MM_PER_INCH / 32, MM_PER_INCH / 16, MM_PER_INCH / 8] };

/** The settings to compare: every cutter of the shop, and depths and stepovers around those of `now`, as asked for. */
export function settingsToCompare(
  now: Settings,
  vary: readonly Vary[],
  shop: Shop,
  units: Units,
): Settings[] {
  const cutters = vary.includes("cutter") ? shop.cutters : [now.cutter];
  return cutters.flatMap((cutter) => {
    const own = Math.min(now.depthMm, cutter.depthMaxMm);
    const depths = vary.includes("depth") ? [...DEPTHS_MM[units], cutter.depthMaxMm, own] : [own];
    const steps = vary.includes("stepover") ? [...STEPOVERS, now.stepoverShare] : [now.stepoverShare];
    return sortedOnce(depths.filter((depthMm) => depthMm <= cutter.depthMaxMm)).flatMap((depthMm) =>
      sortedOnce(steps).map((stepoverShare) => ({ cutter, depthMm, stepoverShare })),
    );
  });
}

/** Which depths are not compared with which cutter, one sentence a cutter. */
export function tooDeepToCompare(now: Settings, vary: readonly Vary[], shop: Shop, units: Units): string[] {
  const wanted = sortedOnce([...(vary.includes("depth") ? DEPTHS_MM[units] : []), now.depthMm]);
  return (vary.includes("cutter") ? shop.cutters : [now.cutter]).flatMap(({ id, depthMaxMm }) => {
    const length = (mm: number) => formatLength(mm, units);
    const tooDeep = wanted.filter((depthMm) => depthMm > depthMaxMm).map(length);
    if (tooDeep.length === 0) return [];
    return [`cutter ${id} at ${tooDeep.join(" and ")}: its depthMax is ${length(depthMaxMm)}`];
  });
}

function sortedOnce(values: readonly number[]): number[] {
  return [...new Set(values)].sort((a, b) => a - b);
}

export type Limit = "feed limit" | "power" | "chip load" | "given feed" | "ridge";

/** A limit that is as near as this binds. */
const NEAR = 0.97;
/** Ridges from here on are told, as the plan's warnings have it. */
const RIDGE_MM = 0.01;

/** What keeps the wood's feed of a setup from being more (`advised`, or given by the job), and rows from lying farther apart. */
export function bindingLimits(setup: Setup, { machine, materials }: Shop, advised: boolean): Limit[] {
  const { cutter, passes } = setup;
  const angleRad = rowAngle(setup);
  const axes = Math.min(
    machine.feedLimitMmPerMin.x / Math.abs(Math.cos(angleRad)),
    machine.feedLimitMmPerMin.y / Math.abs(Math.sin(angleRad)),
  );
  const { wood } = hardestOf(setup.pieces, materials);
  const removed = removalCm3PerS(passes.depthMm, cutter.diameterMm, passes.feedMmPerMin);
  const taken = cuttingPowerKw(removed, wood.energyJPerCm3.high);
  const given = machine.spindle.powerKw * machine.spindle.efficiency;
  const limits: Limit[] = [];
  if (passes.feedMmPerMin >= NEAR * axes) limits.push("feed limit");
  if (taken >= NEAR * given) limits.push("power");
  if (limits.length === 0) limits.push(advised ? "chip load" : "given feed");
  const slope = discSlope(machine.spindle.outOfSquare, angleRad);
  const lastStep = (passes.finish?.stepoverShare ?? passes.stepoverShare) * cutter.diameterMm;
  if (ridgeMm(cutter.diameterMm, lastStep, slope) > RIDGE_MM) limits.push("ridge");
  return limits;
}
