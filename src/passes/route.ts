// From ordered cells to motion: how the cutter gets from one cut to the next. A surfacing cutter does
// not cut at its centre, so it comes down only where its disc is clear of everything above the depth it
// goes down to, or along a ramp. Ways between cuts are chosen by time. Rows' coordinates (u, v); mm.

import { PlanError } from "../errors.ts";
import type { Machine, Setup } from "../job/job.ts";
import { ClockColumns, straightSeconds, trackTimes } from "../motion/clock.ts";
import { Kind, Track } from "../motion/track.ts";
import { formatLength, formatPoint, type Units } from "../units.ts";
import type { Cut, Way } from "./cells.ts";
import { blocks, type Edges, type Turn, touchesBox, touching } from "./edges.ts";
import type { Layer } from "./layers.ts";

/** Where the cutter is. */
export interface Place {
  readonly u: number;
  readonly v: number;
  readonly z: number;
}

/** What the whole setup has in common. */
export interface Ground {
  readonly setup: Setup;
  readonly units: Units;
  readonly machine: Machine;
  readonly turn: Turn;
  /** Frame coordinates of the program's zero. */
  readonly zero: { readonly x: number; readonly y: number; readonly z: number };
  /** The highest place where material may stand, on any piece. */
  readonly highestMm: number;
  readonly obstacles: readonly Obstacle[];
  /** The centre of the cutter stays inside this box of the frame. */
  readonly window: {
    readonly minX: number;
    readonly minY: number;
    readonly maxX: number;
    readonly maxY: number;
  };
}

/** A keep-out, or material that stays standing because of them, as far as it matters to a lift. */
export interface Obstacle {
  readonly heightMm: number;
  /** Where the cutter's disc is too near to it; beside a keep-out with the side clearance. */
  readonly near: Edges;
  /** The same for the spindle nose; null: no nose. */
  readonly nearNose: Edges | null;
}

/** What a layer's motion has to heed. */
export interface LayerGround {
  readonly layer: Layer;
  readonly index: number;
  /** All material that may stand above the layer's floor. */
  readonly material: Edges;
  /** Where the cutter's centre must not go. */
  readonly core: Edges;
  /** Farther than this in X the disc would meet what the layers above have left to the next lay. */
  readonly maxX: number;
}

/** Air between the rim and material where the cutter comes down, beyond what rounding may take. */
const AIR_MM = 0.07;
/** Rapids down end this far above where material may begin; the rest is fed. */
const SLOW_MM = 1;
/** A way to air is looked for this far away. */
const SEARCH_MM = 5000;
/** First straight back, ahead and to the sides; more directions where none of these is within so many radii. */
const QUARTERS = 4;
const NEAR_RADII = 3;
const DIRECTIONS = 16;
/** So many of the places nearest by are weighed for coming down. */
const ENTRIES = 8;
/** What rounding may take a way across the rows backwards. */
const BACK_MM = 1e-6;
/** Ramps keep a little under the angle allowed, so that rounding cannot exceed it. */
const RAMP_SHARE = 0.98;

/** Runs through the ways in their order, appending to the track; returns where the cutter ends. */
export function runLayer(
  ground: Ground,
  here: LayerGround,
  ways: readonly Way[],
  from: Place | null,
  track: Track,
): Place {
  const router = new Router(ground, here, from, track);
  let waiting = ways.map((way) => way.cuts());
  while (waiting.length > 0) {
    const left = waiting.map((cuts) => router.run(cuts)).filter((cuts) => cuts.length > 0);
    // What was cut since may have made room beside what could not be reached; else only a ramp is left.
    if (countOf(left) === countOf(waiting)) left[0] = router.rampInto(left[0]);
    waiting = left.filter((cuts) => cuts.length > 0);
  }
  return router.place!;
}

function countOf(runs: readonly Cut[][]): number {
  return runs.reduce((sum, cuts) => sum + cuts.length, 0);
}

/** About how long the way from one cut's end to another's start takes; for ordering. */
export function linkSeconds(ground: Ground, here: LayerGround, from: Way | Place | null, to: Way): number {
  const { setup, machine } = ground;
  const entry = straightSeconds(setup.cutter.diameterMm, 0, 0, here.layer.feedMmPerMin, machine);
  if (from === null) return entry;
  const [u, v, z] = "z" in from ? [from.u, from.v, from.z] : [from.endU, from.endV, here.layer.zMm];
  const dx = ground.turn.x(to.startU - u, to.startV - v);
  const dy = ground.turn.y(to.startU - u, to.startV - v);
  const rise = here.layer.topMm - here.layer.zMm;
  const high =
    2 * straightSeconds(0, 0, rise + setup.clear.zMm, "rapid", machine) +
    straightSeconds(dx, dy, 0, "rapid", machine);
  const over =
    2 * straightSeconds(0, 0, rise + SLOW_MM, "rapid", machine) +
    straightSeconds(dx, dy, 0, fastFeed(machine), machine);
  const lifted = Math.min(high, over) + entry;
  const length = Math.sqrt(dx * dx + dy * dy);
  const low =
    z === here.layer.zMm &&
    length <= lowMost(setup) &&
    !goesBack(setup, u, to.startU) &&
    !blocks(here.core, u, v, to.startU, to.startV)
      ? straightSeconds(dx, dy, 0, here.layer.feedMmPerMin, machine)
      : Number.POSITIVE_INFINITY;
  return Math.min(low, lifted);
}

/** How long a way at cutting depth may be: where all rows run one way, the way back is not cut. */
function lowMost(setup: Setup): number {
  return setup.passes.rows === "one-way" ? 2 * setup.cutter.diameterMm : Number.POSITIVE_INFINITY;
}

/** Whether a way goes against rows that are all to be cut in one direction, towards greater u. */
function goesBack({ passes }: Setup, fromU: number, toU: number): boolean {
  return passes.rows === "one-way" && toU < fromU - BACK_MM;
}

/** As fast as the machine feeds on any heading across, but no faster than it goes on rapids. */
function fastFeed({ feedLimitMmPerMin: feed, rapidMmPerMin: rapid }: Machine): number {
  return Math.min(feed.x, feed.y, rapid.x, rapid.y);
}

/** A way from one place to another, and what it takes. */
interface Link {
  readonly seconds: number;
  go(): void;
}

class Router {
  place: Place | null;
  private readonly ground: Ground;
  private readonly here: LayerGround;
  private readonly track: Track;
  private readonly radius: number;
  /** Where the disc has stood at this layer's depth: it can come down there again. */
  private readonly stood: number[] = [];
  /** The cut just made. */
  private made: Cut | null = null;
  /** Ways that are only timed. */
  private readonly timed = { straight: new Track(8), round: new Track(8), columns: new ClockColumns() };

  constructor(ground: Ground, here: LayerGround, from: Place | null, track: Track) {
    this.ground = ground;
    this.here = here;
    this.place = from;
    this.track = track;
    this.radius = ground.setup.cutter.diameterMm / 2;
  }

  /** Makes the cuts in their order, up to one that cannot be reached; returns what is left. `there`: at the first's start. */
  run(cuts: Cut[], there = false): Cut[] {
    let turned = false;
    for (let k = 0; k < cuts.length; k++) {
      if (!turned && !(there && k === 0)) {
        const link = this.quickest(cuts[k]);
        if (link === null) return cuts.slice(k);
        link.go();
      }
      const round = k + 1 < cuts.length ? this.roundTurn(cuts[k], cuts[k + 1]) : null;
      this.cut(cuts[k], turned, round);
      if (round !== null) this.turnRound(round, cuts[k + 1].row);
      turned = round !== null;
    }
    return [];
  }

  /** `begun`: half a circle has led into it; `round`: one is to lead out of it. */
  private cut(cut: Cut, begun = false, round: RoundTurn | null = null): void {
    const { points, row } = cut;
    const last = points.length - 2;
    for (let k = begun ? 2 : 0; k < points.length; k += 2) {
      const u = k === last && round !== null ? round.u : points[k];
      this.feedTo(u, points[k + 1], this.here.layer.zMm, row);
      if (k === 0 || k === last) this.stood.push(u, points[k + 1]);
    }
    this.made = cut;
  }

  /** Half a circle from a cut to the next, where one may be, is safe, and is quicker than the straight way. */
  private roundTurn(cut: Cut, next: Cut): RoundTurn | null {
    if (cut.roundU === undefined) return null;
    const { place, ground, here } = this;
    const u = cut.roundU;
    const [, v, endU] = cut.points;
    const [nextU, nextV, nextEndU] = next.points;
    const right = endU > cut.points[0];
    const radius = Math.abs(nextV - v) / 2;
    const turn: RoundTurn = { u, fromV: v, toV: nextV, right };
    const tipU = right ? u + radius : u - radius;
    const corners = [u, v, tipU, v, tipU, nextV, u, nextV];
    for (let k = 0; k < 8; k += 2) if (!this.isInWindow(corners[k], corners[k + 1])) return null;
    if (touchesBox(here.core, Math.min(u, tipU), Math.min(v, nextV), Math.max(u, tipU), Math.max(v, nextV)))
      return null;
    // Both ways timed between places on the two rows where the cutter has its speed.
    const startU = place!.v === v ? place!.u : cut.points[0];
    const { straight, round } = this.timed;
    for (const track of [straight, round]) {
      track.count = 0;
      this.timedTo(track, startU, v);
    }
    this.timedTo(straight, endU, v);
    this.timedTo(straight, nextU, nextV);
    this.timedTo(round, u, v);
    this.timedRound(round, turn);
    for (const track of [straight, round]) this.timedTo(track, nextEndU, nextV);
    const { machine } = ground;
    const seconds = (track: Track) => trackTimes(track, machine, this.timed.columns).total;
    return seconds(round) < seconds(straight) ? turn : null;
  }

  /** The quickest safe way to the start of a cut; null when there is none. */
  private quickest(cut: Cut): Link | null {
    const [u, v] = cut.points;
    const low = this.lowLink(u, v);
    const entries = low !== null && low.seconds < this.leastLift(u, v) ? [] : this.entriesTo(cut);
    let best = low;
    for (const entry of entries) {
      for (const link of [
        this.liftLink(entry, u, v),
        this.lowLiftLink(entry, u, v),
        this.sinkLink(entry, u, v),
      ])
        if (link !== null && (best === null || link.seconds < best.seconds)) best = link;
    }
    return best;
  }

  /** Straight at depth, or around a corner. */
  private lowLink(u: number, v: number): Link | null {
    const { place, here } = this;
    if (place === null || place.z !== here.layer.zMm) return null;
    const most = lowMost(this.ground.setup);
    for (const via of [[], [u, place.v], [place.u, v]]) {
      if (via.length > 0 && !this.isInWindow(via[0], via[1])) continue;
      const points = [place.u, place.v, ...via, u, v];
      let seconds = 0;
      let length = 0;
      let clear = true;
      for (let k = 2; clear && k < points.length; k += 2) {
        const [au, av, bu, bv] = [points[k - 2], points[k - 1], points[k], points[k + 1]];
        clear =
          !blocks(here.core, au, av, bu, bv) &&
          (!goesBack(this.ground.setup, au, bu) || this.isMade(au, av, bu, bv));
        seconds += this.feedSeconds(bu - au, bv - av, 0);
        length += Math.abs(bu - au) + Math.abs(bv - av);
      }
      if (!clear || length > most) continue;
      const go = () => {
        if (via.length > 0) this.feedTo(via[0], via[1], here.layer.zMm, -1);
      };
      return { seconds, go };
    }
    return null;
  }

  /** Whether a way back lies on the row just cut, where nothing is left to cut. */
  private isMade(au: number, av: number, bu: number, bv: number): boolean {
    if (this.made === null) return false;
    const [fromU, fromV, toU, toV] = this.made.points;
    return (
      this.made.points.length === 4 && [fromV, toV, bv].every((v) => v === av) && bu >= fromU && au <= toU
    );
  }

  /** Up, over and down at an entry, then at depth to (u, v). */
  private liftLink(entry: Entry, u: number, v: number): Link | null {
    const { place, here, ground } = this;
    const { zMm, topMm } = here.layer;
    const fromU = place?.u ?? entry.u;
    const fromV = place?.v ?? entry.v;
    const lift = Math.max(this.liftHeight(fromU, fromV, entry.u, entry.v), place?.z ?? 0);
    const slow = Math.min(lift, topMm + SLOW_MM);
    const rapid = (du: number, dv: number, dz: number) =>
      straightSeconds(ground.turn.x(du, dv), ground.turn.y(du, dv), dz, "rapid", ground.machine);
    const seconds =
      rapid(0, 0, lift - (place?.z ?? lift)) +
      rapid(entry.u - fromU, entry.v - fromV, 0) +
      rapid(0, 0, lift - slow) +
      this.feedSeconds(0, 0, slow - zMm) +
      this.feedSeconds(u - entry.u, v - entry.v, 0);
    const go = () => {
      this.overTo(entry.u, entry.v, lift);
      if (slow < lift) this.rapidTo(entry.u, entry.v, slow);
      this.feedTo(entry.u, entry.v, zMm, -1);
    };
    return { seconds, go };
  }

  /**
   * Up just over what the layer above has left, over there as fast as the machine feeds, and down: nothing
   * stands higher on a way that keeps off all that was forbidden to that layer.
   */
  private lowLiftLink(entry: Entry, u: number, v: number): Link | null {
    const { place, here, ground } = this;
    const { zMm, topMm } = here.layer;
    const low = topMm + SLOW_MM;
    if (place === null || place.z > low) return null;
    // Beyond its ground a lay leaves what stands to the next.
    if (Math.max(ground.turn.x(place.u, place.v), ground.turn.x(entry.u, entry.v)) > here.maxX) return null;
    if (blocks(here.core, place.u, place.v, entry.u, entry.v)) return null;
    const seconds =
      straightSeconds(0, 0, low - place.z, "rapid", ground.machine) +
      this.feedSeconds(entry.u - place.u, entry.v - place.v, 0, fastFeed(ground.machine)) +
      this.feedSeconds(0, 0, low - zMm) +
      this.feedSeconds(u - entry.u, v - entry.v, 0);
    const go = () => {
      this.rapidTo(place.u, place.v, low);
      this.feedTo(entry.u, entry.v, low, -1, fastFeed(ground.machine));
      this.feedTo(entry.u, entry.v, zMm, -1);
    };
    return { seconds, go };
  }

  /** From the layer above: at its depth to the entry, down, then at this depth to (u, v). */
  private sinkLink(entry: Entry, u: number, v: number): Link | null {
    const { place, here } = this;
    const { zMm, topMm } = here.layer;
    if (place === null || place.z !== topMm || entry.stood) return null;
    const length = Math.abs(entry.u - place.u) + Math.abs(entry.v - place.v);
    if (length > lowMost(this.ground.setup)) return null;
    if (blocks(here.core, place.u, place.v, entry.u, entry.v)) return null;
    const seconds =
      this.feedSeconds(entry.u - place.u, entry.v - place.v, 0) +
      this.feedSeconds(0, 0, topMm - zMm) +
      this.feedSeconds(u - entry.u, v - entry.v, 0);
    const go = () => {
      this.feedTo(entry.u, entry.v, topMm, -1);
      this.feedTo(entry.u, entry.v, zMm, -1);
    };
    return { seconds, go };
  }

  /** Less than any way to (u, v) that lifts can take. */
  private leastLift(u: number, v: number): number {
    const { machine, setup, turn } = this.ground;
    const { zMm, topMm } = this.here.layer;
    const rise = topMm - zMm + Math.min(SLOW_MM, setup.clear.zMm);
    const [du, dv] = [u - (this.place?.u ?? u), v - (this.place?.v ?? v)];
    const [dx, dy] = [turn.x(du, dv), turn.y(du, dv)];
    const over = Math.min(
      straightSeconds(dx, dy, 0, "rapid", machine),
      straightSeconds(dx, dy, 0, fastFeed(machine), machine),
    );
    return 2 * straightSeconds(0, 0, rise, "rapid", machine) + over;
  }

  /** Places to come down for a cut: in air around its start, and where the disc has stood before. */
  private entriesTo({ points }: Cut): Entry[] {
    const [u, v] = points;
    const near = this.airAround(points, QUARTERS);
    const air =
      near.length > 0 && near[0].away < NEAR_RADII * this.radius ? near : this.airAround(points, DIRECTIONS);
    const stood: AwayEntry[] = [];
    for (let k = 0; k < this.stood.length; k += 2) {
      const [su, sv] = [this.stood[k], this.stood[k + 1]];
      stood.push({ u: su, v: sv, away: Math.abs(su - u) + Math.abs(sv - v), stood: true });
    }
    stood.sort(byAway);
    const open: Entry[] = [];
    for (const entry of stood) {
      if (open.length >= ENTRIES) break;
      if (!blocks(this.here.core, entry.u, entry.v, u, v)) open.push(entry);
    }
    const entries = [...air.slice(0, ENTRIES), ...open];
    const onwards = entries.filter((entry) => !goesBack(this.ground.setup, entry.u, u));
    // Better a way in against the rows than none.
    return onwards.length > 0 ? onwards : entries;
  }

  /** The nearest air in so many directions around a cut's start, nearest first. */
  private airAround(points: readonly number[], directions: number): AwayEntry[] {
    const [u, v] = points;
    // Straight behind the cut first, so that of equal ways the one without a corner is taken.
    const back = points.length > 2 ? Math.atan2(v - points[3], u - points[2]) : Math.PI;
    const air: AwayEntry[] = [];
    for (let k = 0; k < directions; k++) {
      const angle = back + (2 * Math.PI * k) / directions;
      const away = this.airAlong(u, v, Math.cos(angle), Math.sin(angle));
      if (away === null) continue;
      air.push({ u: u + away * Math.cos(angle), v: v + away * Math.sin(angle), away, stood: false });
    }
    return air.sort(byAway);
  }

  /** How far from (u, v) in a direction the disc is clear of material, the way there not forbidden. */
  private airAlong(u: number, v: number, directionU: number, directionV: number): number | null {
    const { here, radius } = this;
    const spans = touching(here.material, radius + AIR_MM, u, v, directionU, directionV, SEARCH_MM);
    const away = spans.length > 0 && spans[0] <= 0 ? spans[1] + 1e-3 : 0;
    if (away >= SEARCH_MM) return null;
    const [au, av] = [u + away * directionU, v + away * directionV];
    if (blocks(here.core, u, v, au, av)) return null;
    return this.isInWindow(au, av) ? away : null;
  }

  private isInWindow(u: number, v: number): boolean {
    const { turn, window } = this.ground;
    const [x, y] = [turn.x(u, v), turn.y(u, v)];
    const maxX = Math.min(window.maxX, this.here.maxX);
    return x >= window.minX && x <= maxX && y >= window.minY && y <= window.maxY;
  }

  /** How high a rapid from one place to another must be. */
  private liftHeight(au: number, av: number, bu: number, bv: number): number {
    const { obstacles, machine, setup, turn, highestMm } = this.ground;
    const { layer, maxX } = this.here;
    // From where the layer above has ended, what is left to the next lay may lie under the way.
    let highest = Math.max(turn.x(au, av), turn.x(bu, bv)) > maxX ? highestMm : layer.topMm;
    for (const { heightMm, near, nearNose } of obstacles) {
      if (heightMm > highest && blocks(near, au, av, bu, bv)) highest = heightMm;
      const underNose = heightMm - (machine.nose?.aboveMm ?? 0);
      if (nearNose !== null && underNose > highest && blocks(nearNose, au, av, bu, bv)) highest = underNose;
    }
    return highest + setup.clear.zMm;
  }

  /** Goes down to the layer on a ramp along the first cut, comes back to its start and runs through all. */
  rampInto(cuts: Cut[]): Cut[] {
    const { setup } = this.ground;
    const { zMm, topMm } = this.here.layer;
    const [u, v] = cuts[0].points;
    const ramp = setup.passes.rampRad;
    const run = ramp === null ? null : this.rampRun(cuts[0].points);
    if (ramp === null || run === null) {
      const { turn, zero, units } = this.ground;
      const place = formatPoint(turn.x(u, v) - zero.x, turn.y(u, v) - zero.y, units);
      const advice =
        ramp === null
          ? 'free a side of the piece, or allow a ramp: "entry": { "ramp": 2 }'
          : "there is no room for a ramp either";
      throw new PlanError(
        "no-air",
        setup.id,
        `nowhere within the machine's travel can the cutter come down in air for the cut that starts at ${place}, ` +
          `${formatLength(topMm - zMm, units)} deep; ${advice}`,
      );
    }
    this.overTo(
      u,
      v,
      Math.max(this.liftHeight(this.place?.u ?? u, this.place?.v ?? v, u, v), this.place?.z ?? 0),
    );
    this.feedTo(u, v, topMm, -1);
    this.toAndFro(run, (topMm - zMm) / Math.tan(RAMP_SHARE * ramp));
    return this.run(cuts, true);
  }

  /** The line a ramp goes along: the cut itself, or, when that is hardly a line, a bit of way beside it. */
  private rampRun(points: readonly number[]): number[] | null {
    if (lengthOf(points) >= this.radius / 2) return [...points];
    const [u, v] = points;
    for (let k = 0; k < DIRECTIONS; k++) {
      const angle = (2 * Math.PI * k) / DIRECTIONS;
      const [eu, ev] = [u + this.radius * Math.cos(angle), v + this.radius * Math.sin(angle)];
      if (this.isInWindow(eu, ev) && !blocks(this.here.core, u, v, eu, ev)) return [u, v, eu, ev];
    }
    return null;
  }

  /** Down from the layer's top along the run, to and fro for as long as the slope takes, and back to its start. */
  private toAndFro(run: readonly number[], lengthMm: number): void {
    const { zMm, topMm } = this.here.layer;
    let done = 0;
    let k = 0;
    let step = 2;
    while (done < lengthMm) {
      if (k + step < 0 || k + step >= run.length) step = -step;
      const [au, av, bu, bv] = [run[k], run[k + 1], run[k + step], run[k + step + 1]];
      const length = Math.sqrt((bu - au) ** 2 + (bv - av) ** 2);
      const share = length > 0 ? Math.min(1, (lengthMm - done) / length) : 1;
      done += length;
      const z = Math.max(zMm, topMm - ((topMm - zMm) * Math.min(done, lengthMm)) / lengthMm);
      this.feedTo(au + share * (bu - au), av + share * (bv - av), z, -1);
      k += step;
    }
    // Back over the wedge that the ramp has left, to the start.
    for (k = step > 0 ? k - step : k; k >= 0; k -= 2) this.feedTo(run[k], run[k + 1], zMm, -1);
  }

  // Motion ---------------------------------------------------------------------------------

  private overTo(u: number, v: number, liftMm: number): void {
    const { place, track } = this;
    if (place === null) {
      // The first move of a program is Z alone, above everything that stands; the spindle starts over
      // the place where the cutter comes down.
      const { setup, machine, highestMm } = this.ground;
      const stands = Math.max(highestMm, ...setup.keepOuts.map((keepOut) => keepOut.heightMm));
      track.push(Kind.rapid, Number.NaN, Number.NaN, this.programZ(stands + setup.clear.zMm));
      this.moved(Kind.rapid, u, v, stands + setup.clear.zMm, -1);
      this.event(Kind.spindle, setup.passes.speed);
      if (machine.spindle.spinUpSeconds > 0) this.event(Kind.dwell, machine.spindle.spinUpSeconds);
      if (liftMm < this.place!.z) this.rapidTo(u, v, liftMm);
      return;
    }
    if (liftMm > place.z) this.rapidTo(place.u, place.v, liftMm);
    if (u !== place.u || v !== place.v) this.rapidTo(u, v, liftMm);
  }

  private rapidTo(u: number, v: number, z: number): void {
    this.moved(Kind.rapid, u, v, z, -1);
  }

  private feedTo(
    u: number,
    v: number,
    z: number,
    row: number,
    feed: number = this.here.layer.feedMmPerMin,
  ): void {
    const { place } = this;
    if (place !== null && place.u === u && place.v === v && place.z === z) return;
    const straightDown = place !== null && place.u === u && place.v === v;
    const index = this.moved(Kind.cut, u, v, z, row);
    this.track.value[index] = straightDown ? Math.min(feed, this.ground.machine.feedLimitMmPerMin.z) : feed;
  }

  private turnRound(turn: RoundTurn, row: number): void {
    const index = this.moved(this.arcKind(turn), turn.u, turn.toV, this.here.layer.zMm, row);
    this.arcAt(this.track, index, turn);
  }

  private arcKind({ fromV, toV, right }: RoundTurn): Kind {
    return toV > fromV === right ? Kind.arcCounter : Kind.arcClockwise;
  }

  private arcAt(track: Track, index: number, { u, fromV, toV }: RoundTurn): void {
    const { turn, zero } = this.ground;
    const v = (fromV + toV) / 2;
    track.centreX[index] = turn.x(u, v) - zero.x;
    track.centreY[index] = turn.y(u, v) - zero.y;
    track.value[index] = this.here.layer.feedMmPerMin;
  }

  /** A move of a track that is only timed. */
  private timedTo(track: Track, u: number, v: number): void {
    const { turn, zero } = this.ground;
    track.push(
      Kind.cut,
      ...([turn.x(u, v) - zero.x, turn.y(u, v) - zero.y, 0, this.here.layer.feedMmPerMin] as const),
    );
  }

  private timedRound(track: Track, round: RoundTurn): void {
    const { turn, zero } = this.ground;
    const { u, toV } = round;
    const index = track.push(this.arcKind(round), turn.x(u, toV) - zero.x, turn.y(u, toV) - zero.y, 0);
    this.arcAt(track, index, round);
  }

  private event(kind: Kind, value: number): void {
    const { track } = this;
    const last = track.count - 1;
    const index = track.push(kind, track.x[last], track.y[last], track.z[last], value);
    track.layer[index] = this.here.index;
  }

  private moved(kind: Kind, u: number, v: number, z: number, row: number): number {
    const { turn, zero } = this.ground;
    const index = this.track.push(kind, turn.x(u, v) - zero.x, turn.y(u, v) - zero.y, this.programZ(z));
    this.track.layer[index] = this.here.index;
    this.track.row[index] = row;
    this.place = { u, v, z };
    return index;
  }

  private programZ(z: number): number {
    return z - this.ground.zero.z;
  }

  private feedSeconds(
    du: number,
    dv: number,
    dz: number,
    feed: number = this.here.layer.feedMmPerMin,
  ): number {
    const { turn, machine } = this.ground;
    return straightSeconds(turn.x(du, dv), turn.y(du, dv), dz, feed, machine);
  }
}

/** Half a circle at depth, at one u from one v to another; `right`: bulging towards greater u. */
interface RoundTurn {
  readonly u: number;
  readonly fromV: number;
  readonly toV: number;
  readonly right: boolean;
}

/** A place to come down; `stood`: on ground that this layer has cut. */
interface Entry {
  readonly u: number;
  readonly v: number;
  readonly stood: boolean;
}

interface AwayEntry extends Entry {
  /** About how far from where the cut starts. */
  readonly away: number;
}

function byAway(p: AwayEntry, q: AwayEntry): number {
  return p.away - q.away;
}

function lengthOf(points: readonly number[]): number {
  let length = 0;
  for (let k = 2; k < points.length; k += 2)
    length += Math.sqrt((points[k] - points[k - 2]) ** 2 + (points[k + 1] - points[k - 1]) ** 2);
  return length;
}
