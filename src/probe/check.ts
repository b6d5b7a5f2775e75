// Checks a probing program as it was written, by reading it back: touches only where they are meant to be, from
// above the wood straight down and not into the bed; no way across below the height of travel. Shares the rules of
// distance with the planning, not its geometry. Findings for people; none where all is well. Millimetres.

import { distanceToEdge, inOrOn } from "../job/outline.ts";
import { isMotion, Kind, type Track } from "../motion/track.ts";
import { distanceToRing } from "../proof/distance.ts";
import { readProgram } from "../rs274/read.ts";
import { formatLength, formatPoint, type Units } from "../units.ts";
import {
  approachHeight,
  bedDistance,
  edgeDistance,
  keepOutDistance,
  type Place,
  type Probing,
  travelHeight,
} from "./ground.ts";

export interface ProbeTask extends Probing {
  /** Where the wood is to be touched, frame coordinates, in this order. */
  readonly places: readonly Place[];
  /** Where the bed is touched before it; null where no free place was found. */
  readonly bed: Place | null;
  readonly travelMm: number;
}

export interface ProbeFinding {
  readonly code: string;
  /** Of the program; 0: the whole of it. */
  readonly line: number;
  readonly text: string;
}

/** What rounding to the last decimal, 0.0001 inch at most, may do, mm. */
const ROUNDING_MM = 0.003;

/** What is wrong with the program; the first is the earliest of its kind. */
export function checkProbing(text: Uint8Array, task: ProbeTask, units: Units): ProbeFinding[] {
  const program = readProgram(text, undefined, true);
  if (!program.ok) return program.findings.filter(({ note }) => !note);
  return new ProbeChecker(task, units).check(program.track);
}

class ProbeChecker {
  private readonly task: ProbeTask;
  private readonly units: Units;
  private readonly findings: ProbeFinding[] = [];
  // Where the probe is; NaN while the program has not said, Z also after a touch.
  private x = Number.NaN;
  private y = Number.NaN;
  private z = Number.NaN;
  private line = 0;
  private touches = 0;

  constructor(task: ProbeTask, units: Units) {
    this.task = task;
    this.units = units;
  }

  check(track: Track): ProbeFinding[] {
    const { travelMm, places, bed } = this.task;
    if (!(travelMm >= travelHeight(this.task) - ROUNDING_MM))
      this.find("travel-height", `travels at ${this.length(travelMm)}, below what must be cleared`);
    for (let i = 0; i < track.count; i++) {
      this.line = track.line[i];
      const kind = track.kind[i];
      if (kind === Kind.touch) this.touch(track.x[i], track.y[i], track.z[i]);
      else if (kind === Kind.rapid) this.rapid(track.x[i], track.y[i], track.z[i]);
      else if (isMotion(kind)) this.find("probe-cut", "a feed move in a program that only touches");
      else if (kind === Kind.spindle && track.value[i] !== 0)
        this.find("probe-spindle", "the spindle is started with a probe in it; see the shop's program.start");
    }
    const wanted = places.length + (bed === null ? 0 : 1);
    this.line = 0;
    if (this.touches !== wanted) this.find("probe-touches", `${this.touches} touches, planned ${wanted}`);
    this.checkTravel(track);
    return this.findings;
  }

  private rapid(x: number, y: number, z: number): void {
    const across = !this.same(x, this.x) || !this.same(y, this.y);
    const low = this.task.travelMm - ROUNDING_MM;
    if (across && !(this.z >= low && z >= low))
      this.find("probe-low", `travels across at ${this.length(z)}, below ${this.length(low)}`);
    if (!across && !(z >= approachHeight(this.task) - ROUNDING_MM))
      this.find("probe-low", `a rapid down to ${this.length(z)}`);
    this.x = x;
    this.y = y;
    this.z = z;
  }

  private touch(x: number, y: number, z: number): void {
    const { setup, places, bed } = this.task;
    const high = this.z >= approachHeight(this.task) - ROUNDING_MM;
    if (!this.same(x, this.x) || !this.same(y, this.y) || !high)
      this.find("probe-slant", "a touch that does not go straight down, from clear above the wood");
    if (!(z <= ROUNDING_MM))
      this.find("probe-short", `a touch only down to ${this.length(z)}: low wood is not met`);
    if (!(z >= 0)) this.find("probe-bed", `a touch down to ${this.length(z)}, into the bed`);
    const at = { x: x + setup.zero.xMm, y: y + setup.zero.yMm };
    const first = this.touches === 0 && bed !== null;
    const place = first ? bed : places[this.touches - (bed === null ? 0 : 1)];
    const isThere =
      place !== undefined &&
      Math.abs(at.x - place.x) <= ROUNDING_MM &&
      Math.abs(at.y - place.y) <= ROUNDING_MM;
    if (!isThere) this.find("probe-place", `a touch at ${this.point(at)} that is not planned there`);
    if (first) this.checkBed(at);
    else this.checkWood(at);
    this.touches++;
    this.z = Number.NaN;
  }

  private checkBed({ x, y }: Place): void {
    const { setup } = this.task;
    const least = bedDistance(this.task) - ROUNDING_MM;
    for (const { outline } of [...setup.pieces, ...setup.keepOuts])
      if (!(distanceToRing(outline, x, y, x, y) >= least))
        this.find(
          "probe-bed-taken",
          `the touch on the bed at ${this.point({ x, y })} is too near to what lies there`,
        );
  }

  private checkWood({ x, y }: Place): void {
    const { setup, probe } = this.task;
    const least = edgeDistance(probe.radiusMm) - 10 * ROUNDING_MM;
    const onWood = setup.pieces.some(
      ({ outline }) => inOrOn(outline, x, y, 0) && distanceToEdge(outline, x, y) >= least,
    );
    if (!onWood)
      this.find("probe-edge", `a touch at ${this.point({ x, y })}, not ${this.length(least)} inside a piece`);
    for (const keepOut of setup.keepOuts) {
      const apart = keepOutDistance(keepOut, this.task) - ROUNDING_MM;
      if (!(distanceToRing(keepOut.outline, x, y, x, y) >= apart))
        this.find(
          "probe-keep-out",
          `a touch at ${this.point({ x, y })}, too near to keep-out "${keepOut.name}"`,
        );
    }
  }

  /** The travel's size only: where the bed lies in the machine is not known. */
  private checkTravel(track: Track): void {
    const { travelMm } = this.task.machine;
    for (const axis of ["x", "y", "z"] as const) {
      let least = Number.POSITIVE_INFINITY;
      let most = Number.NEGATIVE_INFINITY;
      for (let i = 0; i < track.count; i++) {
        if (track.kind[i] !== Kind.rapid && track.kind[i] !== Kind.touch) continue;
        if (track[axis][i] < least) least = track[axis][i];
        if (track[axis][i] > most) most = track[axis][i];
      }
      if (most - least <= travelMm[axis]) continue;
      const text = `the touches lie ${this.length(most - least)} apart along ${axis.toUpperCase()}, and the machine travels ${this.length(travelMm[axis])}: read this piece by hand (--by-hand)`;
      this.find("outside-travel", text);
    }
  }

  private same(a: number, b: number): boolean {
    return a === b || (Number.isNaN(a) && Number.isNaN(b));
  }

  private find(code: string, text: string): void {
    this.findings.push({ code, line: this.line, text });
  }

  private length(mm: number): string {
    return formatLength(mm, this.units);
  }

  private point({ x, y }: Place): string {
    return formatPoint(x, y, this.units);
  }
}
