import { expect, test } from "vitest";
import { describeIssue } from "../../src/errors.ts";
import { readJob, readShop } from "../../src/job/read.ts";
import { exampleJob, exampleShop, findings, hostWith, issuesOf, type Loose, set } from "./example.ts";

const json = (value: unknown) => JSON.stringify(value, null, 1);

const length = 'a length: a number in mm, or text with its unit such as "57 mm"';
const bowTie = [
  [0, 0],
  [1000, 400],
  [1000, 0],
  [0, 400],
];

// biome-ignore format: one case a line
test.each<[string, unknown, string]>([
  // The whole
  ["format", "slabtrue-job/2", 'format: found "slabtrue-job/2"; wanted "slabtrue-job/1"'],
  ["format", undefined, 'format: missing; wanted "slabtrue-job/1"'],
  ["units", "inch", 'units: found "inch"; wanted "mm" or "in"'],
  ["units", "mn", 'units: found "mn"; wanted "mm" or "in"; did you mean "mm"?'],
  ["name", 5, "name: found 5; wanted a text in double quotes"],
  ["pieces", [], "pieces: found a list of 0; wanted at least 1"],
  ["pieces", {}, "pieces: found a group of fields; wanted a list [ ... ]"],
  ["setups", undefined, "setups: missing; wanted a list [ ... ]"],
  ["setups", [], "setups: found a list of 0; wanted at least 1"],
  ["shop", 5, "shop: found 5; wanted the path of a shop file, or the shop itself"],
  ["shop", "", 'shop: found an empty text; wanted a name'],
  // Pieces
  ["pieces[0].id", "", 'pieces[0].id: found an empty text; wanted a name'],
  ["pieces[0].id", "  ", "pieces[0].id: found only blanks; wanted a name"],
  ["pieces[0].id", "a\nb", 'pieces[0].id: found "a\\nb"; wanted a name without line ends or other control characters'],
  ["pieces[0].id", "x".repeat(81), `pieces[0].id: found "${"x".repeat(60)}..." of 81 characters; wanted at most 80`],
  ["pieces[1].id", "left", 'pieces[1].id: the id "left" is already that of pieces[0]; every id may be given once'],
  ["pieces[0].grain", "along", 'pieces[0].grain: found "along"; wanted a number'],
  ["pieces[0].grain", 400, "pieces[0].grain: found 400; wanted at most 360"],
  ["pieces[0].thickness", 0, "pieces[0].thickness: found 0; wanted more than 0"],
  ["pieces[0].thickness", true, `pieces[0].thickness: found true; wanted ${length}`],
  ["pieces[0].thickness", "60 mn", `pieces[0].thickness: found "60 mn"; wanted ${length}`],
  ["pieces[0].thickness", "60", "write 60 without quotes, or with its unit"],
  ["pieces[0].thickness", "101 m", 'found "101 m"; wanted at most 100000 mm (100 m)'],
  ["pieces[0].thickness", undefined, 'pieces[0].thickness: missing; wanted where "upper" holds no readings'],
  ["pieces[0].outline", undefined, "pieces[0].outline: missing; wanted a list of corners"],
  ["pieces[0].outline", "square", 'pieces[0].outline: found "square"; wanted a list of corners'],
  ["pieces[0].outline", [], "pieces[0].outline: found fewer than 3 different corners"],
  [
    "pieces[0].outline",
    [
      [0, 0],
      [5, 0],
      [0, 0],
    ],
    "pieces[0].outline: found fewer than 3 different corners",
  ],
  [
    "pieces[0].outline",
    [
      [0, 0],
      [5, 5],
      [9, 9],
    ],
    "pieces[0].outline: all corners lie on one line",
  ],
  ["pieces[0].outline[1]", [5], "pieces[0].outline[1]: found a list of 1; wanted [x, y]"],
  ["pieces[0].outline[1]", [5, 5, 5], "pieces[0].outline[1]: found a list of 3; wanted [x, y]"],
  ["pieces[0].outline[1][0]", null, `pieces[0].outline[1][0]: found null; wanted ${length}`],
  ["pieces[0].outline", bowTie, "pieces[0].outline[0]: the outline crosses itself at (500, 200) mm: the edge from corner [0] to [1] and the edge from corner [2] to [3]"],
  [
    "pieces[0].outline",
    [
      [0, 0],
      [10, 0],
      [10, 10],
      [5, 0],
      [0, 10],
    ],
    "pieces[0].outline[0]: the outline touches itself at (5, 0) mm",
  ],
  ["pieces[0].outline", { length: 5 }, "pieces[0].outline.width: missing"],
  ["pieces[0].outline", { length: 50_000, width: 5 }, "pieces[0].outline: reaches (50000, 0) mm; wanted an outline within 40 m"],
  ["pieces[0].outline", { length: 5, width: -5 }, "pieces[0].outline.width: found -5; wanted more than 0"],
  [
    "pieces[0].outline",
    {
      length: 5,
      width: 5,
      stations: [
        [0, 0, 1],
        [1, 0, 1],
      ],
    },
    'pieces[0].outline.stations: found "length" beside "stations"; wanted one form of outline',
  ],
  ["pieces[0].outline", { stations: [[0, 0, 1]] }, "pieces[0].outline.stations: found 1 station; wanted at least 2"],
  [
    "pieces[0].outline",
    {
      stations: [
        [0, 0, 1],
        [0, 0, 1],
      ],
    },
    "pieces[0].outline.stations[1]: found x 0 mm after 0 mm; x must grow from station to station",
  ],
  [
    "pieces[0].outline",
    {
      stations: [
        [0, 0, 1],
        [5, 3, 2],
      ],
    },
    "pieces[0].outline.stations[1]: found yNear 3 mm and yFar 2 mm; yFar must be greater",
  ],
  [
    "pieces[0].outline",
    {
      stations: [
        [0, 0],
        [5, 3, 2],
      ],
    },
    "stations[0]: found a list of 2; wanted [x, yNear, yFar]",
  ],
  // Readings
  ["pieces[0].upper", {}, 'pieces[0].upper: found none; wanted exactly one of "points", "grid" or "file"'],
  ["pieces[0].upper", { points: [], file: "a" }, 'pieces[0].upper: found "points" and "file"; wanted exactly one'],
  ["pieces[0].upper", { points: [] }, "pieces[0].upper.points: found no reading; a face needs at least 3"],
  [
    "pieces[0].upper",
    {
      points: [
        [1, 1, 5],
        [2, 1, 5],
      ],
    },
    "pieces[0].upper.points: found 2 readings",
  ],
  [
    "pieces[0].upper",
    {
      points: [
        [1, 1, 5],
        [2, 2, 5],
        [3, 3, 5],
      ],
    },
    "pieces[0].upper.points: all 3 readings lie on one line",
  ],
  ["pieces[0].upper", { points: Array.from({ length: 200_001 }, (_, k) => [k % 900, k / 600, 50]) }, "pieces[0].upper.points: found 200001 readings; wanted at most 200000"],
  ["pieces[0].upper", { points: [[1, 1]] }, "pieces[0].upper.points[0]: found a list of 2; wanted [x, y, z]"],
  ["pieces[0].upper", { points: [[1, 1, 0]] }, "pieces[0].upper.points[0][2]: found 0; wanted a height above the bed"],
  ["pieces[0].upper", { points: [[1, 1, 1001]] }, "pieces[0].upper.points[0][2]: found 1001; wanted a height"],
  [
    "pieces[0].upper",
    {
      points: [
        [1, 1, 5],
        [9, 1, 5],
        [1, 9, 5],
        [1, 1, 6],
      ],
    },
    "pieces[0].upper.points[3]: two heights at the same place (1, 1) mm: 6 mm here, 5 mm in points[0]; keep the right one",
  ],
  [
    "pieces[0].upper",
    {
      points: [
        [2000, 1, 5],
        [3000, 1, 5],
        [2000, 9, 5],
      ],
    },
    "pieces[0].upper: none of the readings lies inside the outline or on it; are both measured from the same origin and in the same unit?",
  ],
  ["pieces[0].upper", { grid: {} }, "pieces[0].upper.grid.rows: missing; wanted a list"],
  ["pieces[0].upper", { grid: { at: [0, 0], step: [9, 9], rows: [] } }, "found a grid of 0 rows of 0; wanted at least 2 rows of 2"],
  ["pieces[0].upper", { grid: { at: [0, 0], step: [9, 9], rows: [[5], [5]] } }, "found a grid of 2 rows of 1"],
  ["pieces[0].upper", { grid: { at: [0, 0], step: [9, 9], rows: [[5, 5]] } }, "found a grid of 1 row of 2"],
  [
    "pieces[0].upper",
    {
      grid: {
        at: [0, 0],
        step: [9, 9],
        rows: [
          [5, 5],
          [5, 5, 5],
        ],
      },
    },
    "pieces[0].upper.grid.rows[1]: found 3 heights; wanted 2 as in the first row",
  ],
  ["pieces[0].upper", { grid: { at: [0, 0], step: [0, 9], rows: [] } }, "grid.step[0]: found 0; wanted a step other than 0"],
  [
    "pieces[0].upper",
    {
      grid: {
        at: [0, 0],
        step: [9, 9],
        rows: [
          [null, null],
          [null, null],
        ],
      },
    },
    "pieces[0].upper.grid: found no reading",
  ],
  [
    "pieces[0].upper",
    {
      grid: {
        at: [0, 0],
        step: [9, 9],
        rows: [
          [5, 5, 5],
          [null, null, null],
        ],
      },
    },
    "pieces[0].upper.grid: all 3 readings lie on one line",
  ],
  [
    "pieces[0].upper",
    {
      grid: {
        at: [0, 0],
        step: [9, 9],
        rows: [
          [5, 5],
          [5, -5],
        ],
      },
    },
    "pieces[0].upper.grid.rows[1][1]: found -5; wanted a height above the bed",
  ],
  ["pieces[0].upper", { file: "" }, 'pieces[0].upper.file: found an empty text; wanted a name'],
  ["pieces[0].upper", { file: "none.csv" }, 'pieces[0].upper.file: cannot read "bench/none.csv": there is no such file'],
  // Setups
  ["setups[0].id", undefined, "setups[0].id: missing; wanted a text"],
  ["setups[0].face", undefined, 'setups[0].face: missing; wanted "upper" or "under"'],
  ["setups[0].face", "uper", 'setups[0].face: found "uper"; wanted "upper" or "under"; did you mean "upper"?'],
  ["setups[0].pieces", [], "setups[0].pieces: found a list of 0; wanted at least 1"],
  ["setups[0].pieces", ["left", "rigth"], 'setups[0].pieces[1]: there is no piece "rigth"; did you mean "right"?'],
  ["setups[0].pieces", ["counter"], 'setups[0].pieces[0]: there is no piece "counter"; wanted "left" or "right"'],
  ["setups[0].pieces", ["left", "left"], 'setups[0].pieces[1]: the piece "left" is named twice; once is enough'],
  ["setups[0].cutter", "flat36", 'setups[0].cutter: there is no cutter "flat36"; did you mean "flat63"?'],
  ["setups[0].cutter", undefined, "setups[0].cutter: missing; wanted a text"],
  ["setups[0].target", {}, 'setups[0].target: found none; wanted exactly one of "thickness", "depth", "cleanUp" or "even"'],
  ["setups[0].target", { depth: 3, cleanUp: 1 }, 'setups[0].target: found "depth" and "cleanUp"; wanted exactly one'],
  ["setups[0].target", { depth: 0 }, "setups[0].target.depth: found 0; wanted more than 0"],
  ["setups[0].target", { thickness: -1 }, "setups[0].target.thickness: found -1; wanted more than 0"],
  ["setups[0].target", { cleanUp: 0 }, "setups[0].target.cleanUp: found 0; wanted more than 0"],
  ["setups[0].target", { cleanUp: 95 }, "setups[0].target.cleanUp: found 95; wanted at most 1"],
  ["setups[0].leave", -0.5, "setups[0].leave: found -0.5; wanted 0 or more"],
  ["setups[0].margin", -0.5, "setups[0].margin: found -0.5; wanted 0 or more"],
  ["setups[0].passes", undefined, "setups[0].passes: missing; wanted a group of fields"],
  ["setups[0].passes.feed", undefined, "setups[0].passes.feed: missing; wanted a feed: a number in mm/min, or text"],
  ["setups[0].passes.feed", 0, "setups[0].passes.feed: found 0; wanted more than 0"],
  ["setups[0].passes.feed", 0.5, "setups[0].passes.feed: found 0.5; wanted at least 1 mm/min"],
  ["setups[0].passes.feed", "6 m/h", 'setups[0].passes.feed: found "6 m/h"; wanted a feed'],
  ["setups[0].passes.feed", 2e6, "setups[0].passes.feed: found 2000000; wanted at most 1000000 mm/min"],
  ["setups[0].passes.speed", undefined, "setups[0].passes.speed: missing; wanted a speed in rev/min"],
  ["setups[0].passes.speed", 0, "setups[0].passes.speed: found 0; wanted more than 0"],
  ["setups[0].passes.speed", "fast", 'setups[0].passes.speed: found "fast"; wanted a speed in rev/min'],
  ["setups[0].passes.depth", 4.5, 'found 4.5 mm a pass; wanted at most 4 mm, the depthMax of cutter "flat63"'],
  ["shop.cutters[0].depthMax", 1.5, "setups[0].passes.depth: found 2 mm a pass; wanted at most 1.5 mm, the depthMax"],
  ["setups[0].passes.finish", { depth: 3 }, "passes.finish.depth: found 3 mm; wanted at most 2 mm, the depth of the passes"],
  ["setups[0].passes.finish", { depth: 0 }, "setups[0].passes.finish.depth: found 0; wanted more than 0"],
  ["setups[0].passes.stepover", 0, "setups[0].passes.stepover: found 0; wanted more than 0"],
  ["setups[0].passes.stepover", 1.01, "setups[0].passes.stepover: found 1.01; wanted at most 1"],
  ["setups[0].passes.rows", "one way", 'passes.rows: found "one way"; wanted "both-ways" or "one-way"; did you mean "one-way"?'],
  ["setups[0].passes.overrun", -1, "setups[0].passes.overrun: found -1; wanted 0 or more"],
  ["setups[0].passes.angle", "90 deg", 'setups[0].passes.angle: found "90 deg"; wanted degrees, from -360 to 360'],
  ["setups[0].passes.entry", "aire", 'setups[0].passes.entry: found "aire"; wanted "air" or {"ramp": degrees}'],
  ["setups[0].passes.entry", { ramp: 0 }, "setups[0].passes.entry.ramp: found 0; wanted more than 0"],
  ["setups[0].passes.entry", { ramp: 31 }, "setups[0].passes.entry.ramp: found 31; wanted at most 30"],
  ["setups[0].keepOut", [{ outline: { length: 5, width: 5 } }], "setups[0].keepOut[0].height: missing; wanted a length"],
  ["setups[0].keepOut", [{ outline: { length: 5, width: 5 }, height: 0 }], "setups[0].keepOut[0].height: found 0; wanted more than 0"],
  ["setups[0].keepOut", [{ outline: bowTie, height: 5 }], "setups[0].keepOut[0].outline[0]: the outline crosses itself"],
  ["setups[0].clear", { z: -1 }, "setups[0].clear.z: found -1; wanted 0 or more"],
  ["setups[0].clear", { side: -1 }, "setups[0].clear.side: found -1; wanted 0 or more"],
  ["setups[0].zero", { z: "top" }, 'setups[0].zero.z: found "top"; wanted "bed" or "high-spot"'],
  ["pieces[1].outline.at", [0, 399], 'setups[0]: the pieces "left" and "right" overlap at'],
  // The shop
  ["shop.machine", undefined, "shop.machine: missing; wanted a group of fields"],
  ["shop.machine.travel.x", 0, "shop.machine.travel.x: found 0; wanted more than 0"],
  ["shop.machine.rapid.y", "fast", 'shop.machine.rapid.y: found "fast"; wanted a feed'],
  ["shop.machine.acceleration.z", 0, "shop.machine.acceleration.z: found 0; wanted more than 0"],
  ["shop.machine.acceleration.z", 0.5, "shop.machine.acceleration.z: found 0.5; wanted at least 1 mm/s^2"],
  ["shop.units", "in", 'shop.units: found "in" with a travel of 2600 in by 1320 in and a cutter of 63.5 in; wanted "mm", if'],
  ["shop.machine.acceleration.z", 2e6, "shop.machine.acceleration.z: found 2000000; wanted at most 1000000 mm/s^2"],
  ["shop.machine.cornerDeviation", 0, "shop.machine.cornerDeviation: found 0; wanted more than 0"],
  ["shop.machine.spindle.speedMin", 30000, "shop.machine.spindle.speedMin: found more than speedMax"],
  ["shop.machine.spindle.efficiency", 1.2, "shop.machine.spindle.efficiency: found 1.2; wanted at most 1"],
  ["shop.machine.spindle.spinUpSeconds", -1, "shop.machine.spindle.spinUpSeconds: found -1; wanted at least 0"],
  ["shop.machine.nose", { diameter: 110 }, "shop.machine.nose.above: missing; wanted a length"],
  ["shop.cutters", [], "shop.cutters: found a list of 0; wanted at least 1"],
  ["shop.cutters[0].edges", 2.5, "shop.cutters[0].edges: found 2.5; wanted a whole number"],
  ["shop.cutters[0].chipLoad", { min: 1, max: 0.5 }, "shop.cutters[0].chipLoad.min: found more than max"],
  ["shop.program", { workOffset: "G60" }, 'shop.program.workOffset: found "G60"; wanted "G54", "G55"'],
  ["shop.program", { toolChange: "M06" }, 'shop.program.toolChange: found "M06"; wanted "none" or "M6"; did you mean "M6"?'],
  ["shop.program", { extension: ".nc" }, 'shop.program.extension: found ".nc"; wanted 1 to 8 letters and digits'],
  ["shop.program", { extension: "" }, 'shop.program.extension: found ""; wanted 1 to 8 letters and digits'],
  ["shop.program", { start: "M7" }, 'shop.program.start: found "M7"; wanted a list'],
  ["shop.program", { start: [7] }, "shop.program.start[0]: found 7; wanted a text"],
  ["shop.program", { start: ["M7\nM8"] }, 'shop.program.start[0]: found "M7\\nM8"; wanted one line an entry'],
  ["shop.program", { end: ["(Übung)"] }, "shop.program.end[0]: found"],
  ["shop.program", { end: [`(${"x".repeat(256)})`] }, "shop.program.end[0]: found a line of 258 characters; wanted at most 256"],
  ["shop.probe", { radius: 0, feed: 100 }, "shop.probe.radius: found 0; wanted more than 0"],
  ["shop.rates", { currency: "CAD", machineHour: -1, labourHour: 1, minutes: { load: 0 } }, "shop.rates.machineHour: found -1"],
  ["shop.materials", [{}], "shop.materials[0].name: missing"],
])("%s = %j", (path, value, says) => {
  const found = findings(set(path, value));
  expect(found.join("\n")).toContain(says);
  expect(found.length).toBeLessThanOrEqual(5);
});

// biome-ignore format: one case a line
test.each([
  ["setups[0].passes.stepOver", "stepover"],
  ["setups[0].keepout", "keepOut"],
  ["setups[0].passes.edgefirst", "edgeFirst"],
  ["pieces[0].thicknes", "thickness"],
  ["pieces[0].materiel", "material"],
  ["shop.machine.accelleration", "acceleration"],
  ["shop.cutters[0].diametre", "diameter"],
  ["setup", "setups"],
])("the unknown field %s is refused for %s", (path, near) => {
  const name = path.split(".").at(-1);
  expect(findings(set(path, 1))).toEqual([`${path}: unknown field \`${name}\`; did you mean \`${near}\`?`]);
});

test("an unknown field that is like none gets a list of those that are known", () => {
  expect(findings(set("setups[0].clear", { colour: 1 }))).toEqual([
    "setups[0].clear.colour: unknown field `colour`; known here: z, side",
  ]);
});

test("findings carry file, line and column", () => {
  const text =
    '{\n  "format": "slabtrue-job/1",\n  "units": "mm", "unit": 5,\n  "shop": "s.json",\n "pieces": 3\n}';
  const issues = issuesOf(() => readJob(text, "a/job.json", hostWith({ "a/s.json": "{\n}" })));
  const where = issues.map((issue) => `${issue.file}:${issue.line}:${issue.column} ${issue.place}`);
  expect(where).toEqual([
    "a/job.json:1:1 setups",
    "a/job.json:3:18 unit",
    "a/job.json:5:12 pieces",
    "a/s.json:1:1 format",
    "a/s.json:1:1 units",
    "a/s.json:1:1 machine",
    "a/s.json:1:1 cutters",
  ]);
  expect(describeIssue(issues[1])).toBe("a/job.json:3:18: unit: unknown field `unit`; did you mean `units`?");
});

test("everything wrong is found at once: text, fields, files, geometry, names", () => {
  const job = exampleJob();
  job.shop = "shop.json";
  job.pieces.push({
    id: "third",
    outline: { length: 9, width: 9, at: [5000, 0] },
    upper: { file: "third.csv" },
  });
  job.pieces.push({ id: "fourth", outline: bowTie, thikness: 4 });
  job.setups.push({
    ...exampleJob().setups[0],
    id: "again",
    pieces: ["left", "fifth", "fourth"],
    cutter: "flat36",
  });
  job.setups.push({ ...exampleJob().setups[0], id: "skim", passes: { feed: -1 }, pieces: ["lefft"] });
  const text = JSON.stringify(job).replace('"units":"mm"', '"units":"mm","units":"mm"').replace(/}$/, ",}");
  const shop = exampleShop();
  shop.cutters[0].edges = 0;
  shop.machine.feedlimit = 3;
  const host = hostWith({ "shop.json": json(shop), "third.csv": "0,0,5\n0,0,6\n0,0,x" });
  expect(
    issuesOf(() => readJob(text, "job.json", host)).map(({ file, place }) => `${file} ${place}`),
  ).toEqual([
    "job.json units",
    "job.json pieces[3].thickness",
    "job.json pieces[3].outline[0]",
    "job.json pieces[3].thikness",
    "job.json setups[1].cutter",
    "job.json setups[1].pieces[1]",
    "job.json setups[2].id",
    "job.json setups[2].passes.speed",
    "job.json setups[2].passes.feed",
    "job.json setups[2].pieces[0]",
    "job.json ",
    "shop.json machine.feedlimit",
    "shop.json cutters[0].edges",
    "third.csv ",
  ]);
});

test("an outline of more than 20 000 corners is refused", () => {
  const corners = Array.from({ length: 20_001 }, (_, k) => [k, k * k * 1e-6]);
  expect(findings(set("pieces[0].outline", corners))).toEqual([
    "pieces[0].outline: found a list of 20001; wanted at most 20000",
  ]);
});

test("of more than 100 findings the first 100 are told", () => {
  const found = findings(set("pieces[0].outline", Array(5000).fill(["a", "b"])));
  expect(found).toHaveLength(101);
  expect(found[100]).toBe(": and more; put these right first");
});

test("a list that is none does not make all names in it unknown", () => {
  expect(findings(set("shop.cutters", 5))).toEqual(["shop.cutters: found 5; wanted a list [ ... ]"]);
  expect(findings(set("pieces", "left"))).toEqual(['pieces: found "left"; wanted a list [ ... ]']);
});

test("when the shop file is missing, broken or a job then that is said, once", () => {
  const job = json({ ...exampleJob(), shop: "../shops/loft.json" });
  const say = (files: Record<string, string>) => issuesOf(() => readJob(job, "jobs/a.json", hostWith(files)));
  expect(say({})).toMatchObject([
    {
      file: "jobs/a.json",
      place: "shop",
      text: 'cannot read "jobs/../shops/loft.json": there is no such file',
    },
  ]);
  expect(say({ "jobs/../shops/loft.json": "{" })).toMatchObject([
    { file: "jobs/../shops/loft.json", line: 1 },
  ]);
  const swapped = say({ "jobs/../shops/loft.json": job });
  expect(swapped.find(({ place }) => place === "format")?.text).toBe(
    "this is a job file; wanted the shop file: machine, cutters and what else stays the same",
  );
});

test("whatever the host throws, it is said at the place that names the file", () => {
  for (const thrown of [new Error("EACCES: permission\u001b[2J denied"), "no", null, undefined]) {
    const host = {
      readText() {
        throw thrown;
      },
    };
    const [found] = findings(set("shop", "x.json"), host);
    expect(found).toMatch(/^shop: cannot read "bench\/x.json": [ -~]+$/);
  }
});

test("the shop's extra lines are shown to the host, which may find fault with them", () => {
  const asked: unknown[] = [];
  const host = {
    ...hostWith(),
    checkProgramLines(lines: readonly string[], where: "start" | "end") {
      asked.push([where, lines]);
      return where === "start" ? [{ index: 1, text: "G28 moves the machine" }] : [];
    },
  };
  const change = (job: Loose) => {
    job.shop.program = { start: ["M7", "G28"] };
  };
  expect(findings(change, host)).toEqual(["shop.program.start[1]: G28 moves the machine"]);
  expect(asked).toEqual([
    ["start", ["M7", "G28"]],
    ["end", []],
  ]);
});

test("hostile text in fields and names is quoted harmlessly", () => {
  const hostile = `a\u001b[2J\u009b\u202e\n"${"b".repeat(9000)}`;
  const found = findings((job) => {
    job[hostile] = 1;
    job.units = hostile;
    job.pieces[0].id = hostile;
    job.setups[0].cutter = hostile;
    job.setups[0].pieces = [hostile];
    job.pieces[1].upper = { file: hostile };
  });
  expect(found.length).toBeGreaterThanOrEqual(6);
  for (const line of found) expect(line).toMatch(/^[ -~]{1,600}$/);
});

test("a shop file stands alone too, and its findings have its place", () => {
  expect(readShop(json(exampleShop()), "s.json").cutters[0].id).toBe("flat63");
  const shop = exampleShop();
  shop.cutters.push({ ...shop.cutters[0] });
  expect(issuesOf(() => readShop(json(shop), "s.json"))).toMatchObject([
    {
      file: "s.json",
      place: "cutters[1].id",
      text: 'the id "flat63" is already that of cutters[0]; every id may be given once',
    },
  ]);
});
