// The printed JSON Schemas, judged by ajv, a general-purpose validator of JSON Schema draft 2020-12.

import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { planDocument } from "../../src/document.ts";
import { readJob } from "../../src/job/read.ts";
import { parseSource } from "../../src/job/text.ts";
import { planJob } from "../../src/plan.ts";
import { fileSchema, SCHEMA_NAMES, type SchemaName } from "../../src/schemas.ts";
import { FEED_PATTERN, LENGTH_PATTERN, parseFeed, parseLength, SIZE_PATTERN } from "../../src/units.ts";
import { exampleJob, exampleShop, issuesOf, type Loose, set } from "./example.ts";

const samples = join(import.meta.dirname, "../../samples");
const sampleFiles = readdirSync(samples, { recursive: true, encoding: "utf8" })
  .filter((name) => name.endsWith(".json") && !name.startsWith("schemas"))
  .map((name) => name.replaceAll("\\", "/"))
  .sort();

/** Comments are no JSON, and editors skip them. */
const sampleValue = (name: string): Loose =>
  JSON.parse(JSON.stringify(parseSource(readFileSync(join(samples, name), "utf8"), name).value));

const validators = Object.fromEntries(
  SCHEMA_NAMES.map((name) => [
    name,
    // Lists of two kinds of type are in the draft; ajv's strict mode asks to be told.
    new Ajv2020({ allErrors: true, strict: true, allowUnionTypes: true, strictTuples: false }).compile(
      fileSchema(name),
    ),
  ]),
);

const wrong = (name: SchemaName, value: unknown) => {
  validators[name](value);
  return (validators[name].errors ?? []).map(({ instancePath, message }) => `${instancePath}: ${message}`);
};

describe("samples", () => {
  test("there are samples to look at", () => {
    expect(sampleFiles.length).toBeGreaterThan(6);
    expect(sampleFiles).toContain("traced-shelf/job.json");
  });

  test.each(sampleFiles)("%s holds by its schema, and names it", (name) => {
    const value = sampleValue(name);
    const kind = /^slabtrue-(job|shop)\/1$/.exec(value.format)?.[1] as SchemaName;
    expect(wrong(kind, value)).toEqual([]);
    expect(join(name, "..", value.$schema)).toBe(join("schemas", `${kind}.schema.json`));
  });

  test.each(SCHEMA_NAMES)("the schema of %s beside the samples is the one that is printed", (name) => {
    const text = readFileSync(join(samples, `schemas/${name}.schema.json`), "utf8");
    // Made by: slabtrue schema NAME > samples/schemas/NAME.schema.json
    expect(JSON.parse(text)).toEqual(fileSchema(name));
  });

  const jobs = sampleFiles.filter((name) => name.endsWith("job.json"));
  test.each(jobs)("the plan of %s holds by its schema, and the schema knows all of it", (name) => {
    const path = join(samples, name);
    const job = readJob(readFileSync(path, "utf8"), path, { readText: (file) => readFileSync(file, "utf8") });
    const document = JSON.parse(JSON.stringify(planDocument(planJob(job))));
    expect(wrong("plan", document)).toEqual([]);
    expect(unknownFields(document, fileSchema("plan"), "")).toEqual([]);
  });
});

describe("what a schema finds", () => {
  test("the examples of tests hold, with and without the place of their schema", () => {
    expect(wrong("job", exampleJob())).toEqual([]);
    expect(wrong("shop", { $schema: "x.json", ...exampleShop() })).toEqual([]);
  });

  // Each is refused by the reader too.
  // biome-ignore format: one case a line
  test.each<[string, unknown]>([
    ["format", "slabtrue-job/2"], ["format", undefined], ["units", "cm"], ["units", undefined], ["$schema", 5],
    ["shop", 5], ["shop", ""], ["shop.machine", undefined], ["shop.cutters", []], ["shop.cutters[0].edges", 2.5],
    ["shop.cutters[0].diameter", 0], ["shop.machine.travel.x", -5], ["shop.machine.travel.x", "2600"],
    ["shop.machine.rapid.x", "20 m"], ["shop.machine.rapid.x", 0], ["shop.machine.spindle.efficiency", 1.5],
    ["shop.program", { workOffset: "G60" }], ["shop.program", { extension: ".nc" }], ["shop.speed", 5],
    ["pieces", []], ["pieces", {}], ["pieces[0].id", ""], ["pieces[0].id", undefined], ["pieces[0].lenght", 5],
    ["pieces[0].outline", undefined], ["pieces[0].outline", "square"], ["pieces[0].outline", [[0, 0], [1, 1]]],
    ["pieces[0].outline[1]", [5]], ["pieces[0].outline[1]", [5, 5, 5]], ["pieces[0].outline[1]", [5, "5"]],
    ["pieces[0].outline", { length: 5, width: -5 }], ["pieces[0].outline", { svg: "" }],
    ["pieces[0].outline", { stations: [[0, 0, 1]] }], ["pieces[0].outline", { radius: 5 }],
    ["pieces[0].thickness", "60 mn"], ["pieces[0].thickness", 0], ["pieces[0].thickness", "-5 mm"], ["pieces[0].grain", 400],
    ["pieces[0].upper", { points: [[1, 2]] }], ["pieces[0].upper", { grid: { at: [0, 0], step: [1, 1] } }],
    ["setups", undefined], ["setups[0].face", "side"], ["setups[0].target", {}], ["setups[0].target", { depth: 3, thickness: 5 }],
    ["setups[0].target", { cleanUp: 1.2 }], ["setups[0].passes.feed", undefined], ["setups[0].passes.feed", "fast"],
    ["setups[0].passes.stepover", 1.5], ["setups[0].passes.rows", "both"], ["setups[0].passes.entry", { ramp: 45 }],
    ["setups[0].keepOut", [{ outline: { length: 5, width: 5 } }]], ["setups[0].zero", { z: "top" }], ["setups[0].margin", -1],
  ])("%s = %j is wrong", (path, value) => {
    const job = exampleJob();
    set(path, value)(job);
    const cleaned = JSON.parse(JSON.stringify(job));
    expect(wrong("job", cleaned)).not.toEqual([]);
    expect(issuesOf(() => readJob(JSON.stringify(job), "job.json", { readText: () => "" }))).not.toEqual([]);
  });

  // biome-ignore format: one case a line
  test.each<[string, unknown]>([
    ["pieces[0].thickness", "2 1/4 in"], ["pieces[0].thickness", " 57 mm "], ["pieces[0].thickness", `8' 2 1/2"`],
    ["pieces[0].outline", { stations: [[0, "-1 in", 400], [900, 0, "40 cm"]] }],
    ["pieces[0].outline", { length: "1 m", width: "1 ft", at: [-5, 0] }], ["pieces[0].outline", { svg: "a.svg", id: "left" }],
    ["pieces[0].wood", [{ svg: "a.svg" }]], ["setups[0].keepOut", [{ outline: { svg: "a.svg" }, height: 9 }]],
    ["setups[0].passes.feed", "6 m/min"], ["setups[0].passes.entry", "air"], ["setups[0].target", { cleanUp: 0.9 }],
    ["shop", "shop.json"], ["name", undefined],
  ])("%s = %j is right", (path, value) => {
    const job = exampleJob();
    set(path, value)(job);
    expect(wrong("job", JSON.parse(JSON.stringify(job)))).toEqual([]);
  });

  test("every field says what it is", () => {
    const silent = SCHEMA_NAMES.flatMap((name) => undescribed(fileSchema(name), name));
    expect(silent).toEqual([]);
  });
});

test("the patterns of lengths and feeds match what is read as such, seed 20260603", () => {
  const piece = fc.constantFrom(
    ..."0 1 2 5 12 .5 2.25 1/2 5/4 3/0 mm cm m in ft ' \" / min s - + mm/min in/s e x".split(" "),
    " ",
    " ",
    "",
  );
  const text = fc.array(piece, { minLength: 1, maxLength: 6 }).map((pieces) => pieces.join(""));
  // "2 5/4 in" and "3/0 in" look right to a pattern.
  const fraction = (written: string) => /\d+ +\d+\/|\/0/.test(written);
  let lengths = 0;
  fc.assert(
    fc.property(text, (written) => {
      const mm = parseLength(written, "mm");
      if (mm !== null) lengths++;
      if (mm !== null || !fraction(written))
        expect(new RegExp(LENGTH_PATTERN, "u").test(written)).toBe(mm !== null);
      if (mm !== null) expect(new RegExp(SIZE_PATTERN, "u").test(written)).toBe(!written.includes("-"));
      expect(new RegExp(FEED_PATTERN, "u").test(written)).toBe(parseFeed(written, "mm") !== null);
    }),
    { seed: 20_260_603, numRuns: 20_000 },
  );
  expect(lengths).toBeGreaterThan(300);
});

/** Fields of a value that its schema does not name. */
function unknownFields(value: Loose, schema: Loose, at: string): string[] {
  if (Array.isArray(value))
    return value.flatMap((item, k) =>
      unknownFields(item, schema.items || schema.prefixItems?.[k] || {}, `${at}[]`),
    );
  if (typeof value !== "object" || value === null) return [];
  return Object.entries(value).flatMap(([name, inner]) => {
    const field = schema.properties?.[name];
    return field ? unknownFields(inner, field, `${at}.${name}`) : [`${at}.${name}`];
  });
}

/** Fields without a description. */
function undescribed(schema: Loose, at: string): string[] {
  const fields = Object.entries<Loose>(schema.properties ?? {});
  const below = [...(schema.anyOf ?? []), ...(schema.prefixItems ?? []), schema.items].filter(
    (one) => typeof one === "object",
  );
  return [
    ...fields.flatMap(([name, field]) => (field.description ? [] : [`${at}.${name}`])),
    ...fields.flatMap(([name, field]) => undescribed(field, `${at}.${name}`)),
    ...below.flatMap((one) => undescribed(one, `${at}[]`)),
  ];
}
