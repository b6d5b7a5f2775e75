import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import type { Loose } from "../job/example.ts";
import { jobFolder, newFolder, slabtrue } from "./run.ts";

const TABLE = join(import.meta.dirname, "../../samples/river-table/job.json");

/** A leaf of 300 x 150, tilted, on an under face that was measured. */
function tilted(job: Loose): void {
  const grid = (above: number) => ({
    ...{ at: [0, 0], step: [100, 50] },
    rows: [0, 50, 100, 150].map((y) => [0, 100, 200, 300].map((x) => above + 0.01 * x + (y === 0 ? 0 : 2))),
  });
  Object.assign(job.pieces[0], { upper: { grid: grid(40) }, under: { grid: grid(0) } });
}

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

test("plan --seat best tells the shims everywhere: report, plan.json, program, sheet", async () => {
  const folder = jobFolder(tilted);
  const { status, stdout } = await slabtrue(folder, "plan", "job.json", "--seat", "best", "--out", "out");
  expect(status).toBe(0);
  expect(stdout).toContain("Shims under piece leaf");
  const { shims } = JSON.parse(readFileSync(join(folder, "out/plan.json"), "utf8"));
  expect(shims.length).toBeGreaterThan(0);
  expect(shims[0]).toMatchObject({ piece: "leaf", at: [expect.any(Number), expect.any(Number)] });
  expect(readFileSync(join(folder, "out/01-skim.nc"), "utf8").match(/^\(shim: /gm)).toHaveLength(
    shims.length,
  );
  expect(readFileSync(join(folder, "out/sheet.html"), "utf8")).toContain("<b>Shims</b>");
});

test("plan --seat best says which pieces it leaves as they lie", async () => {
  const { status, stderr } = await slabtrue(jobFolder(), "plan", "job.json", "--seat", "best");
  expect(status).toBe(0);
  expect(stderr).toBe("piece leaf is planned without shims: it was not measured\n");
  const turned = jobFolder((job) => {
    tilted(job);
    job.setups[0].face = "under";
  });
  const other = await slabtrue(turned, "plan", "job.json", "--seat", "best");
  expect(other.status).toBe(0);
  expect(other.stderr).toContain("turned over before its first cut");
  expect(other.stdout).not.toContain("Shims under");
});

test("a lay that is none is refused with what there is", async () => {
  const { status, stderr } = await slabtrue(newFolder(), "plan", TABLE, "--seat", "worst");
  expect(status).toBe(2);
  expect(stderr).toContain("best");
});

test("a job that is not there, and a picture over something else, are wrong input", async () => {
  const folder = jobFolder();
  expect(await slabtrue(folder, "survey", "none.json")).toMatchObject({ status: 2, stdout: "" });
  writeFileSync(join(folder, "notes.txt"), "mine");
  expect(await slabtrue(folder, "survey", "job.json", "--svg", "notes.txt")).toMatchObject({ status: 2 });
  expect(readFileSync(join(folder, "notes.txt"), "utf8")).toBe("mine");
});

test("a name that would act on the screen or the picture stays text", async () => {
  const folder = jobFolder((job) => {
    job.name = "table\u001b[2J";
    job.pieces[0].id = "leaf</text><script>";
  });
  const { status, stdout } = await slabtrue(folder, "survey", "job.json", "--svg", "a.svg");
  expect(status).toBe(0);
  expect(stdout).not.toContain("\u001b");
  const svg = readFileSync(join(folder, "a.svg"), "utf8");
  expect(svg).toContain("leaf&lt;/text&gt;&lt;script&gt;");
  expect(svg).not.toContain("<script");
});

test("programs planned on shims are checked and resumed on them", async () => {
  const folder = newFolder();
  const plan = join(folder, "plan");
  expect(await slabtrue(folder, "plan", TABLE, "--seat", "best", "--out", plan)).toMatchObject({ status: 0 });
  const skim = join(plan, "01-skim-upper.nc");
  const of = ["--job", TABLE, "--setup", "skim-upper"];
  expect(await slabtrue(folder, "check", skim, ...of, "--seat", "best")).toMatchObject({ status: 0 });
  // Without them the wood lies otherwise, and the program does not fit it.
  expect(await slabtrue(folder, "check", skim, ...of)).toMatchObject({ status: 3 });
  const rest = await slabtrue(folder, "resume", skim, ...of, "--after-line", "29", "--seat", "best");
  expect(rest).toMatchObject({ status: 0 });
  expect(rest.stdout).toMatch(/\nM30\n$/);
});
