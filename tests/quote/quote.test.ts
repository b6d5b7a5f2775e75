// Quotes from invented tables: against closed forms, against the whole planner, and against tables held out.

import { describe, expect, test } from "vitest";
import type { Job, Piece } from "../../src/job/job.ts";
import { handsOf } from "../../src/plan/hands.ts";
import { planJob } from "../../src/plan.ts";
import { Dice } from "../../src/quote/dice.ts";
import { unmeasured } from "../../src/quote/draws.ts";
import { inventedCast, inventedSlab } from "../../src/quote/faces.ts";
import { explainedShare, quantile, quoteDocument, quoteOf } from "../../src/quote/quote.ts";
import { bindingLimits, settingsToCompare, withSettings } from "../../src/quote/settings.ts";
import { usualSettings } from "../../src/quote/sizes.ts";
import { Known, timesOf } from "../../src/quote/times.ts";
import { drawsOf, STILL, smallJob, smallShop } from "./sizes.ts";

const RATES = { currency: "EUR", machineHour: 90, labourHour: 60 };

describe("chance", () => {
  test("shares and normal numbers have the moments that they should have", () => {
    const dice = new Dice(7, 3);
    const count = 20_000;
    const shares = Array.from({ length: count }, () => dice.share());
    const normals = Array.from({ length: count }, () => dice.normal());
    const moment = (values: number[], power: number, about = 0) =>
      values.reduce((sum, value) => sum + (value - about) ** power, 0) / count;
    expect(Math.min(...shares)).toBeGreaterThanOrEqual(0);
    expect(Math.max(...shares)).toBeLessThan(1);
    expect(moment(shares, 1)).toBeCloseTo(0.5, 2);
    expect(moment(shares, 2, 0.5)).toBeCloseTo(1 / 12, 2);
    expect(Math.abs(moment(normals, 1))).toBeLessThan(0.03);
    expect(moment(normals, 2)).toBeCloseTo(1, 1);
    // Irwin and Hall with twelve: the fourth moment is 2.9, where that of the normal distribution is 3.
    expect(moment(normals, 4)).toBeCloseTo(2.9, 0);
  });

  test("streams of one seed, and seeds beside each other, are not alike", () => {
    const first = (seed: number, stream: number) => new Dice(seed, stream).share();
    const all = [0, 1, 2, 3].flatMap((seed) => [0, 1, 2, 3].map((stream) => first(seed, stream)));
    expect(new Set(all).size).toBe(all.length);
    // Golden: the same on every machine.
    const dice = new Dice(1, 0);
    expect([dice.share(), dice.share(), dice.normal()]).toEqual(GOLDEN);
  });
});

const GOLDEN = [0.2735211516264826, 0.7671333642210811, 0.0072196361143141985];

describe("invented faces", () => {
  test("when only one thing is off then the face has its shape, and lies on the bed", () => {
    const [slab] = smallJob().pieces;
    const heights = (warp: object) => {
      const { piece } = inventedSlab(slab, 50, { ...STILL, ...warp }, new Dice(1, 1));
      if (piece.upper?.kind !== "grid" || piece.under?.kind !== "grid") throw new Error("no grid");
      const { cols, rows, z } = piece.upper;
      const under = piece.under.z;
      expect(Math.min(...under)).toBe(0);
      return {
        at: (col: number, row: number) =>
          z[(row < 0 ? rows + row : row) * cols + (col < 0 ? cols + col : col)],
        z,
        under,
        cols,
        rows,
      };
    };
    const flat = heights({});
    expect([...flat.z].every((height) => height === 50)).toBe(true);
    const bow = heights({ bow: 0.01 });
    expect(bow.at(0, 0)).toBeCloseTo(bow.at(0, -1), 9);
    expect(bow.at(0, 0)).toBeCloseTo(bow.at(-1, 0), 9);
    const twist = heights({ twist: 0.01 });
    // One corner off the plane of the other three: a - b - c + d.
    const off = twist.at(0, 0) - twist.at(-1, 0) - twist.at(0, -1) + twist.at(-1, -1);
    expect(Math.abs(off)).toBeGreaterThan(0.1);
    expect(twist.at(4, 0) - (twist.at(0, 0) + (4 / 9) * (twist.at(-1, 0) - twist.at(0, 0)))).toBeCloseTo(
      0,
      9,
    );
    // Both faces alike.
    for (const warped of [bow, twist])
      warped.z.forEach((height, k) => {
        expect(height - warped.under[k]).toBeCloseTo(50, 9);
      });
    const wedge = heights({ wedge: 0.01 });
    expect(wedge.at(0, 0) - wedge.at(-1, 0)).not.toBeCloseTo(0, 3);
  });

  test("when faces were measured then they stay, and the other follows", () => {
    const [slab] = smallJob().pieces;
    const warp = { ...STILL, bow: 0.01, twist: 0.01 };
    const { piece: known } = inventedSlab(slab, 50, warp, new Dice(1, 1));
    expect(inventedSlab(known, 50, warp, new Dice(9, 9)).piece).toBe(known);
    const half: Piece = { ...known, under: null };
    const { piece } = inventedSlab(half, 50, warp, new Dice(9, 9));
    expect(piece.upper).toBe(half.upper);
    if (piece.under?.kind !== "grid" || known.under?.kind !== "grid") throw new Error("no grid");
    // Smoothed, so not the same to the last, and not far.
    piece.under.z.forEach((height, k) => {
      expect(Math.abs(height - (known.under as { z: Float64Array }).z[k])).toBeLessThan(1);
    });
  });

  test("a cast piece has at most its shell less than it should", () => {
    const top = smallJob({ slabs: 2, shellMm: 6 }).pieces[2];
    for (let k = 0; k < 50; k++) {
      const { piece } = inventedCast(top, 60, 6, { ...STILL, shellShare: 1 }, new Dice(1, k));
      const [height] = (piece.upper as { z: Float64Array }).z;
      expect(height).toBeGreaterThanOrEqual(54);
    }
  });
});

describe("times", () => {
  test("are near those of the whole planner on the same faces", () => {
    const shop = smallShop();
    for (const sizes of [{}, { slabs: 2, shellMm: 5, widthMm: 600 }]) {
      const job = smallJob({ ...sizes, finishedMm: 38 }, shop);
      const dice = new Dice(4, 2);
      const faces = new Map(
        job.pieces
          .filter(({ madeOf }) => madeOf.length === 0)
          .map((piece) => [piece.id, inventedSlab(piece, 50, shop.quoting.warp, dice).piece]),
      );
      const swap = (piece: Piece) => faces.get(piece.id) ?? piece;
      const measured: Job = {
        ...job,
        pieces: job.pieces.map(swap),
        setups: job.setups.map((setup) => ({ ...setup, pieces: setup.pieces.map(swap) })),
      };
      const asIs = { laid: (piece: Piece) => piece, cast: (piece: Piece) => piece, marginMm: () => 0.5 };
      const quick = timesOf(measured, asIs, new Known());
      const { setups } = planJob(measured);
      const total = (seconds: number[]) => seconds.reduce((sum, each) => sum + each, 0);
      const ratio =
        total(quick.map(({ seconds }) => seconds)) / total(setups.map(({ seconds }) => seconds.total));
      expect(ratio).toBeGreaterThan(0.98);
      expect(ratio).toBeLessThan(1.03);
      const rows = total(quick.map(({ rowSeconds }) => rowSeconds));
      const cutting = total(setups.map(({ seconds }) => seconds.cutting));
      expect(rows / cutting).toBeGreaterThan(0.97);
      expect(rows / cutting).toBeLessThan(1.06);
    }
  });

  test("people's work is counted as it comes up", () => {
    // Two slabs, each laid, skimmed, turned, skimmed; then cast, laid, cut, turned, cut.
    const hands = handsOf(smallJob({ slabs: 2, shellMm: 5 }));
    expect(hands.map(({ loads }) => loads)).toEqual([1, 0, 1, 0, 1, 0]);
    expect(hands.map(({ turns }) => turns)).toEqual([0, 1, 0, 1, 0, 1]);
    expect(hands.every(({ cutterChanges }) => cutterChanges === 0)).toBe(true);
    const upper = handsOf(smallJob({ faces: "upper" }));
    expect(upper).toEqual([{ loads: 1, turns: 0, cutterChanges: 0 }]);
  });
});

describe("the spread", () => {
  test("when only the machine's ratio differs then it is that of the normal distribution", () => {
    const shop = smallShop({ warp: STILL, handShare: 0 });
    const job = smallJob({ faces: "upper" }, shop);
    const [{ minutes }] = drawsOf(job, 1);
    const machine = minutes[0];
    const hands = 25;
    const quote = quoteOf(job, RATES, 1, drawsOf(job, 1000, 1, { expected: 1.1, expectedSpread: 0.1 }));
    // Nine tenths of a normal distribution lie below mean + 1.2816 sigma.
    const at = (sigmas: number) => (machine * (1.1 + 0.1 * sigmas) + hands) / 60;
    const tolerance = (0.015 * machine) / 60;
    expect(Math.abs(quote.hours.low - at(-1.2816))).toBeLessThan(tolerance);
    expect(Math.abs(quote.hours.likely - at(0))).toBeLessThan(tolerance);
    expect(Math.abs(quote.hours.high - at(1.2816))).toBeLessThan(tolerance);
    expect(quote.drivers).toEqual([{ name: "machine", share: expect.any(Number) }]);
    expect(quote.drivers[0].share).toBeGreaterThan(0.95);
  });

  test("when only people's minutes differ then so do the hours, by their share", () => {
    const shop = smallShop({ warp: STILL, handShare: 0.2 });
    const job = smallJob({ faces: "upper" }, shop);
    const [{ minutes }] = drawsOf(job, 1);
    const quote = quoteOf(job, RATES, 1, drawsOf(job, 1000));
    const at = (sigmas: number) => (minutes[0] + 25 * (1 + 0.2 * sigmas)) / 60;
    expect(Math.abs(quote.hours.low - at(-1.2816))).toBeLessThan(0.012);
    expect(Math.abs(quote.hours.high - at(1.2816))).toBeLessThan(0.012);
  });

  test("when only the shell's thickness differs then layers are as often as many as its distribution says", () => {
    // 6 mm of resin to cut, give or take 1.8, in layers of 2 mm: up to 4 mm, which is 1.11 sigma less, take two layers
    // (13.3 % of a normal distribution), up to 6 three (36.7 %), up to 8 four (36.7 %), more five (13.3 %).
    const cast = (shell: number, shellShare: number) => {
      const plain = smallJob({ faces: "upper" }, smallShop({ warp: { ...STILL, shellShare }, handShare: 0 }));
      const pieces = [{ ...plain.pieces[0], thicknessMm: 50 + shell, shellMm: { upper: 6, under: 0 } }];
      const target = { kind: "thickness", mm: 50 } as const;
      return {
        ...plain,
        pieces,
        setups: plain.setups.map((setup) => ({ ...setup, pieces, target, marginMm: 0 })),
      };
    };
    const minutesOf = (job: Job, count: number) => drawsOf(job, count).map((draw) => draw.minutes[1]);
    const ofLayers = [1, 2, 3, 4, 5, 6].map((count) => minutesOf(cast(2 * count - 0.5, 0), 1)[0]);
    const layers = minutesOf(cast(6, 0.3), 300).map((minutes) => {
      const miss = ofLayers.map((each) => Math.abs(each - minutes));
      expect(Math.min(...miss)).toBeLessThan(0.05 * minutes);
      return miss.indexOf(Math.min(...miss)) + 1;
    });
    const share = (from: number, to: number) =>
      layers.filter((count) => count >= from && count <= to).length / layers.length;
    // Three standard errors.
    expect(Math.abs(share(0, 2) - 0.133)).toBeLessThan(0.06);
    expect(Math.abs(share(3, 3) - 0.367)).toBeLessThan(0.085);
    expect(Math.abs(share(4, 4) - 0.367)).toBeLessThan(0.085);
    expect(Math.abs(share(5, 9) - 0.133)).toBeLessThan(0.06);
  });

  test("of tables held out about eight in ten lie within low and high", () => {
    const job = smallJob({ faces: "upper" });
    const ratio = { expected: 1.05, expectedSpread: 0.08 };
    const quote = quoteOf(job, RATES, 1, drawsOf(job, 200, 1, ratio));
    const heldOut = quoteOf(job, RATES, 2, drawsOf(job, 400, 77, ratio)).sortedHours;
    const within = heldOut.filter((hours) => hours >= quote.hours.low && hours <= quote.hours.high).length;
    // Two standard errors of 200 and of 400 tables: about 0.07.
    expect(within / 400).toBeGreaterThan(0.73);
    expect(within / 400).toBeLessThan(0.87);
  });

  test("when faces are measured then it is narrower", () => {
    const warp = { ...smallShop().quoting.warp, bow: 0.005 };
    const job = smallJob({ faces: "upper" }, smallShop({ warp, handShare: 0.02 }));
    const [slab] = job.pieces;
    const { piece } = inventedSlab(slab, 50, job.shop.quoting.warp, new Dice(3, 3));
    const measured = {
      ...job,
      pieces: [piece],
      setups: job.setups.map((setup) => ({ ...setup, pieces: [piece] })),
    };
    const bare = unmeasured(measured);
    if (bare === null) throw new Error("nothing was measured");
    expect(unmeasured(job)).toBeNull();
    const ratio = { expected: 1, expectedSpread: 0.03 };
    const width = (one: Job) => {
      const { hours } = quoteOf(one, RATES, 1, drawsOf(one, 60, 1, ratio));
      return hours.high - hours.low;
    };
    expect(width(measured)).toBeLessThan(0.7 * width(bare));
  });
});

describe("a quote", () => {
  test("its parts add up to what is likely, by the rates", () => {
    const shop = smallShop({ mindingShare: 0.5, marginShare: 0.2 });
    const job = smallJob({ slabs: 2, shellMm: 5, finishedMm: 38 }, shop);
    const { hours, price, parts, faces } = quoteDocument(quoteOf(job, RATES, 1, drawsOf(job, 12)));
    const by = new Map(parts.map((part) => [part.name, part]));
    const sum = (values: number[]) => values.reduce((all, value) => all + value, 0);
    expect(faces).toBe(12);
    expect(sum(parts.map(({ minutes }) => minutes)) / 60).toBeCloseTo(hours.likely, 5);
    expect(sum(parts.map((part) => part.price))).toBeCloseTo(price.likely, 5);
    expect(hours.low).toBeLessThanOrEqual(hours.likely);
    expect(hours.likely).toBeLessThanOrEqual(hours.high);
    expect(parts.map(({ name }) => name)).toEqual(
      "skim,shell upper,shell under,cutter changes,turning over,zeroing,loading,pushing on,inserts,labour,margin".split(
        ",",
      ),
    );
    // People's minutes as the shop says: three loads, three turns, six zeros.
    expect(by.get("loading")).toMatchObject({ minutes: 60, price: 60 });
    expect(by.get("turning over")).toMatchObject({ minutes: 45, price: 45 });
    expect(by.get("zeroing")).toMatchObject({ minutes: 30, price: 30 });
    const machine = ["skim", "shell upper", "shell under"].map((name) => by.get(name)!);
    for (const part of machine) {
      expect(part.minutes).toBeGreaterThan(0);
      expect(part.price).toBeCloseTo((90 * part.minutes) / 60, 1);
    }
    const running = sum(machine.map(({ minutes }) => minutes)) / 60;
    expect(by.get("labour")!.price).toBeCloseTo(0.5 * 60 * running, 1);
    // 3 an hour in rows, which are most of the machine's time.
    expect(by.get("inserts")!.price).toBeGreaterThan(3 * 0.8 * running);
    expect(by.get("inserts")!.price).toBeLessThan(3 * running);
    expect(by.get("margin")!.price).toBeCloseTo(price.likely / 6, 1);
  });

  test("is the same for the same seed, whoever draws which table", () => {
    const job = smallJob({ faces: "upper" });
    const whole = drawsOf(job, 8);
    expect([...drawsOf(job, 3, 1, undefined, 5)]).toEqual(whole.slice(5));
    expect(drawsOf(job, 8, 2)).not.toEqual(whole);
  });

  test("ten times the tables hardly move what is likely", () => {
    const job = smallJob({ faces: "upper" });
    const ratio = { expected: 1, expectedSpread: 0.1 };
    const few = quoteOf(job, RATES, 1, drawsOf(job, 100, 1, ratio)).hours.likely;
    const many = quoteOf(job, RATES, 1, drawsOf(job, 1000, 1, ratio)).hours.likely;
    expect(Math.abs(few / many - 1)).toBeLessThan(0.03);
  });

  test("when the wood is too thin for the thickness then it says in how many tables", () => {
    const thin = smallJob({ finishedMm: 49 }, smallShop({ warp: { ...STILL, bow: 0.01 } }));
    expect(quoteOf(thin, RATES, 1, drawsOf(thin, 20)).missedShare).toBeGreaterThan(0.5);
    // What a setup does not ask for is not missed.
    const [setup] = thin.setups;
    const skim = { ...thin, setups: [{ ...setup, target: { kind: "cleanUp", share: 0.85 } as const }] };
    expect(quoteOf(skim, RATES, 1, drawsOf(skim, 20))).toMatchObject({ missedShare: 0, missedBy: [] });
    const thick = smallJob({ finishedMm: 30 }, smallShop({ warp: { ...STILL, bow: 0.001 } }));
    expect(quoteOf(thick, RATES, 1, drawsOf(thick, 20)).missedShare).toBe(0);
  });
});

describe("settings", () => {
  test("every cutter with its depths and stepovers is compared once", () => {
    const shop = smallShop();
    const all = settingsToCompare(
      usualSettings(shop.cutters[0]),
      ["cutter", "depth", "stepover"],
      shop,
      shop.units,
    );
    const keys = all.map(({ cutter, depthMm, stepoverShare }) => `${cutter.id} ${depthMm} ${stepoverShare}`);
    expect(new Set(keys).size).toBe(keys.length);
    expect(all.every(({ cutter, depthMm }) => depthMm <= cutter.depthMaxMm)).toBe(true);
    expect(keys).toContain("flat63 2 0.6");
    expect(keys).toContain("flat40 3 0.8");
    expect(
      settingsToCompare(usualSettings(shop.cutters[0]), ["depth"], shop, shop.units).map(
        ({ depthMm }) => depthMm,
      ),
    ).toEqual([1, 2, 3, 4]);
  });

  test("in inches depths are round there", () => {
    const shop = smallShop();
    const depths = settingsToCompare(
      { ...usualSettings(shop.cutters[0]), depthMm: 1.5875 },
      ["depth"],
      shop,
      "in",
    );
    // 1/32, 1/16 and 1/8 in, and the cutter's own 4 mm.
    expect(depths.map(({ depthMm }) => depthMm)).toEqual([0.79375, 1.5875, 3.175, 4]);
  });

  test("what binds is the axes, the power, the chips or the ridge", () => {
    const shop = smallShop();
    const [flat63, flat40] = shop.cutters;
    const limits = (settings: Parameters<typeof withSettings>[1], one = shop) =>
      bindingLimits(withSettings(smallJob({}, one), settings).setups[0], one, true);
    // 15 m/min is the axes' limit; 63.5 mm x 4 mm x 15 m/min x 40 J/cm3 is 2.5 kW, and there are 2.4.
    expect(limits({ cutter: flat63, depthMm: 2, stepoverShare: 0.6 })).toEqual(["feed limit"]);
    expect(limits({ cutter: flat63, depthMm: 4, stepoverShare: 0.6 })).toEqual(["power"]);
    // Two edges at 22 000 rev/min with chips of 0.24 mm: 10.6 m/min.
    expect(limits({ cutter: flat40, depthMm: 1, stepoverShare: 0.6 })).toEqual(["chip load"]);
    const { machine } = shop;
    const tilted = {
      ...shop,
      machine: { ...machine, spindle: { ...machine.spindle, outOfSquare: { x: 1, y: 0 } } },
    };
    expect(limits({ cutter: flat63, depthMm: 2, stepoverShare: 0.6 }, tilted)).toContain("ridge");
  });
});

describe("statistics", () => {
  test("quantiles lie between the nearest two", () => {
    expect(quantile([0, 10], 0.1)).toBe(1);
    expect(quantile([1, 2, 3, 4, 5], 0.5)).toBe(3);
    expect(quantile([7], 0.9)).toBe(7);
  });

  test("the share that a driver explains is that of its variance", () => {
    // y = 2 a + b of independent a and b with the same variance: 0.8 and 0.2.
    const dice = new Dice(5, 5);
    const a = Array.from({ length: 5000 }, () => dice.normal());
    const b = Array.from({ length: 5000 }, () => dice.normal());
    const y = a.map((value, k) => 2 * value + b[k]);
    // Groups of a tenth each hold about 97 % of a normal variable's variance between them.
    expect(explainedShare(a, y)).toBeCloseTo(0.78, 1);
    expect(explainedShare(b, y)).toBeCloseTo(0.2, 1);
    const c = Array.from({ length: 5000 }, () => dice.normal());
    expect(explainedShare(c, y)).toBeLessThan(0.01);
    expect(explainedShare([1, 1, 1], [1, 2, 3])).toBe(0);
  });
});
