// How long a track takes: track and machine in, seconds out. Millimetres, mm/s inside, program coordinates.
// Acceleration-limited look-ahead without jerk: a trapezoid of speed per move, a backward and a forward pass
// over the corners, limits of speed and acceleration per axis. A corner is passed at the speed at which a
// circle tangent to both legs, no more than the corner deviation from the corner, needs the acceleration available.
// The model is ours: NISTIR 6556 section 2.1.2.16 lets speed change at once. Not modelled: jerk, exact-stop mode.

import type { Machine, Xyz } from "../job/job.ts";
import { arcSweepRad } from "./arc.ts";
import { isMotion, Kind, type Track } from "./track.ts";

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
  /** First the length of a move in mm, then what it costs. */
  seconds = new Float64Array(0);
  /** Square of the speed at the start of a move, mm^2/s^2. */
  entrySq = new Float64Array(0);
  /** Highest speed of a move, mm/s. */
  speed = new Float64Array(0);
  /** Acceleration along a move, mm/s^2. */
  acceleration = new Float64Array(0);

  reserve(count: number): void {
    if (count <= this.seconds.length) return;
    this.seconds = new Float64Array(count);
    this.entrySq = new Float64Array(count);
    this.speed = new Float64Array(count);
    this.acceleration = new Float64Array(count);
  }
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
  const arcs = measureMoves(track, machine, columns);
  brakeInTime(track, columns, arcs);
  return sumSeconds(track, machine, columns, arcs);
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
  return straightMoveSeconds(lengthMm, 0, 0, 0, 0, speed, acceleration);
}

/**
 * What the arcs add to the columns, in the track's order. On an arc the tangential and the centripetal
 * acceleration share one budget a, so with w = v^2 the fastest law is dw/ds = 2 sqrt(a^2 - (w/r)^2), which is
 * w = a r sin(phase), the phase growing by 2/r per mm up to a quarter turn. `phaseMm` is that r.
 */
interface Arcs {
  readonly phaseMm: Float64Array;
}

/** First pass: lengths, speeds and accelerations of the moves, and the speed at which each may be entered. */
function measureMoves(track: Track, machine: Machine, columns: ClockColumns): Arcs {
  const { count, kind, x, y, z, value } = track;
  const { seconds: length, entrySq, speed, acceleration } = columns;
  const phaseMm: number[] = [];
  const { x: ax, y: ay, z: az } = inverse(machine.accelerationMmPerS2, 1);
  const rapid = inverse(machine.rapidMmPerMin, 60);
  const feed = inverse(machine.feedLimitMmPerMin, 60);
  const deviation4 = 4 * machine.cornerDeviationMm;
  const arc = newArcMeasure();
  let fromX = NaN;
  let fromY = NaN;
  let fromZ = NaN;
  // Heading and highest speed of the move before.
  let headX = 0;
  let headY = 0;
  let headZ = 0;
  let speedBefore = 0;
  let atRest = true;
  for (let i = 0; i < count; i++) {
    const k = kind[i];
    if (k > Kind.arcCounter) {
      length[i] = 0;
      atRest = true;
      continue;
    }
    const dx = x[i] - fromX;
    const dy = y[i] - fromY;
    const dz = z[i] - fromZ;
    let lengthMm = Math.sqrt(dx * dx + dy * dy + dz * dz);
    const isArc = k >= Kind.arcClockwise;
    if (isArc) {
      measureArc(arc, track, i, fromX, fromY, dz, machine);
      lengthMm = arc.lengthMm;
    }
    fromX = x[i];
    fromY = y[i];
    fromZ = z[i];
    if (!(lengthMm > 0)) {
      // A move of no length changes nothing; one from or to an unknown place starts the count anew.
      if (lengthMm !== 0) atRest = true;
      length[i] = 0;
      if (isArc) phaseMm.push(0);
      continue;
    }
    length[i] = lengthMm;
    let ux: number;
    let uy: number;
    let uz: number;
    let speedMax: number;
    if (isArc) {
      ux = arc.startX;
      uy = arc.startY;
      uz = arc.headZ;
      speedMax = arc.speed;
      acceleration[i] = arc.acceleration;
      phaseMm.push(arc.phaseMm);
    } else {
      const perMm = 1 / lengthMm;
      ux = dx * perMm;
      uy = dy * perMm;
      uz = dz * perMm;
      const axes = k === Kind.rapid ? rapid : feed;
      speedMax = 1 / largest(ux * axes.x, uy * axes.y, uz * axes.z);
      acceleration[i] = 1 / largest(ux * ax, uy * ay, uz * az);
    }
    if (k !== Kind.rapid) {
      const asked = value[i] / 60;
      if (asked > 0 && asked < speedMax) speedMax = asked;
    }
    speed[i] = speedMax;
    let entry = 0;
    if (!atRest) {
      const slower = speedBefore < speedMax ? speedBefore : speedMax;
      entry = slower * slower;
      const cx = ux - headX;
      const cy = uy - headY;
      const cz = uz - headZ;
      const changeSq = cx * cx + cy * cy + cz * cz;
      if (changeSq > 1e-18) {
        // With s the sine of half the angle between the legs, the circle's radius is d s / (1 - s); since
        // 1 - s^2 = changeSq / 4 that is 4 d s (1 + s) / changeSq, which keeps its digits in flat corners.
        const sineSq = 1 - 0.25 * changeSq;
        const sine = sineSq > 0 ? Math.sqrt(sineSq) : 0;
        const corner = (deviation4 * sine * (1 + sine)) / (changeSq * largest(cx * ax, cy * ay, cz * az));
        if (corner < entry) entry = corner;
      }
    }
    entrySq[i] = entry;
    headX = isArc ? arc.endX : ux;
    headY = isArc ? arc.endY : uy;
    headZ = uz;
    speedBefore = speedMax;
    atRest = false;
  }
  return { phaseMm: Float64Array.from(phaseMm) };
}

/** Second pass, from the end: no move is entered faster than what follows lets it brake. */
function brakeInTime(track: Track, columns: ClockColumns, arcs: Arcs): void {
  const { kind } = track;
  const { seconds: length, entrySq, acceleration } = columns;
  let arc = arcs.phaseMm.length;
  let exit = 0;
  for (let i = track.count - 1; i >= 0; i--) {
    const isArc = kind[i] === Kind.arcClockwise || kind[i] === Kind.arcCounter;
    if (isArc) arc--;
    if (length[i] === 0) continue;
    const reach = isArc
      ? reachOnArcSq(exit, length[i], acceleration[i], arcs.phaseMm[arc])
      : exit + 2 * acceleration[i] * length[i];
    exit = reach < entrySq[i] ? reach : entrySq[i];
    entrySq[i] = exit;
  }
}

/** Third pass: no move leaves faster than it can have become; then the time of each is known. */
function sumSeconds(track: Track, machine: Machine, columns: ClockColumns, arcs: Arcs): TrackTimes {
  const { count, kind, value } = track;
  const { seconds, entrySq, speed, acceleration } = columns;
  const spindle = newSpindleClock(machine.spindle.spinUpSeconds);
  let rapidSeconds = 0;
  let feedSeconds = 0;
  let spindleSeconds = 0;
  let arc = 0;
  let entry = 0;
  let entrySpeed = 0;
  let i = nextMove(seconds, 0, count);
  let event = 0;
  while (event < count) {
    // What stands between two moves: events, and moves that cost nothing.
    for (; event < i; event++) {
      if (kind[event] === Kind.arcClockwise || kind[event] === Kind.arcCounter) arc++;
      if (isMotion(kind[event])) continue;
      const cost = spindleCost(spindle, kind[event], value[event]);
      seconds[event] = cost;
      spindleSeconds += cost;
    }
    if (i === count) break;
    spindle.pending = 0;
    const next = nextMove(seconds, i + 1, count);
    const lengthMm = seconds[i];
    const isArc = kind[i] >= Kind.arcClockwise;
    const wanted = next === count ? 0 : entrySq[next];
    const reach = isArc
      ? reachOnArcSq(entry, lengthMm, acceleration[i], arcs.phaseMm[arc])
      : entry + 2 * acceleration[i] * lengthMm;
    const exit = reach < wanted ? reach : wanted;
    const exitSpeed = Math.sqrt(exit);
    const cost = isArc
      ? arcMoveSeconds(lengthMm, entry, exit, speed[i], acceleration[i], arcs.phaseMm[arc])
      : straightMoveSeconds(lengthMm, entry, exit, entrySpeed, exitSpeed, speed[i], acceleration[i]);
    seconds[i] = cost;
    if (kind[i] === Kind.rapid) rapidSeconds += cost;
    else feedSeconds += cost;
    if (isArc) arc++;
    entry = exit;
    entrySpeed = exitSpeed;
    event = i + 1;
    i = next;
  }
  const total = rapidSeconds + feedSeconds + spindleSeconds;
  return { seconds, total, rapid: rapidSeconds, feed: feedSeconds, spindle: spindleSeconds };
}

/** Index of the first entry from `from` on that has a length; `count` where there is none. */
function nextMove(length: Float64Array, from: number, count: number): number {
  let i = from;
  while (i < count && length[i] === 0) i++;
  return i;
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

/** Trapezoid of speed with given ends, which the length must allow; squares of the ends beside them save roots. */
function straightMoveSeconds(
  lengthMm: number,
  entrySq: number,
  exitSq: number,
  entry: number,
  exit: number,
  speed: number,
  acceleration: number,
): number {
  const peakSq = acceleration * lengthMm + 0.5 * (entrySq + exitSq);
  const speedSq = speed * speed;
  if (peakSq <= speedSq) return (2 * Math.sqrt(peakSq) - entry - exit) / acceleration;
  // (peakSq - speedSq) / acceleration is the length left over for the highest speed.
  return (2 * speed - entry - exit + (peakSq - speedSq) / speed) / acceleration;
}

interface ArcMeasure {
  lengthMm: number;
  startX: number;
  startY: number;
  endX: number;
  endY: number;
  headZ: number;
  speed: number;
  acceleration: number;
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
    acceleration: NaN,
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
    out.lengthMm = NaN;
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
  out.acceleration = 1 / Math.max(flat / Math.min(acc.x, acc.y), steep / acc.z);
  // Along the path the curvature is flat^2 / radius, and only the flat share of the budget serves it.
  out.phaseMm = radiusMm / flat;
  const axisSpeed = 1 / Math.max(flat / Math.min(feed.x, feed.y), steep / feed.z) / 60;
  out.speed = Math.min(axisSpeed, Math.sqrt(out.acceleration * out.phaseMm));
}

/** Square of the highest speed after `lengthMm` of arc entered at the square `entrySq`. */
function reachOnArcSq(entrySq: number, lengthMm: number, acceleration: number, phaseMm: number): number {
  const top = acceleration * phaseMm;
  const phase = phaseOf(entrySq, top) + (2 * lengthMm) / phaseMm;
  return phase < Math.PI / 2 ? top * Math.sin(phase) : top;
}

/** As straightMoveSeconds; in phase an arc's law is a trapezoid too. */
function arcMoveSeconds(
  lengthMm: number,
  entrySq: number,
  exitSq: number,
  speed: number,
  acceleration: number,
  phaseMm: number,
): number {
  const top = acceleration * phaseMm;
  const entry = phaseOf(entrySq, top);
  const exit = phaseOf(exitSq, top);
  const highest = phaseOf(speed * speed, top);
  const peak = Math.min(highest, 0.5 * (entry + exit) + lengthMm / phaseMm);
  // Clamped at nothing: rounding may let the ends add up to a little more than the whole.
  const cruiseMm = Math.max(0, lengthMm - phaseMm * (peak - 0.5 * (entry + exit)));
  const ramps = 2 * phaseIntegral(peak) - phaseIntegral(entry) - phaseIntegral(exit);
  return 0.5 * Math.sqrt(phaseMm / acceleration) * ramps + (peak === highest ? cruiseMm / speed : 0);
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
  return length / largest(dx / limit.x, dy / limit.y, dz / limit.z);
}

function inverse(limit: Xyz, factor: number): { x: number; y: number; z: number } {
  return { x: factor / limit.x, y: factor / limit.y, z: factor / limit.z };
}

/** The largest amount of three; plain comparisons, which cost half of Math.max here. */
function largest(a: number, b: number, c: number): number {
  const p = Math.abs(a);
  const q = Math.abs(b);
  const r = Math.abs(c);
  const pq = p > q ? p : q;
  return pq > r ? pq : r;
}
