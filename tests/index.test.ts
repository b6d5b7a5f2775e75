import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import * as slabtrue from "../src/index.ts";

const FILE = `${import.meta.dirname}/../samples/cupped-slab/job.json`;

test("the example in the library's own words plans a sample", () => {
  const { readJob, planJob } = slabtrue;
  const job = readJob(readFileSync(FILE, "utf8"), FILE, { readText: (path) => readFileSync(path, "utf8") });
  const plan = planJob(job);
  const written = plan.setups.flatMap(({ programs }) =>
    programs.map(({ file, text }) => [file, new TextDecoder().decode(text)]),
  );
  expect(written.map(([file]) => file)).toEqual(["01-skim-upper.nc"]);
  expect(written[0][1]).toMatch(/\nG21\n[\s\S]*\nM30\n$/);
  expect(slabtrue.checkProgram(job, "skim-upper", plan.setups[0].programs[0].text)).toMatchObject({
    ok: true,
    findings: [],
  });
  expect(slabtrue.planDocument(plan)).toMatchObject({ format: slabtrue.PLAN_FORMAT, units: "mm" });
  expect(slabtrue.sheetHtml(plan)).toContain("skim-upper");
});

test("what the user did wrong is an InputError with its place, what cannot be a PlanError with its code", () => {
  const { InputError, PlanError, planJob, readJob } = slabtrue;
  expect(() => readJob("{}", "job.json", { readText: () => "" })).toThrow(InputError);
  const text = readFileSync(FILE, "utf8").replace(/"target": \{[^}]*\}/, '"target": { "thickness": 900 }');
  const job = readJob(text, FILE, { readText: (path) => readFileSync(path, "utf8") });
  expect(() => planJob(job)).toThrow(PlanError);
  expect(slabtrue.parseLength("2 1/4 in", "mm")).toBeCloseTo(57.15, 9);
});
