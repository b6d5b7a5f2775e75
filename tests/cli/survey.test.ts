import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { newFolder, slabtrue } from "./run.ts";

const TABLE = join(import.meta.dirname, "../../samples/river-table/job.json");

test("survey prints a table, draws a picture, and gives JSON", async () => {
  const folder = newFolder();
  const picture = join(folder, "heights.svg");
  const told = await slabtrue(folder, "survey", TABLE, "--svg", picture);
  expect(told).toMatchObject({ status: 0, stderr: "" });
  expect(told.stdout).toMatch(/Piece left[\s\S]*Flatness[\s\S]*Clean-up[\s\S]*Piece right/);
  expect(readFileSync(picture, "utf8")).toMatch(/^<svg [\s\S]*<\/svg>\n$/);
  const { pieces } = JSON.parse((await slabtrue(folder, "survey", TABLE, "--json")).stdout);
  expect(pieces.map(({ id }: { id: string }) => id)).toEqual(["left", "right"]);
});

test("a lay that is none is refused with what there is", async () => {
  const { status, stderr } = await slabtrue(newFolder(), "plan", TABLE, "--seat", "worst");
  expect(status).toBe(2);
  expect(stderr).toContain("best");
});
