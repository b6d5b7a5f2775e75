// How well readings agree with each other, and what that says about the face between them. Each
// reading is foretold from its neighbours without itself (leave one out); the median miss, scaled to a
// standard deviation (1.4826, for normally distributed misses), is the scatter. Millimetres.

import type { Readings } from "../job/job.ts";
import { pointsOf, triangulate } from "./surface.ts";

export interface Scatter {
  /** Standard deviation of a reading from what its neighbours foretell; 0 where nothing can be foretold. */
  readonly sigmaMm: number;
  /** Readings that disagree with their neighbours beyond what the scatter explains, worst first. */
  readonly suspects: readonly { x: number; y: number; z: number; missMm: number }[];
}

/** Least margin, and how many standard deviations of scatter it covers. Common practice, no source. */
const MARGIN_MM_MIN = 0.5;
const MARGIN_SIGMAS = 3;
/** A suspect misses by this many standard deviations, and by so much at the least. */
const SUSPECT_SIGMAS = 6;
const SUSPECT_MM_MIN = 1;

/** How far the real face may stand above the measured one, when the user does not say. */
export function defaultMargin(scatters: readonly Scatter[]): number {
  return Math.max(MARGIN_MM_MIN, ...scatters.map((s) => MARGIN_SIGMAS * s.sigmaMm));
}

/** Scatter of a face's readings. */
export function scatterOf(readings: Readings): Scatter {
  const xyz = pointsOf(readings);
  const { neighbours, edge } = meshOf(xyz);
  const count = xyz.length / 3;
  const miss = new Float64Array(count).fill(Number.NaN);
  for (let k = 0; k < count; k++) {
    // On the rim neighbours stand on one side only: foretelling there is guessing.
    if (edge[k] === 0) miss[k] = xyz[3 * k + 2] - foretold(xyz, k, neighbours[k]);
  }
  const sizes = [...miss].filter((m) => Number.isFinite(m)).map(Math.abs);
  if (sizes.length === 0) return { sigmaMm: 0, suspects: [] };
  sizes.sort((a, b) => a - b);
  const sigmaMm = 1.4826 * sizes[Math.floor(sizes.length / 2)];
  const bound = Math.max(SUSPECT_SIGMAS * sigmaMm, SUSPECT_MM_MIN);
  const suspects = [];
  for (let k = 0; k < count; k++) {
    const size = Math.abs(miss[k]);
    // A bad reading spoils what its neighbours are foretold, so only the worst of a neighbourhood is named.
    if (size > bound && neighbours[k].every((n) => !(Math.abs(miss[n]) > size)))
      suspects.push({ x: xyz[3 * k], y: xyz[3 * k + 1], z: xyz[3 * k + 2], missMm: miss[k] });
  }
  suspects.sort((a, b) => Math.abs(b.missMm) - Math.abs(a.missMm));
  return { sigmaMm, suspects };
}

function meshOf(xyz: Float64Array): { neighbours: number[][]; edge: Uint8Array } {
  const { triangles, halfedges } = triangulate(xyz);
  const sets = Array.from({ length: xyz.length / 3 }, () => new Set<number>());
  const edge = new Uint8Array(sets.length).fill(1);
  for (let e = 0; e < triangles.length; e++) {
    const a = triangles[e];
    const b = triangles[e % 3 === 2 ? e - 2 : e + 1];
    sets[a].add(b);
    sets[b].add(a);
    edge[a] = 0;
  }
  for (let e = 0; e < triangles.length; e++)
    if (halfedges[e] < 0) {
      edge[triangles[e]] = 1;
      edge[triangles[e % 3 === 2 ? e - 2 : e + 1]] = 1;
    }
  return { neighbours: sets.map((s) => [...s]), edge };
}

/** Height at reading k from the plane through its neighbours, fitted with weights 1 / distance squared. */
function foretold(xyz: Float64Array, k: number, neighbours: readonly number[]): number {
  let [s, sx, sy, sz, sxx, sxy, syy, sxz, syz] = [0, 0, 0, 0, 0, 0, 0, 0, 0];
  for (const n of neighbours) {
    const x = xyz[3 * n] - xyz[3 * k];
    const y = xyz[3 * n + 1] - xyz[3 * k + 1];
    const z = xyz[3 * n + 2];
    const w = 1 / (x * x + y * y);
    s += w;
    sx += w * x;
    sy += w * y;
    sz += w * z;
    sxx += w * x * x;
    sxy += w * x * y;
    syy += w * y * y;
    sxz += w * x * z;
    syz += w * y * z;
  }
  // Cramer's rule for the plane's height at the origin, where reading k lies.
  const det = s * (sxx * syy - sxy * sxy) - sx * (sx * syy - sxy * sy) + sy * (sx * sxy - sxx * sy);
  const top = sz * (sxx * syy - sxy * sxy) - sx * (sxz * syy - sxy * syz) + sy * (sxz * sxy - sxx * syz);
  return Math.abs(det) > 1e-9 * s * (sxx + syy) ** 2 ? top / det : Number.NaN;
}
