// Faces turned over, tilted, raised and set into molds, against the place by place sums: a point goes to its
// place, its height with it. Random ones with fixed seeds; no outside source.

import { describe, expect, test } from "vitest";
import type { HeightField } from "../../src/survey/field.ts";
import {
  placedField,
  placedRing,
  raisedSurface,
  type Turning,
  tiltedReadings,
  tiltedSurface,
  turnedAngle,
  turnedField,
  turnedReadings,
  turnedRing,
  turnedSurface,
} from "../../src/survey/placed.ts";
import { flatFace, type Surface, upperFace } from "../../src/survey/surface.ts";
import { turnedTimber } from "../../src/survey/timber.ts";
import { rectangle } from "../region/shapes.ts";
import { gridOf, measured, pointsAt } from "./pieces.ts";

const TURNINGS: readonly Turning[] = [
  { axis: "x", sumMm: 130, heightMm: 57 },
  { axis: "y", sumMm: -37.25, heightMm: 12.5 },
];
const height = (x: number, y: number) => 40 + 0.02 * x - 0.05 * y + 0.001 * x * y;
const scattered = upperFace(
  measured(
    pointsAt(
      height,
      Array.from({ length: 50 }, (_, k) => [(k * 37) % 101, (k * 53) % 97] as const),
    ),
  ),
);
const gridded = upperFace(measured(gridOf(height, { dx: 20, dy: 25, cols: 6, rows: 5 })));
const SURFACES = [
  ["a grid", gridded],
  ["scattered readings", scattered],
  ["a box", flatFace(33)],
] as const;

/** Where a point of the old lay comes to lie. */
function there({ axis, sumMm, heightMm }: Turning, x: number, y: number, z: number) {
  return axis === "x" ? ([x, sumMm - y, heightMm - z] as const) : ([sumMm - x, y, heightMm - z] as const);
}

/** Heights on samples that lie unevenly against everything. */
function sampled(surface: Surface, raiseMm = 0): { x: number; y: number; z: number }[] {
  const grid = { x0: -7.3, y0: 11.9, pitchMm: 3.7, cols: 31, rows: 17 };
  const z = new Float32Array(grid.cols * grid.rows + 1).fill(-999);
  surface.sample(grid, raiseMm, z);
  expect(z[z.length - 1]).toBe(-999); // nothing beyond the grid is written
  return Array.from({ length: grid.cols * grid.rows }, (_, k) => ({
    x: grid.x0 + (k % grid.cols) * grid.pitchMm,
    y: grid.y0 + Math.floor(k / grid.cols) * grid.pitchMm,
    z: z[k],
  }));
}

/** That sampling says what asking place by place does. */
function expectSame(surface: Surface, raiseMm = 0): void {
  for (const { x, y, z } of sampled(surface, raiseMm))
    expect(Math.abs(z - raiseMm - surface.heightAt(x, y))).toBeLessThan(2e-5);
}

describe.each(TURNINGS)("turned over about $axis", (turning) => {
  test("a ring's corners lie where they should, and it runs the way it ran", () => {
    const ring = Float64Array.of(0, 0, 100, 10, 80, 60, 5, 40);
    const turned = turnedRing(ring, turning);
    const area = (of: Float64Array) => {
      let sum = 0;
      for (let k = 0, p = of.length - 2; k < of.length; p = k, k += 2)
        sum += of[p] * of[k + 1] - of[k] * of[p + 1];
      return sum / 2;
    };
    expect(area(turned)).toBeCloseTo(area(ring), 9);
    const pairs = (of: Float64Array) =>
      Array.from({ length: of.length / 2 }, (_, k) => `${of[2 * k]} ${of[2 * k + 1]}`).sort();
    const wanted = Array.from({ length: 4 }, (_, k) => {
      const [x, y] = there(turning, ring[2 * k], ring[2 * k + 1], 0);
      return `${x} ${y}`;
    });
    expect(pairs(turned)).toEqual(wanted.sort());
    expect([...turnedRing(turned, turning)]).toEqual([...ring]);
  });

  test("readings keep their order", () => {
    const xyz = Float64Array.of(1, 2, 30, 50, 60, 31, -4, 8, 29.5);
    const turned = turnedReadings(xyz, turning);
    for (let k = 0; k < 9; k += 3)
      expect([...turned.slice(k, k + 3)]).toEqual([...there(turning, xyz[k], xyz[k + 1], xyz[k + 2])]);
  });

  test.each(SURFACES)("the face of %s is the same face seen from below", (_, surface) => {
    const turned = turnedSurface(surface, turning);
    for (const [x, y] of [
      [3, 4],
      [55.5, 71],
      [-20, 130],
    ]) {
      const [tx, ty, tz] = there(turning, x, y, surface.heightAt(x, y));
      expect(turned.heightAt(tx, ty)).toBeCloseTo(tz, 12);
      expect(turned.covers(tx, ty)).toBe(surface.covers(x, y));
    }
    expectSame(turned);
    expectSame(turned, 0.75);
  });

  test("turned twice, a face is where it was", () => {
    const twice = turnedSurface(turnedSurface(gridded, turning), turning);
    for (const { x, y, z } of sampled(twice)) expect(Math.abs(z - gridded.heightAt(x, y))).toBeLessThan(2e-5);
  });

  test("a field has each of its samples where it then lies", () => {
    const field: HeightField = {
      ...{ x0: 2.5, y0: -3, pitchMm: 4, cols: 5, rows: 3 },
      z: Float32Array.from({ length: 15 }, (_, k) => (k === 7 ? Number.POSITIVE_INFINITY : 10 + k / 4)),
    };
    const turned = turnedField(field, turning);
    for (let k = 0; k < 15; k++) {
      const [x, y, z] = there(turning, 2.5 + (k % 5) * 4, -3 + Math.floor(k / 5) * 4, field.z[k]);
      const [col, row] = [(x - turned.x0) / 4, (y - turned.y0) / 4];
      expect(Math.abs(col - Math.round(col)) + Math.abs(row - Math.round(row))).toBeLessThan(1e-9);
      expect(turned.z[Math.round(row) * turned.cols + Math.round(col)]).toBe(Math.fround(z));
    }
    expect(turnedField(turned, turning)).toEqual(field);
  });

  test("wood's top becomes its bottom", () => {
    const timber = {
      ...{ outline: rectangle(10, 20, 60, 50), material: "elm" },
      ...{ top: gridded, bottom: flatFace(4) },
    };
    const turned = turnedTimber(timber, turning);
    const [x, y] = there(turning, 30, 40, 0);
    expect(turned.top.heightAt(x, y)).toBeCloseTo(turning.heightMm - 4, 12);
    expect(turned.bottom.heightAt(x, y)).toBeCloseTo(turning.heightMm - gridded.heightAt(30, 40), 12);
  });

  test("a direction is that of two points that were turned over", () => {
    for (const degrees of [0, 20, 90, 135, -70]) {
      const angle = (degrees * Math.PI) / 180;
      const [ax, ay] = there(turning, 5, 6, 0);
      const [bx, by] = there(turning, 5 + Math.cos(angle), 6 + Math.sin(angle), 0);
      const turned = turnedAngle(angle);
      // As a line: no matter which way along it.
      expect(Math.abs((bx - ax) * Math.sin(turned) - (by - ay) * Math.cos(turned))).toBeLessThan(1e-9);
    }
  });
});

describe("on shims", () => {
  const tilt = { tiltX: 0.01, tiltY: -0.004, raiseMm: 1.5 };

  test.each(SURFACES)("%s sinks by the tilt, place by place", (_, surface) => {
    const tilted = tiltedSurface(surface, tilt);
    expect(tilted.heightAt(100, 50)).toBeCloseTo(surface.heightAt(100, 50) + 1.5 - 1 + 0.2, 9);
    expectSame(tilted);
    expectSame(tilted, 0.5);
  });

  test("its readings with it", () => {
    const readings = tiltedReadings(Float64Array.of(100, 50, 30, 0, 0, 31), tilt);
    expect([...readings].map((value) => Number(value.toFixed(9)))).toEqual([100, 50, 30.7, 0, 0, 32.5]);
  });

  test("raised by a height everywhere", () => expectSame(raisedSurface(scattered, -6), 0.25));
});

describe("set into a mold", () => {
  const field: HeightField = {
    ...{ x0: -10, y0: 20, pitchMm: 2, cols: 41, rows: 31 },
    z: Float32Array.from({ length: 41 * 31 }, (_, k) =>
      height(-10 + 2 * (k % 41), 20 + 2 * Math.floor(k / 41)),
    ),
  };

  test.each([0, 30, 90, 180, -90, 270, 360, 451])(
    "at %i degrees each place of it lies where that angle and the move bring it",
    (degrees) => {
      const angleRad = (degrees * Math.PI) / 180;
      const placing = { angleRad, atMm: [150, -40] as const };
      const surface = placedField(field, placing, 4);
      for (const [x, y] of [
        [0, 30],
        [12.5, 44],
        [63, 71],
      ]) {
        const mx = x * Math.cos(angleRad) - y * Math.sin(angleRad) + 150;
        const my = x * Math.sin(angleRad) + y * Math.cos(angleRad) - 40;
        // Between the samples of a face that is bilinear itself.
        expect(Math.abs(surface.heightAt(mx, my) - height(x, y) - 4)).toBeLessThan(2e-4);
        const [px, py] = placedRing(Float64Array.of(x, y), placing);
        expect(Math.abs(px - mx) + Math.abs(py - my)).toBeLessThan(1e-9);
      }
      expectSame(surface);
      expectSame(surface, 0.5);
    },
  );

  test("quarter turns are exact, so that edges that meet do meet", () => {
    const ring = Float64Array.of(0, 0, 400.3, 0, 400.3, 120.7, 0, 120.7);
    const quarter = placedRing(ring, { angleRad: Math.PI / 2, atMm: [1000, 10] });
    expect([...quarter]).toEqual([1000, 10, 1000, 410.3, 1000 - 120.7, 410.3, 1000 - 120.7, 10]);
  });

  test("beyond its samples it goes on as it is", () => {
    const surface = placedField(field, { angleRad: 0, atMm: [0, 0] }, 0);
    expect(surface.heightAt(-30, 40)).toBeCloseTo(height(-10, 40), 3);
    expect(surface.heightAt(500, 500)).toBeCloseTo(height(70, 80), 2);
    expect(surface.covers(500, 500)).toBe(true);
  });
});
