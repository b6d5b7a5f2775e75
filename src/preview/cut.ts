// The cut of a track on a map of heights, entry by entry and in parts of entries; where the cutter is in them.
// As the proof runs it, without its checks. Frame coordinates, millimetres.

import { arcSweepRad } from "../motion/arc.ts";
import { isMotion, Kind, type Track } from "../motion/track.ts";
import type { ZMap } from "../proof/zmap.ts";

/** A track in its frame. */
export interface Motion {
  readonly track: Columns;
  readonly zeroMm: { readonly x: number; readonly y: number; readonly z: number };
  readonly radiusMm: number;
}

type Columns = Pick<Track, "kind" | "x" | "y" | "z" | "centreX" | "centreY" | "count">;

/** Chords of arcs leave the arc by at most this. */
const SAGITTA_MM = 0.01;

/** Cuts entries of a motion out of a map; knows which of them the map has had. */
export class Cut {
  readonly map: ZMap;
  /** Entries before this one are cut, of it the share. */
  entry = 0;
  share = 0;
  private readonly motion: Motion;
  /** Whether the disc stands over nothing higher than itself. */
  private hasCut = false;

  constructor(motion: Motion, map: ZMap) {
    this.motion = motion;
    this.map = map;
  }

  /** Takes up the heights that were left before an entry. */
  restart(entry: number, heights: Float32Array): void {
    this.map.z.set(heights);
    this.entry = entry;
    this.share = 0;
    this.hasCut = false;
  }

  /** Goes on to where the entries before one are cut, and of that one a share. */
  goOn(entry: number, share: number): void {
    if (this.share > 0 && this.entry < entry) {
      this.part(this.entry, this.share, 1);
      this.entry++;
      this.share = 0;
    }
    while (this.entry < entry) this.next();
    if (share > this.share) {
      this.part(entry, this.share, share);
      this.share = share;
    }
  }

  /** Cuts the next entry whole; returns the volume it takes, in cells times mm. */
  next(): number {
    return this.part(this.entry++, 0, 1);
  }

  private part(k: number, from: number, to: number): number {
    const { track } = this.motion;
    const kind = track.kind[k];
    if (!isMotion(kind)) return 0;
    if (kind === Kind.rapid || k === 0) {
      this.hasCut = false;
      return 0;
    }
    if (kind === Kind.cut) return this.straight(k, from, to);
    const steps = chordsOf(track, k);
    let volume = 0;
    for (let step = Math.floor(from * steps); step < Math.ceil(to * steps); step++)
      volume += this.straight(k, Math.max(from, step / steps), Math.min(to, (step + 1) / steps));
    return volume;
  }

  private straight(k: number, from: number, to: number): number {
    const { track, zeroMm, radiusMm } = this.motion;
    // From where nobody knows, nothing is cut.
    if (Number.isNaN(track.x[k - 1] + track.y[k - 1] + track.z[k - 1])) return 0;
    const a = placeIn(track, k, from);
    const b = placeIn(track, k, to);
    const [ax, ay, az] = [a.x + zeroMm.x, a.y + zeroMm.y, a.z + zeroMm.z];
    const [bx, by, bz] = [b.x + zeroMm.x, b.y + zeroMm.y, b.z + zeroMm.z];
    const { map, hasCut } = this;
    this.hasCut = true;
    return az === bz
      ? map.cutLevel(ax, ay, bx, by, bz, radiusMm, hasCut).volume
      : map.cutSlope(ax, ay, az, bx, by, bz, radiusMm).volume;
  }
}

/** The place in an entry of which a share is done, program coordinates; NaN until the program has given it. */
export function placeIn(
  { kind, x, y, z, centreX, centreY }: Columns,
  k: number,
  share: number,
): { x: number; y: number; z: number } {
  if (k === 0 || share >= 1 || !isMotion(kind[k])) return { x: x[k], y: y[k], z: z[k] };
  const between = (a: number, b: number) => (Number.isNaN(a) ? b : a + (b - a) * share);
  const height = between(z[k - 1], z[k]);
  if (kind[k] <= Kind.cut) return { x: between(x[k - 1], x[k]), y: between(y[k - 1], y[k]), z: height };
  const [cx, cy] = [centreX[k], centreY[k]];
  const clockwise = kind[k] === Kind.arcClockwise;
  const sweep = arcSweepRad(x[k - 1], y[k - 1], x[k], y[k], cx, cy, clockwise) * share;
  const angle = Math.atan2(y[k - 1] - cy, x[k - 1] - cx) + (clockwise ? -sweep : sweep);
  const radius = Math.sqrt((x[k - 1] - cx) ** 2 + (y[k - 1] - cy) ** 2);
  return { x: cx + radius * Math.cos(angle), y: cy + radius * Math.sin(angle), z: height };
}

/** In how many chords an arc is run, and drawn. */
export function chordsOf(
  { kind, x, y, centreX, centreY }: Columns,
  k: number,
  sagittaMm = SAGITTA_MM,
): number {
  if (kind[k] <= Kind.cut || k === 0) return 1;
  const [cx, cy] = [centreX[k], centreY[k]];
  const sweep = arcSweepRad(x[k - 1], y[k - 1], x[k], y[k], cx, cy, kind[k] === Kind.arcClockwise);
  const radius = Math.sqrt((x[k - 1] - cx) ** 2 + (y[k - 1] - cy) ** 2);
  const step = 2 * Math.acos(Math.max(0, 1 - sagittaMm / Math.max(radius, sagittaMm)));
  const chords = Math.ceil(sweep / step);
  return chords >= 1 ? Math.min(chords, 10_000) : 1;
}
