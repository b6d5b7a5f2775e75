// Pieces of wood and resin: how much of each there is, what the pour takes, what the piece weighs before
// and after its faces are cut, and what skimming the wood deeper would have meant. Litres, kilograms, mm.

import { GENERAL_HARDWOOD, resinNamed, woodNamed } from "../cutting/materials.ts";
import type { Job } from "../job/job.ts";
import type { PlannedSetup } from "../plan.ts";
import { intersection, regionOf, rings } from "../region/region.ts";
import { boxOf, gridOver, insideShares, pitchFor } from "../survey/field.ts";
import { balanceOf } from "../survey/ring.ts";
import { type Stock, stockHeights, underHeights } from "../survey/stock.ts";

/** A piece of wood and resin, from the mold to its finished faces. */
export interface Cast {
  readonly piece: string;
  /** As it comes out of its mold: the void around the wood, and the shells. */
  readonly resinLitres: number;
  readonly resinKg: number;
  readonly woodLitres: number;
  readonly massBeforeKg: number;
  readonly massAfterKg: number;
  readonly skims: readonly DeeperSkim[];
}

/**
 * A setup went below the plane to which the wood had been skimmed, to clean what the skim had left. Had the skim
 * gone there, it would have taken so much more time, and saved that and resin afterwards. Estimates from layers.
 */
export interface DeeperSkim {
  readonly setup: string;
  readonly skims: readonly string[];
  /** How far below the skimmed plane the setup's floor lies; 0: the skim was deep enough. */
  readonly deeperMm: number;
  readonly secondsMore: number;
  readonly secondsLess: number;
  readonly resinLitresLess: number;
}

/** All pieces of wood and resin of a planned job. */
export function castsOf(job: Job, setups: readonly PlannedSetup[]): Cast[] {
  const first = new Map<string, Stock>();
  for (const { found } of setups)
    for (const stock of found)
      if (stock.timbers !== null && !first.has(stock.piece.id)) first.set(stock.piece.id, stock);
  return [...first].map(([id, stock]) => {
    const { woodMm3, resinMm3, woodKg } = volumesOf(stock, job);
    const [woodLitres, resinLitres] = [woodMm3 / 1e6, resinMm3 / 1e6];
    const resinDensity = resinNamed(stock.piece.material, job.shop.materials).densityKgPerM3;
    const resinKg = (resinLitres * resinDensity) / 1000;
    const removed = { wood: 0, resin: 0 };
    for (const { pieces } of setups)
      for (const piece of pieces)
        if (piece.id === id) {
          removed.wood += piece.removedLitres.wood;
          removed.resin += piece.removedLitres.resin;
        }
    const massBeforeKg = woodKg + resinKg;
    const woodDensity = woodLitres > 0 ? woodKg / woodLitres : 0;
    return {
      ...{ piece: id, resinLitres, resinKg, woodLitres, massBeforeKg },
      massAfterKg: massBeforeKg - removed.wood * woodDensity - (removed.resin * resinDensity) / 1000,
      skims: job.pieces.some((piece) => piece.id === id && piece.madeOf.length > 0)
        ? setups.flatMap((setup) => deeperSkim(id, setup, setups, job) ?? [])
        : [],
    };
  });
}

const PITCH_MM = 2;
const SAMPLES_MAX = 2_000_000;

function volumesOf(stock: Stock, job: Job): { woodMm3: number; resinMm3: number; woodKg: number } {
  const { piece, timbers } = stock;
  const box = boxOf([piece.outline]);
  const grid = gridOver(box, pitchFor(box, PITCH_MM, SAMPLES_MAX), PITCH_MM);
  const upper = stockHeights(stock, 0, grid);
  const under = underHeights(stock, grid);
  const cellMm2 = grid.pitchMm ** 2;
  const whole = insideShares([piece.outline], grid);
  let allMm3 = 0;
  for (let k = 0; k < whole.length; k++)
    if (whole[k] > 0) allMm3 += whole[k] * Math.max(0, upper[k] - under[k]) * cellMm2;
  let [woodMm3, woodKg] = [0, 0];
  const top = new Float32Array(upper.length);
  const bottom = new Float32Array(upper.length);
  for (const timber of timbers ?? []) {
    const inside = intersection(regionOf([timber.outline]), regionOf([piece.outline]));
    const shares = insideShares(rings(inside), grid);
    timber.top.sample(grid, 0, top);
    timber.bottom.sample(grid, 0, bottom);
    let volume = 0;
    for (let k = 0; k < shares.length; k++) {
      if (shares[k] === 0) continue;
      const thick = Math.min(upper[k], top[k]) - Math.max(under[k], bottom[k]);
      if (thick > 0) volume += shares[k] * thick * cellMm2;
    }
    woodMm3 += volume;
    const wood = woodNamed(timber.material, job.shop.materials) ?? GENERAL_HARDWOOD;
    woodKg += (volume / 1e9) * wood.densityKgPerM3;
  }
  return { woodMm3, resinMm3: Math.max(0, allMm3 - woodMm3), woodKg };
}

/** So little below the skimmed plane is the plane. */
const PLANE_MM = 0.05;

function deeperSkim(
  id: string,
  planned: PlannedSetup,
  setups: readonly PlannedSetup[],
  job: Job,
): DeeperSkim | null {
  const index = planned.found.findIndex(({ piece }) => piece.id === id);
  const stock = planned.found[index];
  if (stock?.timbers == null) return null;
  const { piece, timbers } = stock;
  // The parts' face that is up now: a part lies in the mold as its last setup left it.
  const skims = setups.filter((other) =>
    piece.madeOf.some((part) => {
      const after = job.setups.find((setup) => setup.id === part.after);
      const up = stock.faceUp === "upper" ? after?.face : after?.face === "upper" ? "under" : "upper";
      return other.setup.face === up && other.setup.pieces.some((one) => one.id === part.piece);
    }),
  );
  if (skims.length === 0) return null;
  const plane = Math.max(...timbers.map((timber) => highestOf(timber)));
  const deeperMm = plane - planned.floorMm;
  const names = skims.map(({ setup }) => setup.id);
  const at = { setup: planned.setup.id, skims: names };
  if (deeperMm < PLANE_MM) return { ...at, deeperMm: 0, secondsMore: 0, secondsLess: 0, resinLitresLess: 0 };
  const wood = timbers.reduce((sum, { outline }) => sum + balanceOf(outline).area, 0);
  return {
    ...at,
    deeperMm,
    secondsMore: skims.reduce((sum, skim) => sum + secondsBy(skim, deeperMm), 0),
    secondsLess: -secondsBy(planned, -deeperMm),
    resinLitresLess: (deeperMm * Math.max(0, balanceOf(piece.outline).area - wood)) / 1e6,
  };
}

/** About how much longer a setup takes when it goes so much deeper: in whole layers like its last rough one. */
function secondsBy({ setup, layers }: PlannedSetup, deeperMm: number): number {
  const rough = layers.filter(({ kind }) => kind === "rough");
  const last = rough.at(-1);
  if (last === undefined) return 0;
  const depth = rough.reduce((sum, { depthMm }) => sum + depthMm, 0);
  const count = Math.max(0, Math.ceil((depth + deeperMm) / setup.passes.depthMm - 1e-6));
  return (count - rough.length) * last.seconds;
}

/** The plane to which most of a wood's face was skimmed lies at its highest place. */
function highestOf({ outline, top }: NonNullable<Stock["timbers"]>[number]): number {
  const box = boxOf([outline]);
  const grid = gridOver(box, pitchFor(box, 5, 100_000), 0);
  const z = new Float32Array(grid.cols * grid.rows);
  const inside = insideShares([outline], grid);
  top.sample(grid, 0, z);
  let highest = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < z.length; k++) if (inside[k] === 1 && z[k] > highest) highest = z[k];
  return highest;
}
