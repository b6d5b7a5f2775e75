// What happens to the plan folder when a run is killed, the disk is full or read-only, two runs meet, or someone
// has changed a program by hand: the old plan or the new one is there, whole, and a line says what to do.

import { spawn, spawnSync } from "node:child_process";
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { build } from "vite";
import { afterAll, expect, test } from "vitest";
import { checkPlanFolder, fingerprints, PLAN_FILE, writePlanFolder } from "../../cli/plan-folder.ts";
import { Dice } from "../oracles/random-jobs.ts";
import { jobFolder, newFolder, slabtrue } from "./run.ts";
import { planFiles } from "./write-forever.ts";

/** Whether a folder holds a whole plan: every file is as plan.json says. */
function isWhole(folder: string): boolean {
  const plan = JSON.parse(readFileSync(join(folder, PLAN_FILE), "utf8"));
  const names = Object.keys(plan.files);
  const found = fingerprints(new Map(names.map((name) => [name, readFileSync(join(folder, name))])));
  return names.length > 0 && names.every((name) => found[name] === plan.files[name]);
}

test("two runs killed at any moment, 15 times, seed 5: a whole plan is there, and what the user put beside it", async () => {
  const folder = newFolder();
  const built = join(newFolder(), "built");
  await build({
    configFile: join(import.meta.dirname, "../../cli/vite.config.ts"),
    logLevel: "silent",
    build: {
      ssr: join(import.meta.dirname, "write-forever.ts"),
      outDir: built,
      rolldownOptions: { output: { entryFileNames: "write-forever.mjs", banner: "" } },
    },
  });
  const out = join(folder, "plan");
  writePlanFolder(out, planFiles("first"), false);
  writeFileSync(join(out, "photo.jpg"), "mine");
  const dice = new Dice(5);
  for (let n = 0; n < 15; n++) {
    const runs = ["a", "b"].map((label) =>
      spawn(process.execPath, [join(built, "write-forever.mjs"), out, `${label}${n}`], {
        stdio: ["ignore", "pipe", "ignore"],
      }),
    );
    // A run that the other one gets in the way of says so and ends by itself: nobody may wait for it then.
    const ends = runs.map((run) => new Promise((done) => run.on("exit", done)));
    for (const [k, run] of runs.entries()) {
      const ended = ends[k];
      await Promise.race([ended, new Promise((done) => run.stdout.once("data", done))]);
      await new Promise((done) => setTimeout(done, dice.between(0, 40)));
      run.kill("SIGKILL");
      await ended;
    }
    // Where the old plan waits beside, the next run puts it back.
    if (!existsSync(out)) expect(readdirSync(folder).some((name) => /^plan\.old-/.test(name))).toBe(true);
    checkPlanFolder(out, true);
    expect(isWhole(out)).toBe(true);
    expect(readFileSync(join(out, "photo.jpg"), "utf8")).toBe("mine");
    expect(readdirSync(folder)).toEqual(["plan"]);
  }
}, 120_000);

test("when a run died between moving the old plan away and the new one in, the next one puts the old back", () => {
  const folder = newFolder();
  const out = join(folder, "plan");
  const dead = spawnSync(process.execPath, ["-e", ""]).pid;
  writePlanFolder(out, planFiles("old"), false);
  renameSync(out, join(folder, `plan.old-${dead}-0123abcd`));
  mkdirSync(join(folder, `plan.new-${dead}-0123abcd`));
  mkdirSync(join(folder, `plan.new-${process.pid}-0123abcd`));
  mkdirSync(join(folder, "plan.new-and-better"));
  checkPlanFolder(out, false);
  expect(isWhole(out)).toBe(true);
  // Those of a run that is alive, and those that are not ours, stay.
  const alive = `plan.new-${process.pid}-0123abcd`;
  expect(readdirSync(folder).sort()).toEqual(["plan", "plan.new-and-better", alive].sort());
});

test("when a run died after the new plan came in, what the old one held of the user's goes over to it", () => {
  const folder = newFolder();
  const out = join(folder, "plan");
  const dead = spawnSync(process.execPath, ["-e", ""]).pid;
  writePlanFolder(out, planFiles("old"), false);
  writeFileSync(join(out, "photo.jpg"), "");
  renameSync(out, join(folder, `plan.old-${dead}-0123abcd`));
  writePlanFolder(out, planFiles("new"), false);
  checkPlanFolder(out, true);
  expect(readdirSync(folder)).toEqual(["plan"]);
  expect(readdirSync(out).sort()).toEqual(["0.nc", "photo.jpg", PLAN_FILE].sort());
  expect(readFileSync(join(out, "0.nc"), "utf8")).toBe("new");
});

test("four runs at once on one folder: each says it is done, and the folder holds one of the plans", async () => {
  const folder = jobFolder();
  const runs = await Promise.all(
    Array.from({ length: 4 }, () => slabtrue(folder, "plan", "job.json", "--out", "plan")),
  );
  expect(runs.map(({ status }) => status)).toEqual([0, 0, 0, 0]);
  expect(readdirSync(folder).sort()).toEqual(["job.json", "plan"]);
  expect(isWhole(join(folder, "plan"))).toBe(true);
}, 120_000);

test("when a program was changed by hand then it is not overwritten, unless with --force", async () => {
  const folder = jobFolder();
  await slabtrue(folder, "plan", "job.json");
  const program = join(folder, "job-plan", "01-skim.nc");
  const byHand = readFileSync(program, "utf8").replace("S14000", "S12000");
  writeFileSync(program, byHand);
  const refused = await slabtrue(folder, "plan", "job.json");
  expect(refused.status).toBe(2);
  expect(refused.stderr).toMatch(
    /^job-plan.01-skim\.nc: was changed by hand since it was planned; .*--force/,
  );
  expect(readFileSync(program, "utf8")).toBe(byHand);
  expect((await slabtrue(folder, "plan", "job.json", "--force")).status).toBe(0);
  expect(readFileSync(program, "utf8")).toContain("S14000");
  expect(isWhole(join(folder, "job-plan"))).toBe(true);
}, 120_000);

test("when --out is empty, or where no folder can be, then one line says so", async () => {
  const folder = jobFolder();
  const empty = await slabtrue(folder, "plan", "job.json", "--out", "");
  expect(empty).toMatchObject({
    status: 2,
    stderr: "command line: --out: found an empty text; wanted a folder\n",
  });
  if (process.platform !== "linux") return;
  const refused = await slabtrue(folder, "plan", "job.json", "--out", "/proc/plans/table");
  expect(refused.status).toBe(2);
  expect(refused.stderr).toBe("/proc/plans: the system does not let a folder be made there\n");
}, 60_000);

// A disk of 96 kB of its own: only root may mount one.
const disk = newFolder();
const mounted =
  process.platform === "linux" &&
  process.getuid?.() === 0 &&
  spawnSync("mount", ["-t", "tmpfs", "-o", "size=96k", "tmpfs", disk]).status === 0;
afterAll(() => {
  if (mounted) spawnSync("umount", [disk]);
});

test.skipIf(!mounted)(
  "when the disk is full or read-only (needs root, to mount one) then the old plan stays",
  () => {
    const out = join(disk, "plan");
    writePlanFolder(out, planFiles("old"), false);
    const large = planFiles("G1 X1\n".repeat(40_000));
    expect(() => writePlanFolder(out, large, false)).toThrow(
      "the plan cannot be written there: the disk is full",
    );
    expect(readdirSync(disk)).toEqual(["plan"]);
    expect(isWhole(out)).toBe(true);
    expect(spawnSync("mount", ["-o", "remount,ro", disk]).status).toBe(0);
    expect(() => writePlanFolder(out, planFiles("new"), false)).toThrow("the disk is read-only");
    expect(readdirSync(disk)).toEqual(["plan"]);
    expect(readFileSync(join(out, "0.nc"), "utf8")).toBe("old");
  },
);
