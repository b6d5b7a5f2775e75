// Whether cutter and spindle bear what a setup asks of them, told to the maker with the number that
// would be right. Millimetres, mm/min, rev/min, radians. Steady cutting only: not entering, not corners.

import type { Machine, Setup } from "../job/job.ts";
import { formatFeed, formatLength, type Units } from "../units.ts";
import { chipShare, cuttingPowerKw, feedPerEdgeMm, removalCm3PerS, rimSpeedMPerS } from "./chips.ts";
import { GENERAL_HARDWOOD, type Material, materialNamed } from "./materials.ts";
import { discSlope, halvingStepMm, ridgeMm } from "./ridge.ts";

export interface CuttingWarning {
  readonly code: "material" | "speed" | "feed-limit" | "chip-load" | "power" | "ridge";
  readonly text: string;
}

/** Lower ridges are gone with the sanding of a table top: common practice, no source. */
const RIDGE_MM = 0.1;

/**
 * What to think about before cutting a setup. `stepMm` is the spacing of the layers' rows, `depthMm` how
 * deep a layer bites, `rowAngleRad` the rows' direction from +X; a finish pass is judged by its own depth
 * and stepover. Lengths and feeds in the texts are in `units`.
 */
export function cuttingWarnings(
  setup: Setup,
  machine: Machine,
  stepMm: number,
  depthMm: number,
  rowAngleRad: number,
  units: Units,
): CuttingWarning[] {
  const context = { setup, machine, units, axesFeedMmPerMin: axesFeed(machine, rowAngleRad) };
  const { feedMmPerMin, finish } = setup.passes;
  const lastStepMm = finish === null ? stepMm : finish.stepoverShare * setup.cutter.diameterMm;
  const material = hardestOf(setup);
  const cuts: Cut[] = [{ field: "passes.feed", feedMmPerMin, material, stepMm, depthMm }];
  if (finish !== null) cuts.push({ ...finish, field: "passes.finish.feed", material, stepMm: lastStepMm });
  return [
    ...materialWarnings(setup),
    ...speedWarnings(context),
    ...cuts.flatMap((cut) => [
      ...feedWarnings(cut, context),
      ...chipWarnings(cut, context),
      ...powerWarnings(cut, context),
    ]),
    ...ridgeWarnings(lastStepMm, rowAngleRad, context),
  ];
}

/** One way the cutter meets material in this setup. */
interface Cut {
  /** Where the job file says the feed. */
  readonly field: string;
  readonly feedMmPerMin: number;
  readonly material: Material;
  readonly stepMm: number;
  readonly depthMm: number;
}

interface Context {
  readonly setup: Setup;
  readonly machine: Machine;
  readonly units: Units;
  /** The most that the axes allow along the rows. */
  readonly axesFeedMmPerMin: number;
}

/** Of the pieces' materials the one that takes most to cut. */
function hardestOf({ pieces }: Setup): Material {
  const materials = pieces.map(({ material }) => materialNamed(material) ?? GENERAL_HARDWOOD);
  return materials.reduce((a, b) => (b.energyJPerCm3.high > a.energyJPerCm3.high ? b : a));
}

function axesFeed(machine: Machine, rowAngleRad: number): number {
  const { x, y } = machine.feedLimitMmPerMin;
  return Math.min(x / Math.abs(Math.cos(rowAngleRad)), y / Math.abs(Math.sin(rowAngleRad)));
}

function materialWarnings({ pieces }: Setup): CuttingWarning[] {
  const unknown = pieces.filter(({ material }) => material !== "" && materialNamed(material) === null);
  const { low, high } = GENERAL_HARDWOOD.energyJPerCm3;
  return unknown.map(({ id, material }) => ({
    code: "material",
    text:
      `the table of materials does not know "${material}" of piece "${id}": ` +
      `its cutting power is judged as that of general hardwood (${low} to ${high} J/cm3)`,
  }));
}

function speedWarnings({ setup: { cutter, passes }, machine: { spindle } }: Context): CuttingWarning[] {
  const { speed } = passes;
  const speedMax = Math.min(spindle.speedMax, cutter.speedMax);
  if (speed >= spindle.speedMin && speed <= speedMax) return [];
  const found =
    speed > cutter.speedMax
      ? `is more than cutter "${cutter.id}" bears (at most ${cutter.speedMax}; ` +
        `its rim would run at ${rimSpeedMPerS(cutter.diameterMm, speed).toFixed(0)} m/s)`
      : `is outside the spindle's range (${spindle.speedMin} to ${spindle.speedMax})`;
  const right =
    speedMax >= spindle.speedMin
      ? `passes.speed should lie between ${spindle.speedMin} and ${speedMax}`
      : `no speed suits both: the spindle turns no slower than ${spindle.speedMin}, so take another cutter`;
  return [{ code: "speed", text: `${speed} rev/min ${found}; ${right}` }];
}

function feedWarnings(cut: Cut, { axesFeedMmPerMin, units }: Context): CuttingWarning[] {
  if (cut.feedMmPerMin <= axesFeedMmPerMin * (1 + 1e-9)) return [];
  return [
    {
      code: "feed-limit",
      text:
        `${cut.field} of ${formatFeed(cut.feedMmPerMin, units)} is more than the axes reach along the rows: ` +
        `the machine will slow down to ${feedBelow(axesFeedMmPerMin, units)}, so ask for no more than that`,
    },
  ];
}

function chipWarnings(cut: Cut, { setup, machine, axesFeedMmPerMin, units }: Context): CuttingWarning[] {
  const { cutter, passes } = setup;
  const { min, max } = cutter.chipLoadMm;
  const share = chipShare(cut.stepMm, cutter.diameterMm);
  const chipMm = share * feedPerEdgeMm(cut.feedMmPerMin, passes.speed, cutter.edges);
  const thin = chipMm < min * (1 - 1e-9);
  if (!thin && chipMm <= max * (1 + 1e-9)) return [];

  // The feed and, alone, the speed at which the chip is as thick as the nearer end of the range.
  const wantedMm = thin ? min : max;
  const feedMmPerMin = (cut.feedMmPerMin * wantedMm) / chipMm;
  const speed = (passes.speed * chipMm) / wantedMm;
  const speedMax = Math.min(machine.spindle.speedMax, cutter.speedMax);
  const right = thin
    ? [
        ...(feedMmPerMin <= axesFeedMmPerMin ? [`a feed of at least ${feedAbove(feedMmPerMin, units)}`] : []),
        ...(speed >= machine.spindle.speedMin ? [`a speed of at most ${speedBelow(speed)}`] : []),
      ]
    : [
        `a feed of at most ${feedBelow(feedMmPerMin, units)}`,
        ...(speed <= speedMax ? [`a speed of at least ${speedAbove(speed)}`] : []),
      ];
  const range = `${formatLength(min, units)} to ${formatLength(max, units)}`;
  return [
    {
      code: "chip-load",
      text:
        `${cut.field} of ${formatFeed(cut.feedMmPerMin, units)} at ${passes.speed} rev/min gives chips of ` +
        `${formatLength(chipMm, units)} in rows ${formatLength(cut.stepMm, units)} apart, too ${thin ? "thin" : "thick"} ` +
        `for cutter "${cutter.id}" (${range})${thin ? ", which would rub and heat" : ""}; right would be ` +
        `${right.length > 0 ? right.join(", or ") : "a cutter with fewer edges: no feed and speed of this machine will do"}`,
    },
  ];
}

/** The first row of a layer is as wide as the cutter, so that is what the spindle must bear. */
function powerWarnings(cut: Cut, { setup, machine, units }: Context): CuttingWarning[] {
  const { powerKw, efficiency } = machine.spindle;
  const { diameterMm } = setup.cutter;
  const { low, high } = cut.material.energyJPerCm3;
  const removed = removalCm3PerS(cut.depthMm, diameterMm, cut.feedMmPerMin);
  const neededKw = cuttingPowerKw(removed, high);
  const share = (powerKw * efficiency) / neededKw;
  if (!(share < 1)) return [];
  return [
    {
      code: "power",
      text:
        `a full-width row ${formatLength(cut.depthMm, units)} deep at ${formatFeed(cut.feedMmPerMin, units)} in ` +
        `${cut.material.name} takes ${cuttingPowerKw(removed, low).toFixed(1)} to ${neededKw.toFixed(1)} kW, and the spindle ` +
        `gives ${(powerKw * efficiency).toFixed(1)} kW; right would be ${cut.field} of at most ` +
        `${feedBelow(share * cut.feedMmPerMin, units)}, or layers of at most ${formatLength(share * cut.depthMm, units)}`,
    },
  ];
}

function ridgeWarnings(
  stepMm: number,
  rowAngleRad: number,
  { setup, machine, units }: Context,
): CuttingWarning[] {
  const { diameterMm } = setup.cutter;
  const slope = discSlope(machine.spindle.outOfSquare, rowAngleRad);
  const heightMm = ridgeMm(diameterMm, stepMm, slope);
  if (heightMm <= RIDGE_MM) return [];
  const share = Math.floor((100 * halvingStepMm(diameterMm, stepMm, slope)) / diameterMm) / 100;
  return [
    {
      code: "ridge",
      text:
        `the spindle is out of square, so rows ${formatLength(stepMm, units)} apart leave ridges of about ` +
        `${formatLength(heightMm, units)}; a stepover of ${share} (${formatLength(share * diameterMm, units)}) leaves half of that`,
    },
  ];
}

// Rounded so that following the advice to the letter is right: 10 mm/min or 1 in/min, 100 rev/min.

function feedBelow(mmPerMin: number, units: Units): string {
  const step = units === "mm" ? 10 : 25.4;
  return formatFeed(Math.floor(mmPerMin / step + 1e-9) * step, units);
}

function feedAbove(mmPerMin: number, units: Units): string {
  const step = units === "mm" ? 10 : 25.4;
  return formatFeed(Math.ceil(mmPerMin / step - 1e-9) * step, units);
}

function speedBelow(speed: number): string {
  return `${Math.floor(speed / 100 + 1e-9) * 100} rev/min`;
}

function speedAbove(speed: number): string {
  return `${Math.ceil(speed / 100 - 1e-9) * 100} rev/min`;
}
