// Where a cutter can come down in air, on wood as it stands at the moment: places whose disc, and a little
// beyond it, is clear of everything higher, and from which a level way leads on that takes nothing and keeps
// off keep-outs. Frame coordinates, millimetres.

import { distanceToRing } from "./distance.ts";
import type { ProofTask } from "./prove.ts";
import { ROUNDING_MM } from "./run.ts";
import type { Wood } from "./wood.ts";

/** Air between the rim and material: another cutter may be a little larger. Common practice, no source. */
const AIR_MM = 0.5;
/** Places are tried this far apart, out to so many diameters, in so many directions. */
const STEP_MM = 1;
const REACH_DIAMETERS = 2;
const DIRECTIONS = 16;

/** The box that the cutter's centre may use. */
export interface Window {
  readonly minX: number;
  readonly minY: number;
  readonly maxX: number;
  readonly maxY: number;
}

export interface AirPlace {
  readonly x: number;
  readonly y: number;
}

/**
 * The place in air nearest to (x, y) at height z from which a level way leads to it, (x, y) itself if that is
 * one; of places about as near the one in the direction `backRad`. Null: none near enough.
 */
export function airNear(
  wood: Wood,
  task: ProofTask,
  window: Window,
  x: number,
  y: number,
  z: number,
  backRad: number,
): AirPlace | null {
  const radius = task.setup.cutter.diameterMm / 2;
  const isAir = (px: number, py: number) =>
    wood.map.look(px, py, z, px, py, z, radius + AIR_MM).bite <= ROUNDING_MM;
  const reach = REACH_DIAMETERS * task.setup.cutter.diameterMm;
  let best: AirPlace | null = null;
  let nearest = reach + STEP_MM;
  for (let k = 0; k < DIRECTIONS; k++) {
    const angle = backRad + (2 * Math.PI * k) / DIRECTIONS;
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    for (let away = 0; away < nearest - STEP_MM / 2; away += STEP_MM) {
      const [px, py] = [x + away * cos, y + away * sin];
      if (px < window.minX || px > window.maxX || py < window.minY || py > window.maxY) break;
      if (!isAir(px, py)) continue;
      if (isFree(wood, task, px, py, x, y, z)) {
        best = { x: px, y: py };
        nearest = away;
      }
      break;
    }
    if (nearest === 0) break;
  }
  return best;
}

/** Whether a level way takes nothing, and keeps cutter and spindle nose off wood and keep-outs. */
function isFree(
  { map }: Wood,
  { setup, machine: { nose } }: ProofTask,
  ax: number,
  ay: number,
  bx: number,
  by: number,
  z: number,
): boolean {
  const radius = setup.cutter.diameterMm / 2;
  if (map.look(ax, ay, z, bx, by, z, radius).bite > ROUNDING_MM) return false;
  if (nose !== null) {
    const under = z + nose.aboveMm;
    if (map.look(ax, ay, under, bx, by, under, nose.diameterMm / 2).bite > ROUNDING_MM) return false;
  }
  return setup.keepOuts.every(({ outline, heightMm }) => {
    const cutterMm = heightMm > z ? radius : 0;
    const noseMm = nose !== null && heightMm > z + nose.aboveMm ? nose.diameterMm / 2 : 0;
    const wanted = Math.max(cutterMm, noseMm);
    return wanted === 0 || distanceToRing(outline, ax, ay, bx, by) >= wanted + setup.clear.sideMm;
  });
}
