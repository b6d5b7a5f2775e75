// Whether cutter and spindle bear what a setup asks of them, told to the maker with the number that
// would be right. Millimetres, mm/min, rev/min, radians. Steady cutting only: not entering, not corners.

import type { Cutter, Machine, Piece, Setup, ShopMaterial } from "../job/job.ts";
import { formatFeed, formatLength, type Units } from "../units.ts";
import { chipShare, cuttingPowerKw, feedPerEdgeMm, removalCm3PerS, rimSpeedMPerS } from "./chips.ts";
import { GENERAL_HARDWOOD, type Material, materialNamed, resinNamed, woodNamed } from "./materials.ts";
import { type DiscSlope, discSlope, halvingStepMm, ridgeMm } from "./ridge.ts";

export interface CuttingWarning {
  readonly code: "material" | "speed" | "feed-limit" | "chip-load" | "power" | "ridge";
  readonly text: string;
}

/** Lower ridges than this are below what a bed and its readings are good for: common practice, no source. */
const RIDGE_MM = 0.01;

/**
 * What to think about before cutting a setup. `stepMm` is the spacing of the layers' rows, `depthMm` how
 * deep a layer bites, `rowAngleRad` the rows' direction from +X; a finish pass is judged by its own depth
 * and stepover, resin by its own feed. Lengths and feeds in the texts are in `units`; `materials` are the
 * shop's own.
 */
export function cuttingWarnings(
  setup: Setup,
  machine: Machine,
  stepMm: number,
  depthMm: number,
  rowAngleRad: number,
  units: Units,
  materials: readonly ShopMaterial[] = [],
): CuttingWarning[] {
  const context = { setup, machine, units, axesFeedMmPerMin: axesFeed(machine, rowAngleRad) };
  const { finish } = setup.passes;
  const lastStepMm = finish === null ? stepMm : finish.stepoverShare * setup.cutter.diameterMm;
  const found = [
    ...materialWarnings(setup, materials),
    ...speedWarnings(context),
    ...cutsOf(setup, stepMm, depthMm, materials).flatMap((cut) => [
      ...feedWarnings(cut, context),
      ...chipWarnings(cut, context),
      ...powerWarnings(cut, context),
    ]),
    ...ridgeWarnings(lastStepMm, rowAngleRad, context),
  ];
  // Resin that is cut with the wood's feed would say the same of its chips.
  return found.filter(({ text }, k) => found.findIndex((other) => other.text === text) === k);
}

/** One way the cutter meets material in this setup. */
interface Cut {
  /** Where the job file says the feed, and where it can say another for this cut alone. */
  readonly field: string;
  readonly ownField: string;
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

/** Roughing and finishing, each in the hardest wood and in the hardest resin that there are. */
function cutsOf(
  { pieces, passes, cutter }: Setup,
  stepMm: number,
  depthMm: number,
  materials: readonly ShopMaterial[],
): Cut[] {
  const { feedMmPerMin, resinFeedMmPerMin, finish } = passes;
  const { wood, resin } = hardestOf(pieces, materials);
  const layers = [
    { field: "passes.feed", feedMmPerMin, stepMm, depthMm },
    ...(finish === null
      ? []
      : [
          {
            field: "passes.finish.feed",
            feedMmPerMin: finish.feedMmPerMin,
            stepMm: finish.stepoverShare * cutter.diameterMm,
            depthMm: finish.depthMm,
          },
        ]),
  ];
  return layers.flatMap((layer) => {
    const inWood = { ...layer, ownField: layer.field, material: wood };
    if (resin === null) return [inWood];
    const own = "passes.resinFeed";
    const inResin = { ...layer, ownField: own, material: resin };
    return resinFeedMmPerMin === null
      ? [inWood, inResin]
      : [inWood, { ...inResin, field: own, feedMmPerMin: resinFeedMmPerMin }];
  });
}

/**
 * Of the pieces' woods, and of the resins around them, the one that takes most to cut; null: no piece has
 * resin around its wood. A piece that is nothing but resin counts as wood: it is cut with the wood's feed.
 */
export function hardestOf(
  pieces: readonly Pick<Piece, "material" | "wood" | "shellMm" | "madeOf">[],
  materials: readonly ShopMaterial[],
): { wood: Material; resin: Material | null } {
  const harder = (a: Material, b: Material) => (b.energyJPerCm3.high > a.energyJPerCm3.high ? b : a);
  const cast = pieces.filter(hasResin);
  const woods = pieces.map((piece) => {
    const named = hasResin(piece) ? woodNamed : materialNamed;
    return named(piece.material, materials) ?? GENERAL_HARDWOOD;
  });
  return {
    wood: woods.reduce(harder),
    resin:
      cast.length === 0 ? null : cast.map(({ material }) => resinNamed(material, materials)).reduce(harder),
  };
}

function hasResin({ wood, shellMm, madeOf }: Pick<Piece, "wood" | "shellMm" | "madeOf">): boolean {
  return wood !== null || madeOf.length > 0 || shellMm.upper > 0 || shellMm.under > 0;
}

function axesFeed(machine: Machine, rowAngleRad: number): number {
  const { x, y } = machine.feedLimitMmPerMin;
  return Math.min(x / Math.abs(Math.cos(rowAngleRad)), y / Math.abs(Math.sin(rowAngleRad)));
}

function materialWarnings({ pieces }: Setup, materials: readonly ShopMaterial[]): CuttingWarning[] {
  const unknown = pieces.filter(
    ({ material }) => material !== "" && materialNamed(material, materials) === null,
  );
  const { low, high } = GENERAL_HARDWOOD.energyJPerCm3;
  return unknown.map(({ id, material }) => ({
    code: "material",
    text:
      `the table of materials does not know "${material}" of piece "${id}": ` +
      `its cutting power is judged as that of general hardwood (${low} to ${high} J/cm3); ` +
      `if you know better, add it to "materials" in the shop file`,
  }));
}

function speedWarnings({ setup: { cutter, passes }, machine: { spindle } }: Context): CuttingWarning[] {
  const { speed } = passes;
  const fault = speedFault(speed, cutter, spindle);
  if (fault === null) return [];
  const speedMax = Math.min(spindle.speedMax, cutter.speedMax);
  const right =
    speedMax >= spindle.speedMin
      ? `passes.speed should lie between ${spindle.speedMin} and ${speedMax}`
      : `no speed suits both: the spindle turns no slower than ${spindle.speedMin}, so take another cutter`;
  return [{ code: "speed", text: `${fault}; ${right}` }];
}

/** What is wrong with a speed, with both numbers; null: cutter and spindle bear it. */
export function speedFault(speed: number, cutter: Cutter, spindle: Machine["spindle"]): string | null {
  if (speed > cutter.speedMax)
    return (
      `${speed} rev/min is more than cutter "${cutter.id}" bears (at most ${cutter.speedMax}; ` +
      `its rim would run at ${rimSpeedMPerS(cutter.diameterMm, speed).toFixed(0)} m/s)`
    );
  if (speed >= spindle.speedMin && speed <= spindle.speedMax) return null;
  return `${speed} rev/min is outside the spindle's range (${spindle.speedMin} to ${spindle.speedMax})`;
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

function chipWarnings(cut: Cut, context: Context): CuttingWarning[] {
  const { setup, machine, units, axesFeedMmPerMin } = context;
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
  // Advice that would break another bound is no advice.
  const feedMost = Math.min(axesFeedMmPerMin, powerFeed(cut, context));
  const right = thin
    ? [
        ...(feedMmPerMin <= feedMost ? [`a feed of at least ${feedAbove(feedMmPerMin, units)}`] : []),
        ...(speed >= machine.spindle.speedMin
          ? [`a speed of at most ${speedBelow(speed, machine.spindle.speedMin)}`]
          : []),
      ]
    : [
        `a feed of at most ${feedBelow(feedMmPerMin, units)}`,
        ...(speed <= speedMax ? [`a speed of at least ${speedAbove(speed, speedMax)}`] : []),
      ];
  if (right.length === 0)
    right.push(
      feedMmPerMin <= axesFeedMmPerMin
        ? `${feedAbove(feedMmPerMin, units)} in layers of at most ${depthBelow((cut.depthMm * powerFeed(cut, context)) / feedMmPerMin, units)}`
        : "a cutter with fewer edges: no feed and speed of this machine will do",
    );
  const range = `${formatLength(min, units)} to ${formatLength(max, units)}`;
  return [
    {
      code: "chip-load",
      text:
        `${cut.field} of ${formatFeed(cut.feedMmPerMin, units)} at ${passes.speed} rev/min gives chips of ` +
        `${formatLength(chipMm, units)} in rows ${formatLength(cut.stepMm, units)} apart, too ${thin ? "thin" : "thick"} ` +
        `for cutter "${cutter.id}" (${range})${thin ? ", which would rub and heat" : ""}; right would be ${right.join(", or ")}`,
    },
  ];
}

/** The feed at which a cut takes all of the spindle's power: the first row of a layer is as wide as the cutter. */
function powerFeed({ depthMm, material }: Cut, { setup, machine }: Context): number {
  const { powerKw, efficiency } = machine.spindle;
  const removed = removalCm3PerS(depthMm, setup.cutter.diameterMm, 1);
  return (powerKw * efficiency) / cuttingPowerKw(removed, material.energyJPerCm3.high);
}

function powerWarnings(cut: Cut, context: Context): CuttingWarning[] {
  const { setup, machine, units } = context;
  const { cutter, passes } = setup;
  const { powerKw, efficiency, speedMin } = machine.spindle;
  const mostMmPerMin = powerFeed(cut, context);
  if (!(cut.feedMmPerMin > mostMmPerMin)) return [];
  const { low, high } = cut.material.energyJPerCm3;
  const removed = removalCm3PerS(cut.depthMm, cutter.diameterMm, cut.feedMmPerMin);
  // The lower feed must not make chips too thin: then the speed has to come down with it.
  const share = chipShare(cut.stepMm, cutter.diameterMm);
  const speed = (share * mostMmPerMin) / (cutter.edges * cutter.chipLoadMm.min);
  const slower = speed < passes.speed ? ` with a speed of at most ${speedBelow(speed, speedMin)}` : "";
  const feed =
    speed < Math.min(speedMin, passes.speed)
      ? []
      : [`${cut.ownField} of at most ${feedBelow(mostMmPerMin, units)}${slower}`];
  const depth = `layers of at most ${depthBelow((mostMmPerMin / cut.feedMmPerMin) * cut.depthMm, units)}`;
  return [
    {
      code: "power",
      text:
        `a full-width row ${formatLength(cut.depthMm, units)} deep at ${formatFeed(cut.feedMmPerMin, units)} in ` +
        `${cut.material.name} takes ${cuttingPowerKw(removed, low).toFixed(1)} to ${cuttingPowerKw(removed, high).toFixed(1)} kW, and the spindle ` +
        `gives ${(powerKw * efficiency).toFixed(1)} kW; right would be ${[...feed, depth].join(", or ")}`,
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
  const halving = halvingStepMm(diameterMm, stepMm, slope) / diameterMm;
  const share = Math.max(0.01, Math.floor(100 * halving + 1e-6) / 100);
  const alone = (tilt: DiscSlope) => formatLength(ridgeMm(diameterMm, stepMm, tilt), units);
  const parts =
    slope.along === 0 || slope.across === 0
      ? ""
      : ` (its tilt across the rows alone would leave ${alone({ along: 0, across: slope.across })}, ` +
        `its tilt along them ${alone({ along: slope.along, across: 0 })})`;
  return [
    {
      code: "ridge",
      text:
        `the spindle is out of square, so rows ${formatLength(stepMm, units)} apart leave ridges of about ` +
        `${formatLength(heightMm, units)}${parts}; a stepover of ${share} (${formatLength(share * diameterMm, units)}) leaves half of that`,
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

function depthBelow(mm: number, units: Units): string {
  const step = units === "mm" ? 0.01 : 0.0254;
  return formatLength(Math.floor(mm / step + 1e-9) * step, units);
}

function speedBelow(speed: number, least: number): string {
  const round = Math.floor(speed / 100 + 1e-9) * 100;
  return `${round >= least ? round : Math.floor(speed)} rev/min`;
}

function speedAbove(speed: number, most: number): string {
  const round = Math.ceil(speed / 100 - 1e-9) * 100;
  return `${round <= most ? round : Math.ceil(speed)} rev/min`;
}
