// How long a track takes: track and machine in, seconds out. Millimetres, mm/s inside, program coordinates.
// Acceleration-limited look-ahead without jerk: a trapezoid of speed per move, a backward and a forward pass
// over the corners, limits of speed and acceleration per axis. A corner is passed at the speed at which a
// circle tangent to both legs, no more than the corner deviation from the corner, needs the acceleration available.
// The model is ours: NISTIR 6556 section 2.1.2.16 lets speed change at once. Not modelled: jerk, exact-stop mode.

import type { Machine, Xyz } from "../job/job.ts";
import { arcSweepRad } from "./arc.ts";
import { Kind, type Track } from "./track.ts";

/** Where the time of a track goes, seconds. `rapid`, `feed` and `spindle` add up to `total`. */
export interface TrackTimes {
  /** One entry per entry of the track; the columns' own array, which may be longer than the track. */
  readonly seconds: Float64Array;
  readonly total: number;
  /** G0. */
  readonly rapid: number;
  /** G1, G2 and G3. */
  readonly feed: number;
  /** Spindle starts and dwells. */
  readonly spindle: number;
}

/** Columns the clock works in, one entry per entry of the track. Give them again to time another track without new memory. */
export class ClockColumns {
  /** What an entry costs. Until that is known: 2 a L of a straight move, L of an arc, 0 of what does not move. */
  seconds = new Float64Array(0);
  /** Square of the speed at the end of a move, mm^2/s^2; in the first pass that at its start. */
  exitSq = new Float64Array(0);
  /** Highest speed of a move, mm/s. */
  speed = new Float64Array(0);
  /** 1 / a, s^2/mm. */
  softness = new Float64Array(0);

  reserve(count: number): void {
    if (count <= this.seconds.length) return;
    this.seconds = grown(this.seconds, count);
    this.exitSq = grown(this.exitSq, count);
    this.speed = grown(this.speed, count);
    this.softness = grown(this.softness, count);
  }

  /** Forgets the first entries; those after them move up. */
  drop(count: number): void {
    for (const column of [this.seconds, this.exitSq, this.speed, this.softness]) column.copyWithin(0, count);
  }
}

function grown(from: Float64Array, count: number): Float64Array<ArrayBuffer> {
  const to = new Float64Array(count);
  to.set(from);
  return to;
}

/**
 * Seconds each entry of the track takes. Counting of moves starts at the first place where X, Y and Z are all
 * known, and from rest; moves that cannot be measured cost nothing and leave the cutter at rest. Moves of no
 * length cost nothing and pass unnoticed. A cut without a feed runs at the axes' limits. The cutter is at rest
 * where anything but motion happens; stops for people cost nothing. A spindle start from standstill costs
 * `spinUpSeconds`, and a dwell before the next motion counts towards that.
 */
export function trackTimes(track: Track, machine: Machine, columns = new ClockColumns()): TrackTimes {
  columns.reserve(track.count);
  const run = new ClockRun(track, machine, columns);
  const { count } = track;
  run.measureAll(0, count);
  run.stopAfter();
  run.settleAll(count);
  return run.times();
}

/**
 * Times a track that comes in pieces, in the track's own memory: a move is timed as soon as its speeds are the
 * same whatever may come after the last, which is about the way the machine needs to brake.
 */
export class PieceClock {
  private readonly track: Track;
  private readonly columns = new ClockColumns();
  private readonly run: ClockRun;

  constructor(track: Track, machine: Machine) {
    this.track = track;
    this.run = new ClockRun(track, machine, this.columns);
  }

  /** Seconds of the entries that are timed. */
  get seconds(): Float64Array {
    return this.columns.seconds;
  }

  /** Takes the entries from `first` on; returns how many, from the track's start, are timed now. */
  take(first: number, isLast: boolean): number {
    const { track, columns, run } = this;
    columns.reserve(track.kind.length);
    run.measureAll(first, track.count);
    if (isLast) run.stopAfter();
    const timed = isLast ? track.count : run.certain(track.count);
    run.settleAll(timed);
    return timed;
  }

  /** Forgets the first entries, which are timed; the track must do the same. */
  drop(count: number): void {
    this.columns.drop(count);
  }
}

/**
 * Seconds of one straight move from rest to rest: at `speedMmPerMin` or the axes' feed limits, whichever is
 * lower, or as a rapid.
 */
export function straightSeconds(
  dxMm: number,
  dyMm: number,
  dzMm: number,
  speedMmPerMin: number | "rapid",
  machine: Machine,
): number {
  const lengthMm = Math.sqrt(dxMm * dxMm + dyMm * dyMm + dzMm * dzMm);
  if (!(lengthMm > 0)) return 0;
  const axes = speedMmPerMin === "rapid" ? machine.rapidMmPerMin : machine.feedLimitMmPerMin;
  const axisSpeed = alongHeading(axes, dxMm, dyMm, dzMm, lengthMm) / 60;
  const speed = speedMmPerMin === "rapid" ? axisSpeed : Math.min(axisSpeed, speedMmPerMin / 60);
  const acceleration = alongHeading(machine.accelerationMmPerS2, dxMm, dyMm, dzMm, lengthMm);
  const rampsMm = (speed * speed) / acceleration;
  return lengthMm > rampsMm
    ? lengthMm / speed + speed / acceleration
    : 2 * Math.sqrt(lengthMm / acceleration);
}

/** Entries a pass takes at a time. In one long loop the engine would box every number that lives from turn to turn. */
const BLOCK = 256;

/** mm/min in mm/s. */
const MINUTES = 1 / 60;

/** The three passes over one track, block by block; what goes from block to block is in the fields. */
class ClockRun {
  private readonly track: Track;
  private readonly machine: Machine;
  private readonly columns: ClockColumns;
  /**
   * One entry an arc, in the track's order. On an arc the tangential and the centripetal acceleration share one
   * budget a, so with w = v^2 the fastest law is dw/ds = 2 sqrt(a^2 - (w/r)^2), which is w = a r sin(phase), the
   * phase growing by 2/r per mm up to a quarter turn. This is that r.
   */
  private phaseMm: number[] = [];
  private readonly spindle: SpindleClock;
  /** Per axis: one over the acceleration, and seconds per mm of rapids and of feeds. */
  private readonly soft: Xyz;
  private readonly rapidPace: Xyz;
  private readonly feedPace: Xyz;
  /** How many arcs lie before the place where the pass is. */
  private arcs = 0;

  private readonly arc = newArcMeasure();
  private fromX = NaN;
  private fromY = NaN;
  private fromZ = NaN;
  /** Heading and highest speed of the move before. */
  private headX = NaN;
  private headY = NaN;
  private headZ = NaN;
  private speedBefore = NaN;
  private isAtRest = true;
  /** Squares of speeds: at most, between the moves that are braked and those after them; reached, after those summed. */
  private brakedSq = 0;
  private reachedSq = 0;

  private rapidSeconds = 0;
  private feedSeconds = 0;
  private spindleSeconds = 0;

  constructor(track: Track, machine: Machine, columns: ClockColumns) {
    this.track = track;
    this.machine = machine;
    this.columns = columns;
    this.spindle = newSpindleClock(machine.spindle.spinUpSeconds);
    this.soft = inverse(machine.accelerationMmPerS2, 1);
    this.rapidPace = inverse(machine.rapidMmPerMin, 60);
    this.feedPace = inverse(machine.feedLimitMmPerMin, 60);
  }

  measureAll(first: number, count: number): void {
    for (let from = first; from < count; from += BLOCK) this.measure(from, Math.min(from + BLOCK, count));
  }

  /** After what is measured the cutter stands still. */
  stopAfter(): void {
    this.brakedSq = 0;
    this.arcs = this.phaseMm.length;
  }

  /**
   * How many of the first `count` entries have their speeds whatever comes after: braking for a stop there and
   * going on at full speed ask the same of them.
   */
  certain(count: number): number {
    const { kind } = this.track;
    const { seconds: reach, exitSq: entrySq, softness } = this.columns;
    this.arcs = this.phaseMm.length;
    let stopSq = 0;
    let onSq = this.isAtRest ? 0 : this.speedBefore * this.speedBefore;
    let i = count;
    while (stopSq !== onSq && i > 0) {
      i--;
      const isArc = kind[i] === Kind.arcClockwise || kind[i] === Kind.arcCounter;
      if (isArc) this.arcs--;
      if (reach[i] === 0) continue;
      const phaseMm = isArc ? this.phaseMm[this.arcs] : 0;
      const before = (exit: number) =>
        Math.min(entrySq[i], isArc ? arcReachSq(exit, reach[i], softness[i], phaseMm) : exit + reach[i]);
      stopSq = before(stopSq);
      onSq = before(onSq);
    }
    this.brakedSq = stopSq;
    return stopSq === onSq ? i : 0;
  }

  /** The second and the third pass over the first `count` entries, whose arcs are then done with. */
  settleAll(count: number): void {
    for (let to = count; to > 0; to -= BLOCK) this.brake(Math.max(0, to - BLOCK), to);
    for (let from = 0; from < count; from += BLOCK) this.sum(from, Math.min(from + BLOCK, count));
    this.phaseMm = this.phaseMm.slice(this.arcs);
    this.arcs = 0;
  }

  /** First pass: how long and how quick each move may be, and at what speed it may be entered. */
  private measure(first: number, end: number): void {
    const { track, machine, arc } = this;
    const { kind, x, y, z, value } = track;
    const { seconds: reach, exitSq: entrySq, speed, softness } = this.columns;
    const { x: softX, y: softY, z: softZ } = this.soft;
    const { x: rapidX, y: rapidY, z: rapidZ } = this.rapidPace;
    const { x: feedX, y: feedY, z: feedZ } = this.feedPace;
    const deviation4 = 4 * machine.cornerDeviationMm;
    let { fromX, fromY, fromZ, headX, headY, headZ, speedBefore, isAtRest } = this;
    for (let i = first; i < end; i++) {
      const k = kind[i];
      if (k > Kind.arcCounter) {
        reach[i] = 0;
        isAtRest = true;
        continue;
      }
      const dx = x[i] - fromX;
      const dy = y[i] - fromY;
      const dz = z[i] - fromZ;
      const lengthSq = dx * dx + dy * dy + dz * dz;
      let ux = 0;
      let uy = 0;
      let uz = 0;
      let endX = 0;
      let endY = 0;
      let speedMax = 0;
      let way = 0;
      if (k >= Kind.arcClockwise) {
        measureArc(arc, track, i, fromX, fromY, dz, machine);
        this.phaseMm.push(arc.phaseMm);
        way = arc.lengthMm;
        softness[i] = arc.softness;
        const asked = value[i] * MINUTES;
        speedMax = asked > 0 && asked < arc.speed ? asked : arc.speed;
        ux = arc.startX;
        uy = arc.startY;
        uz = arc.headZ;
        endX = arc.endX;
        endY = arc.endY;
      } else if (lengthSq > 0) {
        const length = Math.sqrt(lengthSq);
        const perMm = 1 / length;
        ux = endX = dx * perMm;
        uy = endY = dy * perMm;
        uz = dz * perMm;
        const soft = largest(ux * softX, uy * softY, uz * softZ);
        way = (2 * length) / soft;
        softness[i] = soft;
        if (k === Kind.rapid) {
          speedMax = 1 / largest(ux * rapidX, uy * rapidY, uz * rapidZ);
        } else {
          const asked = value[i] * MINUTES;
          const pace = largest(ux * feedX, uy * feedY, uz * feedZ);
          speedMax = asked > 0 && asked * pace < 1 ? asked : 1 / pace;
        }
      }
      reach[i] = way;
      fromX = x[i];
      fromY = y[i];
      fromZ = z[i];
      if (way === 0) {
        // A move of no length changes nothing; one from or to an unknown place starts the count anew.
        if (lengthSq !== 0) isAtRest = true;
        continue;
      }
      let entry = 0;
      if (!isAtRest) {
        // The slower of the two, without a branch either.
        const slower = 0.5 * (speedBefore + speedMax - Math.abs(speedBefore - speedMax));
        entry = slower * slower;
        const cx = ux - headX;
        const cy = uy - headY;
        const cz = uz - headZ;
        const changeSq = cx * cx + cy * cy + cz * cz;
        // Less than this is the rounding of headings that are the same.
        if (changeSq > 1e-18) {
          // With s the sine of half the angle between the legs, the circle's radius is d s / (1 - s); since
          // 1 - s^2 = changeSq / 4 that is 4 d s (1 + s) / changeSq, which keeps its digits in flat corners.
          const sine = Math.sqrt(Math.max(0, 1 - 0.25 * changeSq));
          const soft = largest(cx * softX, cy * softY, cz * softZ);
          entry = Math.min(entry, (deviation4 * sine * (1 + sine)) / (changeSq * soft));
        }
      }
      entrySq[i] = entry;
      speed[i] = speedMax;
      headX = endX;
      headY = endY;
      headZ = uz;
      speedBefore = speedMax;
      isAtRest = false;
    }
    this.fromX = fromX;
    this.fromY = fromY;
    this.fromZ = fromZ;
    this.headX = headX;
    this.headY = headY;
    this.headZ = headZ;
    this.speedBefore = speedBefore;
    this.isAtRest = isAtRest;
  }

  /** Second pass, from the end: no move is left faster than what follows lets it brake. Turns entries into exits. */
  private brake(first: number, end: number): void {
    const { kind } = this.track;
    const { seconds: reach, exitSq, softness } = this.columns;
    let exit = this.brakedSq;
    for (let i = end - 1; i >= first; i--) {
      const isArc = kind[i] === Kind.arcClockwise || kind[i] === Kind.arcCounter;
      if (isArc) this.arcs--;
      if (reach[i] === 0) continue;
      const entry = exitSq[i];
      exitSq[i] = exit;
      const most = isArc ? arcReachSq(exit, reach[i], softness[i], this.phaseMm[this.arcs]) : exit + reach[i];
      exit = Math.min(entry, most);
    }
    this.brakedSq = exit;
  }

  /** Third pass: no move leaves faster than it can have become; then the time of each is known. */
  private sum(first: number, end: number): void {
    const { spindle } = this;
    const { kind, value } = this.track;
    const { seconds, exitSq, speed, softness } = this.columns;
    let { rapidSeconds, feedSeconds, spindleSeconds, reachedSq: entrySq } = this;
    let entry = Math.sqrt(entrySq);
    for (let i = first; i < end; i++) {
      const k = kind[i];
      if (k > Kind.arcCounter) {
        seconds[i] = spindleCost(spindle, k, value[i]);
        spindleSeconds += seconds[i];
        continue;
      }
      const isArc = k >= Kind.arcClockwise;
      const phaseMm = isArc ? this.phaseMm[this.arcs++] : 0;
      const reach = seconds[i];
      if (reach === 0) continue;
      spindle.pending = 0;
      const soft = softness[i];
      const speedMax = speed[i];
      const exit = Math.min(exitSq[i], isArc ? arcReachSq(entrySq, reach, soft, phaseMm) : entrySq + reach);
      const exitSpeed = Math.sqrt(exit);
      let cost: number;
      if (isArc) {
        cost = arcSeconds(reach, entrySq, exit, speedMax, soft, phaseMm);
      } else {
        // The trapezoid of speed: up to its highest or, where the move is too short for that, to the peak.
        const peakSq = 0.5 * (reach + entrySq + exit);
        const speedSq = speedMax * speedMax;
        const ramps =
          peakSq <= speedSq ? 2 * Math.sqrt(peakSq) : 2 * speedMax + (peakSq - speedSq) / speedMax;
        cost = (ramps - entry - exitSpeed) * soft;
      }
      seconds[i] = cost;
      exitSq[i] = exit;
      if (k === Kind.rapid) rapidSeconds += cost;
      else feedSeconds += cost;
      entrySq = exit;
      entry = exitSpeed;
    }
    this.reachedSq = entrySq;
    this.rapidSeconds = rapidSeconds;
    this.feedSeconds = feedSeconds;
    this.spindleSeconds = spindleSeconds;
  }

  times(): TrackTimes {
    const { rapidSeconds: rapid, feedSeconds: feed, spindleSeconds: spindle } = this;
    return { seconds: this.columns.seconds, total: rapid + feed + spindle, rapid, feed, spindle };
  }
}

/** `pending` is what is left of the last start's spin-up for a dwell to count towards. */
interface SpindleClock {
  readonly spinUpSeconds: number;
  /** rev/min, negative for M4. */
  running: number;
  pending: number;
}

function newSpindleClock(spinUpSeconds: number): SpindleClock {
  return { spinUpSeconds, running: 0, pending: 0 };
}

/** Seconds an entry that is no motion costs. */
function spindleCost(spindle: SpindleClock, kind: number, value: number): number {
  if (kind === Kind.dwell) {
    if (!(value > 0)) return 0;
    const counted = Math.min(value, spindle.pending);
    spindle.pending -= counted;
    return value - counted;
  }
  if (kind === Kind.toolChange || kind === Kind.end) spindle.running = 0;
  if (kind !== Kind.spindle) return 0;
  // Turning the other way round passes through standstill.
  const starts = value !== 0 && !(value * spindle.running > 0);
  spindle.running = value;
  spindle.pending = starts ? spindle.spinUpSeconds : value === 0 ? 0 : spindle.pending;
  return starts ? spindle.spinUpSeconds : 0;
}

interface ArcMeasure {
  lengthMm: number;
  startX: number;
  startY: number;
  endX: number;
  endY: number;
  headZ: number;
  speed: number;
  softness: number;
  phaseMm: number;
}

function newArcMeasure(): ArcMeasure {
  return {
    lengthMm: NaN,
    startX: NaN,
    startY: NaN,
    endX: NaN,
    endY: NaN,
    headZ: NaN,
    speed: NaN,
    softness: NaN,
    phaseMm: NaN,
  };
}

/**
 * Length along the arc or helix, headings at its ends, and its limits. Every heading may occur on an arc, so
 * the slower of X and Y counts. On a helix Z takes part with a fixed share of speed and acceleration.
 */
function measureArc(
  out: ArcMeasure,
  track: Track,
  i: number,
  fromX: number,
  fromY: number,
  dz: number,
  machine: Machine,
): void {
  const cx = track.centreX[i];
  const cy = track.centreY[i];
  const clockwise = track.kind[i] === Kind.arcClockwise;
  const turn = clockwise ? -1 : 1;
  const ax = fromX - cx;
  const ay = fromY - cy;
  const bx = track.x[i] - cx;
  const by = track.y[i] - cy;
  const startMm = Math.sqrt(ax * ax + ay * ay);
  const endMm = Math.sqrt(bx * bx + by * by);
  const radiusMm = 0.5 * (startMm + endMm);
  const flatMm = radiusMm * arcSweepRad(fromX, fromY, track.x[i], track.y[i], cx, cy, clockwise);
  out.lengthMm = Math.sqrt(flatMm * flatMm + dz * dz);
  if (!(startMm > 0) || !(endMm > 0) || !(out.lengthMm > 0)) {
    out.lengthMm = 0;
    return;
  }
  const flat = flatMm / out.lengthMm;
  out.headZ = dz / out.lengthMm;
  out.startX = ((-turn * ay) / startMm) * flat;
  out.startY = ((turn * ax) / startMm) * flat;
  out.endX = ((-turn * by) / endMm) * flat;
  out.endY = ((turn * bx) / endMm) * flat;
  const steep = Math.abs(out.headZ);
  const { accelerationMmPerS2: acc, feedLimitMmPerMin: feed } = machine;
  out.softness = Math.max(flat / Math.min(acc.x, acc.y), steep / acc.z);
  // Along the path the curvature is flat^2 / radius, and only the flat share of the budget serves it.
  out.phaseMm = radiusMm / flat;
  const axisSpeed = 1 / Math.max(flat / Math.min(feed.x, feed.y), steep / feed.z) / 60;
  out.speed = Math.min(axisSpeed, Math.sqrt(out.phaseMm / out.softness));
}

/** Square of the highest speed after `lengthMm` of arc entered at the square `entrySq`. */
function arcReachSq(entrySq: number, lengthMm: number, softness: number, phaseMm: number): number {
  const topSq = phaseMm / softness;
  const phase = phaseOf(entrySq, topSq) + (2 * lengthMm) / phaseMm;
  return phase < Math.PI / 2 ? topSq * Math.sin(phase) : topSq;
}

/** Seconds of an arc with given ends, which the length must allow: in phase its law is a trapezoid too. */
function arcSeconds(
  lengthMm: number,
  entrySq: number,
  exitSq: number,
  speed: number,
  softness: number,
  phaseMm: number,
): number {
  const topSq = phaseMm / softness;
  const entry = phaseOf(entrySq, topSq);
  const exit = phaseOf(exitSq, topSq);
  const highest = phaseOf(speed * speed, topSq);
  const peak = Math.min(highest, 0.5 * (entry + exit) + lengthMm / phaseMm);
  // Clamped at nothing: rounding may let the ends add up to a little more than the whole.
  const cruiseMm = Math.max(0, lengthMm - phaseMm * (peak - 0.5 * (entry + exit)));
  const ramps = 2 * phaseIntegral(peak) - phaseIntegral(entry) - phaseIntegral(exit);
  return 0.5 * Math.sqrt(phaseMm * softness) * ramps + (peak === highest ? cruiseMm / speed : 0);
}

function phaseOf(speedSq: number, topSq: number): number {
  return speedSq < topSq ? Math.asin(speedSq / topSq) : Math.PI / 2;
}

const GAUSS_NODES = [
  0.14887433898163122, 0.4333953941292472, 0.6794095682990244, 0.8650633666889845, 0.9739065285171717,
];
const GAUSS_WEIGHTS = [
  0.29552422471475287, 0.26926671930999635, 0.21908636251598204, 0.14945134915058059, 0.06667134430868814,
];

/**
 * Integral of 1 / sqrt(sin p) from 0 to `phase` (at most a quarter turn), by ten points of Gauss after p = u^2,
 * which takes the pole away; right to 1e-10. The whole, up to pi / 2, is the lemniscate constant 2.62205755429.
 */
function phaseIntegral(phase: number): number {
  const half = 0.5 * Math.sqrt(phase);
  let sum = 0;
  for (let k = 0; k < GAUSS_NODES.length; k++) {
    sum +=
      GAUSS_WEIGHTS[k] * (pulledOut(half - half * GAUSS_NODES[k]) + pulledOut(half + half * GAUSS_NODES[k]));
  }
  return half * sum;
}

function pulledOut(u: number): number {
  return u > 0 ? (2 * u) / Math.sqrt(Math.sin(u * u)) : 2;
}

/** The greatest value along a heading such that no axis exceeds its own limit. */
function alongHeading(limit: Xyz, dx: number, dy: number, dz: number, length: number): number {
  return length / Math.max(Math.abs(dx / limit.x), Math.abs(dy / limit.y), Math.abs(dz / limit.z));
}

function inverse(limit: Xyz, factor: number): Xyz {
  return { x: factor / limit.x, y: factor / limit.y, z: factor / limit.z };
}

/** The largest amount of three, without a branch: on mixed headings the processor would guess wrong half the time. */
function largest(a: number, b: number, c: number): number {
  const p = Math.abs(a);
  const q = Math.abs(b);
  const r = Math.abs(c);
  const pq = 0.5 * (p + q + Math.abs(p - q));
  return 0.5 * (pq + r + Math.abs(pq - r));
}
