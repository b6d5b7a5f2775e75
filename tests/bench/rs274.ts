// The reader against split + regular expression + parseFloat and against a bare loop over the bytes; the writer
// against toFixed + join and against a byte-by-byte copy of its output; each against itself at four times the size.

import { Kind, Track } from "../../src/motion/track.ts";
import { readProgram } from "../../src/rs274/read.ts";
import { writeProgram } from "../../src/rs274/write.ts";
import { plainStyle } from "../rs274/style.ts";
import { type BenchRow, medianRatio, seeded } from "./ratio.ts";

const options = { units: "mm", style: plainStyle } as const;

export function benchRs274(moves = 200_000): BenchRow[] {
  const track = rows(moves);
  const long = rows(4 * moves);
  const text = writeProgram(track, options).text.slice();
  const longText = writeProgram(long, options).text.slice();
  const into = new Track(4 * moves + 64);
  const buffer = new Uint8Array(longText.length + 4096);
  const plain = new TextDecoder();
  const copy = new Uint8Array(text.length);
  const written = writeByJoining(track);
  if (written !== plain.decode(text)) throw new Error("the writers disagree");
  const heap = heapGrowth(() => readProgram(text, into));
  const size = `${moves} lines, ${text.length} bytes`;
  return [
    {
      name: "reader against split and parseFloat",
      ratio: medianRatio(
        () => readProgram(text, into),
        () => readBySplitting(plain.decode(text)),
      ),
      target: 0.25,
      detail: `${size}; sum of X ${readBySplitting(plain.decode(text)).toFixed(1)}`,
    },
    {
      name: "reader against a byte loop",
      ratio: medianRatio(
        () => readProgram(text, into),
        () => countNewlines(text),
      ),
      target: 5,
      detail: size,
    },
    {
      name: "reader, MB of heap per million lines",
      // Bytes a line are MB a million lines.
      ratio: heap / moves,
      target: 1,
      detail: `${heap} bytes over ${moves} lines`,
    },
    {
      name: "reader, four times the lines",
      ratio: medianRatio(
        () => readProgram(longText, into),
        () => readProgram(text, into),
      ),
      target: 4.4,
      detail: `${longText.length} bytes against ${text.length}`,
    },
    {
      name: "writer against toFixed and join",
      ratio: medianRatio(
        () => writeProgram(track, options, buffer),
        () => writeByJoining(track),
      ),
      target: 0.083,
      detail: `${size}, the same bytes`,
    },
    {
      name: "writer against a copy byte by byte",
      ratio: medianRatio(
        () => writeProgram(track, options, buffer),
        () => copyBytes(text, copy),
      ),
      target: 5,
      detail: size,
    },
    {
      name: "writer, four times the moves",
      ratio: medianRatio(
        () => writeProgram(long, options, buffer),
        () => writeProgram(track, options, buffer),
      ),
      target: 4.4,
      detail: `${4 * moves} moves against ${moves}`,
    },
  ];
}

/** Rows at many places with links, a rapid now and then. */
function rows(moves: number): Track {
  const random = seeded(7);
  const track = new Track(moves);
  track.push(Kind.rapid, NaN, NaN, 90);
  track.push(Kind.rapid, -40, 0, 90);
  track.push(Kind.spindle, -40, 0, 90, 14_000);
  let z = 90;
  while (track.count < moves) {
    if (random() < 0.05) z = 60 + 30 * random();
    const kind = random() < 0.05 ? Kind.rapid : Kind.cut;
    track.push(kind, 2400 * random() - 40, 1100 * random(), z, random() < 0.02 ? 4500 : 6000);
  }
  return track;
}

/** What the writer replaces: a string a word, joined; the same rules and the same bytes. */
function writeByJoining(track: Track): string {
  const lines = ["G17", "G21", "G90", "G94", "G40", "G49", "G80", "G54"];
  let [x, y, z, feed, motion] = ["", "", "", "", -1];
  for (let i = 0; i < track.count; i++) {
    const kind = track.kind[i];
    if (kind === Kind.spindle) {
      lines.push(`S${track.value[i]} M3`);
      continue;
    }
    const words: string[] = [];
    const nextX = fixed(track.x[i]);
    const nextY = fixed(track.y[i]);
    const nextZ = fixed(track.z[i]);
    if (nextX !== "NaN" && nextX !== x) words.push(`X${nextX}`);
    if (nextY !== "NaN" && nextY !== y) words.push(`Y${nextY}`);
    if (nextZ !== "NaN" && nextZ !== z) words.push(`Z${nextZ}`);
    if (words.length === 0) continue;
    if (kind !== motion) words.unshift(`G${kind}`);
    const nextFeed = String(track.value[i]);
    if (kind === Kind.cut && nextFeed !== feed) {
      words.push(`F${nextFeed}`);
      feed = nextFeed;
    }
    [x, y, z, motion] = [nextX, nextY, nextZ, kind];
    lines.push(words.join(" "));
  }
  lines.push("M5", "M30", "");
  return lines.join("\n");
}

function fixed(mm: number): string {
  return (Math.round(mm * 1000) / 1000).toFixed(3);
}

/** What the reader replaces. */
function readBySplitting(text: string): number {
  let sum = 0;
  let x = 0;
  for (const line of text.split("\n")) {
    for (const [, letter, number] of line.matchAll(/([A-Z])(-?[\d.]+)/g)) {
      const value = parseFloat(number);
      if (letter === "X") x = value;
    }
    sum += x;
  }
  return sum;
}

function countNewlines(bytes: Uint8Array): number {
  let lines = 0;
  for (let i = 0; i < bytes.length; i++) if (bytes[i] === 10) lines++;
  return lines;
}

function copyBytes(from: Uint8Array, to: Uint8Array): number {
  for (let i = 0; i < from.length; i++) to[i] = from[i];
  return to[to.length - 1];
}

/** Bytes of heap a warm call leaves behind before any collection. */
function heapGrowth(work: () => unknown): number {
  for (let k = 0; k < 10; k++) work();
  const before = process.memoryUsage().heapUsed;
  work();
  return process.memoryUsage().heapUsed - before;
}
