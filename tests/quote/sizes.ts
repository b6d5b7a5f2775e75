// A small shop and small tables to quote in tests.

import type { Job, Quoting, Shop } from "../../src/job/job.ts";
import { readShop } from "../../src/job/read.ts";
import { type Draw, Drawer } from "../../src/quote/draws.ts";
import { jobFromSizes, type Sizes } from "../../src/quote/sizes.ts";
import { exampleShop } from "../job/example.ts";

/** Nothing differs from table to table. */
export const STILL: Quoting["warp"] = {
  ...{ bow: 0, cup: 0, twist: 0, wedge: 0, sawMarksMm: 0, shellShare: 0, pour: 0 },
};

export function smallShop(quoting: Partial<Quoting> = {}): Shop {
  const raw = exampleShop();
  raw.rates = {
    ...{ currency: "EUR", machineHour: 90, labourHour: 60 },
    minutes: { load: 20, turnOver: 15, cutterChange: 5, zero: 5 },
  };
  raw.cutters[0].inserts = { setCost: 36, lifeHours: 12 };
  raw.cutters.push({
    ...{ id: "flat40", diameter: 40, edges: 2, speedMax: 22000, depthMax: 3 },
    chipLoad: { min: 0.08, max: 0.4 },
  });
  const shop = readShop(JSON.stringify(raw), "shop.json");
  return { ...shop, quoting: { ...shop.quoting, ...quoting } };
}

export function smallJob(sizes: Partial<Sizes> = {}, shop = smallShop()): Job {
  const all: Sizes = {
    ...{ lengthMm: 900, widthMm: 400, thicknessMm: 50, finishedMm: 40, slabs: 1, shellMm: 0 },
    ...{ species: "walnut", faces: "both", cutter: shop.cutters[0] },
    ...sizes,
  };
  return jobFromSizes(all, shop, "shop.json", "Jetty bench");
}

export const CERTAIN = { expected: 1, expectedSpread: 0 };

export function drawsOf(job: Job, count: number, seed = 1, ratio = CERTAIN, first = 0): Draw[] {
  const drawer = new Drawer({ job, seed, ratio });
  return Array.from({ length: count }, (_, k) => drawer.draw(first + k));
}
