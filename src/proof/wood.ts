// The wood on the bed before a program runs: one map of cells for all pieces, and each piece's part of it.
// Heights are the upper bound of the faces, margin included. Frame coordinates, millimetres.

import { type Box, boxOf, type Grid, insideMask, pitchFor } from "../survey/field.ts";
import { type Stock, stockHeights } from "../survey/stock.ts";
import { ZMap } from "./zmap.ts";

const CELL_MM = 1;
const CELLS_MAX = 24_000_000;

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
}

/** All pieces on the bed, as the map that the cutter will lower. */
export interface Wood {
  readonly map: ZMap;
  readonly parts: readonly Part[];
  readonly highest: number;
}

export function layOut(stocks: readonly Stock[], marginMm: number): Wood {
  const whole = boxOf(stocks.map((stock) => stock.piece.outline));
  const pitchMm = pitchFor(whole, CELL_MM, CELLS_MAX);
  const grid = anchoredGrid(whole, pitchMm);
  const z = new Float32Array(grid.cols * grid.rows).fill(Number.NEGATIVE_INFINITY);
  let highest = Number.NEGATIVE_INFINITY;
  const parts = stocks.map((stock) => {
    const { outline } = stock.piece;
    const own = anchoredGrid(boxOf([outline]), pitchMm);
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
    return { stock, grid: own, col, row, inside, before };
  });
  return { map: new ZMap(grid, z), parts, highest };
}

/** A grid over the box whose samples lie at the middles of cells that every setup shares. */
function anchoredGrid(box: Box, pitchMm: number): Grid {
  const firstCol = Math.floor(box.minX / pitchMm);
  const firstRow = Math.floor(box.minY / pitchMm);
  return {
    x0: (firstCol + 0.5) * pitchMm,
    y0: (firstRow + 0.5) * pitchMm,
    pitchMm,
    cols: Math.ceil(box.maxX / pitchMm) - firstCol,
    rows: Math.ceil(box.maxY / pitchMm) - firstRow,
  };
}
