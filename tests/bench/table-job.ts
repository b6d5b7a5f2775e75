// The table that the benches plan: 2.4 x 1.1 m, live edges, a grid of readings with cup, bow, twist and
// scatter, six layers. Twice the area is twice the width; twice the layers is half the depth. Millimetres.

import type { RawJob } from "../oracles/judge-job.ts";
import { plainShop } from "../oracles/plain-shop.ts";
import { Dice } from "../oracles/random-jobs.ts";

const LENGTH_MM = 2400;
const WIDTH_MM = 1100;
const PITCH_MM = 100;
// Not a whole number of layers: rounding must not make a seventh.
const TO_CUT_MM = 9;
const LAYER_MM = 1.6;

/** A raw job with its shop and readings inline; the seed is that of the readings' scatter. */
export function tableJob(areaTimes: 1 | 2, layersTimes: 1 | 2 = 1, seed = 1): RawJob {
  const widthMm = WIDTH_MM * areaTimes;
  const marginMm = 1;
  return {
    format: "slabtrue-job/1",
    name: `bench table, ${areaTimes} x area, ${layersTimes} x layers`,
    units: "mm",
    shop: plainShop(63.5),
    pieces: [
      {
        id: "table",
        material: "white oak",
        outline: { stations: stations(widthMm) },
        grain: 0,
        upper: { grid: readings(widthMm, new Dice(seed)) },
      },
    ],
    setups: [
      {
        id: "flatten",
        face: "upper",
        cutter: "flat",
        target: { depth: TO_CUT_MM - marginMm },
        margin: marginMm,
        passes: { depth: LAYER_MM / layersTimes, stepover: 0.6, feed: 6000, speed: 14000 },
      },
    ],
  };
}

/** Two waving edges, a station every 40 mm. */
function stations(widthMm: number): number[][] {
  return Array.from({ length: LENGTH_MM / 40 + 1 }, (_, i) => {
    const t = i / 10;
    const near = 15 * Math.sin(t) + 6 * Math.sin(3.7 * t);
    const far = widthMm + 18 * Math.sin(0.8 * t + 2) + 5 * Math.sin(4.1 * t);
    return [40 * i, near, far];
  });
}

function readings(widthMm: number, dice: Dice): { at: number[]; step: number[]; rows: number[][] } {
  const cols = LENGTH_MM / PITCH_MM + 1;
  const rows = widthMm / PITCH_MM + 3;
  const heights = Array.from({ length: rows }, (_, row) =>
    Array.from({ length: cols }, (_, col) => {
      const [u, v] = [(2 * col) / (cols - 1) - 1, (2 * row) / (rows - 1) - 1];
      return 60 + 3 * v * v + 2 * u * u + 1.5 * u * v + dice.between(-0.15, 0.15);
    }),
  );
  return { at: [0, -PITCH_MM], step: [PITCH_MM, PITCH_MM], rows: heights };
}
