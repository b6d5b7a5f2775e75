// A program that touches the upper faces of the first setup's pieces with a probe (NISTIR 6556 section 3.5.9.1,
// G38.2): first the bare bed, to see that zero is right, then a grid over the wood. Program coordinates are those
// of the first setup, Z zero on the bed. Read back and checked before it is given away. Millimetres.

import { InputError, PlanError } from "../errors.ts";
import type { Job, Probe } from "../job/job.ts";
import { Kind, Track } from "../motion/track.ts";
import { grainOf } from "../passes/angle.ts";
import { areaOf, isEmpty, type Region } from "../region/region.ts";
import { writeProgram } from "../rs274/write.ts";
import { formatLength, formatPoint } from "../units.ts";
import { checkProbing, type ProbeTask } from "./check.ts";
import {
  approachHeight,
  bedPlace,
  edgeDistance,
  groundOf,
  keepOutDistance,
  knownHeights,
  type Place,
  type Probing,
  travelHeight,
} from "./ground.ts";
import { gridStations, thereAndBack } from "./places.ts";

export interface ProbeProgram extends ProbeTask {
  readonly text: Uint8Array;
  readonly spacingMm: number;
  /** About how long it takes; the stop is not counted. */
  readonly seconds: number;
}

/** A grid of this many cells has about so many touches and, with its edges, half as many more. */
const CELLS = 64;
const TOUCHES_MAX_UNASKED = 150;
const TOUCHES_MAX = 5000;

/** The probing program of a job's first setup, with a spacing of our choice where none is given. Throws PlanError, InputError. */
export function probeProgram(job: Job, probe: Probe, spacingMm: number | null): ProbeProgram {
  const probing = probingOf(job, probe);
  const { places, spacing } = gridOf(job, probing, spacingMm);
  const task = { ...probing, places, bed: bedPlace(probing, places), travelMm: travelHeight(probing) };
  const text = written(job, task);
  const [finding] = checkProbing(text, task, job.units);
  if (finding) throw new PlanError(finding.code, task.setup.id, finding.text, finding.line);
  return { ...task, text, spacingMm: spacing, seconds: secondsOf(task) };
}

function probingOf(job: Job, probe: Probe): Probing {
  const [setup] = job.setups;
  let [lowestMm, highestMm] = [Number.POSITIVE_INFINITY, 0];
  for (const piece of setup.pieces) {
    const heights = knownHeights(piece);
    if (heights.length === 0) {
      const text = `piece "${piece.id}" has neither readings nor a thickness, so nobody knows how high the probe must travel: give its "thickness"`;
      throw new PlanError("no-height", setup.id, text);
    }
    for (const height of heights) {
      lowestMm = Math.min(lowestMm, height);
      highestMm = Math.max(highestMm, height);
    }
  }
  return { setup, machine: job.shop.machine, probe, lowestMm, highestMm };
}

function gridOf(job: Job, probing: Probing, spacingMm: number | null) {
  const { setup, probe } = probing;
  const keepOuts = setup.keepOuts.map((keepOut) => ({
    keepOut,
    distanceMm: keepOutDistance(keepOut, probing),
  }));
  const grounds = setup.pieces.map((piece) => {
    const ground = groundOf(piece, edgeDistance(probe.radiusMm), keepOuts);
    if (!isEmpty(ground)) return { ground, grainRad: grainOf(piece) };
    const least = formatLength(edgeDistance(probe.radiusMm), job.units);
    const text = `piece "${piece.id}" has no place that is ${least} inside its outline and clear of the keep-outs`;
    throw new PlanError("no-place", setup.id, text);
  });
  const placesAt = (spacing: number) =>
    grounds.flatMap(({ ground, grainRad }) => thereAndBack(gridStations(ground, grainRad, spacing)));
  const areaMm2 = grounds.reduce((sum, { ground }) => sum + areaOf(ground), 0);
  if (spacingMm !== null) {
    checkSpacing(spacingMm, grounds, areaMm2, job);
    return { places: placesAt(spacingMm), spacing: spacingMm };
  }
  let spacing = Math.sqrt(areaMm2 / CELLS);
  let places = placesAt(spacing);
  while (places.length > TOUCHES_MAX_UNASKED) {
    spacing *= 1.1;
    const fewer = placesAt(spacing);
    // Of many pieces each has its few places, whatever the spacing.
    if (fewer.length === places.length && spacing ** 2 > areaMm2) break;
    places = fewer;
  }
  return { places, spacing };
}

/** So fine a grid is a slip of the keyboard. */
function checkSpacing(spacingMm: number, grounds: readonly { ground: Region }[], areaMm2: number, job: Job) {
  const touches = areaMm2 / spacingMm ** 2;
  if (touches <= TOUCHES_MAX) return;
  const least = Math.sqrt(areaMm2 / TOUCHES_MAX);
  const what = grounds.length === 1 ? "the piece" : "these pieces";
  const text = `found ${formatLength(spacingMm, job.units)}, which makes about ${Math.round(touches)} touches on ${what}; wanted at least ${formatLength(Math.ceil(least), job.units)}`;
  throw new InputError([{ file: "command line", place: "--spacing", line: 0, column: 0, text }]);
}

function written(job: Job, task: ProbeTask): Uint8Array {
  const { setup, probe, places, bed, travelMm } = task;
  const { units, shop } = job;
  const approachMm = approachHeight(task);
  const [zeroX, zeroY] = [setup.zero.xMm, setup.zero.yMm];
  const track = new Track(64 + 4 * places.length);
  const notes: { entry: number; text: string }[] = [];
  const lines: { entry: number; text: string }[] = [];
  const touch = ({ x, y }: Place) => {
    track.push(Kind.rapid, x - zeroX, y - zeroY, travelMm);
    track.push(Kind.rapid, x - zeroX, y - zeroY, approachMm);
    track.push(Kind.touch, x - zeroX, y - zeroY, 0, probe.feedMmPerMin);
  };
  const lift = ({ x, y }: Place) => track.push(Kind.rapid, x - zeroX, y - zeroY, travelMm);

  track.push(Kind.spindle, Number.NaN, Number.NaN, Number.NaN, 0);
  track.push(Kind.rapid, Number.NaN, Number.NaN, travelMm);
  if (bed !== null) {
    notes.push({ entry: track.count, text: "First touch: the bare bed beside the wood, not recorded" });
    touch(bed);
    if (shop.program.comments) lines.push({ entry: track.count, text: `(MSG, ${bedMessage(units)})` });
    track.push(Kind.stop, Number.NaN, Number.NaN, Number.NaN);
    lift(bed);
  }
  notes.push({ entry: track.count, text: `${places.length} touches on the wood` });
  for (const text of probe.logStart) lines.push({ entry: track.count, text });
  for (const place of places) {
    touch(place);
    lift(place);
  }
  for (const text of probe.logEnd) lines.push({ entry: track.count, text });
  track.push(Kind.end, Number.NaN, Number.NaN, Number.NaN);

  const names = setup.pieces.map(({ id }) => id).join(", ");
  const header = [
    `${job.name}: touches the upper face of ${names}`,
    `X0 Y0 where the job has ${formatPoint(zeroX, zeroY, units)}, Z0 on top of the bed, set with the probe itself`,
    `Touch probe of ${formatLength(2 * probe.radiusMm, units)} diameter; the spindle must not turn`,
    `Travels at Z ${formatLength(travelMm, units)}`,
  ];
  // The probe is put in by hand, whatever the shop does with cutters.
  const style = { ...shop.program, toolChange: "none" } as const;
  return writeProgram(track, { units, style, header, notes, lines }).text;
}

function bedMessage(units: "mm" | "in"): string {
  const slack = units === "mm" ? "0.1 mm" : "0.004 in";
  return `Probe on the bed: Z must read 0 within ${slack}. If not, stop and set Z zero anew`;
}

/** From speeds alone, without acceleration. */
function secondsOf(task: ProbeTask): number {
  const { machine, probe, places, travelMm, highestMm } = task;
  const approachMm = approachHeight(task);
  const { x: rapidX, y: rapidY, z: rapidZ } = machine.rapidMmPerMin;
  let minutes = 0;
  places.forEach(({ x, y }, k) => {
    const from = places[Math.max(0, k - 1)];
    minutes += Math.max(Math.abs(x - from.x) / rapidX, Math.abs(y - from.y) / rapidY);
    minutes += (approachMm - highestMm) / probe.feedMmPerMin;
    minutes += (2 * travelMm - approachMm - highestMm) / rapidZ;
  });
  return 60 * minutes;
}
