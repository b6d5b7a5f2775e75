import { expect, test } from "vitest";
import { cuttingWarnings } from "../../src/cutting/warnings.ts";
import type { Machine, Setup } from "../../src/job/job.ts";
import { PLAIN } from "../survey/pieces.ts";

const machine: Machine = {
  name: "bench router",
  travelMm: { x: 2600, y: 1300, z: 150 },
  feedLimitMmPerMin: { x: 15_000, y: 8000, z: 3000 },
  rapidMmPerMin: { x: 20_000, y: 20_000, z: 5000 },
  accelerationMmPerS2: { x: 500, y: 500, z: 200 },
  cornerDeviationMm: 0.05,
  spindle: {
    speedMin: 6000,
    speedMax: 24_000,
    powerKw: 2.2,
    efficiency: 0.8,
    spinUpSeconds: 5,
    outOfSquare: { x: 0, y: 0 },
  },
  nose: null,
};

// 60 mm, 3 edges, 12000 rev/min and 6000 mm/min: 0.1667 mm an edge, 0.1633 mm thick in rows 24 mm apart.
const setup: Setup = {
  id: "skim",
  face: "upper",
  turn: "x",
  pieces: [
    {
      id: "top",
      material: "white oak",
      outline: Float64Array.of(0, 0, 900, 0, 900, 400, 0, 400),
      grainRad: null,
      thicknessMm: 50,
      upper: null,
      ...PLAIN,
    },
  ],
  cutter: {
    id: "flat60",
    name: "60 mm surfacing cutter",
    diameterMm: 60,
    edges: 3,
    speedMax: 16_000,
    depthMaxMm: 4,
    chipLoadMm: { min: 0.1, max: 0.4 },
    centreCutting: false,
    inserts: null,
  },
  target: { kind: "depth", mm: 2 },
  leaveMm: 0,
  marginMm: 0.5,
  passes: {
    depthMm: 2,
    finish: null,
    stepoverShare: 0.4,
    angleRad: 0,
    fastest: false,
    edgeFirst: false,
    rows: "both-ways",
    overrunMm: null,
    feedMmPerMin: 6000,
    resinFeedMmPerMin: 6000,
    speed: 12_000,
    rampRad: null,
  },
  keepOuts: [],
  clear: { zMm: 10, sideMm: 5 },
  zero: { xMm: 0, yMm: 0, z: "bed" },
  reindexMm: null,
};

const passes = (change: Partial<Setup["passes"]>): Setup => ({
  ...setup,
  passes: { ...setup.passes, ...change },
});
const spindle = (change: Partial<Machine["spindle"]>): Machine => ({
  ...machine,
  spindle: { ...machine.spindle, ...change },
});
const warn = (asked: Setup, on = machine, angle = 0) => cuttingWarnings(asked, on, 24, 2, angle, "mm");
const codes = (asked: Setup, on = machine, angle = 0) => warn(asked, on, angle).map(({ code }) => code);

test("when everything is within bounds then nothing is said", () => {
  expect(warn(setup)).toEqual([]);
});

test("when the cutter would turn too fast then the range is named", () => {
  const [speed] = warn(passes({ speed: 18_000, feedMmPerMin: 8000 }));
  expect(speed.code).toBe("speed");
  expect(speed.text).toContain('18000 rev/min is more than cutter "flat60" bears (at most 16000');
  expect(speed.text).toContain("passes.speed should lie between 6000 and 16000");
});

test("when the spindle cannot turn so slowly then its range is named", () => {
  const [speed] = warn(passes({ speed: 5000, feedMmPerMin: 3000 }));
  expect(speed.text).toContain("outside the spindle's range (6000 to 24000)");
});

test("when cutter and spindle share no speed then it says so", () => {
  expect(warn(setup, spindle({ speedMin: 18_000 }))[0].text).toContain("no speed suits both");
});

test("when the feed is above the limit of the axis the rows run along then that limit is named", () => {
  const fast = passes({ feedMmPerMin: 9000, speed: 14_000 });
  expect(codes(fast)).toEqual([]);
  const [limit] = warn(fast, machine, Math.PI / 2);
  expect(limit.code).toBe("feed-limit");
  expect(limit.text).toContain("8000 mm/min");
  // Along the diagonal each axis runs at 0.707 of the feed: 8000 / 0.7071 = 11313.
  expect(warn(passes({ feedMmPerMin: 12_000, speed: 14_000 }), machine, Math.PI / 4)[0].text).toContain(
    "11310 mm/min",
  );
});

test("when chips are too thin then following the advice makes them right", () => {
  const [chip] = warn(passes({ feedMmPerMin: 3000 }));
  expect(chip.code).toBe("chip-load");
  // By hand: 0.1 mm * 3 edges * 12000 / 0.9798 = 3674; 3000 * 0.9798 / (3 * 0.1) = 9798.
  expect(chip.text).toContain("chips of 0.082 mm");
  expect(chip.text).toContain("a feed of at least 3680 mm/min, or a speed of at most 9700 rev/min");
  expect(codes(passes({ feedMmPerMin: 3680 }))).toEqual([]);
  expect(codes(passes({ feedMmPerMin: 3000, speed: 9700 }))).toEqual([]);
});

test("when chips are too thick then following the advice makes them right", () => {
  const strong = spindle({ powerKw: 10 });
  const [chip] = warn(passes({ feedMmPerMin: 12_000, speed: 8000 }), strong);
  // By hand: 0.4 * 3 * 8000 / 0.9798 = 9798; 12000 * 0.9798 / (3 * 0.4) = 9798.
  expect(chip.text).toContain("a feed of at most 9790 mm/min, or a speed of at least 9800 rev/min");
  expect(codes(passes({ feedMmPerMin: 9790, speed: 8000 }), strong)).toEqual([]);
  expect(codes(passes({ feedMmPerMin: 12_000, speed: 9800 }), strong)).toEqual([]);
});

test("when the job is in inches then so is the advice", () => {
  const [chip] = cuttingWarnings(passes({ feedMmPerMin: 3000 }), machine, 24, 2, 0, "in");
  expect(chip.text).toContain("chips of 0.0032 in in rows 0.9449 in apart");
  expect(chip.text).toContain("a feed of at least 145 in/min");
});

test("when the spindle is too weak then feed and depth are named that it bears", () => {
  // By hand: 60 mm * 2 mm * 6000 mm/min = 12 cm3/s, at 60 J/cm3 0.72 kW; the spindle gives 0.6 kW.
  const weak = spindle({ powerKw: 0.75 });
  const [power] = warn(setup, weak);
  expect(power.code).toBe("power");
  expect(power.text).toContain("takes 0.2 to 0.7 kW");
  expect(power.text).toContain("passes.feed of at most 5000 mm/min, or layers of at most 1.66 mm");
  expect(codes(passes({ feedMmPerMin: 5000 }), weak)).toEqual([]);
});

test("when pieces differ in material then the hardest to cut decides, and is named", () => {
  // By hand: 12 cm3/s at 200 J/cm3 are 2.4 kW; the spindle gives 1.76 kW.
  const [leaf] = setup.pieces;
  const both = { ...setup, pieces: [leaf, { ...leaf, id: "river", material: "epoxy" }] };
  const found = warn(both);
  expect(found.map(({ code }) => code)).toEqual(["power"]);
  expect(found[0].text).toContain("in resin takes 1.0 to 2.4 kW, and the spindle gives 1.8 kW");
});

test("when the table does not know a piece's wood then it says what it is judged as", () => {
  const odd = { ...setup, pieces: [{ ...setup.pieces[0], material: "purpleheart" }] };
  expect(warn(odd)).toEqual([
    { code: "material", text: expect.stringContaining('does not know "purpleheart"') },
  ]);
});

test("when the spindle is out of square then the ridge is told, and the stepover that halves it", () => {
  // By hand: rows 24 mm apart across a tilt of 6 mm per m step by 24 * 0.006 = 0.144 mm; half at 12 mm = 0.2 D.
  const [ridge] = warn(setup, spindle({ outOfSquare: { x: 6, y: 0 } }));
  expect(ridge.code).toBe("ridge");
  expect(ridge.text).toContain("ridges of about 0.144 mm; a stepover of 0.2 (12 mm) leaves half of that");
  expect(codes(setup, spindle({ outOfSquare: { x: 0.4, y: 0 } }))).toEqual([]);
});

test("when there is a finish pass then its stepover decides about the ridge and its feed about chips", () => {
  const finish = { depthMm: 0.5, stepoverShare: 0.2, feedMmPerMin: 2000 };
  const found = warn(passes({ finish }), spindle({ outOfSquare: { x: 6, y: 0 } }));
  expect(found.map(({ code }) => code)).toEqual(["chip-load", "ridge"]);
  expect(found[0].text).toContain("passes.finish.feed of 2000 mm/min");
  // By hand: rows 0.2 * 60 = 12 mm apart step by 12 * 0.006 = 0.072 mm.
  expect(found[1].text).toContain(
    "rows 12 mm apart leave ridges of about 0.072 mm; a stepover of 0.1 (6 mm)",
  );
});

test("when the spindle leans both ways then each tilt is told by itself", () => {
  // By hand: across 24 * 0.003 = 0.072 mm; along 30 * sin(atan 0.003) * (1 - sqrt(1 - 0.4^2)) = 0.0075 mm.
  const [ridge] = warn(setup, spindle({ outOfSquare: { x: 3, y: 3 } }));
  expect(ridge.text).toContain("across the rows alone would leave 0.072 mm, its tilt along them 0.008 mm");
});

// A river top: walnut with resin around it, cut with a feed of its own.
const river = (change: Partial<Setup["passes"]>): Setup => {
  const [leaf] = setup.pieces;
  const wood = [Float64Array.of(0, 0, 900, 0, 900, 150, 0, 150)];
  return { ...passes(change), pieces: [{ ...leaf, material: "walnut and epoxy", wood }] };
};

test("when a piece holds resin then wood is judged at the feed and resin at its own", () => {
  // By hand: 60 mm * 2 mm * 6000 mm/min = 12 cm3/s: walnut at 40 J/cm3 0.48 kW, resin at 200 J/cm3 2.4 kW;
  // the spindle's 1.76 kW bear 4400 mm/min in resin, and chips of 4400 * 0.9798 / 36000 = 0.1197 mm are no thinner than 0.1.
  const found = warn(river({ resinFeedMmPerMin: 6000 }));
  expect(found.map(({ code }) => code)).toEqual(["power"]);
  expect(found[0].text).toContain("in resin takes 1.0 to 2.4 kW");
  expect(found[0].text).toContain("passes.resinFeed of at most 4400 mm/min, or layers of at most 1.46 mm");
  expect(codes(river({ resinFeedMmPerMin: 4400 }))).toEqual([]);
});

test("when resin has no feed of its own then it is judged at the wood's, and its own is what would be right", () => {
  const [power, ...others] = warn(river({ resinFeedMmPerMin: null }));
  expect(others).toEqual([]);
  expect(power.text).toContain("at 6000 mm/min in resin");
  expect(power.text).toContain("passes.resinFeed of at most 4400 mm/min");
});

test("when resin's own feed makes thin chips then that feed is named", () => {
  const found = warn(river({ resinFeedMmPerMin: 3000 }));
  expect(found.map(({ code }) => code)).toEqual(["chip-load"]);
  expect(found[0].text).toContain("passes.resinFeed of 3000 mm/min");
});

test("when the feed that the spindle bears would make thin chips then the speed comes down with it", () => {
  // By hand: 0.3 kW bear 6000 * 0.3 / 0.72 = 2500 mm/min; chips of 0.1 mm then want 2500 * 0.9798 / 0.3 = 8165 rev/min.
  const weak = spindle({ powerKw: 0.375 });
  const [power] = warn(setup, weak);
  expect(power.text).toContain("passes.feed of at most 2500 mm/min with a speed of at most 8100 rev/min");
  expect(codes(passes({ feedMmPerMin: 2500, speed: 8100 }), weak)).toEqual([]);
});

test("when neither feed nor speed can be right then a depth is named at which they are", () => {
  // By hand: 6000 rev/min and chips of 0.1 mm want 1837 mm/min; 0.2 kW bear 1667 mm/min of 2 mm, so 1.81 mm.
  const weak = spindle({ powerKw: 0.25 });
  const found = warn(passes({ feedMmPerMin: 1500, speed: 6000 }), weak);
  expect(found.map(({ code }) => code)).toEqual(["chip-load"]);
  expect(found[0].text).toContain("right would be 1840 mm/min in layers of at most 1.81 mm");
});

test("when the shop knows a wood then its numbers count", () => {
  const own = { name: "purpleheart", energyJPerCm3: { low: 30, high: 160 }, densityKgPerM3: 900 };
  const purple = { ...setup, pieces: [{ ...setup.pieces[0], material: "purpleheart" }] };
  const found = cuttingWarnings(purple, machine, 24, 2, 0, "mm", [
    { ...own, movement: null, source: "the shop file" },
  ]);
  // By hand: 12 cm3/s at 160 J/cm3 are 1.92 kW.
  expect(found.map(({ code }) => code)).toEqual(["power"]);
  expect(found[0].text).toContain("in purpleheart takes 0.4 to 1.9 kW");
});
