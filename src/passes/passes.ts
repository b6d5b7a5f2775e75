// What to cut: floor -> layers -> regions -> rows -> cells -> one ordered track. Frame coordinates in
// millimetres; the track's are program coordinates (frame less zero), not yet rounded.

import { PlanError } from "../errors.ts";
import type { Machine, Setup } from "../job/job.ts";
import { straightSeconds, trackTimes } from "../motion/clock.ts";
import { Kind, Track } from "../motion/track.ts";
import { LevelSets } from "../region/levels.ts";
import {
  areaOf,
  difference,
  EMPTY,
  grown,
  intersection,
  parts,
  type Region,
  regionOf,
  regionWithHoles,
  rings,
  union,
} from "../region/region.ts";
import { boxOf, gridOver, pitchFor } from "../survey/field.ts";
import { extremes, type Stock, stockHeights } from "../survey/stock.ts";
import { formatLength, type Units } from "../units.ts";
import { borderCells, type Cell, rowCells, type Way } from "./cells.ts";
import { blocks, type Edges, edgesOf, Turn, touching } from "./edges.ts";
import { floorOf, highestOf } from "./floor.ts";
import { type Layer, layersOf, namedHeight, type Steps } from "./layers.ts";
import { orderCells } from "./order.ts";
import { type Forbidden, forbiddenAt } from "./reach.ts";
import { type Ground, type LayerGround, linkSeconds, type Obstacle, type Place, runLayer } from "./route.ts";
import { rowsOver, type Stretch } from "./rows.ts";

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

/** Samples of a face from which regions are taken: fine enough for a saw mark, few enough to be quick. */
const FIELD_PITCH_MM = 2;
const FIELD_SAMPLES_MAX = 1_500_000;
/**
 * Regions are taken this far below a layer's floor: between samples a crease of the face may stand a
 * little higher than the straight line the region is drawn by.
 */
const REGION_DROP_MM = 0.02;
const ROWS_MAX = 100_000;
/** What stays standing beside a keep-out may reach this much farther, for the hair that the cutter keeps off it. */
const BESIDE_MM = 0.1;
/** A disc this much larger than the cutter must meet material for a way along a border to be worth going. */
const TOUCH_MM = 0.05;
/** Rows end this far before what is forbidden. */
const SHORT_MM = 0.05;
/** The last decimal of a written coordinate. */
const STEP_MM = { mm: 0.001, in: 0.00254 };

/**
 * Plans a setup's motion on the stocks it finds, which may stand `marginMm` above what was measured.
 * `units` are the program's. Throws PlanError when there is nothing to cut, or no way to.
 */
export function planPasses(
  setup: Setup,
  machine: Machine,
  stocks: readonly Stock[],
  marginMm: number,
  units: Units,
): PassesPlan {
  const { floorMm, zero, steps } = levelsOf(setup, machine, stocks, units);

  const faces = stocks.map((stock) => faceOf(stock, marginMm));
  const topMm = Math.max(...faces.map((face) => face.highest));
  const layers = layersOf(setup, floorMm, topMm, steps, units);
  const angleRad = rowAngle(setup);
  const turn = new Turn(angleRad);
  const tasks = layerTasks(setup, machine, faces, layers, topMm, turn);
  if (tasks.every((task) => task.stretches.length === 0 && task.borders.length === 0))
    throw new PlanError("nothing-in-reach", setup.id, "keep-outs leave no place where the cutter could cut");

  const ground: Ground = {
    setup,
    units,
    machine,
    turn,
    zero,
    highestMm: topMm,
    obstacles: obstaclesOf(setup, machine, topMm, floorMm, turn),
    window: travelWindow(setup, machine, turn, tasks, units),
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

/** A setup's floor above the bed, as its program names it, and where its program's zero lies. */
export interface Levels {
  readonly floorMm: number;
  readonly zero: { readonly x: number; readonly y: number; readonly z: number };
  readonly steps: Steps;
}

/** Throws PlanError when the floor lies in the bed or above everything, or cannot be had. */
export function levelsOf(setup: Setup, machine: Machine, stocks: readonly Stock[], units: Units): Levels {
  const highest = highestOf(stocks);
  const zero = { x: setup.zero.xMm, y: setup.zero.yMm, z: setup.zero.z === "bed" ? 0 : highest };
  const steps: Steps = { zeroMm: zero.z, stepMm: STEP_MM[units] };
  // A share is to be reached, so its floor may lie lower, not higher.
  const which = setup.target.kind === "cleanUp" ? "below" : "nearest";
  const floorMm = namedHeight(floorOf(setup, machine, stocks), steps, which);
  const length = (mm: number) => formatLength(mm, units);
  if (!(floorMm > 0))
    throw new PlanError(
      "floor-in-bed",
      setup.id,
      `the floor would lie ${length(-floorMm)} below the top of the bed; the highest place stands ${length(highest)} above it`,
    );
  if (floorMm >= highest - 1e-6)
    throw new PlanError(
      "nothing-to-cut",
      setup.id,
      `nothing to cut: the floor lies ${length(floorMm)} above the bed, the highest measured place ${length(highest)}`,
    );
  return { floorMm, zero, steps };
}

/** Direction of the rows: the passes' angle from the grain of the first piece. */
function rowAngle(setup: Setup): number {
  const [first] = setup.pieces;
  return (first.grainRad ?? longAxis(first.outline)) + setup.passes.angleRad;
}

/** Direction of the long side of the smallest rectangle around the outline; of equals the one nearest +X. */
function longAxis(outline: Float64Array): number {
  let best = { area: Number.POSITIVE_INFINITY, angle: 0 };
  for (let k = 0; k < outline.length; k += 2) {
    const n = (k + 2) % outline.length;
    const edge = new Turn(Math.atan2(outline[n + 1] - outline[k + 1], outline[n] - outline[k]));
    const box = boxOf([edge.ring(outline)]);
    const long = box.maxX - box.minX;
    const short = box.maxY - box.minY;
    const along = Math.atan2(edge.sin, edge.cos) + (long >= short * (1 - 1e-9) ? 0 : Math.PI / 2);
    const angles = Math.abs(long - short) <= 1e-9 * long ? [along, along + Math.PI / 2] : [along];
    for (const raw of angles) {
      // A direction and its opposite are the same grain: take the one from -90 up to, without, 90 degrees.
      const angle = raw - Math.PI * Math.ceil(raw / Math.PI - 0.5 - 1e-12);
      const area = long * short;
      const smaller = area < best.area * (1 - 1e-9);
      const nearer = area <= best.area * (1 + 1e-9) && Math.abs(angle) < Math.abs(best.angle) - 1e-12;
      if (smaller || nearer) best = { area, angle };
    }
  }
  return best.angle;
}

// Regions ----------------------------------------------------------------------------------

/** A stock's face as regions are taken from it: what may stand, margin included. */
interface Face {
  readonly outline: Region;
  readonly levels: LevelSets;
  readonly lowest: number;
  readonly highest: number;
}

function faceOf(stock: Stock, marginMm: number): Face {
  const { outline } = stock.piece;
  const box = boxOf([outline]);
  const pitchMm = pitchFor(box, FIELD_PITCH_MM, FIELD_SAMPLES_MAX);
  const grid = gridOver(box, pitchMm, 2 * pitchMm);
  const field = { ...grid, z: stockHeights(stock, marginMm, grid) };
  return { outline: regionOf([outline]), levels: new LevelSets(field), ...extremes(stock, marginMm, field) };
}

/** Where material may stand above the level, over all pieces. */
function materialAbove(faces: readonly Face[], levelMm: number): Region {
  const found = faces.map(({ outline, levels, lowest, highest }) => {
    if (lowest > levelMm) return outline;
    if (highest <= levelMm) return EMPTY;
    const level = regionWithHoles(levels.rings(levelMm - REGION_DROP_MM));
    return intersection(level, outline);
  });
  // Pieces do not overlap, so their paths need no union.
  return { paths: found.flatMap((region) => region.paths) };
}

interface LayerTask {
  readonly here: LayerGround;
  readonly areaMm2: number;
  /** Of the plain way to lay rows; for the window and for counting. */
  readonly stretches: readonly Stretch[];
  readonly borders: readonly Cell[];
  /** Ways to group the layer's material into fields of rows. */
  readonly groupings: readonly (readonly Cell[])[];
  rows: number;
}

function layerTasks(
  setup: Setup,
  machine: Machine,
  faces: readonly Face[],
  layers: readonly Layer[],
  topMm: number,
  turn: Turn,
): LayerTask[] {
  let standing = EMPTY;
  let before: Forbidden | null = null;
  return layers.map((layer, index) => {
    const material = materialAbove(faces, layer.zMm);
    // Wood beside a keep-out stays as high as it was; where that is higher than the nose, it is in its way.
    const noseMm = layer.zMm + (machine.nose?.aboveMm ?? Number.POSITIVE_INFINITY);
    if (before !== null && before.core.paths.length > 0 && topMm > noseMm)
      standing = union(standing, intersection(before.core, materialAbove(faces, noseMm)));
    const forbidden = forbiddenAt(setup, machine.nose, layer.zMm, standing, before?.border);
    before = forbidden;
    return layerTask(setup, layer, index, material, forbidden, turn);
  });
}

function layerTask(
  setup: Setup,
  layer: Layer,
  index: number,
  material: Region,
  forbidden: Forbidden,
  turn: Turn,
): LayerTask {
  const radiusMm = setup.cutter.diameterMm / 2;
  const { overrunMm, rows } = setup.passes;
  const materialEdges = edgesOf(material, turn);
  const core = edgesOf(forbidden.core, turn);
  const rowField = difference(material, forbidden.band);

  const lay = (fields: readonly Region[], bridgeMm: number): Stretch[][] =>
    fields.map((field) => {
      const rule = { radiusMm, stepoverMm: layer.stepoverMm, overrunMm, bridgeMm };
      const found = rowsOver(edgesOf(field, turn), rule, ROWS_MAX);
      if (found === null)
        throw new PlanError(
          "rows",
          setup.id,
          `a stepover of ${layer.stepoverMm.toPrecision(2)} mm would take more than ${ROWS_MAX} rows`,
        );
      return found.flatMap((stretch) => outOfTheWay(stretch, core));
    });
  const cellsOf = (fields: readonly Stretch[][], borders: readonly Cell[]): Cell[] => {
    const cells: Cell[] = [...borders];
    let number = borders.length;
    for (const stretches of fields) {
      cells.push(...rowCells(stretches, rows, number));
      number += stretches.length;
    }
    return cells;
  };

  const borders = borderCells(
    rings(forbidden.border).map((ring) => turn.ring(ring)),
    materialEdges,
    radiusMm + TOUCH_MM,
    0,
  );
  const separate = parts(rowField);
  const diameter = 2 * radiusMm;
  const plain = lay(separate, diameter / 4);
  const groupings = [cellsOf(plain, borders)];
  // Where the material lies in several parts, or rows have gaps, rows that run on through the gaps may
  // be quicker than lifting: both are made, and the clock chooses.
  const gaps = plain.some((stretches) => stretches.some((s, k) => k > 0 && stretches[k - 1].row === s.row));
  if (gaps) groupings.push(cellsOf(lay(separate, 3 * diameter), borders));
  if (separate.length > 1) {
    groupings.push(cellsOf(lay([rowField], diameter / 4), borders));
    groupings.push(cellsOf(lay([rowField], 3 * diameter), borders));
  }
  return {
    here: { layer, index, material: materialEdges, core },
    areaMm2: areaOf(material),
    stretches: plain.flat(),
    borders,
    groupings: groupings.filter((cells) => cells.length > 0),
    rows: 0,
  };
}

/**
 * A stretch without what of it is forbidden. Over its own material it never is; a bridge over a gap and an
 * overrun may be: a bridge is taken out, an overrun ends before it.
 */
function outOfTheWay(stretch: Stretch, core: Edges): Stretch[] {
  const { from, to, v } = stretch;
  if (core.count === 0 || !blocks(core, from, v, to, v)) return [stretch];
  const hits = touching(core, 0, from, v, 1, 0, to - from);
  const clear: Stretch[] = [];
  let at = from;
  for (let k = 0; k <= hits.length; k += 2) {
    const until = k < hits.length ? from + hits[k] - SHORT_MM : to;
    const materialFrom = Math.max(stretch.materialFrom, at);
    const materialTo = Math.min(stretch.materialTo, until);
    if (until >= at && materialTo >= materialFrom)
      clear.push({ ...stretch, from: at, to: until, materialFrom, materialTo });
    if (k < hits.length) at = from + hits[k + 1] + SHORT_MM;
  }
  return clear;
}

// Motion -----------------------------------------------------------------------------------

/** A grouping whose time is estimated to be within this of the least is run, and the clock chooses. */
const CLOSE_SHARE = 1.02;

/** Tries the layer's groupings, appends the quickest to the track and returns where it ends. */
function quickestRun(ground: Ground, task: LayerTask, from: Place | null, track: Track): Place | null {
  const cost = (before: Way | null, to: Way) => linkSeconds(ground, task.here, before ?? from, to);
  const orders = task.groupings.map((cells) => {
    const ways = orderCells(cells, cost);
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

function obstaclesOf(setup: Setup, machine: Machine, topMm: number, floorMm: number, turn: Turn): Obstacle[] {
  const radius = setup.cutter.diameterMm / 2;
  const { sideMm } = setup.clear;
  return setup.keepOuts.map(({ outline, heightMm }) => {
    const region = regionOf([outline]);
    // Beside a keep-out that blocks, wood stands as high as it ever did.
    const standing = heightMm >= floorMm;
    const besideMm = sideMm + (standing ? radius : 0);
    return {
      heightMm: standing ? Math.max(heightMm, topMm) : heightMm,
      near: edgesOf(grown(region, radius + besideMm + BESIDE_MM), turn),
      nearNose:
        machine.nose === null
          ? null
          : edgesOf(grown(region, machine.nose.diameterMm / 2 + besideMm + BESIDE_MM), turn),
    };
  });
}

/** The box that the cutter's centre may use: as large as the travel, around all that must be cut. */
function travelWindow(
  setup: Setup,
  machine: Machine,
  turn: Turn,
  tasks: readonly LayerTask[],
  units: Units,
): Ground["window"] {
  const corners: number[] = [];
  const include = (u: number, v: number) => corners.push(turn.x(u, v), turn.y(u, v));
  for (const { stretches, borders } of tasks) {
    for (const { from, to, v } of stretches) {
      include(from, v);
      include(to, v);
    }
    for (const cell of borders)
      for (const { points } of cell.ways[0].cuts())
        for (let k = 0; k < points.length; k += 2) include(points[k], points[k + 1]);
  }
  const box = boxOf([Float64Array.from(corners)]);
  const spanX = box.maxX - box.minX;
  const spanY = box.maxY - box.minY;
  const { x, y } = machine.travelMm;
  if (spanX > x || spanY > y) {
    const over = (axis: string, span: number, travel: number) =>
      span > travel
        ? [
            `in ${axis} the cutter's centre must go ${formatLength(span, units)}, ${formatLength(span - travel, units)} more than the travel of ${formatLength(travel, units)}`,
          ]
        : [];
    throw new PlanError("travel", setup.id, [...over("X", spanX, x), ...over("Y", spanY, y)].join("; "));
  }
  const [spareX, spareY] = [(x - spanX) / 2, (y - spanY) / 2];
  return {
    minX: box.minX - spareX,
    minY: box.minY - spareY,
    maxX: box.maxX + spareX,
    maxY: box.maxY + spareY,
  };
}
