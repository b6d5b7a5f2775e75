// A track, move by move, on the wood: what each move meets, and what of that the setup does not allow.
// Frame coordinates, millimetres.

import type { KeepOut } from "../job/job.ts";
import { arcSweepRad } from "../motion/arc.ts";
import { isMotion, Kind, type Track } from "../motion/track.ts";
import { formatLength, formatPoint } from "../units.ts";
import { distanceToRing } from "./distance.ts";
import type { Finding, ProofTask } from "./prove.ts";
import type { Wood } from "./wood.ts";
import type { ZMap } from "./zmap.ts";

const FINDINGS_MAX = 100;
/** What rounding of coordinates and of single-precision heights may amount to. */
export const ROUNDING_MM = 0.005;
/** Clearances beside and above are kept to this. */
const CLEARANCE_MM = 0.02;
/** Descents flatter than this are levelling, not plunging. */
const LEVEL_SLOPE = 1e-3;
/** Chords of arcs leave the arc by at most this. */
const SAGITTA_MM = 0.01;

/** Runs a track on the wood, which it lowers, and keeps what it finds wrong. */
export class Run {
  readonly findings: Finding[] = [];
  readonly took: Uint8Array;
  count = 0;
  deepest = 0;
  private readonly counts = new Map<string, number>();
  private readonly track: Track;
  private readonly task: ProofTask;
  private readonly wood: Wood;
  private readonly map: ZMap;
  private readonly radius: number;
  private readonly slopeAllowed: number;
  /** Wood can reach the spindle nose only when some stands this high over the cutting edge. */
  private readonly noseWood: boolean;
  private x = Number.NaN;
  private y = Number.NaN;
  private z = Number.NaN;
  private line = 0;
  private speed = 0;
  /** Height at which the disc last cut where it now stands; NaN after anything else. */
  private cutAt = Number.NaN;
  /** Deepest bite of the move under way. */
  private moveBite = 0;

  constructor(track: Track, task: ProofTask, wood: Wood) {
    this.track = track;
    this.task = task;
    this.wood = wood;
    this.map = wood.map;
    this.took = new Uint8Array(track.count);
    this.radius = task.setup.cutter.diameterMm / 2;
    const ramp = task.setup.passes.rampRad;
    this.slopeAllowed = ramp === null ? LEVEL_SLOPE : Math.tan(ramp) + LEVEL_SLOPE;
    const above = task.machine.nose?.aboveMm ?? Number.POSITIVE_INFINITY;
    this.noseWood = wood.highest > lowestZ(track) + task.zeroMm.z + above;
  }

  hits(code: string): number {
    return this.counts.get(code) ?? 0;
  }

  report(code: string, text: string, line = this.line): void {
    this.count++;
    this.counts.set(code, this.hits(code) + 1);
    if (this.findings.length < FINDINGS_MAX) this.findings.push({ code, line, text });
  }

  all(): void {
    const { track, task } = this;
    const { zeroMm } = task;
    for (let k = 0; k < track.count; k++) {
      this.line = track.line[k];
      const kind = track.kind[k];
      if (!isMotion(kind)) {
        this.event(kind, track.value[k]);
        continue;
      }
      const x = track.x[k] + zeroMm.x;
      const y = track.y[k] + zeroMm.y;
      const z = track.z[k] + zeroMm.z;
      if (kind === Kind.rapid) this.rapid(x, y, z);
      else {
        if (!(track.value[k] > 0)) this.report("no-feed", "feed move without a feed (F)");
        this.moveBite = 0;
        const took = kind === Kind.cut ? this.feed(x, y, z) : this.arc(k, x, y, z);
        if (took) this.checkCut();
        this.took[k] = took ? 1 : 0;
      }
      this.x = x;
      this.y = y;
      this.z = z;
      if (z < -ROUNDING_MM) this.report("bed", `goes ${this.length(-z)} below the top of the bed`);
    }
  }

  private event(kind: number, value: number): void {
    if (kind === Kind.spindle) this.speed = value;
    else if (kind === Kind.end) this.speed = 0;
    else if (kind === Kind.offset && value !== this.task.workOffset)
      this.report(
        "work-offset",
        `changes to G${value}: where that zero lies is not known, only that of G${this.task.workOffset}`,
      );
  }

  private rapid(x: number, y: number, z: number): void {
    const moves = x !== this.x || y !== this.y;
    this.cutAt = Number.NaN;
    if (Number.isNaN(this.x) || Number.isNaN(this.y) || Number.isNaN(this.z)) {
      this.firstRapid(x, y, z);
      return;
    }
    const met = this.map.look(this.x, this.y, this.z, x, y, z, this.radius);
    const { bite, highest } = met;
    if (bite > ROUNDING_MM) {
      this.report(
        "rapid-hit",
        `rapid through material: ${this.length(bite)} deep at ${this.placeOf(x, y, z)}`,
      );
    } else if (moves) {
      const low = Math.min(z, this.z);
      const over = Math.max(highest, this.keepOutsUnder(x, y));
      const { zMm } = this.task.setup.clear;
      if (over > 0 && low < over + zMm - CLEARANCE_MM)
        this.report(
          "clearance",
          `rapid passes ${this.length(low - over)} over what lies under it; the setup asks for ${this.length(zMm)}`,
        );
    }
    this.checkAround(x, y, z);
  }

  /** Until a program has said where all axes are, only a height above everything is safe. */
  private firstRapid(x: number, y: number, z: number): void {
    if (Number.isNaN(x) && Number.isNaN(y)) return;
    const { keepOuts } = this.task.setup;
    const stands = Math.max(this.wood.highest, ...keepOuts.map(({ heightMm }) => heightMm));
    if (!(this.z > stands) || !(z > stands))
      this.report(
        "first-move",
        `moves in X or Y before Z is above everything on the bed (${this.length(stands)} above it)`,
      );
  }

  /** A straight feed move; returns whether it took material. */
  private feed(x: number, y: number, z: number): boolean {
    if (Number.isNaN(this.x) || Number.isNaN(this.y) || Number.isNaN(this.z)) {
      this.firstRapid(x, y, z);
      return false;
    }
    this.checkAround(x, y, z);
    const moves = x !== this.x || y !== this.y;
    if (z === this.z) {
      const met = this.map.cutLevel(this.x, this.y, x, y, z, this.radius, this.cutAt <= z);
      this.cutAt = z;
      return this.note(met.bite, met.volume, z);
    }
    const met = this.map.cutSlope(this.x, this.y, this.z, x, y, z, this.radius);
    this.cutAt = z < this.z ? z : Number.NaN;
    const { bite, volume } = met;
    const slope = (this.z - z) / Math.sqrt((x - this.x) ** 2 + (y - this.y) ** 2);
    if (bite > ROUNDING_MM && z < this.z) this.checkDescent(bite, moves, slope, x, y, z);
    return this.note(bite, volume, Math.min(z, this.z));
  }

  private checkDescent(bite: number, moves: boolean, slope: number, x: number, y: number, z: number): void {
    if (!moves) {
      if (!this.task.setup.cutter.centreCutting)
        this.report(
          "plunge",
          `straight down into material, ${this.length(bite)} deep at ${this.placeOf(x, y, z)}: this cutter does not cut at its centre`,
        );
    } else if (slope > this.slopeAllowed) {
      const degrees = (Math.atan(slope) * 180) / Math.PI;
      this.report(
        "plunge",
        `down into material at ${degrees.toFixed(1)} degrees, ${this.length(bite)} deep at ${this.placeOf(x, y, z)}; ` +
          (this.task.setup.passes.rampRad === null
            ? "the setup allows no ramp"
            : "steeper than the ramp allowed"),
      );
    }
  }

  private arc(k: number, x: number, y: number, z: number): boolean {
    const { track, task } = this;
    const cx = track.centreX[k] + task.zeroMm.x;
    const cy = track.centreY[k] + task.zeroMm.y;
    const clockwise = track.kind[k] === Kind.arcClockwise;
    const sweep = arcSweepRad(this.x, this.y, x, y, cx, cy, clockwise);
    const radius = Math.sqrt((this.x - cx) ** 2 + (this.y - cy) ** 2);
    const start = Math.atan2(this.y - cy, this.x - cx);
    const step = 2 * Math.acos(Math.max(0, 1 - SAGITTA_MM / Math.max(radius, SAGITTA_MM)));
    const chords = Math.max(1, Math.ceil(sweep / step));
    const startZ = this.z;
    let took = false;
    for (let chord = 1; chord <= chords; chord++) {
      const share = chord / chords;
      const angle = start + (clockwise ? -1 : 1) * sweep * share;
      const last = chord === chords;
      const tx = last ? x : cx + radius * Math.cos(angle);
      const ty = last ? y : cy + radius * Math.sin(angle);
      const tz = last ? z : startZ + (z - startZ) * share;
      if (this.feed(tx, ty, tz)) took = true;
      this.x = tx;
      this.y = ty;
      this.z = tz;
    }
    return took;
  }

  private note(bite: number, volume: number, z: number): boolean {
    this.moveBite = Math.max(this.moveBite, bite);
    const { floorMm } = this.task;
    if (bite > ROUNDING_MM && z < floorMm - ROUNDING_MM)
      this.report("gouge", `cuts ${this.length(floorMm - z)} below the floor`);
    return volume > 0;
  }

  /** What a move that took material must have: a depth within the setup's, and a turning spindle. */
  private checkCut(): void {
    const { depthMm } = this.task.setup.passes;
    this.deepest = Math.max(this.deepest, this.moveBite);
    if (this.moveBite > depthMm + ROUNDING_MM)
      this.report(
        "bite",
        `takes ${this.length(this.moveBite)} at once; the setup allows ${this.length(depthMm)}`,
      );
    if (this.speed < 0) this.report("spindle-backwards", "cuts with the spindle turning backwards (M4)");
    else if (!(this.speed > 0)) this.report("spindle-off", "cuts with the spindle standing still");
  }

  /** Keep-outs, and what the spindle nose may meet, on the straight way to a place. */
  private checkAround(x: number, y: number, z: number): void {
    const { setup, machine } = this.task;
    const { nose } = machine;
    const low = Math.min(z, this.z);
    for (const keepOut of setup.keepOuts) {
      this.checkKeepOut(keepOut, this.radius, low, x, y, "keep-out", "the cutter");
      if (nose !== null)
        this.checkKeepOut(keepOut, nose.diameterMm / 2, low + nose.aboveMm, x, y, "nose", "the spindle nose");
    }
    if (nose !== null && this.noseWood) {
      const [az, bz] = [this.z + nose.aboveMm, z + nose.aboveMm];
      const { bite } = this.map.look(this.x, this.y, az, x, y, bz, nose.diameterMm / 2);
      if (bite > ROUNDING_MM)
        this.report(
          "nose",
          `the spindle nose runs into material, ${this.length(bite)} deep at ${this.placeOf(x, y, z)}`,
        );
    }
  }

  private checkKeepOut(
    { name, outline, heightMm }: KeepOut,
    radius: number,
    low: number,
    x: number,
    y: number,
    code: string,
    what: string,
  ): void {
    if (heightMm <= low + ROUNDING_MM) return;
    const { sideMm } = this.task.setup.clear;
    const away = distanceToRing(outline, this.x, this.y, x, y) - radius;
    if (away < sideMm - CLEARANCE_MM)
      this.report(
        code,
        away < 0
          ? `${what} runs into keep-out "${name}"`
          : `${what} passes keep-out "${name}" at ${this.length(away)}; the setup asks for ${this.length(sideMm)}`,
      );
  }

  /** Height of the highest keep-out under the disc on the way to (x, y), 0 for none. */
  private keepOutsUnder(x: number, y: number): number {
    let highest = 0;
    for (const { outline, heightMm } of this.task.setup.keepOuts)
      if (heightMm > highest && distanceToRing(outline, this.x, this.y, x, y) < this.radius)
        highest = heightMm;
    return highest;
  }

  /** A length as the user reads lengths. */
  length(valueMm: number): string {
    return formatLength(valueMm, this.task.units);
  }

  /** A place as the program names it. */
  placeOf(x: number, y: number, z?: number): string {
    const { zeroMm, units } = this.task;
    const height = z === undefined ? "" : `, Z ${this.length(z - zeroMm.z)}`;
    return formatPoint(x - zeroMm.x, y - zeroMm.y, units) + height;
  }
}

function lowestZ(track: Track): number {
  let lowest = Number.POSITIVE_INFINITY;
  for (let k = 0; k < track.count; k++) if (track.z[k] < lowest) lowest = track.z[k];
  return lowest;
}
