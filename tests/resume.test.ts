// Programs broken off at their lines, and what is made of them. Every rest that is made was proven by the
// program itself; here the independent judge also runs the old lines and the new ones, one after the other.

import { describe, expect, test } from "vitest";
import { PlanError } from "../src/errors.ts";
import type { Job } from "../src/job/job.ts";
import { readJob } from "../src/job/read.ts";
import type { Track } from "../src/motion/track.ts";
import { planJob, proofTask } from "../src/plan.ts";
import { type Resumed, type ResumeRequest, resumeProgram } from "../src/resume.ts";
import { readProgram } from "../src/rs274/read.ts";
import { type Loose, read } from "./job/example.ts";
import { judge } from "./oracles/judge.ts";
import type { RawJob } from "./oracles/judge-job.ts";
import { randomJob } from "./oracles/random-jobs.ts";
import { readSample } from "./oracles/read-sample.ts";

/** A leaf of 300 x 150 x 40, cut down by 3 mm in two layers. */
function leafJob(change: (job: Loose) => void = () => {}): Job {
  return read((job) => {
    job.pieces = [{ id: "leaf", outline: { length: 300, width: 150 }, thickness: 40 }];
    job.setups[0].margin = 0.5;
    change(job);
  });
}

/** A job with its first setup's program, planned or by hand, ready to be broken off. */
class Bed {
  readonly text: string;
  readonly lines: readonly string[];
  private readonly job: Job;
  readonly task;

  constructor(job: Job, text?: string, lay = 1) {
    this.job = job;
    this.text = text ?? new TextDecoder().decode(planJob(job).setups[0].programs[lay - 1].text);
    this.lines = this.text.replace(/\n$/, "").split("\n");
    this.task = proofTask(job, job.setups[0].id, lay);
  }

  resume(afterLine: number, change: Partial<ResumeRequest> = {}): Resumed {
    return resumeProgram(this.task, {
      text: new TextEncoder().encode(this.text),
      name: "old.nc",
      afterLine,
      replaceCutter: false,
      jobName: this.job.name,
      style: this.job.shop.program,
      tool: 1,
      ...change,
    });
  }

  rest(afterLine: number, change: Partial<ResumeRequest> = {}): string[] {
    return linesOf(this.resume(afterLine, change));
  }

  /** Breaks the program off at every so manieth line; returns how many rests were made. */
  everywhere(step = 1, change: Partial<ResumeRequest> = {}): number {
    let made = 0;
    for (let line = 0; line <= this.lines.length; line += step) {
      try {
        this.resume(line, change);
        made++;
      } catch (error) {
        if (!(error instanceof PlanError && error.code === "nothing-left")) throw error;
        // Only after the last cut, which the closing lift, M5 and M30 follow.
        expect(line).toBeGreaterThanOrEqual(this.lines.length - 4);
      }
    }
    return made;
  }
}

function linesOf({ text }: Resumed): string[] {
  return new TextDecoder().decode(text).replace(/\n$/, "").split("\n");
}

/** What the judge says of the old lines, a lift by hand, and the rest. */
function judged(raw: RawJob, bed: Bed, afterLine: number, replaceCutter: boolean) {
  const { floorMm, marginMm } = bed.task;
  const rest = bed.rest(afterLine, { replaceCutter });
  const high = rest.find((line) => line.startsWith("G0 Z"));
  const both = [...bed.lines.slice(0, afterLine), high, ...rest].join("\n");
  return judge(raw, raw.setups[0].id, both, floorMm, { marginMm, cellMm: 2 }).problems;
}

const trackOf = (text: string) => readProgram(new TextEncoder().encode(text)).track;

// With a feed for resin turns are straight: their lines are easy to name.
const straight = (job: Loose) => (job.setups[0].passes.resinFeed = job.setups[0].passes.feed);
const LEAF = new Bed(leafJob(straight));
const moves = (lines: readonly string[]) => lines.filter((line) => /^[GXYZ]/.test(line));

describe("a program of ours", () => {
  test("can be resumed after every line", () => {
    expect(LEAF.everywhere()).toBeGreaterThan(35);
  });

  test("can be resumed after every line with another cutter, after the last cut too", () => {
    expect(LEAF.everywhere(1, { replaceCutter: true })).toBe(LEAF.lines.length + 1);
  });

  test("when it breaks off in a row then that row is begun anew, and all lines after it follow as they were", () => {
    const row = LEAF.lines.findIndex((line, k) => k > 20 && line.startsWith("G1 X266"));
    const { fromLine, linesBefore, seconds } = LEAF.resume(row);
    const rest = LEAF.rest(row);
    expect(fromLine).toBe(row + 1);
    // Where the rest begins, the mode and the feed may have to be said again.
    const begun = rest.findIndex((line) => line.includes("from here on as old.nc from line"));
    expect(rest.slice(begun + 2)).toEqual(LEAF.lines.slice(row + 1));
    expect(linesBefore).toBe(row - (begun + 1));
    expect(seconds.total).toBeLessThan(LEAF.resume(0).seconds.total);
  });

  test("the rest begins with Z alone above everything, then goes over, starts the spindle and comes down", () => {
    const rest = LEAF.rest(26);
    const first = rest.findIndex((line) => line.startsWith("G0"));
    expect(rest.slice(0, first).filter((line) => !line.startsWith("("))).toEqual(
      "G17 G21 G90 G94 G40 G49 G80 G54".split(" "),
    );
    expect(rest[first]).toBe("G0 Z50.500");
    expect(rest[first + 1]).toMatch(/^X\S+ Y\S+$/);
    expect(rest.slice(first + 2, first + 4)).toEqual(["S14000 M3", "G4 P5"]);
    expect(rest[first + 4]).toBe("Z41.500");
    expect(rest[first + 5]).toMatch(/^G1 Z3\S+ F4000$/);
    expect(rest.slice(-2)).toEqual(["M5", "M30"]);
  });

  test("comments between its lines stay", () => {
    const layer = LEAF.lines.findIndex((line) => line.startsWith("(layer 2"));
    expect(LEAF.rest(layer - 2)).toContain(LEAF.lines[layer]);
  });

  test("when nothing was cut yet then it is the whole program", () => {
    for (const line of [0, 5, 14, 18]) {
      const resumed = LEAF.resume(line);
      expect(resumed.fromLine).toBe(0);
      expect(moves(linesOf(resumed))).toEqual(moves(LEAF.lines));
    }
  });

  test("when nothing is left then it says so", () => {
    expect(() => LEAF.resume(LEAF.lines.length)).toThrow(
      expect.objectContaining({
        code: "nothing-left",
        message: expect.stringContaining("nothing is left to do"),
      }),
    );
  });
});

describe("with another cutter", () => {
  const row = LEAF.lines.findIndex((line, k) => k > 20 && line.startsWith("G1 X33"));

  test("the program stops before it moves, and says how high Z zero lies", () => {
    const rest = LEAF.rest(row, { replaceCutter: true });
    const stop = rest.indexOf("M0");
    expect(rest.findIndex((line) => line.startsWith("G0"))).toBe(stop + 1);
    expect(rest[stop - 1]).toBe(
      "(new cutter: set Z zero anew: touch off on the bed and set Z to 0 mm, then go on)",
    );
    expect(rest.slice(0, 6)).toContain("(new cutter: the last whole row is cut again)");
  });

  test("when zero was the highest place, which may be gone, then it is told from the bed", () => {
    const bed = new Bed(leafJob((job) => (job.setups[0].zero = { z: "high-spot" })));
    expect(bed.rest(30, { replaceCutter: true }).join("\n")).toContain("Z0 40 mm above the top of the bed");
  });

  test("the last whole row is cut again", () => {
    // Line `row` + 1 goes back along X; line `row` is the half circle to it, and the row before that the last whole one.
    const { fromLine } = LEAF.resume(row, { replaceCutter: true });
    expect(fromLine).toBe(row - 1);
    expect(LEAF.lines[fromLine - 1]).toMatch(/^X268/);
    expect(LEAF.resume(row, { replaceCutter: true }).rowAgain).toMatchObject({ lastLine: row - 1 });
    // When the row itself was finished, it is the one.
    expect(LEAF.resume(row + 1, { replaceCutter: true }).fromLine).toBe(row + 1);
  });

  test("wherever it breaks off, the new cutter stands at the row's start, down, when the row begins", () => {
    const old = trackOf(LEAF.text);
    let rows = 0;
    for (let line = 15; line < LEAF.lines.length; line++) {
      const { text, fromLine, linesBefore, rowAgain } = LEAF.resume(line, { replaceCutter: true });
      if (rowAgain === null || linesBefore === null) continue;
      rows++;
      expect(fromLine).toBeLessThanOrEqual(line);
      const placeBefore = (track: Track, of: number) => {
        const k = track.line.subarray(0, track.count).findIndex((at) => at >= of) - 1;
        return { x: track.x[k], y: track.y[k], z: track.z[k] };
      };
      const there = placeBefore(old, fromLine);
      expect(placeBefore(trackOf(new TextDecoder().decode(text)), fromLine - linesBefore)).toEqual(there);
      expect(rowAgain.from).toEqual({ x: there.x, y: there.y });
    }
    expect(rows).toBeGreaterThan(20);
  });

  test("where tools are called, the call comes before the stop, and only once", () => {
    const bed = new Bed(leafJob((job) => (job.shop.program = { toolChange: "M6" })));
    for (const line of [10, 32]) {
      const rest = bed.rest(line, { replaceCutter: true });
      expect(rest.filter((word) => word === "T1 M6")).toHaveLength(1);
      expect(rest.indexOf("T1 M6")).toBeLessThan(rest.indexOf("M0"));
    }
  });
});

describe("a program by others", () => {
  // Rows in increments, half circles between them, two layers, percent signs; by hand on the leaf.
  const layer = (from: string, z: number) => [
    `G0 ${from}`,
    "Z42",
    `G1 Z${z} F3000`,
    "G91",
    "X380 F5000",
    "G3 Y40 J20",
    "G1 X-190",
    "X-190",
    "G2 Y40 J20",
    "G1 X380",
    "G3 Y30 I0 J15",
    "G1 X-380",
    "G90 G0 Z60",
  ];
  const program = ["%", "G21 G17 G90 G94 G54", "G0 Z60", "X-40 Y30", "S12000 M3", "G4 P6"];
  const whole = [...program, ...layer("X-40 Y30", 38.5), ...layer("X-40 Y30", 37), "M5", "M30", "%"];
  const inInches = whole.map((line) =>
    line
      .replace("G21", "G20")
      .replace(/([XYZIJF])(-?[\d.]+)/g, (_, letter, mm) => `${letter}${(Number(mm) / 25.4).toFixed(4)}`),
  );
  const coarse = (job: Loose) => {
    job.setups[0].passes.depth = 2;
  };

  test("can be resumed after every line", () => {
    const bed = new Bed(leafJob(coarse), whole.join("\n"));
    expect(bed.everywhere()).toBeGreaterThan(25);
    expect(bed.everywhere(1, { replaceCutter: true })).toBe(bed.lines.length + 1);
  });

  test("arcs stay arcs, and a row cut in parts is begun at its start", () => {
    const bed = new Bed(leafJob(coarse), whole.join("\n"));
    const second = whole.indexOf("X-190");
    expect(bed.resume(second).fromLine).toBe(second);
    expect(bed.rest(second).join("\n")).toMatch(/G2 X-40.000 Y110.000 I0.000 J20.000/);
  });

  test("in inches stays in inches, whatever the job's unit", () => {
    const bed = new Bed(leafJob(coarse), inInches.join("\r\n"));
    expect(bed.rest(20)).toContain("G20");
    expect(bed.everywhere(2)).toBeGreaterThan(12);
  });

  test("a stop for people in it stays", () => {
    const stopping = whole.map((line) => (line === "G90 G0 Z60" ? "G90 G0 Z60 M0" : line));
    const bed = new Bed(leafJob(coarse), stopping.join("\n"));
    const lift = stopping.indexOf("G90 G0 Z60 M0");
    const stops = (rest: string[]) => rest.filter((line) => line === "M0").length;
    expect(stops(bed.rest(lift))).toBe(2);
    expect(stops(bed.rest(lift + 1))).toBe(1);
    expect(bed.everywhere(3)).toBeGreaterThan(8);
  });
});

test("when a piece lies in a mold and was entered by a ramp then it can be resumed", () => {
  const wall = (name: string, x0: number, y0: number, x1: number, y1: number) => ({
    ...{ name, height: 60 },
    outline: [
      [x0, y0],
      [x1, y0],
      [x1, y1],
      [x0, y1],
    ],
  });
  const bed = new Bed(
    leafJob((job) => {
      job.setups[0].passes.entry = { ramp: 3 };
      job.setups[0].keepOut = [
        wall("left", -12, -12, 0, 162),
        wall("right", 300, -12, 312, 162),
        wall("near", -12, -12, 312, 0),
        wall("far", -12, 150, 312, 162),
      ];
    }),
  );
  expect(bed.text).toMatch(/[XY]\S+ Z37.000/); // down a slope
  expect(bed.everywhere(2)).toBeGreaterThan(10);
  expect(bed.everywhere(5, { replaceCutter: true })).toBeGreaterThan(4);
});

test("when the machine reaches just as far as the program needs then the way back keeps within that", () => {
  const job = leafJob(straight);
  const { min, max } = planJob(job).setups[0].extentMm;
  const travel = { x: max[0] - min[0], y: max[1] - min[1], z: 180 };
  const bed = new Bed(
    leafJob((tight) => {
      straight(tight);
      tight.shop.machine.travel = travel;
    }),
    LEAF.text,
  );
  expect(bed.everywhere(2)).toBeGreaterThan(18);
});

test("when a piece is cut in several lays then each lay's program can be resumed, and zero is told as it lies now", () => {
  const job = leafJob((job) => {
    job.pieces[0].outline = { length: 420, width: 150 };
    job.shop.machine.travel.x = 320;
    job.setups[0].reindex = { overlap: 20 };
  });
  expect(planJob(job).setups[0].programs).toHaveLength(3);
  for (const lay of [1, 2, 3]) expect(new Bed(job, undefined, lay).everywhere(4)).toBeGreaterThan(7);
  const rest = new Bed(job, undefined, 2).rest(30).join("\n");
  expect(rest).toMatch(/\(lay 2: the wood pushed \d+ mm towards -X from its first lay\)/);
  expect(rest).toContain("(zero as before: X 0 mm Y 0 mm of the job");
});

describe("what cannot be resumed is refused", () => {
  const refused = (text: string) => {
    const bed = new Bed(leafJob(), text);
    try {
      bed.resume(25);
    } catch (error) {
      if (error instanceof PlanError) return error;
      throw error;
    }
    return null;
  };

  test("no program", () => {
    expect(refused("the slab, the whole slab\nand nothing but\n")).toMatchObject({
      code: "bad-number",
      line: 1,
    });
  });

  test("no units", () => {
    expect(refused(LEAF.text.replace("G21\n", ""))).toMatchObject({ code: "units" });
  });

  test("a rest that gouges", () => {
    const found = refused(LEAF.text.replace("Z37.000", "Z36.000"));
    expect(found).toMatchObject({ code: "gouge" });
    expect(found?.message).toContain("old.nc is not safe itself, so neither is its rest");
  });
});

describe("before the independent judge", () => {
  const raw = (job: RawJob) =>
    readJob(JSON.stringify(job), "job.json", {
      readText: (path): string => {
        throw new Error(`the job is whole and needs no ${path}`);
      },
    });

  // Chosen for keep-outs all around, two pieces in inches (12), and for one that is quick (21).
  test.each([12, 21])("random job %i, broken off in two places, has no problem", (seed) => {
    const { job } = randomJob(seed);
    const bed = new Bed(raw(job));
    for (const [share, another] of [
      [0.55, true],
      [0.8, false],
    ] as const)
      expect(judged(job, bed, Math.floor(share * bed.lines.length), another)).toEqual([]);
  });

  test.each(["cupped-slab", "live-edge-cleats"])("the sample %s can be resumed anywhere", (name) => {
    const job = readSample(name);
    const bed = new Bed(raw(job));
    expect(bed.everywhere(Math.ceil(bed.lines.length / 4))).toBeGreaterThanOrEqual(4);
  });
});
