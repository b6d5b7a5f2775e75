// The plan folder's behaviour where a whole run would be slow or the fault hard to bring about.

import { existsSync, mkdirSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { PLAN_FILE, writePlanFolder } from "../../cli/plan-folder.ts";
import { InputError } from "../../src/errors.ts";
import { newFolder } from "./run.ts";

const planOf = (...programs: string[]) =>
  JSON.stringify({ format: "slabtrue-plan/1", setups: [{ programs: programs.map((file) => ({ file })) }] });
const files = (...programs: string[]) =>
  new Map([...programs.map((file) => [file, `(${file})`] as const), [PLAN_FILE, planOf(...programs)]]);

test("when writing fails half-way then nothing is left of the new plan and the old one stands", () => {
  const folder = newFolder();
  const out = join(folder, "plan");
  writePlanFolder(out, files("01-a.nc"), false);
  const tooLong = `${"b".repeat(300)}.nc`;
  expect(() => writePlanFolder(out, files("01-b.nc", tooLong), false)).toThrow("its name is too long");
  expect(readdirSync(folder)).toEqual(["plan"]);
  expect(readdirSync(out)).toEqual(["01-a.nc", PLAN_FILE]);
});

test("when a program of ours was joined by a file of the user's then the folder is no longer only ours", () => {
  const out = join(newFolder(), "plan");
  writePlanFolder(out, files("01-a.nc"), false);
  writeFileSync(join(out, "photo.jpg"), "");
  expect(() => writePlanFolder(out, files("01-a.nc"), false)).toThrow(InputError);
  writePlanFolder(out, files("01-b.nc"), true);
  expect(readdirSync(out).sort()).toEqual(["01-b.nc", "photo.jpg", PLAN_FILE]);
});

test("when plan.json is not ours then the folder is not ours", () => {
  const out = newFolder();
  for (const other of ["{}", "no JSON", '{"format": "slabtrue-plan/1"}', "null"]) {
    writeFileSync(join(out, PLAN_FILE), other);
    expect(() => writePlanFolder(out, files("01-a.nc"), false)).toThrow(/holds what no plan put there/);
    expect(readFileSync(join(out, PLAN_FILE), "utf8")).toBe(other);
  }
});

test("when a plan.json names files elsewhere then they are not touched", () => {
  const folder = newFolder();
  const out = join(folder, "plan");
  mkdirSync(out);
  writeFileSync(join(folder, "job.json"), "{}");
  writeFileSync(join(out, PLAN_FILE), planOf("../job.json"));
  writePlanFolder(out, files("01-a.nc"), false);
  expect(readdirSync(folder).sort()).toEqual(["job.json", "plan"]);
});

test("when the folder is empty, or a link to a folder, then it is used", () => {
  const folder = newFolder();
  mkdirSync(join(folder, "real"));
  symlinkSync("real", join(folder, "link"));
  writePlanFolder(join(folder, "link"), files("01-a.nc"), false);
  expect(readdirSync(join(folder, "real"))).toEqual(["01-a.nc", PLAN_FILE]);
});

test("when the folder is a file, leads nowhere, lies under a file, or holds us then one line says so", () => {
  const folder = newFolder();
  writeFileSync(join(folder, "file"), "");
  symlinkSync("nowhere", join(folder, "link"));
  const write = (out: string) => () => writePlanFolder(out, files("01-a.nc"), true);
  expect(write(join(folder, "file"))).toThrow("is a file, and --out wants a folder");
  expect(write(join(folder, "link"))).toThrow("is a link that leads nowhere");
  expect(write(join(folder, "file", "plan"))).toThrow("a part of its path is a file");
  expect(write(process.cwd())).toThrow("is the folder you are in, or holds it");
  expect(existsSync(join(folder, "nowhere"))).toBe(false);
});
