// A quote in words: what is done, what the figures assume, what makes them spread. Plain sentences; whoever
// prints them escapes them.

import type { Job } from "../job/job.ts";
import { formatFeed, formatLength } from "../units.ts";
import type { MachineRatio } from "./actuals.ts";
import type { Driver } from "./draws.ts";
import { isMeasured, isSawn } from "./faces.ts";
import type { Quote, Range } from "./quote.ts";

const DRIVER_WORDS: Readonly<Record<Driver, string>> = {
  bow: "bow of the slabs",
  cup: "cup of the slabs",
  twist: "twist of the slabs",
  wedge: "wedge of the slabs",
  sawMarks: "saw marks",
  shell: "thickness of the resin's shell",
  pour: "cup of the cast piece",
  machine: "how the machine keeps to its plan",
  hands: "people's minutes",
};

/** What makes the hours spread: each with its share in whole percent, and what is missing to all of it. */
export function driverParts(drivers: Quote["drivers"]): string[] {
  const parts = drivers.map(({ name, share }) => ({
    what: DRIVER_WORDS[name],
    percent: Math.round(100 * share),
  }));
  const rest = 100 - parts.reduce((sum, { percent }) => sum + percent, 0);
  if (parts.length > 0 && rest > 0) parts.push({ what: "the rest together", percent: rest });
  return parts.map(({ what, percent }) => `${what} ${percent} %`);
}

/** `0 h 45 min`, to the minute. */
export function hoursText(hours: number): string {
  const minutes = Math.round(60 * hours);
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

/** What is done, one line a setup. */
export function stepsOf({ setups, units }: Job): string[] {
  return setups.map(({ pieces, face, target, leaveMm }) => {
    const names = pieces.map(({ id }) => id).join(", ");
    const length = (mm: number) => formatLength(mm, units);
    const goal = {
      thickness: () => `cut flat to a thickness of ${length((target as { mm: number }).mm)}`,
      even: () => `cut flat, evenly with the other face towards ${length((target as { mm: number }).mm)}`,
      depth: () => `cut flat ${length((target as { mm: number }).mm)} below its highest place`,
      cleanUp: () =>
        `skimmed until ${Math.round(100 * (target as { share: number }).share)} % of it is clean`,
    }[target.kind]();
    return `${names}: ${face} face ${goal}${leaveMm > 0 ? `, ${length(leaveMm)} left for sanding` : ""}`;
  });
}

/** What the figures rest on, for the client as for the shop. */
export function assumptionsOf(job: Job, ratio: MachineRatio, pushes: number): string[] {
  const { warp } = job.shop.quoting;
  const perLength = (share: number) => formatLength((job.units === "mm" ? 1000 : 304.8) * share, job.units);
  const each = job.units === "mm" ? "metre" : "foot";
  const unknown = job.pieces.filter((piece) => !isMeasured(piece, "upper"));
  const slabs = unknown.filter(isSawn);
  return [
    ...(slabs.length > 0
      ? [
          `Slabs that are not measured yet (${slabs.map(({ id }) => id).join(", ")}) come about as flat as usual: bow ${perLength(warp.bow)} and twist ${perLength(warp.twist)} for each ${each} of length, cup ${perLength(warp.cup)} for each ${each} of width, saw marks ${formatLength(warp.sawMarksMm, job.units)}. Much worse ones take longer.`,
        ]
      : []),
    ...(unknown.some((piece) => !isSawn(piece)) ? ["Cast pieces come out of their mold nearly level."] : []),
    ...cuttingTexts(job),
    ...(pushes === 0 ? [] : [pushText(job, pushes)]),
    ratio.runs === 0
      ? "The machine takes what is planned, give or take a tenth: no run that counts has been recorded yet."
      : `The machine takes ${ratio.expected.toFixed(2)} times what is planned, give or take ${ratio.expectedSpread.toFixed(2)}, by ${ratio.runs} recorded ${ratio.runs === 1 ? "run" : "runs"}.`,
    "Drying, casting and curing, sanding, finish, material, transport and tax are not in it.",
  ];
}

function pushText({ shop: { machine, handMinutes }, units }: Job, pushes: number): string {
  return (
    `What is longer than the machine's travel of ${formatLength(machine.travelMm.x, units)} is cut in lays and pushed along ` +
    `between them, ${pushes === 1 ? "once" : `${pushes} times`} in all, ${handMinutes.push} minutes each time.`
  );
}

/** With what and how fast: one sentence for all setups, or one for those that are cut alike, apart from the feed in resin. */
function cuttingTexts({ setups, units }: Job): string[] {
  const alike = new Map<string, { ids: string[]; resin: string }>();
  for (const { id, cutter, passes } of setups) {
    const text =
      `with ${cutter.name} in layers of at most ${formatLength(passes.depthMm, units)}, rows ` +
      `${formatLength(passes.stepoverShare * cutter.diameterMm, units)} apart, at ${passes.speed} rev/min and ` +
      formatFeed(passes.feedMmPerMin, units);
    const found = alike.get(text) ?? { ids: [], resin: "" };
    found.ids.push(id);
    if (passes.resinFeedMmPerMin !== null)
      found.resin = ` (${formatFeed(passes.resinFeedMmPerMin, units)} in resin)`;
    alike.set(text, found);
  }
  return [...alike].map(
    ([text, { ids, resin }]) => `${alike.size === 1 ? "Cut" : `${ids.join(", ")}: cut`} ${text}${resin}.`,
  );
}

/** How many of the invented tables will not come out clean, and where; "" where none is. */
export function missedText({ missedShare, missedBy, faces }: Quote): string {
  const missed = Math.round(missedShare * faces);
  if (missed === 0) return "";
  return (
    `In ${missed} of the ${faces} invented tables (${Math.round(100 * missedShare)} %) more than a hundredth of a face stays rough ` +
    `or under resin after setup ${missedBy.slice(0, SETUPS_TOLD).join(", ")}: the wood is too thin, or too far off flat, for the thickness it asks for.`
  );
}

const SETUPS_TOLD = 3;

/** What the readings are worth; "" where the spread did not become narrower. */
export function narrowedText(before: Range, after: Range): string {
  const [was, is] = [before.high - before.low, after.high - after.low];
  if (!(was > 0) || is >= was) return "";
  return (
    `Without its readings the job would be quoted at ${hoursText(before.low)} to ${hoursText(before.high)}: ` +
    `they make the spread ${Math.round(100 * (1 - is / was))} % narrower.`
  );
}
