import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { PlanError } from "../../src/errors.ts";
import { readCsv } from "../../src/job/csv.ts";
import type { Job, Probe } from "../../src/job/job.ts";
import { readJob } from "../../src/job/read.ts";
import { checkProbing } from "../../src/probe/check.ts";
import { probeProgram } from "../../src/probe/program.ts";
import { readProgram } from "../../src/rs274/read.ts";
import { type Loose, read } from "../job/example.ts";
import { randomJob } from "../oracles/random-jobs.ts";
import { distanceToEdges, isInside } from "../region/shapes.ts";
import { carryOut } from "./controller.ts";

const PROBE: Probe = {
  radiusMm: 2,
  feedMmPerMin: 200,
  logStart: ["(RECORD ON)"],
  logEnd: ["(RECORD OFF)"],
};
const text = (program: { text: Uint8Array }) => new TextDecoder().decode(program.text);

function sample(name: string): Job {
  const file = join(import.meta.dirname, "../../samples", name, "job.json");
  return readJob(readFileSync(file, "utf8"), file, { readText: (path) => readFileSync(path, "utf8") });
}

/** One slab of 900 x 300 mm, 40 mm thick, changed by `change`. */
function slab(change: (job: Loose) => void = () => {}): Job {
  return read((job) => {
    job.pieces = [{ id: "slab", outline: { length: 900, width: 300, at: [20, 30] }, thickness: 40 }];
    change(job);
  });
}

describe("the way round: program, touches, record, readings", () => {
  // Bowed, cupped and twisted: any place has its own height.
  const face = (x: number, y: number) => 50 + 4 * ((x - 900) / 900) ** 2 - 0.01 * y + 0.000004 * x * y;

  test.each([
    ["cupped-slab", "# shift: 120 110\n"],
    ["live-edge-cleats", ""],
    ["river-top", "# shift: 150, 160\n"],
    ["spoilboard", ""],
  ])("%s", (name, shift) => {
    const job = sample(name);
    const [setup] = job.setups;
    const unitMm = job.units === "mm" ? 1 : 25.4;
    const program = probeProgram(job, PROBE, null);
    const { xMm, yMm } = setup.zero;
    const low = name === "spoilboard" ? 40 : 0;
    const outlines = setup.pieces.map(({ outline }) => outline);
    const touches = carryOut(text(program), {
      heightAt: (x, y) => {
        const [frameX, frameY] = [x * unitMm + xMm, y * unitMm + yMm];
        for (const { outline, heightMm } of setup.keepOuts)
          if (isInside([outline], frameX, frameY)) return heightMm / unitMm;
        return isInside(outlines, frameX, frameY) ? (face(frameX, frameY) - low) / unitMm : 0;
      },
      recordOn: "(RECORD ON)",
      recordOff: "(RECORD OFF)",
      leastTouch: 0.254 / unitMm,
    });
    expect(touches[0]).toMatchObject({ z: 0, recorded: false });
    const recorded = touches.filter(({ recorded }) => recorded);
    expect(recorded).toHaveLength(touches.length - 1);
    expect(recorded.length).toBeGreaterThanOrEqual(40);
    expect(recorded.length).toBeLessThanOrEqual(150);

    // As a controller with six axes writes them.
    const log =
      shift + recorded.map(({ x, y, z }) => [x, y, z, 0, 0, 0].map((n) => n.toFixed(6)).join(" ")).join("\n");
    const { readings, issues } = readCsv(log, "face.txt", job.units);
    expect(issues).toEqual([]);
    if (readings?.kind !== "points") throw new Error("no points");
    const { xyz } = readings;
    expect(xyz.length).toBe(3 * recorded.length);
    for (let k = 0; k < xyz.length; k += 3) {
      expect(xyz[k + 2]).toBeCloseTo(face(xyz[k], xyz[k + 1]) - low, 3);
      expect(xyz[k]).toBeCloseTo(program.places[k / 3].x, 2);
      expect(xyz[k + 1]).toBeCloseTo(program.places[k / 3].y, 2);
    }
  });
});

describe("what the program says", () => {
  test("golden: four touches, by hand", () => {
    const job = slab((raw) => {
      raw.setups[0].zero = { x: 20, y: 30, z: "high-spot" };
      raw.setups[0].clear = { z: 12 };
      raw.shop.program = { start: ["G64"], end: ["M9"], toolChange: "M6" };
    });
    // Inside by the radius of 2 mm and 2 mm for a crooked edge; the bed 50 + 5 + 1 mm beside the wood.
    const lines = text(probeProgram(job, PROBE, 900)).split("\n");
    expect(lines).toEqual([
      "(Bench for the boathouse: touches the upper face of slab)",
      "(X0 Y0 where the job has [20, 30] mm, Z0 on top of the bed, set with the probe itself)",
      "(Touch probe of 4 mm diameter, the spindle must not turn)",
      "(Travels at Z 52 mm)",
      ..."G17 G21 G90 G94 G40 G49 G80 G54".split(" "),
      "G64",
      "M5",
      "G0 Z52.000",
      "(First touch: the bare bed beside the wood, not recorded)",
      expect.stringMatching(/^X-?\d+\.\d{3} Y-?\d+\.\d{3}$/),
      "G38.2 Z0.000 F200",
      "(MSG, Probe on the bed: Z must read 0 within 0.1 mm. If not, stop and set Z zero anew)",
      "M0",
      "G0 Z52.000",
      "(4 touches on the wood)",
      "(RECORD ON)",
      "X4.020 Y4.000",
      "G38.2 Z0.000",
      "G0 Z52.000",
      "Y296.000",
      "G38.2 Z0.000",
      "G0 Z52.000",
      "X895.980",
      "G38.2 Z0.000",
      "G0 Z52.000",
      "Y4.000",
      "G38.2 Z0.000",
      "G0 Z52.000",
      "(RECORD OFF)",
      "M9",
      "M30",
      "",
    ]);
  });

  test("without comments none are there but the shop's own lines", () => {
    const job = slab((raw) => {
      raw.shop.program = { comments: false, lineNumbers: true };
    });
    const comments = text(probeProgram(job, PROBE, null)).match(/\(.*\)/g);
    expect(comments).toEqual(["(RECORD ON)", "(RECORD OFF)"]);
  });

  test("a name cannot become a command", () => {
    const job = slab((raw) => {
      raw.name = "slab)\nM3 S9000 (MSG, run";
      raw.pieces[0].id = "PROBE )G1";
    });
    const written = text(probeProgram(job, PROBE, null));
    expect(written.match(/^M3\b/m)).toBeNull();
    for (const line of written.split("\n")) expect(line).toMatch(/^(\([^()]*\)|[^()]*)$/);
  });

  test("it travels at the clearance above the highest reading, else the thickness, and above keep-outs", () => {
    const travel = (change: (raw: Loose) => void) => probeProgram(slab(change), PROBE, null).travelMm;
    expect(travel(() => {})).toBe(50);
    expect(travel((raw) => (raw.setups[0].clear = { z: 7 }))).toBe(47);
    expect(travel((raw) => (raw.setups[0].clear = { z: 0 }))).toBe(41);
    const points = [20, 920].flatMap((x) => [30, 330].map((y) => [x, y, 30 + x / 100]));
    expect(travel((raw) => (raw.pieces[0].upper = { points }))).toBeCloseTo(49.2, 9);
    const cleat = { outline: { length: 30, width: 30, at: [0, 100] }, height: 90 };
    expect(travel((raw) => (raw.setups[0].keepOut = [cleat]))).toBe(100);
  });

  test("where no place on the bed is free there is no touch on it", () => {
    const job = slab((raw) => {
      raw.shop.machine.travel = { x: 920, y: 320, z: 180 };
    });
    const program = probeProgram(job, PROBE, null);
    expect(program.bed).toBeNull();
    expect(text(program)).not.toContain("M0\n");
  });
});

describe("where it touches", () => {
  for (let seed = 1; seed <= 60; seed++) {
    const { job: raw, label } = randomJob(seed);
    test(`inside the wood, beside keep-outs, within the spacing: seed ${seed}, ${label}`, () => {
      const job = readJob(JSON.stringify(raw), "job.json", { readText: () => "" });
      const { setups } = job;
      const [{ pieces, keepOuts, clear }] = setups;
      let program: ReturnType<typeof probeProgram>;
      try {
        program = probeProgram(job, PROBE, null);
      } catch (error) {
        // Keep-outs may leave nothing of a piece.
        expect(error).toMatchObject({ code: "no-place" });
        return;
      }
      const outlines = pieces.map(({ outline }) => outline);
      for (const { x, y } of program.places) {
        expect(isInside(outlines, x, y)).toBe(true);
        expect(distanceToEdges(outlines, x, y)).toBeGreaterThan(PROBE.radiusMm + 1.9);
        for (const { outline } of keepOuts) {
          expect(isInside([outline], x, y)).toBe(false);
          expect(distanceToEdges([outline], x, y)).toBeGreaterThan(PROBE.radiusMm + clear.sideMm - 0.01);
        }
      }
      if (program.bed !== null) {
        const { x, y } = program.bed;
        const standing = [...outlines, ...keepOuts.map(({ outline }) => outline)];
        for (const ring of standing) expect(isInside([ring], x, y)).toBe(false);
        expect(distanceToEdges(standing, x, y)).toBeGreaterThan(PROBE.radiusMm + clear.sideMm);
      }
    });
  }
});

describe("what cannot be probed", () => {
  const refused = (change: (raw: Loose) => void, spacing: number | null = null, probe = PROBE) => {
    try {
      probeProgram(slab(change), probe, spacing);
    } catch (error) {
      if (error instanceof PlanError) return `${error.code}: ${error.message}`;
      throw error;
    }
    return "";
  };

  test("a piece longer than the travel, with both lengths", () => {
    const change = (raw: Loose) => (raw.shop.machine.travel.x = 800);
    expect(refused(change)).toMatch(/^outside-travel: the touches lie 891.96 mm apart along X.* 800 mm/);
  });

  test("a machine that cannot lift the probe high enough", () => {
    const change = (raw: Loose) => (raw.shop.machine.travel.z = 45);
    expect(refused(change)).toMatch(/^outside-travel: .* 50 mm apart along Z.* 45 mm/);
  });

  test("a shop whose own lines start the spindle", () => {
    const change = (raw: Loose) => (raw.shop.program = { start: ["S6000 M3"] });
    expect(refused(change)).toMatch(/^probe-spindle: .*program\.start/);
  });

  test("a piece under a keep-out", () => {
    const cover = { outline: { length: 1000, width: 400, at: [0, 0] }, height: 60 };
    expect(refused((raw) => (raw.setups[0].keepOut = [cover]))).toMatch(
      /^no-place: piece "slab" has no place/,
    );
  });

  test("a spacing that is a slip of the keyboard", () => {
    expect(() => probeProgram(slab(), PROBE, 0.5)).toThrow(
      /--spacing: found 0.5 mm, .* wanted at least 8 mm/,
    );
  });
});

describe("the check finds what is wrong in a program", () => {
  const job = slab((raw) => {
    raw.setups[0].keepOut = [{ outline: { length: 60, width: 60, at: [400, 300] }, height: 70 }];
  });
  const program = probeProgram(job, PROBE, 200);
  const sound = text(program);
  const found = (changed: string) =>
    checkProbing(new TextEncoder().encode(changed), program, job.units).map(({ code }) => code);
  const lineOf = (n: number) => sound.split("\n").findIndex((line) => line.startsWith("G38.2")) + n;
  const at = (n: number, change: (line: string) => string) =>
    sound
      .split("\n")
      .map((line, k) => (k === lineOf(n) ? change(line) : line))
      .join("\n");

  test("nothing in the sound one", () => {
    expect(found(sound)).toEqual([]);
  });

  test.each([
    ["a touch into the bed", at(0, () => "G38.2 Z-0.001 F200"), "probe-bed"],
    ["travel too low", sound.replaceAll("Z80.000", "Z79.000"), "probe-low"],
    ["a lift too low", sound.replace("M0\nG0 Z80.000", "M0\nG0 Z60.000"), "probe-low"],
    ["a way across at once", sound.replace("M0\nG0 Z80.000", "M0\nG0 X100.000 Z80.000"), "probe-low"],
    ["a rapid down too low", sound.replace("\nZ50.000\n", "\nZ49.900\n"), "probe-low"],
    ["a touch aslant", sound.replace(/G38\.2 Z0\.000\n/, "G38.2 X30.000 Z0.000\n"), "touch-start"],
    ["a touch from below", sound.replace(/G38\.2 Z0\.000\n/, "G0 Z45.000\nG38.2 Z0.000\n"), "probe-slant"],
    ["a touch elsewhere", sound.replace(/\nX24\.020 Y34\.000\n/, "\nX24.020 Y35.000\n"), "probe-place"],
    ["a touch left out", sound.replace(/G38\.2 Z0\.000\n/, ""), "probe-touches"],
    ["a cut", sound.replace("M0\n", "M0\nG1 Z70.000\n"), "probe-cut"],
    ["a spindle that turns", sound.replace("M5\n", "S6000 M3\n"), "touch-spindle"],
    ["no feed", sound.replace(" F200", ""), "no-feed"],
    ["a touch begun too near", sound.replace(/G38\.2 Z0\.000\n/, "G38.2 Z49.800\n"), "touch-start"],
    ["a touch that ends above low wood", sound.replace(/G38\.2 Z0\.000\n/, "G38.2 Z30.000\n"), "probe-short"],
  ])("%s", (_, changed, code) => {
    expect(changed).not.toBe(sound);
    expect(found(changed)).toContain(code);
  });

  test("a cutting program may not probe: the reader names it", () => {
    const { findings } = readProgram(sound);
    expect(findings[0]).toMatchObject({ code: "unsupported", line: lineOf(1) });
    expect(findings[0].text).toContain("G38.2");
  });
});
