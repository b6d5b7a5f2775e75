// The proof's sweep against the least that a sweep over as many cells could be, and its growth when rows are
// cut into short moves.

import { ZMap } from "../../src/proof/zmap.ts";
import { type BenchRow, medianRatio } from "./ratio.ts";

const [COLS, ROWS] = [2400, 1100];
const RADIUS = 31.75;
const GRID = { x0: 0.5, y0: 0.5, pitchMm: 1, cols: COLS, rows: ROWS };
const STEP = 38.1;

export function benchProof(): BenchRow[] {
  const z = new Float32Array(COLS * ROWS).fill(76);
  const map = new ZMap(GRID, z);
  const layer = (pieceMm: number) => {
    z.fill(76);
    let bite = 0;
    for (let y = RADIUS; y < ROWS - RADIUS; y += STEP)
      for (let x = 0; x < COLS; x += pieceMm)
        bite = Math.max(bite, map.cutLevel(x, y, Math.min(COLS, x + pieceMm), y, 74, RADIUS, x > 0).bite);
    return bite;
  };
  // As many cells as the discs' rows hold, each looked at once a row.
  const plain = () => {
    z.fill(76);
    let bite = 0;
    for (let y = RADIUS; y < ROWS - RADIUS; y += STEP) {
      const to = Math.floor(y + RADIUS - 0.5);
      for (let row = Math.ceil(y - RADIUS - 0.5); row <= to; row++)
        for (let k = row * COLS; k < (row + 1) * COLS; k++) {
          const over = z[k] - 74;
          if (over > 0) {
            if (over > bite) bite = over;
            z[k] = 74;
          }
        }
    }
    return bite;
  };
  const whole = () => layer(COLS);
  return [
    {
      name: "proof sweep with bites: to a plain minimum over as many cells",
      ratio: medianRatio(whole, plain),
      target: 1.3,
      detail: `one layer of ${COLS} x ${ROWS} cells, bite ${whole()}`,
    },
    {
      name: "proof sweep, rows cut into 1 mm moves: to whole rows",
      ratio: medianRatio(() => layer(1), whole),
      target: 18,
      detail: `bite ${layer(1)}`,
    },
  ];
}
