import { SaxesParser } from "saxes";
import { describe, expect, test } from "vitest";
import { surveyDocument } from "../src/document.ts";
import { readJob } from "../src/job/read.ts";
import { planJob } from "../src/plan.ts";
import { bestSeats, surveyJob } from "../src/survey.ts";
import { surveyMap } from "../src/survey-map.ts";
import { exampleShop, hostWith, type Loose } from "./job/example.ts";

type Height = (x: number, y: number) => number;

/** 8 mm over its length. */
const slope: Height = (x) => 50 + x / 200;

const corners = (height: Height) =>
  [
    [-50, -50],
    [1650, -50],
    [1650, 450],
    [-50, 450],
  ].map(([x, y]) => [x, y, height(x, y)]);

/** A piece of 1600 x 400 read every 100 mm. */
function jobWith(upper: Height, under: Height | null = null, change: (job: Loose) => void = () => {}) {
  const grid = (height: Height) => ({
    grid: {
      at: [0, 0],
      step: [100, 100],
      rows: Array.from({ length: 5 }, (_, j) =>
        Array.from({ length: 17 }, (_, i) => height(100 * i, 100 * j)),
      ),
    },
  });
  const job: Loose = {
    format: "slabtrue-job/1",
    units: "mm",
    shop: exampleShop(),
    pieces: [
      {
        id: "slab",
        material: "ash",
        outline: { length: 1600, width: 400 },
        upper: grid(upper),
        ...(under === null ? {} : { under: grid(under) }),
      },
    ],
    setups: [
      {
        id: "top",
        face: "upper",
        cutter: "flat63",
        target: { cleanUp: 0.95 },
        margin: 0.5,
        passes: { feed: 6000, speed: 14000 },
      },
    ],
  };
  change(job);
  return readJob(JSON.stringify(job), "job.json", hostWith({}));
}

describe("a face of known form", () => {
  test("a wedge is flat, and the best tilt takes all of it away", () => {
    // 8 mm along 1600, 2 mm across 400, 50 mm thick all over: by arithmetic.
    const rise: Height = (x, y) => 0.005 * x + 0.005 * y;
    const [found] = surveyJob(jobWith((x, y) => 50 + rise(x, y), rise));
    expect(found.flatnessMm).toBeLessThan(1e-6);
    expect(found.asLaidMm).toBeCloseTo(40, 4); // from 50 at the lowest down to 10 at the highest
    expect(found.bestMm).toBeCloseTo(50 / Math.sqrt(1 + 2 * 0.005 ** 2), 4);
    expect(found.seat.tiltX).toBeCloseTo(0.005, 6);
    expect(found.seat.tiltY).toBeCloseTo(0.005, 6);
    expect(found.seat.shims).toEqual([]); // lying level its under face is flat on the bed
  });

  test("bow, cup and twist are told one by one", () => {
    const along = (x: number) => (x - 800) / 800;
    const across = (y: number) => (y - 200) / 200;
    const [bowed] = surveyJob(jobWith((x) => 60 - 4 * along(x) ** 2));
    expect(bowed.form.bow).toEqual({ riseMm: expect.closeTo(4, 3), shape: "crowned" });
    expect(bowed.form.cup.riseMm).toBeLessThan(1e-4);
    expect(bowed.flatnessMm).toBeCloseTo(4, 4);
    const [cupped] = surveyJob(jobWith((_, y) => 60 + 3 * across(y) ** 2));
    expect(cupped.form.cup).toEqual({ riseMm: expect.closeTo(3, 3), shape: "hollow" });
    expect(cupped.form.bow.riseMm).toBeLessThan(1e-4);
    const [twisted] = surveyJob(jobWith((x, y) => 60 + 2 * along(x) * across(y)));
    expect(twisted.form.twistMm).toBeCloseTo(8, 3); // the plane of three corners at +2, -2, -2 has the fourth at -6
    expect(twisted.flatnessMm).toBeCloseTo(4, 3); // between -2 and 2, level: no tilt does better
  });

  test("a board twisted on both faces rocks, and lies best level between its corners", () => {
    const twist: Height = (x, y) => 3 + (3 * (x - 800) * (y - 200)) / (800 * 200);
    const [found] = surveyJob(jobWith((x, y) => 50 + twist(x, y), twist));
    expect(found.rests.length).toBeGreaterThan(1);
    expect(found.bestMm).toBeCloseTo(50 - 6, 3);
    expect(Math.abs(found.seat.tiltX) + Math.abs(found.seat.tiltY)).toBeLessThan(1e-6);
  });
});

describe("the clean-up curve", () => {
  test("of a slope has its depths where area says, and never shrinks", () => {
    const job = jobWith((x) => 50 + x / 200); // 8 mm over its length: a share s lies within 8 s of the top
    const [{ cleanUp }] = surveyJob(job);
    expect(cleanUp.map(({ share }) => share)).toEqual([0.8, 0.9, 0.95, 0.99, 1]);
    for (const row of cleanUp) {
      expect(row.reason).toBe("");
      expect(row.depthMm).toBeCloseTo(8 * row.share, 1);
      expect(row.floorMm).toBeCloseTo(58 - 8 * row.share, 1);
    }
    for (let k = 1; k < cleanUp.length; k++) {
      expect(Number(cleanUp[k].depthMm)).toBeGreaterThan(Number(cleanUp[k - 1].depthMm));
      expect(Number(cleanUp[k].seconds)).toBeGreaterThanOrEqual(0.98 * Number(cleanUp[k - 1].seconds));
    }
    const planned = planJob(job).setups[0];
    expect(cleanUp[2].floorMm).toBeCloseTo(planned.floorMm, 2);
    expect(cleanUp[2].layers).toBe(planned.layers.length);
    expect(Number(cleanUp[2].seconds) / planned.seconds.total).toBeCloseTo(1, 1);
  });

  test("keeps its rows where keep-outs leave less than a share, and says why", () => {
    // A block over a fifth of the face, and the cutter's radius and 5 mm beside it: over 80 %, not 75 %, is lost.
    const [{ cleanUp }] = surveyJob(
      jobWith(slope, null, (job) => {
        const outline = { length: 320, width: 400, at: [0, 0] };
        job.setups[0].keepOut = [{ name: "block", outline, height: 90 }];
      }),
    );
    expect(cleanUp).toHaveLength(5);
    for (const row of cleanUp) {
      expect(row).toMatchObject({ depthMm: null, floorMm: null, layers: null, seconds: null });
      expect(row.reason).toMatch(/keep-outs cover .* of piece "slab"/);
    }
  });

  test("without a setup for the upper face has depths and no minutes", () => {
    const [{ cleanUp }] = surveyJob(jobWith(slope, null, (job) => (job.setups[0].face = "under")));
    for (const row of cleanUp) {
      expect(row.depthMm).toBeCloseTo(8 * row.share, 1);
      expect(row).toMatchObject({ layers: null, seconds: null });
      expect(row.reason).toContain("no setup cuts its upper face");
    }
  });
});

test("the share beyond the readings is that of their rectangle in the outline's", () => {
  const [{ outside }] = surveyJob(
    jobWith(slope, null, (job) => (job.pieces[0].outline = { length: 1620, width: 420, at: [-10, -10] })),
  );
  expect(outside).toBeCloseTo(1 - (1600 * 400) / (1620 * 420), 3); // strips of 10 mm all around
});

describe("pieces that are cast", () => {
  const cast = (upper: object) =>
    jobWith(slope, null, (job) => {
      job.pieces.push({
        ...{ id: "top", outline: { length: 1700, width: 500, at: [-50, -50] }, grain: 0, ...upper },
        shell: { upper: 5, under: 4 },
        madeOf: [{ piece: "slab", at: [0, 0], after: "top" }],
      });
      job.setups[0].pieces = ["slab"];
      job.setups.push({ ...job.setups[0], id: "shell", pieces: ["top"] });
    });

  test("are surveyed once they are measured, with the clean-up left to the plan", () => {
    expect(surveyJob(cast({})).map(({ piece }) => piece.id)).toEqual(["slab"]);
    const measured = cast({ upper: { points: corners((x) => 70 + x / 1000) } });
    const found = surveyJob(measured);
    expect(found.map(({ piece }) => piece.id)).toEqual(["slab", "top"]);
    expect(found[1].flatnessMm).toBeLessThan(1e-6);
    expect(found[1].cleanUp.every(({ seconds, reason }) => seconds === null && reason !== "")).toBe(true);
    expect([...bestSeats(measured).keys()]).toEqual(["slab"]);
  });
});

test("planned on its shims a piece gives the thickness that the survey promised", () => {
  const upper: Height = (x, y) => 56 + 0.004 * x - 0.006 * y + 0.4 * Math.sin(x / 170);
  const under: Height = (x, y) => 1 + 0.004 * x + 0.002 * y + 0.3 * Math.sin(x / 210 + y / 90);
  const [{ bestMm, asLaidMm }] = surveyJob(jobWith(upper, under));
  expect(bestMm).toBeGreaterThan(asLaidMm + 2);
  const job = jobWith(upper, under, (raw) => (raw.setups[0].target = { cleanUp: 1 }));
  const seats = bestSeats(job);
  const { floorMm, found } = planJob(job, seats).setups[0];
  // The upper plane lies at the floor; the lower one as far below it as the under face's highest place allows.
  const stock = found[0];
  let highest = Number.NEGATIVE_INFINITY;
  for (let x = 0; x <= 1600; x += 5)
    for (let y = 0; y <= 400; y += 5) highest = Math.max(highest, stock.down.surface.heightAt(x, y));
  expect(floorMm - highest).toBeCloseTo(bestMm, 1);
  let lowest = Number.POSITIVE_INFINITY;
  for (let x = 0; x <= 1600; x += 5)
    for (let y = 0; y <= 400; y += 5) lowest = Math.min(lowest, stock.down.surface.heightAt(x, y));
  expect(lowest).toBeCloseTo(0, 2); // it stands on the bed
  for (const { x, y, thicknessMm } of seats.get("slab")?.shims ?? [])
    expect(stock.down.surface.heightAt(x, y)).toBeCloseTo(thicknessMm, 1);
});

describe("shims", () => {
  // 50 mm thick, tilted, and standing on a rib along its near edge: by arithmetic the best lay undoes the tilt.
  const rise: Height = (x, y) => 2 + 0.003 * x + 0.008 * y;
  const job = (setups: object[]) =>
    jobWith(
      (x, y) => 50 + rise(x, y),
      (x, y) => rise(x, y) - (y === 0 ? 2 : 0),
      (raw) => (raw.setups = setups.map((setup) => ({ ...raw.setups[0], ...setup }))),
    );

  test("undo a known tilt: no gap under the rib, and what the rib lifts elsewhere", () => {
    const plain = job([{}]);
    const seat = bestSeats(plain).get("slab");
    expect(seat?.tiltX).toBeCloseTo(0.003, 6);
    expect(seat?.tiltY).toBeCloseTo(0.008, 6);
    const [stock] = planJob(plain, bestSeats(plain)).setups[0].found;
    for (const [x, y] of [
      [0, 100],
      [1600, 100],
      [800, 400],
    ]) {
      expect(stock.up.surface.heightAt(x, y)).toBeCloseTo(52, 3); // 50 mm of wood on a rib of 2
      expect(stock.down.surface.heightAt(x, y)).toBeCloseTo(2, 3);
    }
    const far = seat?.shims.filter(({ y }) => y > 200) ?? [];
    expect(far.length).toBeGreaterThanOrEqual(2);
    for (const { thicknessMm } of far) expect(thicknessMm).toBeCloseTo(2, 3);
  });

  test("are named in programs until the piece is turned over, and not after", () => {
    const thrice = job([
      { id: "a", target: { depth: 1 } },
      { id: "b", face: "under", target: { depth: 1 } },
      { id: "c", target: { depth: 1 } },
    ]);
    const plan = planJob(thrice, bestSeats(thrice));
    const named = plan.setups.map(({ programs: [{ text }] }) => /shim/.test(new TextDecoder().decode(text)));
    expect(named).toEqual([true, false, false]);
  });

  test("are not for a piece that is turned over before its first cut", () => {
    expect(bestSeats(job([{ face: "under" }, { id: "b" }])).size).toBe(0);
    expect(bestSeats(job([{}, { id: "b", face: "under" }])).size).toBe(1);
  });
});

test("the document has the contract's fields, in inches 25.4 times smaller", () => {
  const surveys = surveyJob(jobWith((x) => 50 + x / 200));
  const inMm = surveyDocument(surveys, "mm") as { format: string; pieces: Record<string, never>[] };
  const inInches = surveyDocument(surveys, "in") as { pieces: Record<string, number>[] };
  expect(inMm.format).toBe("slabtrue-survey/1");
  expect(Object.keys(inMm.pieces[0])).toEqual(
    expect.arrayContaining(
      "id flatness cup bow twist scatter suspects outside thickness seat cleanUp".split(" "),
    ),
  );
  expect(inInches.pieces[0].bow * 25.4).toBeCloseTo(inMm.pieces[0].bow, 3);
});

test("the document says null, and why, where a share cannot be had", () => {
  const surveys = surveyJob(jobWith(slope, null, (job) => (job.setups[0].face = "under")));
  const { pieces } = surveyDocument(surveys, "mm") as { pieces: { cleanUp: Record<string, unknown>[] }[] };
  expect(pieces[0].cleanUp).toHaveLength(5);
  expect(pieces[0].cleanUp[0]).toMatchObject({
    ...{ share: 0.8, layers: null, minutes: null },
    ...{ depth: expect.closeTo(6.4, 1), reason: expect.stringContaining("upper face") },
  });
});

test("the picture is well-formed, and a hostile name stays text in it", () => {
  const [found] = surveyJob(jobWith((x, y) => 50 + x / 200 + y / 300));
  const hostile = { ...found, piece: { ...found.piece, id: `</text><script>alert("1")</script>&\u202e` } };
  const svg = surveyMap([found, hostile], "mm");
  const parser = new SaxesParser();
  const names = new Set<string>();
  parser.on("opentag", ({ name }) => names.add(name));
  parser.on("error", (error) => {
    throw error;
  });
  parser.write(svg).close();
  expect(names.has("script")).toBe(false);
  expect(svg).not.toContain("\u202e");
});

test("a suspect reading is drawn as a diamond, however many readings there are", () => {
  const bump: Height = (x, y) => slope(x, y) + (x === 800 && y === 200 ? 9 : 0);
  const diamonds = (svg: string) => svg.match(/m-7 0l7 -7/g)?.length;
  const dots = (svg: string) => svg.match(/<circle/g)?.length ?? 0;
  const few = surveyMap(surveyJob(jobWith(bump)), "mm");
  expect([diamonds(few), dots(few)]).toEqual([1, 17 * 5 - 1]);
  const dense = jobWith(bump, null, (job) => {
    const rows = Array.from({ length: 41 }, (_, j) =>
      Array.from({ length: 161 }, (_, i) => bump(10 * i, 10 * j)),
    );
    job.pieces[0].upper = { grid: { at: [0, 0], step: [10, 10], rows } };
  });
  const many = surveyMap(surveyJob(dense), "mm");
  expect([diamonds(many), dots(many)]).toEqual([1, 0]);
});
