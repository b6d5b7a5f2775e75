// The pair of parallel planes through or between points as a plain linear programme, for LP libraries to solve:
// slopes a and b (per metre, so that all terms are of a size), the lower of the planes at u over the origin, the
// upper at l; the greatest l - u. Gaps are along Z. Minimum zone: the same points below and above, and minus the gap.

import type { Model } from "yalps";

export interface LpProgram {
  readonly text: string;
  readonly model: Model;
}

/** Points as flat `[x, y, z, ...]`: those of `below` lie under the lower plane, those of `above` over the upper. */
export function plankProgram(below: Float64Array, above: Float64Array): LpProgram {
  const rows: string[] = [];
  const constraints = new Map<string, { min?: number; max?: number }>();
  const terms = { a: {}, b: {}, l: { gap: 1 }, u: { gap: -1 } } as Record<
    "a" | "b" | "l" | "u",
    Record<string, number>
  >;
  const add = (xyz: Float64Array, edge: "l" | "u") => {
    for (let k = 0; k < xyz.length; k += 3) {
      const name = `${edge}${k / 3}`;
      const [x, y, z] = [xyz[k] / 1000, xyz[k + 1] / 1000, xyz[k + 2]];
      rows.push(
        `${name}: ${signed(x)} a ${signed(y)} b + 1 ${edge} ${edge === "u" ? ">=" : "<="} ${z.toFixed(12)}`,
      );
      constraints.set(name, edge === "u" ? { min: z } : { max: z });
      terms.a[name] = x;
      terms.b[name] = y;
      terms[edge][name] = 1;
    }
  };
  add(below, "u");
  add(above, "l");
  const text = `maximize\n gap: 1 l - 1 u\nsubject to\n ${rows.join("\n ")}\nbounds\n a free\n b free\n l free\n u free\nend`;
  // That library knows no variables below 0: each is the difference of two.
  const variables: Record<string, Record<string, number>> = {};
  for (const [name, column] of Object.entries(terms)) {
    variables[name] = column;
    variables[`${name}Less`] = Object.fromEntries(
      Object.entries(column).map(([row, value]) => [row, -value]),
    );
  }
  return {
    text,
    model: { direction: "maximize", objective: "gap", constraints, variables },
  };
}

function signed(value: number): string {
  return `${value < 0 ? "-" : "+"} ${Math.abs(value).toFixed(12)}`;
}

/** The points in the frame where planes of slopes a and b lie level. */
export function levelled(xyz: Float64Array, a: number, b: number): Float64Array {
  // Z along the normal, X in the plane over the old X, Y square to both.
  const n = Math.sqrt(1 + a * a + b * b);
  const normal = [-a / n, -b / n, 1 / n];
  const m = Math.sqrt(1 + a * a);
  const ex = [1 / m, 0, a / m];
  const ey = [
    normal[1] * ex[2] - normal[2] * ex[1],
    normal[2] * ex[0] - normal[0] * ex[2],
    normal[0] * ex[1] - normal[1] * ex[0],
  ];
  const out = new Float64Array(xyz.length);
  for (let k = 0; k < xyz.length; k += 3)
    [ex, ey, normal].forEach((axis, i) => {
      out[k + i] = axis[0] * xyz[k] + axis[1] * xyz[k + 1] + axis[2] * xyz[k + 2];
    });
  return out;
}
