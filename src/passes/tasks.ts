// What each layer has to cut: where material may stand above its floor, less what is forbidden, laid in rows
// and in ways along the borders of what is forbidden. Regions are in the frame, rows in (u, v); millimetres.

import { PlanError } from "../errors.ts";
import type { Machine, Ring, Setup } from "../job/job.ts";
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
  shrunk,
  swept,
  union,
} from "../region/region.ts";
import { boxOf, gridOver, type HeightField, pitchFor } from "../survey/field.ts";
import { extremes, type Stock, stockHeights } from "../survey/stock.ts";
import { borderCells, type Cell, rowCells } from "./cells.ts";
import { blocks, type Edges, edgesOf, type Turn, touching } from "./edges.ts";
import type { Layer } from "./layers.ts";
import type { Lay } from "./lays.ts";
import { cleanedMm, type Forbidden, forbiddenAt, unreachable } from "./reach.ts";
import { highestOnEdge } from "./ridges.ts";
import type { LayerGround } from "./route.ts";
import { rowsOver, type Stretch } from "./rows.ts";

/** Samples of a face from which regions are taken: fine enough for a saw mark, few enough to be quick. */
const FIELD_PITCH_MM = 2;
const FIELD_SAMPLES_MAX = 1_500_000;
/** Regions are taken this far below a layer's floor, for what single precision and thinned rings may hide. */
const REGION_DROP_MM = 0.02;
/** Creases lower than this are within that drop; higher than that are no wood's, and only a bad reading's. */
const CREASE_MM = { least: 0.005, most: 1 };
const ROWS_MAX = 100_000;
/** A disc this much larger than the cutter must meet material for a way along a border to be worth going. */
const TOUCH_MM = 0.05;
/** A way along the outline's edge lies no farther inside than this share of the radius. */
const EDGE_INSIDE_SHARE = 0.6;
/** Rows end this far before what is forbidden. */
const SHORT_MM = 0.05;

/** A stock's face as regions are taken from it: what may stand, margin included. */
export interface Face {
  readonly outline: Region;
  readonly levels: LevelSets;
  readonly lowest: number;
  readonly highest: number;
}

export function faceOf(stock: Stock, marginMm: number, wantedMm = FIELD_PITCH_MM): Face {
  const { outline } = stock.piece;
  const box = boxOf([outline]);
  const pitchMm = pitchFor(box, wantedMm, FIELD_SAMPLES_MAX);
  const grid = gridOver(box, pitchMm, 2 * pitchMm);
  const field = { ...grid, z: stockHeights(stock, marginMm, grid) };
  const { lowest, highest } = extremes(stock, marginMm, field);
  return {
    outline: regionOf([outline]),
    levels: new LevelSets(creasesRaised(field)),
    lowest,
    highest: highestOnEdge(stock, marginMm, field, highest),
  };
}

/**
 * The field with its samples raised beside creases. Between samples a crease may stand above the straight line
 * that regions are drawn by: by half of what three samples in a row are off a line, along and across together.
 */
function creasesRaised(field: HeightField): HeightField {
  const { cols, rows, z } = field;
  const raised = z.slice();
  for (let row = 1; row < rows - 1; row++)
    for (let k = row * cols + 1; k < (row + 1) * cols - 1; k++) {
      const along = 2 * z[k] - z[k - 1] - z[k + 1];
      const across = 2 * z[k] - z[k - cols] - z[k + cols];
      const crease = (Math.max(0, along) + Math.max(0, across)) / 2;
      if (crease > CREASE_MM.least) raiseAround(raised, z, k, cols, Math.min(CREASE_MM.most, crease));
    }
  return { ...field, z: raised };
}

function raiseAround(raised: Float32Array, z: Float32Array, at: number, cols: number, byMm: number): void {
  for (let row = at - cols; row <= at + cols; row += cols)
    for (let k = row - 1; k <= row + 1; k++) raised[k] = Math.max(raised[k], z[k] + byMm);
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

/** All that is to be cut on one layer. */
export interface LayerTask {
  readonly here: LayerGround;
  readonly forbidden: Forbidden;
  readonly areaMm2: number;
  /** Of the plain way to lay rows; for the window and for counting. */
  readonly stretches: readonly Stretch[];
  readonly borders: readonly Cell[];
  /** Ways along the outline's edge, to be gone before all others. */
  readonly edge: readonly Cell[];
  /** Ways to group the layer's material into fields of rows. */
  readonly groupings: readonly (readonly Cell[])[];
  rows: number;
}

/** What each layer has to cut, and the ways in which that can be laid in rows. */
export function layerTasks(
  setup: Setup,
  machine: Machine,
  faces: readonly Face[],
  layers: readonly Layer[],
  turn: Turn,
  lay: Lay | undefined,
): LayerTask[] {
  const radiusMm = setup.cutter.diameterMm / 2;
  const above = machine.nose?.aboveMm ?? Number.POSITIVE_INFINITY;
  const forbidden: Forbidden[] = [];
  return layers.map((layer, index) => {
    // Wood that no layer could reach stands as high as the first of those that could not. Where that is higher
    // than the spindle nose is now, it is in the nose's way.
    const noseMm = layer.zMm + above;
    const low = layers.findLastIndex(({ topMm }, k) => k < index && topMm > noseMm);
    const standing =
      low < 0 ? EMPTY : intersection(unreachable(forbidden[low], radiusMm), materialAbove(faces, noseMm));
    forbidden.push(forbiddenAt(setup, machine.nose, layer.zMm, standing, forbidden.at(-1)?.border));
    const below = layers.length - 1 - index;
    const ground = lay && { region: groundOf(lay, faces, below), maxX: centreMaxX(lay, below, radiusMm) };
    const outline = { paths: faces.flatMap((face) => face.outline.paths) };
    const material = materialAbove(faces, layer.zMm);
    return layerTask(setup, layer, index, material, outline, forbidden[index], turn, ground);
  });
}

/**
 * Ways along the outline's edge, clockwise, so that a spindle that turns clockwise climbs: its edges come in from
 * the open side and press the fibres onto the wood. The disc takes as much as on a row, but reaches beyond the edge
 * even around square corners. The rows do what is `left`: also what is too narrow for a way, or too sharp.
 */
function edgeWays(
  outline: Region,
  { border }: Forbidden,
  own: Region,
  { stepoverMm }: Layer,
  radiusMm: number,
  turn: Turn,
): { cells: Cell[]; left: Region } {
  const cleaned = cleanedMm(radiusMm);
  const inside = Math.min(stepoverMm - cleaned, EDGE_INSIDE_SHARE * radiusMm);
  const beside = union(inside > 0 ? shrunk(outline, inside) : grown(outline, -inside), border);
  const turned = rings(beside).map((ring) => turn.ring(clockwise(ring)));
  const cells = borderCells(turned, edgesOf(own, turn), radiusMm + TOUCH_MM, 0, true);
  const ways = cells.flatMap(({ ways: [way] }) => way.cuts().map(({ points }) => turn.back(points)));
  return { cells, left: difference(own, swept(ways, cleaned)) };
}

/** Outlines come counter-clockwise, holes clockwise already. */
function clockwise(ring: Ring): Ring {
  const turned = new Float64Array(ring.length);
  for (let k = 0; k < ring.length; k += 2) {
    turned[k] = ring[ring.length - 2 - k];
    turned[k + 1] = ring[ring.length - 1 - k];
  }
  return turned;
}

/** The strip of all faces that a lay clears on a layer with so many below it. */
function groundOf(lay: Lay, faces: readonly Face[], below: number): Region {
  const { minY, maxY } = boxOf(faces.flatMap(({ outline }) => rings(outline)));
  const { fromX } = lay;
  const toX = lay.toX + below * lay.stairMm;
  return regionOf([Float64Array.of(fromX, minY - 1, toX, minY - 1, toX, maxY + 1, fromX, maxY + 1)]);
}

/** How far in X the cutter's centre may go on a layer with so many below it. */
function centreMaxX({ toX, stairMm }: Lay, below: number, radiusMm: number): number {
  return stairMm === 0 ? Number.POSITIVE_INFINITY : toX + (below + 1) * stairMm - radiusMm;
}

function layerTask(
  setup: Setup,
  layer: Layer,
  index: number,
  material: Region,
  outline: Region,
  forbidden: Forbidden,
  turn: Turn,
  ground: { readonly region: Region; readonly maxX: number } | undefined,
): LayerTask {
  const radiusMm = setup.cutter.diameterMm / 2;
  const { overrunMm, rows } = setup.passes;
  const materialEdges = edgesOf(material, turn);
  const core = edgesOf(forbidden.core, turn);
  // Of what stands, that in the ground of this lay is cut here; the rest is only in the way.
  const own = ground === undefined ? material : intersection(material, ground.region);
  const { cells: edge, left } = setup.passes.edgeFirst
    ? edgeWays(outline, forbidden, own, layer, radiusMm, turn)
    : { cells: [], left: own };
  const rowField = difference(left, forbidden.band);

  // Beyond the ground of a lay stands what layers above have left: no turn bulges into that.
  const rule = { radiusMm, stepoverMm: layer.stepoverMm, overrunMm, roundTurns: ground === undefined };
  const rowsIn = (field: Region) => {
    const rowsFor = rowsOver(edgesOf(field, turn), rule, ROWS_MAX);
    if (rowsFor === null)
      throw new PlanError(
        "rows",
        setup.id,
        `a stepover of ${layer.stepoverMm.toPrecision(2)} mm would take more than ${ROWS_MAX} rows`,
      );
    return (bridgeMm: number) => rowsFor(bridgeMm).flatMap((stretch) => outOfTheWay(stretch, core));
  };
  const cellsOf = (fields: readonly Stretch[][], borders: readonly Cell[]): Cell[] => {
    const cells: Cell[] = [...borders];
    let number = edge.length + borders.length;
    for (const stretches of fields) {
      cells.push(...rowCells(stretches, rows, number));
      number += stretches.length;
    }
    return cells;
  };

  const borders = borderCells(
    rings(forbidden.border).map((ring) => turn.ring(ring)),
    left === material ? materialEdges : edgesOf(left, turn),
    radiusMm + TOUCH_MM,
    edge.length,
  );
  const separate = parts(rowField);
  const diameter = 2 * radiusMm;
  const apart = separate.map(rowsIn);
  const plain = apart.map((rowsFor) => rowsFor(diameter / 4));
  const groupings = [cellsOf(plain, borders)];
  // Where the material lies in several parts, or rows have gaps, rows that run on through the gaps may
  // be quicker than lifting: both are made, and the clock chooses.
  const gaps = plain.some((stretches) => stretches.some((s, k) => k > 0 && stretches[k - 1].row === s.row));
  const bridged = 3 * diameter;
  if (gaps)
    groupings.push(
      cellsOf(
        apart.map((rowsFor) => rowsFor(bridged)),
        borders,
      ),
    );
  if (separate.length > 1) {
    const together = rowsIn(rowField);
    for (const bridgeMm of [diameter / 4, bridged]) groupings.push(cellsOf([together(bridgeMm)], borders));
  }
  return {
    here: { layer, index, material: materialEdges, core, maxX: ground?.maxX ?? Number.POSITIVE_INFINITY },
    forbidden,
    areaMm2: areaOf(own),
    stretches: plain.flat(),
    borders,
    edge,
    groupings: groupings.filter((cells) => edge.length + cells.length > 0),
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
      clear.push({ ...stretch, from: at, to: until, materialFrom, materialTo, round: null });
    if (k < hits.length) at = from + hits[k + 1] + SHORT_MM;
  }
  return clear;
}
