// Outlines from stations: edges measured with a tape every so far along a slab.

import fc from "fast-check";
import { expect, test } from "vitest";
import { inOrOn } from "../../src/job/outline.ts";
import { findings, read, set } from "./example.ts";

const SEED = 20_260_602;

type Station = [x: number | string, near: number | string, far: number | string];

function outlineOf(stations: Station[], units = "mm"): Float64Array {
  return read((job) => {
    job.units = units;
    job.pieces = [{ id: "left", outline: { stations }, thickness: "60 mm" }];
    job.setups[0].passes.feed = "6 m/min";
  }).pieces[0].outline;
}

function areaOf(ring: Float64Array): number {
  let twice = 0;
  for (let k = 0; k < ring.length; k += 2) {
    const next = (k + 2) % ring.length;
    twice += ring[k] * ring[next + 1] - ring[next] * ring[k + 1];
  }
  return twice / 2;
}

test("golden: three stations, by hand", () => {
  const stations: Station[] = [
    [0, 10, 410],
    [600, -5, 380],
    [1200, 20, 400],
  ];
  expect(outlineOf(stations)).toEqual(Float64Array.of(0, 10, 600, -5, 1200, 20, 1200, 400, 600, 380, 0, 410));
});

test("tape readings may stand as they were read", () => {
  const stations: Station[] = [
    ["0 in", '1 1/2"', `2' 3"`],
    [`8' 2 1/2"`, 1, "70 cm"],
  ];
  // 8 ft 2 1/2 in are 98.5 in = 2501.9 mm; 2 ft 3 in are 27 in = 685.8 mm.
  expect(outlineOf(stations, "in")).toEqual(Float64Array.of(0, 38.1, 2501.9, 25.4, 2501.9, 700, 0, 685.8));
});

test(`any stations give a ring whose area is that of their trapezoids, seed ${SEED}`, () => {
  const step = fc.record({
    along: fc.integer({ min: 1, max: 900 }),
    near: fc.integer({ min: -300, max: 300 }),
    width: fc.integer({ min: 1, max: 900 }),
  });
  fc.assert(
    fc.property(fc.array(step, { minLength: 2, maxLength: 40 }), (steps) => {
      let x = -500;
      const stations = steps.map(({ along, near, width }): [number, number, number] => {
        x += along;
        return [x, near, near + width];
      });
      const ring = outlineOf(stations);
      let area = 0;
      for (const [k, [x1, near1, far1]] of stations.entries()) {
        if (k === 0) continue;
        const [x0, near0, far0] = stations[k - 1];
        area += ((x1 - x0) * (far0 - near0 + (far1 - near1))) / 2;
        const [xMid, nearMid, farMid] = [(x0 + x1) / 2, (near0 + near1) / 2, (far0 + far1) / 2];
        for (const share of [0.01, 0.5, 0.99])
          expect(inOrOn(ring, xMid, nearMid + (farMid - nearMid) * share, 0)).toBe(true);
        expect(inOrOn(ring, xMid, nearMid - 0.1, 0)).toBe(false);
        expect(inOrOn(ring, xMid, farMid + 0.1, 0)).toBe(false);
      }
      expect(areaOf(ring)).toBeCloseTo(area, 6);
    }),
    { seed: SEED, numRuns: 100 },
  );
});

test.each<[unknown, string]>([
  [[], ".stations: found 0 stations; wanted at least 2"],
  [[[0, 0, 1]], ".stations: found 1 station; wanted at least 2"],
  [
    [
      [0, 0, 1],
      [5, 1, 1],
    ],
    ".stations[1]: found yNear 1 mm and yFar 1 mm; yFar must be greater",
  ],
  [
    [
      [0, 0, 1],
      [5, 0, 1],
      [4, 0, 1],
    ],
    ".stations[2]: found x 4 mm after 5 mm; x must grow from station to station",
  ],
  [
    [
      [0, 0, 1],
      [5, 0],
    ],
    ".stations[1]: found a list of 2; wanted [x, yNear, yFar]",
  ],
  [
    [
      [0, 0, 1],
      [5, 0, "wide"],
    ],
    '.stations[1][2]: found "wide"; wanted a length',
  ],
  [{ "0": [0, 1] }, ".stations: found a group of fields; wanted a list"],
  [
    Array.from({ length: 10_001 }, (_, k) => [k, 0, 9]),
    ".stations: found a list of 10001; wanted at most 10000",
  ],
])("stations %# are refused", (stations, text) => {
  expect(findings(set("pieces[0].outline", { stations }))).toContainEqual(
    expect.stringContaining(`pieces[0].outline${text}`),
  );
});
