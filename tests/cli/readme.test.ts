// The README promises that its job file works as it stands.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { readJob } from "../../src/job/read.ts";
import { planJob } from "../../src/plan.ts";

const root = join(import.meta.dirname, "../..");

test("the README's job file plans, without a warning", () => {
  const [, text] = /```jsonc\n(.*?)```/s.exec(readFileSync(join(root, "README.md"), "utf8")) ?? [];
  const job = readJob(text, "README.md", { readText: (path) => readFileSync(join(root, path), "utf8") });
  const [flatten] = planJob(job).setups;
  expect(flatten.proof.ok).toBe(true);
  expect(flatten.warnings).toEqual([]);
});
