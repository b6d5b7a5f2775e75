// Heights left on the bed while a program runs: one height a cell, lowered by the exact area that the
// cutter's disc sweeps. Frame coordinates, millimetres; -Infinity where there is no wood. The disc is
// flat and square to the bed; deflection and worn edges are not modelled.

import type { Grid } from "../survey/field.ts";

/** What one move met. Heights are mm, the volume counts cells times mm. */
export interface Met {
  /** Deepest bite: height before, less the cutting edge's. 0 when nothing was above the edge. */
  bite: number;
  volume: number;
  /** Of a cut: the lowest that a cell was cut down to, +Infinity when none was. */
  lowest: number;
  /** Of a look: least air between the edge and the cells under it, negative in wood, +Infinity over none. */
  air: number;
  /** Of a cut: whether cells on the rim were left standing, as more than `mostMm` would have been taken there. */
  spared: boolean;
}

/** Within this of the rim coordinates' rounding decides what lies under the disc. */
const RIM_MM = 0.01;

export class ZMap {
  readonly grid: Grid;
  readonly z: Float32Array;
  readonly met: Met = {
    bite: 0,
    volume: 0,
    lowest: Number.POSITIVE_INFINITY,
    air: Number.NaN,
    spared: false,
  };
  /** The way under way. */
  private way = { ax: 0, ay: 0, bx: 0, by: 0, radiusMm: 0, mostMm: Number.POSITIVE_INFINITY };

  constructor(grid: Grid, z: Float32Array) {
    this.grid = grid;
    this.z = z;
  }

  /**
   * Takes away what a disc meets on the straight way from a to b at height `zMm`. `cutBefore`: the disc
   * already stood at a, as deep or deeper, so that only what it newly covers need be looked at. What stands more
   * than `mostMm` above the edge is spared on the rim: two ways along one line are not the same after rounding,
   * and what the higher one has left there is no bite of the lower one.
   */
  cutLevel(
    ax: number,
    ay: number,
    bx: number,
    by: number,
    zMm: number,
    radiusMm: number,
    cutBefore: boolean,
    mostMm = Number.POSITIVE_INFINITY,
  ): Met {
    const { grid, met } = this;
    const edge = Math.fround(zMm);
    this.begin(ax, ay, bx, by, radiusMm, mostMm);
    met.bite = 0;
    met.volume = 0;
    if (ay === by) this.cutAlongX(ax, bx, ay, edge, radiusMm, cutBefore);
    else {
      const rowTo = this.lastRow(Math.max(ay, by) + radiusMm);
      for (let row = this.firstRow(Math.min(ay, by) - radiusMm); row <= rowTo; row++) {
        const y = grid.y0 + row * grid.pitchMm;
        if (!this.capsuleSpan(ax, ay, bx, by, radiusMm, y)) continue;
        const [base, from, to] = [row * grid.cols, this.spanFrom, this.spanTo];
        const off = y - ay;
        if (!cutBefore || Math.abs(off) >= radiusMm) {
          this.lower(base + from, base + to, edge);
          continue;
        }
        // What the disc at a covers was cut before; to both sides of it lies what is new.
        const half = Math.sqrt(radiusMm * radiusMm - off * off);
        const coveredFrom = Math.ceil((ax - half - grid.x0) / grid.pitchMm);
        const coveredTo = Math.floor((ax + half - grid.x0) / grid.pitchMm);
        this.lower(base + from, base + Math.min(to, coveredFrom - 1), edge);
        this.lower(base + Math.max(from, Math.min(coveredFrom, to + 1), coveredTo + 1), base + to, edge);
      }
    }
    met.lowest = met.volume > 0 ? zMm : Number.POSITIVE_INFINITY;
    return met;
  }

  /** The same on a way along X, as most rows go: each row of cells takes one root, and no side of a capsule. */
  private cutAlongX(
    ax: number,
    bx: number,
    y: number,
    edge: number,
    radiusMm: number,
    cutBefore: boolean,
  ): void {
    const { x0, y0, pitchMm, cols } = this.grid;
    const rowTo = this.lastRow(y + radiusMm);
    for (let row = this.firstRow(y - radiusMm); row <= rowTo; row++) {
      const off = y0 + row * pitchMm - y;
      const half = Math.sqrt(Math.max(0, radiusMm * radiusMm - off * off));
      const left =
        cutBefore && bx >= ax
          ? Math.floor((ax + half - x0) / pitchMm) + 1
          : Math.ceil((Math.min(ax, bx) - half - x0) / pitchMm);
      const right =
        cutBefore && bx < ax
          ? Math.ceil((ax - half - x0) / pitchMm) - 1
          : Math.floor((Math.max(ax, bx) + half - x0) / pitchMm);
      this.lower(row * cols + Math.max(0, left), row * cols + Math.min(cols - 1, right), edge);
    }
  }

  /** Lowers cells from the first to the last to the edge, adding to what was met. */
  private lower(first: number, last: number, edge: number): void {
    const { z, met } = this;
    let bite = met.bite;
    let volume = 0;
    for (let k = first; k <= last; k++) {
      const over = z[k] - edge;
      if (over > 0) {
        if (over > bite) {
          if (this.spares(k, over)) continue;
          bite = over;
        }
        volume += over;
        z[k] = edge;
      }
    }
    met.bite = bite;
    met.volume += volume;
  }

  private begin(ax: number, ay: number, bx: number, by: number, radiusMm: number, mostMm: number): void {
    const { way } = this;
    way.ax = ax;
    way.ay = ay;
    way.bx = bx;
    way.by = by;
    way.radiusMm = radiusMm;
    way.mostMm = mostMm;
    this.met.spared = false;
  }

  /** Whether a cell is left standing: so much above the edge, and on the rim. */
  private spares(k: number, overMm: number): boolean {
    const { ax, ay, bx, by, radiusMm, mostMm } = this.way;
    if (overMm <= mostMm) return false;
    const { x0, y0, pitchMm, cols } = this.grid;
    const [dx, dy] = [bx - ax, by - ay];
    const [x, y] = [x0 + (k % cols) * pitchMm - ax, y0 + Math.floor(k / cols) * pitchMm - ay];
    const lengthSq = dx * dx + dy * dy;
    const share = lengthSq > 0 ? Math.max(0, Math.min(1, (x * dx + y * dy) / lengthSq)) : 0;
    const [offX, offY] = [x - share * dx, y - share * dy];
    const inside = radiusMm - RIM_MM;
    if (offX * offX + offY * offY < inside * inside) return false;
    this.met.spared = true;
    return true;
  }

  /** As `cutLevel`, on a way that goes from height `az` to `bz`; over each cell the edge's lowest counts. */
  cutSlope(
    ax: number,
    ay: number,
    az: number,
    bx: number,
    by: number,
    bz: number,
    radiusMm: number,
    mostMm = Number.POSITIVE_INFINITY,
  ): Met {
    this.begin(ax, ay, bx, by, radiusMm, mostMm);
    return this.slope(ax, ay, az, bx, by, bz, radiusMm, true);
  }

  /** What the disc would meet on the way, without taking it away. */
  look(ax: number, ay: number, az: number, bx: number, by: number, bz: number, radiusMm: number): Met {
    return this.slope(ax, ay, az, bx, by, bz, radiusMm, false);
  }

  /** Calls `visit` for each row's cells that the disc covers on the way from a to b, until it says true; returns that. */
  anyRow(
    ax: number,
    ay: number,
    bx: number,
    by: number,
    radiusMm: number,
    visit: (row: number, fromCol: number, toCol: number) => boolean,
  ): boolean {
    const rowTo = this.lastRow(Math.max(ay, by) + radiusMm);
    for (let row = this.firstRow(Math.min(ay, by) - radiusMm); row <= rowTo; row++) {
      if (!this.capsuleSpan(ax, ay, bx, by, radiusMm, this.grid.y0 + row * this.grid.pitchMm)) continue;
      if (visit(row, this.spanFrom, this.spanTo)) return true;
    }
    return false;
  }

  private slope(
    ax: number,
    ay: number,
    az: number,
    bx: number,
    by: number,
    bz: number,
    radiusMm: number,
    takes: boolean,
  ): Met {
    const { grid, z, met } = this;
    const dx = bx - ax;
    const dy = by - ay;
    const lengthSq = dx * dx + dy * dy;
    const length = Math.sqrt(lengthSq);
    let bite = 0;
    let volume = 0;
    let lowest = Number.POSITIVE_INFINITY;
    let air = Number.POSITIVE_INFINITY;
    const rowTo = this.lastRow(Math.max(ay, by) + radiusMm);
    for (let row = this.firstRow(Math.min(ay, by) - radiusMm); row <= rowTo; row++) {
      const y = grid.y0 + row * grid.pitchMm;
      if (!this.capsuleSpan(ax, ay, bx, by, radiusMm, y)) continue;
      for (let col = this.spanFrom; col <= this.spanTo; col++) {
        const k = row * grid.cols + col;
        const height = z[k];
        let edge = Math.min(az, bz);
        // Of a cut, only what may be above the edge matters.
        if (takes && height <= edge) continue;
        if (az !== bz && length > 0) {
          // The disc is over the cell from share `near` to `far` of the way.
          const x = grid.x0 + col * grid.pitchMm - ax;
          const along = (x * dx + (y - ay) * dy) / lengthSq;
          const across = (x * dy - (y - ay) * dx) / length;
          const half = Math.sqrt(Math.max(0, radiusMm * radiusMm - across * across)) / length;
          const share = bz < az ? Math.min(1, along + half) : Math.max(0, along - half);
          edge = az + (bz - az) * share;
        }
        const over = height - Math.fround(edge);
        if (-over < air) air = -over;
        if (over <= 0) continue;
        if (over > bite) {
          if (takes && this.spares(k, over)) continue;
          bite = over;
        }
        if (edge < lowest) lowest = edge;
        volume += over;
        if (takes) z[k] = edge;
      }
    }
    met.bite = bite;
    met.volume = volume;
    met.lowest = lowest;
    met.air = air;
    return met;
  }

  private firstRow(y: number): number {
    return Math.max(0, Math.ceil((y - this.grid.y0) / this.grid.pitchMm));
  }

  private lastRow(y: number): number {
    return Math.min(this.grid.rows - 1, Math.floor((y - this.grid.y0) / this.grid.pitchMm));
  }

  // The cells of one row that lie in a capsule, as `capsuleSpan` found them.
  private spanFrom = 0;
  private spanTo = -1;

  /** Finds the cells at height y of the plan within `radius` of the segment from a to b. */
  private capsuleSpan(ax: number, ay: number, bx: number, by: number, radius: number, y: number): boolean {
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    const offA = y - ay;
    if (offA <= radius && offA >= -radius) {
      const half = Math.sqrt(radius * radius - offA * offA);
      low = ax - half;
      high = ax + half;
    }
    const offB = y - by;
    if (offB <= radius && offB >= -radius) {
      const half = Math.sqrt(radius * radius - offB * offB);
      if (bx - half < low) low = bx - half;
      if (bx + half > high) high = bx + half;
    }
    const dy = by - ay;
    if (dy !== 0) {
      // The two straight sides of the capsule, where they pass this y.
      const dx = bx - ax;
      const length = Math.sqrt(dx * dx + dy * dy);
      for (let side = -radius; ; side = radius) {
        const share = (offA - (side * dx) / length) / dy;
        if (share >= 0 && share <= 1) {
          const x = ax + share * dx - (side * dy) / length;
          if (x < low) low = x;
          if (x > high) high = x;
        }
        if (side === radius) break;
      }
    }
    const { x0, pitchMm, cols } = this.grid;
    this.spanFrom = Math.max(0, Math.ceil((low - x0) / pitchMm));
    this.spanTo = Math.min(cols - 1, Math.floor((high - x0) / pitchMm));
    return this.spanTo >= this.spanFrom;
  }
}
