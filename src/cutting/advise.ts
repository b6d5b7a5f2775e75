// Feed and speed for a maker who leaves them to us ("advise"): as fast as axes, spindle and cutter bear, with
// chips in the middle of the cutter's range. A feed that is given stays as it is, and the rest goes by it.
// Judged as the warnings do: steady rows at their stepover for chips, a row as wide as the cutter for power,
// and the upper end of the material's cutting energy. Millimetres, mm/min, rev/min.

import type { Cutter, Machine } from "../job/job.ts";
import { formatFeed, formatLength, type Units } from "../units.ts";
import { chipShare, cuttingPowerKw, removalCm3PerS } from "./chips.ts";
import type { Material } from "./materials.ts";

/** What the job says of feeds and speed; null where it says nothing. */
export interface Asked {
  readonly speed: number | "advise";
  readonly feedMmPerMin: number | "advise";
  readonly resinFeedMmPerMin: number | "advise" | null;
  readonly finishFeedMmPerMin: number | "advise" | null;
}

/** What is cut, and with what. */
export interface Cutting {
  readonly cutter: Cutter;
  readonly machine: Machine;
  readonly depthMm: number;
  /** Share of the cutter's diameter. */
  readonly stepoverShare: number;
  readonly finish: { readonly depthMm: number; readonly stepoverShare: number } | null;
  readonly wood: Material;
  /** Null: no resin beside or over the wood. */
  readonly resin: Material | null;
}

export interface Advice {
  readonly speed: number;
  readonly feedMmPerMin: number;
  /** Null: as the feed; there is no resin, or the job leaves it at that. */
  readonly resinFeedMmPerMin: number | null;
  /** Null: there is no finish pass. */
  readonly finishFeedMmPerMin: number | null;
  /** What was chosen, and what kept it from being more; for people, in `units`. */
  readonly text: string;
}

/** Fills in what is left to us. What nothing can make right comes out as near as it gets, and the warnings tell. */
export function advise(asked: Asked, cutting: Cutting, units: Units): Advice {
  const cuts = feedsAsked(asked, cutting).map((feed) => bounded(feed, cutting));
  const speed = asked.speed === "advise" ? speedFor(cuts, cutting) : asked.speed;
  const chosen = cuts.map((cut) => ({
    ...cut,
    ...feedAt(cut, speed, asked.speed !== "advise", cutting, units),
  }));
  const of = (name: Name) => chosen.find((cut) => cut.name === name)?.feedMmPerMin ?? null;
  const { cutter } = cutting;
  const feeds = chosen.map(({ name, feedMmPerMin, why }) => {
    const feed = `${formatFeed(feedMmPerMin, units)} ${NAMES[name]}`;
    return why === "" ? `${feed} as given` : `${feed}, where ${why}`;
  });
  return {
    speed,
    feedMmPerMin: of("wood") as number,
    resinFeedMmPerMin: of("resin"),
    finishFeedMmPerMin: of("finish"),
    text: `cutter "${cutter.id}" at ${speed} rev/min${asked.speed === "advise" ? "" : " as given"}; ${feeds.join("; ")}`,
  };
}

type Name = "wood" | "resin" | "finish";
const NAMES: Readonly<Record<Name, string>> = {
  wood: "in the passes",
  resin: "in resin",
  finish: "in the finish pass",
};

/** One feed, and the cuts that are made with it. */
interface FeedAsked {
  readonly name: Name;
  readonly given: number | null;
  readonly cuts: readonly {
    readonly material: Material;
    readonly depthMm: number;
    readonly stepoverShare: number;
  }[];
}

function feedsAsked(asked: Asked, { depthMm, stepoverShare, finish, wood, resin }: Cutting): FeedAsked[] {
  const number = (feed: number | "advise" | null) => (typeof feed === "number" ? feed : null);
  const rough = { material: wood, depthMm, stepoverShare };
  const feeds: FeedAsked[] = [{ name: "wood", given: number(asked.feedMmPerMin), cuts: [rough] }];
  // Where the feed is given and resin's is not, resin is cut with that one, as the job says.
  const ownResinFeed = asked.resinFeedMmPerMin !== null || asked.feedMmPerMin === "advise";
  if (resin !== null && ownResinFeed) {
    const cuts = [rough, ...(finish === null ? [] : [{ ...rough, ...finish }])];
    feeds.push({
      name: "resin",
      given: number(asked.resinFeedMmPerMin),
      cuts: cuts.map((cut) => ({ ...cut, material: resin })),
    });
  }
  if (finish !== null) {
    const given =
      number(asked.finishFeedMmPerMin) ??
      (asked.finishFeedMmPerMin === null ? number(asked.feedMmPerMin) : null);
    feeds.push({ name: "finish", given, cuts: [{ ...rough, ...finish }] });
  }
  return feeds;
}

/** A feed with all that bounds it but the speed. */
interface Bounded extends FeedAsked {
  /** Least and greatest chip thickness for a feed per edge of 1, over its cuts. */
  readonly thinShare: number;
  readonly thickShare: number;
  readonly powerMmPerMin: number;
  readonly axesMmPerMin: number;
  /** As given, or the most that axes and power allow. */
  readonly mostMmPerMin: number;
  /** The cut that takes the most power. */
  readonly hardest: FeedAsked["cuts"][number];
}

function bounded(feed: FeedAsked, { cutter, machine }: Cutting): Bounded {
  const shares = feed.cuts.map(({ stepoverShare }) => chipShare(stepoverShare, 1));
  const { powerKw, efficiency } = machine.spindle;
  const powers = feed.cuts.map(({ depthMm, material }) => {
    const kwPerMmPerMin = cuttingPowerKw(
      removalCm3PerS(depthMm, cutter.diameterMm, 1),
      material.energyJPerCm3.high,
    );
    return (powerKw * efficiency) / kwPerMmPerMin;
  });
  const powerMmPerMin = Math.min(...powers);
  const axesMmPerMin = Math.min(machine.feedLimitMmPerMin.x, machine.feedLimitMmPerMin.y);
  return {
    ...feed,
    thinShare: Math.min(...shares),
    thickShare: Math.max(...shares),
    powerMmPerMin,
    axesMmPerMin,
    mostMmPerMin: feed.given ?? Math.min(axesMmPerMin, powerMmPerMin),
    hardest: feed.cuts[powers.indexOf(powerMmPerMin)],
  };
}

/** The feed at which chips are `chipMm` thick, and the speed at which they are for a feed. */
const feedFor = (chipMm: number, share: number, speed: number, edges: number) =>
  (chipMm * edges * speed) / share;
const speedOf = (chipMm: number, share: number, feed: number, edges: number) =>
  (feed * share) / (edges * chipMm);

function middleMm({ chipLoadMm: { min, max } }: Cutter): number {
  return (min + max) / 2;
}

/** So that the main cut has chips in the middle of the range at the greatest feed there is, and no cut thin ones. */
function speedFor(cuts: readonly Bounded[], { cutter, machine }: Cutting): number {
  const { edges, chipLoadMm } = cutter;
  const fastest = Math.min(machine.spindle.speedMax, cutter.speedMax);
  // Where the spindle cannot turn as slowly as the cutter must, the cutter comes first.
  const slowest = Math.min(machine.spindle.speedMin, fastest);
  const [{ mostMmPerMin, thickShare }] = cuts;
  const wanted = speedOf(middleMm(cutter), thickShare, mostMmPerMin, edges);
  const thinnest = cuts.map((cut) => speedOf(chipLoadMm.min, cut.thinShare, cut.mostMmPerMin, edges));
  const thickest = cuts
    .filter(({ given }) => given !== null)
    .map((cut) => speedOf(chipLoadMm.max, cut.thickShare, cut.mostMmPerMin, edges));
  const speed = Math.min(fastest, Math.max(slowest, ...thickest, Math.min(wanted, ...thinnest)));
  const down = Math.floor(speed / 100 + 1e-9) * 100;
  const up = Math.min(fastest, down + 100);
  return down >= Math.max(slowest, ...thickest) ? down : Math.min(...thinnest) >= up ? up : speed;
}

/** The feed of a cut at a speed, and what keeps it from being more; "" where it is given. */
function feedAt(
  cut: Bounded,
  speed: number,
  speedGiven: boolean,
  { cutter, machine }: Cutting,
  units: Units,
): { feedMmPerMin: number; why: string } {
  if (cut.given !== null) return { feedMmPerMin: cut.given, why: "" };
  const { edges, chipLoadMm } = cutter;
  const { axesMmPerMin, powerMmPerMin, hardest } = cut;
  const chips = feedFor(middleMm(cutter), cut.thickShare, speed, edges);
  const most = Math.min(chips, axesMmPerMin, powerMmPerMin);
  const least = feedFor(chipLoadMm.min, cut.thinShare, speed, edges);
  const power = `a row as wide as the cutter, ${formatLength(hardest.depthMm, units)} deep in ${hardest.material.name}, takes all of the spindle's ${(machine.spindle.powerKw * machine.spindle.efficiency).toFixed(1)} kW`;
  const axes = `the axes reach ${formatFeed(axesMmPerMin, units)}`;
  const middle = `chips of ${formatLength(middleMm(cutter), units)} are the middle of the cutter's range`;
  const fastest = speed >= Math.min(machine.spindle.speedMax, cutter.speedMax);
  const why =
    powerMmPerMin <= Math.min(1.02 * chips, axesMmPerMin)
      ? power
      : axesMmPerMin <= 1.02 * chips
        ? axes
        : `${middle}${speedGiven || !fastest ? "" : ` at the greatest speed of ${cutter.speedMax <= machine.spindle.speedMax ? "cutter" : "spindle"}`}`;
  return { feedMmPerMin: roundedDown(most, least, units), why };
}

/** To 50 mm/min or 2 in/min, finer where that would make chips too thin. */
function roundedDown(most: number, least: number, units: Units): number {
  const steps = units === "mm" ? [50, 10, 1] : [50.8, 25.4, 2.54];
  const down = (step: number) => Math.floor(most / step + 1e-9) * step;
  // Where chips are thin whatever is done, the finer steps would not help.
  const sought = least <= most ? least : 0;
  return steps.map(down).find((rounded) => rounded > 0 && rounded >= sought * (1 - 1e-9)) ?? most;
}
