// The file actuals.csv beside the shop file: one line is added at a time, and none is ever changed. The system
// puts every line behind all that others have written by then; the file itself appears whole, with its header.

import { randomBytes } from "node:crypto";
import {
  closeSync,
  existsSync,
  fstatSync,
  fsyncSync,
  linkSync,
  openSync,
  readSync,
  unlinkSync,
  writeFileSync,
  writeSync,
} from "node:fs";
import { dirname, join } from "node:path";
import {
  ACTUALS_BEGIN,
  type Actual,
  actualLine,
  type MachineRatio,
  machineRatio,
  mendingOf,
  readActuals,
} from "../src/quote/actuals.ts";
import { inputError, readText, reason } from "./files.ts";

/** Where the runs of a shop are recorded. */
export function actualsBeside(shopFile: string): string {
  return join(dirname(shopFile), "actuals.csv");
}

/** Adds a run to the file, and makes the file when there is none. Throws InputError where it cannot be written. */
export function addActual(file: string, run: Actual): void {
  try {
    if (!existsSync(file)) begin(file);
    const handle = openSync(file, "a+");
    try {
      const tail = tailOf(handle);
      const bytes = Buffer.from((tail ?? ACTUALS_BEGIN) + actualLine(run));
      // One write, so that no other writer's line comes in between.
      if (writeSync(handle, bytes) < bytes.length) throw new Error("the disk is full");
      fsyncSync(handle);
    } finally {
      closeSync(handle);
    }
  } catch (error) {
    throw inputError(file, `the run cannot be recorded there: ${reason(error)}`);
  }
}

/** The recorded runs and what was left out of them; null where no file is. Throws InputError where it cannot be read. */
export function readActualsFile(file: string): ReturnType<typeof readActuals> | null {
  if (!existsSync(file)) return null;
  try {
    return readActuals(readText(file));
  } catch (error) {
    throw inputError(file, `cannot be read: ${reason(error)}`);
  }
}

/** How the machine of a shop has kept to its plans. */
export function ratioBeside(shopFile: string): MachineRatio {
  return machineRatio(readActualsFile(actualsBeside(shopFile))?.runs ?? []);
}

/** The file with its header, unless another writer was quicker. */
function begin(file: string): void {
  const whole = join(dirname(file), `.slabtrue-${randomBytes(6).toString("hex")}`);
  try {
    writeFileSync(whole, ACTUALS_BEGIN, { flag: "wx" });
    linkSync(whole, file);
  } catch (error) {
    // A disk that knows no links makes the file with its first line.
    const { code } = error as NodeJS.ErrnoException;
    if (code !== "EEXIST" && !existsSync(whole)) throw error;
  } finally {
    if (existsSync(whole)) unlinkSync(whole);
  }
}

const TAIL_BYTES = 4096;

/** What mends the end of the file; null where the file is empty. */
function tailOf(handle: number): string | null {
  const { size } = fstatSync(handle);
  if (size === 0) return null;
  const bytes = Buffer.alloc(Math.min(size, TAIL_BYTES));
  const length = readSync(handle, bytes, 0, bytes.length, size - bytes.length);
  return mendingOf(bytes.toString("utf8", 0, length));
}
