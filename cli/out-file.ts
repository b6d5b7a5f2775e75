// A result to stdout, or into a file that --out names: whole or not at all, first beside it, then in its place.

import { randomBytes } from "node:crypto";
import { lstatSync, readFileSync, realpathSync, renameSync, rmSync, statSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { inputError, reason } from "./files.ts";

/**
 * Writes to the file, or to stdout where none is named. What is there already is replaced if `mayReplace` its
 * content. Throws InputError where it cannot be written.
 */
export function writeOut(
  file: string | undefined,
  content: Uint8Array | string,
  mayReplace: (old: string) => boolean,
): void {
  if (file === undefined) {
    process.stdout.write(content);
    return;
  }
  try {
    writeWhole(file, content, mayReplace);
  } catch (error) {
    if (typeof (error as NodeJS.ErrnoException).syscall !== "string") throw error;
    const { code } = error as NodeJS.ErrnoException;
    // Whoever read the pipe has seen enough.
    if (code === "EPIPE") return;
    const why = code === "ENOENT" ? "there is no such folder" : reason(error);
    throw inputError(file, `cannot be written: ${why}`);
  }
}

function writeWhole(file: string, content: Uint8Array | string, mayReplace: (old: string) => boolean): void {
  const found = statSync(file, { throwIfNoEntry: false });
  if (found === undefined && lstatSync(file, { throwIfNoEntry: false }) !== undefined)
    throw inputError(file, "is a link that leads nowhere; name another file with --out");
  if (found?.isDirectory()) throw inputError(file, "is a folder, and --out wants a file");
  if (found && !found.isFile()) {
    // A pipe or a device has no content to keep, and nothing may take its place.
    writeFileSync(file, content);
    return;
  }
  if (found && !mayReplace(readFileSync(file, "latin1")))
    throw inputError(file, "is there already and holds something else; name another file with --out");
  const path = found ? realpathSync(file) : file;
  const fresh = join(dirname(path), `.slabtrue-${randomBytes(6).toString("hex")}`);
  try {
    writeFileSync(fresh, content, { flag: "wx" });
    renameSync(fresh, path);
  } finally {
    rmSync(fresh, { force: true });
  }
}
