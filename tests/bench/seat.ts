// Fitting planes to faces of 660,000 samples each (the thickest plank between two, and the minimum zone of one)
// against one look at every sample of one face, and against itself at four times the samples.

import { type Cloud, fieldCloud } from "../../src/survey/cloud.ts";
import type { HeightField } from "../../src/survey/field.ts";
import { minimumZone, thickestPlank } from "../../src/survey/zone.ts";
import { type BenchRow, medianRatio, seeded } from "./ratio.ts";

const [COLS, ROWS] = [1200, 550];
const PITCH_MM = 2;

interface Shape {
  readonly name: string;
  /** Heights of the upper and the under face at u, v from -1 to 1. */
  readonly upper: (u: number, v: number) => number;
  readonly under: (u: number, v: number) => number;
}

const SHAPES: readonly Shape[] = [
  {
    name: "slab: cup, bow, twist, tilt, waves and scatter",
    ...noisy(
      11,
      (u, v) => 76 + 3 * v * v + 2 * u * u + 4 * u * v + 6 * u - 2 * v + 0.6 * Math.sin(9 * u + 4 * v),
      (u, v) => 2 * v * v + 1.5 * u * u + 3 * u * v + 7 * u + 0.5 * Math.cos(7 * u - 5 * v),
    ),
  },
  {
    name: "tilted planes, the under one flatter",
    upper: (u, v) => 60 + 10 * u + 3 * v,
    under: (u, v) => 10 * u - 2 * v,
  },
  {
    name: "heights in whole tenths",
    upper: (u, v) => 60 + Math.round(10 * (3 * v * v + 2 * u * u + 1.5 * u * v + 5 * u)) / 10,
    under: (u, v) => Math.round(10 * (2 * u * v + v * v + 4 * u)) / 10,
  },
];

export function benchSeat(): BenchRow[] {
  const rows = SHAPES.map((shape) => {
    const [upper, under] = [fieldOf(shape.upper), fieldOf(shape.under)];
    const planesOf = () => {
      const [upperCloud, underCloud] = [cloudOf(upper), cloudOf(under)];
      return { plank: thickestPlank(upperCloud, underCloud), zone: minimumZone(upperCloud) };
    };
    const { plank, zone } = planesOf();
    return {
      name: `seat LP and minimum zone, in scans of a face: ${shape.name}`,
      ratio: medianRatio(planesOf, () => scan(upper, plank.a, plank.b)),
      target: 30,
      detail: `${COLS * ROWS} samples a face; plank ${plank.apartMm.toFixed(6)} mm, ${plank.scans} rounds; zone ${zone.apartMm.toFixed(6)} mm, ${zone.scans} rounds`,
    };
  });
  const [slab] = SHAPES;
  const fields = (times: number) => [fieldOf(slab.upper, times), fieldOf(slab.under, times)];
  const plank = ([upper, under]: HeightField[]) => thickestPlank(cloudOf(upper), cloudOf(under));
  const [plain, fine] = [fields(1), fields(2)];
  return [
    ...rows,
    {
      name: "seat LP, four times the samples",
      ratio: medianRatio(
        () => plank(fine),
        () => plank(plain),
      ),
      target: 5.5,
      detail: `${plank(fine).scans} rounds against ${plank(plain).scans}`,
    },
  ];
}

/** The least that a look at every sample can be: the lowest and the highest over a plane. */
function scan({ cols, rows, pitchMm, z }: HeightField, a: number, b: number): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let row = 0, k = 0; row < rows; row++) {
    const base = b * row * pitchMm;
    for (let col = 0; col < cols; col++, k++) {
      const over = z[k] - (base + a * pitchMm * col);
      if (over < low) low = over;
      if (over > high) high = over;
    }
  }
  return high - low;
}

function fieldOf(height: Shape["upper"], times = 1): HeightField {
  const [cols, rows] = [times * COLS, times * ROWS];
  const z = Float32Array.from({ length: cols * rows }, (_, k) =>
    height((2 * (k % cols)) / (cols - 1) - 1, (2 * Math.floor(k / cols)) / (rows - 1) - 1),
  );
  return { x0: 0, y0: 0, pitchMm: PITCH_MM / times, cols, rows, z };
}

const everywhere = new Uint8Array(4 * COLS * ROWS).fill(1);

function cloudOf(field: HeightField): Cloud {
  return fieldCloud(field, everywhere);
}

function noisy(
  seed: number,
  upper: Shape["upper"],
  under: Shape["under"],
): { upper: Shape["upper"]; under: Shape["under"] } {
  const random = seeded(seed);
  const rough = (height: Shape["upper"]) => (u: number, v: number) => height(u, v) + 0.1 * random();
  return { upper: rough(upper), under: rough(under) };
}
