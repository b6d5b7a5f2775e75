// What to cut: floor -> layers -> regions -> rows -> cells -> one ordered track. Frame coordinates in
// millimetres; the track's are program coordinates (frame less zero), not yet rounded.

import { PlanError } from "../errors.ts";
import type { Machine, Setup } from "../job/job.ts";
import { straightSeconds, trackTimes } from "../motion/clock.ts";
import { Kind, Track } from "../motion/track.ts";
import { grown, intersection, isEmpty, type Region, regionOf } from "../region/region.ts";
import { type Box, boxOf } from "../survey/field.ts";
import type { Stock } from "../survey/stock.ts";
import { formatLength, type Units } from "../units.ts";
import { anglesToTry, rowAngle } from "./angle.ts";
import type { Cell, Way } from "./cells.ts";
import { edgesOf, Turn } from "./edges.ts";
import { levelsOf } from "./floor.ts";
import { type Layer, layersOf } from "./layers.ts";
import type { Lay } from "./lays.ts";
import { orderCells } from "./order.ts";
import { unreachable } from "./reach.ts";
import { type Ground, type LayerGround, linkSeconds, type Obstacle, type Place, runLayer } from "./route.ts";
import { type Face, faceOf, type LayerTask, layerTasks } from "./tasks.ts";

export interface PassesPlan {
  /** Above the bed, as the program names it. */
  readonly floorMm: number;
  readonly zeroMm: { readonly x: number; readonly y: number; readonly z: number };
  /** Direction of the rows, from +X. */
  readonly angleRad: number;
  readonly layers: readonly { readonly layer: Layer; readonly rows: number; readonly areaMm2: number }[];
  /** Program coordinates; `layer` and `row` say what each move is for. */
  readonly track: Track;
}

/** What lifts keep clear of is looked for this much farther out, for rounding and for chords. */
const BESIDE_MM = 0.1;

/**
 * Plans a setup's motion on the stocks it finds, which may stand `marginMm` above what was measured.
 * `units` are the program's; faces are sampled every `pitchMm`, where that is left out finely enough to cut by;
 * of a piece cut in several lays only what is `lay`'s is cut.
 * Throws PlanError when there is nothing to cut, or no way to.
 */
export function planPasses(
  setup: Setup,
  machine: Machine,
  stocks: readonly Stock[],
  marginMm: number,
  units: Units,
  pitchMm?: number,
  lay?: Lay,
): PassesPlan {
  const { floorMm, zero, steps } = lay?.levels ?? levelsOf(setup, machine, stocks, units, pitchMm);

  const faces = stocks.map((stock) => faceOf(stock, marginMm, pitchMm));
  const topMm = Math.max(...faces.map((face) => face.highest));
  const layers = layersOf(setup, floorMm, topMm, steps, units);
  const at = (angleRad: number) =>
    passesAt(angleRad, { setup, machine, units, lay, faces, layers, topMm, floorMm, zero });
  return setup.passes.fastest ? quickestAngle(setup, machine, at) : at(rowAngle(setup));
}

/** Of the angles that matter the one whose passes take the least time; those that cannot be are left out. */
function quickestAngle(setup: Setup, machine: Machine, at: (angleRad: number) => PassesPlan): PassesPlan {
  let best: { seconds: number; plan: PassesPlan } | null = null;
  let refused: PlanError | null = null;
  for (const angleRad of anglesToTry(setup)) {
    try {
      const plan = at(angleRad);
      const seconds = trackTimes(plan.track, machine).total;
      if (best === null || seconds < best.seconds) best = { seconds, plan };
    } catch (error) {
      if (!(error instanceof PlanError)) throw error;
      refused ??= error;
    }
  }
  if (best === null) throw refused;
  return best.plan;
}

/** All that passes at one angle are made from. */
interface Ready {
  readonly setup: Setup;
  readonly machine: Machine;
  readonly units: Units;
  readonly lay: Lay | undefined;
  readonly faces: readonly Face[];
  readonly layers: readonly Layer[];
  readonly topMm: number;
  readonly floorMm: number;
  readonly zero: PassesPlan["zeroMm"];
}

function passesAt(
  angleRad: number,
  { setup, machine, units, lay, faces, layers, topMm, floorMm, zero }: Ready,
): PassesPlan {
  const turn = new Turn(angleRad);
  const tasks = layerTasks(setup, machine, faces, layers, turn, lay);
  if (tasks.every(({ stretches, borders, edge }) => stretches.length + borders.length + edge.length === 0))
    throw new PlanError("nothing-in-reach", setup.id, nothingInReach(setup));

  const ground: Ground = {
    setup,
    units,
    machine,
    turn,
    zero,
    highestMm: topMm,
    obstacles: obstaclesOf(setup, machine, faces, tasks, topMm, turn),
    window: travelWindow(setup, machine, turn, tasks, units, lay),
  };
  const track = new Track();
  let place: Place | null = null;
  for (const task of tasks) place = quickestRun(ground, task, place, track);
  end(ground, track);
  return {
    floorMm,
    zeroMm: zero,
    angleRad,
    layers: tasks.map(({ here, rows, areaMm2 }) => ({ layer: here.layer, rows, areaMm2 })),
    track,
  };
}

/** What rounding may amount to. */
const HAIR_MM = 1e-6;
/** A grouping whose time is estimated to be within this of the least is run, and the clock chooses. */
const CLOSE_SHARE = 1.02;

/** Tries the layer's groupings, appends the quickest to the track and returns where it ends. */
function quickestRun(ground: Ground, task: LayerTask, from: Place | null, track: Track): Place | null {
  const cost = (before: Way | null, to: Way) => linkSeconds(ground, task.here, before ?? from, to);
  const edge = orderCells(task.edge, cost);
  const orders = task.groupings
    .filter((cells) => staysWithin(ground, cells))
    .map((cells) => {
      const rest = orderCells(cells, (before, to) => cost(before ?? edge.at(-1) ?? null, to));
      const ways = [...edge, ...rest];
      return { ways, seconds: estimate(ground, task.here, ways, cost) };
    });
  const least = Math.min(...orders.map(({ seconds }) => seconds));
  let best: { seconds: number; track: Track; place: Place; rows: number } | null = null;
  for (const { ways, seconds: estimated } of orders) {
    if (estimated > CLOSE_SHARE * least) continue;
    const attempt = new Track(256);
    if (from !== null) startAt(ground, from, attempt);
    const place = runLayer(ground, task.here, ways, from, attempt);
    const seconds = trackTimes(attempt, ground.machine).total;
    if (best === null || seconds < best.seconds) {
      const rows = ways.reduce((sum, way) => sum + way.cuts().length, 0);
      best = { seconds, track: attempt, place, rows };
    }
  }
  if (best === null) return from;
  append(track, best.track, from === null ? 0 : 1);
  task.rows = best.rows;
  return best.place;
}

/** Rows laid another way may reach farther than those from which the window was taken. */
function staysWithin({ turn, window }: Ground, cells: readonly Cell[]): boolean {
  const { minX, minY, maxX, maxY } = window;
  return cells.every(({ ways }) =>
    ways[0].cuts().every(({ points }) => {
      for (let k = 0; k < points.length; k += 2) {
        const [x, y] = [turn.x(points[k], points[k + 1]), turn.y(points[k], points[k + 1])];
        if (x < minX - HAIR_MM || x > maxX + HAIR_MM || y < minY - HAIR_MM || y > maxY + HAIR_MM)
          return false;
      }
      return true;
    }),
  );
}

/** About how long it takes to run through the ways, corners not counted. */
function estimate(
  { machine, turn }: Ground,
  { layer }: LayerGround,
  ways: readonly Way[],
  cost: (before: Way | null, to: Way) => number,
): number {
  let seconds = 0;
  let before: Way | null = null;
  for (const way of ways) {
    seconds += cost(before, way);
    before = way;
    let u = way.startU;
    let v = way.startV;
    for (const { points } of way.cuts())
      for (let k = 0; k < points.length; k += 2) {
        const [dx, dy] = [turn.x(points[k] - u, points[k + 1] - v), turn.y(points[k] - u, points[k + 1] - v)];
        seconds += straightSeconds(dx, dy, 0, layer.feedMmPerMin, machine);
        [u, v] = [points[k], points[k + 1]];
      }
  }
  return seconds;
}

/** A first entry that says where the cutter is, so that an attempt can be timed by itself. */
function startAt({ turn, zero }: Ground, from: Place, track: Track): void {
  track.push(Kind.rapid, turn.x(from.u, from.v) - zero.x, turn.y(from.u, from.v) - zero.y, from.z - zero.z);
}

function append(track: Track, from: Track, first: number): void {
  for (let k = first; k < from.count; k++) {
    const index = track.push(from.kind[k] as Kind, from.x[k], from.y[k], from.z[k], from.value[k]);
    track.centreX[index] = from.centreX[k];
    track.centreY[index] = from.centreY[k];
    track.layer[index] = from.layer[k];
    track.row[index] = from.row[k];
  }
}

/** Lifts clear of everything; the writer's closing lines stop the spindle and end the program. */
function end({ highestMm, setup, zero }: Ground, track: Track): void {
  const last = track.count - 1;
  const stands = Math.max(highestMm, ...setup.keepOuts.map((keepOut) => keepOut.heightMm));
  const index = track.push(Kind.rapid, track.x[last], track.y[last], stands + setup.clear.zMm - zero.z);
  track.layer[index] = track.layer[last];
}

/** What a rapid must clear: the keep-outs, and the wood that none of the layers reaches, as high as it ever stood. */
function obstaclesOf(
  setup: Setup,
  machine: Machine,
  faces: readonly Face[],
  tasks: readonly LayerTask[],
  topMm: number,
  turn: Turn,
): Obstacle[] {
  const radius = setup.cutter.diameterMm / 2;
  const around = (region: Region, besideMm: number) => {
    const near = (discMm: number) => edgesOf(grown(region, discMm + besideMm + BESIDE_MM), turn);
    return { near: near(radius), nearNose: machine.nose && near(machine.nose.diameterMm / 2) };
  };
  const obstacles = setup.keepOuts.map(({ outline, heightMm }) => ({
    heightMm,
    ...around(regionOf([outline]), setup.clear.sideMm),
  }));
  // What is forbidden only grows from layer to layer.
  const outlines = { paths: faces.flatMap(({ outline }) => outline.paths) };
  const standing = intersection(unreachable(tasks[tasks.length - 1].forbidden, radius), outlines);
  return isEmpty(standing) ? obstacles : [...obstacles, { heightMm: topMm, ...around(standing, 0) }];
}

/** The box that the cutter's centre may use: as large as the travel, around all that must be cut. */
function travelWindow(
  setup: Setup,
  machine: Machine,
  turn: Turn,
  tasks: readonly LayerTask[],
  units: Units,
  lay: Lay | undefined,
): Ground["window"] {
  const corners: number[] = [];
  const include = (u: number, v: number) => corners.push(turn.x(u, v), turn.y(u, v));
  for (const { stretches, borders, edge } of tasks) {
    for (const { from, to, v } of stretches) {
      include(from, v);
      include(to, v);
    }
    for (const cell of [...borders, ...edge])
      for (const { points } of cell.ways[0].cuts())
        for (let k = 0; k < points.length; k += 2) include(points[k], points[k + 1]);
  }
  const box = boxOf([Float64Array.from(corners)]);
  const spanX = box.maxX - box.minX;
  const spanY = box.maxY - box.minY;
  const { x, y } = machine.travelMm;
  if (spanX > x + HAIR_MM || spanY > y + HAIR_MM) {
    const over = (axis: string, span: number, travel: number) =>
      span > travel + HAIR_MM
        ? [
            `in ${axis} the cutter's centre must go ${formatLength(span, units)}, ${formatLength(span - travel, units)} more than the travel of ${formatLength(travel, units)}`,
          ]
        : [];
    throw new PlanError(
      "travel",
      setup.id,
      [...over("X", spanX, x), ...over("Y", spanY, y), ...waysToFit(setup, box, machine, units)].join("; "),
    );
  }
  const [spareX, spareY] = [(x - spanX) / 2, (y - spanY) / 2];
  if (lay !== undefined && box.minX >= lay.windowMinX && box.maxX <= lay.windowMaxX)
    return {
      minX: lay.windowMinX,
      minY: box.minY - spareY,
      maxX: lay.windowMaxX,
      maxY: box.maxY + spareY,
    };
  return {
    minX: box.minX - spareX,
    minY: box.minY - spareY,
    maxX: box.maxX + spareX,
    maxY: box.maxY + spareY,
  };
}

/** Overlap of lays as a job may have it, in its own unit. */
const OVERLAP = { mm: 30, in: 1.25 };

/** What makes a piece fit that needs more than the travel: turning it on the bed, or cutting it in several lays. */
function waysToFit({ reindexMm }: Setup, box: Box, { travelMm }: Machine, units: Units): string[] {
  const [spanX, spanY] = [box.maxX - box.minX, box.maxY - box.minY];
  const { x, y } = travelMm;
  const ways = spanX <= y && spanY <= x ? ["turned by 90 degrees on the bed it would fit"] : [];
  const field = `"reindex": { "overlap": ${OVERLAP[units]} } in the setup`;
  if (reindexMm === null && spanY <= y)
    ways.push(`with ${field} it is cut in several lays, pushed along X between them`);
  else if (reindexMm === null && spanX <= y && ways.length === 0)
    ways.push(
      `turned by 90 degrees on the bed, and with ${field}, it is cut in several lays, pushed along X between them`,
    );
  return ways.length === 0 ? [] : [ways.join(", or ")];
}

/** Why there is nothing to cut although the face stands above the floor. */
export function nothingInReach({ keepOuts }: Setup): string {
  return keepOuts.length > 0
    ? "keep-outs leave no place where the cutter could cut"
    : "what stands above the floor is too small to be cut; check the size of the piece, and readings far higher than the others";
}
