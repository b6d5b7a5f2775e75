import { describe, expect, test } from "vitest";
import { PlanError } from "../../src/errors.ts";
import type { KeepOut, Machine, Piece, Ring } from "../../src/job/job.ts";
import { floorOf, highestOf } from "../../src/passes/floor.ts";
import { boxOf, gridOver, type HeightField } from "../../src/survey/field.ts";
import { cutStock, type Stock, uncutStock } from "../../src/survey/stock.ts";
import { distanceToArea, isInside, polygon, rectangle, ringOf } from "../region/shapes.ts";
import { box, gridOf, type Height, measured } from "../survey/pieces.ts";
import { cleat, keepOut, machineWith, setupOf } from "./setups.ts";

const MACHINE = machineWith();

/** A piece whose face is `height`, read on a grid of 10 mm that reaches around its outline. */
function pieceOf(height: Height, outline: Ring, stepMm = 10): Piece {
  const { minX, minY, maxX, maxY } = boxOf([outline]);
  const cols = Math.ceil((maxX - minX) / stepMm) + 3;
  const rows = Math.ceil((maxY - minY) / stepMm) + 3;
  return measured(
    gridOf(height, { x0: minX - stepMm, y0: minY - stepMm, dx: stepMm, dy: stepMm, cols, rows }),
    outline,
  );
}

function cleanUpFloor(
  share: number,
  piece: Piece,
  keepOuts: readonly KeepOut[] = [],
  machine: Machine = MACHINE,
  stock?: Stock,
): number {
  const setup = setupOf({ pieces: [piece], target: { kind: "cleanUp", share }, keepOuts });
  return floorOf(setup, machine, [stock ?? uncutStock(piece)]);
}

function refusal(run: () => unknown): PlanError {
  try {
    run();
  } catch (error) {
    if (error instanceof PlanError) return error;
    throw error;
  }
  throw new Error("nothing was refused");
}

/**
 * Share of the face above a floor and within reach, by asking at many places. A place is out of reach when
 * it lies within `clearMm` of a keep-out that blocks at that floor.
 */
function shareAbove(piece: Piece, height: Height, keepOuts: readonly KeepOut[] = []) {
  const { minX, minY, maxX, maxY } = boxOf([piece.outline]);
  const step = Math.max(maxX - minX, maxY - minY) / 500;
  const heights: number[] = [];
  const away: number[][] = keepOuts.map(() => []);
  for (let x = minX + step / 2; x < maxX; x += step)
    for (let y = minY + step / 2; y < maxY; y += step) {
      if (!isInside([piece.outline], x, y)) continue;
      heights.push(height(x, y));
      keepOuts.forEach(({ outline }, k) => {
        away[k].push(distanceToArea([outline], x, y));
      });
    }
  return (floor: number, clearMm = 5) => {
    const blocking = away.filter((_, k) => keepOuts[k].heightMm >= floor);
    let cut = 0;
    for (let k = 0; k < heights.length; k++)
      if (heights[k] > floor && blocking.every((distances) => distances[k] > clearMm)) cut++;
    return cut / heights.length;
  };
}

describe("thickness and depth", () => {
  const piece = pieceOf((x) => 60 + x / 100, rectangle(0, 0, 400, 100));

  test("thickness is above the bed, what stays on for sanding is added", () => {
    const at = (leaveMm: number) =>
      floorOf(setupOf({ target: { kind: "thickness", mm: 55 }, leaveMm }), MACHINE, [uncutStock(piece)]);
    expect(at(0)).toBe(55);
    expect(at(0.5)).toBe(55.5);
  });

  test("depth is below the highest reading inside the outlines of all pieces; leave and margin do not matter", () => {
    const target = { kind: "depth", mm: 3 } as const;
    const stocks = [uncutStock(piece), uncutStock(box(62, rectangle(500, 0, 600, 100)))];
    expect(floorOf(setupOf({ target, leaveMm: 0.5 }), MACHINE, stocks)).toBeCloseTo(64 - 3, 9);
    expect(highestOf(stocks)).toBeCloseTo(64, 9);
  });

  test("after a cut depth is measured from what is left", () => {
    const grid = gridOver({ minX: 0, minY: 0, maxX: 400, maxY: 100 }, 2, 10);
    const cut: HeightField = { ...grid, z: new Float32Array(grid.cols * grid.rows).fill(61) };
    const stock = cutStock(uncutStock(piece), cut, 61);
    expect(floorOf(setupOf({ target: { kind: "depth", mm: 3 } }), MACHINE, [stock])).toBe(58);
  });
});

describe("clean-up by hand", () => {
  // A plane cut at share c of a rectangle: the floor lies c of the way down.
  const shares = [0.05, 0.3, 0.5, 0.8, 0.9, 0.95, 0.99];

  test.each(shares)("a board tilted across cleans %f at that share of its rise", (share) => {
    for (const width of [100, 100.9, 57.3, 600]) {
      const piece = pieceOf((_, y) => 60 + (4 * y) / width, rectangle(0, 0, 2400, width));
      const found = cleanUpFloor(share, piece);
      const cut = 1 - (found - 60) / 4;
      expect(cut, `${width} mm wide`).toBeGreaterThan(share - 2e-4);
      expect(cut, `${width} mm wide`).toBeLessThan(share + 0.001);
    }
  });

  test.each(shares)("a board tilted both ways, its corners cut off, cleans %f by counting", (share) => {
    const height: Height = (x, y) => 60 + x / 300 + y / 100;
    const piece = pieceOf(height, ringOf([0, 40], [80, 0], [870, 10], [900, 280], [430, 310], [10, 260]));
    const cut = shareAbove(piece, height)(cleanUpFloor(share, piece));
    // Counting at some 100 000 places is good to about 0.001.
    expect(cut).toBeGreaterThan(share - 0.001);
    expect(cut).toBeLessThan(share + 0.002);
  });

  test("a bowl on a disc: the rim is cut first", () => {
    const height: Height = (x, y) => 60 + (x * x + y * y) / 10_000;
    const piece = pieceOf(height, polygon(0, 0, 200, 360));
    for (const share of shares) {
      // Above where r^2 > (1 - share) R^2.
      const exact = 60 + ((1 - share) * 40_000) / 10_000;
      expect(Math.abs(cleanUpFloor(share, piece) - exact)).toBeLessThan(0.012);
    }
  });

  test("all of a face is cleaned at its lowest place, and no share of it higher than its highest", () => {
    const piece = pieceOf((x, y) => 60 + Math.sin(x / 40) + Math.cos(y / 30), rectangle(0, 0, 500, 300));
    const floor = cleanUpFloor(1, piece);
    expect(floor).toBeGreaterThan(57.99);
    expect(floor).toBeLessThan(58.06);
    expect(cleanUpFloor(1e-4, piece)).toBeLessThan(62.001);
  });

  test("a greater share is never a higher floor", () => {
    const piece = pieceOf(
      (x, y) => 60 + Math.sin(x / 40) * Math.cos(y / 30) + x / 500,
      rectangle(0, 0, 500, 300),
    );
    let before = Number.POSITIVE_INFINITY;
    for (let share = 0.02; share <= 1; share += 0.04) {
      const floor = cleanUpFloor(share, piece);
      expect(floor).toBeLessThanOrEqual(before);
      before = floor;
    }
  });

  test("of several pieces the lowest floor counts", () => {
    const low = pieceOf((_, y) => 60 + y / 50, rectangle(0, 0, 500, 100));
    const high = pieceOf((_, y) => 63 + y / 50, rectangle(0, 200, 500, 300));
    const setup = setupOf({ target: { kind: "cleanUp", share: 0.9 } });
    const both = floorOf(setup, MACHINE, [uncutStock(high), uncutStock(low)]);
    expect(both).toBe(floorOf(setup, MACHINE, [uncutStock(low)]));
  });

  test("leave does not apply", () => {
    const piece = pieceOf((_, y) => 60 + y / 50, rectangle(0, 0, 500, 100));
    const at = (leaveMm: number) =>
      floorOf(setupOf({ target: { kind: "cleanUp", share: 0.9 }, leaveMm }), MACHINE, [uncutStock(piece)]);
    expect(at(3)).toBe(at(0));
  });

  test("ground that an earlier setup cut flat is above a floor only when that lies lower", () => {
    const piece = pieceOf((_, y) => 60 + y / 25, rectangle(0, 0, 500, 100));
    const grid = gridOver({ minX: 0, minY: 0, maxX: 500, maxY: 100 }, 1, 10);
    const z = Float32Array.from({ length: grid.cols * grid.rows }, (_, k) =>
      grid.y0 + Math.floor(k / grid.cols) > 50 ? 62 : Number.POSITIVE_INFINITY,
    );
    const stock = cutStock(uncutStock(piece), { ...grid, z }, 62);
    // By hand: flat at 62 from y = 50 on, below it down to 60: half is above anything just under 62.
    expect(cleanUpFloor(0.75, piece, [], MACHINE, stock)).toBeCloseTo(61, 1);
    expect(cleanUpFloor(0.4, piece, [], MACHINE, stock)).toBeCloseTo(62, 2);
  });
});

describe("clean-up with keep-outs", () => {
  const outline = rectangle(0, 0, 600, 200);
  const height: Height = (x) => 60 + x / 100;
  const piece = pieceOf(height, outline);
  const shares = [0.2, 0.5, 0.7, 0.85];

  test("a keep-out higher than any floor takes its ground and the clearance out", () => {
    const keepOuts = [keepOut(rectangle(400, 60, 500, 140), 90)];
    const shareAt = shareAbove(piece, height, keepOuts);
    for (const share of shares) {
      const cut = shareAt(cleanUpFloor(share, piece, keepOuts));
      expect(cut).toBeGreaterThan(share - 0.001);
      expect(cut).toBeLessThan(share + 0.003);
    }
  });

  test("a keep-out lower than the floor changes nothing", () => {
    for (const share of shares) {
      const free = cleanUpFloor(share, piece);
      expect(cleanUpFloor(share, piece, [keepOut(rectangle(200, 60, 400, 140), free - 0.01)])).toBe(free);
    }
  });

  // By hand: without keep-outs 0.5 is cut at 63; a clamp of 62.5 does not block there. At 0.7 the floor
  // would lie at 61.8, where it does.
  test("whether a keep-out blocks is decided by the floor found, not by one tried before it", () => {
    const keepOuts = [keepOut(rectangle(100, 0, 500, 200), 62.5)];
    expect(cleanUpFloor(0.5, piece, keepOuts)).toBeCloseTo(63, 2);
    // Just above 62.5, what is free is 0.583 of the face; more is not to be had anywhere.
    expect(cleanUpFloor(0.58, piece, keepOuts)).toBeGreaterThan(62.5);
    expect(refusal(() => cleanUpFloor(0.6, piece, keepOuts)).code).toBe("clean-up");
  });

  test("when a low keep-out blocks, then the floor is the highest that cuts the share beside it", () => {
    const keepOuts = [
      keepOut(rectangle(250, 60, 350, 140), 62.5),
      keepOut(rectangle(20, 20, 60, 60), 61),
      cleat(580, 100, 80),
    ];
    const at = shareAbove(piece, height, keepOuts);
    for (const share of [0.3, 0.55, 0.62, 0.7, 0.8, 0.85]) {
      const floor = cleanUpFloor(share, piece, keepOuts);
      expect(at(floor), `share ${share} at ${floor}`).toBeGreaterThan(share - 0.002);
      // Nothing higher would do: tried to the top of the face.
      for (let z = floor + 0.1; z < 66; z += 0.25)
        expect(at(z), `at ${z} instead of ${floor}`).toBeLessThan(share + 0.002);
    }
  });

  test("what blocks a high piece at the low piece's floor counts there, too", () => {
    const low = pieceOf((_, y) => 60 + y / 50, rectangle(0, 0, 500, 100));
    const high = pieceOf((_, y) => 63 + y / 50, rectangle(0, 200, 500, 300));
    const stocks = [high, low].map(uncutStock);
    const floorAt = (share: number, heightMm: number) => {
      const keepOuts = [keepOut(rectangle(400, 200, 500, 300), heightMm)];
      return floorOf(setupOf({ target: { kind: "cleanUp", share }, keepOuts }), MACHINE, stocks);
    };
    // By hand: on the low piece 90 % lie above 60.2; at 61.5 the block would be cut over on the high piece alone.
    expect(floorAt(0.9, 60)).toBeCloseTo(60.2, 2);
    expect(refusal(() => floorAt(0.9, 61.5)).code).toBe("clean-up");
    // With its clearance it covers 21 % of the high piece, which lies above all that is left of it.
    expect(floorAt(0.75, 61.5)).toBeCloseTo(60.5, 2);
  });

  test("the spindle's nose counts as far as keep-outs reach it", () => {
    const nose = { diameterMm: 120, aboveMm: 20 };
    const keepOuts = [keepOut(rectangle(500, 60, 560, 140), 83)];
    // At 63 and below, the clamp reaches the nose: the centre stays 60 + 5 away, the rim 35.
    const shareAt = shareAbove(piece, height, keepOuts);
    for (const share of [0.3, 0.45, 0.6, 0.8]) {
      const floor = cleanUpFloor(share, piece, keepOuts, machineWith(nose));
      const cut = shareAt(floor, 83 >= floor + 20 ? 35 : 5);
      expect(cut, `share ${share} at ${floor}`).toBeGreaterThan(share - 0.003);
      if (Math.abs(floor - 63) > 0.01) expect(cut, `share ${share} at ${floor}`).toBeLessThan(share + 0.004);
    }
  });

  test("when keep-outs cover too much then it says how much can be had, and that much can", () => {
    for (const keepOuts of [
      [keepOut(rectangle(100, 0, 400, 200), 90)],
      [keepOut(rectangle(100, 0, 400, 200), 62.7)],
      [cleat(100, 100, 61), cleat(300, 100, 90)],
    ]) {
      const error = refusal(() => cleanUpFloor(0.998, piece, keepOuts));
      expect(error.code).toBe("clean-up");
      const asked = Number(/at most ([\d.]+) %/.exec(error.message)![1]) / 100;
      const floor = cleanUpFloor(asked, piece, keepOuts);
      expect(shareAbove(piece, height, keepOuts)(floor)).toBeGreaterThan(asked - 0.002);
    }
  });
});
