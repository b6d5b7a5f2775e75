// A job from a handful of sizes, as a maker would write it: slabs skimmed on their faces and, where there is a
// shell, cast beside each other with a river of resin between them and cut out of it to the finished thickness.
// Millimetres.

import type { Cutter, Job, Piece, Ring, Setup, Shop, Target } from "../job/job.ts";
import { type Settings, withSettings } from "./settings.ts";

export interface Sizes {
  readonly lengthMm: number;
  readonly widthMm: number;
  /** The slabs as they were sawn. */
  readonly thicknessMm: number;
  readonly finishedMm: number;
  readonly slabs: number;
  /** Resin over the wood on each face that is cut; 0: the slabs are not cast. */
  readonly shellMm: number;
  readonly species: string;
  readonly faces: "both" | "upper";
  readonly cutter: Cutter;
}

/** Before a pour so much of a slab's face is cleaned: common practice, no source. */
const SKIM_SHARE = 0.9;

/** The defaults of the job file. */
const DEPTH_MM = 2;
const STEPOVER_SHARE = 0.6;

/** What a job from sizes cuts with, where nothing else is said. */
export function usualSettings(cutter: Cutter): Settings {
  return { cutter, depthMm: Math.min(DEPTH_MM, cutter.depthMaxMm), stepoverShare: STEPOVER_SHARE };
}

export function jobFromSizes(sizes: Sizes, shop: Shop, shopFile: string, name: string): Job {
  const cast = sizes.shellMm > 0;
  const riverShare = cast && sizes.slabs > 1 ? shop.quoting.riverShare : 0;
  const slabWidth = (sizes.widthMm * (1 - riverShare)) / sizes.slabs;
  const slabs = Array.from({ length: sizes.slabs }, (_, k) =>
    pieceOf(`slab ${k + 1}`, sizes.lengthMm, slabWidth, sizes),
  );
  const setups = slabs.flatMap((slab) => setupsOf(slab, cast ? "skim" : "finish", sizes));
  if (cast) {
    const top = castOf(slabs, setups, slabWidth, sizes);
    setups.push(...setupsOf(top, "finish", sizes));
    slabs.push(top);
  }
  const job = { name, units: shop.units, shop, shopFile, pieces: slabs, setups, notes: [] };
  return withSettings(job, usualSettings(sizes.cutter));
}

function pieceOf(id: string, lengthMm: number, widthMm: number, { thicknessMm, species }: Sizes): Piece {
  return {
    ...{ id, material: species, outline: rectangle(lengthMm, widthMm), grainRad: 0, thicknessMm },
    ...{ upper: null, under: null, calipers: null, wood: null, moisture: null },
    shellMm: { upper: 0, under: 0 },
    madeOf: [],
  };
}

function castOf(slabs: readonly Piece[], skims: readonly Setup[], slabWidth: number, sizes: Sizes): Piece {
  const { lengthMm, widthMm, shellMm, faces } = sizes;
  const gap = slabs.length > 1 ? (widthMm - slabs.length * slabWidth) / (slabs.length - 1) : 0;
  return {
    ...pieceOf("top", lengthMm, widthMm, sizes),
    thicknessMm: null,
    shellMm: { upper: shellMm, under: faces === "both" ? shellMm : 0 },
    madeOf: slabs.map(({ id }, k) => ({
      ...{ piece: id, angleRad: 0, atMm: [0, k * (slabWidth + gap)] as const },
      after: skims.findLast(({ pieces }) => pieces.some((piece) => piece.id === id))?.id ?? "",
    })),
  };
}

/** A table longer than the travel is quoted as cut in lays that overlap by this. Common practice, no source. */
const OVERLAP_MM = 30;

function setupsOf(piece: Piece, purpose: "skim" | "finish", { faces, finishedMm, cutter }: Sizes): Setup[] {
  const target = (face: Setup["face"]): Target => {
    if (purpose === "skim") return { kind: "cleanUp", share: SKIM_SHARE };
    return { kind: faces === "both" && face === "upper" ? "even" : "thickness", mm: finishedMm };
  };
  return (faces === "both" ? (["upper", "under"] as const) : (["upper"] as const)).map((face) => ({
    ...{ id: `${piece.id} ${face}`, face, turn: "x", pieces: [piece], cutter, target: target(face) },
    ...{ leaveMm: 0, marginMm: null, keepOuts: [], reindexMm: OVERLAP_MM },
    // Feeds and speed are filled in by the settings.
    passes: {
      ...{ depthMm: DEPTH_MM, finish: null, stepoverShare: STEPOVER_SHARE, angleRad: 0, rows: "both-ways" },
      ...{ fastest: false, edgeFirst: false },
      ...{ overrunMm: null, feedMmPerMin: 1, resinFeedMmPerMin: null, speed: 1, rampRad: null },
    },
    clear: { zMm: 10, sideMm: 5 },
    zero: { xMm: 0, yMm: 0, z: "bed" },
  }));
}

function rectangle(lengthMm: number, widthMm: number): Ring {
  return Float64Array.of(0, 0, lengthMm, 0, lengthMm, widthMm, 0, widthMm);
}
