import { describe, expect, test } from "vitest";
import { movementMm, movementNote, widthAcrossGrainMm } from "../../src/cutting/movement.ts";

const note = (material: string, now: number, inUse: number, units: "mm" | "in" = "mm") =>
  movementNote(
    {
      piece: { id: "top", material, moisture: { now, inUse } },
      thicknessMm: 50,
      widthMm: 600,
      inResin: false,
    },
    units,
  );

test("when walnut dries then the range between both ways of sawing is told", () => {
  // By hand: 50 * 0.0019 * 4 = 0.38, 50 * 0.00274 * 4 = 0.548; 600 * 0.0019 * 4 = 4.56, 600 * 0.00274 * 4 = 6.576.
  expect(note("black walnut", 12, 8)).toBe(
    'piece "top" (black walnut): from 12 % moisture now to 8 % in use it will shrink by about 0.4 to 0.5 mm in its ' +
      "thickness of 50 mm, and by about 4.6 to 6.6 mm across the grain in its width of 600 mm; along the grain it " +
      "hardly moves. Fasten it so that it can move",
  );
});

test("when it takes up moisture then it swells, told in the job's unit", () => {
  // By hand: 600 * 0.0018 * 2 / 25.4 = 0.085, 600 * 0.00365 * 2 / 25.4 = 0.172; 50 mm: 0.007 and 0.014.
  expect(note("oak", 7, 9, "in")).toContain(
    "swell by about 0.01 in in its thickness of 1.9685 in, and by about 0.09 to 0.17 in across",
  );
});

test("when nothing changes then it says so", () => {
  expect(note("oak", 8, 8)).toBe(
    'piece "top" (oak): from 8 % moisture now to 8 % in use it will keep its size',
  );
});

test("when the wood's movement is not known then the range of common hardwoods stands in, and that is told", () => {
  // By hand: 600 * 0.00126 * 4 = 3.0, 600 * 0.00365 * 4 = 8.8.
  for (const wood of ["purpleheart", "beech", ""]) {
    const text = note(wood, 12, 8);
    expect(text).toContain("about 3 to 8.8 mm across");
    expect(text).toContain("is not in the table");
  }
});

test("when resin is named beside the wood then the wood counts; resin and boards alone do not move", () => {
  expect(note("walnut and epoxy", 12, 8)).toContain("4.6 to 6.6 mm");
  expect(note("epoxy", 12, 8)).toBeNull();
  expect(note("mdf", 12, 8)).toBeNull();
  expect(
    movementNote(
      {
        piece: { id: "top", material: "oak", moisture: null },
        thicknessMm: 50,
        widthMm: 600,
        inResin: false,
      },
      "mm",
    ),
  ).toBeNull();
});

test("when the moisture is beyond what the figures hold for then that is told, and green wood keeps its size", () => {
  expect(note("oak", 18, 8)).toContain("Outside 6 to 14 % moisture such figures are rough");
  expect(note("oak", 14, 6)).not.toContain("rough");
  // Wet wood keeps its size down to about 30 %.
  expect(movementMm(100, 0.002, { now: 60, inUse: 30 })).toBe(0);
  expect(movementMm(100, 0.002, { now: 60, inUse: 10 })).toBeCloseTo(-4, 12);
});

test("when a change is too small to tell then it is less than the smallest told", () => {
  expect(note("oak", 8, 7.9)).toContain("less than 0.1 mm in its thickness");
  // By hand: 50 mm * 0.0018 * 0.5 = 0.045 mm and 50 * 0.00365 * 0.5 = 0.09 mm.
  expect(note("oak", 8, 7.5)).toContain("by up to about 0.1 mm in its thickness");
});

describe("the width of the wood across the grain", () => {
  const board = Float64Array.of(0, 0, 2000, 0, 2000, 600, 0, 600);
  const across = Float64Array.of(0, 0, 600, 0, 600, 2000, 0, 2000);
  test("is the board's width, whichever way it lies", () => {
    expect(widthAcrossGrainMm([board], 0)).toBeCloseTo(600, 9);
    expect(widthAcrossGrainMm([across], Math.PI / 2)).toBeCloseTo(600, 9);
  });
  test("leaves out what lies between two slabs", () => {
    const far = Float64Array.of(0, 400, 2000, 400, 2000, 600, 0, 600);
    const near = Float64Array.of(0, 0, 2000, 0, 2000, 250, 0, 250);
    expect(widthAcrossGrainMm([near, far], 0)).toBeCloseTo(450, 9);
  });
  test("is taken at the widest place", () => {
    // A trapezoid from 400 to 700 mm; sampled in 200 lines, so the last one lies 1/400 before the end.
    const taper = Float64Array.of(0, 0, 2000, -150, 2000, 550, 0, 400);
    expect(widthAcrossGrainMm([taper], 0)).toBeCloseTo(700 - 300 / 400, 9);
  });
});
