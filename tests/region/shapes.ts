// Shapes for tests, and plain answers about them that share no code with src: areas by the shoelace
// formula, inside by counting crossings, distances to edges one by one. Millimetres; rings as in src,
// flat `[x0, y0, ...]`, not closed, counter-clockwise.

import fc from "fast-check";
import type { Ring } from "../../src/job/job.ts";

export function ringOf(...corners: readonly (readonly [number, number])[]): Ring {
  return Float64Array.from(corners.flat());
}

export function rectangle(x0: number, y0: number, x1: number, y1: number): Ring {
  return ringOf([x0, y0], [x1, y0], [x1, y1], [x0, y1]);
}

/** A regular polygon of `corners` on a circle. */
export function polygon(x: number, y: number, radius: number, corners: number): Ring {
  const ring = new Float64Array(2 * corners);
  for (let k = 0; k < corners; k++) {
    ring[2 * k] = x + radius * Math.cos((2 * Math.PI * k) / corners);
    ring[2 * k + 1] = y + radius * Math.sin((2 * Math.PI * k) / corners);
  }
  return ring;
}

export function reversed(ring: Ring): Ring {
  const back = new Float64Array(ring.length);
  for (let k = 0; k < ring.length; k += 2) {
    back[k] = ring[ring.length - 2 - k];
    back[k + 1] = ring[ring.length - 1 - k];
  }
  return back;
}

/** The same ring, begun at another of its corners. */
export function begunAt(ring: Ring, corner: number): Ring {
  const at = 2 * (corner % (ring.length / 2));
  return Float64Array.from([...ring.slice(at), ...ring.slice(0, at)]);
}

/** Shoelace; positive when counter-clockwise. */
export function areaOfRing(ring: Ring): number {
  let twice = 0;
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2)
    twice += (ring[p] - ring[0]) * (ring[k + 1] - ring[1]) - (ring[k] - ring[0]) * (ring[p + 1] - ring[1]);
  return twice / 2;
}

export function areaOfRings(rings: readonly Ring[]): number {
  return rings.reduce((sum, ring) => sum + areaOfRing(ring), 0);
}

export function perimeterOf(rings: readonly Ring[]): number {
  let length = 0;
  for (const ring of rings)
    for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2)
      length += Math.hypot(ring[k] - ring[p], ring[k + 1] - ring[p + 1]);
  return length;
}

/** Whether an odd number of the rings holds (x, y). */
export function isInside(rings: readonly Ring[], x: number, y: number): boolean {
  let inside = false;
  for (const ring of rings)
    for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
      const [ax, ay, bx, by] = [ring[p], ring[p + 1], ring[k], ring[k + 1]];
      if (ay > y !== by > y && x < ax + ((bx - ax) * (y - ay)) / (by - ay)) inside = !inside;
    }
  return inside;
}

/** Distance from (x, y) to the nearest edge of the rings, from within or without. */
export function distanceToEdges(rings: readonly Ring[], x: number, y: number): number {
  let least = Number.POSITIVE_INFINITY;
  for (const ring of rings)
    for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2)
      least = Math.min(least, distanceToSegment(x, y, ring[p], ring[p + 1], ring[k], ring[k + 1]));
  return least;
}

/** Distance from (x, y) to the area the rings enclose; 0 inside. */
export function distanceToArea(rings: readonly Ring[], x: number, y: number): number {
  return isInside(rings, x, y) ? 0 : distanceToEdges(rings, x, y);
}

export function distanceToSegment(
  x: number,
  y: number,
  ax: number,
  ay: number,
  bx: number,
  by: number,
): number {
  const [dx, dy] = [bx - ax, by - ay];
  const length = dx * dx + dy * dy;
  const t = length > 0 ? Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / length)) : 0;
  const [px, py] = [x - ax - t * dx, y - ay - t * dy];
  return Math.sqrt(px * px + py * py);
}

/** Places along the rings, `per` on each edge, its first corner among them. */
export function placesAlong(rings: readonly Ring[], per: number): [number, number][] {
  const places: [number, number][] = [];
  for (const ring of rings)
    for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2)
      for (let i = 0; i < per; i++) {
        const t = i / per;
        places.push([ring[p] + t * (ring[k] - ring[p]), ring[p + 1] + t * (ring[k + 1] - ring[p + 1])]);
      }
  return places;
}

/** Seeded numbers, evenly spread in [0, 1) (mulberry32, public domain). */
export function dice(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** Normally distributed numbers of standard deviation 1 (Box and Muller). */
export function bell(seed: number): () => number {
  const next = dice(seed);
  return () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
}

/** Star-shaped about a middle, mostly concave; never crosses itself, by construction. */
export function starRing(size = 300, cornersMax = 14): fc.Arbitrary<Ring> {
  return fc
    .record({
      x: fc.double({ min: -size, max: size, noNaN: true }),
      y: fc.double({ min: -size, max: size, noNaN: true }),
      radii: fc.array(fc.double({ min: 0.15 * size, max: size, noNaN: true }), {
        minLength: 4,
        maxLength: cornersMax,
      }),
      turn: fc.double({ min: 0, max: 6, noNaN: true }),
    })
    .map(({ x, y, radii, turn }) => {
      const ring = new Float64Array(2 * radii.length);
      radii.forEach((radius, k) => {
        const angle = turn + (2 * Math.PI * k) / radii.length;
        ring[2 * k] = x + radius * Math.cos(angle);
        ring[2 * k + 1] = y + radius * Math.sin(angle);
      });
      return ring;
    });
}

/** A comb along X: teeth and gaps of many widths and lengths, some of them next to nothing. */
export function combRing(size = 300): fc.Arbitrary<Ring> {
  const length = fc.double({ min: 0.02 * size, max: size, noNaN: true });
  return fc
    .record({
      x: fc.double({ min: -size, max: size, noNaN: true }),
      y: fc.double({ min: -size, max: size, noNaN: true }),
      back: length,
      teeth: fc.array(fc.record({ wide: length, gap: length, long: length }), { minLength: 1, maxLength: 5 }),
    })
    .map(({ x, y, back, teeth }) => {
      // Along the teeth from right to left, back along the straight side.
      const upper: number[] = [];
      let at = x;
      for (const { wide, gap, long } of teeth) {
        upper.push(at, y + back, at, y + back + long, at + wide, y + back + long, at + wide, y + back);
        at += wide + gap;
      }
      const corners: number[] = [x, y, upper.at(-2)!, y];
      for (let k = upper.length - 2; k >= 0; k -= 2) corners.push(upper[k], upper[k + 1]);
      return Float64Array.from(corners);
    });
}

/** An outline by stations along X, as measured with a tape: near and far edge wander by themselves. */
export function stationRing(size = 300): fc.Arbitrary<Ring> {
  return fc
    .record({
      x: fc.double({ min: -size, max: size, noNaN: true }),
      y: fc.double({ min: -size, max: size, noNaN: true }),
      stations: fc.array(
        fc.record({
          step: fc.double({ min: 0.05 * size, max: 0.5 * size, noNaN: true }),
          low: fc.double({ min: -0.5 * size, max: 0.5 * size, noNaN: true }),
          wide: fc.double({ min: 0.05 * size, max: 0.6 * size, noNaN: true }),
        }),
        { minLength: 2, maxLength: 8 },
      ),
    })
    .map(({ x, y, stations }) => {
      const near: number[] = [];
      const far: number[] = [];
      let at = x;
      for (const { step, low, wide } of stations) {
        near.push(at, y + low);
        far.unshift(at, y + low + wide);
        at += step;
      }
      return Float64Array.from([...near, ...far]);
    });
}

export function anyRing(size = 300): fc.Arbitrary<Ring> {
  return fc.oneof(starRing(size), combRing(size), stationRing(size));
}
