// The wood on the bed before a program runs: one map of cells for all pieces, and each piece's part of it.
// Heights are the upper bound of the faces, margin included. Frame coordinates, millimetres.

import { PlanError } from "../errors.ts";
import type { Setup } from "../job/job.ts";
import { type Box, boxOf, type Grid, insideMask, pitchFor } from "../survey/field.ts";
import { type Stock, stockHeights } from "../survey/stock.ts";
import { type WoodHeights, woodHeights } from "../survey/timber.ts";
import { formatLength, type Units } from "../units.ts";
import { ZMap } from "./zmap.ts";

const CELL_MM = 1;
const CELLS_MAX = 24_000_000;
/** On wider cells the proof would not see what it must. */
const CELL_MAX_MM = 2;

/** One piece's part of the map. */
export interface Part {
  readonly stock: Stock;
  readonly grid: Grid;
  /** Where the part's first sample lies in the map. */
  readonly col: number;
  readonly row: number;
  readonly inside: Uint8Array;
  /** Heights before anything is cut, margin included. */
  readonly before: Float32Array;
  /** Where the wood lies in the resin; null: it is all wood. */
  readonly wood: WoodHeights | null;
}

/** All pieces on the bed, as the map that the cutter will lower. */
export interface Wood {
  readonly map: ZMap;
  readonly parts: readonly Part[];
  readonly highest: number;
}

/** Throws PlanError where the cells that fit in memory would be too wide. */
export function checkRoom(stocks: readonly Stock[], setup: Setup, units: Units): void {
  const box = boxOf(stocks.map((stock) => stock.piece.outline));
  const pitchMm = pitchFor(box, CELL_MM, CELLS_MAX);
  if (pitchMm <= CELL_MAX_MM) return;
  const length = (mm: number) => formatLength(mm, units);
  throw new PlanError(
    "too-large",
    setup.id,
    `the pieces lie on ${length(box.maxX - box.minX)} by ${length(box.maxY - box.minY)}: to fit in memory the proof would ` +
      `need cells of ${length(Math.ceil(pitchMm * 10) / 10)}, and on cells over ${length(CELL_MAX_MM)} it cannot be trusted; ` +
      `cut fewer pieces in one setup, or lay them nearer together`,
  );
}

export function layOut(stocks: readonly Stock[], marginMm: number): Wood {
  const { grid, anchor } = cellsFor(stocks);
  const { pitchMm } = grid;
  const z = new Float32Array(grid.cols * grid.rows).fill(Number.NEGATIVE_INFINITY);
  let highest = Number.NEGATIVE_INFINITY;
  const parts = stocks.map((stock) => {
    const { outline } = stock.piece;
    const own = anchoredGrid(boxOf([outline]), pitchMm, anchor);
    const col = Math.round((own.x0 - grid.x0) / pitchMm);
    const row = Math.round((own.y0 - grid.y0) / pitchMm);
    const inside = insideMask([outline], own);
    const before = stockHeights(stock, marginMm, own);
    for (let j = 0, k = 0; j < own.rows; j++)
      for (let i = 0, at = (row + j) * grid.cols + col; i < own.cols; i++, k++, at++)
        if (inside[k] === 1) {
          z[at] = before[k];
          if (before[k] > highest) highest = before[k];
        }
    const wood = stock.timbers && woodHeights(stock.timbers, own);
    return { stock, grid: own, col, row, inside, before, wood };
  });
  return { map: new ZMap(grid, z), parts, highest };
}

/** The wood as it stands by now: an earlier lay may have cut its highest place. */
export function standingWood(wood: Wood): Wood {
  let highest = Number.NEGATIVE_INFINITY;
  for (const z of wood.map.z) if (z > highest) highest = z;
  return { ...wood, highest };
}

/** The cells that hold all pieces, and where in them their samples lie. */
export function cellsFor(stocks: readonly Stock[]): {
  readonly grid: Grid;
  readonly anchor: readonly [number, number];
} {
  const whole = boxOf(stocks.map((stock) => stock.piece.outline));
  const pitchMm = pitchFor(whole, CELL_MM, CELLS_MAX);
  const anchor = anchorOf(stocks, pitchMm);
  return { grid: anchoredGrid(whole, pitchMm, anchor), anchor };
}

/**
 * Where the samples of all grids lie, as shares of a cell: with the samples of what was cut before, which after
 * turning over are no longer at the middles of the cells that setups share.
 */
function anchorOf(stocks: readonly Stock[], pitchMm: number): readonly [number, number] {
  const cut = stocks.map(({ up, down }) => up.cut ?? down.cut).find((field) => field !== null);
  if (!cut || Math.abs(cut.pitchMm - pitchMm) > 1e-9) return [0.5, 0.5];
  const share = (at: number) => at / pitchMm - Math.floor(at / pitchMm);
  return [share(cut.x0), share(cut.y0)];
}

/** A grid over the box with its samples at the anchor's shares of a cell. */
function anchoredGrid(box: Box, pitchMm: number, [shareX, shareY]: readonly [number, number]): Grid {
  const firstCol = Math.floor(box.minX / pitchMm - shareX + 0.5);
  const firstRow = Math.floor(box.minY / pitchMm - shareY + 0.5);
  return {
    x0: (firstCol + shareX) * pitchMm,
    y0: (firstRow + shareY) * pitchMm,
    pitchMm,
    cols: Math.ceil(box.maxX / pitchMm - shareX + 0.5) - firstCol,
    rows: Math.ceil(box.maxY / pitchMm - shareY + 0.5) - firstRow,
  };
}
