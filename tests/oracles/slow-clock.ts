// The time of a track by brute force: the path cut into short steps, the squares of the speeds carried forth and back
// over them, the time of each step from the mean of its end speeds. Written from the rules alone (limits per axis along
// the heading; corners by a circle tangent to both legs; arcs share one budget between turning and speeding up); one
// object a step; shares no code with src/motion/clock.ts. Straight moves and arcs in a plane, all of it motion.

import type { Machine, Xyz } from "../../src/job/job.ts";

export interface SlowMove {
  readonly rapid: boolean;
  /** mm/s */
  readonly feed: number;
  readonly from: readonly [number, number, number];
  readonly to: readonly [number, number, number];
  /** Centre and signed sweep in radians, counter-clockwise positive; null for a straight move. */
  readonly arc: { readonly x: number; readonly y: number; readonly sweep: number } | null;
}

interface Step {
  readonly length: number;
  /** Highest speed within it. */
  readonly cap: number;
  /** Acceleration at a given speed. */
  readonly acceleration: (speed: number) => number;
  /** Highest speed at its start. */
  readonly gate: number;
}

/** Seconds of the moves from rest to rest, in steps of about `stepMm`. */
export function slowSeconds(moves: readonly SlowMove[], machine: Machine, stepMm: number): number {
  const steps: Step[] = [];
  let before: readonly number[] | null = null;
  for (const move of moves) {
    const length = move.arc === null ? distance(move.from, move.to) : Math.abs(move.arc.sweep) * radius(move);
    const [head, tail] =
      move.arc === null ? [0, 0].map(() => unit(move)) : [tangent(move, 0), tangent(move, 1)];
    const gate = before === null ? 0 : cornerSpeed(before, head, machine);
    const count = Math.max(4, Math.ceil(length / stepMm));
    for (let k = 0; k < count; k++) {
      steps.push({ ...limits(move, machine), length: length / count, gate: k === 0 ? gate : Infinity });
    }
    before = tail;
  }
  // Speeds at the nodes between steps.
  const speed = [...steps.map((step, k) => Math.min(step.gate, step.cap, steps[k - 1]?.cap ?? 0)), 0];
  for (let k = steps.length - 1; k >= 0; k--) {
    speed[k] = Math.min(speed[k], after(speed[k + 1], steps[k]));
  }
  let seconds = 0;
  for (let k = 0; k < steps.length; k++) {
    speed[k + 1] = Math.min(speed[k + 1], after(speed[k], steps[k]));
    seconds += stepSeconds(speed[k], speed[k + 1], steps[k]);
  }
  return seconds;
}

function after(speed: number, step: Step): number {
  return Math.min(step.cap, Math.sqrt(speed * speed + 2 * step.acceleration(speed) * step.length));
}

/** A step of its own may still rise above both its ends, as a trapezoid does. */
function stepSeconds(v0: number, v1: number, step: Step): number {
  const a = step.acceleration(Math.max(v0, v1));
  if (a <= 0) return (2 * step.length) / (v0 + v1);
  const peak = Math.min(step.cap, Math.sqrt((2 * a * step.length + v0 * v0 + v1 * v1) / 2));
  if (peak < Math.max(v0, v1)) return (2 * step.length) / (v0 + v1);
  const ramps = (2 * peak * peak - v0 * v0 - v1 * v1) / (2 * a);
  return (2 * peak - v0 - v1) / a + (step.length - ramps) / peak;
}

function limits(move: SlowMove, machine: Machine): Omit<Step, "length" | "gate"> {
  const speeds = move.rapid ? machine.rapidMmPerMin : machine.feedLimitMmPerMin;
  const asked = move.rapid ? Infinity : move.feed;
  const { accelerationMmPerS2: a } = machine;
  if (move.arc === null) {
    const heading = unit(move);
    const acceleration = along(a, heading);
    return { cap: Math.min(asked, along(speeds, heading) / 60), acceleration: () => acceleration };
  }
  const budget = Math.min(a.x, a.y);
  const r = radius(move);
  const cap = Math.min(asked, Math.min(speeds.x, speeds.y) / 60, Math.sqrt(budget * r));
  return { cap, acceleration: (v) => Math.sqrt(Math.max(0, budget ** 2 - (v * v) ** 2 / r ** 2)) };
}

function cornerSpeed(u: readonly number[], w: readonly number[], machine: Machine): number {
  const { x, y, z } = machine.accelerationMmPerS2;
  const available = Math.min(...[x, y, z].map((limit, k) => limit / Math.abs(w[k] - u[k])));
  const half = Math.acos(Math.min(1, Math.max(-1, -(u[0] * w[0] + u[1] * w[1] + u[2] * w[2])))) / 2;
  const s = Math.sin(half);
  if (1 - s < 1e-14) return Infinity;
  return Math.sqrt((available * machine.cornerDeviationMm * s) / (1 - s));
}

function along(limit: Xyz, heading: readonly number[]): number {
  return Math.min(...[limit.x, limit.y, limit.z].map((value, k) => value / Math.abs(heading[k])));
}

function unit(move: SlowMove): number[] {
  const length = distance(move.from, move.to);
  return move.to.map((value, k) => (value - move.from[k]) / length);
}

function tangent(move: SlowMove, end: 0 | 1): number[] {
  const { x, y, sweep } = move.arc!;
  const [px, py] = end === 0 ? move.from : move.to;
  const r = Math.hypot(px - x, py - y);
  const sign = Math.sign(sweep);
  return [(-sign * (py - y)) / r, (sign * (px - x)) / r, 0];
}

function radius(move: SlowMove): number {
  return Math.hypot(move.from[0] - move.arc!.x, move.from[1] - move.arc!.y);
}

function distance(a: readonly number[], b: readonly number[]): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
}
