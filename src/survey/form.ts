// The form of a face in the words of the trade. Cup: the greatest rise over (or fall under) a straightedge from edge
// to edge across the grain; bow: the same along it; twist: how far one corner is off the plane of the other three.
// Millimetres.

import type { Ring } from "../job/job.ts";
import { boxOf } from "./field.ts";
import { type GrainFrame, grainFrame, spansAt } from "./grain.ts";
import { type Corner, planeThrough } from "./seats.ts";

export interface Rise {
  /** Never negative. */
  readonly riseMm: number;
  /** Whether the middle stands above the edges or below them. */
  readonly shape: "crowned" | "hollow";
}

export interface Form {
  readonly cup: Rise;
  readonly bow: Rise;
  readonly twistMm: number;
}

/** Straightedges laid across a face and along it, and places looked at under each. */
const LINES = 121;
const PLACES = 121;
/** Corners that decide a plane this much less surely than the others do not count. */
const WEIGHT_SHARE = 1 / 3;

/** Height of the face at a place; asked for some 30,000 times. */
export type HeightAt = (x: number, y: number) => number;

export function formOf(faceAt: HeightAt, outline: Ring, grainRad: number): Form {
  const frame = grainFrame(grainRad);
  const turned = frame.toGrain(outline);
  return {
    cup: greatestRise(faceAt, turned, frame, "across"),
    bow: greatestRise(faceAt, turned, frame, "along"),
    twistMm: twistOf(faceAt, turned, frame),
  };
}

function greatestRise(faceAt: HeightAt, ring: Ring, frame: GrainFrame, direction: "along" | "across"): Rise {
  const box = boxOf([ring]);
  const [from, to] = direction === "across" ? [box.minX, box.maxX] : [box.minY, box.maxY];
  let greatest = 0;
  for (let line = 0; line < LINES; line++) {
    // The outermost lie just inside, where there is still a face under them.
    const at = from + (to - from) * Math.min(1 - 1e-9, Math.max(1e-9, line / (LINES - 1)));
    const heightAt = (along: number) => {
      const { x, y } = direction === "across" ? frame.toLay(at, along) : frame.toLay(along, at);
      return faceAt(x, y);
    };
    for (const [start, end] of spansAt(ring, at, direction)) {
      const first = heightAt(start);
      const last = heightAt(end);
      for (let place = 1; place + 1 < PLACES; place++) {
        const share = place / (PLACES - 1);
        const rise = heightAt(start + share * (end - start)) - (first + share * (last - first));
        if (Math.abs(rise) > Math.abs(greatest)) greatest = rise;
      }
    }
  }
  return { riseMm: Math.abs(greatest), shape: greatest > 0 ? "crowned" : "hollow" };
}

/** The outline's corners: its farthest points along the grain's diagonals. Of corners not alike the worst counts. */
function twistOf(faceAt: HeightAt, ring: Ring, frame: GrainFrame): number {
  const box = boxOf([ring]);
  const corner = (su: 1 | -1, sv: 1 | -1): Corner => {
    let most = Number.NEGATIVE_INFINITY;
    let at = 0;
    for (let k = 0; k < ring.length; k += 2) {
      const far = (su * ring[k]) / (box.maxX - box.minX) + (sv * ring[k + 1]) / (box.maxY - box.minY);
      if (far > most) {
        most = far;
        at = k;
      }
    }
    const { x, y } = frame.toLay(ring[at], ring[at + 1]);
    return [x, y, faceAt(x, y)];
  };
  const corners = [corner(-1, -1), corner(1, -1), corner(1, 1), corner(-1, 1)];
  // Each weighs as the triangle of the others; where they weigh little they hardly say where the plane lies.
  const others = corners.map((_, k) => {
    const rest = corners.filter((_, other) => other !== k);
    return [rest[0], rest[1], rest[2]] as const;
  });
  const weights = others.map(([p, q, r]) =>
    Math.abs((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])),
  );
  const least = Math.max(WEIGHT_SHARE * Math.max(...weights), Number.MIN_VALUE);
  return corners.reduce((worst, [x, y, z], k) => {
    if (weights[k] < least) return worst;
    const { a, b, c } = planeThrough(others[k]);
    return Math.max(worst, Math.abs(z - (a * x + b * y + c)));
  }, 0);
}
