// Where a ridge of a face runs out over the outline, the face stands higher than any reading and any sample of it:
// by a few hundredths of a millimetre. Air, first layers and bites are counted from the highest place, so it is
// looked for. Millimetres above the bed.

import { between, type HeightField } from "../survey/field.ts";
import { type Stock, stockHeights } from "../survey/stock.ts";

/** No place stands so much higher than the samples around it. */
const HIDDEN_MM = 1;
/** Narrowings of the stretch that holds a top: to 1/1000 of a sample's width. */
const NARROWINGS = 16;
const GOLDEN = (Math.sqrt(5) - 1) / 2;

/** The highest place on the outline's edge, where it is above `knownMm`, else that. `field` holds the stock's heights. */
export function highestOnEdge(stock: Stock, marginMm: number, field: HeightField, knownMm: number): number {
  const { outline } = stock.piece;
  if (stock.up.readings === null) return knownMm;
  let highest = knownMm;
  for (let k = 0, p = outline.length - 2; k < outline.length; p = k, k += 2) {
    const [dx, dy] = [outline[k] - outline[p], outline[k + 1] - outline[p + 1]];
    const steps = Math.max(1, Math.ceil(Math.sqrt(dx * dx + dy * dy) / field.pitchMm));
    const x = (step: number) => outline[p] + (dx * step) / steps;
    const y = (step: number) => outline[p + 1] + (dy * step) / steps;
    const about = Float64Array.from({ length: steps + 1 }, (_, step) => between(field, x(step), y(step)));
    for (let step = 0; step <= steps; step++) {
      if (about[step] < highest - HIDDEN_MM || about[step] < about[step - 1] || about[step] < about[step + 1])
        continue;
      const exact = (at: number) => exactHeight(stock, marginMm, x(at), y(at));
      highest = Math.max(highest, topBetween(exact, Math.max(0, step - 1), Math.min(steps, step + 1)));
    }
  }
  return highest;
}

function exactHeight(stock: Stock, marginMm: number, x: number, y: number): number {
  return stock.up.cut === null
    ? stock.up.surface.heightAt(x, y) + marginMm
    : stockHeights(stock, marginMm, { x0: x, y0: y, pitchMm: 1, cols: 1, rows: 1 })[0];
}

/** The greatest value of what rises to one top and falls again (golden section), its ends included. */
function topBetween(value: (at: number) => number, from: number, to: number): number {
  let [low, high] = [from, to];
  let top = Math.max(value(low), value(high));
  let [left, right] = [high - GOLDEN * (high - low), low + GOLDEN * (high - low)];
  let [atLeft, atRight] = [value(left), value(right)];
  for (let k = 0; k < NARROWINGS; k++) {
    top = Math.max(top, atLeft, atRight);
    if (atLeft > atRight) {
      [high, right, atRight] = [right, left, atLeft];
      left = high - GOLDEN * (high - low);
      atLeft = value(left);
    } else {
      [low, left, atLeft] = [left, right, atRight];
      right = low + GOLDEN * (high - low);
      atRight = value(right);
    }
  }
  return Math.max(top, atLeft, atRight);
}
