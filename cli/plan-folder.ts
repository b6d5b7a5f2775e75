// Writing a plan folder whole or not at all: first into a new folder beside it, which then takes its
// place. A plan folder of ours is replaced, unless someone changed its files by hand. A folder with anything
// else in it is left alone, or, with `force`, keeps what is not ours. Whatever happens, the old plan or the new
// one is there: between two renames, and when the process dies just then, the old one beside its place.

import { createHash, randomBytes } from "node:crypto";
import {
  existsSync,
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

/** Throws InputError where a plan may not be written to `folder`. Puts back what a run that died left beside it. */
export function checkPlanFolder(folder: string, force: boolean): void {
  if (folder === "") throw inputError("command line", "--out: found an empty text; wanted a folder");
  inPlainWords(folder, () => {
    tidy(existsSync(folder) ? realpathSync(folder) : resolve(folder));
    whatIsThere(folder, force);
  });
}

/** What plan.json says of the files beside it, so that changes by hand are noticed. */
export function fingerprints(files: ReadonlyMap<string, Uint8Array | string>): Record<string, string> {
  return Object.fromEntries(Array.from(files, ([name, content]) => [name, fingerprint(content)]));
}

/** Writes files, by name, as the plan folder. Throws InputError where that cannot be. */
export function writePlanFolder(
  folder: string,
  files: ReadonlyMap<string, Uint8Array | string>,
  force: boolean,
): void {
  inPlainWords(folder, () => {
    const { path } = whatIsThere(folder, force);
    makeFolder(dirname(path));
    const fresh = beside(path, "new");
    try {
      mkdirSync(fresh);
      for (const [name, content] of files) {
        assert(name !== "" && name === basename(name), `a file of the plan is named "${name}"`);
        writeFileSync(join(fresh, name), content, { flush: true });
      }
      putInPlace(folder, fresh, force);
    } finally {
      rmSync(fresh, { recursive: true, force: true });
    }
  });
}

/** Makes a folder and those above it that are missing. (Node's own way hangs where the system refuses, as in /proc.) */
function makeFolder(path: string): void {
  if (statSync(path, { throwIfNoEntry: false })?.isDirectory()) return;
  if (dirname(path) !== path) makeFolder(dirname(path));
  try {
    mkdirSync(path);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    // Another run may have made it just now.
    if (code === "EEXIST" && statSync(path, { throwIfNoEntry: false })?.isDirectory()) return;
    if (code === "ENOENT") throw inputError(path, "the system does not let a folder be made there");
    throw error;
  }
}

/** So often others may come in between. */
const TRIES_MAX = 20;

/** Puts the folder `fresh` where `folder` is or will be; what the old one holds that is not ours moves over. */
function putInPlace(folder: string, fresh: string, force: boolean): void {
  const away: { old: string; kept: readonly string[] }[] = [];
  for (let tries = 1; ; tries++) {
    const { path, exists, kept } = whatIsThere(folder, force);
    try {
      if (exists) {
        const old = beside(path, "old");
        renameSync(path, old);
        away.push({ old, kept });
      }
      renameSync(fresh, path);
      for (const { old, kept } of away) clear(old, kept, path);
      return;
    } catch (error) {
      // Another run has moved the folder away, or put its own there.
      const { code } = error as NodeJS.ErrnoException;
      if (["ENOENT", "ENOTEMPTY", "EEXIST"].includes(code ?? "") && tries < TRIES_MAX) continue;
      const last = away.at(-1);
      if (last !== undefined && !existsSync(path)) renameSync(last.old, path);
      throw error;
    }
  }
}

/** Moves what is to be kept of the old folder over to the new one, and removes the rest. */
function clear(old: string, kept: readonly string[], path: string): void {
  try {
    for (const name of kept) if (!existsSync(join(path, name))) renameSync(join(old, name), join(path, name));
    rmSync(old, { recursive: true });
  } catch (error) {
    throw inputError(
      old,
      `the new plan is in its place, but this, left of the old one, cannot be cleared: ${reason(error)}`,
    );
  }
}

/** Puts right what runs that died have left beside `path`: an old plan without its place goes back, the rest goes. */
function tidy(path: string): void {
  const folder = dirname(path);
  if (!existsSync(folder)) return;
  for (const name of readdirSync(folder)) {
    const [, what, pid] = ASIDE.exec(name.slice(basename(path).length)) ?? [];
    if (pid === undefined || !name.startsWith(basename(path)) || isRunning(Number(pid))) continue;
    const aside = join(folder, name);
    if (what === "new") rmSync(aside, { recursive: true, force: true });
    else if (!existsSync(path)) renameSync(aside, path);
    else clear(aside, notOurs(aside).kept, path);
  }
}

function isRunning(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code !== "ESRCH";
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
  const { kept, changed } = notOurs(path);
  if (kept.length > 0 && !force) {
    const told = kept.slice(0, 3).join(", ") + (kept.length > 3 ? ", ..." : "");
    throw inputError(
      folder,
      `holds what no plan put there (${told}); name another folder with --out, or add --force to write beside it`,
    );
  }
  if (changed.length > 0 && !force)
    throw inputError(
      join(folder, changed[0]),
      "was changed by hand since it was planned; move it to another folder, or add --force to write over it",
    );
  return { path, exists: true, kept };
}

/** What is in a folder and not of a plan of ours, and what of it was changed since. */
function notOurs(path: string): { readonly kept: readonly string[]; readonly changed: readonly string[] } {
  const { ours, fingerprintOf } = contentsOf(join(path, PLAN_FILE));
  const names = readdirSync(path);
  const isChanged = (name: string) => {
    const known = ours.has(name) ? fingerprintOf.get(name) : undefined;
    return known !== undefined && known !== fingerprint(readFileSync(join(path, name)));
  };
  return { kept: names.filter((name) => !ours.has(name)), changed: names.filter(isChanged) };
}

interface Contents {
  /** Names of the files that a plan put into its folder. */
  readonly ours: ReadonlySet<string>;
  readonly fingerprintOf: ReadonlyMap<string, string>;
}

/** What a plan.json says of its folder; nothing where it is no plan of ours. */
function contentsOf(file: string): Contents {
  try {
    const plan = JSON.parse(readFileSync(file, "utf8"));
    if (plan.format !== PLAN_FORMAT) throw new Error("another format");
    const programs: { file: string }[] = plan.setups.flatMap(
      (setup: { programs: object[] }) => setup.programs,
    );
    return {
      ours: new Set([PLAN_FILE, SHEET_FILE, PREVIEW_FILE, ...programs.map((program) => program.file)]),
      fingerprintOf: new Map(Object.entries(plan.files ?? {})),
    };
  } catch {
    return { ours: new Set(), fingerprintOf: new Map() };
  }
}

function fingerprint(content: Uint8Array | string): string {
  return createHash("sha256").update(content).digest("hex");
}

/** What follows the folder's own name in names of folders that stand aside, and whose run made them. */
const ASIDE = /^\.(new|old)-(\d+)-[0-9a-f]{8}$/;

/** A name beside `path` that nothing has, on the same disk, so that it can take its place. */
function beside(path: string, what: "new" | "old"): string {
  return join(dirname(path), `${basename(path)}.${what}-${process.pid}-${randomBytes(4).toString("hex")}`);
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
