// The package as it is published: nothing in it but what runs, and installed in an empty folder it works, without
// anything that is not in it.

import { execFile } from "node:child_process";
import { cpSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { newFolder } from "../cli/run.ts";
import { SAMPLE_NAMES } from "../oracles/read-sample.ts";

const root = join(import.meta.dirname, "../..");
const app = join(newFolder(), "app");
let packed: { files: { path: string }[]; filename: string };

function run(command: string, args: readonly string[], cwd: string): Promise<string> {
  return new Promise((done, fail) => {
    const shell = process.platform === "win32";
    execFile(command, args, { cwd, shell, maxBuffer: 1e8 }, (error, stdout, stderr) =>
      error === null ? done(stdout) : fail(new Error(`${command} ${args.join(" ")}: ${stderr}${stdout}`)),
    );
  });
}

beforeAll(async () => {
  mkdirSync(app);
  writeFileSync(join(app, "package.json"), '{ "private": true, "type": "module" }');
  // Without scripts: they would build anew, below the feet of other tests.
  const pack = ["pack", "--json", "--ignore-scripts", "--pack-destination", join(app, "..")];
  [packed] = JSON.parse(await run("npm", pack, root));
  await run("npm", ["install", "--ignore-scripts", "--prefer-offline", `../${packed.filename}`], app);
  cpSync(join(app, "node_modules/slabtrue/samples"), join(app, "samples"), { recursive: true });
}, 120_000);

test("the package holds only what runs, the samples, and what is to be read", () => {
  const paths = packed.files.map(({ path }) => path);
  const other = paths.filter(
    (path) =>
      !/^(package\.json|LICENSE|README\.md|CHANGELOG\.md|samples\/[\w/.-]+\.(json|csv|svg)|dist\/.+)$/.test(
        path,
      ),
  );
  expect(other).toEqual([]);
  expect(paths.filter((path) => /\.map$|\.test\.|dist\/bench|node_modules/.test(path))).toEqual([]);
  expect(paths).toEqual(
    expect.arrayContaining([
      "dist/slabtrue.mjs",
      "dist/index.mjs",
      "dist/types/index.d.ts",
      "dist/preview.html",
    ]),
  );
});

test("installed in an empty folder, npx slabtrue plans a sample, and its version is the package's", async () => {
  const name = SAMPLE_NAMES[0];
  const told = await run(
    "npx",
    ["--no-install", "slabtrue", "plan", `samples/${name}/job.json`, "--out", "out"],
    app,
  );
  expect(told).toContain("Before you cut");
  expect(readdirSync(join(app, "out"))).toEqual(
    expect.arrayContaining(["plan.json", "preview.html", "sheet.html"]),
  );
  const { version } = JSON.parse(readFileSync(join(root, "package.json"), "utf8"));
  expect((await run("npx", ["--no-install", "slabtrue", "--version"], app)).trim()).toBe(version);
}, 120_000);

test("as a library it plans too, and its types resolve in a strict project", async () => {
  const program = `import { readFileSync } from "node:fs";
import { type Plan, planJob, readJob } from "slabtrue";
const file = "samples/${SAMPLE_NAMES[0]}/job.json";
const readText = (path: string): string => readFileSync(path, "utf8");
const plan: Plan = planJob(readJob(readText(file), file, { readText }));
console.log(plan.setups.every(({ proof }) => proof.ok));
`;
  writeFileSync(join(app, "try.ts"), program);
  const types = ["--typeRoots", join(root, "node_modules/@types"), "--types", "node"];
  const options = [
    "--strict",
    "--target",
    "es2023",
    "--module",
    "nodenext",
    ...types,
    "--outDir",
    "js",
    "try.ts",
  ];
  await run(process.execPath, [join(root, "node_modules/typescript/bin/tsc"), ...options], app);
  expect(await run(process.execPath, ["js/try.js"], app)).toBe("true\n");
}, 120_000);
