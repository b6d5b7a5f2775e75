// Outlines in the frame of the grain: u along it, v across it, to the left. Millimetres.

import type { Ring } from "../job/job.ts";

export interface GrainFrame {
  /** The ring in u, v. */
  toGrain(ring: Ring): Ring;
  /** The place (u, v) as the piece lies. */
  toLay(u: number, v: number): { x: number; y: number };
}

export function grainFrame(grainRad: number): GrainFrame {
  const cos = Math.cos(grainRad);
  const sin = Math.sin(grainRad);
  return {
    toGrain: (ring) =>
      ring.map((_, k) =>
        k % 2 === 0 ? ring[k] * cos + ring[k + 1] * sin : ring[k] * cos - ring[k - 1] * sin,
      ),
    toLay: (u, v) => ({ x: u * cos - v * sin, y: u * sin + v * cos }),
  };
}

/**
 * The stretches of a straight line that lie inside the ring, in order: the line u = `at` across the grain (then
 * in v), or v = `at` along it (in u).
 */
export function spansAt(ring: Ring, at: number, direction: "along" | "across"): [number, number][] {
  const [fixed, free] = direction === "across" ? [0, 1] : [1, 0];
  const crossings: number[] = [];
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
    const [from, to] = [ring[p + fixed], ring[k + fixed]];
    // Each edge counts without its upper end, or a corner would count twice.
    if (from > at === to > at) continue;
    crossings.push(ring[p + free] + ((ring[k + free] - ring[p + free]) * (at - from)) / (to - from));
  }
  crossings.sort((p, q) => p - q);
  return Array.from({ length: crossings.length >> 1 }, (_, k) => [crossings[2 * k], crossings[2 * k + 1]]);
}
