// The clock against bare 3-D distances over the same columns, against the reader on the same moves, and against
// itself at four times the moves.

import { ClockColumns, trackTimes } from "../../src/motion/clock.ts";
import { Kind, Track } from "../../src/motion/track.ts";
import { readProgram } from "../../src/rs274/read.ts";
import { writeProgram } from "../../src/rs274/write.ts";
import { evenMachine } from "../motion/machines.ts";
import { plainStyle } from "../rs274/style.ts";
import { type BenchRow, medianRatio, seeded } from "./ratio.ts";

export function benchClock(moves = 400_000): BenchRow[] {
  const machine = evenMachine();
  const columns = new ClockColumns();
  const track = wander(moves);
  const long = wander(4 * moves);
  columns.reserve(long.count);
  const text = writeProgram(track, { units: "mm", style: plainStyle }).text;
  const into = new Track(moves + 64);
  const total = trackTimes(track, machine, columns).total;
  return [
    {
      name: "clock against bare distances",
      ratio: medianRatio(
        () => trackTimes(track, machine, columns),
        () => lengthMm(track),
      ),
      target: 14,
      detail: `${moves} moves, ${total.toFixed(3)} s, ${(lengthMm(track) / 1e6).toFixed(3)} km`,
    },
    {
      name: "clock against the reader",
      ratio: medianRatio(
        () => trackTimes(track, machine, columns),
        () => readProgram(text, into),
      ),
      target: 1.3,
      detail: `${moves} moves, ${text.length} bytes`,
    },
    {
      name: "clock, four times the moves",
      ratio: medianRatio(
        () => trackTimes(long, machine, columns),
        () => trackTimes(track, machine, columns),
      ),
      target: 4.4,
      detail: `${4 * moves} moves against ${moves}`,
    },
  ];
}

/** Rows and short links at many headings, some rapids, at a few feeds. */
function wander(moves: number): Track {
  const random = seeded(5);
  const track = new Track(moves);
  track.push(Kind.rapid, 0, 0, 0);
  while (track.count < moves) {
    const kind = random() < 0.1 ? Kind.rapid : Kind.cut;
    track.push(kind, 2400 * random(), 1100 * random(), 80 * random(), 3000 + 1000 * Math.floor(4 * random()));
  }
  return track;
}

function lengthMm(track: Track): number {
  const { x, y, z, count } = track;
  let sum = 0;
  for (let i = 1; i < count; i++) {
    const dx = x[i] - x[i - 1];
    const dy = y[i] - y[i - 1];
    const dz = z[i] - z[i - 1];
    sum += Math.sqrt(dx * dx + dy * dy + dz * dz);
  }
  return sum;
}
