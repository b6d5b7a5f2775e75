import { describe, expect, test } from "vitest";
import { formOf } from "../../src/survey/form.ts";
import { rectangle, ringOf } from "../region/shapes.ts";

type Height = (x: number, y: number) => number;

/** A face of 2400 x 600 around the origin, u and v from -1 to 1. */
const formed =
  ({ cup = 0, bow = 0, twist = 0, tiltX = 0, tiltY = 0 }): Height =>
  (x, y) => {
    const [u, v] = [x / 1200, y / 300];
    return 60 + cup * v * v + bow * u * u + twist * u * v + tiltX * x + tiltY * y;
  };
const OUTLINE = rectangle(-1200, -300, 1200, 300);

describe("form of a face (by hand: 4 mm of cup, 3 of bow; u v raises a corner by 4 x 1.5 off the others' plane)", () => {
  const height = formed({ cup: 4, bow: -3, twist: 1.5, tiltX: 0.01, tiltY: -0.02 });

  test("is cup across, bow along, and twist, whatever the tilt", () => {
    const { cup, bow, twistMm } = formOf(height, OUTLINE, 0);
    expect(cup).toEqual({ riseMm: expect.closeTo(4, 9), shape: "hollow" });
    expect(bow).toEqual({ riseMm: expect.closeTo(3, 9), shape: "crowned" });
    expect(twistMm).toBeCloseTo(6, 9);
  });

  test.each([0.3, 1.2, Math.PI / 2, -2])("turns with the piece and its grain, by %f", (angle) => {
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    const turned = OUTLINE.map((_, k) =>
      k % 2 === 0 ? OUTLINE[k] * cos - OUTLINE[k + 1] * sin : OUTLINE[k - 1] * sin + OUTLINE[k] * cos,
    );
    const face: Height = (x, y) => height(x * cos + y * sin, -x * sin + y * cos);
    const { cup, bow, twistMm } = formOf(face, turned, angle);
    expect(cup.riseMm).toBeCloseTo(4, 6);
    expect(bow.riseMm).toBeCloseTo(3, 6);
    expect(twistMm).toBeCloseTo(6, 6);
  });

  test("with the grain across, cup and bow change places", () => {
    const { cup, bow, twistMm } = formOf(height, OUTLINE, Math.PI / 2);
    expect(cup).toEqual({ riseMm: expect.closeTo(3, 6), shape: "crowned" });
    expect(bow).toEqual({ riseMm: expect.closeTo(4, 6), shape: "hollow" });
    expect(twistMm).toBeCloseTo(6, 6);
  });
});

test("a plane has no form", () => {
  const { cup, bow, twistMm } = formOf(formed({ tiltX: 0.02, tiltY: 0.03 }), OUTLINE, 0);
  expect(Math.max(cup.riseMm, bow.riseMm, twistMm)).toBeLessThan(1e-9);
});

test("a ridge beside the middle counts where it stands highest over the straightedge (by hand: 5)", () => {
  // Up to 5 mm at v = -0.5, straight down to both edges at 0: the straightedge lies at 0.
  const ridge: Height = (_, y) => (y < -150 ? (5 * (y + 300)) / 150 : (5 * (300 - y)) / 450);
  const { cup, bow } = formOf(ridge, OUTLINE, 0);
  expect(cup).toEqual({ riseMm: expect.closeTo(5, 9), shape: "crowned" });
  expect(bow.riseMm).toBeLessThan(1e-9);
});

describe("twist", () => {
  test("of a tapering piece is that of the corner that stands farthest off (by hand)", () => {
    // Corner (0, 300) is 2 mm up, and as much off the plane of the others.
    const outline = ringOf([0, 0], [2000, 0], [2000, 600], [0, 300]);
    const raised: Height = (x, y) => (x === 0 && y === 300 ? 2 : 0);
    // For the corner (2000, 600) the others' plane is z = 2 y / 300 over x = 0 and 0 along y = 0: 4 mm off.
    expect(formOf(raised, outline, 0).twistMm).toBeCloseTo(4, 9);
  });

  test("of a triangle is none", () => {
    const outline = ringOf([0, 0], [2000, 300], [0, 600]);
    expect(formOf((x, y) => (x * y) / 1e5, outline, 0).twistMm).toBe(0);
  });
});
