// Tracks the tests of this folder write and read.

import fc from "fast-check";
import { Kind, Track } from "../../src/motion/track.ts";

interface Arc {
  readonly step: "arc";
  readonly clockwise: boolean;
  readonly radius: number;
  /** Direction from the centre to the start, and how far it turns; degrees. */
  readonly from: number;
  readonly sweep: number;
  readonly rise: number;
  readonly feed: number;
}

interface Straight {
  readonly step: "straight";
  readonly rapid: boolean;
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly feed: number;
}

/** One step of a random track, in mm. */
type Step = Straight | Arc | { readonly step: "dwell" | "speed"; readonly value: number };

const coordinate = fc.oneof(
  fc.double({ min: -3000, max: 3000, noNaN: true }),
  fc.integer({ min: -20, max: 20 }).map((n) => n / 2000),
  fc.integer({ min: -3000, max: 3000 }),
);
const feed = fc.oneof(fc.constantFrom(4500, 6000), fc.double({ min: 1, max: 20_000, noNaN: true }));
const step: fc.Arbitrary<Step> = fc.oneof(
  {
    weight: 4,
    arbitrary: fc.record({
      step: fc.constant("straight" as const),
      rapid: fc.boolean(),
      x: coordinate,
      y: coordinate,
      z: coordinate,
      feed,
    }),
  },
  {
    weight: 3,
    arbitrary: fc.record({
      step: fc.constant("arc" as const),
      clockwise: fc.boolean(),
      radius: fc.oneof(
        fc.double({ min: 0.1, max: 2, noNaN: true }),
        fc.double({ min: 2, max: 2000, noNaN: true }),
      ),
      from: fc.double({ min: 0, max: 360, noNaN: true }),
      sweep: fc.oneof(
        fc.double({ min: 0.001, max: 360, noNaN: true }),
        fc.constantFrom(90, 180, 270, 359.9999, 360, 0.01),
      ),
      rise: fc.constantFrom(0, 0, 0, -0.5, 3),
      feed,
    }),
  },
  {
    weight: 1,
    arbitrary: fc.record({
      step: fc.constantFrom("dwell" as const, "speed" as const),
      value: fc.integer({ min: 1, max: 20_000 }),
    }),
  },
);

/** Tracks as a planner makes them: Z up first, X and Y, spindle on, then anything. */
export const anyTrack: fc.Arbitrary<Track> = fc.array(step, { maxLength: 40 }).map((steps) => {
  const track = startedTrack();
  for (const s of steps) {
    const i = track.count - 1;
    const [x, y, z] = [track.x[i], track.y[i], track.z[i]];
    if (s.step === "arc") pushArc(track, s);
    else if (s.step === "straight")
      track.push(s.rapid ? Kind.rapid : Kind.cut, s.x, s.y, s.z, s.rapid ? NaN : s.feed);
    else if (s.step === "dwell") track.push(Kind.dwell, x, y, z, s.value / 8);
    else track.push(Kind.spindle, x, y, z, s.value);
  }
  return track;
});

function pushArc(track: Track, arc: Arc): void {
  const [x, y, z] = [track.x, track.y, track.z].map((column) => column[track.count - 1]);
  const start = (arc.from * Math.PI) / 180;
  const centreX = x - arc.radius * Math.cos(start);
  const centreY = y - arc.radius * Math.sin(start);
  const end = start + ((arc.clockwise ? -1 : 1) * arc.sweep * Math.PI) / 180;
  const endX = arc.sweep === 360 ? x : centreX + arc.radius * Math.cos(end);
  const endY = arc.sweep === 360 ? y : centreY + arc.radius * Math.sin(end);
  const k = track.push(
    arc.clockwise ? Kind.arcClockwise : Kind.arcCounter,
    endX,
    endY,
    z + arc.rise,
    arc.feed,
  );
  track.centreX[k] = centreX;
  track.centreY[k] = centreY;
}

/** Z to 90, to (-40, 10), spindle on. */
export function startedTrack(): Track {
  const track = new Track(64);
  track.push(Kind.rapid, NaN, NaN, 90);
  track.push(Kind.rapid, -40, 10, 90);
  track.push(Kind.spindle, -40, 10, 90, 14_000);
  return track;
}

/** Points along motion i of a track, at equal shares of its way, both ends included. */
export function pointsOnMove(track: Track, i: number, count: number): { x: number; y: number; z: number }[] {
  const [x0, y0, z0] = [track.x[i - 1], track.y[i - 1], track.z[i - 1]];
  const [x1, y1, z1] = [track.x[i], track.y[i], track.z[i]];
  const [cx, cy] = [track.centreX[i], track.centreY[i]];
  const sign = track.kind[i] === Kind.arcClockwise ? -1 : 1;
  const start = Math.atan2(y0 - cy, x0 - cx);
  const startMm = Math.hypot(x0 - cx, y0 - cy);
  const endMm = Math.hypot(x1 - cx, y1 - cy);
  let sweep = (Math.atan2(y1 - cy, x1 - cx) - start) * sign;
  while (sweep <= 1e-9) sweep += 2 * Math.PI;
  while (sweep > 2 * Math.PI + 1e-9) sweep -= 2 * Math.PI;
  return Array.from({ length: count }, (_, k) => {
    const t = k / (count - 1);
    const z = z0 + (z1 - z0) * t;
    if (track.kind[i] < Kind.arcClockwise) return { x: x0 + (x1 - x0) * t, y: y0 + (y1 - y0) * t, z };
    const mm = startMm + (endMm - startMm) * t;
    return {
      x: cx + mm * Math.cos(start + sign * sweep * t),
      y: cy + mm * Math.sin(start + sign * sweep * t),
      z,
    };
  });
}
