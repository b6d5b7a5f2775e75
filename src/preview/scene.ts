// What a screen draws of a plan: for each setup the face before and after as fields of heights, what of it
// is wood and what was cleaned, the track, and a side section. Plain objects and typed arrays, made to be
// cloned, packed and sent; nothing in here knows how it will look. Millimetres above the bed, seconds, litres.

import type { Machine, Passes, Ring, Target } from "../job/job.ts";
import { Track } from "../motion/track.ts";
import type { LayerReport, Plan, PlannedPiece, PlannedSetup, Proof, Seconds, Warning } from "../plan.ts";
import type { Finding } from "../proof/prove.ts";
import type { Grid } from "../survey/field.ts";
import type { Stock } from "../survey/stock.ts";
import type { Units } from "../units.ts";
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
  readonly programs: readonly { readonly file: string; readonly seconds: number }[];
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
  readonly shims: readonly { readonly x: number; readonly y: number; readonly thicknessMm: number }[];
  /** The ground that the cutter's centre can reach, were the program in its middle; frame coordinates. */
  readonly reach: {
    readonly minX: number;
    readonly minY: number;
    readonly maxX: number;
    readonly maxY: number;
  };
  readonly proof: Proof | null;
  /** What is wrong with a program that somebody else wrote. */
  readonly findings: readonly Finding[];
  readonly warnings: readonly Warning[];
  readonly wood: WoodScene | null;
  readonly track: TrackColumns;
}

export interface PieceScene extends Omit<PlannedPiece, "rough"> {
  readonly outline: Ring;
  readonly section: Section;
}

/** The valid part of a track's columns; `took` is 1 for each entry that takes material. */
export interface TrackColumns
  extends Pick<
    Track,
    "kind" | "x" | "y" | "z" | "value" | "centreX" | "centreY" | "line" | "layer" | "row" | "count"
  > {
  readonly took: Uint8Array;
}

/** All that is drawn of a plan. */
export function sceneOf(plan: Plan): Scene {
  const { job, setups, seconds, notes, cautions } = plan;
  const lays = new Lays();
  return {
    ...{ job: job.name, units: job.units, machine: job.shop.machine, seconds, notes, cautions },
    setups: setups.map((planned) => plannedScene(planned, job.shop.machine, lays)),
  };
}

function plannedScene(planned: PlannedSetup, machine: Machine, lays: Lays): SetupScene {
  const { setup, found, zeroMm, floorMm, extentMm } = planned;
  const left = planned.left();
  const wood = woodScene(found, left, floorMm);
  return {
    ...setupPart(planned),
    programs: planned.programs.map(({ file, seconds }) => ({ file, seconds })),
    pieces: planned.pieces.map(({ rough: _, ...piece }, k) => ({
      ...piece,
      outline: found[k].piece.outline,
      section: sectionOf(found[k], wood, lays.lay(found[k], left[k])),
    })),
    keepOuts: setup.keepOuts,
    shims: [],
    reach: reachOf(
      machine,
      [extentMm.min[0] + zeroMm.x, extentMm.max[0] + zeroMm.x],
      [extentMm.min[1] + zeroMm.y, extentMm.max[1] + zeroMm.y],
    ),
    findings: [],
    wood,
    track: trackColumns(planned.track, planned.took),
  };
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
export function reachOf(
  { travelMm }: Machine,
  [lowX, highX]: readonly [number, number],
  [lowY, highY]: readonly [number, number],
): SetupScene["reach"] {
  const [x, y] = [(lowX + highX) / 2, (lowY + highY) / 2];
  return {
    minX: x - travelMm.x / 2,
    maxX: x + travelMm.x / 2,
    minY: y - travelMm.y / 2,
    maxY: y + travelMm.y / 2,
  };
}

export function trackColumns(track: Track, took: Uint8Array): TrackColumns {
  const { count } = track;
  return {
    count,
    kind: track.kind.slice(0, count),
    x: track.x.slice(0, count),
    y: track.y.slice(0, count),
    z: track.z.slice(0, count),
    value: track.value.slice(0, count),
    centreX: track.centreX.slice(0, count),
    centreY: track.centreY.slice(0, count),
    line: track.line.slice(0, count),
    layer: track.layer.slice(0, count),
    row: track.row.slice(0, count),
    took: took.slice(0, count),
  };
}

/** Columns as the track that they came from. */
export function trackOf(columns: TrackColumns): Track {
  const { took: _, ...parts } = columns;
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
  private readonly known = new Map<string, { readonly lay: Lay; readonly left: Stock }>();

  lay(found: Stock, left: Stock): Lay {
    const before = this.known.get(found.piece.id);
    let lay: Lay = before?.lay ?? { sign: 1, offsetMm: 0, mirrorX: false, mirrorY: false };
    if (before !== undefined && before.left.faceUp !== found.faceUp) {
      const { sign, offsetMm, mirrorX, mirrorY } = lay;
      lay = {
        sign: sign === 1 ? -1 : 1,
        offsetMm: sign * before.left.highestMm + offsetMm,
        mirrorX: mirrorX !== (found.turned === "y"),
        mirrorY: mirrorY !== (found.turned === "x"),
      };
    }
    this.known.set(found.piece.id, { lay, left });
    return lay;
  }
}

export type { Grid, Section, WoodScene };
