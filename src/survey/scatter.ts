// How well readings agree with each other, and what that says about the face between them. Each reading is
// foretold from those around it without itself (leave one out): by a curved surface, because wood bows and
// cups, and what is left is scatter. Millimetres.

import type { Readings } from "../job/job.ts";
import { pointsOf, triangulate } from "./surface.ts";

export interface Scatter {
  /**
   * Standard deviation of a reading from what those around it foretell (1.4826 times the median miss, as for
   * normally distributed misses); 0 where nothing can be foretold.
   */
  readonly sigmaMm: number;
  /** How far a face that is crowned between its readings may stand above the straight lines joining them. */
  readonly sagMm: number;
  /** Readings that disagree with those around them beyond what the scatter explains, worst first. */
  readonly suspects: readonly { x: number; y: number; z: number; missMm: number }[];
}

/** Least margin, and how many standard deviations of scatter it covers. Common practice, no source. */
const MARGIN_MM_MIN = 0.5;
const MARGIN_SIGMAS = 3;
/** A suspect misses by this many standard deviations, and by so much at the least. */
const SUSPECT_SIGMAS = 6;
const SUSPECT_MM_MIN = 1;
/** Of all bulges between readings the margin covers this share. */
const SAG_SHARE = 0.95;

/** How far the real face may stand above the measured one, when the user does not say. */
export function defaultMargin(scatters: readonly Scatter[]): number {
  return Math.max(MARGIN_MM_MIN, ...scatters.map((s) => MARGIN_SIGMAS * s.sigmaMm + s.sagMm));
}

/** Scatter of a face's readings. */
export function scatterOf(readings: Readings): Scatter {
  const xyz = pointsOf(readings);
  const { neighbours, edge } = meshOf(xyz);
  const count = xyz.length / 3;
  const miss = new Float64Array(count).fill(Number.NaN);
  const bulges: number[] = [];
  for (let k = 0; k < count; k++) {
    // On the rim others stand on one side only: foretelling there is guessing.
    if (edge[k] === 1) continue;
    const z = xyz[3 * k + 2];
    const flat = foretold(xyz, k, neighbours[k], 3);
    const around = [...new Set([...neighbours[k], ...neighbours[k].flatMap((n) => neighbours[n])])];
    const curved = foretold(
      xyz,
      k,
      around.filter((n) => n !== k),
      6,
    );
    miss[k] = z - (curved ?? flat ?? Number.NaN);
    // Left out, a reading leaves a gap twice as wide as there is between readings, and a bulge four times as high.
    if (flat !== null && curved !== null) bulges.push(Math.max(0, curved - flat) / 4);
  }
  const sizes = [...miss].filter((m) => Number.isFinite(m)).map(Math.abs);
  const sigmaMm = 1.4826 * quantile(sizes, 0.5);
  const bound = Math.max(SUSPECT_SIGMAS * sigmaMm, SUSPECT_MM_MIN);
  const suspects = [];
  for (let k = 0; k < count; k++) {
    const size = Math.abs(miss[k]);
    // A bad reading spoils what its neighbours are foretold, so only the worst of a neighbourhood is named.
    if (size > bound && neighbours[k].every((n) => !(Math.abs(miss[n]) > size)))
      suspects.push({ x: xyz[3 * k], y: xyz[3 * k + 1], z: xyz[3 * k + 2], missMm: miss[k] });
  }
  suspects.sort((a, b) => Math.abs(b.missMm) - Math.abs(a.missMm));
  return { sigmaMm, sagMm: quantile(bulges, SAG_SHARE), suspects };
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
 * Height at reading k by least squares through others, weighted by 1 / distance squared: a plane (3 terms)
 * or a quadric (6 terms). Null where the others do not determine it.
 */
function foretold(xyz: Float64Array, k: number, others: readonly number[], terms: 3 | 6): number | null {
  // A quadric through barely enough readings follows their noise.
  if (others.length < (terms === 6 ? 8 : 3)) return null;
  let reach = 0;
  for (const n of others)
    reach = Math.max(reach, Math.abs(xyz[3 * n] - xyz[3 * k]), Math.abs(xyz[3 * n + 1] - xyz[3 * k + 1]));
  // Normal equations, one row a term, the right-hand side last; lengths in units of the reach.
  const width = terms + 1;
  const system = new Float64Array(terms * width);
  for (const n of others) {
    const x = (xyz[3 * n] - xyz[3 * k]) / reach;
    const y = (xyz[3 * n + 1] - xyz[3 * k + 1]) / reach;
    const row = [1, x, y, x * x, x * y, y * y];
    const weight = 1 / (x * x + y * y);
    for (let i = 0; i < terms; i++) {
      for (let j = 0; j < terms; j++) system[i * width + j] += weight * row[i] * row[j];
      system[i * width + terms] += weight * row[i] * (xyz[3 * n + 2] - xyz[3 * k + 2]);
    }
  }
  const height = firstUnknown(system, terms);
  return height === null ? null : height + xyz[3 * k + 2];
}

/** First unknown of a symmetric positive system by elimination from the last term up; null when singular. */
function firstUnknown(system: Float64Array, terms: number): number | null {
  const width = terms + 1;
  const scale = system[0];
  for (let pivot = terms - 1; pivot >= 0; pivot--) {
    const lead = system[pivot * width + pivot];
    if (!(lead > 1e-9 * scale)) return null;
    for (let row = 0; row < pivot; row++) {
      const factor = system[row * width + pivot] / lead;
      for (let col = 0; col <= terms; col++)
        system[row * width + col] -= factor * system[pivot * width + col];
    }
  }
  return system[terms] / system[0];
}
