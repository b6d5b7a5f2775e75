// plan.json and the document of check, in both units.

import { expect, test } from "vitest";
import { checkDocument, planDocument } from "../../src/document.ts";
import { checkProgram, planJob } from "../../src/plan.ts";
import { type Loose, read } from "../job/example.ts";

const smallJob = (job: Loose) => {
  job.pieces = [{ id: "leaf", outline: { length: "300 mm", width: "150 mm" }, thickness: "40 mm" }];
  job.setups[0] = {
    ...job.setups[0],
    ...{
      margin: "0.5 mm",
      target: { depth: "3 mm" },
      passes: { depth: "2 mm", feed: "6000 mm/min", speed: 14000 },
    },
  };
};
const inInches = (job: Loose) => {
  smallJob(job);
  job.units = "in";
};

test("a plan in inches says the same as the plan in mm, 25.4 times smaller", () => {
  const [mm, inch] = [smallJob, inInches].map((change) => planDocument(planJob(read(change))) as Loose);
  const [inMm, inIn] = [mm.setups[0], inch.setups[0]];
  expect(inch.units).toBe("in");
  // Programs have 3 decimals of a mm, or 4 of an inch.
  expect(inIn.floor * 25.4).toBeCloseTo(inMm.floor, 2);
  expect(inIn.margin * 25.4).toBeCloseTo(0.5, 3);
  expect(inIn.layers.map(({ depth }: Loose) => depth * 25.4)[0]).toBeCloseTo(inMm.layers[0].depth, 2);
  expect(inIn.layers[0].area * 25.4 ** 2).toBeCloseTo(inMm.layers[0].area, -1);
  expect(inIn.extent.min.map((x: number) => Math.round(x * 25.4))).toEqual(inMm.extent.min.map(Math.round));
  expect(inIn.removed.wood).toBeCloseTo(inMm.removed.wood, 3);
  // By hand: 3 mm off 300 x 150 mm are 0.135 litres.
  expect(inMm.removed).toEqual({ wood: expect.closeTo(0.135, 3), resin: 0 });
  expect(inMm.removedMost).toBe(3);
  expect(inMm.pieces).toMatchObject([{ id: "leaf", cleanUp: 1, thinnest: 37, thickest: 37 }]);
});

test("every number of a plan is one: no null, no -0", () => {
  const text = JSON.stringify(planDocument(planJob(read(smallJob))), (_, value) =>
    Object.is(value, -0) ? "minus nought" : value,
  );
  expect(text).not.toMatch(/null|minus nought/);
});

test("when a program does nothing at all then what was found is still a document", () => {
  const job = read(smallJob);
  const document = checkDocument(checkProgram(job, "skim", new Uint8Array()), job.units) as Loose;
  expect(document.ok).toBe(false);
  expect(document.findings.length).toBeGreaterThan(0);
  expect(document.seconds.total).toBe(0);
});
