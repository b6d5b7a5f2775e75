// What a program asks of spindle and axes beyond what they bear: told with its line, as a warning, whoever wrote the
// program. Takes the track in pieces of any size. mm/min, rev/min.

import type { Machine, Setup, Xyz } from "../job/job.ts";
import { arcQuarters } from "../motion/arc.ts";
import { isMotion, Kind, type Track } from "../motion/track.ts";
import { formatFeed, type Units } from "../units.ts";
import { speedFault } from "./warnings.ts";

export interface LimitWarning {
  readonly code: "speed" | "feed-limit";
  /** Where the program first does so. */
  readonly line: number;
  readonly text: string;
}

/** Programs round their feeds. */
const ROUNDING = 1.001;

const AXES = ["x", "y", "z"] as const;

/** Feeds above what one axis reaches. */
interface FastMoves {
  readonly line: number;
  count: number;
  /** The most that is asked of the axis, and the feed that asks it. */
  mostMmPerMin: number;
  feedMmPerMin: number;
}

export class Limits {
  private readonly setup: Setup;
  private readonly machine: Machine;
  private readonly units: Units;
  private readonly speeds: LimitWarning[] = [];
  private from: Xyz = { x: Number.NaN, y: Number.NaN, z: Number.NaN };
  private readonly fast = new Map<(typeof AXES)[number], FastMoves>();

  constructor(setup: Setup, machine: Machine, units: Units) {
    this.setup = setup;
    this.machine = machine;
    this.units = units;
  }

  /** Looks at the entries from `first` on, which follow those that it was given before. */
  take(track: Track, first: number): void {
    for (let k = first; k < track.count; k++) {
      const kind = track.kind[k];
      if (kind === Kind.spindle) this.speed(Math.abs(track.value[k]), track.line[k]);
      else if (isMotion(kind) && kind !== Kind.rapid) this.feed(track, k);
      this.from = { x: track.x[k], y: track.y[k], z: track.z[k] };
    }
  }

  warnings(): LimitWarning[] {
    const feeds = AXES.flatMap((axis): LimitWarning[] => {
      const found = this.fast.get(axis);
      if (found === undefined) return [];
      const feed = (mmPerMin: number) => formatFeed(mmPerMin, this.units);
      const more = found.count > 1 ? ` (${found.count} moves in all)` : "";
      const text =
        `a feed of ${feed(found.feedMmPerMin)} asks ${feed(found.mostMmPerMin)} of ${axis.toUpperCase()}, ` +
        `which reaches ${feed(this.machine.feedLimitMmPerMin[axis])}: the machine will slow down${more}`;
      return [{ code: "feed-limit", line: found.line, text }];
    });
    return [...this.speeds, ...feeds].sort((a, b) => a.line - b.line);
  }

  private speed(speed: number, line: number): void {
    const text = speed === 0 ? null : speedFault(speed, this.setup.cutter, this.machine.spindle);
    if (text !== null && !this.speeds.some((one) => one.text === text))
      this.speeds.push({ code: "speed", line, text });
  }

  private feed(track: Track, k: number): void {
    const feedMmPerMin = track.value[k];
    const { feedLimitMmPerMin: limit } = this.machine;
    if (!(feedMmPerMin > ROUNDING * Math.min(limit.x, limit.y, limit.z))) return;
    const share = axisShares(track, k, this.from);
    for (const [n, axis] of AXES.entries()) {
      const asked = feedMmPerMin * share[n];
      if (!(asked > ROUNDING * limit[axis])) continue;
      const found = this.fast.get(axis) ?? { line: track.line[k], count: 0, mostMmPerMin: 0, feedMmPerMin };
      found.count++;
      if (asked > found.mostMmPerMin) Object.assign(found, { mostMmPerMin: asked, feedMmPerMin });
      this.fast.set(axis, found);
    }
  }
}

/** The greatest share of a move's feed that falls on each axis. */
function axisShares(
  { kind, x, y, z, centreX, centreY }: Track,
  k: number,
  { x: x0, y: y0, z: z0 }: Xyz,
): [number, number, number] {
  const [dx, dy, dz] = [x[k] - x0, y[k] - y0, z[k] - z0];
  if (kind[k] === Kind.cut) {
    const length = Math.sqrt(dx * dx + dy * dy + dz * dz);
    return [Math.abs(dx) / length, Math.abs(dy) / length, Math.abs(dz) / length];
  }
  const [cx, cy] = [centreX[k], centreY[k]];
  const radius = Math.sqrt((x0 - cx) ** 2 + (y0 - cy) ** 2);
  const shares: [number, number, number] = [0, 0, 0];
  const include = (px: number, py: number) => {
    shares[0] = Math.max(shares[0], Math.abs(py - cy) / radius);
    shares[1] = Math.max(shares[1], Math.abs(px - cx) / radius);
  };
  include(x0, y0);
  include(x[k], y[k]);
  const quarters = arcQuarters(x0, y0, x[k], y[k], cx, cy, kind[k] === Kind.arcClockwise);
  for (let q = 0; q < quarters.length; q += 2) include(quarters[q], quarters[q + 1]);
  return shares;
}
