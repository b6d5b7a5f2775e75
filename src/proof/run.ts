// A track, move by move, on the wood: what each move meets, and what of that the setup does not allow.
// Frame coordinates, millimetres.

import type { KeepOut, Ring } from "../job/job.ts";
import { arcSweepRad } from "../motion/arc.ts";
import { isMotion, Kind, type Track } from "../motion/track.ts";
import { formatFeed, formatLength, formatPoint } from "../units.ts";
import { distanceToRing } from "./distance.ts";
import type { Finding, ProofTask } from "./prove.ts";
import { takesResin } from "./resin.ts";
import type { Wood } from "./wood.ts";
import type { ZMap } from "./zmap.ts";

/** Of findings about lines, and about the whole, so many are kept; all are counted. */
const LINES_MAX = 100;
const WHOLE_MAX = 20;
/** What rounding of coordinates and of single-precision heights may amount to. */
export const ROUNDING_MM = 0.005;
/** Clearances beside and above are kept to this. */
const CLEARANCE_MM = 0.02;
/** Descents flatter than this are levelling, not plunging. */
const LEVEL_SLOPE = 1e-3;
/** What rounding of a written feed may amount to. */
const FEED_SLACK = 1e-3;
/** Chords of arcs leave the arc by at most this. */
const SAGITTA_MM = 0.01;

/** Runs a track on the wood, which it lowers, piece by piece if need be, and keeps what it finds wrong. */
export class Run {
  count = 0;
  deepest = 0;
  /** The box of all places the track has been to, arcs with their bulge; frame coordinates. */
  readonly low = { x: Number.POSITIVE_INFINITY, y: Number.POSITIVE_INFINITY, z: Number.POSITIVE_INFINITY };
  readonly high = { x: Number.NEGATIVE_INFINITY, y: Number.NEGATIVE_INFINITY, z: Number.NEGATIVE_INFINITY };
  private readonly lines: Finding[] = [];
  private readonly whole: Finding[] = [];
  private readonly counts = new Map<string, number>();
  /** By code, the last line it was found on, how bad it is there, and where in `lines` it stands. */
  private readonly worst = new Map<string, { line: number; badness: number; index: number }>();
  private readonly task: ProofTask;
  private readonly wood: Wood;
  private readonly map: ZMap;
  private readonly radius: number;
  private readonly slopeAllowed: number;
  private readonly biteMost: number;
  private x = Number.NaN;
  private y = Number.NaN;
  private z = Number.NaN;
  private line = 0;
  private speed = 0;
  /** The work offset in force; null until the program states one. */
  private offset: number | null = null;
  /** Whether the move before was a cut that spared nothing, so that the disc now stands over nothing higher than itself. */
  private hasCut = false;
  /** Feed of the move under way. */
  private moveFeed = Number.NaN;
  /** Deepest bite of the move under way. */
  private moveBite = 0;
  /** How far the cutter has come down in material beyond the slope allowed: small steps add up. */
  private tooDeep = 0;

  constructor(task: ProofTask, wood: Wood) {
    this.task = task;
    this.wood = wood;
    this.map = wood.map;
    this.radius = task.setup.cutter.diameterMm / 2;
    const { rampRad, depthMm } = task.setup.passes;
    this.slopeAllowed = Math.max(LEVEL_SLOPE, Math.tan(rampRad ?? 0));
    this.biteMost = depthMm + ROUNDING_MM;
  }

  /** In the order of the program, then what is wrong with all of it, which follows from the lines as a rule. */
  findings(): Finding[] {
    return [...this.lines.slice(0, LINES_MAX - this.whole.length), ...this.whole];
  }

  hits(code: string): number {
    return this.counts.get(code) ?? 0;
  }

  /** Says what is wrong on the line under way; of a line's findings of one code the worst is kept. */
  report(code: string, text: string, badness = 0): void {
    const { line, lines } = this;
    const told = this.worst.get(code);
    if (told === undefined || told.line !== line || line === 0) {
      this.worst.set(code, { line, badness, index: lines.length });
      this.add({ code, line, text }, lines, LINES_MAX);
    } else if (badness > told.badness) {
      told.badness = badness;
      if (told.index < lines.length) lines[told.index] = { code, line, text };
    }
  }

  /** Says what is wrong with the program as a whole. */
  reportWhole(code: string, text: string): void {
    this.add({ code, line: 0, text }, this.whole, WHOLE_MAX);
  }

  private add(finding: Finding, to: Finding[], most: number): void {
    this.count++;
    this.counts.set(finding.code, this.hits(finding.code) + 1);
    if (to.length < most) to.push(finding);
  }

  /** Runs the entries from `first` on; sets `took` to 1 for each that takes material, else to 0. */
  take(track: Track, first: number, took: Uint8Array): void {
    const { zeroMm } = this.task;
    for (let k = first; k < track.count; k++) {
      took[k] = 0;
      this.line = track.line[k];
      const kind = track.kind[k];
      if (!isMotion(kind)) {
        this.event(kind, track.value[k]);
        continue;
      }
      const x = track.x[k] + zeroMm.x;
      const y = track.y[k] + zeroMm.y;
      const z = track.z[k] + zeroMm.z;
      if (this.offset === null) this.assumeOffset();
      if (kind === Kind.rapid) this.rapid(x, y, z);
      else {
        if (!(track.value[k] > 0)) this.report("no-feed", "feed move without a feed (F)");
        this.moveBite = 0;
        this.moveFeed = track.value[k];
        const cuts = kind === Kind.cut ? this.feed(x, y, z) : this.arc(track, k, x, y, z);
        if (cuts) this.checkCut();
        took[k] = cuts ? 1 : 0;
      }
      this.stand(x, y, z);
      if (z < -ROUNDING_MM) this.report("bed", `goes ${this.length(-z)} below the top of the bed`);
    }
  }

  private stand(x: number, y: number, z: number): void {
    this.x = x;
    this.y = y;
    this.z = z;
    const { low, high } = this;
    if (x < low.x) low.x = x;
    if (x > high.x) high.x = x;
    if (y < low.y) low.y = y;
    if (y > high.y) high.y = y;
    if (z < low.z) low.z = z;
    if (z > high.z) high.z = z;
  }

  private event(kind: number, value: number): void {
    if (kind === Kind.spindle) this.speed = value;
    // A tool change leaves the spindle stopped, NISTIR 6556 section 3.6.3.
    else if (kind === Kind.end || kind === Kind.toolChange) this.speed = 0;
    else if (kind === Kind.offset) {
      this.offset = value;
      if (value !== this.task.workOffset)
        this.report(
          "work-offset",
          `changes to G${value}: where that zero lies is not known, only that of G${this.task.workOffset}`,
        );
    }
  }

  /** A program that states no work offset runs in the one that controllers start with (NISTIR 6556 section 3.6.1). */
  private assumeOffset(): void {
    const { workOffset } = this.task;
    this.offset = 54;
    if (workOffset !== this.offset)
      this.report(
        "work-offset",
        `moves before any work offset is stated; the zero that is known is G${workOffset}'s`,
      );
  }

  private rapid(x: number, y: number, z: number): void {
    this.hasCut = false;
    this.tooDeep = 0;
    if (this.isUnknown(x, y, z)) {
      this.checkFirst(x, y, z);
      return;
    }
    const moves = x !== this.x || y !== this.y;
    // A straight lift meets nothing that its foot has not met.
    if (!moves && z >= this.z) return;
    const { bite, air } = this.map.look(this.x, this.y, this.z, x, y, z, this.radius);
    if (bite > ROUNDING_MM)
      this.report(
        "rapid-hit",
        `rapid through material: ${this.length(bite)} deep at ${this.placeOf(x, y, z)}`,
      );
    else if (moves) this.checkAir(air, x, y, z);
    this.checkAround(x, y, z);
  }

  /** Air under a rapid across: over material, as `air` says, and over keep-outs. */
  private checkAir(air: number, x: number, y: number, z: number): void {
    const { clear, keepOuts } = this.task.setup;
    const least = clear.zMm - CLEARANCE_MM;
    const asks = `the setup asks for ${this.length(clear.zMm)}`;
    if (air < least)
      this.report("clearance", `rapid passes ${this.length(air)} over what lies under it; ${asks}`);
    for (const { name, outline, heightMm } of keepOuts)
      if (this.distanceBelow(heightMm + least, outline, x, y, z) < this.radius)
        this.report(
          "clearance",
          `rapid to ${this.placeOf(x, y, z)} passes too low over keep-out "${name}", ${this.length(heightMm)} high; ${asks} of air`,
        );
  }

  /** Whether the program has not said yet where the cutter is, or where it goes to. */
  private isUnknown(x: number, y: number, z: number): boolean {
    return Number.isNaN(this.x + this.y + this.z + x + y + z);
  }

  /** Until a program has said where all axes are, only heights above everything are safe, and across only with air. */
  private checkFirst(x: number, y: number, z: number): void {
    const { keepOuts, clear } = this.task.setup;
    const stands = Math.max(this.wood.highest, ...keepOuts.map(({ heightMm }) => heightMm));
    const across = !Object.is(x, this.x) || !Object.is(y, this.y);
    const low = across ? Math.min(this.z, z) : z;
    if (low > stands + (across ? clear.zMm - CLEARANCE_MM : 0)) return;
    const wanted = `stay above everything on the bed (${this.length(stands)} above it)`;
    this.report(
      "first-move",
      `moves before it has said where X, Y and Z are; until then it must ${wanted}, across with ${this.length(clear.zMm)} of air`,
    );
  }

  /** A straight feed move; returns whether it took material. */
  private feed(x: number, y: number, z: number): boolean {
    if (this.isUnknown(x, y, z)) {
      this.checkFirst(x, y, z);
      return false;
    }
    this.checkAround(x, y, z);
    this.checkResin(x, y, z);
    const { map, radius } = this;
    const { bite, volume, lowest, spared } =
      z === this.z
        ? map.cutLevel(this.x, this.y, x, y, z, radius, this.hasCut, this.biteMost)
        : map.cutSlope(this.x, this.y, this.z, x, y, z, radius, this.biteMost);
    this.hasCut = !spared;
    this.moveBite = Math.max(this.moveBite, bite);
    if (!this.task.setup.cutter.centreCutting) this.checkDescent(bite, x, y, z);
    const below = this.task.floorMm - lowest;
    if (below > ROUNDING_MM) this.report("gouge", `cuts ${this.length(below)} below the floor`, below);
    return volume > 0;
  }

  /** In resin the setup's feed for resin holds. */
  private checkResin(x: number, y: number, z: number): void {
    const allowed = this.task.setup.passes.resinFeedMmPerMin;
    if (allowed === null || !(this.moveFeed > allowed * (1 + FEED_SLACK))) return;
    if (takesResin(this.wood, this.x, this.y, x, y, Math.min(this.z, z), this.radius))
      this.report(
        "resin-feed",
        `takes resin at ${formatFeed(this.moveFeed, this.task.units)}; the setup allows ${formatFeed(allowed, this.task.units)}`,
      );
  }

  private checkDescent(bite: number, x: number, y: number, z: number): void {
    const way = Math.sqrt((x - this.x) ** 2 + (y - this.y) ** 2);
    const drop = this.z - z;
    this.tooDeep = Math.max(0, this.tooDeep + Math.min(bite, drop - way * this.slopeAllowed));
    if (this.tooDeep <= ROUNDING_MM) return;
    this.tooDeep = 0;
    const { rampRad } = this.task.setup.passes;
    const degrees = (angleRad: number) => `${((angleRad * 180) / Math.PI).toFixed(1)} degrees`;
    const deep = `${this.length(bite)} deep at ${this.placeOf(x, y, z)}`;
    this.report(
      "plunge",
      way === 0
        ? `straight down into material, ${deep}: this cutter does not cut at its centre`
        : `down into material at ${degrees(Math.atan2(drop, way))}, ${deep}; ` +
            `the setup allows ${rampRad === null ? "no ramp" : `a ramp of ${degrees(rampRad)}`}`,
      bite,
    );
  }

  private arc(track: Track, k: number, x: number, y: number, z: number): boolean {
    const { zeroMm } = this.task;
    const cx = track.centreX[k] + zeroMm.x;
    const cy = track.centreY[k] + zeroMm.y;
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
      this.stand(tx, ty, tz);
    }
    return took;
  }

  /** What a move that took material must have: a depth within the setup's, and a turning spindle. */
  private checkCut(): void {
    const { depthMm } = this.task.setup.passes;
    this.deepest = Math.max(this.deepest, this.moveBite);
    if (this.moveBite > this.biteMost)
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
    for (const keepOut of setup.keepOuts) {
      this.checkKeepOut(keepOut, this.radius, 0, x, y, z, "keep-out", "the cutter");
      if (nose !== null)
        this.checkKeepOut(keepOut, nose.diameterMm / 2, nose.aboveMm, x, y, z, "nose", "the spindle nose");
    }
    const [az, bz] = nose === null ? [0, 0] : [this.z + nose.aboveMm, z + nose.aboveMm];
    if (nose !== null && this.wood.highest > Math.min(az, bz)) {
      const { bite } = this.map.look(this.x, this.y, az, x, y, bz, nose.diameterMm / 2);
      if (bite > ROUNDING_MM)
        this.report(
          "nose",
          `the spindle nose runs into material, ${this.length(bite)} deep at ${this.placeOf(x, y, z)}`,
          bite,
        );
    }
  }

  /** Whether a disc `aboveMm` over the cutting edge keeps off a keep-out, where it is lower than that. */
  private checkKeepOut(
    { name, outline, heightMm }: KeepOut,
    radius: number,
    aboveMm: number,
    x: number,
    y: number,
    z: number,
    code: string,
    what: string,
  ): void {
    const { sideMm } = this.task.setup.clear;
    const away = this.distanceBelow(heightMm - aboveMm - ROUNDING_MM, outline, x, y, z) - radius;
    if (away < sideMm - CLEARANCE_MM)
      this.report(
        code,
        away < 0
          ? `${what} runs into keep-out "${name}"`
          : `${what} passes keep-out "${name}" at ${this.length(away)}; the setup asks for ${this.length(sideMm)}`,
        -away,
      );
  }

  /** How near the straight way to a place comes to an outline where it runs lower than `heightMm`; Infinity: nowhere. */
  private distanceBelow(heightMm: number, outline: Ring, x: number, y: number, z: number): number {
    if (Math.min(this.z, z) >= heightMm) return Number.POSITIVE_INFINITY;
    const crossing = (heightMm - this.z) / (z - this.z);
    const [from, to] = [this.z > heightMm ? crossing : 0, z > heightMm ? crossing : 1];
    const [dx, dy] = [x - this.x, y - this.y];
    return distanceToRing(
      outline,
      ...([this.x + from * dx, this.y + from * dy] as const),
      ...([this.x + to * dx, this.y + to * dy] as const),
    );
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
