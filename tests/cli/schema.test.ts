// `slabtrue schema`: what it prints, and what it says when asked for something else.

import { Ajv2020 } from "ajv/dist/2020.js";
import { expect, test } from "vitest";
import { exampleJob, exampleShop } from "../job/example.ts";
import { newFolder, slabtrue } from "./run.ts";

test.concurrent("help ends with an example", async () => {
  const { status, stdout } = await slabtrue(newFolder(), "schema", "--help");
  expect(status).toBe(0);
  expect(stdout.trimEnd().split("\n").slice(-2)).toEqual([
    "Example:",
    "  slabtrue schema job > job.schema.json",
  ]);
});

test.concurrent.each(["job", "shop", "plan"])("schema %s prints one JSON Schema", async (kind) => {
  const { status, stdout, stderr } = await slabtrue(newFolder(), "schema", kind);
  expect([status, stderr]).toEqual([0, ""]);
  const schema = JSON.parse(stdout);
  expect(schema.$schema).toBe("https://json-schema.org/draft/2020-12/schema");
  const validate = new Ajv2020({ strict: false }).compile(schema);
  expect(validate(exampleJob())).toBe(kind === "job");
  expect(validate(exampleShop())).toBe(kind === "shop");
});

test.concurrent("any other kind, or none, is refused with what there is", async () => {
  const [other, none] = await Promise.all([
    slabtrue(newFolder(), "schema", "quote"),
    slabtrue(newFolder(), "schema"),
  ]);
  expect([other.status, none.status, other.stdout]).toEqual([2, 2, ""]);
  expect(other.stderr).toContain("'quote' is invalid");
  expect(other.stderr).toContain("job, shop, plan");
  expect(none.stderr).toContain("missing required argument 'file'");
});
