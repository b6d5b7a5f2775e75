// Bad input of every kind before the command line: an answer with its place, soon, in little memory, and nothing
// written. The texts of findings are tested in tests/job; here it is that there is always one, and never a fault.

import { spawn } from "node:child_process";
import { readdirSync, readFileSync, statSync, truncateSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { exampleJob, type Loose, set } from "../job/example.ts";
import { newFolder, PROGRAM } from "./run.ts";

const SECONDS_MAX = 10;
const MEGABYTES_MAX = 1024;

/** What a case changes: the job, the files beside it, or the job's whole text. */
type Case = (job: Loose, write: (name: string, content: string | Uint8Array) => void) => unknown;

const upper =
  (content: string | Uint8Array): Case =>
  (job, write) => {
    write("face.csv", content);
    job.pieces[0].upper = { file: "face.csv" };
  };
const setup =
  (change: object): Case =>
  (job) =>
    Object.assign(job.setups[0], change);
const passes =
  (change: object): Case =>
  (job) =>
    Object.assign(job.setups[0].passes, change);
const machine =
  (change: object): Case =>
  (job) =>
    Object.assign(job.shop.machine, change);
const outline = (written: unknown): Case => set("pieces[0].outline", written);
const text =
  (change: (sound: string) => string): Case =>
  (job) =>
    change(JSON.stringify(job));
/** A drawing of 300 x 150 mm with this in it, or this text for a drawing. */
const drawing =
  (inside: string, whole?: string): Case =>
  (job, write) => {
    const open =
      '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="150mm" viewBox="0 0 300 150">';
    write("shape.svg", whole ?? `${open}${inside}</svg>`);
    job.pieces[0].outline = { svg: "shape.svg", id: "a" };
  };
const madeOf = (...ids: string[]): Case => {
  return (job) => {
    job.pieces = ids.map((id, k) => ({
      ...{ id, outline: { length: 90, width: 90, at: [100 * k, 0] } },
      madeOf: [{ piece: ids[(k + 1) % ids.length], at: [0, 0], angle: 0, after: "skim" }],
    }));
  };
};
const block = (height: number, reach = 50) => ({
  name: "block",
  outline: [
    [-reach, -reach],
    [300 + reach, -reach],
    [300 + reach, 150 + reach],
    [-reach, 150 + reach],
  ],
  height,
});
const lines = (count: number, line: (k: number) => string) =>
  Array.from({ length: count }, (_, k) => line(k)).join("\n");
/** Asks for a file of 300 MB beside the job, of which the disk holds nothing. */
const HUGE = Symbol();
const noise = (length: number) => Uint8Array.from({ length }, (_, k) => (k * 7919 + (k >> 3)) % 256);

const input: Record<string, Case> = {
  "an empty job": text(() => ""),
  "a binary job": (_, write) => write("job.json", noise(5000)),
  "a job with text after it": text((sound) => `${sound} and so on`),
  "two jobs in one file": text((sound) => sound + sound),
  "half a job": text((sound) => sound.slice(0, 400)),
  "deep nesting": text((sound) =>
    sound.replace('"thickness":40', `"thickness":${"[".repeat(9000)}${"]".repeat(9000)}`),
  ),
  "a field given twice": text((sound) => sound.replace('"thickness":40', '"thickness":40,"thickness":41')),
  "not a number": text((sound) => sound.replace('"thickness":40', '"thickness":NaN')),
  "an infinite number": text((sound) => sound.replace('"thickness":40', '"thickness":1e999')),
  "a tiny number": text((sound) => sound.replace('"thickness":40', '"thickness":-1e-320')),
  "a job of 40 MB": text((sound) => sound + " ".repeat(40e6)),
  "a list for everything": text(() => '{"format":[],"units":[],"shop":[],"pieces":[[]],"setups":[[]]}'),
  "an id given twice": (job) =>
    void job.pieces.push({ ...job.pieces[0], outline: { length: 9, width: 9, at: [900, 0] } }),
  "a piece made of itself": set("pieces[0].madeOf", [{ piece: "leaf", at: [0, 0], angle: 0, after: "skim" }]),
  "pieces made of each other": madeOf("leaf", "b"),
  "a ring of forty pieces, each made of the next": madeOf(...Array.from({ length: 40 }, (_, k) => `p${k}`)),
  "an outline that crosses itself": outline([
    [0, 0],
    [90, 90],
    [90, 0],
    [0, 90],
  ]),
  "an outline without area": outline([
    [0, 0],
    [90, 90],
    [180, 180],
  ]),
  "an outline of one point": outline(Array(500).fill([5, 5])),
  "an outline the size of a town": outline({ length: 90_000, width: 90_000 }),
  "an outline too small to see": outline({ length: 1e-5, width: 1e-5 }),
  "an outline in a missing drawing": outline({ svg: "none.svg" }),
  "an outline in a binary drawing": (job, write) => {
    write("shape.svg", noise(5000));
    job.pieces[0].outline = { svg: "shape.svg" };
  },
  "a drawing that breaks off": drawing("", '<svg width="300mm" height="150mm"><path id="a" d="M0 0 H300'),
  "a drawing of no size": drawing(
    "",
    '<svg xmlns="http://www.w3.org/2000/svg"><rect id="a" width="9" height="9"/></svg>',
  ),
  "a drawing without the shape": drawing('<rect id="b" width="300" height="150"/>'),
  "a shape that is a script": drawing('<script id="a">process.exit(7)</script>'),
  "a drawing of entities that multiply": drawing(
    "",
    `<!DOCTYPE svg [<!ENTITY e0 "0 0 ">${lines(30, (k) => `<!ENTITY e${k + 1} "&e${k};&e${k};&e${k};&e${k};">`)}]>` +
      '<svg width="300mm" height="150mm"><polygon id="a" points="&e30;"/></svg>',
  ),
  "a drawing that reads another file": drawing(
    "",
    '<!DOCTYPE svg [<!ENTITY e SYSTEM "job.json">]><svg width="300mm" height="150mm"><polygon id="a" points="&e;"/></svg>',
  ),
  "shapes that use each other": drawing('<use id="a" href="#b"/><use id="b" href="#a"/>'),
  "a drawing nested without end": drawing("<g>".repeat(300_000)),
  "a path of a million letters": drawing(`<path id="a" d="M0 0${"L".repeat(1_000_000)}"/>`),
  "a path back and forth": drawing(
    `<path id="a" d="M0 0${lines(300_000, (k) => `L${(k * 7919) % 300} ${(k * 104_729) % 150}`)}Z"/>`,
  ),
  "a path of numbers without end": drawing(`<path id="a" d="M0 0 L1e999 NaN Z"/>`),
  "an outline in a drawing of 300 MB": (job) => {
    job.pieces[0].outline = { svg: "huge" };
    return HUGE;
  },
  "readings of 300 MB": (job) => {
    job.pieces[0].upper = { file: "huge" };
    return HUGE;
  },
  "pieces on top of each other": (job) => void job.pieces.push({ ...job.pieces[0], id: "b" }),
  "readings that are missing": set("pieces[0].upper", { file: "none.csv" }),
  "readings in a folder": set("pieces[0].upper", { file: "." }),
  "empty readings": upper(""),
  "readings of nothing but a header": upper("x,y,z\n"),
  "binary readings": upper(noise(50_000)),
  "readings in UTF-16": upper(Buffer.from("\uFEFF1,1,40\n200,1,40\n1,100,40\n", "utf16le")),
  "readings with mixed separators": upper("1,1,40\n200;1;40\n1\t100\t40\n"),
  "readings with decimal commas between commas": upper("1,5,1,40\n200,1,40,2\n1,100,40\n"),
  "readings that are no numbers": upper("1,1,NaN\n200,1,inf\n1,100,1e999\n"),
  "two readings at one place": upper("1,1,40\n1,1,41\n200,1,40\n1,100,40\n"),
  "readings on a line": upper("1,1,40\n2,2,40\n3,3,40\n"),
  "readings beside the piece": upper("1001,1,40\n1200,1,40\n1001,100,40\n"),
  "two million readings": upper(
    lines(2_000_000, (k) => `${(k % 2000) * 0.15},${Math.floor(k / 2000) * 0.15},40`),
  ),
  "readings of 70 MB": upper("1,1,40\n".repeat(10_500_000)),
  "20 MB of readings in one line": upper("1,".repeat(10_000_000)),
  "a shop that is missing": set("shop", "none.json"),
  "a shop that is the job": set("shop", "job.json"),
  "a shop in the wrong unit": set("shop.units", "in"),
  "a shop of inches in mm": (job) => {
    job.shop.machine.travel = { x: 102, y: 52, z: 7 };
    Object.assign(job.shop.cutters[0], { diameter: 2.5, depthMax: 0.16 });
  },
  "a feed of nearly nothing": passes({ feed: 1e-9 }),
  "a machine that hardly moves": machine({ acceleration: { x: 1e-9, y: 1e-9, z: 1e-9 } }),
};

const unsafe: Record<string, Case> = {
  "a floor above the piece": setup({ target: { thickness: 45 } }),
  "a floor at its top": setup({ target: { thickness: 40 } }),
  "a floor below the bed": setup({ target: { depth: 45 } }),
  "a job in the wrong unit": set("units", "in"),
  "a keep-out over all": setup({ keepOut: [block(60)] }),
  "a keep-out over all, and half to be clean": setup({ keepOut: [block(60)], target: { cleanUp: 0.5 } }),
  "a cutter larger than everything": set("shop.cutters[0].diameter", 5000),
  "a piece longer than the travel": machine({ travel: { x: 100, y: 1320, z: 180 } }),
  "a piece too small to cut": outline({ length: 0.01, width: 0.01 }),
  "a travel of nothing": machine({ travel: { x: 1, y: 1, z: 1 } }),
  "pieces that lie too far apart to be proven": (job) => {
    job.pieces.push({
      ...job.pieces[0],
      id: "b",
      outline: { length: 300, width: 150, at: [39_000, 39_000] },
    });
    job.shop.machine.travel = { x: 90_000, y: 90_000, z: 180 };
  },
  "a face as large as a hall": (job) => {
    job.pieces[0].outline = { length: 39_000, width: 39_000 };
    job.shop.machine.travel = { x: 90_000, y: 90_000, z: 180 };
  },
  "passes of a hair's breadth": passes({ stepover: 1e-6 }),
  "passes of no depth": passes({ depth: 1e-4 }),
  "a margin as high as a house": setup({ margin: 9000 }),
  "air as high as a house": setup({ clear: { z: 9000 } }),
  "a spindle that hardly turns": passes({ speed: 1e-9 }),
  "a spindle nose in the wood": machine({ nose: { diameter: 9000, above: 0 } }),
};

const results = { tried: 0, answered: 0, seconds: 0, megabytes: 0 };

async function answer(change: Case): Promise<{ status: number; stderr: string }> {
  const folder = newFolder();
  const job = exampleJob();
  job.pieces = [{ id: "leaf", outline: { length: 300, width: 150 }, thickness: 40 }];
  job.setups[0].margin = 0.5;
  const write = (name: string, content: string | Uint8Array) => writeFileSync(join(folder, name), content);
  write("job.json", "");
  const whole = change(job, write);
  if (whole === HUGE) {
    write("huge", "");
    truncateSync(join(folder, "huge"), 300 * 2 ** 20);
  }
  if (statSync(join(folder, "job.json")).size === 0)
    write("job.json", typeof whole === "string" ? whole : JSON.stringify(job, null, 1));
  const before = readdirSync(folder).sort();

  // The child says at its end how much of the processor and of memory it took.
  const report = `process.on("exit",()=>{const{userCPUTime:u,systemCPUTime:s,maxRSS:m}=process.resourceUsage();
    require("fs").writeFileSync(process.env.USAGE,JSON.stringify([(u+s)/1e6,m/1024]))})`;
  const usage = join(newFolder(), "usage.json");
  writeFileSync(join(usage, "../report.cjs"), report);
  const child = spawn(
    process.execPath,
    ["--require", join(usage, "../report.cjs"), PROGRAM, "plan", "job.json", "--json"],
    {
      cwd: folder,
      env: { ...process.env, USAGE: usage },
    },
  );
  let [stdout, stderr] = ["", ""];
  child.stdout.on("data", (data) => (stdout += data));
  child.stderr.on("data", (data) => (stderr += data));
  const status = await new Promise<number>((done) => child.on("close", (code) => done(code ?? -1)));
  const [seconds, megabytes] = JSON.parse(readFileSync(usage, "utf8"));
  results.tried++;
  results.seconds = Math.max(results.seconds, seconds);
  results.megabytes = Math.max(results.megabytes, megabytes);

  expect(stderr).not.toMatch(/\n\s+at |its fault|Error:/);
  expect(stderr).toMatch(/^[ -~\n]+$/);
  expect(readdirSync(folder).sort()).toEqual(before);
  expect(seconds).toBeLessThan(SECONDS_MAX);
  expect(megabytes).toBeLessThan(MEGABYTES_MAX);
  const { ok, errors } = JSON.parse(stdout);
  expect([ok, errors.length > 0]).toEqual([false, true]);
  for (const error of errors) expect(error.text.length).toBeGreaterThan(5);
  results.answered++;
  return { status, stderr };
}

test.each(Object.entries(input))("%s is answered with status 2 and its place", async (_, change) => {
  const { status, stderr } = await answer(change);
  expect(status).toBe(2);
  for (const line of stderr.trimEnd().split("\n").slice(0, 100)) expect(line).toMatch(/^\S+: ./);
});

test.each(Object.entries(unsafe))("%s is answered with status 3", async (_, change) => {
  const { status, stderr } = await answer(change);
  expect(status).toBe(3);
  expect(stderr).toMatch(/^setup skim(, line \d+)?: /m);
});

test("cells that would not fit in memory are told, and those that would", async () => {
  const { stderr } = await answer(unsafe["a face as large as a hall"]);
  expect(stderr).toContain("39000 mm by 39000 mm");
  expect(stderr).toMatch(/need cells of 8 mm, and on cells over 2 mm it cannot be trusted/);
});

afterAll(() => {
  const { tried, answered, seconds, megabytes } = results;
  console.info(
    `bad inputs tried ${tried}, answered ${answered}; at most ${seconds.toFixed(1)} s and ${megabytes.toFixed(0)} MB`,
  );
});
