// Both faces: what one setup leaves is what the next one finds, mirrored by the turn. The slab's faces are
// known in closed form (bow, cup, twist and tilt); all expectations are integrals and sums of these, on paper or
// by brute force here. No outside source.

import { describe, expect, test } from "vitest";
import type { PlannedPiece, PlannedSetup } from "../src/plan.ts";
import type { Loose } from "./job/example.ts";
import { distanceToShape } from "./oracles/judge-plane.ts";
import { codesOf, gridOf, type Height, integral, jobOf, planned, refusal, textOf } from "./planned.ts";

/** 400 x 200 from (100, 50). */
const BOX = { x: 100, y: 50, length: 400, width: 200 };
const OUTLINE = { length: BOX.length, width: BOX.width, at: [BOX.x, BOX.y] };

/** A face of bow u^2, cup v^2, twist uv and tilts u and v, with u and v from -1 to 1 across the box. */
function face(middle: number, bow: number, cup: number, twist: number, tiltU = 0, tiltV = 0): Height {
  return (x, y) => {
    const [u, v] = [(x - 300) / 200, (y - 150) / 100];
    return middle + bow * u * u + cup * v * v + twist * u * v + tiltU * u + tiltV * v;
  };
}

/** From 57.3 to 62.4 above the bed. */
const UPPER = face(60, -1.5, 2, 1, 0.4, -0.3);
/** From 0.5 to 5.1 above it. */
const UNDER = face(2.2, 1.4, -0.9, 0.8, -0.5, 0.3);

function slab(more: Loose = {}): Loose {
  return {
    ...{ id: "slab", outline: OUTLINE, grain: 0 },
    ...{ upper: gridOf(UPPER, BOX, 8), under: gridOf(UNDER, BOX, 8) },
    ...more,
  };
}

/** Where a place of the first lay lies after a turn, and back. */
const turnedOver = {
  x: (x: number, y: number) => [x, 300 - y] as const,
  y: (x: number, y: number) => [600 - x, y] as const,
};

const upperTo = (thickness: number, more: Loose = {}) => ({ id: "upper", target: { thickness }, ...more });
const underTo = (thickness: number, more: Loose = {}) => ({
  ...{ id: "under", face: "under", target: { thickness } },
  ...more,
});

const litres = ({ removedLitres }: PlannedSetup | PlannedPiece) => removedLitres.wood + removedLitres.resin;
/** Litres of what a function of the place says, in mm. */
const litresOf = (deep: Height) => integral(deep, BOX) / 1e6;

function extremesOf(value: Height): [number, number] {
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (let x = 100; x <= 500; x++)
    for (let y = 50; y <= 250; y++) {
      least = Math.min(least, value(x, y));
      most = Math.max(most, value(x, y));
    }
  return [least, most];
}

const PLACES = [
  [110, 60],
  [480, 70],
  [130, 240],
  [490, 235],
  [300, 150],
  [222, 101],
] as const;

function expectThickness(piece: PlannedPiece, thick: Height, withinMm: number): void {
  for (const [x, y] of PLACES)
    expect(Math.abs(piece.thicknessAtMm(x, y) - thick(x, y)), `at ${x} ${y}`).toBeLessThan(withinMm);
  const [least, most] = extremesOf(thick);
  expect(Math.abs(piece.thinnestMm - least)).toBeLessThan(withinMm);
  expect(Math.abs(piece.thickestMm - most)).toBeLessThan(withinMm);
}

describe.each(["x", "y"] as const)("a bowed, cupped and twisted slab turned about %s", (turn) => {
  const there = turnedOver[turn];

  test("when both faces come out clean, loses what the integrals say and is parallel", () => {
    const { setups } = planned(jobOf([slab()], upperTo(56.5), underTo(50, { turn })));
    const [upper, under] = setups;
    // The means of u^2 and v^2 are 1/3, those of u, v and uv are 0.
    const aboveMm = 60 + (-1.5 + 2) / 3 - 56.5;
    expect(litres(upper) / (aboveMm * 0.08)).toBeCloseTo(1, 3);
    // h is 56.5, so the floor of 50 lies at 6.5 of the first lay.
    const belowMm = 6.5 - (2.2 + (1.4 - 0.9) / 3);
    expect(litres(under) / (belowMm * 0.08)).toBeCloseTo(1, 3);
    expect(under.floorMm).toBe(50);
    expectThickness(under.pieces[0], () => 50, 1e-4);
    expectThickness(upper.pieces[0], (x, y) => 56.5 - UNDER(x, y), 0.02);
    expect(under.pieces[0].cleanUp).toBe(1);
    expect(under.proof).toMatchObject({ ok: true, highestMm: 50, lowestMm: 50 });
    expect(under.removedMostMm).toBeCloseTo(56.5 - extremesOf(UNDER)[0] - 50, 2);
    for (const setup of setups) expect(codesOf(setup)).not.toContain("rocks");
  });

  test("when both stay rough in places, each place is as thick as the lower of face and cut allow", () => {
    const { setups } = planned(jobOf([slab()], upperTo(60), underTo(58.2, { turn })));
    const [upper, under] = setups;
    // h is 60; 58.2 above the bed is 1.8 in the first lay.
    const top: Height = (x, y) => Math.min(UPPER(x, y), 60);
    const bottom: Height = (x, y) => Math.max(UNDER(x, y), 60 - 58.2);
    const afterTurn: Height = (x, y) => top(...there(x, y)) - bottom(...there(x, y));
    expect(litres(upper) / litresOf((x, y) => UPPER(x, y) - top(x, y))).toBeCloseTo(1, 2);
    expect(litres(under) / litresOf((x, y) => bottom(x, y) - UNDER(x, y))).toBeCloseTo(1, 2);
    // A place is known to half a cell of 1 mm, on slopes of up to 3 in 100 on each face.
    expectThickness(upper.pieces[0], (x, y) => top(x, y) - UNDER(x, y), 0.04);
    expectThickness(under.pieces[0], afterTurn, 0.04);
    const share = integral((x, y) => (UNDER(x, y) < 1.8 ? 1 : 0), BOX) / 80_000;
    expect(under.pieces[0].cleanUp).toBeCloseTo(share, 2);
    // The deepest rough place is found, and how much thinner the slab must be for a clean face.
    const deepest = extremesOf(UNDER)[1] - 1.8;
    expect(Math.max(...under.pieces[0].rough.map(({ deepMm }) => deepMm))).toBeCloseTo(deepest, 1);
    expect(under.pieces[0].cleanThicknessMm).toBeCloseTo(58.2 - deepest, 1);
  });

  test("the second setup finds outline, faces and grain mirrored", () => {
    const outline = [
      [100, 50],
      [500, 60],
      [470, 250],
      [120, 230],
    ];
    const piece = slab({ outline, grain: 20 });
    const [upper, under] = planned(jobOf([piece], upperTo(56.5), underTo(50, { turn }))).setups;
    const [before, after] = [upper.found[0], under.found[0]];
    const wanted = outline.map(([x, y]) => there(x, y).join(" ")).sort();
    const corners = [0, 2, 4, 6].map((k) => [...after.piece.outline.slice(k, k + 2)].join(" ")).sort();
    expect(corners).toEqual(wanted);
    const grain = (turn === "x" ? -20 : 160) - ((after.piece.grainRad as number) * 180) / Math.PI;
    expect(Math.abs(grain % 180)).toBeLessThan(1e-9);
    for (const [x, y] of PLACES) {
      const [bx, by] = there(x, y);
      expect(after.up.surface.heightAt(x, y)).toBeCloseTo(56.5 - before.down.surface.heightAt(bx, by), 9);
      expect(after.down.surface.heightAt(x, y)).toBeCloseTo(56.5 - before.up.surface.heightAt(bx, by), 9);
    }
    expect(after.faceUp).toBe("under");
  });

  test("turned over and back, the piece lies where it lay", () => {
    const again = { id: "again", target: { thickness: 48 } };
    const { setups } = planned(jobOf([slab()], upperTo(56.5), underTo(50, { turn }), again));
    const [first, , third] = setups.map(({ found }) => found[0]);
    expect([...third.piece.outline]).toEqual([...first.piece.outline]);
    expect(third.piece.grainRad).toBeCloseTo(first.piece.grainRad as number, 12);
    expect(third.faceUp).toBe("upper");
    // It lies on the under face's cut: 6.5 mm lower than before.
    for (const [x, y] of PLACES) expect(third.up.surface.heightAt(x, y)).toBeCloseTo(UPPER(x, y) - 6.5, 1);
    expect(third.highestMm).toBeCloseTo(50, 9);
    expect(litres(setups[2])).toBeCloseTo(0.08 * 2, 5);
    expect(codesOf(setups[2])).toEqual([]);
  });
});

describe("targets of the second face", () => {
  test("depth and high-spot are of the turned face", () => {
    const zero = { x: 100, y: 50, z: "high-spot" };
    const [, under] = planned(
      jobOf([slab()], upperTo(56.5), { id: "under", face: "under", target: { depth: 3 }, zero }),
    ).setups;
    const highest = 56.5 - extremesOf(UNDER)[0];
    expect(under.zeroMm.z).toBeCloseTo(highest, 2);
    expect(under.floorMm).toBeCloseTo(highest - 3, 2);
  });

  test("cleanUp is the share of the turned face that lies above the floor", () => {
    for (const cleanUp of [0.3, 0.8]) {
      const [, under] = planned(
        jobOf([slab()], upperTo(56.5), { id: "under", face: "under", target: { cleanUp } }),
      ).setups;
      const plane = 56.5 - under.floorMm;
      expect(integral((x, y) => (UNDER(x, y) < plane ? 1 : 0), BOX) / 80_000).toBeCloseTo(cleanUp, 2);
      expect(under.pieces[0].cleanUp).toBeCloseTo(cleanUp, 2);
    }
  });

  // f is where the integral of what lies above it on the one face is that of what lies below f - t on the other.
  const evenBy = (upper: Height, under: Height, t: number) => {
    let [low, high] = [0, 100];
    for (let k = 0; k < 30; k++) {
      const f = (low + high) / 2;
      const above = integral((x, y) => Math.max(0, upper(x, y) - f), BOX, 2);
      const below = integral((x, y) => Math.max(0, f - t - under(x, y)), BOX, 2);
      if (above > below) low = f;
      else high = f;
    }
    return low;
  };

  test("even takes the same volume from both faces, whether clean all over or not", () => {
    for (const t of [50, 56.8]) {
      const f = evenBy(UPPER, UNDER, t);
      const [upper, under] = planned(
        jobOf([slab()], { id: "upper", target: { even: t } }, underTo(t)),
      ).setups;
      expect(Math.abs(upper.floorMm - f)).toBeLessThan(0.01);
      expect(Math.abs(litres(upper) / litres(under) - 1)).toBeLessThan(0.005);
      expect(under.floorMm).toBeCloseTo(t, 9);
    }
  });

  test("even: by hand, a slab that is clean all over leaves half of what is too much to each face", () => {
    // Between the means, 60.1667 and 2.3667, stand 57.8; 50 of it stay.
    const [upper] = planned(jobOf([slab()], { id: "upper", target: { even: 50 } })).setups;
    expect(upper.floorMm).toBeCloseTo(60 + 0.5 / 3 - (57.8 - 50) / 2, 2);
  });

  test("even: what is left for sanding is added, and the second face ends so much higher too", () => {
    const f = evenBy(UPPER, UNDER, 50);
    const [upper, under] = planned(
      jobOf([slab()], { id: "upper", target: { even: 50 }, leave: 0.4 }, underTo(50, { leave: 0.3 })),
    ).setups;
    expect(Math.abs(upper.floorMm - (f + 0.4))).toBeLessThan(0.01);
    expect(under.floorMm).toBeCloseTo(50 + 0.4 + 0.3, 9);
  });

  test("even of the second face uses the first one's cut", () => {
    const [, under] = planned(
      jobOf([slab()], upperTo(58.6), { id: "under", face: "under", target: { even: 52 } }),
    ).setups;
    const f = evenBy(
      (x, y) => 58.6 - UNDER(x, y),
      (x, y) => 58.6 - Math.min(58.6, UPPER(x, y)),
      52,
    );
    expect(Math.abs(under.floorMm - f)).toBeLessThan(0.01);
  });
});

describe("what is left for sanding", () => {
  const floors = (...setups: Loose[]) => planned(jobOf([slab()], ...setups)).setups.map((s) => s.floorMm);

  test("on the face that lies down is added to a thickness, so that it holds after both are sanded", () => {
    expect(floors(upperTo(56, { leave: 0.5 }), underTo(50, { leave: 0.4 }))).toEqual([56.5, 50.9]);
    expect(floors(upperTo(56, { leave: 0.5 }), underTo(50))).toEqual([56.5, 50.5]);
  });

  test("is none after a depth or a share, for which leave says nothing", () => {
    const [upper, under] = floors(
      { id: "upper", target: { depth: 3.5 }, leave: 0.5 },
      underTo(50, { leave: 0.4 }),
    );
    expect(upper).toBeCloseTo(extremesOf(UPPER)[1] - 3.5, 9);
    expect(under).toBeCloseTo(50.4, 9);
    expect(floors({ id: "upper", target: { cleanUp: 0.9 }, leave: 0.5 }, underTo(50))[1]).toBe(50);
  });

  test("is the last cut's of that face, and comes back with the face", () => {
    const back = { id: "back", target: { thickness: 47 }, leave: 0.2 };
    // The under face carries 0.4 when it lies down again.
    expect(floors(upperTo(56, { leave: 0.5 }), underTo(50, { leave: 0.4 }), back)[2]).toBeCloseTo(47.6, 9);
    const twice = floors(
      upperTo(57, { leave: 0.5 }),
      { id: "finer", target: { thickness: 56 }, leave: 0.1 },
      underTo(50),
    );
    expect(twice[2]).toBeCloseTo(50.1, 9);
  });
});

describe("the under face by calipers", () => {
  test("is the one that heights above the bed give", () => {
    const places = Array.from(
      { length: 60 },
      (_, k) => [100 + ((k * 137) % 401), 50 + ((k * 89) % 201)] as const,
    ).concat([
      [100, 50],
      [500, 50],
      [500, 250],
      [100, 250],
    ]);
    // The upper face is a plane along its grid lines and straight between them, so that its heights at all places are known.
    const upper = face(60, 0, 0, 1, 0.4, -0.3);
    const by = (more: Loose) => {
      const piece = { id: "slab", outline: OUTLINE, grain: 0, upper: gridOf(upper, BOX, 50), ...more };
      return planned(jobOf([piece], upperTo(57), underTo(52))).setups;
    };
    const calipers = by({ thicknesses: places.map(([x, y]) => [x, y, upper(x, y) - UNDER(x, y)]) });
    const heights = by({ under: { points: places.map(([x, y]) => [x, y, UNDER(x, y)]) } });
    expect(calipers.map((s) => s.floorMm)).toEqual(heights.map((s) => s.floorMm));
    expect(litres(calipers[1])).toBeCloseTo(litres(heights[1]), 5);
    for (const [x, y] of PLACES)
      expect(calipers[0].pieces[0].thicknessAtMm(x, y)).toBeCloseTo(
        heights[0].pieces[0].thicknessAtMm(x, y),
        4,
      );
  });
});

describe("a turned face is planned as the same face would be as laid", () => {
  const outline = [
    [100, 50],
    [320, 66],
    [500, 60],
    [470, 250],
    [290, 232],
    [120, 240],
  ];
  const keepOut = [{ name: "cleat", outline: { length: 50, width: 40, at: [280, 225] }, height: 75 }];
  const passes = { angle: 15, depth: 2 };
  // h is the highest reading inside the outline.
  const polygon = outline.map(([x, y]) => [x, y] as const);
  let highest = 0;
  for (let x = 100; x <= 500; x += 8)
    for (let y = 50; y <= 250; y += 8)
      if (distanceToShape(polygon, x, y) < 0.005) highest = Math.max(highest, UPPER(x, y));

  test.each(["x", "y"] as const)("turned about %s", (turn) => {
    const there = turnedOver[turn];
    const setup = { face: "under", turn, target: { depth: 2.4 }, keepOut, passes };
    const [under] = planned(jobOf([slab({ outline, grain: 10 })], { id: "it", ...setup })).setups;
    const mirrored = (height: Height) => gridOf((x, y) => highest - height(...there(x, y)), BOX, 8);
    const byHand = {
      id: "slab",
      // Mirrored corners go the other way round; the job may give them in either direction.
      outline: outline.map(([x, y]) => there(x, y)),
      grain: -10,
      upper: mirrored(UNDER),
      // Beyond the outline, where it says nothing, it would lie below the bed.
      under: mirrored((x, y) => Math.min(highest, UPPER(x, y))),
    };
    const [upper] = planned(jobOf([byHand], { id: "it", ...setup, face: "upper" })).setups;
    expect(under.floorMm).toBeCloseTo(upper.floorMm, 9);
    expect(under.layers).toHaveLength(upper.layers.length);
    const plain = (setup: PlannedSetup) => textOf(setup).replace(/\(.*\)\n/g, "");
    if (plain(under) !== plain(upper)) {
      expect(Math.abs(under.seconds.total / upper.seconds.total - 1)).toBeLessThan(0.005);
      expect(Math.abs(litres(under) / litres(upper) - 1)).toBeLessThan(1e-4);
    }
    expect(under.pieces[0].cleanUp).toBeCloseTo(upper.pieces[0].cleanUp, 3);
  });
});

describe("several pieces in one setup", () => {
  const low = { x: 100, y: 50, length: 300, width: 100 };
  const high = { x: 180, y: 190, length: 250, width: 130 };
  const piece = (id: string, box: typeof low, thickness: number) => ({
    ...{ id, grain: 0, thickness },
    outline: { length: box.length, width: box.width, at: [box.x, box.y] },
  });
  const pieces = [piece("low", low, 40), piece("high", high, 44)];
  const boxesOf = (setup: PlannedSetup) =>
    setup.found.map(({ piece: { outline } }) => {
      const [xs, ys] = [0, 1].map((at) => [...outline].filter((_, k) => k % 2 === at));
      return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
    });

  // The common box is x 100 to 430, y 50 to 320.
  test("are turned within their common box, each onto its own highest place", () => {
    const setups = (turn: string) =>
      planned(jobOf(pieces, upperTo(39), { id: "under", face: "under", turn, target: { thickness: 37 } }))
        .setups;
    expect(boxesOf(setups("x")[1])).toEqual([
      [100, 220, 400, 320],
      [180, 50, 430, 180],
    ]);
    expect(boxesOf(setups("y")[1])).toEqual([
      [130, 50, 430, 150],
      [100, 190, 350, 320],
    ]);
    expect(litres(setups("x")[1])).toBeCloseTo(2 * (0.03 + 0.0325), 5);
  });

  test("of which one alone is turned, that one keeps its own place", () => {
    const [, one] = planned(jobOf(pieces, upperTo(39), underTo(37, { pieces: ["high"] }))).setups;
    expect(boxesOf(one)).toEqual([[180, 190, 430, 320]]);
    expect(one.floorMm).toBe(37);
  });

  test("that are cut one by one and then turned together share the box again", () => {
    const each = ["low", "high"].map((id) => ({ id, pieces: [id], target: { thickness: 39 } }));
    const [, , both] = planned(jobOf(pieces, ...each, underTo(37))).setups;
    expect(boxesOf(both)).toEqual([
      [100, 220, 400, 320],
      [180, 50, 430, 180],
    ]);
  });

  test("may lie on one another once they were turned apart from each other; that is refused", () => {
    const wide = { ...pieces[0], outline: { length: 300, width: 100, at: [100, 50] } };
    // Turned with the others of its first setup, "third" comes to lie where "low" lies still.
    const third = { ...pieces[1], id: "third", outline: { length: 60, width: 60, at: [420, 60] } };
    const job = jobOf(
      [wide, third, { ...pieces[1], outline: { length: 40, width: 40, at: [200, 300] } }],
      { id: "first", pieces: ["third", "high"], face: "under", turn: "y", target: { depth: 1 } },
      { id: "all", pieces: ["third", "low"], target: { depth: 1 } },
    );
    // Third is moved to x 200 to 260 by the first, and turned back within the box of both by the second.
    const found = refusal(job);
    expect(found.code).toBe("all: overlap");
    expect(found.text).toMatch(/"low" and "third"|"third" and "low"/);
  });
});

describe("rocks", () => {
  const codes = (piece: Loose, upper: Loose, under: Loose = underTo(50)) =>
    codesOf(planned(jobOf([piece], upper, under)).setups[1]);

  test("is told of a face that was not cut at all", () => {
    const [first] = planned(jobOf([slab()], { id: "under", face: "under", target: { depth: 3 } })).setups;
    expect(codesOf(first)).toContain("rocks");
  });

  test("is told of a face cut on one hump, or along one edge", () => {
    expect(codes(slab(), { id: "upper", target: { depth: 0.2 } })).toContain("rocks");
    const hump = { ...slab(), upper: gridOf(face(60, -3, -3, 0), BOX, 8) };
    expect(codes(hump, { id: "upper", target: { depth: 0.3 } })).toContain("rocks");
    const tilted = { ...slab(), upper: gridOf(face(60, 0, 0, 0, 0, 3), BOX, 8) };
    expect(codes(tilted, { id: "upper", target: { depth: 0.6 } })).toContain("rocks");
  });

  test("is not told of a face cut clean, or on all four corners, or in three well-spread places", () => {
    expect(codes(slab(), upperTo(56.5))).not.toContain("rocks");
    const dished = { ...slab(), upper: gridOf(face(58, 2, 2, 0), BOX, 8) };
    expect(codes(dished, { id: "upper", target: { depth: 1 } })).not.toContain("rocks");
    const three: Height = (x, y) =>
      58 +
      2 *
        Math.max(
          ...[
            [120, 70],
            [480, 70],
            [300, 230],
          ].map(([a, b]) => Math.exp(-((x - a) ** 2 + (y - b) ** 2) / 40 ** 2)),
        );
    expect(
      codes({ ...slab(), upper: gridOf(three, BOX, 8) }, { id: "upper", target: { depth: 1 } }),
    ).not.toContain("rocks");
  });
});
