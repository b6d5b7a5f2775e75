// `slabtrue preview`, and the page in the plan folder: where it goes, what it holds, what it leaves alone.

import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { jobFolder, slabtrue } from "./run.ts";

/** The data block of that id. */
function block(html: string, id: string): string {
  return html.split(`id="${id}">`)[1].split("</script>")[0];
}

test("a page beside the job, as in the plan folder", async () => {
  const folder = jobFolder();
  expect((await slabtrue(folder, "preview", "job.json")).status).toBe(0);
  expect((await slabtrue(folder, "plan", "job.json", "--out", "plan")).status).toBe(0);
  const page = readFileSync(join(folder, "job-preview.html"), "utf8");
  expect(readFileSync(join(folder, "plan/preview.html"), "utf8")).toBe(page);
  const { scene } = JSON.parse(block(page, "slabtrue-plan"));
  expect(scene.job).toBe("Bench for the boathouse");
});

test("no name can end a data block or begin another", async () => {
  const name = '</script><script>alert(1)</script><!-- $& \u2028 & "';
  const folder = jobFolder((job) => {
    job.name = name;
  });
  expect((await slabtrue(folder, "preview", "job.json")).status).toBe(0);
  const page = readFileSync(join(folder, "job-preview.html"), "utf8");
  const empty = readFileSync(join(import.meta.dirname, "../../dist/preview.html"), "utf8");
  const count = (html: string) => html.split(/<\/?script|<!--/).length;
  expect(count(page)).toBe(count(empty));
  expect(page).not.toContain("alert(1)</");
  expect(JSON.parse(block(page, "slabtrue-plan")).scene.job).toBe(name);
});

test("a page of ours is replaced, anything else is left alone", async () => {
  const folder = jobFolder();
  writeFileSync(join(folder, "mine.html"), "<p>my own page</p>");
  const refused = await slabtrue(folder, "preview", "job.json", "--out", "mine.html");
  expect([refused.status, refused.stderr]).toEqual([
    2,
    "mine.html: is there already and holds something else; name another file with --out\n",
  ]);
  expect(readFileSync(join(folder, "mine.html"), "utf8")).toBe("<p>my own page</p>");
  for (const _ of [1, 2])
    expect((await slabtrue(folder, "preview", "job.json", "--out", "ours.html")).status).toBe(0);
});

test("the page knows nothing of where the job lay", async () => {
  const folder = jobFolder();
  expect((await slabtrue("/", "preview", join(folder, "job.json"))).status).toBe(0);
  const page = readFileSync(join(folder, "job-preview.html"), "utf8");
  expect(page).not.toContain(folder);
  const { source } = JSON.parse(block(page, "slabtrue-plan"));
  expect([source.jobFile, Object.keys(source.files)]).toEqual(["job.json", ["job.json"]]);
});
