// Any program, read, run on the wood and timed piece by piece, so that one of any length fits a small memory.
// Entries of the track are dropped as soon as they are run and timed; the result is that of the program in one piece.

import { Limits, type LimitWarning } from "../cutting/limits.ts";
import { PieceClock } from "../motion/clock.ts";
import { isMotion, Kind, Track } from "../motion/track.ts";
import type { ProgramFinding } from "../rs274/findings.ts";
import { ProgramReader, type ReadProgram } from "../rs274/read.ts";
import { type Finding, type Proof, type ProofTask, type Proven, Proving } from "./prove.ts";

/** Where the time of a program goes. */
export interface Seconds {
  readonly total: number;
  /** Feed moves that take material; feed moves that take none; G0; spindle start and dwells. They add up to `total`. */
  readonly cutting: number;
  readonly linking: number;
  readonly rapid: number;
  readonly spindle: number;
}

/** What is wrong with a program, and how long it takes. */
export interface Checked {
  /** A hundred at most, in the order of the program; what is wrong with all of it stands first or, where it follows, last. */
  readonly findings: readonly Finding[];
  /** How many there are. */
  readonly count: number;
  /** What it asks of spindle and axes beyond their limits: no reason not to run it, but to think. */
  readonly warnings: readonly LimitWarning[];
  readonly seconds: Seconds;
  readonly proof: Proof;
}

const FINDINGS_MAX = 100;
/** Longer pieces are taken in parts of this size. */
const PART_BYTES = 1 << 19;

/** Proves a program, its text in pieces of any size. Never throws for what a program does. */
export function checkPieces(pieces: Iterable<Uint8Array>, task: ProofTask): Checked {
  const program = new ProgramInPieces(task);
  for (const piece of pieces)
    for (let from = 0; from < piece.length; from += PART_BYTES)
      program.feed(piece.subarray(from, from + PART_BYTES));
  return program.end();
}

class ProgramInPieces {
  private readonly track = new Track();
  private readonly reader = new ProgramReader(this.track);
  private readonly proving: Proving;
  private readonly clock: PieceClock;
  private readonly spent = new Spent();
  private readonly limits: Limits;
  private took = new Uint8Array(0);
  /** The first entries of the track are run already and wait for their times. */
  private waiting = 0;
  private entries = 0;

  constructor(task: ProofTask) {
    this.proving = new Proving(task);
    this.clock = new PieceClock(this.track, task.machine);
    this.limits = new Limits(task.setup, task.machine, task.units);
  }

  feed(part: Uint8Array): void {
    this.reader.feed(part);
    this.runAndTime(false);
  }

  end(): Checked {
    const read = this.reader.finish();
    this.runAndTime(true);
    const proven = this.proving.end();
    const { findings, count } = allFindings(read, proven, this.entries > 0);
    const proof = { ...proven.proof, ok: count === 0 };
    return { findings, count, warnings: this.limits.warnings(), seconds: this.spent.seconds(), proof };
  }

  private runAndTime(isLast: boolean): void {
    const { track, clock, waiting } = this;
    if (this.took.length < track.count) {
      const took = new Uint8Array(track.kind.length);
      took.set(this.took);
      this.took = took;
    }
    this.entries += track.count - waiting;
    this.proving.take(track, waiting, this.took);
    this.limits.take(track, waiting);
    const timed = clock.take(waiting, isLast);
    this.spent.add(track, this.took, clock.seconds, timed);
    track.drop(timed);
    clock.drop(timed);
    this.took.copyWithin(0, timed);
    this.waiting = track.count;
  }
}

/** A sum of times by what they are spent on. */
export class Spent {
  private cutting = 0;
  private linking = 0;
  private rapid = 0;
  private spindle = 0;

  /** Adds the first `count` entries of a track. */
  add({ kind }: Track, took: Uint8Array, seconds: Float64Array, count: number): void {
    for (let k = 0; k < count; k++) {
      if (kind[k] === Kind.rapid) this.rapid += seconds[k];
      else if (!isMotion(kind[k])) this.spindle += seconds[k];
      else if (took[k] === 1) this.cutting += seconds[k];
      else this.linking += seconds[k];
    }
  }

  seconds(): Seconds {
    const { cutting, linking, rapid, spindle } = this;
    return { total: cutting + linking + rapid + spindle, cutting, linking, rapid, spindle };
  }
}

/** What the reader and the proof found, put together so that a fault is told before what follows from it. */
function allFindings(
  read: ReadProgram,
  proven: Proven,
  doesAnything: boolean,
): Pick<Checked, "findings" | "count"> {
  // Of moves without a feed the proof tells every one.
  const isTold = ({ note, code }: ProgramFinding) => !note && code !== "no-feed";
  const lines: Finding[] = read.findings.filter(isTold).map(({ code, line, text }) => ({ code, line, text }));
  let count = proven.count;
  for (const [code, errors] of read.errors) if (code !== "no-feed") count += errors;

  const first: Finding[] = [];
  if (read.units === null && doesAnything)
    first.push({
      code: "units",
      line: 0,
      text: "never says G20 or G21: the same numbers may be inches or millimetres",
    });
  // What the reader says of a line comes before what the proof says of it: the sort keeps the order of equals.
  lines.push(...proven.findings.filter(({ line }) => line > 0));
  lines.sort((a, b) => a.line - b.line);
  const last = proven.findings.filter(({ line }) => line === 0);
  return {
    findings: [...first, ...lines.slice(0, FINDINGS_MAX - first.length - last.length), ...last],
    count: count + first.length,
  };
}
