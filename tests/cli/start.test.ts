// `slabtrue start`: the files it writes plan at once, and nothing is ever overwritten.

import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { type Answers, firstFiles } from "../../cli/first-files.ts";
import { asked } from "../../cli/start.ts";
import { InputError } from "../../src/errors.ts";
import { readJob } from "../../src/job/read.ts";
import { planJob } from "../../src/plan.ts";
import type { Units } from "../../src/units.ts";
import { newFolder, slabtrue } from "./run.ts";

const FILES = ["job.json", "job.schema.json", "shop.json", "shop.schema.json"];

describe("at the command line", () => {
  test.concurrent("help ends with an example", async () => {
    const { status, stdout } = await slabtrue(newFolder(), "start", "--help");
    expect(status).toBe(0);
    expect(stdout.trimEnd().split("\n").slice(-2)).toEqual(["Example:", "  slabtrue start my-shop"]);
  });

  test.concurrent("with --yes the files plan at once, without a warning", async () => {
    const folder = newFolder();
    const start = await slabtrue(folder, "start", "mine", "--yes");
    expect(start).toMatchObject({ status: 0, stderr: "" });
    expect(start.stdout).toContain("Put those of your own machine, cutter and slab in");
    expect(start.stdout.trimEnd().split("\n").at(-1)).toBe("Next: slabtrue plan mine/job.json");
    expect(readdirSync(join(folder, "mine")).sort()).toEqual(FILES);

    const plan = await slabtrue(folder, "plan", "mine/job.json", "--json");
    expect(plan.status).toBe(0);
    const [setup] = JSON.parse(plan.stdout).setups;
    expect(setup.warnings).toEqual([]);
    expect(setup.proof.ok).toBe(true);
    const { stdout: schema } = await slabtrue(folder, "schema", "shop");
    expect(readFileSync(join(folder, "mine/shop.schema.json"), "utf8")).toBe(schema);
  });

  test.concurrent("without a terminal and without --yes it says so and writes nothing", async () => {
    const folder = newFolder();
    const { status, stdout, stderr } = await slabtrue(folder, "start", "mine");
    expect([status, stdout, readdirSync(folder)]).toEqual([2, "", []]);
    expect(stderr).toContain("nobody is there to answer; run it in a terminal, or add --yes");
  });

  test.concurrent.each(FILES)("where %s is there already nothing is written", async (name) => {
    const folder = newFolder();
    writeFileSync(join(folder, name), "mine");
    const { status, stderr } = await slabtrue(folder, "start", ".", "--yes");
    expect(status).toBe(2);
    expect(stderr).toBe(`${name}: is there already, and is left alone; name another folder\n`);
    expect(readdirSync(folder)).toEqual([name]);
    expect(readFileSync(join(folder, name), "utf8")).toBe("mine");
  });

  test.concurrent("a folder that holds other things may be used, one that cannot be made is told", async () => {
    const folder = newFolder();
    mkdirSync(join(folder, "shop"));
    writeFileSync(join(folder, "shop/notes.txt"), "");
    expect((await slabtrue(folder, "start", "shop", "--yes")).status).toBe(0);
    expect(readdirSync(join(folder, "shop")).sort()).toEqual([...FILES, "notes.txt"].sort());
    const far = await slabtrue(folder, "start", "no/such/folder", "--yes");
    expect(far.status).toBe(2);
    expect(far.stderr).toBe(
      "no/such/folder: the files cannot be written there: there is no such folder above it\n",
    );
    const file = await slabtrue(folder, "start", "shop/notes.txt", "--yes");
    expect(file.status).toBe(2);
    expect(file.stderr).toContain("a part of its path is a file");
  });
});

/** Types these lines, then only Enter; gives what was said and the answers. */
async function typing(...lines: string[]) {
  const said: string[] = [];
  const prompts: string[] = [];
  const result = await asked(
    (text) => said.push(...text),
    async (prompt) => {
      prompts.push(prompt);
      return lines.shift() ?? "";
    },
  );
  return { ...result, said: said.join("\n"), prompts };
}

function planOf({ units, answers }: { units: Units; answers: Answers }, change = (text: string) => text) {
  const files = firstFiles(units, answers);
  const readText = (path: string) => files.get(path) ?? "";
  return planJob(readJob(change(readText("job.json")), "job.json", { readText }));
}

describe("questions", () => {
  test("Enter takes the example of every question, in both units, and the files plan without a warning", async () => {
    for (const units of ["mm", "in"] as const) {
      const found = await typing(units);
      expect(found.units).toBe(units);
      const plan = planOf(found);
      expect(plan.setups[0].warnings).toEqual([]);
      expect(plan.job.units).toBe(units);
      // 6 mm or a quarter of an inch, roughly.
      expect(plan.setups[0].removedMostMm).toBeGreaterThan(5);
    }
  });

  test("answers stand in the files as they were typed", async () => {
    const { answers, units } = await typing("IN", `8' 2 1/2"`, "1.5 m", "7", "10 m/min");
    expect(answers).toMatchObject({
      travelX: `8' 2 1/2"`,
      travelY: "1.5 m",
      travelZ: 7,
      feedLimitXY: "10 m/min",
    });
    const { machine } = planOf({ answers, units }).job.shop;
    expect(machine.travelMm).toEqual({ x: 2501.9, y: 1500, z: 177.8 });
    expect(machine.feedLimitMmPerMin.x).toBe(10_000);
  });

  test("a wrong answer is told, and asked again", async () => {
    const { said, answers, prompts } = await typing("inch", "mm", "long", "-5", "120", "2000");
    expect(said).toContain("wanted mm or in");
    expect(said).toContain('found "long"; wanted a length: a number in mm, or text with its');
    expect(said).toContain("found -5; wanted more than 0");
    expect(said).toContain("found 120 mm; wanted at least 200 mm");
    expect(answers.travelX).toBe(2000);
    expect(prompts.filter((prompt) => prompt === "  mm [2600] ")).toHaveLength(4);
  });

  const at = (key: keyof Answers, ...values: string[]) => {
    const order = Object.keys(FIRST);
    const lines = Array.from({ length: order.length }, () => "");
    lines.splice(order.indexOf(key), 1, ...values);
    return typing("mm", ...lines);
  };
  const FIRST = {} as Record<keyof Answers, unknown>;

  test("what cannot go together is asked again", async () => {
    Object.assign(FIRST, (await typing("mm")).answers);
    const cases: [keyof Answers, string, string, string][] = [
      ["speedMax", "5000", "20000", "found 5000; wanted at least 6000, the slowest speed"],
      ["diameter", "700", "50", "found 700 mm; wanted at most 660 mm, half the lesser travel"],
      ["edges", "2.5", "2", "found 2.5; wanted a whole number"],
      ["cutterSpeedMax", "900", "9000", "found 900; wanted at least 6000"],
      ["chipMax", "0.05", "0.3", "found 0.05 mm; wanted at least 0.08 mm, the least chip load"],
      ["pieceX", "2550", "2500", "found 2550 mm; wanted at most 2506.5 mm: within the travel"],
      ["finished", "60", "50", "found 60 mm; wanted less than 60 mm, or nothing comes off"],
      ["speed", "20000", "12000", "found 20000; wanted 6000 to 18000"],
      ["feed", "20 m/min", "6000", "found more than the fastest feed of X and Y"],
    ];
    for (const [key, wrong, right, text] of cases) {
      const { said, answers } = await at(key, wrong, right);
      expect(said.replace(/\n\s*/g, " ")).toContain(text);
      expect(answers[key]).toBe(Number(right));
    }
  });

  test("the longest and widest slab that is let pass plans", async () => {
    Object.assign(FIRST, (await typing("mm")).answers);
    const { answers, units } = await at("pieceX", "2506.5", "1226.5");
    expect(answers).toMatchObject({ pieceX: 2506.5, pieceY: 1226.5 });
    const [setup] = planOf({ answers, units }).setups;
    expect(setup.pieces[0].cleanUp).toBeGreaterThan(0.999);
  });

  test("a small, slow machine has examples that fit it", async () => {
    const { answers, units } = await typing(
      "mm",
      "400",
      "300",
      "60",
      "1500",
      "500",
      "2000",
      "600",
      "80",
      "40",
      "8000",
      "12000",
      "0.5",
      "22",
      "2",
      "16000",
      "1.5",
    );
    const [setup] = planOf({ answers, units }).setups;
    expect(setup.proof.ok).toBe(true);
    expect(setup.setup.passes).toMatchObject({ depthMm: 1.5, speed: 8000, feedMmPerMin: 1500 });
    expect(setup.warnings).toEqual([]);
  });

  test("when the lines end before the questions nothing is made", async () => {
    const lines: (string | null)[] = ["mm", "2600", null];
    const run = asked(
      () => {},
      async () => lines.shift() ?? null,
    );
    await expect(run).rejects.toThrow(InputError);
    await expect(run).rejects.toThrow("stopped before the last question; nothing was written");
  });

  test("the keep-out in the comment may be switched on", async () => {
    for (const units of ["mm", "in"]) {
      const plan = planOf(await typing(units), (text) => text.replace('// "keepOut"', '"keepOut"'));
      expect(plan.setups[0].setup.keepOuts).toHaveLength(1);
    }
  });
});
