import { expect, test } from "vitest";
import * as z from "zod";
import { jobSchema, shopSchema } from "../../src/job/schema.ts";
import type { Loose } from "./example.ts";

const print = (schema: z.ZodType): Loose => z.toJSONSchema(schema, { io: "input" });

test("both files can be printed as JSON Schema, the same for both units", () => {
  expect(print(jobSchema("in", "mm"))).toEqual(print(jobSchema("mm", "in")));
  expect(print(shopSchema("in"))).toEqual(print(shopSchema("mm")));
});

test("what is printed tells what is required, and what stands in", () => {
  const { properties, required, additionalProperties } = print(jobSchema("mm", "mm"));
  expect(required).toEqual(["format", "units", "shop", "pieces", "setups"]);
  expect(additionalProperties).toBe(false);
  const setup = properties.setups.items;
  expect(setup.required).toEqual(["id", "face", "cutter", "target", "passes"]);
  expect(setup.properties.passes.required).toEqual(["feed", "speed"]);
  expect(setup.properties.passes.properties.depth).toMatchObject({
    type: ["number", "string"],
    default: "2 mm",
  });
  expect(properties.pieces.items.required).toEqual(["id", "outline"]);
});

test("every field that a file may hold stands under the name that the contract gives it", () => {
  const fields = (schema: Loose): string[] => Object.keys(schema.properties);
  const job = print(jobSchema("mm", "mm"));
  const shop = print(shopSchema("mm"));
  expect(fields(job)).toEqual(["$schema", "format", "name", "units", "shop", "pieces", "setups"]);
  expect(fields(job.properties.pieces.items).sort()).toEqual(
    "grain id madeOf material moisture outline shell thickness thicknesses under upper wood".split(" "),
  );
  expect(fields(job.properties.setups.items).sort()).toEqual(
    "clear cutter face id keepOut leave margin passes pieces reindex target turn zero".split(" "),
  );
  expect(fields(job.properties.setups.items.properties.passes).sort()).toEqual(
    "angle depth edgeFirst entry feed finish overrun resinFeed rows speed stepover".split(" "),
  );
  expect(fields(shop)).toEqual(
    "$schema format units machine cutters program probe rates quote materials".split(" "),
  );
  expect(fields(shop.properties.machine)).toEqual(
    "name travel feedLimit rapid acceleration cornerDeviation spindle nose".split(" "),
  );
  expect(fields(shop.properties.cutters.items)).toEqual(
    "id name diameter edges speedMax depthMax chipLoad centreCutting inserts".split(" "),
  );
});
