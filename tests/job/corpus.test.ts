// Bad input of every kind gives findings, soon, and never any other error.

import fc from "fast-check";
import { expect, test } from "vitest";
import { InputError } from "../../src/errors.ts";
import { readJob } from "../../src/job/read.ts";
import { exampleJob, hostWith, type Loose } from "./example.ts";

const SEED = 20_260_104;

const sound = JSON.stringify(exampleJob());
const withJob = (change: (job: Loose) => void) => {
  const job = exampleJob();
  change(job);
  return JSON.stringify(job);
};
const wavy = (count: number): Loose =>
  Array.from({ length: count }, (_, k) => [Math.cos(k / 7) * 1000, Math.sin(k / 11) * 1000]);

const corpus: Record<string, () => string> = {
  nothing: () => "",
  blanks: () => " \n\t ",
  "only a comment": () => "// later",
  "an open comment": () => "/* later",
  "a number": () => "5",
  null: () => "null",
  "a text": () => '"job"',
  "a list": () => "[]",
  "an empty group": () => "{}",
  NaN: () => "NaN",
  "half a job": () => sound.slice(0, sound.length / 2),
  "two jobs": () => sound + sound,
  "a program instead of a job": () => "%\nG21 G90\nG0 X0 Y0\nM30\n%\n",
  "a table instead of a job": () => "x,y,z\n0,0,50\n",
  "binary bytes": () =>
    Array.from({ length: 5000 }, (_, k) => String.fromCharCode((k * 7919) % 65536)).join(""),
  "lone surrogates": () => withJob((job) => (job.units = "\ud800\udfff\udc00")),
  "UTF-16 read as UTF-8": () => [...sound].join("\u0000"),
  "a million brackets": () => "[".repeat(1_000_000),
  "a million braces": () => '{"a":'.repeat(1_000_000),
  "nesting in a field": () =>
    sound.replace('"thickness":60', `"thickness":${"[".repeat(5000)}${"]".repeat(5000)}`),
  "a million commas": () => `[${",".repeat(1_000_000)}]`,
  "50 000 fields": () => `{${Array.from({ length: 50_000 }, (_, k) => `"f${k}":0`).join()}}`,
  "one field a thousand times": () => `{${'"name":"x",'.repeat(1000)}"units":"mm"}`,
  "a name of a million letters as an unknown field": () => `{"${"x".repeat(1_000_000)}":1}`,
  "a length of a million digits": () =>
    sound.replace('"thickness":60', `"thickness":"${"9".repeat(1_000_000)} mm"`),
  "a number of a million digits": () =>
    sound.replace('"thickness":60', `"thickness":${"9".repeat(1_000_000)}`),
  "a length of a million blanks": () =>
    sound.replace('"thickness":60', `"thickness":"8${" ".repeat(1_000_000)}x"`),
  "an infinite number": () => sound.replace('"thickness":60', '"thickness":1e999'),
  "a number that is almost 0": () => sound.replace('"thickness":60', '"thickness":-1e-320'),
  __proto__: () => sound.replace('"units":"mm"', '"units":"mm","__proto__":{"units":"in"}'),
  "constructor and prototype": () =>
    sound.replace('"units":"mm"', '"units":"mm","constructor":{"prototype":{}}'),
  "__proto__ in a setup's zero": () =>
    sound.replace('"id":"skim"', '"id":"skim","zero":{"__proto__":{"x":5}}'),
  "__proto__ as a piece's id, and not there": () => withJob((job) => (job.setups[0].pieces = ["__proto__"])),
  "toString as a cutter": () => withJob((job) => (job.setups[0].cutter = "toString")),
  "an outline of 20 001 corners": () => withJob((job) => (job.pieces[0].outline = wavy(20_001))),
  "a tangle of 2000 corners": () => withJob((job) => (job.pieces[0].outline = wavy(2000))),
  "an outline of one corner, often": () =>
    withJob((job) => (job.pieces[0].outline = Array(20_000).fill([1, 1]))),
  "an outline of 10 000 bad corners": () =>
    withJob((job) => (job.pieces[0].outline = Array(10_000).fill(["a", {}]))),
  "an outline back and forth": () =>
    withJob((job) => (job.pieces[0].outline = Array.from({ length: 5000 }, (_, k) => [(k % 2) * 1000, 0]))),
  "an outline at the end of the world": () =>
    withJob(
      (job) =>
        (job.pieces[0].outline = [
          [1e300, 0],
          [0, 1e300],
          [0, 0],
        ]),
    ),
  "an outline too small to see": () =>
    withJob(
      (job) =>
        (job.pieces[0].outline = [
          [0, 0],
          [1e-9, 0],
          [0, 1e-9],
        ]),
    ),
  "readings of the wrong kinds": () =>
    withJob((job) => (job.pieces[0].upper = { points: [[], {}, null, 5, "x", [[]], [1, 2, 3, 4]] })),
  "a ragged grid": () =>
    withJob(
      (job) => (job.pieces[0].upper = { grid: { at: [0, 0], step: [1, 1], rows: [[], [1], "x", null, {}] } }),
    ),
  "a file that is not there": () => withJob((job) => (job.pieces[0].upper = { file: "\u0000/../../x" })),
  "a file of rubbish": () => withJob((job) => (job.pieces[0].upper = { file: "rubbish.csv" })),
  "a shop that is not there": () => withJob((job) => (job.shop = "no/shop.json")),
  "a shop of rubbish": () => withJob((job) => (job.shop = "rubbish.csv")),
  "a shop that is the job": () => withJob((job) => (job.shop = "job.json")),
  "a setup that names itself": () => withJob((job) => (job.setups[0].pieces = ["skim"])),
  "300 pieces on one spot": () =>
    withJob((job) => {
      job.pieces = Array.from({ length: 300 }, (_, k) => ({ ...exampleJob().pieces[0], id: `p${k}` }));
    }),
  "lists for groups": () => withJob((job) => Object.assign(job, { shop: [], pieces: [[]], setups: [[]] })),
  "texts for everything": () => sound.replace(/\d+(\.\d+)?/g, '"$&"'),
  "nulls for everything": () => sound.replace(/\d+(\.\d+)?/g, "null"),
};

const host = hostWith({
  "rubbish.csv": Array.from({ length: 100_000 }, (_, k) => String.fromCharCode(32 + ((k * 31) % 90))).join(
    "",
  ),
  "job.json": sound,
});

test.each(Object.entries(corpus))("%s gives findings within a second", (_, make) => {
  const text = make();
  const start = process.cpuUsage();
  const run = () => readJob(text, "job.json", host);
  expect(run).toThrow(InputError);
  // Of the processor's time: other tests run beside this one.
  const { user, system } = process.cpuUsage(start);
  expect((user + system) / 1e6).toBeLessThan(1);
});

test(`a job with anything put anywhere is read or gives findings, seed ${SEED}`, () => {
  const base = exampleJob();
  base.pieces[0].upper = {
    points: [
      [1, 1, 58],
      [900, 1, 59],
      [1, 390, 60],
    ],
  };
  base.pieces[1].upper = {
    grid: {
      at: [0, 500],
      step: [500, 150],
      rows: [
        [50, 51, 52],
        [50, null, 52],
      ],
    },
  };
  base.setups[0].passes.finish = { depth: 0.5 };
  base.setups[0].keepOut = [{ name: "cleat", outline: { length: 5, width: 5 }, height: 9 }];
  base.shop.program = { start: ["M7"], extension: "nc" };
  const places = everyPlace(base);
  const junk = fc.oneof(
    fc.constantFrom<unknown>(
      undefined,
      null,
      true,
      0,
      -1,
      1e9,
      1e-9,
      "",
      "57 mm",
      "in",
      "left",
      [],
      {},
      [[0, 0]],
      [[[1]]],
    ),
    fc.jsonValue({ maxDepth: 2 }),
    fc.double(),
  );
  let read = 0;
  fc.assert(
    fc.property(
      fc.array(fc.tuple(fc.constantFrom(...places), junk), { minLength: 1, maxLength: 3 }),
      (changes) => {
        const job = structuredClone(base);
        for (const [path, value] of changes) put(job, path, value);
        try {
          readJob(JSON.stringify(job), "job.json", host);
          read++;
        } catch (error) {
          if (!(error instanceof InputError)) throw error;
          expect(error.issues.length).toBeGreaterThan(0);
          for (const issue of error.issues) expect(issue.text).toMatch(/^[ -~]+$/);
        }
      },
    ),
    { seed: SEED, numRuns: 600 },
  );
  expect(read).toBeGreaterThan(10);
});

test(`a job's text with characters lost, doubled or changed is read or gives findings, seed ${SEED}`, () => {
  const change = fc.tuple(
    fc.nat(sound.length - 1),
    fc.constantFrom("", "x", '"', "{", "]", ",", "-", "e9", "\\", "//", "\n"),
  );
  fc.assert(
    fc.property(fc.array(change, { minLength: 1, maxLength: 4 }), (changes) => {
      const letters = [...sound];
      for (const [at, text] of changes) letters[at] = text;
      try {
        readJob(letters.join(""), "job.json", host);
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
      }
    }),
    { seed: SEED, numRuns: 600 },
  );
});

type Place = (string | number)[];

function everyPlace(value: unknown, at: Place = []): Place[] {
  if (typeof value !== "object" || value === null) return [at];
  const below = Object.entries(value).flatMap(([name, inner]) =>
    everyPlace(inner, [...at, Array.isArray(value) ? Number(name) : name]),
  );
  return at.length > 0 ? [at, ...below] : below;
}

function put(job: Loose, path: Place, value: unknown): void {
  let at = job;
  for (const step of path.slice(0, -1)) {
    at = at?.[step];
    if (typeof at !== "object" || at === null) return;
  }
  at[path.at(-1) as string] = value;
}
