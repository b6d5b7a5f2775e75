// A setup's wood at any time of its program: the cut is run on the measured face up to that moment. Snapshots
// along the way keep every moment near. Frame coordinates, millimetres, seconds of machine time.

import type { Machine } from "../job/job.ts";
import { trackTimes } from "../motion/clock.ts";
import { isMotion, Kind } from "../motion/track.ts";
import { ZMap } from "../proof/zmap.ts";
import { Cut, placeIn } from "./cut.ts";
import { motionOf, type SetupScene, trackOf } from "./scene.ts";

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
/** What a move costs beyond the cells it touches, in cells. */
const MOVE_CELLS = 60;

export class Replay {
  /** Seconds from the start to the end of each entry. */
  readonly ends: Float64Array;
  readonly total: number;
  /** Heights now; the same array all the time. Null: there is no wood. */
  readonly heights: Float32Array | null;
  private readonly scene: SetupScene;
  private readonly snapshots: Snapshot[] = [];
  /** Up to these entries snapshots are made, and volumes are known. */
  private prepared = 0;
  private readonly work: Float64Array;
  /** Volume taken up to the end of each entry, in cells times mm. */
  private readonly volumes: Float64Array;
  private readonly cut: Cut | null;

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
    this.cut = wood && new Cut(motionOf(scene), new ZMap(wood, wood.before.slice()));
    if (wood !== null) this.snapshots.push({ entry: 0, heights: wood.before });
    this.heights = this.cut === null ? null : this.cut.map.z;
    this.work = wood === null ? new Float64Array(0) : workOf(scene);
    this.volumes = new Float64Array(wood === null ? 0 : track.count);
  }

  get isPrepared(): boolean {
    return this.cut === null || this.prepared === this.scene.track.count;
  }

  /** Runs on towards the end, making snapshots, for about so many cells; returns whether all is done. */
  prepare(cells: number): boolean {
    const { cut, volumes, work, snapshots } = this;
    if (cut === null || this.isPrepared) return true;
    const { count } = this.scene.track;
    this.goTo(this.prepared, 0);
    const every = work[count - 1] / SNAPSHOTS;
    const stop = (work[this.prepared - 1] ?? 0) + cells;
    let last = work[snapshots[snapshots.length - 1].entry - 1] ?? 0;
    while (this.prepared < count && (work[this.prepared - 1] ?? 0) < stop) {
      const k = this.prepared++;
      volumes[k] = (volumes[k - 1] ?? 0) + cut.next();
      if (work[k] - last < every) continue;
      last = work[k];
      snapshots.push({ entry: k + 1, heights: cut.map.z.slice() });
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
    this.goTo(whole, whole === track.count ? 0 : share);
    return { seconds: time, entry, share, ...place, taken: this.takenAt(whole, share) };
  }

  /** Goes on from where the cut is, or from the nearest snapshot before. */
  private goTo(entry: number, share: number): void {
    const { cut, snapshots } = this;
    if (cut === null) return;
    const isBack = entry < cut.entry || (entry === cut.entry && share < cut.share);
    const nearest = snapshots.findLast((snapshot) => snapshot.entry <= entry);
    if (nearest !== undefined && (isBack || nearest.entry > cut.entry))
      cut.restart(nearest.entry, nearest.heights);
    cut.goOn(entry, share);
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
  readonly heights: Float32Array;
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
