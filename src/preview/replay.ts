// A setup's wood at any time of its program: the cut is run on the measured face up to that moment. Snapshots
// along the way keep every moment near. Frame coordinates, millimetres, seconds of machine time.

import type { Machine } from "../job/job.ts";
import { arcSweepRad } from "../motion/arc.ts";
import { trackTimes } from "../motion/clock.ts";
import { isMotion, Kind } from "../motion/track.ts";
import { ZMap } from "../proof/zmap.ts";
import { type SetupScene, trackOf } from "./scene.ts";

/** Where the cutter is at a moment, in program coordinates, and how far the cut has come. */
export interface Moment {
  readonly seconds: number;
  /** The entry under way, and how much of it is done. */
  readonly entry: number;
  readonly share: number;
  readonly x: number;
  readonly y: number;
  readonly z: number;
  /** Share of all material that the program takes; 0 while that is not known. */
  readonly taken: number;
}

const SNAPSHOTS = 40;
/** Chords of arcs leave the arc by at most this. */
const SAGITTA_MM = 0.01;
/** What a move costs beyond the cells it touches, in cells. */
const MOVE_CELLS = 60;

export class Replay {
  /** Seconds from the start to the end of each entry. */
  readonly ends: Float64Array;
  readonly total: number;
  /** Heights now; the same array all the time. Null: there is no wood. */
  readonly heights: Float32Array | null;
  private readonly scene: SetupScene;
  private readonly map: ZMap | null;
  private readonly snapshots: Snapshot[] = [];
  /** Up to these entries snapshots are made, and volumes are known. */
  private prepared = 0;
  private readonly work: Float64Array;
  /** Volume taken up to the end of each entry, in cells times mm. */
  private readonly volumes: Float64Array;
  private readonly runner: Runner | null;

  constructor(scene: SetupScene, machine: Machine) {
    this.scene = scene;
    const { track, wood } = scene;
    const times = trackTimes(trackOf(track), machine).seconds;
    this.ends = new Float64Array(track.count);
    let sum = 0;
    for (let k = 0; k < track.count; k++) {
      sum += times[k];
      this.ends[k] = sum;
    }
    this.total = sum;
    this.map = wood && new ZMap(wood, wood.before.slice());
    if (wood !== null) this.snapshots.push({ entry: 0, z: wood.before });
    this.heights = this.map === null ? null : this.map.z;
    this.runner = this.map && new Runner(scene, this.map, this.snapshots);
    this.work = this.map === null ? new Float64Array(0) : workOf(scene);
    this.volumes = new Float64Array(wood === null ? 0 : track.count);
  }

  get isPrepared(): boolean {
    return this.map === null || this.prepared === this.scene.track.count;
  }

  /** Runs on towards the end, making snapshots, for about so many cells; returns whether all is done. */
  prepare(cells: number): boolean {
    const { runner, map, volumes, work, snapshots } = this;
    if (runner === null || map === null || this.isPrepared) return true;
    const { count } = this.scene.track;
    runner.goTo(this.prepared, 0);
    const every = work[count - 1] / SNAPSHOTS;
    const stop = (work[this.prepared - 1] ?? 0) + cells;
    let last = work[snapshots[snapshots.length - 1].entry - 1] ?? 0;
    while (this.prepared < count && (work[this.prepared - 1] ?? 0) < stop) {
      const k = this.prepared++;
      volumes[k] = (volumes[k - 1] ?? 0) + runner.next();
      if (work[k] - last < every) continue;
      last = work[k];
      snapshots.push({ entry: k + 1, z: map.z.slice() });
    }
    return this.isPrepared;
  }

  /** Sets the heights to those of a moment. */
  at(seconds: number): Moment {
    const { ends, scene } = this;
    const { track } = scene;
    const time = Math.max(0, Math.min(this.total, seconds));
    // Of moves that end and begin there, the one that begins is under way.
    const entry = Math.min(track.count - 1, firstAbove(ends, time));
    const begin = entry > 0 ? ends[entry - 1] : 0;
    const share = time >= this.total ? 1 : ends[entry] > begin ? (time - begin) / (ends[entry] - begin) : 1;
    // At the end nothing is left to do, entries without duration included.
    const whole = time >= this.total ? track.count : entry;
    const place = placeIn(track, entry, share);
    this.runner?.goTo(whole, whole === track.count ? 0 : share);
    return { seconds: time, entry, share, ...place, taken: this.takenAt(whole, share) };
  }

  private takenAt(entry: number, share: number): number {
    const { volumes } = this;
    if (!this.isPrepared || volumes.length === 0) return 0;
    const all = volumes[volumes.length - 1];
    if (!(all > 0)) return 0;
    const before = volumes[entry - 1] ?? 0;
    const after = entry < volumes.length ? volumes[entry] : before;
    return (before + (after - before) * share) / all;
  }
}

/** The heights after all entries before one. */
interface Snapshot {
  readonly entry: number;
  readonly z: Float32Array;
}

/** Runs entries on a map, and knows which of them the map has had. */
class Runner {
  private readonly scene: SetupScene;
  private readonly map: ZMap;
  private readonly snapshots: readonly Snapshot[];
  private readonly radiusMm: number;
  /** Entries before this one are run, of it the share. */
  private entry = 0;
  private share = 0;
  /** Whether the disc stands over nothing higher than itself. */
  private hasCut = false;

  constructor(scene: SetupScene, map: ZMap, snapshots: readonly Snapshot[]) {
    this.scene = scene;
    this.map = map;
    this.snapshots = snapshots;
    this.radiusMm = scene.cutter.diameterMm / 2;
  }

  /** Puts the map to where the entries before one have been run, and of that one a share. */
  goTo(entry: number, share: number): void {
    const { snapshots } = this;
    const back = entry < this.entry || (entry === this.entry && share < this.share);
    let nearest = -1;
    for (let k = 0; k < snapshots.length && snapshots[k].entry <= entry; k++) nearest = k;
    if (nearest >= 0 && (back || snapshots[nearest].entry > this.entry)) {
      this.map.z.set(snapshots[nearest].z);
      this.entry = snapshots[nearest].entry;
      this.share = 0;
      this.hasCut = false;
    }
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

  /** Runs the next entry whole; returns the volume it takes, in cells times mm. */
  next(): number {
    return this.part(this.entry++, 0, 1);
  }

  private part(k: number, from: number, to: number): number {
    const { track } = this.scene;
    const kind = track.kind[k];
    if (!isMotion(kind)) return 0;
    if (kind === Kind.rapid || k === 0) {
      this.hasCut = false;
      return 0;
    }
    if (kind === Kind.cut) return this.straight(k, from, to);
    const steps = chordsOf(this.scene, k);
    let volume = 0;
    for (let step = Math.floor(from * steps); step < Math.ceil(to * steps); step++)
      volume += this.straight(k, Math.max(from, step / steps), Math.min(to, (step + 1) / steps));
    return volume;
  }

  private straight(k: number, from: number, to: number): number {
    const { track, zeroMm } = this.scene;
    const a = placeIn(track, k, from);
    const b = placeIn(track, k, to);
    const [ax, ay, az] = [a.x + zeroMm.x, a.y + zeroMm.y, a.z + zeroMm.z];
    const [bx, by, bz] = [b.x + zeroMm.x, b.y + zeroMm.y, b.z + zeroMm.z];
    if (Number.isNaN(ax + ay + az + bx + by + bz)) return 0;
    const { map, radiusMm, hasCut } = this;
    this.hasCut = true;
    return az === bz
      ? map.cutLevel(ax, ay, bx, by, bz, radiusMm, hasCut).volume
      : map.cutSlope(ax, ay, az, bx, by, bz, radiusMm).volume;
  }
}

/** The place in an entry of which a share is done, program coordinates; NaN until the program has given it. */
export function placeIn(
  { kind, x, y, z, centreX, centreY }: SetupScene["track"],
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
export function chordsOf({ track }: SetupScene, k: number, sagittaMm = SAGITTA_MM): number {
  const { kind, x, y, centreX, centreY } = track;
  if (kind[k] <= Kind.cut || k === 0) return 1;
  const [cx, cy] = [centreX[k], centreY[k]];
  const sweep = arcSweepRad(x[k - 1], y[k - 1], x[k], y[k], cx, cy, kind[k] === Kind.arcClockwise);
  const radius = Math.sqrt((x[k - 1] - cx) ** 2 + (y[k - 1] - cy) ** 2);
  const step = 2 * Math.acos(Math.max(0, 1 - sagittaMm / Math.max(radius, sagittaMm)));
  const chords = Math.ceil(sweep / step);
  return chords >= 1 ? Math.min(chords, 10_000) : 1;
}

/** About how many cells the entries up to each have touched: what it takes to run them. */
function workOf({ track, cutter, wood }: SetupScene): Float64Array {
  const { kind, x, y, count } = track;
  const work = new Float64Array(count);
  const pitch = wood?.pitchMm ?? 1;
  let sum = 0;
  for (let k = 1; k < count; k++) {
    if (kind[k] >= Kind.cut && isMotion(kind[k])) {
      const length = Math.sqrt((x[k] - x[k - 1]) ** 2 + (y[k] - y[k - 1]) ** 2);
      sum += MOVE_CELLS + ((length || 0) * cutter.diameterMm) / pitch ** 2;
    }
    work[k] = sum;
  }
  return work;
}

/** Index of the first number greater than `value`, in numbers that never fall; their count when there is none. */
export function firstAbove(numbers: Float64Array, value: number): number {
  let [low, high] = [0, numbers.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (numbers[middle] <= value) low = middle + 1;
    else high = middle;
  }
  return low;
}
