// Jobs whose machine time is measured against the area bound: forms that make rows, links and entries hard.
// Millimetres; the shop of the oracles, readings by formula.

import type { RawJob } from "../oracles/judge-job.ts";
import { plainShop } from "../oracles/plain-shop.ts";

type Height = (u: number, v: number) => number;
type Corners = [number, number][];

/** Heights over the box as u and v from -1 to 1. */
function grid(x: number, y: number, length: number, width: number, height: Height) {
  const [cols, rows] = [Math.round(length / 100) + 1, Math.round(width / 100) + 1];
  return {
    grid: {
      at: [x, y],
      step: [length / (cols - 1), width / (rows - 1)],
      rows: Array.from({ length: rows }, (_, j) =>
        Array.from({ length: cols }, (_, i) => height((2 * i) / (cols - 1) - 1, (2 * j) / (rows - 1) - 1)),
      ),
    },
  };
}

function job(name: string, pieces: object[], setup: object): RawJob {
  return {
    format: "slabtrue-job/1",
    name,
    units: "mm",
    shop: plainShop(63.5),
    pieces,
    setups: [
      {
        ...{ id: "flatten", face: "upper", cutter: "flat", target: { cleanUp: 1 }, margin: 1 },
        passes: { depth: 2, stepover: 0.6, feed: 6000, speed: 14000 },
        ...setup,
      },
    ],
  } as RawJob;
}

/** A waving edge of so many corners from x to x + length. */
function wave(x: number, y: number, length: number, size: number, phase: number): Corners {
  return Array.from({ length: 41 }, (_, k) => [
    x + (length * k) / 40,
    y + size * Math.sin(k / 3 + phase) + 0.4 * size * Math.sin(k + phase),
  ]);
}

function cleat(x: number, y: number): object {
  return { name: "cleat", outline: { length: 60, width: 40, at: [x, y] }, height: 75 };
}

export function machineJobs(): RawJob[] {
  const box = (length: number, width: number) => ({ length, width, at: [0, 0] });
  const live = [...wave(0, 0, 2200, 18, 0), ...wave(0, 620, 2200, 22, 1).reverse()];
  return [
    job(
      "twisted live edge",
      [{ id: "slab", outline: live, upper: grid(0, -60, 2200, 760, (u, v) => 60 + 4 * u * v + u * u) }],
      {},
    ),
    job(
      "two slabs",
      [
        { id: "near", outline: box(2000, 420), upper: grid(0, 0, 2000, 420, (u, v) => 58 + 3 * v * v + u) },
        {
          id: "far",
          outline: { length: 2000, width: 450, at: [0, 560] },
          upper: grid(0, 560, 2000, 450, (u, v) => 57 + 2 * u * u - 2 * v * u),
        },
      ],
      { target: { thickness: 54 } },
    ),
    job("four cleats and one in the middle", [{ id: "top", outline: box(2000, 900), thickness: 60 }], {
      target: { thickness: 56 },
      keepOut: [cleat(-30, 100), cleat(-30, 760), cleat(1970, 100), cleat(1970, 760), cleat(970, 430)],
    }),
    job(
      "C shape with a bay",
      [
        {
          id: "c",
          outline: [
            ...[
              [0, 0],
              [1800, 0],
              [1800, 300],
              [600, 300],
              [600, 700],
              [1800, 700],
              [1800, 1000],
              [0, 1000],
            ],
          ],
          thickness: 60,
        },
      ],
      { target: { thickness: 55 } },
    ),
    job(
      "crown island",
      [
        {
          id: "slab",
          outline: box(2000, 900),
          upper: grid(0, 0, 2000, 900, (u, v) => 60 - 5 * (u * u + v * v)),
        },
      ],
      { target: { depth: 6 } },
    ),
    job("long narrow", [{ id: "bar", outline: box(2400, 180), thickness: 60 }], {
      target: { thickness: 55 },
    }),
    job("in its mold, ramp entry", [{ id: "top", outline: box(1800, 900), thickness: 60 }], {
      target: { thickness: 56 },
      passes: { depth: 2, stepover: 0.6, feed: 6000, speed: 14000, entry: { ramp: 3 } },
      keepOut: [
        { name: "near wall", outline: { length: 1900, width: 20, at: [-50, -22] }, height: 70 },
        { name: "far wall", outline: { length: 1900, width: 20, at: [-50, 902] }, height: 70 },
        { name: "left wall", outline: { length: 20, width: 900, at: [-22, 0] }, height: 70 },
        { name: "right wall", outline: { length: 20, width: 900, at: [1802, 0] }, height: 70 },
      ],
      clear: { z: 10, side: 2 },
    }),
  ];
}
