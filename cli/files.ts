// Reading what the user names, and saying plainly why it cannot be read or written.

import { closeSync, openSync, readFileSync, readSync, statSync } from "node:fs";
import { basename, relative, resolve } from "node:path";
import { InputError, PlanError } from "../src/errors.ts";
import type { Job } from "../src/job/job.ts";
import { type JobHost, readJob } from "../src/job/read.ts";
import { checkStartLine } from "../src/rs274/read.ts";
import { printMessages, wrapped } from "./terminal.ts";

const SIZE_MAX_MB = 256;
/** Programs are read in pieces, and may be longer. */
const PROGRAM_MAX_MB = 1024;
const PIECE_BYTES = 2 ** 20;

/** The job in a file; what is odd in it is told on stderr. Throws InputError. */
export function readJobFile(path: string): Job {
  const { job } = readJobTexts(path);
  printMessages(job.notes.flatMap((note) => wrapped("Mind: ", note)));
  return job;
}

/** A job, and the texts that it came from. */
export interface JobTexts {
  readonly job: Job;
  /** Its file's name, and the texts of all files by their names as seen from its folder. */
  readonly jobFile: string;
  readonly texts: ReadonlyMap<string, string>;
}

/** The job in a file, with what was read. Throws InputError. */
export function readJobTexts(path: string): JobTexts {
  let text: string;
  try {
    text = readText(path);
  } catch (error) {
    throw inputError(path, `cannot be read: ${reason(error)}`);
  }
  const folder = path.slice(0, path.length - basename(path).length);
  const texts = new Map([[basename(path), text]]);
  const job = readJob(text, path, {
    ...host,
    readText: (named) => {
      const found = readText(named);
      texts.set(named.startsWith(folder) ? named.slice(folder.length) : named, found);
      return found;
    },
  });
  return { job, jobFile: basename(path), texts };
}

/** A file as it is. Throws with the reason in plain words. */
export function readBytes(path: string): Uint8Array {
  try {
    const { size } = statSync(path);
    if (size > SIZE_MAX_MB * 2 ** 20) throw new Error(`it is larger than ${SIZE_MAX_MB} MB`);
    return readFileSync(path);
  } catch (error) {
    throw new Error(reason(error));
  }
}

/**
 * A program's bytes in pieces, each good until the next is asked for; `tell` hears how many of the file's
 * bytes were taken. Throws PlanError when the file cannot be read: at once, or on the way.
 */
export function openProgram(
  path: string,
  tell: (doneBytes: number, ofBytes: number) => void,
): Iterable<Uint8Array> {
  return inPlainWords(path, () => {
    const { size } = statSync(path);
    checkLength(size);
    return readPieces(path, openSync(path, "r"), size, tell);
  });
}

function* readPieces(
  path: string,
  handle: number,
  size: number,
  tell: (doneBytes: number, ofBytes: number) => void,
): Generator<Uint8Array> {
  const piece = new Uint8Array(PIECE_BYTES);
  let done = 0;
  try {
    for (;;) {
      const length = inPlainWords(path, () => readSync(handle, piece));
      if (length === 0) return;
      done += length;
      inPlainWords(path, () => checkLength(done));
      yield piece.subarray(0, length);
      tell(done, size);
    }
  } finally {
    closeSync(handle);
  }
}

function checkLength(bytes: number): void {
  if (bytes > PROGRAM_MAX_MB * 2 ** 20) throw new Error(`it is larger than ${PROGRAM_MAX_MB} MB`);
}

function inPlainWords<T>(path: string, act: () => T): T {
  try {
    return act();
  } catch (error) {
    throw new PlanError("unreadable", "", `the program ${path} cannot be read: ${reason(error)}`);
  }
}

/** What an error of the file system means, in plain words. */
export function reason(error: unknown): string {
  const { code, message } = error as NodeJS.ErrnoException;
  return (code && REASONS[code]) ?? message;
}

/** Where a file lies, seen from a folder; with `/` on every system. */
export function pathFrom(folder: string, file: string): string {
  return relative(resolve(folder), resolve(file)).replaceAll("\\", "/");
}

/** An input error about a file as a whole. */
export function inputError(file: string, text: string): InputError {
  return new InputError([{ file, place: "", line: 0, column: 0, text }]);
}

const REASONS: Readonly<Record<string, string>> = {
  ENOENT: "there is no such file",
  EISDIR: "it is a folder, and a file is wanted",
  ENOTDIR: "a part of its path is a file, not a folder",
  EACCES: "permission is missing",
  EPERM: "permission is missing",
  EROFS: "the disk is read-only",
  ENOSPC: "the disk is full",
  EDQUOT: "your share of the disk is full",
  EBUSY: "another program is using it",
  ENAMETOOLONG: "its name is too long",
  ELOOP: "its links lead in a circle",
};

export const host: JobHost = {
  readText,
  checkProgramLines: (lines) =>
    lines.flatMap((line, index) => {
      const text = checkStartLine(line);
      return text === null ? [] : [{ index, text }];
    }),
};

/** A file's text; a byte-order mark is left out. Throws with the reason in plain words. */
export function readText(path: string): string {
  const bytes = readBytes(path);
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    const utf16 = (bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff);
    throw new Error(`it is not UTF-8 text${utf16 ? " but UTF-16: save it as UTF-8" : ""}`);
  }
}
