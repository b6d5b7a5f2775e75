import { describe, expect, test } from "vitest";
import type { Job } from "../../src/job/job.ts";
import { readJob, readShop } from "../../src/job/read.ts";
import { PLAIN } from "../survey/pieces.ts";
import { exampleShop, findings, hostWith, issuesOf, type Loose, read, set } from "./example.ts";

const json = (value: unknown) => JSON.stringify(value, null, 1);

describe("a sound job", () => {
  test("golden: a job in inches with a shop in mm, by hand", () => {
    const shop = `{
      "format": "slabtrue-shop/1", "units": "mm",
      "machine": {
        "name": "gantry router",
        "travel": { "x": 2600, "y": "52 in", "z": 180 },
        "feedLimit": { "x": 15000, "y": 15000, "z": "4 m/min" },
        "rapid": { "x": 20000, "y": 20000, "z": 6000 },
        "acceleration": { "x": 500, "y": 500, "z": 250 },
        "cornerDeviation": 0.1,
        "spindle": { "speedMin": 6000, "speedMax": 24000, "powerKw": 3.0, "efficiency": 0.75, "spinUpSeconds": 8,
                     "outOfSquare": { "x": 0.1, "y": -0.2 } },
        "nose": { "diameter": 110, "above": 45 }
      },
      "cutters": [
        { "id": "flat2.5", "name": "2.5 in insert cutter", "diameter": "2 1/2 in", "edges": 3, "speedMax": 18000,
          "depthMax": 4, "chipLoad": { "min": 0.08, "max": 0.5 }, "centreCutting": false,
          "inserts": { "setCost": 36, "lifeHours": 12 } }
      ],
      "probe": { "radius": 2, "feed": 200, "logStart": [], "logEnd": [] },
      "program": { "workOffset": "G56", "comments": false, "lineNumbers": true, "toolChange": "M6",
                   "extension": "tap", "start": ["M7"], "end": ["M9"] },
      "rates": { "currency": "CAD", "machineHour": 95, "labourHour": 65,
                 "minutes": { "load": 20, "turnOver": 15, "cutterChange": 5, "zero": 5 } },
      "materials": []
    }`;
    const job = `{
      // a window seat
      "format": "slabtrue-job/1", "name": "Window seat", "units": "in", "shop": "../shop.json",
      "pieces": [
        { "id": "seat", "material": "elm", "outline": [[0, 0], [0, 20], ["6'", 20], [72, 0], [0, 0]],
          "grain": 90, "upper": { "grid": { "at": [70, 1], "step": [-30, 18], "rows": [[2, null, 2.25], [2, 2, "57 mm"]] } } },
        { "id": "back", "outline": { "stations": [[0, 21, 30], [36, "21.5 in", 31], [72, 21, 30]] }, "thickness": "2 1/4 in" }
      ],
      "setups": [
        { "id": "skim", "face": "upper", "pieces": ["seat"], "cutter": "flat2.5", "target": { "cleanUp": 0.95 },
          "leave": 0.02, "margin": 0.04,
          "passes": { "depth": "1/8 in", "finish": { "depth": "0.5 mm" }, "stepover": 0.7, "angle": 45, "rows": "one-way",
                      "overrun": 1, "feed": "6 m/min", "resinFeed": 120, "speed": 14000, "edgeFirst": false, "entry": { "ramp": 3 } },
          "keepOut": [ { "name": "cleat", "outline": { "length": 2, "width": 1, "at": [80, 5] }, "height": 3 },
                       { "outline": [[90, 0], [91, 0], [90, 1]], "height": "40 mm" } ],
          "clear": { "z": 0.5, "side": 0 }, "zero": { "x": 1, "y": -1, "z": "high-spot" } },
        { "id": "both", "face": "upper", "cutter": "flat2.5", "target": { "thickness": 2 }, "passes": { "feed": 200, "speed": 12000 } }
      ]
    }`;

    const wantedShop = {
      units: "mm",
      machine: {
        name: "gantry router",
        travelMm: { x: 2600, y: 1320.8, z: 180 },
        feedLimitMmPerMin: { x: 15000, y: 15000, z: 4000 },
        rapidMmPerMin: { x: 20000, y: 20000, z: 6000 },
        accelerationMmPerS2: { x: 500, y: 500, z: 250 },
        cornerDeviationMm: 0.1,
        spindle: {
          speedMin: 6000,
          speedMax: 24000,
          powerKw: 3,
          efficiency: 0.75,
          spinUpSeconds: 8,
          outOfSquare: { x: 0.1, y: -0.2 },
        },
        nose: { diameterMm: 110, aboveMm: 45 },
      },
      cutters: [
        {
          id: "flat2.5",
          name: "2.5 in insert cutter",
          diameterMm: 63.5,
          edges: 3,
          speedMax: 18000,
          depthMaxMm: 4,
          chipLoadMm: { min: 0.08, max: 0.5 },
          centreCutting: false,
          inserts: { setCost: 36, lifeHours: 12 },
        },
      ],
      program: {
        workOffset: 56,
        comments: false,
        lineNumbers: true,
        toolChange: "M6",
        extension: "tap",
        start: ["M7"],
        end: ["M9"],
      },
      probe: { radiusMm: 2, feedMmPerMin: 200, logStart: [], logEnd: [] },
      materials: [],
      handMinutes: { load: 20, turnOver: 15, cutterChange: 5, zero: 5, push: 20 },
      quoting: {
        rates: { currency: "CAD", machineHour: 95, labourHour: 65 },
        warp: {
          ...{ bow: 0.001, cup: 0.004, twist: 0.0015, wedge: 0.0005, pour: 0.001 },
          ...{ sawMarksMm: 0.4, shellShare: 0.12 },
        },
        ...{ riverShare: 0.12, handShare: 0.15, mindingShare: 0, marginShare: 0, validDays: 30 },
      },
    };
    const seat = {
      id: "seat",
      material: "elm",
      outline: Float64Array.of(1828.8, 0, 1828.8, 508, 0, 508, 0, 0),
      grainRad: Math.PI / 2,
      thicknessMm: null,
      upper: {
        kind: "grid",
        x0: 254,
        y0: 25.4,
        dx: 762,
        dy: 457.2,
        cols: 3,
        rows: 2,
        z: Float64Array.of(57.15, Number.NaN, 50.8, 57, 50.8, 50.8),
      },
      ...PLAIN,
    };
    const back = {
      id: "back",
      material: "",
      outline: Float64Array.of(0, 533.4, 914.4, 546.1, 1828.8, 533.4, 1828.8, 762, 914.4, 787.4, 0, 762),
      grainRad: null,
      thicknessMm: 57.15,
      upper: null,
      ...PLAIN,
    };
    expect(readJob(job, "jobs/seat.json", hostWith({ "jobs/../shop.json": shop }))).toEqual({
      name: "Window seat",
      units: "in",
      shop: wantedShop,
      shopFile: "jobs/../shop.json",
      notes: [],
      pieces: [seat, back],
      setups: [
        {
          id: "skim",
          face: "upper",
          turn: "x",
          pieces: [seat],
          cutter: wantedShop.cutters[0],
          target: { kind: "cleanUp", share: 0.95 },
          leaveMm: 0.508,
          marginMm: 1.016,
          passes: {
            depthMm: 3.175,
            finish: { depthMm: 0.5, stepoverShare: 0.7, feedMmPerMin: 6000 },
            stepoverShare: 0.7,
            angleRad: Math.PI / 4,
            fastest: false,
            edgeFirst: false,
            rows: "one-way",
            overrunMm: 25.4,
            feedMmPerMin: 6000,
            resinFeedMmPerMin: 3048,
            speed: 14000,
            rampRad: Math.PI / 60,
          },
          keepOuts: [
            {
              name: "cleat",
              outline: Float64Array.of(2032, 127, 2082.8, 127, 2082.8, 152.4, 2032, 152.4),
              heightMm: 76.2,
              lays: null,
            },
            {
              name: "keep-out 2",
              outline: Float64Array.of(2286, 0, 2311.4, 0, 2286, 25.4),
              heightMm: 40,
              lays: null,
            },
          ],
          clear: { zMm: 12.7, sideMm: 0 },
          zero: { xMm: 25.4, yMm: -25.4, z: "high-spot" },
          reindexMm: null,
        },
        {
          id: "both",
          face: "upper",
          turn: "x",
          pieces: [seat, back],
          cutter: wantedShop.cutters[0],
          target: { kind: "thickness", mm: 50.8 },
          leaveMm: 0,
          marginMm: null,
          passes: {
            depthMm: 2,
            finish: null,
            stepoverShare: 0.6,
            angleRad: 0,
            fastest: false,
            edgeFirst: false,
            rows: "both-ways",
            overrunMm: null,
            feedMmPerMin: 5080,
            resinFeedMmPerMin: null,
            speed: 12000,
            rampRad: null,
          },
          keepOuts: [],
          clear: { zMm: 10, sideMm: 5 },
          zero: { xMm: 0, yMm: 0, z: "bed" },
          reindexMm: null,
        },
      ],
    });
  });

  test("what is left out has its default, the same length in both units", () => {
    const inMm = read((job) => {
      delete job.name;
      job.setups[0].passes.finish = {};
    });
    expect(inMm.name).toBe("job");
    const { machine, cutters, program } = inMm.shop;
    expect(machine).toMatchObject({ cornerDeviationMm: 0.05, nose: null });
    expect(machine.spindle).toMatchObject({ efficiency: 0.8, spinUpSeconds: 5, outOfSquare: { x: 0, y: 0 } });
    expect(cutters[0]).toMatchObject({ name: "flat63", centreCutting: false, inserts: null });
    expect(program).toEqual({
      workOffset: 54,
      comments: true,
      lineNumbers: false,
      toolChange: "none",
      extension: "nc",
      start: [],
      end: [],
    });
    expect(inMm.shop.handMinutes).toEqual({ load: 0, turnOver: 0, cutterChange: 0, zero: 0, push: 0 });
    expect(inMm.setups[0]).toMatchObject({
      leaveMm: 0,
      marginMm: null,
      keepOuts: [],
      clear: { zMm: 10, sideMm: 5 },
      zero: { xMm: 0, yMm: 0, z: "bed" },
    });
    const { passes } = inMm.setups[0];
    expect(passes).toMatchObject({
      depthMm: 2,
      stepoverShare: 0.6,
      angleRad: 0,
      fastest: false,
      edgeFirst: false,
      rows: "both-ways",
      overrunMm: null,
    });
    expect(passes).toMatchObject({ rampRad: null, resinFeedMmPerMin: null });
    expect(passes.finish).toEqual({ depthMm: 2, stepoverShare: 0.6, feedMmPerMin: 6000 });

    const inInches = read((job) => {
      job.units = "in";
      job.setups[0].passes.feed = "6000 mm/min";
      job.pieces = [{ id: "left", outline: { length: "1 m", width: "400 mm" }, thickness: "60 mm" }];
    });
    expect({ ...inInches.setups[0].passes, finish: null }).toEqual({ ...passes, finish: null });
    expect(inInches.setups[0].clear).toEqual(inMm.setups[0].clear);
  });

  test("a shop in the job keeps its own unit", () => {
    const job = read((job) => {
      job.shop.units = "in";
      job.shop.machine.acceleration = { x: 20, y: 20, z: 10 };
      job.shop.machine.travel = { x: 100, y: 50, z: 7 };
      job.shop.machine.feedLimit = { x: 600, y: 600, z: 150 };
      job.shop.cutters[0].diameter = 2.5;
      job.shop.cutters[0].depthMax = 0.25;
      job.shop.cutters[0].chipLoad = { min: 0.003, max: 0.02 };
    });
    expect(job.units).toBe("mm");
    expect(job.shop.machine).toMatchObject({
      travelMm: { x: 2540, y: 1270, z: 177.8 },
      accelerationMmPerS2: { x: 508, y: 508, z: 254 },
      feedLimitMmPerMin: { x: 15240, y: 15240, z: 3810 },
      cornerDeviationMm: 0.05,
    });
    expect(job.shop.cutters[0]).toMatchObject({ diameterMm: 63.5, depthMaxMm: 6.35 });
    expect(job.pieces[1].outline[2]).toBe(1000);
  });

  test("readings come from points or from a file beside the job", () => {
    const points = [
      [10, 10, 58],
      [990, 10, 59],
      [10, 390, 60],
      [10, 10, 58],
    ];
    const inline = read((job) => {
      job.pieces[0].upper = { points };
    });
    const files = { "bench/left.csv": points.map((point) => point.join(";")).join("\n") };
    const fromFile = read((job) => {
      job.pieces[0].upper = { file: "./left.csv" };
    }, hostWith(files));
    expect(inline.pieces[0].upper).toEqual({
      kind: "points",
      xyz: Float64Array.of(10, 10, 58, 990, 10, 59, 10, 390, 60),
    });
    expect(fromFile.pieces).toEqual(inline.pieces);
  });

  test("a reading on the outline counts as inside, readings outside it are kept", () => {
    const job = read((job) => {
      job.pieces[0].upper = {
        points: [
          [1000, 200, 58],
          [1100, 0, 59],
          [1100, 390, 60],
        ],
      };
    });
    expect(job.pieces[0].upper).toMatchObject({ xyz: { length: 9 } });
  });

  test("an absolute path is not taken beside the job", () => {
    const shop = json(exampleShop());
    for (const path of ["/shops/a.json", "C:\\shops\\a.json", "\\\\server\\a.json"])
      expect(read(set("shop", path), hostWith({ [path]: shop })).shop).toEqual(readShop(shop, path));
  });

  test("names may be long and hostile, they are kept as they are", () => {
    const hostile = `"); M3 S24000\n(\u202e${"x".repeat(5000)}</script>`;
    const job = read((job) => {
      job.name = hostile;
      job.pieces[0].material = hostile;
      job.shop.machine.name = hostile;
      job.shop.cutters[0].name = hostile;
      job.setups[0].keepOut = [{ name: hostile, outline: { length: 5, width: 5 }, height: 5 }];
    });
    expect([
      job.name,
      job.pieces[0].material,
      job.shop.cutters[0].name,
      job.setups[0].keepOuts[0].name,
    ]).toEqual(Array(4).fill(hostile));
  });
});

describe("a list of readings", () => {
  const face = (x0: number, y0: number, z: number) =>
    [
      [x0 + 20, y0 + 20],
      [x0 + 980, y0 + 20],
      [x0 + 20, y0 + 280],
      [x0 + 980, y0 + 280],
    ].map(([x, y]) => `${x},${y},${z}`);
  const named = (job: Loose) => {
    for (const piece of job.pieces) piece.upper = { file: "heights.csv" };
  };
  const host = (lines: string[]) => hostWith({ "bench/heights.csv": lines.join("\n") });
  const heights = ({ pieces }: Job) =>
    pieces.map(({ upper }) => (upper?.kind === "points" ? upper.xyz.filter((_, k) => k % 3 === 2) : null));

  test("when two pieces name it then each takes its own readings, and those at its edge", () => {
    // The left piece is 1000 x 400 from (0, 0), the right one 1000 x 300 from (0, 500).
    const edge = ["-12,200,61", "500,480,56"];
    const job = read(named, host([...face(0, 0, 60), ...face(0, 500, 55), ...edge]));
    expect(heights(job)).toEqual([Float64Array.of(60, 60, 60, 60, 61), Float64Array.of(55, 55, 55, 55, 56)]);
    expect(job.notes).toEqual([]);
  });

  test("when a reading lies at none of them then it is left out and told with its line", () => {
    const job = read(named, host([...face(0, 0, 60), "1400,300,20", ...face(0, 500, 55)]));
    expect(heights(job)).toEqual([Float64Array.of(60, 60, 60, 60), Float64Array.of(55, 55, 55, 55)]);
    expect(job.notes).toEqual([
      "bench/heights.csv: a reading lies more than 50 mm outside each of the pieces that name this file, and was left " +
        "out: line 5 (1400, 300) mm; put x and y right, or take it out",
    ]);
  });

  test("when too few are a piece's own then that is told for the piece", () => {
    expect(findings(named, host([...face(0, 0, 60), "20,520,55", "980,520,55"]))).toEqual([
      `pieces[1].upper.file: of this piece: found 2 readings; a face needs at least 3 that do not lie on one line, or leave them out and give "thickness"`,
    ]);
  });

  test("when the file is broken then that is told once", () => {
    expect(findings(named, host(["1,2,x"]))).toHaveLength(1);
  });

  test("when a piece alone has readings far outside then they still count, and are told", () => {
    const list = host([...face(0, 0, 60), "500,420,61", "9800,20,60"]);
    const job = read(set("pieces[0].upper", { file: "heights.csv" }), list);
    expect(heights(job)[0]).toHaveLength(6);
    expect(job.notes).toEqual([
      'bench/heights.csv: a reading lies more than 50 mm outside piece "left", and still counts for its surface: ' +
        "line 6 (9800, 20) mm; put x and y right, or take it out",
    ]);
  });

  // Six readings over the left piece of 1000 x 400, and what became of them.
  const places = [0, 500, 1000].flatMap((x) => [20, 380].map((y) => [x, y, 60]));
  const listOf = (of: (x: number, y: number, z: number) => number[]) =>
    host(places.map(([x, y, z]) => of(x, y, z).join(",")));
  const alone = (job: Loose) => {
    job.pieces = [{ id: "left", outline: { length: 1000, width: 400 }, upper: { file: "heights.csv" } }];
  };
  const inInches = (job: Loose) => {
    alone(job);
    job.units = "in";
    job.pieces[0].outline = { length: 40, width: 16 };
    job.setups[0] = { ...job.setups[0], target: { depth: 0.1 }, passes: { feed: 200, speed: 14000 } };
  };

  test("when x and y are exchanged then that is asked, with both counts", () => {
    const say =
      "are x and y exchanged? 4 of 6 readings lie more than 50 mm outside the piece, but 0 of 6 if they are";
    expect(
      findings(
        alone,
        listOf((x, y, z) => [y, x, z]),
      ),
    ).toEqual([`pieces[0].upper.file: "bench/heights.csv": ${say}`]);
    expect(
      findings((job) => {
        alone(job);
        job.pieces[0].upper = { points: places.map(([x, y, z]) => [y, x, z]) };
      }),
    ).toEqual([`pieces[0].upper: ${say}`]);
  });

  test("when inches were read in mm, or mm in inches, then that is asked", () => {
    const inches = listOf((x, y, z) => [x / 25.4, y / 25.4, z / 25.4]);
    expect(findings(alone, inches)).toEqual([
      'pieces[0].upper.file: "bench/heights.csv": are the readings in inches? They were read in mm. They all lie in ' +
        'one corner of the piece, lower than 10 mm; a first line "# units: in" in the file says so',
    ]);
    expect(
      findings(
        (job) => {
          alone(job);
          job.pieces[0].outline.at = [300, 200];
        },
        listOf((x, y, z) => [(x + 300) / 25.4, (y + 200) / 25.4, z / 25.4]),
      )[0],
    ).toContain("6 of 6 readings lie more than 50 mm outside the piece, but 0 of 6 if they are");
    expect(
      findings(
        inInches,
        listOf((x, y) => [x, y, 30]),
      )[0],
    ).toContain("are the readings in mm? They were read in inches. 6 of 6");
    expect(
      issuesOf(() =>
        read(
          inInches,
          listOf((x, y) => [x, y, 54.6]),
        ),
      ),
    ).toMatchObject([
      {
        ...{ file: "bench/heights.csv", line: 1 },
        text: expect.stringContaining(
          'It was read in inches: if the list is in mm, write "# units: mm" as its first line',
        ),
      },
    ]);
  });
});

test("another kind of file is named for what it is, and nothing else is said of it", () => {
  const say = (text: string, file: string) =>
    issuesOf(() => readJob(text, file, hostWith())).map(({ text }) => text);
  expect(say(JSON.stringify(exampleShop()), "shop.json")).toEqual([
    'this is a shop file; wanted a job file, which names its shop file in "shop"',
  ]);
  expect(say("x,y,z\n1,2,3\n", "lists/top.csv")).toEqual([
    'this is no job file: a job file is text that begins with {. A list of readings is named in a job file: "upper": { "file": "top.csv" }',
  ]);
  expect(say("G21\nG90\n", "01-top.nc")).toEqual([
    "this is no job file: a job file is text that begins with {",
  ]);
});

test("a share in percent and a feed in ipm are told how to be written", () => {
  expect(findings(set("setups[0].target", { cleanUp: "85 %" }))).toEqual([
    'setups[0].target.cleanUp: found "85 %"; wanted a number: write 0.85',
  ]);
  expect(findings(set("setups[0].passes.feed", "180 ipm"))[0]).toMatch(/; write "180 in\/min"$/);
});

test("a size that no table has is told, as its unit may be wrong", () => {
  const job = read((job) => {
    job.pieces[0].outline = { length: 60, width: 40 };
    job.pieces[1].thickness = 550;
  });
  expect(job.notes).toEqual([
    'piece "left" is only 60 mm long, less than 100 mm: is its unit right?',
    'piece "right" is 550 mm high, more than 300 mm: is its unit right?',
  ]);
});
