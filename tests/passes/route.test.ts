import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { PlanError } from "../../src/errors.ts";
import type { Machine, Piece, Ring, Setup } from "../../src/job/job.ts";
import { isMotion, Kind, type Track } from "../../src/motion/track.ts";
import { type PassesPlan, planPasses } from "../../src/passes/passes.ts";
import { parts, regionOf, rings } from "../../src/region/region.ts";
import { uncutStock } from "../../src/survey/stock.ts";
import {
  anyRing,
  areaOfRing,
  dice,
  distanceToArea,
  distanceToSegment,
  isInside,
  placesAlong,
  polygon,
  rectangle,
  ringOf,
} from "../region/shapes.ts";
import { box, gridOf, measured } from "../survey/pieces.ts";
import { cleat, keepOut, machineWith, type SetupChange, setupOf } from "./setups.ts";

const SEED = 20_260_224;
const RADIUS = 30;
const BOARD = rectangle(0, 0, 600, 200);

function planned(
  change: SetupChange = {},
  piece: Piece = box(53, BOARD),
  machine: Machine = machineWith(),
): PassesPlan & { setup: Setup } {
  const setup = setupOf({ pieces: [piece], ...change });
  return { ...planPasses(setup, machine, [uncutStock(piece)], 0, "mm"), setup };
}

function refusal(run: () => unknown): PlanError {
  try {
    run();
  } catch (error) {
    if (error instanceof PlanError) return error;
    throw error;
  }
  throw new Error("nothing was refused");
}

interface Move {
  readonly rapid: boolean;
  readonly from: readonly [number, number, number];
  readonly to: readonly [number, number, number];
  readonly feed: number;
  readonly row: number;
}

/** An arc is taken in so many chords. */
const CHORDS = 64;

/** Moves between known places, in the frame's coordinates. */
function movesOf({ track, zeroMm }: PassesPlan): Move[] {
  const moves: Move[] = [];
  const at = (k: number) => [track.x[k] + zeroMm.x, track.y[k] + zeroMm.y, track.z[k] + zeroMm.z] as const;
  for (let k = 1; k < track.count; k++) {
    if (!isMotion(track.kind[k]) || Number.isNaN(track.x[k - 1])) continue;
    const common = { rapid: track.kind[k] === Kind.rapid, feed: track.value[k], row: track.row[k] };
    if (track.kind[k] <= Kind.cut) moves.push({ ...common, from: at(k - 1), to: at(k) });
    else
      for (const [from, to] of chordsOf(at(k - 1), at(k), track, zeroMm, k))
        moves.push({ ...common, from, to });
  }
  return moves;
}

type At = readonly [number, number, number];

function chordsOf(from: At, to: At, track: Track, zero: PassesPlan["zeroMm"], k: number): [At, At][] {
  const [cx, cy] = [track.centreX[k] + zero.x, track.centreY[k] + zero.y];
  const radius = Math.hypot(from[0] - cx, from[1] - cy);
  expect(Math.hypot(to[0] - cx, to[1] - cy)).toBeCloseTo(radius, 6);
  const start = Math.atan2(from[1] - cy, from[0] - cx);
  const turn = track.kind[k] === Kind.arcClockwise ? -1 : 1;
  const sweep = (turn * (Math.atan2(to[1] - cy, to[0] - cx) - start) + 4 * Math.PI) % (2 * Math.PI);
  const places = Array.from({ length: CHORDS + 1 }, (_, n): At => {
    const angle = start + (turn * sweep * n) / CHORDS;
    return [cx + radius * Math.cos(angle), cy + radius * Math.sin(angle), to[2]];
  });
  return places.slice(1).map((place, n) => [places[n], place]);
}

const goesOver = ({ from, to }: Move) => Math.hypot(to[0] - from[0], to[1] - from[1]) > 1e-9;
const goesDown = ({ from, to }: Move) => to[2] < from[2] - 1e-9;
/** Cuts at a layer's depth. */
const atDepth = (moves: readonly Move[], z: number) =>
  moves.filter((move) => !move.rapid && Math.abs(move.to[2] - z) < 1e-6 && Math.abs(move.from[2] - z) < 1e-6);

/**
 * Comes down on a board that stands `topMm` high all over: straight down only clear of it, or where the disc has
 * been at that depth before; else no steeper than the ramp.
 */
function expectAirBelow(moves: readonly Move[], outline: Ring, topMm: number, rampRad = 0): void {
  const been: Move[] = [];
  for (const move of moves) {
    const [x, y, z] = move.to;
    if (goesDown(move) && goesOver(move)) {
      const slope = (move.from[2] - z) / Math.hypot(x - move.from[0], y - move.from[1]);
      if (move.rapid || slope > Math.tan(rampRad) + 1e-9)
        throw new Error(`goes down to ${z} along a slope of ${slope} at ${x}, ${y}`);
    }
    if (goesDown(move) && !goesOver(move) && z < topMm - 1e-9) {
      const clear = distanceToArea([outline], x, y) >= RADIUS;
      const before = been.some(
        (m) =>
          Math.max(m.from[2], m.to[2]) <= z + 1e-6 &&
          distanceToSegment(x, y, m.from[0], m.from[1], m.to[0], m.to[1]) < 1e-3,
      );
      if (!clear && !before) throw new Error(`comes down to ${z} in wood at ${x}, ${y}`);
    }
    if (!move.rapid) been.push(move);
  }
}

const evens = (ring: Ring) => [...ring].filter((_, k) => k % 2 === 0);
const odds = (ring: Ring) => [...ring].filter((_, k) => k % 2 === 1);

/** Places of the board that a layer's cuts do not cover. */
function uncovered(
  moves: readonly Move[],
  z: number,
  outline: Ring,
  seed = 1,
  keep: (x: number, y: number) => boolean = () => true,
): string[] {
  const cuts = atDepth(moves, z);
  const next = dice(seed);
  const places = placesAlong([outline], 6);
  const [xs, ys] = [evens(outline), odds(outline)];
  const [x0, y0] = [Math.min(...xs), Math.min(...ys)];
  for (let k = 0; k < 250; k++)
    places.push([x0 + (Math.max(...xs) - x0) * next(), y0 + (Math.max(...ys) - y0) * next()]);
  return places
    .filter(([x, y], k) => (k < outline.length * 3 || isInside([outline], x, y)) && keep(x, y))
    .filter(([x, y]) =>
      cuts.every(({ from, to }) => distanceToSegment(x, y, from[0], from[1], to[0], to[1]) > RADIUS),
    )
    .map(([x, y]) => `${x}, ${y}`);
}

/** Places of the board that are first met by a cut that runs towards lesser x. */
function cutBackwards(moves: readonly Move[], z: number, outline: Ring): string[] {
  let left = placesAlong([outline], 6);
  const [x0, y0] = [Math.min(...evens(outline)), Math.min(...odds(outline))];
  for (let x = x0; x < Math.max(...evens(outline)); x += 7)
    for (let y = y0; y < Math.max(...odds(outline)); y += 7) if (isInside([outline], x, y)) left.push([x, y]);
  const wrong: string[] = [];
  for (const { from, to } of atDepth(moves, z)) {
    const away = (x: number, y: number) => distanceToSegment(x, y, from[0], from[1], to[0], to[1]);
    if (to[0] < from[0] - 1e-3)
      for (const [x, y] of left) if (away(x, y) < RADIUS - 1e-3) wrong.push(`${x}, ${y}`);
    left = left.filter(([x, y]) => away(x, y) > RADIUS + 1e-3);
  }
  return wrong;
}

/** Ends along X of the cuts along rows; of a first cut the way to it is not part. */
const endsAlongX = (moves: readonly Move[]) =>
  moves
    .filter(({ row, from, to }) => row >= 0 && Math.abs(to[0] - from[0]) > 300)
    .flatMap(({ from, to }) => [from[0], to[0]]);

const lengthOf = (moves: readonly Move[]) =>
  moves.reduce((sum, { from, to }) => sum + Math.hypot(to[0] - from[0], to[1] - from[1], to[2] - from[2]), 0);

describe("a program's beginning and end", () => {
  const plan = planned({ keepOuts: [cleat(-80, 100, 71)], zero: { xMm: 10, yMm: 20, z: "high-spot" } });
  const { track } = plan;

  test("begins with Z alone, above stock and keep-outs, then goes over, then starts the spindle", () => {
    expect([...track.kind.slice(0, 4)]).toEqual([Kind.rapid, Kind.rapid, Kind.spindle, Kind.dwell]);
    expect([track.x[0], track.y[0]]).toEqual([Number.NaN, Number.NaN]);
    // 71 and 10 above it, from a zero on the board's top at 53.
    expect(track.z[0]).toBeCloseTo(71 + 10 - 53, 9);
    expect(track.z[1]).toBe(track.z[0]);
    expect(track.value[2]).toBe(14_000);
    expect(track.value[3]).toBe(8);
  });

  test("coordinates are the frame's less the zero", () => {
    const us = endsAlongX(movesOf(plan));
    // Rows end where the disc has just cleaned the board's ends.
    expect(Math.min(...us)).toBeGreaterThan(0);
    expect(Math.min(...us)).toBeLessThan(RADIUS);
    expect(Math.max(...us)).toBeLessThan(600);
    expect(Math.max(...us)).toBeGreaterThan(600 - RADIUS);
    expect(plan.zeroMm).toEqual({ x: 10, y: 20, z: 53 });
  });

  test("ends straight up, clear of everything", () => {
    const last = movesOf(plan).at(-1)!;
    expect(last.rapid).toBe(true);
    expect(goesOver(last)).toBe(false);
    expect(last.to[2]).toBeCloseTo(81, 9);
  });
});

describe("a board cut from air", () => {
  test("each layer covers all of it, at its own depth, without a lift between its rows", () => {
    const plan = planned();
    const moves = movesOf(plan);
    expect(plan.layers.map(({ layer }) => layer.zMm)).toEqual([51.5, 50]);
    for (const { layer } of plan.layers) expect(uncovered(moves, layer.zMm, BOARD)).toEqual([]);
    expectAirBelow(moves, BOARD, 53);
    // Up and over only for the first place; down beside the wood from layer to layer.
    expect(moves.filter((move) => move.rapid && goesOver(move))).toHaveLength(0);
  });

  test("feeds are the setup's, straight down no faster than Z can", () => {
    const slow = { ...machineWith(), feedLimitMmPerMin: { x: 60_000, y: 60_000, z: 1500 } };
    for (const move of movesOf(planned({}, box(53, BOARD), slow)).filter((m) => !m.rapid))
      expect(move.feed).toBe(goesOver(move) ? 6000 : 1500);
  });

  test("a finish layer has its own feed and rows", () => {
    const finish = { depthMm: 0.5, stepoverShare: 0.3, feedMmPerMin: 4000 };
    const plan = planned({ passes: { finish } });
    const moves = movesOf(plan);
    const [rough, fine] = [plan.layers[0], plan.layers.at(-1)!];
    expect(fine.layer.kind).toBe("finish");
    expect(fine.rows).toBeGreaterThan(rough.rows);
    expect(
      new Set(
        atDepth(moves, 50)
          .filter((m) => m.row >= 0)
          .map((m) => m.feed),
      ),
    ).toEqual(new Set([4000]));
    expect(
      new Set(
        atDepth(moves, rough.layer.zMm)
          .filter((m) => m.row >= 0)
          .map((m) => m.feed),
      ),
    ).toEqual(new Set([6000]));
  });

  test("one-way rows all run in one direction, and between them nothing long is gone at depth", () => {
    const moves = movesOf(planned({ passes: { rows: "one-way" } }));
    const rows = moves.filter(
      (move) => move.row >= 0 && goesOver(move) && Math.abs(move.to[0] - move.from[0]) > 100,
    );
    expect(rows.length).toBeGreaterThanOrEqual(2 * 5);
    expect(rows.every((move) => move.to[0] > move.from[0])).toBe(true);
    for (const z of [51.5, 50])
      for (const move of atDepth(moves, z))
        if (move.to[0] < move.from[0] - 1e-6) expect(lengthOf([move])).toBeLessThanOrEqual(120);
    expectAirBelow(moves, BOARD, 53);
  });

  test.each([0, 5, 40])(
    "with an overrun of %f mm rows go that far past the ends, and the cutter still comes down in air",
    (overrunMm) => {
      for (const rows of ["both-ways", "one-way"] as const) {
        const moves = movesOf(planned({ passes: { overrunMm, rows } }));
        const us = endsAlongX(atDepth(moves, 51.5));
        expect(Math.max(...us)).toBeCloseTo(600 + overrunMm, 6);
        expect(Math.min(...us)).toBeCloseTo(-overrunMm, 6);
        expectAirBelow(moves, BOARD, 53);
      }
    },
  );

  test("rows lie at their angle to the grain", () => {
    for (const degrees of [0, 30, 90, -45]) {
      const plan = planned({ passes: { angleRad: (degrees * Math.PI) / 180 } });
      expect(plan.angleRad).toBeCloseTo((degrees * Math.PI) / 180, 12);
      const longest = movesOf(plan)
        .filter((m) => m.row >= 0)
        .sort((p, q) => lengthOf([q]) - lengthOf([p]))[0];
      const angle = Math.atan2(longest.to[1] - longest.from[1], longest.to[0] - longest.from[0]);
      expect(Math.abs(Math.sin(angle - plan.angleRad))).toBeLessThan(1e-9);
      for (const { layer } of plan.layers) expect(uncovered(movesOf(plan), layer.zMm, BOARD)).toEqual([]);
    }
  });

  test("property: a board of any outline is covered layer by layer, and cut from air", () => {
    fc.assert(
      fc.property(
        anyRing(250),
        fc.constantFrom("both-ways" as const, "one-way" as const),
        fc.constantFrom(null, 0, 12),
        (ring, rows, overrunMm) => {
          const outline = ring.map((v) => Math.round(v * 1000) / 1000);
          const plan = planned({ passes: { rows, overrunMm, depthMm: 4 } }, box(53, outline));
          const moves = movesOf(plan);
          const left = uncovered(moves, 50, outline);
          if (left.length > 0) throw new Error(`not cut: ${left.slice(0, 3).join("; ")}`);
          if (rows === "one-way") expect(cutBackwards(moves, 50, outline)).toEqual([]);
          expectAirBelow(moves, outline, 53);
        },
      ),
      { seed: SEED, numRuns: 40 },
    );
  });
});

// Found by the property above: a row that begins on a tooth's edge looks for air along that edge.
test("when air is looked for along the board's own edge then the wood it leads into is seen", () => {
  const outline = ringOf(
    ...([
      [0, 0],
      [150.746, 0],
      [150.746, 236.974],
      [94.97, 236.974],
      [94.97, 231.974],
      [89.97, 231.974],
    ] as const),
    ...([
      [89.97, 273.601],
      [32.001, 273.601],
      [32.001, 231.974],
      [5, 231.974],
      [5, 236.974],
      [0, 236.974],
    ] as const),
  );
  const plan = planned({ passes: { rows: "one-way", overrunMm: 0, depthMm: 4 } }, box(53, outline));
  expectAirBelow(movesOf(plan), outline, 53);
});

describe("the length of what is cut", () => {
  // By hand: a disc of 60 swept along L covers at most 60 L + 900 pi, whatever the way.
  test.each([0.1, 0.4, 0.6, 0.9, 1])(
    "at a stepover of %f is not under the least there can be, and near what its rows need",
    (stepoverShare) => {
      const outline = rectangle(0, 0, 2400, 900);
      const plan = planned({ passes: { stepoverShare, depthMm: 4 } }, box(53, outline));
      const length = lengthOf(atDepth(movesOf(plan), 50));
      const area = 2400 * 900;
      expect(length).toBeGreaterThanOrEqual((area - Math.PI * 900) / 60);
      // Rows of 2400 at the stepover, and from one to the next: a few percent above area / stepover.
      const step = Math.min(stepoverShare, 0.96) * 60;
      expect(length).toBeLessThan((area / step) * 1.06 + 2400 + 900);
      expect(plan.layers[0].areaMm2).toBeCloseTo(area, 0);
    },
  );

  test("property: nor is it for any outline", () => {
    fc.assert(
      fc.property(anyRing(250), fc.constantFrom(0.3, 0.7, 1), (ring, stepoverShare) => {
        const outline = ring.map((v) => Math.round(v * 1000) / 1000);
        const plan = planned({ passes: { stepoverShare, depthMm: 4 } }, box(53, outline));
        const moves = movesOf(plan);
        const cuts = atDepth(moves, 50);
        // Every time the cutter comes down begins a way of its own.
        const ways = moves.filter((m) => !m.rapid && goesDown(m)).length;
        expect(lengthOf(cuts)).toBeGreaterThanOrEqual(
          (areaOfRing(outline) - ways * Math.PI * 900) / 60 - 1e-3,
        );
      }),
      { seed: SEED, numRuns: 30 },
    );
  });
});

describe("a board between keep-outs", () => {
  const cleats = [cleat(300, -12, 70), cleat(300, 180, 49), cleat(-12, 100, 51)];
  const blockingAt = (z: number) => cleats.filter((k) => k.heightMm >= z);

  test("no cut comes nearer to those that stand higher than it than the clearance, others are cut over", () => {
    let nearest = Number.POSITIVE_INFINITY;
    let nearestLow = Number.POSITIVE_INFINITY;
    for (const { from, to, rapid } of movesOf(planned({ keepOuts: cleats }))) {
      const z = Math.min(from[2], to[2]);
      if (rapid && z > 70) continue;
      for (let i = 0; i <= 40; i++) {
        const [x, y] = [from[0] + (i / 40) * (to[0] - from[0]), from[1] + (i / 40) * (to[1] - from[1])];
        for (const k of blockingAt(z)) nearest = Math.min(nearest, distanceToArea([k.outline], x, y));
        if (z < 50.1) nearestLow = Math.min(nearestLow, distanceToArea([cleats[1].outline], x, y));
      }
    }
    expect(nearest).toBeGreaterThanOrEqual(RADIUS + 5);
    expect(nearestLow).toBeLessThan(RADIUS);
  });

  test("all that a disc can reach beside them is cut", () => {
    const plan = planned({ keepOuts: cleats });
    const moves = movesOf(plan);
    for (const { layer } of plan.layers)
      expect(
        uncovered(moves, layer.zMm, BOARD, 3, (x, y) =>
          blockingAt(layer.zMm).every((k) => distanceToArea([k.outline], x, y) > 5.3),
        ),
      ).toEqual([]);
  });

  test("rapids over a keep-out stay its clearance above it", () => {
    const tall = [keepOut(rectangle(280, -100, 320, 300), 65)];
    const plan = planned({ keepOuts: tall });
    const over = movesOf(plan).filter((m) => m.rapid && goesOver(m));
    expect(over.length).toBeGreaterThan(0);
    const crossing = over.filter((m) => (m.from[0] - 300) * (m.to[0] - 300) < 0);
    expect(crossing.length).toBeGreaterThan(0);
    for (const m of crossing) expect(Math.min(m.from[2], m.to[2])).toBeGreaterThanOrEqual(65 + 10 - 1e-9);
    for (const m of over) expect(Math.min(m.from[2], m.to[2])).toBeGreaterThanOrEqual(53 + 10 - 2 - 1e-9);
  });

  test("a keep-out in the middle is gone around without coming down in wood", () => {
    const plan = planned({ keepOuts: [cleat(300, 100, 70)], passes: { depthMm: 3 } });
    const moves = movesOf(plan);
    expectAirBelow(moves, BOARD, 53);
    expect(
      uncovered(moves, 50, BOARD, 5, (x, y) => distanceToArea([rectangle(280, 90, 320, 110)], x, y) > 5.3),
    ).toEqual([]);
  });

  test("a cleat that ends flush with the board's edge leaves nothing beside it that a disc could reach", () => {
    for (const outline of [
      rectangle(250, 180, 350, 200),
      rectangle(250, 0, 350, 20),
      rectangle(250, 200, 350, 240),
      rectangle(580, 80, 600, 120),
    ]) {
      const plan = planned({ keepOuts: [keepOut(outline, 70)], passes: { depthMm: 3 } });
      expect(uncovered(movesOf(plan), 50, BOARD, 9, (x, y) => distanceToArea([outline], x, y) > 5.3)).toEqual(
        [],
      );
    }
  });
});

describe("boards and keep-outs of right angles, where edges, rows and borders fall on each other", () => {
  const at = (max: number) => fc.integer({ min: 0, max }).map((v) => 25 * v);
  const boxes = (most: number) =>
    fc
      .array(fc.tuple(at(14), at(14), at(8), at(8)), { minLength: 0, maxLength: most })
      .map((list) => list.map(([x, y, w, h]) => rectangle(x, y, x + w + 25, y + h + 25)));
  const drawn = fc.record({
    board: fc
      .tuple(at(4), at(4), at(10), at(10))
      .map(([x, y, w, h]) => rectangle(x, y, x + w + 50, y + h + 50)),
    more: boxes(2),
    keepOuts: boxes(2),
    rows: fc.constantFrom("both-ways" as const, "one-way" as const),
    overrunMm: fc.constantFrom(null, 0, 25),
    quarter: fc.nat(3),
    sideMm: fc.constantFrom(0, 5, 20),
    rampRad: fc.constantFrom(null, 0.05),
  });

  test("property: all that a disc can reach is cut, from air, and nothing else is come near", () => {
    fc.assert(
      fc.property(drawn, ({ board, more, keepOuts, rows, overrunMm, quarter, sideMm, rampRad }) => {
        // The part of the joined boxes that holds the first one.
        const [outline] = parts(regionOf([board, ...more]))
          .map((part) => rings(part).filter((ring) => areaOfRing(ring) > 0)[0])
          .filter((ring) => isInside([ring], board[0] + 1, board[1] + 1));
        const change: SetupChange = {
          passes: { rows, overrunMm, angleRad: (quarter * Math.PI) / 2, depthMm: 4, rampRad },
          keepOuts: keepOuts.map((ring) => keepOut(ring, 60)),
          clear: { zMm: 10, sideMm },
        };
        let plan: PassesPlan;
        try {
          plan = planned(change, box(53, outline));
        } catch (error) {
          if (!(error instanceof PlanError) || keepOuts.length === 0) throw error;
          fc.pre(error.code !== "no-air" && error.code !== "nothing-in-reach");
          throw error;
        }
        const moves = movesOf(plan);
        expectAirBelow(moves, outline, 53, rampRad ?? 0);
        const away = (x: number, y: number) =>
          Math.min(1e9, ...keepOuts.map((ring) => distanceToArea([ring], x, y)));
        for (const { from, to } of moves.filter((m) => Math.min(m.from[2], m.to[2]) <= 60))
          for (let i = 0; i <= 20; i++) {
            const [x, y] = [from[0] + (i / 20) * (to[0] - from[0]), from[1] + (i / 20) * (to[1] - from[1])];
            if (away(x, y) < RADIUS + sideMm)
              throw new Error(`${away(x, y)} mm from a keep-out at ${x}, ${y}`);
          }
        // Where the clearances of two keep-outs meet, a disc may not fit between them.
        const clear = (x: number, y: number) => fits(x, y, keepOuts, sideMm);
        const left = uncovered(moves, 50, outline, 7, clear);
        if (left.length > 0) throw new Error(`not cut: ${left.slice(0, 3).join("; ")}`);
      }),
      { seed: SEED, numRuns: 40 },
    );
  });

  /** Whether some disc over a place keeps well away from all keep-outs, by trying many. */
  function fits(x: number, y: number, keepOuts: readonly Ring[], sideMm: number): boolean {
    if (keepOuts.length === 0) return true;
    for (let ring = 0; ring <= 10; ring++)
      for (let k = 0; k < 48; k++) {
        const [u, v] = [
          x + ((RADIUS - 0.4) * ring * Math.cos((k * Math.PI) / 24)) / 10,
          y + ((RADIUS - 0.4) * ring * Math.sin((k * Math.PI) / 24)) / 10,
        ];
        if (keepOuts.every((outline) => distanceToArea([outline], u, v) > RADIUS + sideMm + 0.2)) return true;
      }
    return false;
  }
});

describe("where no air can be reached", () => {
  // A frame of rails all around, so near that the disc never gets clear of the board.
  const rails = [
    keepOut(rectangle(-80, -80, 680, -40), 80),
    keepOut(rectangle(-80, 240, 680, 280), 80),
    keepOut(rectangle(-80, -40, -40, 240), 80),
    keepOut(rectangle(640, -40, 680, 240), 80),
  ];

  test("it is refused, with the place, the depth and what would help", () => {
    const error = refusal(() => planned({ keepOuts: rails }));
    expect(error.code).toBe("no-air");
    expect(error.setup).toBe("top");
    expect(error.message).toMatch(/1\.5 mm deep/);
    expect(error.message).toMatch(/\(-?[\d.]+, -?[\d.]+\) mm/);
    expect(error.message).toMatch(/ramp/);
  });

  test.each([1, 2, 10])(
    "a ramp of %f degrees goes down no steeper than that, and the rest is cut from there",
    (degrees) => {
      const rampRad = (degrees * Math.PI) / 180;
      const plan = planned({ keepOuts: rails, passes: { rampRad } });
      const moves = movesOf(plan);
      const ramps = moves.filter((m) => !m.rapid && goesDown(m) && goesOver(m));
      // By hand: 1.5 mm a layer take 1.5 / tan of it; a little flatter is allowed, much flatter is a waste.
      for (const { layer } of plan.layers) {
        const long = lengthOf(
          ramps.filter((m) => m.to[2] >= layer.zMm - 1e-9 && m.from[2] <= layer.topMm + 1e-9),
        );
        expect(long).toBeGreaterThan(1.5 / Math.tan(rampRad));
        expect(long).toBeLessThan((1.5 / Math.tan(rampRad)) * 1.1 + 1);
      }
      expectAirBelow(moves, BOARD, 53, rampRad);
      const clear = (x: number, y: number) => rails.every((k) => distanceToArea([k.outline], x, y) > 5.3);
      for (const { layer } of plan.layers) expect(uncovered(moves, layer.zMm, BOARD, 2, clear)).toEqual([]);
    },
  );
});

describe("several parts", () => {
  // A cupped face: its two edges stand, its middle does not.
  const cupped = measured(
    gridOf((_, y) => 50.5 + 2.5 * ((y - 100) / 100) ** 2, {
      x0: -20,
      y0: -20,
      dx: 20,
      dy: 10,
      cols: 33,
      rows: 25,
    }),
    BOARD,
  );

  test("the first layer of a cupped face is two strips, not the whole", () => {
    const plan = planned({ target: { kind: "thickness", mm: 50.6 }, passes: { depthMm: 1.3 } }, cupped);
    const [first] = plan.layers;
    // By hand: 2.5 t^2 > 1.2 + the step's rounding: both edges from |t| = 0.69 on, 31 % of the face.
    expect(first.layer.zMm).toBeCloseTo(51.8, 1);
    const exact = 600 * 200 * (1 - Math.sqrt((first.layer.zMm - 50.5) / 2.5));
    expect(first.areaMm2 / exact).toBeGreaterThan(0.99);
    expect(first.areaMm2 / exact).toBeLessThan(1.05);
    expect(
      uncovered(
        movesOf(plan),
        first.layer.zMm,
        BOARD,
        4,
        (_, y) => 50.5 + 2.5 * ((y - 100) / 100) ** 2 > first.layer.zMm,
      ),
    ).toEqual([]);
  });

  test("boards that lie apart are both cut, layer by layer", () => {
    const far = [box(53, rectangle(0, 0, 200, 100)), box(53, rectangle(0, 400, 200, 500))];
    const setup = setupOf({ pieces: far });
    const plan = planPasses(setup, machineWith(), far.map(uncutStock), 0, "mm");
    const moves = movesOf(plan);
    for (const { layer } of plan.layers)
      for (const { outline } of far) expect(uncovered(moves, layer.zMm, outline)).toEqual([]);
  });
});

test("a travel as long as the board is enough with cleats at both its ends", () => {
  const keepOuts = [cleat(0, 100, 70), cleat(600, 100, 70)];
  const machine = { ...machineWith(), travelMm: { x: 600, y: 400, z: 180 } };
  const plan = planned({ keepOuts }, box(53, BOARD), machine);
  const moves = movesOf(plan);
  const us = moves.map(({ to }) => to[0]);
  expect(Math.max(...us) - Math.min(...us)).toBeLessThanOrEqual(600 + 1e-6);
  // All of the board that lies the side clearance away from the cleats.
  const outlines = keepOuts.map(({ outline }) => outline);
  for (const { layer } of plan.layers)
    expect(uncovered(moves, layer.zMm, BOARD, 1, (x, y) => distanceToArea(outlines, x, y) > 5.2)).toEqual([]);
});

describe("what cannot be planned says so with both numbers", () => {
  test("a board longer than the travel", () => {
    const small = { ...machineWith(), travelMm: { x: 500, y: 1000, z: 100 } };
    const error = refusal(() => planned({ passes: { overrunMm: 0 } }, box(53, BOARD), small));
    expect(error.code).toBe("travel");
    expect(error.message).toMatch(/600 mm/);
    expect(error.message).toMatch(/100 mm more/);
    expect(error.message).toMatch(/500 mm/);
  });

  test("a floor at the top of everything, and one in the bed", () => {
    expect(refusal(() => planned({ target: { kind: "thickness", mm: 53 } })).code).toBe("nothing-to-cut");
    expect(refusal(() => planned({ target: { kind: "thickness", mm: 60 } })).message).toMatch(/60 mm.*53 mm/);
    const bed = refusal(() => planned({ target: { kind: "depth", mm: 55 } }));
    expect(bed.code).toBe("floor-in-bed");
    expect(bed.message).toMatch(/2 mm.*53 mm/);
    expect(refusal(() => planned({ target: { kind: "depth", mm: 53 } })).code).toBe("floor-in-bed");
  });

  test("keep-outs that leave no place", () => {
    expect(refusal(() => planned({ keepOuts: [keepOut(rectangle(-10, -10, 610, 210), 60)] })).code).toBe(
      "nothing-in-reach",
    );
  });
});

describe("the grain when none is given", () => {
  const angleOf = (outline: Ring) => {
    const piece: Piece = { ...box(53, outline), grainRad: null };
    return (planned({ passes: { depthMm: 4 } }, piece).angleRad * 180) / Math.PI;
  };
  const turned = (degrees: number, w: number, h: number) => {
    const [c, s] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
    return ringOf([0, 0], [w * c, w * s], [w * c - h * s, w * s + h * c], [-h * s, h * c]);
  };

  test("is the long side of the smallest enclosing rectangle", () => {
    for (const degrees of [0, 10, 37, 89, -30, -80])
      expect(angleOf(turned(degrees, 500, 200))).toBeCloseTo(degrees, 6);
    for (const degrees of [10, 37, 80])
      expect(angleOf(turned(degrees, 200, 500))).toBeCloseTo(degrees - 90, 6);
    expect(Math.abs(angleOf(turned(0, 200, 500)))).toBeCloseTo(90, 9);
  });

  test("of a square, and of a disc, is the side nearest to X", () => {
    expect(angleOf(rectangle(0, 0, 300, 300))).toBe(0);
    for (const degrees of [20, 70]) expect(Math.abs(angleOf(turned(degrees, 300, 300)))).toBeCloseTo(20, 6);
    expect(angleOf(polygon(0, 0, 200, 64))).toBeCloseTo(2.8125, 3);
  });
});

test("the same setup is planned the same", () => {
  const columns = (track: Track) =>
    [track.x, track.y, track.z, track.value].map((c) => [...c.slice(0, track.count)]);
  const change = { keepOuts: [cleat(300, 100, 70)] };
  expect(columns(planned(change).track)).toEqual(columns(planned(change).track));
});
