// What a program says of itself, and what is told of it: its header, its layers, its time and its reach.

import type { Job, Setup } from "../job/job.ts";
import { arcQuarters, arcSweepRad } from "../motion/arc.ts";
import { trackTimes } from "../motion/clock.ts";
import { Kind, type Track } from "../motion/track.ts";
import type { Lay } from "../passes/lays.ts";
import type { PassesPlan } from "../passes/passes.ts";
import type { LayerReport, PlannedProgram, PlannedSetup } from "../plan.ts";
import { type Seconds, Spent } from "../proof/check.ts";
import type { Proven } from "../proof/prove.ts";
import type { Shim } from "../survey/shims.ts";
import { formatLength } from "../units.ts";

/** One program of a setup, and what came of it. */
export interface PlannedRun {
  readonly program: PlannedProgram;
  readonly passes: PassesPlan;
  readonly seconds: Seconds;
  readonly layers: readonly LayerReport[];
  readonly proven: Proven;
}

export function header(
  job: Job,
  setup: Setup,
  passes: PassesPlan,
  lay: Lay | undefined,
  shims: readonly Shim[],
): string[] {
  const { units } = job;
  const length = (mm: number) => formatLength(mm, units);
  const zero = setup.zero.z === "bed" ? "top of the bed" : "highest place of the piece";
  return [
    `${job.name} - ${setup.id}`,
    `pieces: ${setup.pieces.map((piece) => piece.id).join(", ")} - ${setup.face} face up`,
    `cutter: ${setup.cutter.name}, diameter ${length(setup.cutter.diameterMm)}`,
    ...(lay === undefined ? [] : layLines(lay, length)),
    ...shims.map(
      ({ x, y, thicknessMm }) =>
        `shim: ${length(Math.round(thicknessMm * 100) / 100)} under X ${length(Math.round(x))} Y ${length(Math.round(y))} of the job`,
    ),
    `zero: X ${length(setup.zero.xMm)} Y ${length(setup.zero.yMm)} of the job, Z on the ${zero}`,
    `floor: ${length(passes.floorMm)} above the bed, Z ${length(passes.floorMm - passes.zeroMm.z)} here`,
  ];
}

function layLines({ shiftMm, fromX, toX }: Lay, length: (mm: number) => string): string[] {
  const push =
    shiftMm === 0 ? "as first laid" : `wood pushed ${length(-shiftMm)} towards -X from its first lay`;
  return [`lay: ${push}; clears it from X ${length(fromX)} to ${length(toX)} of the job`];
}

export function layerNotes(job: Job, track: Track, passes: PassesPlan): { entry: number; text: string }[] {
  const { layers } = passes;
  const notes: { entry: number; text: string }[] = [];
  let before = -1;
  for (let k = 0; k < track.count; k++) {
    const index = track.layer[k];
    if (index === before || index < 0) continue;
    before = index;
    const { layer } = layers[index];
    const z = formatLength(layer.zMm - passes.zeroMm.z, job.units);
    const kind = layer.kind === "finish" ? ", finish" : "";
    notes.push({ entry: k, text: `layer ${index + 1} of ${layers.length}, Z ${z}${kind}` });
  }
  return notes;
}

/** Copies layers and rows from the planned track to the one that was read, by line. */
export function tagAlike(read: Track, planned: Track): void {
  let from = 0;
  for (let k = 0; k < read.count; k++) {
    while (from < planned.count && planned.line[from] < read.line[k]) from++;
    if (from >= planned.count || planned.line[from] !== read.line[k]) continue;
    read.layer[k] = planned.layer[from];
    read.row[k] = planned.row[from];
  }
}

export function report(
  track: Track,
  took: Uint8Array,
  passes: PassesPlan,
  job: Job,
): { seconds: Seconds; layers: LayerReport[] } {
  const times = trackTimes(track, job.shop.machine);
  const layerSeconds = new Float64Array(passes.layers.length);
  const lengths = new Float64Array(passes.layers.length);
  for (let k = 1; k < track.count; k++) {
    const layer = track.layer[k];
    if (layer < 0) continue;
    layerSeconds[layer] += times.seconds[k];
    if (took[k] === 0) continue;
    lengths[layer] += lengthOf(track, k);
  }
  return {
    seconds: secondsOf(track, took, times.seconds),
    layers: passes.layers.map(({ layer, rows, areaMm2 }, k) => ({
      zMm: layer.zMm,
      depthMm: layer.topMm - layer.zMm,
      kind: layer.kind,
      rows,
      cutLengthMm: lengths[k],
      areaMm2,
      seconds: layerSeconds[k],
    })),
  };
}

function secondsOf(track: Track, took: Uint8Array, times: Float64Array): Seconds {
  const spent = new Spent();
  spent.add(track, took, times, track.count);
  return spent.seconds();
}

/** Over all programs, each in its own coordinates. */
export function extentOf(tracks: readonly Track[]): PlannedSetup["extentMm"] {
  const low: [number, number, number] = [Infinity, Infinity, Infinity];
  const high: [number, number, number] = [-Infinity, -Infinity, -Infinity];
  const include = (axis: number, value: number) => {
    if (value < low[axis]) low[axis] = value;
    if (value > high[axis]) high[axis] = value;
  };
  for (const track of tracks)
    for (let k = 0; k < track.count; k++) {
      include(0, track.x[k]);
      include(1, track.y[k]);
      include(2, track.z[k]);
      if (isArc(track, k)) for (const [n, value] of arcTips(track, k).entries()) include(n % 2, value);
    }
  return { min: low, max: high };
}

function isArc({ kind }: Track, k: number): boolean {
  return kind[k] === Kind.arcClockwise || kind[k] === Kind.arcCounter;
}

function arcTips({ kind, x, y, centreX, centreY }: Track, k: number): number[] {
  return arcQuarters(
    ...([x[k - 1], y[k - 1], x[k], y[k], centreX[k], centreY[k]] as const),
    kind[k] === Kind.arcClockwise,
  );
}

function lengthOf(track: Track, k: number): number {
  const { kind, x, y, z, centreX, centreY } = track;
  const dz = z[k] - z[k - 1];
  let flat = Math.sqrt((x[k] - x[k - 1]) ** 2 + (y[k] - y[k - 1]) ** 2);
  if (isArc(track, k)) {
    const radius = Math.sqrt((x[k] - centreX[k]) ** 2 + (y[k] - centreY[k]) ** 2);
    const clockwise = kind[k] === Kind.arcClockwise;
    flat = radius * arcSweepRad(x[k - 1], y[k - 1], x[k], y[k], centreX[k], centreY[k], clockwise);
  }
  return Math.sqrt(flat * flat + dz * dz);
}

export function sumOf(seconds: readonly Seconds[]): Seconds {
  const sum = (key: keyof Seconds) => seconds.reduce((total, one) => total + one[key], 0);
  return {
    total: sum("total"),
    cutting: sum("cutting"),
    linking: sum("linking"),
    rapid: sum("rapid"),
    spindle: sum("spindle"),
  };
}
