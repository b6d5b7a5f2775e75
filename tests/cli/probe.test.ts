import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import type { Loose } from "../job/example.ts";
import { jobFolder, newFolder, slabtrue, writeJob } from "./run.ts";

const withProbe = (job: Loose) => {
  job.shop.probe = { radius: 2, feed: 200, logStart: ["(RECORD ON)"], logEnd: ["(RECORD OFF)"] };
};
const content = (folder: string, file: string) => readFileSync(join(folder, file), "utf8");

test.concurrent("help ends with an example", async () => {
  const { status, stdout } = await slabtrue(newFolder(), "probe", "--help");
  expect(status).toBe(0);
  expect(stdout.trimEnd().split("\n").slice(-2)).toEqual([
    "Example:",
    expect.stringMatching(/^ {2}slabtrue probe \S+/),
  ]);
});

test.concurrent("the program goes to stdout, what to do with it to stderr", async () => {
  const folder = jobFolder((job) => {
    withProbe(job);
    job.setups[0].zero = { x: 10, y: 20 };
  });
  const run = await slabtrue(folder, "probe", "job.json", "--spacing", "60");
  expect(run.status).toBe(0);
  expect(run.stdout).toMatch(/\nG38\.2 Z0\.000 F200\n/);
  expect(run.stdout).toMatch(/\n\(RECORD OFF\)\nM30\n$/);
  const touches = run.stdout.match(/G38\.2/g)?.length ?? 0;
  const said = run.stderr.replace(/\n/g, " ");
  expect(said).toContain(`${touches - 1} touches on leaf, at most 60 mm apart`);
  expect(said).toContain("Z0 on top of the bed");
  expect(said).toContain("first touch is on the bare bed");
  expect(said).toContain('"# shift: 10 mm, 20 mm"');
});

test.concurrent("with --out the same is in the file and nothing on stdout; a program there is replaced", async () => {
  const folder = jobFolder(withProbe);
  const direct = await slabtrue(folder, "probe", "job.json");
  const first = await slabtrue(folder, "probe", "job.json", "--out", "probe.nc");
  const again = await slabtrue(folder, "probe", "job.json", "--out", "probe.nc");
  expect([first.status, again.status, first.stdout]).toEqual([0, 0, ""]);
  expect(content(folder, "probe.nc")).toBe(direct.stdout);
  expect(readdirSync(folder).sort()).toEqual(["job.json", "probe.nc"]);
});

test.concurrent("--out does not write over readings, the job, a folder, or where there is none", async () => {
  const folder = jobFolder(withProbe);
  mkdirSync(join(folder, "sub"));
  const job = content(folder, "job.json");
  writeFileSync(join(folder, "read.csv"), "x,y,z\n1,2,40.5\n");
  const runs = await Promise.all([
    slabtrue(folder, "probe", "job.json", "--by-hand", "--out", "read.csv"),
    slabtrue(folder, "probe", "job.json", "--out", "job.json"),
    slabtrue(folder, "probe", "job.json", "--out", "sub"),
    slabtrue(folder, "probe", "job.json", "--out", "none/probe.nc"),
  ]);
  expect(runs.map(({ status, stdout }) => [status, stdout])).toEqual(Array(4).fill([2, ""]));
  expect(runs[0].stderr).toContain("read.csv: is there already and holds something else");
  expect(runs[2].stderr).toContain("sub: is a folder");
  expect(runs[3].stderr).toContain("there is no such folder");
  expect(content(folder, "read.csv")).toBe("x,y,z\n1,2,40.5\n");
  expect(content(folder, "job.json")).toBe(job);
  expect(readdirSync(folder).sort()).toEqual(["job.json", "read.csv", "sub"]);
});

test.concurrent("a list filled in by hand plans the job that names it", async () => {
  const folder = jobFolder();
  const list = await slabtrue(folder, "probe", "job.json", "--by-hand", "--out", "leaf.csv");
  expect(list.status).toBe(0);
  expect(list.stderr.replace(/\s+/g, " ")).toMatch(
    /^Written to leaf\.csv\. \d+ places to read by hand\. .* in piece "leaf": "upper": \{ "file": "leaf\.csv" \}\./,
  );
  expect(content(folder, "leaf.csv")).toContain('"upper": { "file": "leaf.csv" }');
  const filled = content(folder, "leaf.csv").replace(/^([\d.]+),([\d.]+),$/gm, "$1,$2,41.5");
  writeFileSync(join(folder, "leaf.csv"), filled);
  writeJob(folder, (job) => {
    job.pieces[0].upper = { file: "leaf.csv" };
  });
  const plan = await slabtrue(folder, "plan", "job.json", "--out", "plan", "--json");
  expect(plan.status).toBe(0);
  expect(JSON.parse(plan.stdout).setups[0].floor).toBe(38.5);
});

test.concurrent("a list of two pieces, named as the job's folder sees it, gives each its own", async () => {
  const folder = jobFolder((job) => {
    job.pieces.push({ ...job.pieces[0], id: "leaf 2", outline: { length: 300, width: 150, at: [0, 200] } });
  });
  const sub = join(folder, "lists");
  mkdirSync(sub);
  const list = await slabtrue(sub, "probe", "../job.json", "--by-hand", "--out", "both.csv");
  expect(list.stderr.replace(/\s+/g, " ")).toContain(
    'in each of the pieces "leaf" and "leaf 2": "upper": { "file": "lists/both.csv" }',
  );
  const filled = content(sub, "both.csv").replace(
    /^([\d.]+),([\d.]+),$/gm,
    (_, x, y) => `${x},${y},${Number(y) > 175 ? 38 : 41.5}`,
  );
  writeFileSync(join(sub, "both.csv"), `${filled}700,20,30\n`);
  writeJob(folder, (job) => {
    job.pieces.push({ ...job.pieces[0], id: "leaf 2", outline: { length: 300, width: 150, at: [0, 200] } });
    for (const piece of job.pieces) piece.upper = { file: "lists/both.csv" };
  });
  const survey = await slabtrue(folder, "survey", "job.json", "--json");
  expect(survey.status).toBe(0);
  expect(JSON.parse(survey.stdout).pieces.map(({ flatness }: Loose) => flatness)).toEqual([0, 0]);
  const line = filled.split("\n").length;
  expect(survey.stderr.replace(/\s+/g, " ")).toContain(`and was left out: line ${line} (700, 20) mm`);
});

test.concurrent("without a probe the shop's missing field is named; by hand needs none", async () => {
  const folder = jobFolder();
  const run = await slabtrue(folder, "probe", "job.json");
  expect(run).toMatchObject({ status: 2, stdout: "" });
  expect(run.stderr).toMatch(/^job\.json: its shop has no touch probe; add "probe": .* --by-hand\n$/);
  expect((await slabtrue(folder, "probe", "job.json", "--by-hand")).status).toBe(0);
});

test.concurrent("the shop's lines for recording are read by our own reader, and refused by their place", async () => {
  const folder = jobFolder((job) => {
    job.shop.probe = { radius: 2, feed: 200, logStart: ["(ok)", "G28"], logEnd: ["(not closed"] };
  });
  const { status, stderr } = await slabtrue(folder, "probe", "job.json");
  expect(status).toBe(2);
  expect(stderr).toMatch(/^job\.json:\d+:\d+: shop\.probe\.logStart\[1\]: .*G28/m);
  expect(stderr).toMatch(/^job\.json:\d+:\d+: shop\.probe\.logEnd\[0\]: .*comment/m);
});

test.concurrent("options that make no sense are told", async () => {
  const folder = jobFolder(withProbe);
  const runs = await Promise.all(
    [
      ["--spacing", "wide"],
      ["--spacing", "-3"],
      ["--spacing", "0"],
      ["--spacing", "50", "--by-hand"],
    ].map((options) => slabtrue(folder, "probe", "job.json", ...options)),
  );
  expect(runs.map(({ status, stdout }) => [status, stdout])).toEqual(Array(4).fill([2, ""]));
  expect(runs[0].stderr).toContain('--spacing: found "wide"; wanted a length above 0');
});

test.concurrent("a piece that the machine cannot reach is exit 3 with both lengths", async () => {
  const folder = jobFolder((job) => {
    withProbe(job);
    job.shop.machine.travel.x = 200;
  });
  const { status, stdout, stderr } = await slabtrue(folder, "probe", "job.json");
  expect([status, stdout]).toEqual([3, ""]);
  expect(stderr.replace(/\n/g, " ")).toMatch(/291\.96 mm apart along X.* travels 200 mm/);
});
