// "advise" in a job: what stands in for it, and that a job without it keeps its numbers.

import { expect, test } from "vitest";
import { findings, type Loose, read, set } from "./example.ts";

const advised = (change: (job: Loose) => unknown = () => {}) =>
  read((job) => {
    job.setups[0].passes = { feed: "advise", speed: "advise" };
    change(job);
  }).setups[0].passes;

test("when both are left to us then feed and speed suit cutter, axes and spindle, and it says why", () => {
  // By hand: chips of 0.29 mm, the middle of 0.08 to 0.5; two millimetres of general hardwood at 40 J/cm3 in
  // a row 63.5 mm wide take 2.4 kW at 28346 mm/min, and the axes reach 15000 mm/min. Three edges then want
  // 15000 / 0.87 = 17241 rev/min.
  const passes = advised();
  expect(passes).toMatchObject({
    speed: 17_200,
    feedMmPerMin: 14_950,
    resinFeedMmPerMin: null,
    finish: null,
  });
  expect(passes.advised).toContain("the axes reach 15000 mm/min");
});

test("when one is given then the other goes by it", () => {
  // By hand: 0.29 * 3 * 14000 = 12180 mm/min; 6000 / 0.87 = 6896 rev/min.
  expect(advised(set("setups[0].passes.speed", 14_000))).toMatchObject({
    speed: 14_000,
    feedMmPerMin: 12_150,
  });
  expect(advised(set("setups[0].passes.feed", 6000))).toMatchObject({ speed: 6800, feedMmPerMin: 6000 });
});

test("when a piece holds resin then resin gets its own feed", () => {
  const passes = advised(set("pieces[0].shell", { upper: 3 }));
  // By hand: 2.4 kW / (63.5 mm * 2 mm * 200 J/cm3) = 5669 mm/min.
  expect(passes.resinFeedMmPerMin).toBe(5650);
});

test("when nothing is left to us then all numbers stay, and nothing is advised", () => {
  const { passes } = read((job) => {
    job.setups[0].passes = {
      feed: 6001.5,
      speed: 14_001,
      resinFeed: 4000,
      finish: { depth: 0.5, feed: 3333 },
    };
  }).setups[0];
  expect(passes).toMatchObject({ feedMmPerMin: 6001.5, speed: 14_001, resinFeedMmPerMin: 4000 });
  expect(passes.finish?.feedMmPerMin).toBe(3333);
  expect(passes).not.toHaveProperty("advised");
});

test("when it stands where a feed is a fact of the shop then it is refused", () => {
  expect(findings(set("shop.machine.feedLimit.x", "advise"))[0]).toContain('found "advise"; wanted a feed');
});

test("when it is spelt otherwise then it is refused, and the word is named", () => {
  expect(findings(set("setups[0].passes.feed", "advice"))[0]).toContain('or "advise"');
  expect(findings(set("setups[0].passes.speed", "fast"))[0]).toContain('or "advise"');
});
