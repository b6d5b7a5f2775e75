// How well readings agree with each other, and what that says about the face between them. Each reading is
// foretold from those around it without itself (leave one out): by a curved surface, because wood bows and
// cups, and what is left is scatter. Millimetres.

import type { Readings } from "../job/job.ts";
import { triangulate } from "./scattered.ts";
import { pointsOf } from "./surface.ts";

export interface Scatter {
  /**
   * Standard deviation of a reading from what those around it foretell (1.4826 times the median miss, as for
   * normally distributed misses); 0 where nothing can be foretold.
   */
  readonly sigmaMm: number;
  /** How far a face that is crowned between its readings may stand above the straight lines joining them. */
  readonly sagMm: number;
  /** Readings that disagree with those around them beyond what the scatter explains, worst first. */
  readonly suspects: readonly StrayReading[];
  /** The reading that misses by the most, suspect or not; null where nothing can be foretold. */
  readonly worst: StrayReading | null;
}

/** A reading, and how much higher it is than those around it foretell. */
export interface StrayReading {
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly missMm: number;
}

/**
 * Least and greatest margin, and how many standard deviations of scatter it covers. Common practice, no source:
 * readings that scatter more than the greatest covers are to be taken again, not cut around.
 */
const MARGIN_MM_MIN = 0.5;
const MARGIN_MM_MAX = 3;
export const MARGIN_SIGMAS = 3;
/** A suspect misses by this many standard deviations, and by so much at the least. */
const SUSPECT_SIGMAS = 6;
const SUSPECT_MM_MIN = 1;
/** Of all bulges between readings the margin covers this share. */
const SAG_SHARE = 0.95;

/** How far the real face may stand above the measured one, when the user does not say. */
export function defaultMargin(scatters: readonly Scatter[]): number {
  const wanted = Math.max(MARGIN_MM_MIN, ...scatters.map((s) => MARGIN_SIGMAS * s.sigmaMm + s.sagMm));
  return Math.min(MARGIN_MM_MAX, wanted);
}

/** Scatter of a face's readings. */
export function scatterOf(readings: Readings): Scatter {
  const xyz = pointsOf(readings);
  const { neighbours, edge } = meshOf(xyz);
  const count = xyz.length / 3;
  const miss = new Float64Array(count).fill(Number.NaN);
  const sags: number[] = [];
  for (let k = 0; k < count; k++) {
    // On the rim others stand on one side only: foretelling there is guessing.
    if (edge[k] === 1) continue;
    const fit = fitAround(xyz, k, neighbours);
    if (fit === null) continue;
    miss[k] = xyz[3 * k + 2] - fit[0];
    sags.push(Math.max(0, ...neighbours[k].map((n) => sagTowards(xyz, k, n, fit))));
  }
  const sizes = [...miss].filter((m) => Number.isFinite(m)).map(Math.abs);
  const sigmaMm = 1.4826 * quantile(sizes, 0.5);
  const bound = Math.max(SUSPECT_SIGMAS * sigmaMm, SUSPECT_MM_MIN);
  const suspects = new Map<number, number>();
  for (let k = 0; k < count; k++) {
    const size = Math.abs(miss[k]);
    // A bad reading spoils what those around it are foretold, so only the worst of a neighbourhood is named.
    if (!(size > bound) || neighbours[k].some((n) => Math.abs(miss[n]) > size)) continue;
    const culprit = spoiler(xyz, k, neighbours, edge, bound);
    if (!suspects.has(culprit.reading)) suspects.set(culprit.reading, culprit.missMm);
  }
  const stray = (k: number, missMm: number) => ({
    ...{ x: xyz[3 * k], y: xyz[3 * k + 1], z: xyz[3 * k + 2], missMm },
  });
  const worst = miss.reduce((best, m, k) => (Math.abs(m) > Math.abs(miss[best] ?? 0) ? k : best), -1);
  return {
    sigmaMm,
    sagMm: quantile(sags, SAG_SHARE),
    suspects: [...suspects]
      .map(([k, missMm]) => stray(k, missMm))
      .sort((p, q) => Math.abs(q.missMm) - Math.abs(p.missMm)),
    worst: worst < 0 ? null : stray(worst, miss[worst]),
  };
}

/** Terms of the surface around reading k, without it: a quadric where there are enough readings, else a plane. */
function fitAround(
  xyz: Float64Array,
  k: number,
  neighbours: readonly number[][],
  without = -1,
): Float64Array | null {
  const near = neighbours[k].filter((n) => n !== without);
  const around = new Set([...near, ...neighbours[k].flatMap((n) => neighbours[n])]);
  around.delete(k);
  around.delete(without);
  return leastSquares(xyz, k, [...around], 6) ?? leastSquares(xyz, k, near, 3);
}

/** How far a curved surface stands above the middle of the straight line from reading k to reading n. */
function sagTowards(xyz: Float64Array, k: number, n: number, terms: Float64Array): number {
  if (terms.length < 6) return 0;
  const dx = xyz[3 * n] - xyz[3 * k];
  const dy = xyz[3 * n + 1] - xyz[3 * k + 1];
  return -(terms[3] * dx * dx + terms[4] * dx * dy + terms[5] * dy * dy) / 4;
}

/**
 * Who is to blame when reading k is not as foretold: k itself, or one on the rim beside it, of which nobody
 * foretells anything, when all is well without that one.
 */
function spoiler(
  xyz: Float64Array,
  k: number,
  neighbours: readonly number[][],
  edge: Uint8Array,
  bound: number,
): { reading: number; missMm: number } {
  const missOf = (without: number) =>
    xyz[3 * k + 2] - (fitAround(xyz, k, neighbours, without)?.[0] ?? Number.NaN);
  for (const n of new Set(neighbours[k].flatMap((near) => [near, ...neighbours[near]]))) {
    if (edge[n] === 0 || !(Math.abs(missOf(n)) < bound / 2)) continue;
    const terms = fitAround(xyz, k, neighbours, n);
    if (terms === null) continue;
    const [dx, dy] = [xyz[3 * n] - xyz[3 * k], xyz[3 * n + 1] - xyz[3 * k + 1]];
    const row = [1, dx, dy, dx * dx, dx * dy, dy * dy];
    const height = terms.reduce((sum, term, i) => sum + term * row[i], 0);
    return { reading: n, missMm: xyz[3 * n + 2] - height };
  }
  return { reading: k, missMm: missOf(-1) };
}

function quantile(values: number[], share: number): number {
  if (values.length === 0) return 0;
  values.sort((a, b) => a - b);
  return values[Math.min(values.length - 1, Math.floor(share * values.length))];
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

/**
 * Least squares around reading k through others, weighted by 1 / distance squared: height there, slopes in x
 * and y, and with 6 terms those of x^2, xy, y^2; mm from reading k. Null where the others do not determine it.
 */
function leastSquares(
  xyz: Float64Array,
  k: number,
  others: readonly number[],
  terms: 3 | 6,
): Float64Array | null {
  // A quadric through barely enough readings follows their noise.
  if (others.length < (terms === 6 ? 8 : 3)) return null;
  let reach = 0;
  for (const n of others)
    reach = Math.max(reach, Math.abs(xyz[3 * n] - xyz[3 * k]), Math.abs(xyz[3 * n + 1] - xyz[3 * k + 1]));
  // Normal equations, one row a term, the right-hand side last; lengths in units of the reach.
  const width = terms + 1;
  const system = new Float64Array(terms * width);
  const row = new Float64Array(6);
  row[0] = 1;
  for (const n of others) {
    const x = (xyz[3 * n] - xyz[3 * k]) / reach;
    const y = (xyz[3 * n + 1] - xyz[3 * k + 1]) / reach;
    row[1] = x;
    row[2] = y;
    row[3] = x * x;
    row[4] = x * y;
    row[5] = y * y;
    const weight = 1 / (x * x + y * y);
    for (let i = 0; i < terms; i++) {
      for (let j = 0; j < terms; j++) system[i * width + j] += weight * row[i] * row[j];
      system[i * width + terms] += weight * row[i] * (xyz[3 * n + 2] - xyz[3 * k + 2]);
    }
  }
  const solution = solve(system, terms);
  if (solution === null) return null;
  solution[0] += xyz[3 * k + 2];
  for (let i = 1; i < terms; i++) solution[i] /= i < 3 ? reach : reach * reach;
  return solution;
}

/** Unknowns of a symmetric positive system, by Gauss and Jordan; null when it is singular. */
function solve(system: Float64Array, terms: number): Float64Array | null {
  const width = terms + 1;
  const scale = system[0];
  for (let pivot = 0; pivot < terms; pivot++) {
    const lead = system[pivot * width + pivot];
    if (!(lead > 1e-9 * scale)) return null;
    for (let col = pivot; col <= terms; col++) system[pivot * width + col] /= lead;
    for (let row = 0; row < terms; row++) {
      const factor = system[row * width + pivot];
      if (row === pivot || factor === 0) continue;
      for (let col = pivot; col <= terms; col++)
        system[row * width + col] -= factor * system[pivot * width + col];
    }
  }
  return Float64Array.from({ length: terms }, (_, row) => system[row * width + terms]);
}
