// `slabtrue quote` from sizes and from a job, as a maker would ask for it.

import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { readShop } from "../../src/job/read.ts";
import { machineRatio } from "../../src/quote/actuals.ts";
import { quoteDocument, quoteOf } from "../../src/quote/quote.ts";
import { exampleShop, type Loose } from "../job/example.ts";
import { drawsOf, smallJob } from "../quote/sizes.ts";
import { jobFolder, newFolder, slabtrue } from "./run.ts";

const RATES = {
  ...{ currency: "eur", machineHour: 90, labourHour: 60 },
  minutes: { load: 20, turnOver: 15, cutterChange: 5, zero: 5 },
};
const SIZES = [
  "--length",
  "90 cm",
  "--width",
  "400",
  "--thickness",
  "5 cm",
  "--finished",
  "40 mm",
  "--shop",
  "shop.json",
];

function shopFolder(change: (shop: Loose) => void = () => {}): string {
  const folder = newFolder();
  const shop = exampleShop();
  shop.rates = RATES;
  change(shop);
  writeFileSync(join(folder, "shop.json"), JSON.stringify(shop));
  return folder;
}

test("from sizes: the document of the contract, the same whoever draws the tables", async () => {
  const folder = shopFolder();
  const args = [
    "quote",
    ...SIZES,
    "--slabs",
    "2",
    "--shell",
    "5 mm",
    "--species",
    "walnut",
    "--seed",
    "5",
    "--invent",
    "12",
  ];
  const runs = [await slabtrue(folder, ...args, "--json"), await slabtrue(folder, ...args, "--json")];
  expect(runs[0].status).toBe(0);
  expect(runs[1].stdout).toBe(runs[0].stdout);
  const document = JSON.parse(runs[0].stdout);
  expect(document).toMatchObject({ format: "slabtrue-quote/1", currency: "EUR", seed: 5, faces: 12 });
  // Without the command line and its workers.
  const shop = readShop(readFileSync(join(folder, "shop.json"), "utf8"), "shop.json");
  const job = smallJob({ slabs: 2, shellMm: 5, cutter: shop.cutters[0] }, shop);
  const { rates } = shop.quoting;
  if (rates === null) throw new Error("no rates");
  const draws = drawsOf(job, 12, 5, machineRatio([]));
  expect(document).toEqual(quoteDocument(quoteOf(job, rates, 5, draws)));
});

test("recorded runs change the hours, and the quote says so", async () => {
  const folder = shopFolder();
  const args = ["quote", ...SIZES, "--faces", "upper", "--invent", "20"];
  const skim = async () =>
    JSON.parse((await slabtrue(folder, ...args, "--json")).stdout).parts[0].minutes as number;
  const before = await skim();
  const line = "2026-03-09,Jetty,skim,flat63,40,60\n";
  writeFileSync(
    join(folder, "actuals.csv"),
    `date,job,setup,cutter,planned minutes,actual minutes\n${line.repeat(30)}`,
  );
  // (3 + 30 * 1.5) / 33 = 1.45; of 20 tables the middle is not quite the mean.
  expect((await skim()) / before).toBeGreaterThan(1.35);
  expect((await skim()) / before).toBeLessThan(1.55);
  const after = (await slabtrue(folder, ...args)).stdout.replace(/\s+/g, " ");
  expect(after).toContain("the middle of 30 runs of 1 job since 2026-03-09");
  expect(after).toContain("The machine takes 1.45 times what is planned");
});

test("of a job: what its readings are worth, and a page that is written once", async () => {
  const folder = jobFolder((job) => {
    job.shop.rates = RATES;
    job.pieces[0] = {
      ...{ id: "leaf", outline: { length: 300, width: 150 } },
      upper: {
        grid: {
          ...{ at: [0, 0], step: [100, 75] },
          rows: [
            [40, 41, 42, 41],
            [41, 42, 42, 41],
            [40, 41, 41, 40],
          ],
        },
      },
    };
  });
  const run = await slabtrue(folder, "quote", "job.json", "--invent", "40", "--html", "quote.html");
  expect(run.status).toBe(0);
  expect(run.stdout).toMatch(/Without its readings the job would be quoted at|What it assumes/);
  expect(run.stderr).toContain("Written to quote.html");
  expect(readFileSync(join(folder, "quote.html"), "utf8")).toContain("Bench for the boathouse");
  // Ours is replaced, another's is not.
  expect((await slabtrue(folder, "quote", "job.json", "--invent", "10", "--html", "quote.html")).status).toBe(
    0,
  );
  writeFileSync(join(folder, "other.html"), "<p>of someone else</p>");
  const other = await slabtrue(folder, "quote", "job.json", "--invent", "10", "--html", "other.html");
  expect(other.status).toBe(2);
  expect(readFileSync(join(folder, "other.html"), "utf8")).toBe("<p>of someone else</p>");
});

test("from sizes: what was read without a unit, at which feed the hours are counted, each cutting once", async () => {
  const args = ["quote", ...SIZES, "--slabs", "2", "--shell", "5 mm", "--invent", "10"];
  const run = await slabtrue(shopFolder(), ...args);
  expect(run.stderr.replace(/\s+/g, " ")).toContain(
    'read in mm, the unit of the shop file, as no unit stands beside: --width 400. To be sure write it: --width "400 mm".',
  );
  const told = run.stdout.replace(/\s+/g, " ");
  expect(told).toMatch(
    /The hours are counted at a feed of \d+ mm\/min and \d+ rev\/min, advised .* write "feed" and "speed" in the "passes" of a job/,
  );
  // The skims meet no resin, the shells do.
  expect(told.match(/Cut with/g)).toHaveLength(1);
  expect(told).toMatch(/Cut with .* rev\/min and \d+ mm\/min \(\d+ mm\/min in resin\)\./);

  const whole = await slabtrue(shopFolder(), ...args, "--width", "400 mm");
  expect(whole.stderr).not.toContain("no unit");
});

test("what is not compared is told", async () => {
  const folder = shopFolder((shop) => {
    shop.cutters.push({ ...shop.cutters[0], id: "shallow", depthMax: 1.5 });
    // Its centre must come nearer to both edges than the travel lets it.
    shop.cutters.push({ ...shop.cutters[0], id: "slim", diameter: 10 });
    shop.machine.travel.y = 393;
  });
  const args = ["quote", ...SIZES, "--faces", "upper", "--compare", "cutter"];
  const run = await slabtrue(folder, ...args);
  expect(run.status).toBe(0);
  expect(run.stdout).toContain("Left out: cutter shallow at 2 mm: its depthMax is 1.5 mm");
  expect(run.stdout).toMatch(/Left out: cutter slim at 2 mm, stepover 0.6: /);
  expect(JSON.parse((await slabtrue(folder, ...args, "--json")).stdout).leftOut).toHaveLength(2);
});

test("settings are compared best first, with what binds each", async () => {
  const folder = shopFolder();
  const run = await slabtrue(
    folder,
    "quote",
    ...SIZES,
    "--faces",
    "upper",
    "--compare",
    "depth,stepover",
    "--json",
  );
  expect(run.status).toBe(0);
  const { compared } = JSON.parse(run.stdout);
  const prices = compared.map((one: Loose) => one.price.likely);
  expect(prices).toEqual([...prices].sort((a, b) => a - b));
  expect(compared.filter((one: Loose) => one.asIs)).toHaveLength(1);
  expect(compared.find((one: Loose) => one.asIs)).toMatchObject({ depth: 2, stepover: 0.6 });
  for (const { limits } of compared) expect(limits.length).toBeGreaterThan(0);
});

test.each([
  [["quote"], /--length, --width, --thickness, --finished, --shop: missing/],
  [["quote", ...SIZES.slice(0, -2)], /--shop: missing/],
  [
    ["quote", ...SIZES, "--finished", "50 mm"],
    /--finished: found 50 mm; wanted less than the slabs' thickness of 50 mm/,
  ],
  [["quote", ...SIZES, "--width", "-4"], /--width: found "-4"; wanted a length from 20 mm to 10000 mm/],
  [
    ["quote", ...SIZES, "--thickness", "2000"],
    /--thickness: found "2000", read in mm; wanted a length from 5 mm to 300 mm/,
  ],
  [["quote", ...SIZES, "--compare", "depth", "--html", "q.html"], /--html: found beside --compare/],
  [["quote", ...SIZES, "--shell", "lots"], /--shell: found "lots"/],
  [["quote", ...SIZES, "--slabs", "0"], /--slabs: found "0"; wanted a whole number from 1 to 50/],
  [["quote", ...SIZES, "--seed", "1.5"], /--seed: found "1.5"/],
  [["quote", ...SIZES, "--faces", "under"], /--faces: found "under"; wanted "both" or "upper"/],
  [
    ["quote", ...SIZES, "--cutter", "flat36"],
    /--cutter: found "flat36"; the cutters of the shop are "flat63"/,
  ],
  [
    ["quote", ...SIZES, "--compare", "feed"],
    /--compare: found "feed"; wanted one or more of cutter,stepover,depth/,
  ],
  [["quote", "job.json", ...SIZES], /--length: found beside a job/],
])("when asked %j then the mistake is told", async (args, told) => {
  const run = await slabtrue(shopFolder(), ...args);
  expect(run.status).toBe(2);
  expect(run.stdout).toBe("");
  expect(run.stderr).toMatch(told);
});

test("when the shop has no rates, or no currency that there is, then it says so", async () => {
  const without = await slabtrue(
    shopFolder((shop) => delete shop.rates),
    "quote",
    ...SIZES,
  );
  expect(without).toMatchObject({ status: 2, stdout: "" });
  expect(without.stderr).toContain('shop.json: has no "rates", and a price needs them');
  const euros = await slabtrue(
    shopFolder((shop) => {
      shop.rates = { ...RATES, currency: "euros" };
    }),
    "quote",
    ...SIZES,
  );
  expect(euros.status).toBe(2);
  expect(euros.stderr).toContain("rates.currency");
});

test("when the table is longer than the travel then it is quoted as pushed along, and that is said", async () => {
  const folder = shopFolder();
  const args = [...SIZES, "--faces", "upper", "--invent", "10", "--length", "4 m"];
  const run = await slabtrue(folder, "quote", ...args);
  expect(run.status).toBe(0);
  // 4 m on a travel of 2.6 m: two lays, one push, which takes as long as loading.
  expect(run.stdout).toContain("travel of 2600 mm is");
  const { parts } = JSON.parse((await slabtrue(folder, "quote", ...args, "--json")).stdout);
  expect(parts).toContainEqual({ name: "pushing on", minutes: 20, price: 20 });
});

test("when the table is wider than the travel then the status is 3, and like reasons are told once", async () => {
  const folder = shopFolder();
  const wide = ["quote", ...SIZES, "--width", "2 m"];
  const run = await slabtrue(folder, ...wide, "--html", "quote.html");
  expect(run.status).toBe(3);
  expect(run.stderr).toContain("more than the travel of 1320 mm");
  expect(existsSync(join(folder, "quote.html"))).toBe(false);
  const compared = await slabtrue(folder, ...wide, "--compare", "depth,stepover");
  expect(compared.status).toBe(3);
  expect(compared.stderr.match(/more than the travel/g)).toHaveLength(1);
});
