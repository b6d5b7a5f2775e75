// Turns from row to row as half circles, where that is quicker on this machine: an arc is gone without
// stopping, a straight turn is shorter but has two corners. Program coordinates, millimetres.

import type { Machine, Setup } from "../job/job.ts";
import { trackTimes } from "../motion/clock.ts";
import { Kind, Track } from "../motion/track.ts";
import { boxOf } from "../survey/field.ts";

/** Rows are parallel when their directions differ by less than this, rad. */
const PARALLEL_RAD = 1e-3;
/** The shorter row is drawn on to the longer by so much of the turn at most. */
const DRAWN_SHARE = 0.3;
const TURN_MM_MIN = 1;
const HAIR_MM = 0.5;

/** The track with its turns rounded, or as it is where that is quicker or there is no room. */
export function roundedTurns(
  track: Track,
  setup: Setup,
  machine: Machine,
  zero: { readonly x: number; readonly y: number },
): Track {
  const room = roomOf(track, setup, machine, zero);
  const rounded = new Track(track.count);
  let turns = 0;
  for (let k = 0; k < track.count; k++) {
    const turn = turnAt(track, k);
    if (turn !== null && room(turn)) {
      copy(track, k - 1, rounded, turn.fromX, turn.fromY, rounded.count - 1);
      const index = copy(track, k, rounded, turn.toX, turn.toY);
      rounded.kind[index] = turn.counter ? Kind.arcCounter : Kind.arcClockwise;
      rounded.centreX[index] = (turn.fromX + turn.toX) / 2;
      rounded.centreY[index] = (turn.fromY + turn.toY) / 2;
      turns++;
    } else copy(track, k, rounded, track.x[k], track.y[k]);
  }
  if (turns === 0) return track;
  return trackTimes(rounded, machine).total < trackTimes(track, machine).total ? rounded : track;
}

/** A half circle from the end of one row to the start of the next. */
interface HalfTurn {
  readonly fromX: number;
  readonly fromY: number;
  readonly toX: number;
  readonly toY: number;
  readonly counter: boolean;
}

/** The half circle that could stand for the way to entry k: a straight turn between two rows that run against each other. */
function turnAt({ count, kind, x, y, z, value, layer, row }: Track, k: number): HalfTurn | null {
  if (k < 2 || k + 1 >= count || row[k - 1] < 0 || row[k + 1] < 0) return null;
  for (let e = k - 1; e <= k + 1; e++)
    if (kind[e] !== Kind.cut || z[e] !== z[k - 2] || value[e] !== value[k] || layer[e] !== layer[k])
      return null;
  const [ax, ay] = [x[k - 1] - x[k - 2], y[k - 1] - y[k - 2]];
  const [bx, by] = [x[k + 1] - x[k], y[k + 1] - y[k]];
  const [a, b] = [Math.sqrt(ax * ax + ay * ay), Math.sqrt(bx * bx + by * by)];
  if (!(a > 0 && b > 0 && ax * bx + ay * by < 0 && Math.abs(ax * by - ay * bx) < PARALLEL_RAD * a * b))
    return null;
  const [dx, dy] = [ax / a, ay / a];
  const [lx, ly] = [x[k] - x[k - 1], y[k] - y[k - 1]];
  const along = lx * dx + ly * dy;
  const across = dx * ly - dy * lx;
  if (Math.abs(across) < TURN_MM_MIN || Math.abs(along) > DRAWN_SHARE * Math.abs(across)) return null;
  const [first, second] = [Math.max(0, along), Math.max(0, -along)];
  return {
    fromX: x[k - 1] + first * dx,
    fromY: y[k - 1] + first * dy,
    toX: x[k] + second * dx,
    toY: y[k] + second * dy,
    counter: across > 0,
  };
}

/** Whether a half circle stays within the travel and off everything on the bed. */
function roomOf(
  track: Track,
  { keepOuts, cutter, clear }: Setup,
  { travelMm, nose }: Machine,
  zero: { readonly x: number; readonly y: number },
): (turn: HalfTurn) => boolean {
  const corners = new Float64Array(2 * track.count);
  let known = 0;
  for (let k = 0; k < track.count; k++)
    if (!Number.isNaN(track.x[k] + track.y[k])) {
      corners[known++] = track.x[k];
      corners[known++] = track.y[k];
    }
  const reach = boxOf([corners.subarray(0, known)]);
  const spareX = (travelMm.x - (reach.maxX - reach.minX)) / 2 - HAIR_MM;
  const spareY = (travelMm.y - (reach.maxY - reach.minY)) / 2 - HAIR_MM;
  const away = Math.max(cutter.diameterMm, nose?.diameterMm ?? 0) / 2 + clear.sideMm + HAIR_MM;
  const boxes = keepOuts.map(({ outline }) => boxOf([outline]));
  return ({ fromX, fromY, toX, toY }) => {
    const radius = Math.sqrt((toX - fromX) ** 2 + (toY - fromY) ** 2) / 2;
    const [cx, cy] = [(fromX + toX) / 2, (fromY + toY) / 2];
    if (cx - radius < reach.minX - spareX || cx + radius > reach.maxX + spareX) return false;
    if (cy - radius < reach.minY - spareY || cy + radius > reach.maxY + spareY) return false;
    const [fx, fy] = [cx + zero.x, cy + zero.y];
    return boxes.every(
      ({ minX, minY, maxX, maxY }) =>
        fx + radius + away < minX ||
        fx - radius - away > maxX ||
        fy + radius + away < minY ||
        fy - radius - away > maxY,
    );
  };
}

/** Copies an entry with another end point, to the end or over the entry `at`; returns where it stands. */
function copy(from: Track, k: number, to: Track, x: number, y: number, at = -1): number {
  const index = at < 0 ? to.push(from.kind[k] as Kind, x, y, from.z[k], from.value[k], from.line[k]) : at;
  to.x[index] = x;
  to.y[index] = y;
  to.centreX[index] = from.centreX[k];
  to.centreY[index] = from.centreY[k];
  to.layer[index] = from.layer[k];
  to.row[index] = from.row[k];
  return index;
}
