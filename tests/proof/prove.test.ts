// Programs by hand on a board by hand: the clean ones have no finding, and each fault has its own and no other.
// All expectations are worked out on paper; there is no outside source.

import { describe, expect, test } from "vitest";
import type { Proven } from "../../src/proof/prove.ts";
import { cutStock, uncutStock } from "../../src/survey/stock.ts";
import { type Bed, board, CLEAN, changed, found, from, keepOut, proven, ring } from "./bench.ts";

/** A board of 60 x 60 about (0, 0), and circles about the same place that clear it. */
const SQUARE = [board(ring(-30, -30, 30, 30))];
const circles = (code: string) => [
  ...CLEAN.slice(0, 4),
  "X-60 Y0",
  "G1 Z19 F1000",
  "X-25 F5000",
  `${code} X-25 Y0 I25`,
  "G1 X-15",
  `${code} X-15 Y0 I15`,
  "G0 Z50",
  "M5",
  "M30",
];

const RAMP = { rampRad: (2 * Math.PI) / 180 };

function textOf({ findings }: Proven): string {
  return findings.map(({ text }) => text).join("\n");
}

describe("a clean program", () => {
  test("has no finding, and its figures are those of the sums by hand", () => {
    const { proof, pieces, took, findings } = proven(CLEAN);
    expect(findings).toEqual([]);
    expect(proof).toEqual({
      ok: true,
      cellMm: 1,
      cleanUp: 1,
      highestMm: 19,
      lowestMm: 19,
      deepestCutMm: 1.5, // margin included
      rapidHits: 0,
      keepOutHits: 0,
      plungeHits: 0,
      outsideTravel: 0,
    });
    const [piece] = pieces;
    expect(piece).toMatchObject({ id: "board", cleanUp: 1, underKeepOuts: 0, belowFloor: 0 });
    expect(piece.removedMm3.wood).toBeCloseTo(100 * 60 * 1, 6); // as measured, margin not counted
    // Of the feed moves the two rows take material; the way down and the way across in air do not.
    expect(took.filter((one) => one === 1)).toHaveLength(2);
  });

  test("stays clean when it is written otherwise", () => {
    const incremental = changed(6, "G91 G1 Z-31 F1000", "X150 F5000", "Y30", "X-150", "G90").toSpliced(11, 3);
    expect(found(incremental)).toEqual([]);
    expect(found(changed(6, "G1 Z30 F1000", "G1 Z19"))).toEqual([]);
    expect(found(changed(7, ...Array.from({ length: 150 }, (_, k) => `X${k - 24} F5000`)))).toEqual([]);
    expect(found(changed(8, "G3 Y40 J15", "G1 X125.001"))).toEqual([]);
    expect(found(changed(8, "G3 Y40 R15", "G1 X-25"), {})).toEqual([]);
    expect(found(changed(4, "G0 Z50", "Y10", "X-25"))).toEqual([]);
    expect(found(changed(4, "G1 Z50 F900", "G0"))).toEqual([]);
  });

  test("in inches is as clean on a job in mm", () => {
    const inches = CLEAN.map((line) =>
      line
        .replace("G21", "G20")
        .replace(/([XYZF])(-?\d+)/g, (_, letter, mm) => `${letter}${(Number(mm) / 25.4).toFixed(4)}`),
    );
    expect(found(inches, { units: "mm" })).toEqual([]);
  });

  test("when zero lies elsewhere then its coordinates do too", () => {
    const bed: Bed = { setup: { zero: { xMm: 10, yMm: -20, z: "high-spot" } } };
    const moved = CLEAN.map((line) =>
      line
        .replace(/X(-?\d+)/g, (_, x) => `X${Number(x) - 10}`)
        .replace(/Y(-?\d+)/g, (_, y) => `Y${Number(y) + 20}`)
        .replace(/Z(-?\d+)/g, (_, z) => `Z${Number(z) - 20}`),
    );
    expect(found(moved, bed)).toEqual([]);
    expect(found(CLEAN, bed)).not.toEqual([]);
    expect(textOf(proven(changed(6, "G1 Z18 F1000"), {}))).toContain("1 mm below the floor");
  });

  test("with zero on the high spot never goes below the bed", () => {
    const bed: Bed = {
      pieces: [board(ring(0, 0, 100, 60), 1)],
      floorMm: 0.2,
      setup: { zero: { xMm: 0, yMm: 0, z: "high-spot" } },
    };
    expect(found(changed(6, "G1 Z-0.8 F1000"), bed)).toEqual([]);
  });
});

describe("a fault put in by hand is found, and nothing else", () => {
  test("rapid-hit: rapids through wood, along, down and aslant", () => {
    expect(found(changed(9, "G0 X-25", "G1 X125"))).toEqual(["rapid-hit 9"]);
    expect(found(changed(5, "X50 Y30", "Z20", "Z50", "X-25 Y10"))).toEqual(["rapid-hit 6"]);
    expect(found(changed(5, "X-25 Y30", "X50 Z20", "Z50", "X-25 Y10"))).toEqual(["rapid-hit 6"]);
    expect(proven(changed(9, "G0 X-25", "G1 X125")).proof.rapidHits).toBe(1);
    // Wood that the rapid hits stays there to be cut.
    expect(proven(changed(9, "G0 X-25", "G1 X125")).proof.cleanUp).toBe(1);
  });

  test("rapid-hit: what stood where it ended is cut by the feed that goes on from there", () => {
    // The start's disc alone covers x 40 to 50 of the first row.
    const near = ["X50 Y10", "Z19", "G1 X125 F5000", "G0 Z50", "X-25", "G1 Z19 F1000", "X20 F5000", "G0 Z50"];
    expect(found(from(5, ...near, "X-25 Y40", "G1 Z19", "X125", "G0 Z50"))).toEqual(["rapid-hit 6"]);
  });

  test("clearance: rapids with less air under them than the setup asks for", () => {
    expect(found(changed(10, "G0 X125", "Z50"))).toEqual(["clearance 10"]);
    expect(found(changed(10, "G0 Z28.9", "X125", "Z50"))).toEqual(["clearance 11"]);
    expect(found(changed(10, "G0 Z29", "X125", "Z50"))).toEqual([]);
    expect(found(changed(10, "G0 Z24", "X125", "Z50"), { setup: { clear: { zMm: 5, sideMm: 5 } } })).toEqual(
      [],
    );
    expect(textOf(proven(changed(10, "G0 Z28", "X125", "Z50")))).toContain("9 mm");
    expect(textOf(proven(changed(10, "G0 Z28", "X125", "Z50")))).toContain("10 mm");
  });

  test("clearance: over uncut wood the margin counts; beside all wood there is nothing to clear", () => {
    expect(found(changed(6, "G0 Z30.4", "X125", "X-25", "G1 Z19 F1000"))).toEqual([
      "clearance 7",
      "clearance 8",
    ]);
    expect(found(changed(6, "G0 Z30.5", "X125", "X-25", "G1 Z19 F1000"))).toEqual([]);
    expect(found(changed(6, "G0 Z19", "Y60", "Y10", "G1 X-24 F1000"))).toEqual([]);
  });

  test("clearance: aslant, it is the air over each place that counts", () => {
    // From over the middle to 22 in air beside the board: the rim leaves the wood, cut to 19, at x -20, which
    // lies 70 / 95 of the way; from 47 that is at 28.6, from 49 at 29.1.
    const down = (z: number) => changed(10, "G0 Z50", "X50 Y30", `Z${z}`, "X-45 Z22", "Z50");
    expect(found(down(47))).toEqual(["clearance 13"]);
    expect(found(down(49))).toEqual([]);
    // Over a keep-out 30 high it must be at 40 until its rim is past x 10, at x -10: 60 / 95 of the way.
    const bed: Bed = { setup: { keepOuts: [keepOut(10, 75, 60, 85)] } };
    const over = (z: number) => changed(10, "G0 Z50", "X50 Y80", `Z${z}`, "X-45 Z32", "Z50");
    expect(found(over(53), bed)).toEqual(["clearance 13"]);
    expect(found(over(54), bed)).toEqual([]);
  });

  test("clearance: over keep-outs", () => {
    const bed: Bed = { setup: { keepOuts: [keepOut(0, 70, 30, 80)] } };
    expect(found(changed(10, "G0 Z39", "Y75", "Z50"), bed)).toEqual([]); // beside it
    expect(found(changed(10, "G0 Z39", "X0 Y75", "Z50"), bed)).toEqual(["clearance 11"]);
    expect(found(changed(10, "G0 Z40", "X0 Y75", "Z50"), bed)).toEqual([]);
  });

  test("first-move: across before Z is known, or not above everything on the bed", () => {
    expect(found(changed(4, "G0 X-25 Y10 Z50"))).toEqual(["first-move 4"]);
    expect(found(changed(4, "G0 X-25 Y10"))).toEqual([4, 5, 6].map((line) => `first-move ${line}`));
    expect(found(changed(4, "G0 Z20.4", "X-25 Y10", "Z50"))).toEqual(["first-move 4", "first-move 5"]);
    expect(found(changed(4, "G1 X-25 Y10 Z50 F900", "G0"))).toEqual(["first-move 4"]);
    const high: Bed = { setup: { keepOuts: [keepOut(300, 300, 320, 320, 45)] } };
    expect(found(changed(4, "G0 Z44"), high)).toEqual(["first-move 4", "first-move 5"]);
    expect(found(CLEAN, { setup: { keepOuts: [keepOut(300, 300, 320, 320, 40)] } })).toEqual([]);
  });

  test("first-move: nor may Z go down over a place that nobody knows", () => {
    expect(found(changed(4, "G0 Z5", "Z50"))).toEqual(["first-move 4"]);
    expect(found(changed(4, "G0 Z50", "Z19", "Z50"))).toEqual(["first-move 5"]);
    expect(found(changed(4, "G0 Z50", "G1 Z19 F900", "G0 Z50"))).toEqual(["first-move 5"]);
    expect(found(changed(4, "G0 Z50", "X-25", "Z19", "Z50"))).toEqual(["first-move 6"]);
  });

  test("first-move: across from an unknown place needs the air that every rapid across needs", () => {
    expect(found(changed(4, "G0 Z30.4"))).toEqual(["first-move 5"]);
    expect(found(changed(4, "G0 Z30.5"))).toEqual([]);
  });

  test("first-move: a program that never says where it is", () => {
    const lost = CLEAN.map((line) => line.replace("G90", "G91"));
    expect(found(lost)).toContain("first-move 5");
  });

  test("no-feed: feed moves before any F, at each of them", () => {
    const noFeed = CLEAN.map((line) => line.replace(/ F\d+/, ""));
    expect(found(noFeed)).toEqual(["no-feed 6", "no-feed 7", "no-feed 8", "no-feed 9"]);
    expect(found(CLEAN.map((line) => line.replace(/F\d+/, "F0")))).toHaveLength(4);
  });

  test("plunge: straight down into wood, margin and all", () => {
    const down = (z: number) => changed(5, "X50 Y30", `G1 Z${z} F900`, "G0 Z50", "X-25 Y10");
    expect(found(down(20))).toEqual(["plunge 6"]);
    expect(found(down(20.49))).toEqual(["plunge 6"]);
    expect(found(down(20.5))).toEqual([]);
    expect(found(down(20), { centreCutting: true })).toEqual([]);
    expect(proven(down(20)).proof.plungeHits).toBe(1);
  });

  test("plunge: a cutter that cuts at its centre may go down at any slope", () => {
    const slope = changed(5, "X20 Y30", "Z31", "G1 Z21 F900", "X40 Z19", "G0 Z50", "X-25 Y10");
    expect(found(slope)).toEqual(["plunge 8"]);
    expect(found(slope, { centreCutting: true })).toEqual([]);
  });

  test("plunge: what rounding lets a descent touch does not add up from place to place", () => {
    const touch = ["G1 Z20.496 F900", "G0 Z50"];
    expect(found(changed(5, "X50 Y30", ...touch, "X20", ...touch, "X80", ...touch, "X-25 Y10"))).toEqual([]);
  });

  test("plunge: in as small steps as one likes", () => {
    const steps = Array.from({ length: 400 }, (_, k) => `Z${(20.5 - 0.003 * (k + 1)).toFixed(3)}`);
    const codes = found(changed(5, "X50 Y30", "G1 Z20.5 F900", ...steps, "G0 Z50", "X-25 Y10"));
    expect(codes.length).toBeGreaterThan(0);
    expect(new Set(codes.map((code) => code.split(" ")[0]))).toEqual(new Set(["plunge"]));
    const aslant = steps.map((step, k) => `X${(50 + 0.001 * (k + 1)).toFixed(3)} ${step}`);
    const steep = found(changed(5, "X50 Y30", "G1 Z20.5 F900", ...aslant, "G0 Z50", "X-25 Y10"));
    expect(new Set(steep.map((code) => code.split(" ")[0]))).toEqual(new Set(["plunge"]));
  });

  test("plunge: down a slope where only air will do, or steeper than the ramp", () => {
    // From 21 down to 19 over a length: 60 mm are 1.9 degrees, 50 mm 2.3 degrees.
    const ramp = (toX: number) =>
      changed(5, "X20 Y30", "Z31", "G1 Z21 F900", `X${toX} Z19`, "G0 Z50", "X-25 Y10");
    expect(found(ramp(80))).toEqual(["plunge 8"]);
    expect(found(ramp(80), { passes: RAMP })).toEqual([]);
    expect(found(ramp(77.3), { passes: RAMP })).toEqual([]); // 57.27 mm are 2 degrees
    expect(found(ramp(77), { passes: RAMP })).toEqual(["plunge 8"]); // 2.009 degrees
    expect(textOf(proven(ramp(70), { passes: RAMP }))).toMatch(/2\.3 degrees.*2\.0 degrees/);
    // In air any slope will do.
    expect(found(changed(6, "X-45 F5000", "G1 X-25 Z19 F1000"))).toEqual([]);
  });

  test("plunge: a helix is a ramp, and its slope is measured along its arc", () => {
    // R 10, 62.83 mm round: 2 mm down in one turn are 1.82 degrees, 2.5 mm 2.28.
    const helix = (z: number, code: string, more: string[] = []) =>
      changed(
        5,
        "X50 Y30",
        "Z31",
        "G1 Z20.5 F900",
        `${code} X50 Y30 Z${z} I10`,
        ...more,
        "G0 Z50",
        "X-25 Y10",
      );
    for (const code of ["G2", "G3"]) {
      expect(found(helix(19, code), { passes: RAMP })).toEqual([]);
      expect(found(helix(19, code))).toEqual(["plunge 8"]);
      expect(found(helix(18, code), { passes: RAMP, floorMm: 18 })).toContain("plunge 8");
    }
  });

  test("gouge: wood cut below the floor, however thin, on every line that does", () => {
    expect(found(changed(6, "G1 Z18.99 F1000"))).toEqual(["gouge 7", "gouge 9"]);
    expect(found(changed(6, "G1 Z18.996 F1000"))).toEqual([]); // what rounding may amount to
    expect(found(changed(8, "Y40", "X125 Y40", "X-25 Y40 Z18.9", "X125", "Z19"))).toEqual([
      "gouge 10",
      "gouge 11",
    ]);
    expect(textOf(proven(changed(6, "G1 Z18.5 F1000")))).toContain("0.5 mm below the floor");
    expect(proven(changed(6, "G1 Z18.5 F1000")).proof.lowestMm).toBe(18.5);
  });

  test("gouge: in as thin shavings as one likes", () => {
    const shave = Array.from({ length: 300 }, (_, k) => [
      `G1 Z${(19 - 0.002 * (k + 1)).toFixed(3)}`,
      `X${k % 2 === 0 ? 125 : -25}`,
    ]).flat();
    const codes = found(changed(9, "X-25", ...shave));
    expect(codes.length).toBe(100);
    expect(new Set(codes.map((code) => code.split(" ")[0]))).toEqual(new Set(["gouge"]));
  });

  test("gouge: only where wood is; below the floor in air harms nothing", () => {
    expect(found(changed(6, "G1 Z10 F1000", "Z19"))).toEqual([]);
    // Sloping down through wood, the rim leaves the board at x -20 and 19.27; only then is the edge below 19.
    const slope = changed(
      9,
      "X60",
      "G0 Z50",
      "X60 Y40",
      "G1 Z20.5 F1000",
      "X60.001",
      "X-60 Z18.9",
      "Z19",
      "X60",
    );
    expect(found(slope, { passes: { depthMm: 2, rampRad: 0.02 } })).toEqual([]);
  });

  test("bite: more at once than a pass may take", () => {
    expect(found(CLEAN, { passes: { depthMm: 1.49 } })).toEqual(["bite 7", "bite 9"]);
    expect(found(CLEAN, { passes: { depthMm: 1.5 } })).toEqual([]);
    expect(textOf(proven(CLEAN, { passes: { depthMm: 1 } }))).toMatch(/1\.5 mm.* 1 mm/);
    expect(proven(CLEAN, { passes: { depthMm: 1 } }).proof.deepestCutMm).toBe(1.5);
  });

  test("bite: on an arc, wherever on it", () => {
    const codes = found(circles("G2"), { pieces: SQUARE, passes: { depthMm: 1.49 } });
    expect(codes).toEqual(["bite 7", "bite 8", "bite 9"]);
  });

  /** Two layers along one row, the lower one's line rounded otherwise: cells lie at y 30.5, the rims beside them. */
  const layers = (upperY: number, lowerY: number) => [
    ...CLEAN.slice(0, 4),
    ...[`X-25 Y${upperY}`, "G1 Z18.7 F1000", "X125 F5000", "G0 Z50"],
    ...[`X-25 Y${lowerY}`, "G1 Z17 F1000", "X125 F5000", "G0 Z50", "M5", "M30"],
  ];

  test("bite: what rounding put beside the rim of the layer above is none", () => {
    const codes = (upperY: number, lowerY: number) =>
      found(layers(upperY, lowerY), { floorMm: 17 }).filter((code) => !code.startsWith("left-standing"));
    expect(codes(10.499, 10.501)).toEqual([]);
    expect(codes(10.499, 10.509)).toEqual([]);
    expect(codes(10.499, 10.52)).toEqual(["bite 11"]);
    const { proof } = proven(layers(10.499, 10.501), { floorMm: 17 });
    expect(proof.deepestCutMm).toBeCloseTo(1.8, 5);
  });

  test("bite: in as small steps as one likes", () => {
    const steps = Array.from({ length: 2000 }, (_, k) => `X${(-25 + 0.005 * (k + 1)).toFixed(3)} F5000`);
    const codes = found([...from(7, ...steps, "G0 Z50")], { passes: { depthMm: 1 } });
    expect(new Set(codes.map((code) => code.split(" ")[0]))).toEqual(new Set(["bite", "left-standing"]));
  });

  test("keep-out: the rim too near to what stands higher than the cutter", () => {
    const at = (y: number, heightMm = 30): Bed => ({
      setup: { keepOuts: [keepOut(0, y, 30, y + 10, heightMm)] },
    });
    expect(found(CLEAN, at(65))).toEqual([]);
    expect(found(CLEAN, at(64.9))).toEqual(["keep-out 9"]);
    expect(textOf(proven(CLEAN, at(64)))).toContain("4 mm; the setup asks for 5 mm");
    expect(found(CLEAN, at(64, 19))).toEqual([]);
    const near = at(64);
    expect(found(CLEAN, { setup: { ...near.setup, clear: { zMm: 10, sideMm: 4 } } })).toEqual([]);
    expect(proven(CLEAN, at(64)).proof.keepOutHits).toBe(1);
  });

  test("keep-out: run into, by rim or by centre, with rapids as with feeds", () => {
    const bed: Bed = { setup: { keepOuts: [keepOut(0, 75, 30, 85)] } };
    const touch = (...lines: string[]) => changed(10, "G0 Z25", ...lines, "Z50");
    // Beyond the board, where a low rapid has nothing under it but the keep-out.
    const rapid = found(from(10, "G0 X-45", "Y80", "X60", "Z50"), bed);
    expect(rapid).toContain("keep-out 12");
    const feed = changed(10, "Y80", "X60", "G0 Z50");
    expect(found(feed, bed)).toEqual(["keep-out 11"]);
    expect(textOf(proven(feed, bed))).toContain('the cutter runs into keep-out "cleat"');
    expect(found(touch(), bed)).toEqual([]);
  });

  test("keep-out: on a slope it counts where the edge is lower than the keep-out", () => {
    const bed: Bed = { setup: { keepOuts: [keepOut(150, 0, 170, 60)] } };
    // Rising from the end of a row over the keep-out: at x 125, its rim 5 mm away, it must be up at 30.
    expect(found(changed(7, "X100 F5000", "X124.9 Z31", "X200", "X124", "X100 Z19", "X125"), bed)).toEqual(
      [],
    );
    expect(found(changed(7, "X100 F5000", "X150 Z31", "X124", "X100 Z19", "X125"), bed)).toEqual([
      "keep-out 8",
    ]);
  });

  test("keep-out: all along an arc, told once, at its nearest", () => {
    // A bow around (125, 25) of radius 15 reaches x 140 and its rim 160.
    const bow = changed(8, "G3 Y40 J15", "G1 X125.001");
    const at = (x: number): Bed => ({ setup: { keepOuts: [keepOut(x, 20, x + 20, 30)] } });
    expect(found(bow, at(165))).toEqual([]);
    expect(found(bow, at(164))).toEqual(["keep-out 8"]);
    expect(textOf(proven(bow, at(164)))).toContain("at 4 mm");
    expect(textOf(proven(bow, at(155)))).toContain("runs into");
    expect(found(changed(8, "G2 Y40 J15", "G1 X125.001"), at(165))).not.toContain("keep-out 8");
  });

  test("nose: too near to a keep-out, or in wood", () => {
    const cleat: Bed = { setup: { keepOuts: [keepOut(0, 70, 30, 80)] } };
    const nose = (diameterMm: number, aboveMm: number): Bed => ({
      ...cleat,
      machine: { nose: { diameterMm, aboveMm } },
    });
    expect(found(CLEAN, nose(50, 10.5))).toEqual([]);
    expect(found(CLEAN, nose(52, 10.5))).toEqual(["nose 9"]);
    expect(textOf(proven(CLEAN, nose(52, 10.5)))).toContain("4 mm; the setup asks for 5 mm");
    expect(textOf(proven(CLEAN, nose(70, 10.5)))).toContain('the spindle nose runs into keep-out "cleat"');
    expect(found(CLEAN, nose(52, 11))).toEqual([]);
    const wood = found(CLEAN, { machine: { nose: { diameterMm: 60, aboveMm: 1 } } });
    expect(wood).toContain("nose 7");
    expect(new Set(wood.map((code) => code.split(" ")[0]))).toEqual(new Set(["nose"]));
    expect(proven(CLEAN, nose(52, 10.5)).proof.keepOutHits).toBe(1);
  });

  test("nose: wood beside the way that stands higher than it", () => {
    // A taller board 15 mm beside, out of the cutter's reach and within the nose's.
    const bed = (aboveMm: number): Bed => ({
      pieces: [board(), board(ring(0, 70, 100, 80), 38, "rail")],
      machine: { nose: { diameterMm: 90, aboveMm } },
      floorMm: 19,
    });
    expect(found(CLEAN, bed(19))).toContain("nose 9");
    expect(found(CLEAN, bed(20))).toEqual(["left-standing 0"]);
  });

  test("bed: below the spoilboard's top, also in air", () => {
    expect(found(changed(10, "Z-0.1", "G0 Z50"))).toEqual(["bed 10"]);
    expect(found(changed(10, "G0 Z-0.1", "Z50"))).toEqual(["bed 10"]);
    expect(found(changed(10, "Z0", "G0 Z50"))).toEqual([]);
    expect(textOf(proven(changed(10, "Z-2", "G0 Z50")))).toContain("2 mm below the top of the bed");
  });

  test("spindle-off: cutting with the spindle at rest; in air it may be", () => {
    expect(found(changed(2, "S12000"))).toEqual(["spindle-off 7", "spindle-off 9"]);
    expect(found(changed(2, "M3"))).toEqual(["spindle-off 7", "spindle-off 9"]);
    expect(found(changed(2, "S0 M3"))).toHaveLength(2);
    expect(found(changed(9, "M5", "X-25"))).toEqual(["spindle-off 10"]);
    expect(found(changed(7, "S12000 M3", "X125 F5000"))).toEqual([]);
  });

  test("spindle-off: a tool change leaves the spindle stopped (NISTIR 6556 section 3.6.3)", () => {
    expect(found(changed(3, "M6 T2"))).toEqual(["spindle-off 7", "spindle-off 9"]);
    expect(found(changed(3, "M6 T2", "S12000 M3"))).toEqual([]);
  });

  test("spindle-backwards: cutting with M4", () => {
    expect(found(changed(2, "S12000 M4"))).toEqual(["spindle-backwards 7", "spindle-backwards 9"]);
    expect(found(changed(2, "S12000 M4", "M3"))).toEqual([]);
  });

  test("work-offset: another one than the shop's, or none where the shop's is not the usual", () => {
    expect(found(CLEAN.map((line) => line.replace("G54", "G55")))).toEqual(["work-offset 1"]);
    expect(
      found(
        CLEAN.map((line) => line.replace("G54", "G55")),
        { workOffset: 55 },
      ),
    ).toEqual([]);
    expect(found(CLEAN, { workOffset: 55 })).toEqual(["work-offset 1"]);
    const none = CLEAN.map((line) => line.replace(" G54", ""));
    expect(found(none)).toEqual([]);
    expect(found(none, { workOffset: 55 })).toEqual(["work-offset 4"]);
    expect(found(changed(10, "G0 Z50", "G55"))).toEqual(["work-offset 11"]);
  });

  test("travel: wider than the machine, each axis for itself", () => {
    const travel = (x: number, y: number, z: number): Bed => ({ machine: { travelMm: { x, y, z } } });
    expect(found(CLEAN, travel(150, 30, 31))).toEqual([]);
    expect(found(CLEAN, travel(149.9, 30, 31))).toEqual(["travel 0"]);
    expect(found(CLEAN, travel(149.9, 29, 30))).toEqual(["travel 0", "travel 0", "travel 0"]);
    expect(proven(CLEAN, travel(149.9, 29, 31)).proof.outsideTravel).toBe(2);
    expect(textOf(proven(CLEAN, travel(140, 30, 31)))).toContain("needs 150 mm in X; the machine has 140 mm");
  });

  test("travel: arcs count by their bulge", () => {
    const travel = (x: number): Bed => ({ machine: { travelMm: { x, y: 200, z: 200 } } });
    const bow = changed(8, "G3 Y40 J15", "G1 X125.001");
    expect(found(bow, travel(165))).toEqual([]);
    expect(found(bow, travel(164.9))).toEqual(["travel 0"]);
    expect(found(changed(8, "G2 Y40 J15", "G1 X125.001"), travel(150))).toEqual([]);
  });

  test("left-standing: wood within reach that the program leaves above the floor", () => {
    expect(found(changed(9))).toEqual(["left-standing 0"]);
    expect(found(changed(6, "G1 Z19.1 F1000"))).toEqual(["left-standing 0"]);
    expect(found(changed(6, "G1 Z19.04 F1000"))).toEqual([]); // as good as the floor
    expect(found(changed(8, "Y39"))).toEqual(["left-standing 0"]); // a strip of 1 mm
    expect(textOf(proven(changed(9)))).toMatch(/"board".*30\.0 cm2.*1\.5 mm/);
  });

  test("clean-up: less of a face cut than its setup asks for", () => {
    // Half of the face stands above the floor, half 1 mm below it.
    const pieces = [board(ring(0, 0, 100, 30)), board(ring(0, 30, 100, 60), 18, "low")];
    // What counts as cut down to the floor counts here too.
    const high = changed(6, "G1 Z19.04 F1000");
    expect(found(high, { setup: { target: { kind: "cleanUp", share: 1 } } })).toEqual([]);
    const bed = (share: number): Bed => ({ pieces, setup: { target: { kind: "cleanUp", share } } });
    expect(found(CLEAN, bed(0.5))).toEqual(["clean-up 0"]);
    expect(textOf(proven(CLEAN, bed(0.5)))).toMatch(/"low": 0\.0 %.*50\.0 %/);
    expect(found(CLEAN, { setup: { target: { kind: "cleanUp", share: 1 } } })).toEqual([]);
    expect(proven(CLEAN, bed(0.5)).pieces.map(({ cleanUp, belowFloor }) => [cleanUp, belowFloor])).toEqual([
      [1, 0],
      [0, 1],
    ]);
  });
});

describe("arcs", () => {
  const bed: Bed = { pieces: SQUARE };

  test("a full circle goes all the way round, clockwise and counter-clockwise", () => {
    for (const code of ["G2", "G3"]) {
      expect(found(circles(code), bed)).toEqual([]);
      expect(proven(circles(code), bed).proof.cleanUp).toBe(1);
    }
  });

  test("the two ways round between the same places are told apart", () => {
    const half = (code: string) =>
      circles("G2").with(7, `${code} X25 Y0 I25`).with(8, "G1 X15").with(9, "G2 X15 Y0 I-15");
    const [clockwise, counter] = [proven(half("G2"), bed), proven(half("G3"), bed)];
    expect(clockwise.findings.map(({ code }) => code)).toEqual(["left-standing"]);
    expect(counter.findings.map(({ code }) => code)).toEqual(["left-standing"]);
    // Clockwise from the west goes by the north: what stands is in the south corners.
    expect(textOf(clockwise)).toMatch(/\(-?\d+(\.\d+)?, -\d/);
    expect(textOf(counter)).toMatch(/\(-?\d+(\.\d+)?, \d/);
  });

  test("a faulty one has one finding of a code, not one a chord", () => {
    const deep = circles("G2").with(5, "G1 Z18.9 F1000");
    expect(found(deep, bed)).toEqual(["gouge 7", "gouge 8", "gouge 9"]);
    expect(found(circles("G2").toSpliced(1, 1, "S12000"), bed)).toEqual(
      [7, 8, 9].map((line) => `spindle-off ${line}`),
    );
  });
});

describe("beside keep-outs", () => {
  const clamp = keepOut(60, 55, 80, 75);
  const before = changed(8, "G0 Z50", "X-25 Y40", "G1 Z19").slice(0, 10);
  const rows = [...before, "X34.9", "G0 Z50", "X125", "G1 Z19", "X105.1", "G0 Z50"];
  const round = [
    "X34.9 Y85",
    "G1 Z19",
    "Y55",
    "G3 X60 Y29.9 I25.1",
    "G1 X80",
    "G3 X105.1 Y55 J25.1",
    "G1 Y85",
    "G0 Z50",
  ];
  const end = ["M5", "M30"];

  test("ground that no disc can reach is not called left standing, and is measured", () => {
    const { findings, pieces, proof } = proven([...rows, ...round, ...end], { setup: { keepOuts: [clamp] } });
    expect(findings).toEqual([]);
    // 30 x 10 mm with two corners rounded by 5 stay, of 6000 mm2.
    const shade = (300 - 2 * (25 - (Math.PI * 25) / 4)) / 6000;
    expect(Math.abs(pieces[0].underKeepOuts - shade)).toBeLessThan(0.01);
    expect(Math.abs(proof.cleanUp - (1 - shade))).toBeLessThan(0.01);
    expect(proof.highestMm).toBe(19); // out of the keep-out's reach
    expect(pieces[0].highestLeftMm).toBe(20);
  });

  test("and was not cut there, though it lies hardly above the floor and a layer above has passed over it", () => {
    const at = (zMm: number, lines: readonly string[]) => lines.map((line) => line.replace("Z19", `Z${zMm}`));
    const bed: Bed = { floorMm: 19.97, setup: { keepOuts: [{ ...clamp, heightMm: 20.1 }] } };
    const high = at(20.2, [...CLEAN.slice(0, 10), "X-25 Y10"]);
    const { findings, pieces } = proven([...high, ...at(19.97, [...rows.slice(5), ...round]), ...end], bed);
    expect(findings).toEqual([]);
    const shade = (300 - 2 * (25 - (Math.PI * 25) / 4)) / 6000;
    expect(Math.abs(pieces[0].cleanUp - (1 - shade))).toBeLessThan(0.01);
  });

  test("but what a way round it would have taken is", () => {
    expect(found([...rows, ...end], { setup: { keepOuts: [clamp] } })).toEqual(["left-standing 0"]);
  });

  test("a keep-out lower than the floor shades nothing", () => {
    const low = { ...clamp, heightMm: 18.5 };
    expect(found(CLEAN, { setup: { keepOuts: [low] } })).toEqual([]);
    expect(proven(CLEAN, { setup: { keepOuts: [low] } }).pieces[0].underKeepOuts).toBe(0);
  });

  test("a piece wholly in their shade stays as it is", () => {
    const { proof, findings, pieces } = proven(from(5, "X-25 Y10"), {
      setup: { keepOuts: [keepOut(-10, -10, 110, 70)] },
    });
    expect(findings).toEqual([]);
    expect(proof).toMatchObject({ ok: true, cleanUp: 0 });
    expect(pieces[0]).toMatchObject({
      underKeepOuts: 1,
      lowestMm: 20,
      highestMm: 20,
      removedMm3: { wood: 0, resin: 0 },
    });
  });
});

describe("two pieces", () => {
  const pieces = [board(ring(0, 0, 45, 60)), board(ring(55, 0, 100, 60), 20.2, "right")];

  test("are cut as one, and each has its own figures", () => {
    const { findings, pieces: left, proof } = proven(CLEAN, { pieces });
    expect(findings).toEqual([]);
    expect(left.map(({ id, removedMm3 }) => [id, Math.round(removedMm3.wood)])).toEqual([
      ["board", 45 * 60],
      ["right", Math.round(45 * 60 * 1.2)],
    ]);
    expect(proof.deepestCutMm).toBeCloseTo(1.7, 5);
  });

  test("what is left of either is told by its name", () => {
    const short = changed(7, "X10 F5000").with(8, "X-25").with(7, "Y40");
    expect(textOf(proven(short, { pieces }))).toMatch(/"board".*\n.*"right"/);
    expect(found(short, { pieces })).toEqual(["left-standing 0", "left-standing 0"]);
  });

  test("over the gap between them there is air to come down in, when it is wide enough", () => {
    const apart = [board(ring(0, 0, 20, 60)), board(ring(80, 0, 100, 60), 20, "right")];
    const rows = ["X50 Y10", "G1 Z19 F1000", "X125 F5000", "Y40", "X-25", "Y10", "X50", "G0 Z50"];
    expect(found(from(5, ...rows), { pieces: apart })).toEqual([]);
    const near = [board(ring(0, 0, 31, 60)), board(ring(69, 0, 100, 60), 20, "right")];
    expect(found(from(5, ...rows), { pieces: near })).toEqual(["plunge 6"]);
  });
});

describe("what is left for the next setup", () => {
  const first = proven(changed(9, "G0 Z50")).pieces[0]; // one row, up to y 30
  const cut = first.cut();
  const at = (x: number, y: number) =>
    cut.z[Math.round((y - cut.y0) / cut.pitchMm) * cut.cols + Math.round((x - cut.x0) / cut.pitchMm)];

  test("is the cutting edge's height where it took something, and nothing where it did not", () => {
    expect(at(50.5, 10.5)).toBe(19);
    expect(at(0.5, 29.5)).toBe(19);
    expect(at(50.5, 30.5)).toBe(Number.POSITIVE_INFINITY);
    expect(first.highestLeftMm).toBe(20);
  });

  test("goes on a little beyond the outline, the highest nearby, so that samples around the edge find it", () => {
    expect(at(50.5, -5.5)).toBe(19);
    expect(at(-5.5, 10.5)).toBe(19);
    expect(at(-5.5, -5.5)).toBe(19);
    expect(at(105.5, 22.5)).toBe(19);
    expect(at(102.5, 28.5)).toBe(Number.POSITIVE_INFINITY); // within reach of what still stands
    expect(at(105.5, 60.5)).toBe(Number.POSITIVE_INFINITY);
  });

  test("and where it ends at wood that stands, what goes on is the wood, whichever lies first", () => {
    const far = proven(from(5, "X125 Y40", "G1 Z19 F1000", "X-25 F5000", "G0 Z50")).pieces[0].cut(); // from y 20 up
    const beside = (y: number) => far.z[Math.round(y - far.y0) * far.cols + Math.round(102.5 - far.x0)];
    expect(beside(18.5)).toBe(Number.POSITIVE_INFINITY);
    expect(beside(21.5)).toBe(Number.POSITIVE_INFINITY);
    expect(beside(23.5)).toBe(19);
  });

  test("is the stock of the next proof, where only what still stands is above the floor", () => {
    const stocks = [cutStock(uncutStock(board()), cut, 20)];
    const { findings, pieces, proof, took } = proven(CLEAN, { stocks });
    expect(findings).toEqual([]);
    expect(pieces[0].removedMm3.wood).toBeCloseTo(100 * 30, 6);
    expect(pieces[0].belowFloor).toBe(0); // it lies at the floor, not below it
    expect(proof.cleanUp).toBe(0.5);
    expect(took.filter((one) => one === 1)).toHaveLength(1); // the first row meets nothing
    // Both setups' cuts together.
    const both = pieces[0].cut();
    expect(both.z[20 * both.cols + 50]).toBe(19);
    expect(both.z[60 * both.cols + 50]).toBe(19);
  });

  test("and a lower floor there has wood of its own height only", () => {
    const stocks = [cutStock(uncutStock(board()), proven(CLEAN).pieces[0].cut(), 19)];
    const lower = CLEAN.map((line) => line.replace("Z19", "Z18"));
    const { findings, proof } = proven(lower, { stocks, floorMm: 18 });
    expect(findings).toEqual([]);
    expect(proof.deepestCutMm).toBe(1); // no margin on what was cut
  });

  test("heights at the floor are the floor, not the nearest number of single precision", () => {
    const { proof, pieces } = proven(changed(6, "G1 Z19.3 F1000"), { floorMm: 19.3 });
    expect([proof.highestMm, proof.lowestMm, pieces[0].highestLeftMm]).toEqual([19.3, 19.3, 19.3]);
  });
});

test("findings are counted beyond the hundred that are told", () => {
  const { findings, proof } = proven(
    changed(10, ...Array.from({ length: 150 }, (_, k) => `Z${-1 - k / 100}`), "G0 Z50"),
  );
  expect(findings).toHaveLength(100);
  expect(proof.ok).toBe(false);
});
