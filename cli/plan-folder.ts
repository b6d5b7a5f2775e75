// Writing a plan folder whole or not at all: first into a new folder beside it, which then takes its
// place. A plan folder of ours is replaced. A folder with anything else in it is left alone, or, with
// `force`, keeps what is not ours. Whatever happens, the old plan or the new one is there.

import { randomBytes } from "node:crypto";
import {
  lstatSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  realpathSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from "node:fs";
import { basename, dirname, join, resolve, sep } from "node:path";
import { PLAN_FORMAT } from "../src/document.ts";
import { assert } from "../src/errors.ts";
import { inputError, reason } from "./files.ts";
import { PREVIEW_FILE } from "./page.ts";

export const PLAN_FILE = "plan.json";
export const SHEET_FILE = "sheet.html";

/** Throws InputError where a plan may not be written to `folder`. Writes nothing. */
export function checkPlanFolder(folder: string, force: boolean): void {
  inPlainWords(folder, () => whatIsThere(folder, force));
}

/** Writes files, by name, as the plan folder. Throws InputError where that cannot be. */
export function writePlanFolder(
  folder: string,
  files: ReadonlyMap<string, Uint8Array | string>,
  force: boolean,
): void {
  inPlainWords(folder, () => {
    const { path, exists, kept } = whatIsThere(folder, force);
    makeFolder(dirname(path));
    const fresh = beside(path);
    try {
      mkdirSync(fresh);
      for (const [name, content] of files) {
        assert(name !== "" && name === basename(name), `a file of the plan is named "${name}"`);
        writeFileSync(join(fresh, name), content);
      }
      if (!exists) renameSync(fresh, path);
      else
        replace(
          path,
          fresh,
          kept.filter((name) => !files.has(name)),
        );
    } finally {
      rmSync(fresh, { recursive: true, force: true });
    }
  });
}

/** Makes a folder and those above it that are missing. (Node's own way hangs where the system refuses, as in /proc.) */
function makeFolder(path: string): void {
  if (statSync(path, { throwIfNoEntry: false })?.isDirectory()) return;
  if (dirname(path) !== path) makeFolder(dirname(path));
  mkdirSync(path);
}

/** Puts the folder `fresh` in the place of the folder `path`, with the entries of the old one named in `kept`. */
function replace(path: string, fresh: string, kept: readonly string[]): void {
  const old = beside(path);
  renameSync(path, old);
  try {
    renameSync(fresh, path);
  } catch (error) {
    renameSync(old, path);
    throw error;
  }
  try {
    for (const name of kept) renameSync(join(old, name), join(path, name));
    rmSync(old, { recursive: true });
  } catch (error) {
    throw inputError(
      old,
      `the new plan is in its place, but this, left of the old one, cannot be cleared: ${reason(error)}`,
    );
  }
}

interface Found {
  readonly path: string;
  readonly exists: boolean;
  /** What is in the folder and not of a plan of ours. */
  readonly kept: readonly string[];
}

function whatIsThere(folder: string, force: boolean): Found {
  const found = statSync(folder, { throwIfNoEntry: false });
  if (found === undefined && lstatSync(folder, { throwIfNoEntry: false }) !== undefined)
    throw inputError(folder, "is a link that leads nowhere; name another folder with --out");
  if (found === undefined) return { path: resolve(folder), exists: false, kept: [] };
  if (!found.isDirectory()) throw inputError(folder, "is a file, and --out wants a folder; name another");
  const path = realpathSync(folder);
  if (`${process.cwd()}${sep}`.startsWith(path.endsWith(sep) ? path : `${path}${sep}`))
    throw inputError(folder, "is the folder you are in, or holds it; name a folder of its own with --out");
  const ours = namesInPlan(join(path, PLAN_FILE));
  const kept = readdirSync(path).filter((name) => !ours.has(name));
  if (kept.length > 0 && !force) {
    const names = kept.slice(0, 3).join(", ") + (kept.length > 3 ? ", ..." : "");
    throw inputError(
      folder,
      `holds what no plan put there (${names}); name another folder with --out, or add --force to write beside it`,
    );
  }
  return { path, exists: true, kept };
}

/** Names of the files that a plan put into its folder; none where there is no plan of ours. */
function namesInPlan(file: string): ReadonlySet<string> {
  try {
    const plan = JSON.parse(readFileSync(file, "utf8"));
    if (plan.format !== PLAN_FORMAT) return new Set();
    const programs: { file: string }[] = plan.setups.flatMap(
      (setup: { programs: object[] }) => setup.programs,
    );
    return new Set([PLAN_FILE, SHEET_FILE, PREVIEW_FILE, ...programs.map((program) => program.file)]);
  } catch {
    return new Set();
  }
}

/** A name beside `path` that nothing has, on the same disk, so that it can take its place. */
function beside(path: string): string {
  return join(dirname(path), `.slabtrue-${randomBytes(6).toString("hex")}`);
}

/** Errors of the file system as input errors about the folder. */
function inPlainWords(folder: string, act: () => void): void {
  try {
    act();
  } catch (error) {
    if (typeof (error as NodeJS.ErrnoException).syscall !== "string") throw error;
    throw inputError(folder, `the plan cannot be written there: ${reason(error)}`);
  }
}
