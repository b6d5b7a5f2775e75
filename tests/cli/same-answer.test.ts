// Like jobs give like files, byte for byte: planned again, elsewhere on the disk, by another user, under another
// language and time zone. So no file holds a date, a path or a name that is not the job's.

import { execFile } from "node:child_process";
import { cpSync, mkdirSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { SAMPLE_NAMES } from "../oracles/read-sample.ts";
import { newFolder, PROGRAM } from "./run.ts";

const SAMPLES = join(import.meta.dirname, "../../samples");
const PLACES = [
  { folder: "a", LANG: "C", LC_ALL: "C", TZ: "UTC", USER: "root", HOME: "/root" },
  {
    folder: "bench of Zoë/b",
    LANG: "de_DE.UTF-8",
    LC_ALL: "tr_TR.UTF-8",
    TZ: "Asia/Kathmandu",
    USER: "zoe",
    HOME: "/tmp",
  },
];

async function planned(
  sample: string,
  { folder, ...env }: (typeof PLACES)[number],
): Promise<Map<string, string>> {
  const root = join(newFolder(), folder);
  mkdirSync(root, { recursive: true });
  cpSync(SAMPLES, join(root, "samples"), { recursive: true });
  await new Promise<void>((done, fail) => {
    const args = [PROGRAM, "plan", `samples/${sample}/job.json`, "--out", "out"];
    execFile(process.execPath, args, { cwd: root, env: { ...process.env, ...env } }, (error) =>
      error === null ? done() : fail(error),
    );
  });
  const names = readdirSync(join(root, "out")).sort();
  return new Map(names.map((name) => [name, readFileSync(join(root, "out", name), "utf8")]));
}

test.each(SAMPLE_NAMES)(
  "%s is planned alike, whoever plans it and wherever",
  async (sample) => {
    const [here, there] = await Promise.all(PLACES.map((place) => planned(sample, place)));
    expect([...there.keys()]).toEqual([...here.keys()]);
    for (const [name, text] of here) {
      expect(there.get(name) === text, `${name} is the same`).toBe(true);
      expect(text.includes("slabtrue-test-"), `${name} tells no path`).toBe(false);
    }
  },
  120_000,
);
