// The rest of a program that was broken off: a safe start, a way back into the row that was interrupted, and
// everything after it, proven on the wood as the lines before have left it. Works on the track, so on any
// program that can be read and proven, whoever wrote it. Program coordinates in millimetres.

import { PlanError } from "./errors.ts";
import type { ProgramStyle } from "./job/job.ts";
import { trackTimes } from "./motion/clock.ts";
import { isMotion, Kind, Track } from "./motion/track.ts";
import { airNear, type Window } from "./proof/air.ts";
import { type Seconds, Spent } from "./proof/check.ts";
import { type Finding, type ProofTask, type Proven, Proving } from "./proof/prove.ts";
import { Run } from "./proof/run.ts";
import { layOut, type Wood } from "./proof/wood.ts";
import { ZMap } from "./proof/zmap.ts";
import { readProgram } from "./rs274/read.ts";
import { writeProgram } from "./rs274/write.ts";
import { formatLength, type Units } from "./units.ts";

export interface ResumeRequest {
  readonly text: Uint8Array;
  /** What the program is called in comments and messages. */
  readonly name: string;
  /** Lines 1 to this were carried out. */
  readonly afterLine: number;
  /** Another cutter, or other inserts: Z is set anew and the last whole row cut again. */
  readonly replaceCutter: boolean;
  readonly jobName: string;
  readonly style: ProgramStyle;
  /** Number of the setup's cutter where tools are called by M6. */
  readonly tool: number;
}

export interface Resumed {
  readonly text: Uint8Array;
  /** The line of the old program with which the new one goes on; 0: it is the whole program. */
  readonly fromLine: number;
  /** What a line's number in the new program lacks to the old one's, from there on; null: lines do not match. */
  readonly linesBefore: number | null;
  /** With a new cutter: the row with which it begins, program coordinates; null: none was whole, or it begins before. */
  readonly rowAgain: RowAgain | null;
  readonly seconds: Seconds;
}

export interface RowAgain {
  readonly from: { readonly x: number; readonly y: number };
  readonly to: { readonly x: number; readonly y: number };
  /** The old program's line with which the row ends. */
  readonly lastLine: number;
}

/** Throws PlanError where the program cannot be read or is not safe itself, and where nothing is left to do. */
export function resumeProgram(task: ProofTask, request: ResumeRequest): Resumed {
  const { track, units } = soundTrack(task, request);
  const wood = layOut(task.stocks, task.marginMm);
  const took = new Uint8Array(track.count);
  const findings = provenOn(wood, track, took, task);
  if (findings.length > 0) throw notSafe(findings[0], task, request);

  let next = 0;
  while (next < track.count && track.line[next] <= request.afterLine) next++;
  const isLeft = took.indexOf(1, next) >= 0;
  if (!isLeft && !(request.replaceCutter && took.indexOf(1) >= 0))
    throw new PlanError(
      "nothing-left",
      task.setup.id,
      `after line ${request.afterLine} ${request.name} takes no more material: nothing is left to do`,
    );

  // From here on the wood is as the lines that were carried out have left it.
  new Run(task, wood).take(copied(track, next), 0, new Uint8Array(next));
  const broken: Broken = { task, request, units, track, took, next, wood };
  let first: Finding | null = null;
  for (const start of starts(broken)) {
    const made = written(broken, start);
    if (made.resumed !== null) return made.resumed;
    first = made.finding;
  }
  throw new PlanError(
    first?.code ?? "resume",
    task.setup.id,
    `no way was found to go on with ${request.name} safely: ${first?.text}`,
  );
}

/** What is wrong with a track on the wood, which stays as it is; sets `took` as the proof does. */
function provenOn(wood: Wood, track: Track, took: Uint8Array, task: ProofTask): Proven["findings"] {
  const proving = new Proving(task, { ...wood, map: new ZMap(wood.map.grid, wood.map.z.slice()) });
  proving.take(track, 0, took);
  return proving.end().findings;
}

/** A program broken off, and the wood as it stands. */
interface Broken {
  readonly task: ProofTask;
  readonly request: ResumeRequest;
  /** The old program's, which are the new one's too. */
  readonly units: Units;
  readonly track: Track;
  readonly took: Uint8Array;
  /** The first entry that was not carried out. */
  readonly next: number;
  /** As the entries before it have left it. */
  readonly wood: Wood;
}

function soundTrack(task: ProofTask, request: ResumeRequest): { track: Track; units: Units } {
  const read = readProgram(request.text);
  const wrong = read.findings.find(({ note }) => !note);
  if (wrong !== undefined)
    throw new PlanError(
      wrong.code,
      task.setup.id,
      `${request.name} cannot be read as a program: ${wrong.text}`,
      wrong.line,
    );
  if (read.units !== null) return { track: read.track, units: read.units };
  const text = "never says G20 or G21: the same numbers may be inches or millimetres";
  throw notSafe({ code: "units", line: 0, text }, task, request);
}

function notSafe(finding: Finding, { setup }: ProofTask, { name }: ResumeRequest): PlanError {
  const text = `${name} is not safe itself, so neither is its rest: ${finding.text}`;
  return new PlanError(finding.code, setup.id, text, finding.line);
}

// Where to go on ---------------------------------------------------------------------------

/** Comes down at (x, y), goes level to where entry `from` begins, and does that and all after it. */
interface Start {
  /** 0: the whole program, as it stands. */
  readonly from: number;
  readonly x: number;
  readonly y: number;
}

/** So many places where the old program came down are tried, each earlier than the one before. */
const LANDINGS = 6;

/** Ways to go on, the best first. The last is to do the whole program again, in air as far as it was done. */
function* starts(broken: Broken): Generator<Start> {
  const { track, took, next, request } = broken;
  const isBegun = took.subarray(0, next).indexOf(1) >= 0;
  let from = 0;
  if (isBegun && request.replaceCutter) from = lastRowBefore(broken);
  else if (isBegun) from = pastRapids(track, rowStart(track, next));
  for (let tries = 0; tries < LANDINGS && from > 0 && isPlaced(track, from - 1); tries++) {
    const [x, y] = [track.x[from - 1], track.y[from - 1]];
    // Where the disc has stood, it can come down again; but off the wood it leaves no mark.
    if (cameByFeed(track, from)) yield* beside(broken, from);
    yield { from, x, y };
    from = landingBefore(track, from);
  }
  yield { from: 0, x: 0, y: 0 };
}

function* beside({ track, task, wood }: Broken, from: number): Generator<Start> {
  const { zeroMm } = task;
  const [x, y, z] = [track.x[from - 1], track.y[from - 1], track.z[from - 1]];
  const back = isFeed(track.kind[from]) ? Math.atan2(y - track.y[from], x - track.x[from]) : 0;
  const window = windowOf(track, task);
  const place = airNear(wood, task, window, x + zeroMm.x, y + zeroMm.y, z + zeroMm.z, back);
  if (place !== null) yield { from, x: place.x - zeroMm.x, y: place.y - zeroMm.y };
}

/** Around all that the old program needs, as far as the travel reaches in one go. */
function windowOf(track: Track, { machine: { travelMm }, zeroMm }: ProofTask): Window {
  let [minX, minY, maxX, maxY] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let k = 0; k < track.count; k++) {
    if (track.x[k] < minX) minX = track.x[k];
    if (track.x[k] > maxX) maxX = track.x[k];
    if (track.y[k] < minY) minY = track.y[k];
    if (track.y[k] > maxY) maxY = track.y[k];
  }
  return {
    minX: maxX - travelMm.x + zeroMm.x,
    minY: maxY - travelMm.y + zeroMm.y,
    maxX: minX + travelMm.x + zeroMm.x,
    maxY: minY + travelMm.y + zeroMm.y,
  };
}

function isFeed(kind: number): boolean {
  return isMotion(kind) && kind !== Kind.rapid;
}

function isPlaced(track: Track, k: number): boolean {
  return !Number.isNaN(track.x[k] + track.y[k] + track.z[k]);
}

/** The entry that moved last before entry k; -1: none. */
function moveBefore(track: Track, k: number): number {
  let before = k - 1;
  while (before >= 0 && !isMotion(track.kind[before])) before--;
  return before;
}

function cameByFeed(track: Track, k: number): boolean {
  const before = moveBefore(track, k);
  return before >= 0 && isFeed(track.kind[before]);
}

/** Heads off by less than this are still one row, radians. */
const STRAIGHT_RAD = 0.01;

/** The first entry of the straight level row that entry k is part of; k itself where it is none. */
function rowStart(track: Track, k: number): number {
  let first = k;
  while (first > 0 && goesOn(track, first)) first--;
  return first;
}

/** Whether entry k goes on straight and level from a cut before it. */
function goesOn({ kind, count, x, y, z }: Track, k: number): boolean {
  if (k < 2 || k >= count || kind[k] !== Kind.cut || kind[k - 1] !== Kind.cut) return false;
  if (z[k] !== z[k - 1] || z[k - 1] !== z[k - 2]) return false;
  const [ax, ay] = [x[k - 1] - x[k - 2], y[k - 1] - y[k - 2]];
  const [bx, by] = [x[k] - x[k - 1], y[k] - y[k - 1]];
  const along = ax * bx + ay * by;
  return along > 0 && Math.abs(ax * by - ay * bx) <= STRAIGHT_RAD * along;
}

/** Past moves in air: a safe start makes them needless. Stops at what a person must do or see. */
function pastRapids(track: Track, k: number): number {
  const needless: readonly number[] = [Kind.rapid, Kind.spindle, Kind.dwell, Kind.offset];
  let next = k;
  while (next < track.count && needless.includes(track.kind[next])) next++;
  return next;
}

/** The feed move before entry k to whose start the old program came by a rapid; 0: none. */
function landingBefore(track: Track, k: number): number {
  for (let from = k - 1; from > 0; from--)
    if (isFeed(track.kind[from]) && !cameByFeed(track, from)) return from;
  return 0;
}

/** A straight row as it was cut. */
interface Row {
  readonly from: number;
  readonly dx: number;
  readonly dy: number;
  readonly lengthMm: number;
}

/** Rows off the longest one's direction by less than this are its like, as a cosine: 5 degrees. */
const ALIKE = 0.996;

/** The first entry of the last whole row before the break; 0: there is none. */
function lastRowBefore({ track, took, next, task }: Broken): number {
  const rows = rowsIn(track, took, rowStart(track, next));
  let longest: Row | null = null;
  for (const row of rows) if (longest === null || row.lengthMm > longest.lengthMm) longest = row;
  // Turns between rows are straight cuts too: shorter than the cutter is wide, and across.
  const isRow = ({ dx, dy, lengthMm }: Row) =>
    longest !== null &&
    (lengthMm >= task.setup.cutter.diameterMm ||
      Math.abs(dx * longest.dx + dy * longest.dy) >= ALIKE * lengthMm * longest.lengthMm);
  return rows.findLast(isRow)?.from ?? 0;
}

/** The straight stretches among the first `count` entries that took material. */
function rowsIn(track: Track, took: Uint8Array, count: number): Row[] {
  const rows: Row[] = [];
  for (let from = 1, end: number; from < count; from = end) {
    end = from + 1;
    if (!isFeed(track.kind[from])) continue;
    while (end < count && goesOn(track, end)) end++;
    if (took.subarray(from, end).indexOf(1) < 0) continue;
    const dx = track.x[end - 1] - track.x[from - 1];
    const dy = track.y[end - 1] - track.y[from - 1];
    const lengthMm = Math.sqrt(dx * dx + dy * dy);
    if (lengthMm > 0) rows.push({ from, dx, dy, lengthMm });
  }
  return rows;
}

// The new program ------------------------------------------------------------------------------

/** Rapids down end this far above where material may begin; the rest is fed. */
const SLOW_MM = 1;

type Made =
  | { readonly resumed: Resumed; readonly finding: null }
  | { readonly resumed: null; readonly finding: Finding };

/** Writes the program for a start and proves it, as written, after the lines that were carried out. */
function written(broken: Broken, start: Start): Made {
  const { task, request, units, track } = broken;
  const { motion, note } = motionFrom(broken, start);
  const fromLine = start.from === 0 ? 0 : track.line[start.from];
  const oldLines = motion.line.slice(0, motion.count);
  const text = writeProgram(motion, {
    ...{ units, style: request.style, tool: toolBefore(broken, start.from) },
    header: header(broken, fromLine),
    notes: [
      ...(request.replaceCutter ? [{ entry: 0, text: zeroAnew(task, units) }] : []),
      {
        entry: note,
        text: fromLine === 0 ? "the whole program" : `from here on as ${request.name} from line ${fromLine}`,
      },
      ...commentsFrom(request.text, fromLine, oldLines, note),
    ],
  }).text.slice();
  const read = readProgram(text).track;

  const took = new Uint8Array(read.count);
  const findings = provenOn(broken.wood, read, took, task);
  if (findings.length > 0) return { resumed: null, finding: findings[0] };
  const spent = new Spent();
  spent.add(read, took, trackTimes(read, task.machine).seconds, read.count);
  const linesBefore = shiftOf(oldLines, motion, note);
  const rowAgain = request.replaceCutter ? rowFrom(broken, start.from) : null;
  return { resumed: { text, fromLine, linesBefore, rowAgain, seconds: spent.seconds() }, finding: null };
}

/** The whole row with which the old program's entry begins, if it is that which a new cutter cuts again. */
function rowFrom(broken: Broken, from: number): RowAgain | null {
  if (from === 0 || from !== lastRowBefore(broken)) return null;
  const { x, y, line } = broken.track;
  let last = from;
  while (goesOn(broken.track, last + 1)) last++;
  return {
    from: { x: x[from - 1], y: y[from - 1] },
    to: { x: x[last], y: y[last] },
    lastLine: line[last],
  };
}

/** The old program's lines that are nothing but a comment, each before the entry that follows it. */
function commentsFrom(
  text: Uint8Array,
  fromLine: number,
  oldLines: Int32Array,
  first: number,
): { entry: number; text: string }[] {
  const notes: { entry: number; text: string }[] = [];
  let entry = first;
  for (const [k, line] of new TextDecoder("latin1")
    .decode(text)
    .split(/\r\n|\r|\n/)
    .entries()) {
    if (k + 1 < fromLine) continue;
    const comment = /^\s*(?:[Nn]\d+\s*)?\(([^()]*)\)\s*$/.exec(line);
    if (comment === null) continue;
    while (entry < oldLines.length && oldLines[entry] <= k) entry++;
    notes.push({ entry, text: comment[1] });
  }
  return notes;
}

/** How much lower the lines of the rest are numbered than the old program's; null where that is not one number. */
function shiftOf(oldLines: Int32Array, { kind, line, count }: Track, first: number): number | null {
  const shift = oldLines[first] - line[first];
  for (let k = first; k < count; k++)
    if (kind[k] !== Kind.end && oldLines[k] - line[k] !== shift) return null;
  return shift;
}

/** Safe start, way down, and the rest; `note` is the entry at which the old program goes on. */
function motionFrom(broken: Broken, { from, x, y }: Start): { motion: Track; note: number } {
  const { task, track, request, wood } = broken;
  const motion = new Track(track.count - from + 16);
  if (request.replaceCutter) motion.push(Kind.stop, Number.NaN, Number.NaN, Number.NaN);
  if (from > 0) {
    const [toX, toY, toZ] = [track.x[from - 1], track.y[from - 1], track.z[from - 1]];
    const high = Math.max(safeZ(broken), toZ);
    motion.push(Kind.rapid, Number.NaN, Number.NaN, high);
    motion.push(Kind.rapid, x, y, high);
    const speed = speedBefore(track, from);
    if (speed !== 0) {
      motion.push(Kind.spindle, x, y, high, speed);
      const wait = task.machine.spindle.spinUpSeconds;
      if (wait > 0) motion.push(Kind.dwell, x, y, high, wait);
    }
    const slow = Math.min(high, Math.max(toZ, highestNow(wood) - task.zeroMm.z + SLOW_MM));
    if (slow < high) motion.push(Kind.rapid, x, y, slow);
    const feed = feedFrom(track, from);
    if (toZ < slow) motion.push(Kind.cut, x, y, toZ, Math.min(feed, task.machine.feedLimitMmPerMin.z));
    if (x !== toX || y !== toY) motion.push(Kind.cut, toX, toY, toZ, feed);
  }
  const note = motion.count;
  // What the first lines of a program say of a tool change stands in the new one's own.
  const changed = request.style.toolChange === "M6" ? toolBefore(broken, from) : Number.NaN;
  append(
    motion,
    track,
    from,
    track.count,
    (k) => track.kind[k] !== Kind.toolChange || track.value[k] !== changed,
  );
  return { motion, note };
}

/** Above all that stands on the bed, cut or not, with the setup's air. */
function safeZ({ task: { setup, zeroMm }, wood }: Broken): number {
  const stands = Math.max(wood.highest, ...setup.keepOuts.map(({ heightMm }) => heightMm));
  return stands + setup.clear.zMm - zeroMm.z;
}

function highestNow({ map }: Wood): number {
  let highest = Number.NEGATIVE_INFINITY;
  for (const z of map.z) if (z > highest) highest = z;
  return highest;
}

/** rev/min before entry k, negative for M4. */
function speedBefore({ kind, value }: Track, k: number): number {
  for (let n = k - 1; n >= 0; n--) {
    if (kind[n] === Kind.spindle) return value[n];
    if (kind[n] === Kind.toolChange) return 0;
  }
  return 0;
}

function toolBefore({ track: { kind, value }, request }: Broken, k: number): number {
  for (let n = k - 1; n >= 0; n--) if (kind[n] === Kind.toolChange) return value[n];
  return request.tool;
}

/** The feed of the first move from entry k on that has one. */
function feedFrom({ kind, value, count }: Track, k: number): number {
  let n = k;
  while (n < count && !isFeed(kind[n])) n++;
  return n < count ? value[n] : Number.NaN;
}

function header({ task, request, units }: Broken, fromLine: number): string[] {
  const { setup, zeroMm, lays } = task;
  const length = (mm: number) => formatLength(mm, units);
  // Of a later lay everything is told as it lies on the bed.
  const shiftMm = lays?.at(-1)?.shiftMm ?? 0;
  return [
    `${request.jobName} - ${setup.id}, the rest of ${request.name} after its line ${request.afterLine}`,
    fromLine === 0 ? "the whole program, from its start" : `goes on with line ${fromLine} of it`,
    `cutter: ${setup.cutter.name}, diameter ${length(setup.cutter.diameterMm)}`,
    ...(lays === undefined
      ? []
      : [`lay ${lays.length}: the wood pushed ${length(-shiftMm)} towards -X from its first lay`]),
    `zero as before: X ${length(zeroMm.x + shiftMm)} Y ${length(zeroMm.y)} of the job, Z0 ${heightOf(zeroMm.z, units)}`,
    ...(request.replaceCutter && fromLine > 0 ? ["new cutter: the last whole row is cut again"] : []),
  ];
}

/** The highest place of the wood may be gone by now, so heights are told from the bed. */
function heightOf(zMm: number, units: Units): string {
  return zMm === 0 ? "on top of the bed" : `${formatLength(zMm, units)} above the top of the bed`;
}

function zeroAnew({ zeroMm }: ProofTask, units: Units): string {
  return `new cutter: set Z zero anew: ${touchOff(zeroMm.z, units)}, then go on`;
}

/** How Z zero is set where the place on which it was set at first may be cut away: the bed is always there. */
export function touchOff(zeroMm: number, units: Units): string {
  return `touch off on the bed and set Z to ${formatLength(-zeroMm, units)}`;
}

/** The first `count` entries of a track. */
function copied(track: Track, count: number): Track {
  const copy = new Track(count + 1);
  append(copy, track, 0, count, () => true);
  return copy;
}

function append(to: Track, track: Track, first: number, end: number, wanted: (k: number) => boolean): void {
  for (let k = first; k < end; k++) {
    if (!wanted(k)) continue;
    const { x, y, z, value, line } = track;
    const n = to.push(track.kind[k] as Kind, x[k], y[k], z[k], value[k], line[k]);
    to.centreX[n] = track.centreX[k];
    to.centreY[n] = track.centreY[k];
  }
}
