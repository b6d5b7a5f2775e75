// Any program as a scene: by itself, or run on the wood of a setup. Layers and rows, of which its text says
// nothing, are told from its level cuts.

import type { Machine } from "../job/job.ts";
import { trackTimes } from "../motion/clock.ts";
import { isMotion, Kind, type Track } from "../motion/track.ts";
import type { LayerReport, Plan, PlannedSetup } from "../plan.ts";
import { Spent } from "../proof/check.ts";
import { prove } from "../proof/prove.ts";
import { readProgram } from "../rs274/read.ts";
import type { Units } from "../units.ts";
import { joined, reachOf, type Scene, type SetupScene } from "./scene.ts";
import { woodScene } from "./wood-scene.ts";

/** For a program of which nothing else is known: a mid-sized gantry router. Common practice, no source. */
export const ASSUMED_MACHINE: Machine = {
  name: "an assumed gantry router",
  travelMm: { x: 2600, y: 1300, z: 180 },
  feedLimitMmPerMin: { x: 15000, y: 15000, z: 4000 },
  rapidMmPerMin: { x: 20000, y: 20000, z: 6000 },
  accelerationMmPerS2: { x: 500, y: 500, z: 250 },
  cornerDeviationMm: 0.05,
  spindle: {
    ...{ speedMin: 6000, speedMax: 24000, powerKw: 3, efficiency: 0.8, spinUpSeconds: 8 },
    outOfSquare: { x: 0, y: 0 },
  },
  nose: null,
};

/** A program by itself, timed on a machine. */
export function programScene(name: string, text: Uint8Array, machine: Machine): Scene {
  const { track, findings, units } = readProgram(text);
  const took = new Uint8Array(track.count);
  // What takes material is not known without wood: level feed moves are shown as cuts.
  for (let k = 1; k < track.count; k++) if (isLevelCut(track, k)) took[k] = 1;
  const layers = tagRows(track, took);
  const times = trackTimes(track, machine);
  const spent = new Spent();
  spent.add(track, took, times.seconds, track.count);
  const seconds = spent.seconds();
  const setup: SetupScene = {
    ...{ id: name, face: "upper", target: null, leaveMm: 0, passes: null, floorMm: null, marginMm: 0 },
    cutter: { id: "", name: "", diameterMm: 0 },
    programs: [{ file: name, seconds: seconds.total, reach: reachOf(machine, track, 0, 0) }],
    zeroMm: { x: 0, y: 0, z: 0 },
    ...{ seconds, removedLitres: { wood: 0, resin: 0 }, removedMostMm: 0 },
    layers: timed(layers, track, times.seconds),
    ...{ pieces: [], keepOuts: [], shims: [], warnings: [], proof: null, wood: null },
    findings: findings.map(({ code, line, text }) => ({ code, line, text })),
    track: joined([{ track, took, shiftMm: [0, 0] }]),
  };
  const spoken: Units = units ?? "mm";
  return {
    ...{ job: name, units: spoken, machine, setups: [setup], notes: [], cautions: [] },
    seconds: { machine: seconds.total, shop: seconds.total },
  };
}

/** A program run on the wood of a planned setup; `like` is that setup's own scene. */
export function programOnWood(
  name: string,
  text: Uint8Array,
  { job }: Plan,
  planned: PlannedSetup,
  like: SetupScene,
): SetupScene {
  const { setup, found, marginMm, floorMm, zeroMm } = planned;
  const { machine, program } = job.shop;
  const read = readProgram(text);
  const { track } = read;
  const proven = prove(track, {
    ...{ setup, machine, units: job.units, workOffset: program.workOffset },
    ...{ stocks: found, marginMm, floorMm, zeroMm },
  });
  const layers = tagRows(track, proven.took);
  const times = trackTimes(track, machine);
  const spent = new Spent();
  spent.add(track, proven.took, times.seconds, track.count);
  const seconds = spent.seconds();
  const told = read.findings.filter(({ note, code }) => !note && code !== "no-feed");
  return {
    ...like,
    id: name,
    programs: [{ file: name, seconds: seconds.total, reach: reachOf(machine, track, zeroMm.x, zeroMm.y) }],
    ...{ seconds, warnings: [], proof: proven.proof },
    layers: timed(layers, track, times.seconds),
    findings: [...told.map(({ code, line, text }) => ({ code, line, text })), ...proven.findings],
    wood: woodScene(found, floorMm, { track, zeroMm, radiusMm: setup.cutter.diameterMm / 2 }),
    track: joined([{ track, took: proven.took, shiftMm: [0, 0] }]),
  };
}

function isLevelCut({ kind, x, y, z }: Track, k: number): boolean {
  return (
    isMotion(kind[k]) &&
    kind[k] !== Kind.rapid &&
    z[k] === z[k - 1] &&
    (x[k] !== x[k - 1] || y[k] !== y[k - 1])
  );
}

/** Gives level cuts a layer, one a height in the order they come, and a row each; moves between belong to the last. */
function tagRows(track: Track, took: Uint8Array): LayerReport[] {
  const layers: { zMm: number; rows: number; cutLengthMm: number }[] = [];
  const known = new Map<number, number>();
  let layer = -1;
  let row = -1;
  for (let k = 0; k < track.count; k++) {
    if (took[k] === 1 && k > 0) {
      const level = Math.round(track.z[k] * 1000) / 1000;
      layer = known.get(level) ?? layers.length;
      // Whoever carves has no layers: beyond so many heights all the rest is one.
      if (layer === layers.length && layers.length < LAYERS_MAX) {
        known.set(level, layer);
        layers.push({ zMm: level, rows: 0, cutLengthMm: 0 });
      }
      layer = Math.min(layer, layers.length - 1);
      track.row[k] = ++row;
      layers[layer].rows++;
      layers[layer].cutLengthMm += Math.sqrt(
        (track.x[k] - track.x[k - 1]) ** 2 + (track.y[k] - track.y[k - 1]) ** 2,
      );
    }
    track.layer[k] = layer;
  }
  return layers.map((found) => ({ ...found, depthMm: 0, kind: "rough", areaMm2: 0, seconds: 0 }));
}

/** The layers with the time that each takes. */
function timed(layers: readonly LayerReport[], track: Track, seconds: Float64Array): LayerReport[] {
  const sums = new Float64Array(layers.length);
  for (let k = 0; k < track.count; k++) if (track.layer[k] >= 0) sums[track.layer[k]] += seconds[k];
  return layers.map((layer, k) => ({ ...layer, seconds: sums[k] }));
}

const LAYERS_MAX = 40;
