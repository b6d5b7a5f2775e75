// What a screen draws of a plan: for each setup the face before and after as fields of heights, what of it
// is wood and what was cleaned, the track, and a side section. Plain objects and typed arrays, made to be
// cloned, packed and sent; nothing in here knows how it will look. Millimetres above the bed, seconds, litres.

import type { KeepOut, Machine, Passes, Ring, Target } from "../job/job.ts";
import { type Kind, Track } from "../motion/track.ts";
import { moved } from "../passes/lays.ts";
import type {
  LayerReport,
  Plan,
  PlannedPiece,
  PlannedProgram,
  PlannedSetup,
  Proof,
  Seconds,
  Warning,
} from "../plan.ts";
import type { Finding } from "../proof/prove.ts";
import type { Box } from "../survey/field.ts";
import type { Shim } from "../survey/shims.ts";
import type { Stock } from "../survey/stock.ts";
import type { Units } from "../units.ts";
import type { Motion } from "./cut.ts";
import { type Section, sectionOf } from "./section.ts";
import { type WoodScene, woodScene } from "./wood-scene.ts";

export interface Scene {
  readonly job: string;
  readonly units: Units;
  readonly machine: Machine;
  readonly setups: readonly SetupScene[];
  readonly seconds: { readonly machine: number; readonly shop: number };
  readonly notes: readonly string[];
  readonly cautions: readonly string[];
}

export interface SetupScene {
  readonly id: string;
  readonly face: "upper" | "under";
  readonly cutter: { readonly id: string; readonly name: string; readonly diameterMm: number };
  readonly programs: readonly ProgramScene[];
  /** Null for a program that belongs to no setup. */
  readonly floorMm: number | null;
  /** Where the program's zero lies in the frame. */
  readonly zeroMm: { readonly x: number; readonly y: number; readonly z: number };
  readonly marginMm: number;
  readonly target: Target | null;
  readonly leaveMm: number;
  readonly passes: Passes | null;
  readonly seconds: Seconds;
  readonly layers: readonly LayerReport[];
  readonly removedLitres: { readonly wood: number; readonly resin: number };
  readonly removedMostMm: number;
  readonly pieces: readonly PieceScene[];
  readonly keepOuts: readonly { readonly name: string; readonly outline: Ring; readonly heightMm: number }[];
  /** Under pieces that lie here first. */
  readonly shims: readonly Shim[];
  readonly proof: Proof | null;
  /** What is wrong with a program that somebody else wrote. */
  readonly findings: readonly Finding[];
  readonly warnings: readonly Warning[];
  readonly wood: WoodScene | null;
  readonly track: TrackColumns;
}

interface ProgramScene {
  readonly file: string;
  readonly seconds: number;
  /** The ground that the cutter's centre can reach, were the program in its middle; as the piece lies first. */
  readonly reach: Box;
}

export interface PieceScene
  extends Pick<
    PlannedPiece,
    "id" | "cleanUp" | "resinCleanUp" | "thinnestMm" | "thickestMm" | "cleanThicknessMm"
  > {
  /** From the lowest to the highest measured place, as the setup finds it. */
  readonly foundMm: number;
  readonly outline: Ring;
  readonly section: Section;
}

/**
 * The tracks of a setup's programs one after the other, each as if the piece still lay where it lay first; `took` is
 * 1 for each entry that takes material, `program` the index of the program.
 */
export interface TrackColumns
  extends Pick<
    Track,
    "kind" | "x" | "y" | "z" | "value" | "centreX" | "centreY" | "line" | "layer" | "row" | "count"
  > {
  readonly took: Uint8Array;
  readonly program: Uint8Array;
}

/** All that is drawn of a plan. */
export function sceneOf(plan: Plan): Scene {
  const { job, setups, seats, seconds, notes, cautions } = plan;
  const lays = new Lays();
  const isFirst = (id: string, k: number) =>
    !setups.slice(0, k).some(({ found }) => found.some(({ piece }) => piece.id === id));
  return {
    ...{ job: job.name, units: job.units, machine: job.shop.machine, seconds, notes, cautions },
    setups: setups.map((planned, k) => {
      const laid = planned.found.filter(({ piece }) => isFirst(piece.id, k));
      const shims = laid.flatMap(({ piece }) => seats.get(piece.id)?.shims ?? []);
      return plannedScene(planned, job.shop.machine, lays, shims);
    }),
  };
}

function plannedScene(
  planned: PlannedSetup,
  machine: Machine,
  lays: Lays,
  shims: readonly Shim[],
): SetupScene {
  const { setup, found, zeroMm, floorMm, programs } = planned;
  const track = joined(programs);
  const wood = woodScene(found, floorMm, { track, zeroMm, radiusMm: setup.cutter.diameterMm / 2 });
  return {
    ...setupPart(planned),
    programs: programs.map(({ file, seconds, track, shiftMm }) => ({
      ...{ file, seconds },
      reach: reachOf(machine, track, zeroMm.x - shiftMm[0], zeroMm.y - shiftMm[1]),
    })),
    pieces: planned.pieces.map((piece, k) => ({
      ...{ id: piece.id, cleanUp: piece.cleanUp, resinCleanUp: piece.resinCleanUp },
      ...{ thinnestMm: piece.thinnestMm, thickestMm: piece.thickestMm },
      cleanThicknessMm: piece.cleanThicknessMm,
      foundMm: found[k].highestMm - found[k].lowestMm,
      outline: found[k].piece.outline,
      section: sectionOf(found[k], wood, lays.of(found[k])),
    })),
    keepOuts: setup.keepOuts.flatMap((keepOut) => asFirstLaid(keepOut, programs)),
    findings: [],
    ...{ shims, wood, track },
  };
}

/** Where a keep-out stands as the wood lies first: one for each lay that it is named for. */
function asFirstLaid(keepOut: KeepOut, programs: readonly PlannedProgram[]): KeepOut[] {
  if (keepOut.lays === null || programs.length === 1) return [keepOut];
  return keepOut.lays.flatMap((lay) =>
    programs[lay - 1] ? [moved(keepOut, -programs[lay - 1].shiftMm[0])] : [],
  );
}

function setupPart(planned: PlannedSetup) {
  const { setup, floorMm, zeroMm, marginMm, seconds, layers, removedLitres, removedMostMm, proof, warnings } =
    planned;
  const { id, face, cutter, target, leaveMm, passes } = setup;
  return {
    ...{ id, face, target, leaveMm, passes, floorMm, zeroMm, marginMm, seconds, layers },
    ...{ removedLitres, removedMostMm, proof, warnings },
    cutter: { id: cutter.id, name: cutter.name, diameterMm: cutter.diameterMm },
  };
}

/** The travel laid around what a program needs of it: where the spoilboard lies in the machine is not known. */
export function reachOf({ travelMm }: Machine, { x, y, count }: Track, atX: number, atY: number): Box {
  const [middleX, middleY] = [middleOf(x, count) + atX, middleOf(y, count) + atY];
  return {
    minX: middleX - travelMm.x / 2,
    maxX: middleX + travelMm.x / 2,
    minY: middleY - travelMm.y / 2,
    maxY: middleY + travelMm.y / 2,
  };
}

function middleOf(column: Float64Array, count: number): number {
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (let k = 0; k < count; k++) {
    if (column[k] < low) low = column[k];
    if (column[k] > high) high = column[k];
  }
  return low <= high ? (low + high) / 2 : 0;
}

/** What a program's part in the columns is made from. */
type Joinable = Pick<PlannedProgram, "track" | "took" | "shiftMm">;

/** The programs' tracks as one, layers counted on. */
export function joined(programs: readonly Joinable[]): TrackColumns {
  const count = programs.reduce((sum, { track }) => sum + track.count, 0);
  const all = new Track(count);
  const took = new Uint8Array(count);
  const program = new Uint8Array(count);
  let layers = 0;
  programs.forEach(({ track, took: takes, shiftMm: [shiftX, shiftY] }, index) => {
    let last = -1;
    for (let k = 0; k < track.count; k++) {
      const at = all.push(track.kind[k] as Kind, track.x[k] - shiftX, track.y[k] - shiftY, track.z[k]);
      all.value[at] = track.value[k];
      all.centreX[at] = track.centreX[k] - shiftX;
      all.centreY[at] = track.centreY[k] - shiftY;
      all.line[at] = track.line[k];
      all.row[at] = track.row[k];
      all.layer[at] = track.layer[k] < 0 ? -1 : track.layer[k] + layers;
      last = Math.max(last, track.layer[k]);
      took[at] = takes[k];
      program[at] = Math.min(255, index);
    }
    layers += last + 1;
  });
  const { kind, x, y, z, value, centreX, centreY, line, layer, row } = all;
  return { count, kind, x, y, z, value, centreX, centreY, line, layer, row, took, program };
}

/** Columns as the track that they came from. */
export function trackOf(columns: TrackColumns): Track {
  const { took: _, program: __, ...parts } = columns;
  return Object.assign(new Track(0), parts);
}

/** How a piece lies now, seen from how it was first laid: a height h now was `sign` h + `offsetMm` then. */
export interface Lay {
  readonly sign: 1 | -1;
  readonly offsetMm: number;
  /** Whether X, or Y, runs the other way round. */
  readonly mirrorX: boolean;
  readonly mirrorY: boolean;
}

/** Follows pieces through their turns, so that all their sections can be drawn as they were first laid. */
class Lays {
  private readonly known = new Map<string, { readonly lay: Lay; readonly found: Stock }>();

  of(found: Stock): Lay {
    const before = this.known.get(found.piece.id);
    let lay: Lay = before?.lay ?? { sign: 1, offsetMm: 0, mirrorX: false, mirrorY: false };
    if (before !== undefined && before.found.faceUp !== found.faceUp) {
      const { sign, offsetMm, mirrorX, mirrorY } = lay;
      // What was the lowest place is the highest now: their sum is the height that turned to nothing.
      const heightMm = found.highestMm + before.found.lowestMm;
      lay = {
        sign: sign === 1 ? -1 : 1,
        offsetMm: sign * heightMm + offsetMm,
        mirrorX: mirrorX !== (found.turned === "y"),
        mirrorY: mirrorY !== (found.turned === "x"),
      };
    }
    this.known.set(found.piece.id, { lay, found });
    return lay;
  }
}

/** A scene's track in its frame. */
export function motionOf({ track, zeroMm, cutter }: SetupScene): Motion {
  return { track, zeroMm, radiusMm: cutter.diameterMm / 2 };
}
