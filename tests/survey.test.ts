import { SaxesParser } from "saxes";
import { describe, expect, test } from "vitest";
import { surveyDocument } from "../src/document.ts";
import { readJob } from "../src/job/read.ts";
import { planJob } from "../src/plan.ts";
import { bestSeats, surveyJob } from "../src/survey.ts";
import { surveyMap } from "../src/survey-map.ts";
import { exampleShop, hostWith } from "./job/example.ts";

type Height = (x: number, y: number) => number;

/** A piece of 1600 x 400 read every 100 mm. */
function jobWith(upper: Height, under: Height | null = null, target: object = { cleanUp: 0.95 }) {
  const grid = (height: Height) => ({
    grid: {
      at: [0, 0],
      step: [100, 100],
      rows: Array.from({ length: 5 }, (_, j) =>
        Array.from({ length: 17 }, (_, i) => height(100 * i, 100 * j)),
      ),
    },
  });
  const job = {
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
        target,
        margin: 0.5,
        passes: { feed: 6000, speed: 14000 },
      },
    ],
  };
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
    const [{ cleanUp, cleanUpNote }] = surveyJob(job);
    expect(cleanUpNote).toBe("");
    expect(cleanUp.map(({ share }) => share)).toEqual([0.8, 0.9, 0.95, 0.99, 1]);
    for (const { share, depthMm, floorMm } of cleanUp) {
      expect(depthMm).toBeCloseTo(8 * share, 1);
      expect(floorMm).toBeCloseTo(58 - 8 * share, 1);
    }
    for (let k = 1; k < cleanUp.length; k++) {
      expect(cleanUp[k].depthMm).toBeGreaterThan(cleanUp[k - 1].depthMm);
      expect(cleanUp[k].seconds).toBeGreaterThanOrEqual(cleanUp[k - 1].seconds * 0.98);
    }
    const planned = planJob(job).setups[0];
    expect(cleanUp[2].floorMm).toBeCloseTo(planned.floorMm, 2);
    expect(cleanUp[2].seconds / planned.seconds.total).toBeCloseTo(1, 1);
  });
});

test("planned on its shims a piece gives the thickness that the survey promised", () => {
  const upper: Height = (x, y) => 56 + 0.004 * x - 0.006 * y + 0.4 * Math.sin(x / 170);
  const under: Height = (x, y) => 1 + 0.004 * x + 0.002 * y + 0.3 * Math.sin(x / 210 + y / 90);
  const [{ bestMm, asLaidMm }] = surveyJob(jobWith(upper, under));
  expect(bestMm).toBeGreaterThan(asLaidMm + 2);
  const job = jobWith(upper, under, { cleanUp: 1 });
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
