import { expect, test } from "vitest";
import { inJobFrame } from "../../src/job/probed.ts";
import { probeProgram } from "../../src/probe/program.ts";
import { rectangle } from "../region/shapes.ts";
import { read } from "./example.ts";

const outlines = [rectangle(120, 110, 1020, 510), rectangle(120, 600, 1020, 900)];
const points = (...xyz: number[]) => ({ kind: "points", xyz: Float64Array.from(xyz) }) as const;
const moved = (readings: ReturnType<typeof points>, x = 120, y = 110) =>
  inJobFrame(readings, { outlines, zero: { x, y } });

test("readings that lie inside the outlines stay, on their edges and a little off it too", () => {
  const readings = points(120, 110, 50, 1020.9, 300, 50, 500, 899, 50);
  expect(moved(readings)).toBe(readings);
});

test("readings that count from the program's zero are moved by it", () => {
  const readings = points(4, 4, 50, 896, 396, 51, 4, 494, 52);
  expect(moved(readings)).toEqual(points(124, 114, 50, 1016, 506, 51, 124, 604, 52));
});

test("readings that lie outside either way stay, and so do all where the zero is the frame's", () => {
  const outside = points(4, 4, 50, 1500, 396, 51, 4, 494, 52);
  expect(moved(outside)).toBe(outside);
  const readings = points(4, 4, 50, 896, 396, 51, 4, 494, 52);
  expect(moved(readings, 0, 0)).toBe(readings);
});

test("a probing program's own touches are told from frame coordinates by either sign of the zero", () => {
  for (const [x, y] of [
    [20, 30],
    [-15, 0],
    [0, 9],
    [920, 330],
  ]) {
    const job = read((raw) => {
      raw.pieces = [{ id: "slab", outline: { length: 900, width: 300, at: [20, 30] }, thickness: 40 }];
      raw.setups[0].zero = { x, y };
    });
    const probe = { radiusMm: 2, feedMmPerMin: 200, logStart: [], logEnd: [] };
    const { places } = probeProgram(job, probe, null);
    const frame = points(...places.flatMap((place) => [place.x, place.y, 40]));
    const logged = points(...places.flatMap((place) => [place.x - x, place.y - y, 40]));
    const probed = { outlines: job.pieces.map(({ outline }) => outline), zero: { x, y } };
    expect(inJobFrame(frame, probed)).toBe(frame);
    const back = inJobFrame(logged, probed);
    if (back.kind !== "points") throw new Error("no points");
    back.xyz.forEach((value, k) => {
      expect(value).toBeCloseTo(frame.xyz[k], 9);
    });
  }
});
