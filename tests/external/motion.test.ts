// The clock against figures that do not come from it. Trapezoids and the circle in a corner: textbook formulas
// (e.g. Biagiotti & Melchiorri, Trajectory Planning for Automatic Machines and Robots, 2008; from memory), worked
// out by hand to the digits below. The corner rule is a community rule of open motion firmware (from memory).

import { describe, expect, test } from "vitest";
import { ClockColumns, straightSeconds, trackTimes } from "../../src/motion/clock.ts";
import { Kind, Track } from "../../src/motion/track.ts";
import { evenMachine } from "../motion/machines.ts";

describe("trapezoid from rest to rest", () => {
  const table: [string, number, number | "rapid", number, number][] = [
    ["1000 mm at 100 mm/s, 500 mm/s^2", 1000, 6000, 500, 10.2],
    ["10 mm, same, peak 70.7107 mm/s", 10, 6000, 500, 0.2828427125],
    ["20 mm, same, exactly v^2/a", 20, 6000, 500, 0.4],
    ["24 mm link, same", 24, 6000, 500, 0.44],
    ["5 mm lift at 25 mm/s, 200 mm/s^2", 5, 1500, 200, 0.325],
    ["1500 mm rapid at 250 mm/s, 800 mm/s^2", 1500, "rapid", 800, 6.3125],
  ];
  for (const [name, length, speed, acceleration, seconds] of table) {
    test(name, () => {
      expect(straightSeconds(length, 0, 0, speed, evenMachine(acceleration))).toBeCloseTo(seconds, 9);
      const track = new Track(4);
      track.push(Kind.rapid, 0, 0, 0);
      track.push(speed === "rapid" ? Kind.rapid : Kind.cut, 0, length, 0, speed === "rapid" ? NaN : speed);
      expect(trackTimes(track, evenMachine(acceleration)).total).toBeCloseTo(seconds, 9);
    });
  }
});

describe("corner speed at 500 mm/s^2 and 0.05 mm", () => {
  // The table's acceleration is 500 mm/s^2 whatever the angle; the limits are scaled so that this is what the
  // rule finds available: the limit over the largest component of the heading's change.
  const table: [number, number][] = [
    [30, 2.95465],
    [60, 5],
    [90, 7.76887],
    [135, 17.41915],
    [170, 80.89982],
  ];
  for (const [degrees, speed] of table) {
    test(`legs at ${degrees} degrees: ${speed} mm/s`, () => {
      const turn = Math.PI - (degrees * Math.PI) / 180;
      const change = Math.max(Math.abs(Math.cos(turn) - 1), Math.abs(Math.sin(turn)));
      const track = new Track(4);
      track.push(Kind.rapid, -1000, 0, 0);
      track.push(Kind.cut, 0, 0, 0, 30_000);
      track.push(Kind.cut, 1000 * Math.cos(turn), 1000 * Math.sin(turn), 0, 30_000);
      const columns = new ClockColumns();
      trackTimes(track, evenMachine(500 * change), columns);
      expect(Math.sqrt(columns.exitSq[1])).toBeCloseTo(speed, 5);
    });
  }
});

describe("speed on arcs at 500 mm/s^2", () => {
  const table: [number, number][] = [
    [1, 22.36068],
    [10, 70.710678],
    [12, 77.459667],
    [50, 158.113883],
  ];
  for (const [radius, speed] of table) {
    test(`radius ${radius} mm: ${speed} mm/s`, () => {
      const track = new Track(4);
      track.push(Kind.rapid, radius, 0, 0);
      track.push(Kind.arcClockwise, radius, 0, 0, 60_000);
      const columns = new ClockColumns();
      trackTimes(track, evenMachine(), columns);
      expect(columns.speed[1]).toBeCloseTo(speed, 6);
    });
  }
});

describe("a raster of 20 rows of 1000 mm, links of 24 mm, 100 mm/s, 500 mm/s^2", () => {
  function raster(link: "straight" | "arc"): Track {
    const track = new Track(64);
    track.push(Kind.rapid, 0, 0, 0);
    for (let row = 0; row < 20; row++) {
      const right = row % 2 === 0;
      const [x, y] = [right ? 1000 : 0, row * 24];
      track.push(Kind.cut, x, y, 0, 6000);
      if (row === 19) break;
      if (link === "straight") {
        track.push(Kind.cut, x, y + 24, 0, 6000);
      } else {
        const i = track.push(right ? Kind.arcCounter : Kind.arcClockwise, x, y + 24, 0, 6000);
        track.centreX[i] = x;
        track.centreY[i] = y + 12;
      }
    }
    return track;
  }
  const naive = trackTimes(raster("straight"), evenMachine(1e12, 1e6)).total;
  const fullStop = trackTimes(raster("straight"), evenMachine(500, 0)).total;
  const withRule = trackTimes(raster("straight"), evenMachine()).total;
  const withArcs = trackTimes(raster("arc"), evenMachine()).total;

  test("without acceleration: 204.560 s", () => expect(naive).toBeCloseTo(204.56, 6));
  test("with a stop at each corner: 212.360 s", () => expect(fullStop).toBeCloseTo(212.36, 9));
  test("with corners at 7.768870 mm/s: 211.2250018 s", () => expect(withRule).toBeCloseTo(211.2250018, 7));
  test("with half circles for links: 209.6402407 s", () => expect(withArcs).toBeCloseTo(209.6402407, 7));
  test("the order is naive < arcs < corner rule < full stop", () => {
    expect(naive).toBeLessThan(withArcs);
    expect(withArcs).toBeLessThan(withRule);
    expect(withRule).toBeLessThan(fullStop);
  });

  test("the parts: outer and inner rows, links", () => {
    const { seconds } = trackTimes(raster("straight"), evenMachine());
    expect(seconds[1]).toBeCloseTo(10.1850658136, 9);
    expect(seconds[2]).toBeCloseTo(0.4101316273, 9);
    expect(seconds[3]).toBeCloseTo(10.1701316273, 9);
    const arcs = trackTimes(raster("arc"), evenMachine()).seconds;
    expect(arcs[1]).toBeCloseTo(10.1050806662, 9);
    expect(arcs[2]).toBeCloseTo(0.4866934411, 9);
    expect(arcs[3]).toBeCloseTo(10.0101613323, 9);
  });
});

test("NISTIR 6556 section 5.3: 2000 moves of 0.1 mm at 1000 mm/min take 12 s, as speed changes at once", () => {
  const track = new Track(2001);
  track.push(Kind.rapid, 0, 0, 0);
  for (let i = 1; i <= 2000; i++) track.push(Kind.cut, i / 10, 0, 0, 1000);
  expect(trackTimes(track, evenMachine(1e12)).total).toBeCloseTo(12, 6);
  // With acceleration one long move: 200 mm at 16.667 mm/s from rest to rest.
  expect(trackTimes(track, evenMachine(500)).total).toBeCloseTo(12 + 1000 / 60 / 500, 9);
});
