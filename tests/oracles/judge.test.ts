// The judge is judged: a clean program by hand has no problem, and each fault put into it by hand is
// found, and nothing else. All expectations are worked out on paper; there is no outside source.

import { describe, expect, test } from "vitest";
import { type JudgeOptions, judge } from "./judge.ts";
import { delaunay, faceOf } from "./judge-face.ts";
import { type RawJob, type RawSetup, toMm } from "./judge-job.ts";

// A board of 100 x 60 x 20 mm; upper bound 20.5, floor 19; a 40 mm cutter.
function board(change: Partial<RawSetup> = {}, passes: Partial<RawSetup["passes"]> = {}): RawJob {
  return {
    format: "slabtrue-job/1",
    name: "board",
    units: "mm",
    shop: {
      format: "slabtrue-shop/1",
      units: "mm",
      machine: {
        travel: { x: 400, y: 400, z: 100 },
        rapid: { x: 20000, y: 20000, z: 6000 },
      },
      cutters: [{ id: "flat40", diameter: 40 }],
    },
    pieces: [{ id: "board", outline: { length: 100, width: 60 }, thickness: 20 }],
    setups: [
      {
        id: "top",
        face: "upper",
        cutter: "flat40",
        target: { depth: 1 },
        margin: 0.5,
        passes: { feed: 5000, speed: 12000, ...passes },
        ...change,
      },
    ],
  };
}

// The second row's rim runs exactly along the far edge of the board.
const CLEAN = [
  "G17 G21 G90 G94 G40 G49 G80 G54",
  "S12000 M3",
  "G4 P6",
  "G0 Z50",
  "X-25 Y10",
  "G1 Z19 F1000",
  "X125 F5000",
  "Y40",
  "X-25",
  "G0 Z50",
  "M5",
  "M30",
];

/** The clean program with the `line`-th line (from 1) replaced by others. */
function changed(line: number, ...others: string[]): string {
  return [...CLEAN.slice(0, line - 1), ...others, ...CLEAN.slice(line)].join("\n");
}

function codes(job: RawJob, text: string, floorMm = 19, options: JudgeOptions = {}): string[] {
  return judge(job, "top", text, floorMm, options).problems.map(({ code, line }) => `${code} ${line}`);
}

const cleat = (yMm: number) => ({
  name: "cleat",
  outline: [
    [0, yMm],
    [30, yMm],
    [30, yMm + 10],
    [0, yMm + 10],
  ],
  height: 30,
});

describe("a clean program", () => {
  test("has no problem, and its figures are those of the sums by hand", () => {
    const verdict = judge(board(), "top", CLEAN.join("\n"), 19);
    expect(verdict.problems).toEqual([]);
    expect(verdict.cleanUpShare).toEqual({ board: 1 });
    expect(verdict.unreachableShare).toBe(0);
    expect(verdict.removedLitres).toBeCloseTo(0.006, 9); // 100 x 60 x 1 mm
    // Dwell, 31 mm down at 1000, 150 + 30 + 150 mm at 5000, 31 mm up at 6000; the way there is not known.
    expect(verdict.minutesNaive).toBeCloseTo(6 / 60 + 31 / 1000 + 330 / 5000 + 31 / 6000, 9);
  });

  test("is clean whatever the cells and however they lie", () => {
    expect(codes(board(), CLEAN.join("\n"), 19, { cellMm: 0.7, sampleAt: [0.9, 0.5] })).toEqual([]);
    expect(codes(board(), CLEAN.join("\n"), 19, { cellMm: 5, stepMm: 0.3 })).toEqual([]);
  });

  test("when zero lies elsewhere then its coordinates do too", () => {
    const job = board({ zero: { x: 10, y: -20, z: "high-spot" } });
    const text = CLEAN.join("\n")
      .replace(/X(-?\d+)/g, (_, x) => `X${Number(x) - 10}`)
      .replace(/Y(-?\d+)/g, (_, y) => `Y${Number(y) + 20}`)
      .replace(/Z(-?\d+)/g, (_, z) => `Z${Number(z) - 20}`);
    expect(codes(job, text)).toEqual([]);
  });

  test("in inches suits a job in inches, and only that", () => {
    const text = CLEAN.join("\n")
      .replace("G21", "G20")
      .replace(/([XYZF])(-?\d+)/g, (_, letter, mm) => `${letter}${(Number(mm) / 25.4).toFixed(4)}`);
    expect(codes(board(), text)).toEqual(["units 0"]);
    const inches = board({ target: { depth: "1 mm" }, margin: "0.5 mm" }, { depth: "2 mm" });
    inches.units = "in";
    inches.pieces[0].outline = { length: "100 mm", width: "60 mm" };
    inches.pieces[0].thickness = "20 mm";
    expect(codes(inches, text)).toEqual([]);
  });
});

describe("a fault put in by hand is found, and nothing else", () => {
  test("unreadable: words of no use, letters twice, comments left open, no motion, no axis", () => {
    expect(codes(board(), changed(3, "G28 Z0"))).toContain("unreadable 3");
    expect(codes(board(), changed(3, "G4 P1 P2"))).toEqual(["unreadable 3"]);
    expect(codes(board(), changed(3, "(open"))).toEqual(["unreadable 3"]);
    expect(codes(board(), changed(3, "; note"))).toEqual(["unreadable 3"]);
    expect(codes(board(), changed(3, "Z60"))).toEqual(["unreadable 3"]);
    expect(codes(board(), changed(3, "G0"))).toEqual(["unreadable 3"]);
    expect(codes(board(), changed(3, "G91"))).toEqual(["unreadable 3"]);
    expect(codes(board(), changed(3, "n10 (a note) g4 p1.5 (another)"))).toEqual([]);
  });

  test("arc: radii that differ", () => {
    expect(codes(board(), changed(8, "G3 Y40 J15", "G1"))).toContain("unreadable 9");
    expect(codes(board(), changed(8, "G3 Y40 J15", "G1 X125"))).toEqual([]);
    expect(codes(board(), changed(8, "G3 Y40 J14.99", "G1 X125"))).toEqual(["arc 8"]);
  });

  test("end: no M30", () => expect(codes(board(), changed(12))).toEqual(["end 0"]));

  test("first-move: not Z alone, not high enough, or across too low", () => {
    expect(codes(board(), changed(4, "G0 X-25 Y10 Z50"))).toEqual(["first-move 4"]);
    expect(codes(board(), changed(4, "G1 Z50 F900"))).toContain("first-move 4");
    expect(codes(board(), changed(4, "G0 Z20.4"))).toEqual(["first-move 4", "first-move 5"]);
    expect(codes(board(), changed(4, "G0 Z25"))).toEqual(["first-move 5"]);
    expect(codes(board(), changed(4, "G0 Z30.5"))).toEqual([]);
  });

  test("feed and spindle: cutting without", () => {
    const noFeed = CLEAN.join("\n").replace(/ F\d+/g, "");
    expect(codes(board(), noFeed)).toEqual(["feed 6", "feed 7", "feed 8", "feed 9"]);
    expect(codes(board(), changed(2, "S12000"))).toHaveLength(4);
    expect(codes(board(), changed(2, "M3"))[0]).toBe("spindle 6");
    expect(codes(board(), changed(9, "M5", "X-25"))).toEqual(["spindle 10"]);
  });

  test("travel: wider than the machine, arcs counted by their bulge", () => {
    const job = board();
    job.shop.machine.travel.x = 150;
    expect(codes(job, CLEAN.join("\n"))).toEqual([]);
    expect(codes(job, changed(8, "G3 Y40 J15", "G1 X125"))).toEqual(["travel 0"]);
    job.shop.machine.travel = { x: 149.9, y: 29, z: 30 };
    expect(codes(job, CLEAN.join("\n"))).toEqual(["travel 0"]);
  });

  test("bed: below the spoilboard's top", () => {
    expect(codes(board(), changed(10, "Z-0.001", "G0 Z50"))).toEqual(["bed 10"]);
    expect(codes(board(), changed(10, "Z0", "G0 Z50"))).toEqual([]);
  });

  test("gouge: wood cut below the floor", () => {
    expect(codes(board(), changed(6, "G1 Z18.99 F1000"))).toEqual(["gouge 7", "gouge 9"]);
  });

  test("standing: wood that the cutter could have taken", () => {
    expect(codes(board(), changed(9))).toEqual(["standing 0"]);
    // A strip of 0.1 mm along the far edge, and cells with a sample 0.05 mm from it.
    const strip = { cellMm: 0.5, sampleAt: [0.5, 0.9] } as const;
    expect(codes(board(), changed(8, "Y39.9"), 19, strip)).toEqual(["standing 0"]);
    expect(codes(board(), changed(8, "Y39.97"), 19, strip)).toEqual([]);
  });

  test("floor: not what the target means", () => {
    expect(codes(board({ target: { depth: 1.1 } }), CLEAN.join("\n"))).toEqual(["floor 0"]);
    expect(codes(board({ target: { thickness: 19 } }), CLEAN.join("\n"))).toEqual([]);
    expect(codes(board({ target: { thickness: 18.5 }, leave: 0.5 }), CLEAN.join("\n"))).toEqual([]);
    expect(codes(board({ target: { thickness: 18.5 } }), CLEAN.join("\n"))).toEqual(["floor 0"]);
  });

  test("floor: a share of the face, of a face that rises evenly from 18 to 20", () => {
    const rising = (cleanUp: number) => {
      const job = board({ target: { cleanUp } });
      const grid = {
        at: [0, 0],
        step: [100, 60],
        rows: [
          [18, 20],
          [18, 20],
        ],
      };
      job.pieces[0] = { id: "board", outline: { length: 100, width: 60 }, upper: { grid } };
      return job;
    };
    expect(codes(rising(0.5), CLEAN.join("\n"))).toEqual([]);
    expect(codes(rising(0.55), CLEAN.join("\n"))).toEqual(["floor 0"]);
    expect(codes(rising(0.4), CLEAN.join("\n"))).toEqual(["floor 0"]);
    expect(judge(rising(0.5), "top", CLEAN.join("\n"), 19).cleanUpShare.board).toBeCloseTo(0.5, 2);
  });

  test("rapid-hit and rapid-low: rapids through wood, and with too little air", () => {
    expect(codes(board(), changed(9, "G0 X-25", "G1 X125"))).toEqual(["rapid-hit 9"]);
    expect(codes(board(), changed(10, "G0 X125", "Z50"))).toEqual(["rapid-low 10"]);
    expect(codes(board(), changed(10, "Z28.9", "G0 X125", "Z50"))).toEqual(["rapid-low 11"]);
    expect(codes(board(), changed(10, "Z29", "G0 X125", "Z50"))).toEqual([]);
    expect(codes(board({ clear: { z: 5 } }), changed(10, "Z24", "G0 X125", "Z50"))).toEqual([]);
  });

  test("rapid-low: too little air over a keep-out", () => {
    const job = board({ keepOut: [cleat(70)] });
    expect(codes(job, changed(10, "G0 Z39", "Y75", "Z50"))).toEqual([]); // beside it
    expect(codes(job, changed(10, "G0 Z39", "X0 Y75", "Z50"))).toEqual(["rapid-low 11"]);
    expect(codes(job, changed(10, "G0 Z40", "X0 Y75", "Z50"))).toEqual([]);
  });

  test("plunge: straight down into wood, by G1 or G0", () => {
    expect(codes(board(), changed(5, "X50 Y30", "G1 Z19 F900", "G0 Z50", "X-25 Y10"))).toEqual(["plunge 6"]);
    expect(codes(board(), changed(5, "X50 Y30", "Z20", "Z50", "X-25 Y10"))).toEqual(["plunge 6"]);
    expect(codes(board(), changed(5, "X50 Y30", "G1 Z20.5 F900", "G0 Z50", "X-25 Y10"))).toEqual([]);
  });

  test("steep: down a slope in wood where only air will do, or steeper than the ramp", () => {
    const ramp = (toX: number) => changed(5, "X20 Y30", "Z21", `G1 X${toX} Z19 F900`, "G0 Z50", "X-25 Y10");
    expect(codes(board(), ramp(80))).toEqual(["steep 7"]);
    expect(codes(board({}, { entry: { ramp: 2 } }), ramp(80))).toEqual([]); // 2 in 60 is 1.9 degrees
    expect(codes(board({}, { entry: { ramp: 2 } }), ramp(70))).toEqual(["steep 7"]); // 2.3 degrees
  });

  test("bite: more than a pass may take", () => {
    expect(codes(board({}, { depth: 1.49 }), CLEAN.join("\n"))).toEqual(["bite 7", "bite 9"]);
    expect(codes(board({}, { depth: 1.5 }), CLEAN.join("\n"))).toEqual([]);
  });

  test("keep-out: the rim too near to what stands higher than the cutter", () => {
    expect(codes(board({ keepOut: [cleat(65)] }), CLEAN.join("\n"))).toEqual([]);
    expect(codes(board({ keepOut: [cleat(64.9)] }), CLEAN.join("\n"))).toEqual(["keep-out 9"]);
    expect(codes(board({ keepOut: [{ ...cleat(64), height: 19 }] }), CLEAN.join("\n"))).toEqual([]);
    expect(codes(board({ keepOut: [cleat(64)], clear: { side: 4 } }), CLEAN.join("\n"))).toEqual([]);
  });

  test("nose: too near to a keep-out, or in wood", () => {
    const job = board({ keepOut: [cleat(70)] });
    job.shop.machine.nose = { diameter: 48, above: 10.5 };
    expect(codes(job, CLEAN.join("\n"))).toEqual([]);
    job.shop.machine.nose = { diameter: 52, above: 10.5 };
    expect(codes(job, CLEAN.join("\n"))).toEqual(["nose 9"]);
    job.shop.machine.nose = { diameter: 52, above: 11 };
    expect(codes(job, CLEAN.join("\n"))).toEqual([]);
    const low = board();
    low.shop.machine.nose = { diameter: 60, above: 1 };
    expect(codes(low, CLEAN.join("\n"))).toContain("nose 7");
  });
});

describe("wood in the shade of a keep-out", () => {
  const job = board({
    keepOut: [
      {
        name: "clamp",
        outline: [
          [60, 55],
          [80, 55],
          [80, 75],
          [60, 75],
        ],
        height: 30,
      },
    ],
  });
  const before = changed(8, "G0 Z50", "X-25 Y40", "G1 Z19").split("\n");
  const rows = [...before.slice(0, 10), "X35", "G0 Z50", "X125", "G1 Z19", "X105", "G0 Z50"];
  const round = [
    "X35 Y85",
    "G1 Z19",
    "Y55",
    "G3 X60 Y30 I25",
    "G1 X80",
    "G3 X105 Y55 J25",
    "G1 Y85",
    "G0 Z50",
  ];

  test("may stand, and is measured: 30 x 10 mm with two corners rounded by 5", () => {
    const text = [...rows, ...round, "M5", "M30"].join("\n");
    const verdict = judge(job, "top", text, 19, { cellMm: 0.5 });
    expect(verdict.problems).toEqual([]);
    const shade = (300 - 2 * (25 - (Math.PI * 25) / 4)) / 6000;
    expect(verdict.unreachableShare).toBeGreaterThan(shade - 0.001);
    expect(verdict.unreachableShare).toBeLessThan(shade + 0.002); // the judge is blind for 0.3 mm around it
    expect(verdict.cleanUpShare.board).toBeCloseTo(1 - shade, 2);
  });

  test("but not what a way round the keep-out would have taken", () => {
    expect(codes(job, [...rows, "M5", "M30"].join("\n"))).toEqual(["standing 0"]);
  });
});

describe("surfaces", () => {
  const piece = { id: "p", outline: [], thicknessMm: NaN };

  test("a grid is bilinear in its cells", () => {
    const rows = [
      [1, 2, 4],
      [3, 8, 0],
    ];
    const face = faceOf({
      ...piece,
      readings: { points: [], grid: { x0: 10, y0: 0, dx: 10, dy: 20, rows } },
    });
    expect(face(20, 20)).toBe(8);
    expect(face(15, 10)).toBe((1 + 2 + 3 + 8) / 4);
    expect(face(30, 5)).toBe(3);
  });

  test("scattered readings of a plane give the plane, within their hull and beyond it", () => {
    const plane = (x: number, y: number) => 50 + 0.01 * x - 0.02 * y;
    const points = [
      [0, 0],
      [100, 3],
      [110, 90],
      [-5, 80],
      [40, 50],
      [70, 20],
    ].map(([x, y]) => [x, y, plane(x, y)] as const);
    const face = faceOf({ ...piece, readings: { points, grid: null } });
    for (const [x, y] of [
      [30, 30],
      [99, 88],
      [-200, 50],
      [60, 400],
    ])
      expect(face(x, y)).toBeCloseTo(plane(x, y), 9);
  });

  test("a tent has its ridge where the readings say", () => {
    const points = [
      [0, 0, 0],
      [100, 0, 0],
      [0, 80, 0],
      [100, 80, 0],
      [50, 40, 10],
    ] as const;
    const face = faceOf({ ...piece, readings: { points, grid: null } });
    expect(face(50, 40)).toBeCloseTo(10, 12);
    expect(face(50, 20)).toBeCloseTo(5, 12);
    expect(face(25, 40)).toBeCloseTo(5, 12);
  });

  test("no reading lies within the circle round three others that make a triangle", () => {
    const points = Array.from({ length: 60 }, (_, i) => [(i * 37) % 101, (i * i * 53) % 97, 0] as const);
    const triangles = delaunay(points);
    for (const triangle of triangles) {
      const [a, b, c] = triangle.map((i) => points[i]);
      const d = 2 * (a[0] * (b[1] - c[1]) + b[0] * (c[1] - a[1]) + c[0] * (a[1] - b[1]));
      const square = ([x, y]: readonly [number, number, number]) => x * x + y * y;
      const x = (square(a) * (b[1] - c[1]) + square(b) * (c[1] - a[1]) + square(c) * (a[1] - b[1])) / d;
      const y = (square(a) * (c[0] - b[0]) + square(b) * (a[0] - c[0]) + square(c) * (b[0] - a[0])) / d;
      const radius2 = (a[0] - x) ** 2 + (a[1] - y) ** 2;
      expect(d).toBeGreaterThan(0);
      for (const p of points) expect((p[0] - x) ** 2 + (p[1] - y) ** 2).toBeGreaterThan(radius2 * (1 - 1e-9));
    }
  });
});

test("lengths: every form of the job file", () => {
  expect(toMm(2, "in")).toBe(50.8);
  for (const [text, mm] of [
    ["57 mm", 57],
    ["2.25 in", 57.15],
    ["2 1/4 in", 57.15],
    ['2 1/4"', 57.15],
    ["3/4 in", 19.05],
    [`8' 2 1/2"`, 2501.9],
    ["8 ft", 2438.4],
    ["1.2 m", 1200],
    ["12 cm", 120],
    ["6 m/min", 6000],
    ["236 in/min", 5994.4],
    ["100 mm/s", 6000],
  ] as const)
    expect(toMm(text, "mm")).toBeCloseTo(mm, 9);
});
