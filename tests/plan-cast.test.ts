// Wood set in resin: what the pour takes, what the cast weighs, where the shell's floor comes to lie, and how fast
// resin is cut. Boxes and planes, so that all is arithmetic; the same cast is also written out by hand as `wood` and
// `shell`. Density of epoxy 1100 kg/m3 (clear casting systems, 1.08 to 1.15: from memory), of white oak
// 0.68 x 1120 kg/m3 (specific gravity at 12 %, weighed with its water).

import { describe, expect, test } from "vitest";
import { PlanError } from "../src/errors.ts";
import { checkProgram, type Plan, type PlannedSetup } from "../src/plan.ts";
import type { Loose } from "./job/example.ts";
import { distanceToEdge, isInside, type Polygon } from "./oracles/judge-plane.ts";
import { type Move, readProgram } from "./oracles/judge-program.ts";
import { asRead, codesOf, gridOf, jobOf, planned, refusal, textOf } from "./planned.ts";

const RESIN_KG = 1.1; // a litre
const OAK_KG = 0.68 * 1.12;

/** 300 x 150 x 40 from (0, 0), and 300 x 100 x 40 from (0, 200). */
const LEFT = {
  id: "left",
  material: "white oak",
  grain: 0,
  outline: { length: 300, width: 150 },
  thickness: 40,
};
const RIGHT = {
  ...{ id: "right", material: "white oak", grain: 0, thickness: 40 },
  outline: { length: 300, width: 100, at: [0, 200] },
};
/** A mold of 320 x 290 in which they lie 10 mm from its walls and 20 mm from each other. */
const TOP = {
  ...{ id: "top", material: "white oak", grain: 0, shell: { upper: 6, under: 4 } },
  outline: { length: 320, width: 290 },
  madeOf: [
    { piece: "left", at: [10, 10], after: "skim" },
    { piece: "right", at: [10, -20], after: "skim" },
  ],
};
const SKIM = { id: "skim", target: { thickness: 38 } };
const RESIN = { feed: 6000, resinFeed: 4200 };

const shellTo = (target: Loose, more: Loose = {}) => ({ id: "shell", target, passes: RESIN, ...more });
const underTo = (target: Loose, more: Loose = {}) => ({
  ...{ id: "under", face: "under", target, passes: RESIN },
  ...more,
});

const [moldDm2, woodDm2] = [3.2 * 2.9, 3 * 1.5 + 3 * 1];

describe("the pour of two boxes in a box", () => {
  // 38 mm of wood, 4 under it and 6 over it.
  const plan = planned(jobOf([LEFT, RIGHT, TOP], SKIM, shellTo({ cleanUp: 1 }), underTo({ thickness: 37 })));
  const [, shell, under] = plan.setups;
  const [cast] = plan.casts;

  test("takes what is not wood, in litres and kilograms, and weighs both together", () => {
    expect(plan.casts).toHaveLength(1);
    const resin = moldDm2 * 0.48 - woodDm2 * 0.38;
    expect(cast.piece).toBe("top");
    expect(cast.resinLitres).toBeCloseTo(resin, 4);
    expect(cast.resinKg).toBeCloseTo(resin * RESIN_KG, 4);
    expect(cast.woodLitres).toBeCloseTo(woodDm2 * 0.38, 4);
    expect(cast.massBeforeKg).toBeCloseTo(resin * RESIN_KG + woodDm2 * 0.38 * OAK_KG, 3);
  });

  test("the shell's floor is the wood's plane: all of the resin over it goes, and no wood", () => {
    expect(shell.floorMm).toBeCloseTo(42, 2);
    expect(shell.removedLitres.resin).toBeCloseTo(moldDm2 * 0.06, 3);
    expect(shell.removedLitres.wood).toBeLessThan(0.001);
    expect(shell.pieces).toMatchObject([{ id: "top", cleanUp: 1, resinCleanUp: 1 }]);
  });

  test("the under face loses its shell and 1 mm of the wood, and the mass follows", () => {
    // It lies on the upper face's floor of 42; 37 above that are 5 from the mold's floor.
    expect(under.removedLitres.wood).toBeCloseTo(woodDm2 * 0.01, 3);
    expect(under.removedLitres.resin).toBeCloseTo(moldDm2 * 0.05 - woodDm2 * 0.01, 3);
    const after = (moldDm2 - woodDm2) * 0.37 * RESIN_KG + woodDm2 * 0.37 * OAK_KG;
    expect(cast.massAfterKg).toBeCloseTo(after, 2);
    expect(under.pieces[0].thinnestMm).toBeCloseTo(37, 4);
    expect(codesOf(under)).not.toContain("rocks");
  });

  test("the skim was deep enough", () => {
    for (const { deeperMm } of cast.skims) expect(deeperMm).toBe(0);
  });

  test("shop time counts a load for the wood and one for the cast", () => {
    const job = jobOf([LEFT, RIGHT, TOP], SKIM, shellTo({ cleanUp: 1 }));
    job.shop.rates = {
      ...{ currency: "CAD", machineHour: 95, labourHour: 65 },
      minutes: { load: 20, turnOver: 15, cutterChange: 4, zero: 3 },
    };
    const { seconds } = planned(job);
    expect(seconds.shop - seconds.machine).toBeCloseTo(60 * (2 * 20 + 2 * 3), 6);
  });

  test("a thickness that is given, or a face that was measured, stands for the shell over the highest wood", () => {
    const resinOf = (more: Loose) =>
      planned(jobOf([LEFT, RIGHT, { ...TOP, ...more }], SKIM, shellTo({ depth: 3 })));
    const given = resinOf({ thickness: 50 });
    expect(given.casts[0].resinLitres).toBeCloseTo(moldDm2 * 0.5 - woodDm2 * 0.38, 4);
    expect(given.setups[1].floorMm).toBe(47);
    // A face that rises from 46 to 52, 49 in the mean.
    const upper = gridOf((x) => 46 + (6 * x) / 320, { x: 0, y: 0, length: 320, width: 290 }, 40);
    const measured = resinOf({ upper });
    expect(measured.casts[0].resinLitres).toBeCloseTo(moldDm2 * 0.49 - woodDm2 * 0.38, 3);
    expect(measured.setups[1].floorMm).toBeCloseTo(49, 6);
  });
});

// The left slab falls from 40 to 32 along its length; skimmed to three quarters of that, the last quarter stays
// rough and falls by 2 mm from the plane at 34.
const SLOPED = {
  ...LEFT,
  thickness: undefined,
  upper: gridOf((x) => 40 - (8 * x) / 300, { x: 0, y: 0, length: 300, width: 150 }, 30),
};
const ROUGH_SKIM = { id: "skim", target: { thickness: 34 } };

describe("a skim that left a rough quarter", () => {
  const plan = planned(jobOf([SLOPED, RIGHT, TOP], ROUGH_SKIM, shellTo({ cleanUp: 0.9 })));
  const [skim, shell] = plan.setups;

  test("is found again: the shell's floor is the one that brings all wood to its share", () => {
    expect(skim.pieces[0].cleanUp).toBeCloseTo(0.75, 2);
    // 7.5 of 75 thousand mm2 stay: a sixth of the left slab's length, so the floor lies a twelfth below where
    // the slope begins: 8 / 12 under the plane, which lies 4 + 34 above the mold's floor.
    expect(shell.floorMm).toBeLessThanOrEqual(38 - 8 / 12 + 0.001);
    expect(shell.floorMm).toBeGreaterThan(38 - 8 / 12 - 0.03);
    expect(shell.pieces[0].cleanUp).toBeCloseTo(0.9, 2);
  });

  test("and the plan says how much deeper the skim should have gone", () => {
    const deeper = 38 - shell.floorMm;
    expect(plan.casts[0].skims).toHaveLength(1);
    expect(plan.casts[0].skims[0]).toMatchObject({ setup: "shell", skims: ["skim"] });
    expect(plan.casts[0].skims[0].deeperMm).toBeCloseTo(deeper, 2);
    // So much less around the wood up to the same shell over it.
    expect(plan.casts[0].skims[0].resinLitresLess).toBeCloseTo((moldDm2 - woodDm2) * (deeper / 100), 3);
  });

  test("wood and resin that come off are those of the planes", () => {
    // 75 x 150 of slope lie 0 to 2 mm under the plane, the first third of it above the floor.
    const f = shell.floorMm;
    const deep = 38 - f;
    const slopeMm2 = 150 * ((300 / 8) * deep);
    const wood = ((75_000 - 75 * 150) * deep + (slopeMm2 * deep) / 2) / 1e6;
    expect(shell.removedLitres.wood).toBeCloseTo(wood, 3);
    expect(shell.removedLitres.resin).toBeCloseTo(moldDm2 * ((44 - f) / 100) - wood, 3);
    expect(shell.pieces[0].thicknessAtMm(290, 80)).toBeCloseTo(f, 3);
  });
});

describe("the same cast written out by hand", () => {
  const figures = (plan: Plan, from: number) =>
    plan.setups.slice(from).map(({ floorMm, removedLitres, pieces, layers, seconds }) => ({
      ...{ floorMm, ...removedLitres, layers: layers.length, seconds: seconds.total },
      ...{ cleanUp: pieces[0].cleanUp, resin: pieces[0].resinCleanUp, thin: pieces[0].thinnestMm },
    }));
  const expectAlike = (cast: Plan, from: number, hand: Plan) => {
    const [a, b] = [figures(cast, from), figures(hand, 0)];
    a.forEach((one, k) => {
      for (const [key, value] of Object.entries(one)) {
        const other = b[k][key as keyof typeof one] as number;
        expect(Math.abs((value as number) - other), `${key}: ${value} and ${other}`).toBeLessThan(
          key === "seconds" ? 0.02 * other : 0.004,
        );
      }
    });
    for (const key of ["resinLitres", "resinKg", "woodLitres", "massBeforeKg", "massAfterKg"] as const)
      expect(Math.abs(cast.casts[0][key] - hand.casts[0][key]), key).toBeLessThan(0.003);
  };
  const shells = [shellTo({ cleanUp: 0.95 }), underTo({ thickness: 36.5 })];
  const box = (x: number, y: number, length: number, width: number) => ({ length, width, at: [x, y] });

  test("of level wood", () => {
    const cast = planned(jobOf([LEFT, RIGHT, TOP], SKIM, shellTo({ cleanUp: 1 }), shells[1]));
    const { madeOf: _, ...plain } = TOP;
    const hand = { ...plain, thickness: 48, wood: [box(10, 10, 300, 150), box(10, 180, 300, 100)] };
    expectAlike(cast, 1, planned(jobOf([hand], shellTo({ cleanUp: 1 }), shells[1])));
  });

  test.each([90, 180, -90])(
    "of level wood turned by %i degrees in a mold that is turned with it",
    (angle) => {
      const cast = planned(jobOf([LEFT, RIGHT, TOP], SKIM, shellTo({ depth: 7 }), shells[1]));
      // The whole of it about the origin, and moved back to where X and Y are positive.
      const [dx, dy] = { 90: [290, 0], 180: [320, 290], "-90": [0, 320] }[angle] as [number, number];
      const a = (angle * Math.PI) / 180;
      const [cos, sin] = [Math.round(Math.cos(a)), Math.round(Math.sin(a))];
      const top = {
        ...TOP,
        grain: angle,
        outline: angle === 180 ? box(0, 0, 320, 290) : box(0, 0, 290, 320),
        madeOf: TOP.madeOf.map((part) => {
          const [x, y] = part.at;
          return { ...part, angle, at: [cos * x - sin * y + dx, sin * x + cos * y + dy] };
        }),
      };
      const turned = planned(jobOf([LEFT, RIGHT, top], SKIM, shellTo({ depth: 7 }), shells[1]));
      const [one, other] = [figures(cast, 1), figures(turned, 1)];
      one.forEach((each, k) => {
        expect(other[k].floorMm).toBeCloseTo(each.floorMm, 6);
        expect(other[k].wood).toBeCloseTo(each.wood, 4);
        expect(other[k].resin).toBe(each.resin);
        expect(other[k].cleanUp).toBeCloseTo(each.cleanUp, 4);
      });
      expect(turned.casts[0].resinLitres).toBeCloseTo(cast.casts[0].resinLitres, 4);
    },
  );

  test("of one slab at 30 degrees", () => {
    const a = Math.PI / 6;
    const at = [90, 10];
    const corners = [
      [0, 0],
      [300, 0],
      [300, 150],
      [0, 150],
    ].map(([x, y]) => [x * Math.cos(a) - y * Math.sin(a) + at[0], x * Math.sin(a) + y * Math.cos(a) + at[1]]);
    const top = {
      ...TOP,
      outline: box(0, 0, 370, 320),
      madeOf: [{ piece: "left", at, angle: 30, after: "skim" }],
    };
    const cast = planned(jobOf([LEFT, top], SKIM, shellTo({ depth: 7 }), underTo({ thickness: 36.5 })));
    const { madeOf: _, ...plain } = top;
    const hand = { ...plain, thickness: 48, wood: [corners] };
    expectAlike(cast, 1, planned(jobOf([hand], shellTo({ depth: 7 }), underTo({ thickness: 36.5 }))));
    expect(cast.casts[0].woodLitres).toBeCloseTo(4.5 * 0.38, 4);
  });

  test("of a slab with a slope, whose upper face as skimmed is written as readings", () => {
    // `wood` lies the shell under the face, so the face is the skimmed one, 6 mm higher, for a slab that fills its mold.
    const top = {
      ...TOP,
      outline: box(0, 0, 300, 150),
      madeOf: [{ piece: "left", after: "skim" }],
      upper: gridOf(
        (x) => 10 + Math.min(34, 40 - (8 * x) / 300),
        { x: 0, y: 0, length: 300, width: 150 },
        25,
      ),
    };
    const lower = [shells[0], underTo({ thickness: 34 })];
    const cast = planned(jobOf([SLOPED, top], ROUGH_SKIM, ...lower));
    const { madeOf: _, ...plain } = top;
    const hand = planned(jobOf([plain], ...lower));
    expectAlike(cast, 1, hand);
    expect(cast.setups[1].floorMm).toBeLessThan(38);
  });
});

describe("a cast of parts that were turned", () => {
  test("holds them as their last setup left them, the under face up", () => {
    // The slope lies on the under face, which comes up last.
    const left = {
      ...LEFT,
      under: gridOf((x) => 1 + (8 * x) / 300, { x: 0, y: 0, length: 300, width: 150 }, 30),
    };
    const skims = [
      { id: "first", target: { thickness: 39 } },
      { id: "skim", face: "under", target: { thickness: 34 } },
    ];
    const top = { ...TOP, outline: { length: 320, width: 170 }, madeOf: [TOP.madeOf[0]] };
    const [, , shell] = planned(jobOf([left, top], ...skims, shellTo({ cleanUp: 0.9 }))).setups;
    // Lying on 39, the under face stands 38 to 30 high; 34 clears half of it, and 90 % of it is clear at 30.8.
    expect(shell.floorMm).toBeCloseTo(4 + 30.8, 1);
    expect(shell.found[0].timbers?.[0].top.heightAt(300, 50)).toBeCloseTo(4 + 38 - (8 * 290) / 300, 1);
  });
});

describe("the feed in resin", () => {
  /** Rectangles and one at 30 degrees, a quarter rough, in a mold with room. */
  const a = Math.PI / 6;
  const set = (corners: number[][], at: number[], angle: number): Polygon =>
    corners.map(
      ([x, y]) =>
        [
          x * Math.cos(angle) - y * Math.sin(angle) + at[0],
          x * Math.sin(angle) + y * Math.cos(angle) + at[1],
        ] as const,
    );
  const rectangle = (x: number, y: number, length: number, width: number) => [
    [x, y],
    [x + length, y],
    [x + length, y + width],
    [x, y + width],
  ];
  const leftAt = set(rectangle(0, 0, 300, 150), [95, 10], a);
  const rightAt = set(rectangle(0, 200, 300, 100), [20, 130], 0);
  const top = {
    ...TOP,
    outline: { length: 400, width: 450 },
    madeOf: [
      { piece: "left", at: [95, 10], angle: 30, after: "skim" },
      { piece: "right", at: [20, 130], after: "skim" },
    ],
  };
  const again = { id: "again", target: { depth: 1 }, passes: RESIN };
  const job = jobOf(
    [SLOPED, RIGHT, top],
    ROUGH_SKIM,
    shellTo({ depth: 7.2 }),
    again,
    underTo({ thickness: 31 }),
  );
  const plan = planned(job);
  const radius = 63.5 / 2;
  const cell = 1.5;

  /** Heights of the wood's faces over the mold's floor, NaN in resin; as measured. */
  const woodAt = (x: number, y: number): readonly [number, number] => {
    if (isInside(rightAt, x, y)) return [4, 38];
    if (!isInside(leftAt, x, y)) return [NaN, NaN];
    const along = Math.cos(a) * (x - 95) + Math.sin(a) * (y - 10);
    return [4, 4 + Math.min(34, 40 - (8 * along) / 300)];
  };
  interface Cell {
    readonly x: number;
    readonly y: number;
    readonly wood: readonly [number, number];
    stands: number;
  }
  const grid = (
    face: (x: number, y: number) => { wood: readonly [number, number]; stands: number },
  ): Cell[][] =>
    Array.from({ length: Math.floor(450 / cell) }, (_, row) =>
      Array.from({ length: Math.floor(400 / cell) }, (_, col) => {
        const [x, y] = [(col + 0.37) * cell, (row + 0.61) * cell];
        return { x, y, ...face(x, y) };
      }),
    );
  const upperCells = () => grid((x, y) => ({ wood: woodAt(x, y), stands: 44 }));
  const [, shell, wood, under] = plan.setups;
  const upperFloor = wood.floorMm;
  const underCells = () =>
    grid((x, y) => {
      const [bottom, over] = woodAt(x, 450 - y);
      return { wood: [upperFloor - over, upperFloor - bottom], stands: upperFloor };
    });

  /** Puts the disc down every millimetre and says for each cutting move what it takes, as measured. */
  function taken(setup: PlannedSetup, cells: Cell[][]) {
    const found: { move: Move; resin: boolean }[] = [];
    for (const move of readProgram(textOf(setup)).moves) {
      if (move.kind === "rapid" || Number.isNaN(move.from[0] + move.from[1])) continue;
      const [dx, dy] = [move.to[0] - move.from[0], move.to[1] - move.from[1]];
      const steps = Math.max(1, Math.ceil(Math.sqrt(dx * dx + dy * dy)));
      let resin = false;
      for (let k = 0; k <= steps; k++) {
        const [x, y] = [move.from[0] + (dx * k) / steps, move.from[1] + (dy * k) / steps];
        const z = move.from[2] + ((move.to[2] - move.from[2]) * k) / steps;
        const rows = cells.slice(
          Math.max(0, Math.floor((y - radius) / cell)),
          Math.ceil((y + radius) / cell),
        );
        for (const row of rows) {
          const half = Math.sqrt(Math.max(0, radius ** 2 - (row[0].y - y) ** 2));
          const last = Math.min(row.length - 1, Math.floor((x + half) / cell - 0.37));
          for (let c = Math.max(0, Math.ceil((x - half) / cell - 0.37)); c <= last; c++) {
            const one = row[c];
            if (one.stands <= z) continue;
            const [bottom, over] = one.wood;
            const isWood = !Number.isNaN(over);
            // Cells that the border runs through, and films of resin thinner than a cell's slope, tell nothing.
            if (!isWood || one.stands > over + 0.05 || z < bottom - 0.05) resin ||= one.stands > z + 0.05;
            one.stands = z;
          }
        }
      }
      found.push({ move, resin });
    }
    return found;
  }

  test.each([
    ["the upper shell", shell, upperCells],
    ["the under shell", under, underCells],
  ] as const)("%s: every move that takes resin goes at the resin's feed", (_, setup, cells) => {
    const moves = taken(setup, cells());
    const slow = moves.filter(({ resin }) => resin);
    expect(slow.length).toBeGreaterThan(20);
    for (const { move } of slow) expect(move.feed, `line ${move.line}`).toBeLessThanOrEqual(4200);
  });

  test("where the disc is over bare wood, more than a millimetre from its border, the feed is the wood's", () => {
    // Once more over the upper face: right is bare, and left up to where the rough end still lies under resin.
    const bareTo = (300 / 8) * (44 - shell.floorMm);
    const bare = [set(rectangle(0, 0, bareTo - 3, 150), [95, 10], a), rightAt];
    let onWood = 0;
    for (const { kind, from, to, feed, line } of readProgram(textOf(wood)).moves) {
      if (kind === "rapid" || from[2] !== to[2] || Math.abs(to[2] - wood.floorMm) > 1e-6) continue;
      for (let k = 0; k <= 50; k++) {
        const [x, y] = [0, 1].map((axis) => from[axis] + ((to[axis] - from[axis]) * k) / 50);
        const isOnWood = bare.some(
          (outline) => isInside(outline, x, y) && distanceToEdge(outline, x, y) > radius + 1,
        );
        if (!isOnWood) continue;
        onWood++;
        expect(feed, `line ${line}, at ${x} ${y}`).toBe(6000);
      }
    }
    expect(onWood).toBeGreaterThan(100);
    const cells = grid((x, y) => ({ wood: woodAt(x, y), stands: shell.floorMm }));
    const moves = taken(wood, cells);
    for (const { move, resin } of moves)
      if (resin) expect(move.feed, `line ${move.line}`).toBeLessThanOrEqual(4200);
  });

  test("layers over all wood go at the resin's feed all through", () => {
    const feeds = (z: number) =>
      readProgram(textOf(shell))
        .moves.filter(({ kind, to, from }) => kind === "cut" && to[2] === z && from[2] === z)
        .map(({ feed }) => feed);
    const [highest] = shell.layers;
    expect(highest.zMm).toBeGreaterThan(38);
    expect(new Set(feeds(Number(highest.zMm.toFixed(3))))).toEqual(new Set([4200]));
  });

  test("a program without it is found wanting: resin-feed, with both feeds", () => {
    const read = asRead(job);
    const check = (text: string) => checkProgram(read, "shell", new TextEncoder().encode(text));
    const text = textOf(shell);
    expect(check(text)).toMatchObject({ ok: true, findings: [] });
    const raised = check(text.replaceAll("F4200", "F4300"));
    expect(new Set(raised.findings.map(({ code }) => code))).toEqual(new Set(["resin-feed"]));
    expect(raised.findings[0].text).toMatch(/4\.3 m\/min|4300.*4\.2 m\/min|4200/);
    // One line of the last layer alone.
    const lines = text.split("\n");
    const at = lines.findLastIndex((line) => line.includes("F4200"));
    const one = check(lines.with(at, lines[at].replace("F4200", "F5000")).join("\n"));
    expect(one.findings.map(({ code, line }) => `${code} ${line}`)).toContain(`resin-feed ${at + 1}`);
  });

  test("is not asked for where the job gives none, nor of a piece that is all wood", () => {
    const plain = jobOf([LEFT, RIGHT, TOP], SKIM, shellTo({ depth: 3 }, { passes: { feed: 6000 } }));
    expect(textOf(planned(plain).setups[1])).not.toMatch(/F4200/);
    const wood = jobOf([LEFT], shellTo({ depth: 2 }));
    expect(textOf(planned(wood).setups[0])).not.toMatch(/F4200/);
  });
});

describe("what cannot be cast is refused", () => {
  const moldOf = (change: Loose, shell: Loose = shellTo({ depth: 3 })) =>
    refusal(jobOf([LEFT, RIGHT, { ...TOP, ...change }], SKIM, shell));
  const movedPart = (part: Loose) => ({ madeOf: [{ ...TOP.madeOf[0], ...part }, TOP.madeOf[1]] });

  test("mold: a part that reaches out of it, with how much", () => {
    const found = moldOf(movedPart({ at: [30, 10] }));
    expect(found.code).toBe("shell: mold");
    // 10 of 300 mm reach out, 150 wide, less the hair that may touch the wall.
    expect(found.text).toMatch(/"left" reaches out of the mold with 1[45]\.\d cm2/);
    // Touching its wall is not out of it.
    expect(
      planned(jobOf([LEFT, RIGHT, { ...TOP, ...movedPart({ at: [20, 0] }) }], SKIM, shellTo({ depth: 3 })))
        .setups,
    ).toHaveLength(2);
  });

  test("mold: parts over each other, and where", () => {
    const found = moldOf(movedPart({ at: [10, 40] }));
    expect(found.code).toBe("shell: mold");
    expect(found.text).toMatch(/"left".*"right"|"right".*"left"/);
    expect(found.text).toMatch(/overlap at \(/);
    expect(found.text).toContain(
      'before they are moved (after their last setups) "left" from (0, 0) mm to (300, 150) mm, "right" from',
    );
  });

  test("mold: wood that stands higher than the cast is thick", () => {
    const found = moldOf({ thickness: 40 });
    expect(found.code).toBe("shell: mold");
    expect(found.text).toMatch(/42 mm.*40 mm/);
  });

  test("the mold's own place is wrong: all parts are out of it", () => {
    expect(moldOf({ outline: { length: 320, width: 290, at: [2000, 0] } }).code).toBe("shell: mold");
  });

  test("floor: the shell's floor in the air, or in the bed", () => {
    expect(moldOf({}, shellTo({ thickness: 48 })).code).toBe("shell: nothing-to-cut");
    expect(moldOf({}, shellTo({ depth: 48 })).code).toBe("shell: floor-in-bed");
  });

  test("a setup that cannot be made before the pour is named, not the pour", () => {
    const found = refusal(
      jobOf([LEFT, RIGHT, TOP], { ...SKIM, target: { thickness: 41 } }, shellTo({ depth: 3 })),
    );
    expect(found.code).toBe("skim: nothing-to-cut");
  });

  test("checking a program of the cast tells the same", () => {
    const job = asRead(
      jobOf([LEFT, RIGHT, { ...TOP, ...movedPart({ at: [30, 10] }) }], SKIM, shellTo({ depth: 3 })),
    );
    expect(() => checkProgram(job, "shell", new Uint8Array())).toThrow(PlanError);
  });
});
