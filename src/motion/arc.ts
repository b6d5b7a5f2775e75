// Geometry of one arc in the XY plane: how far it turns, seen from its centre. Program coordinates, mm, radians.

/**
 * Angle an arc sweeps from (x0, y0) to (x1, y1) about (centreX, centreY), positive, at most 2 pi. End and
 * start in one place are a full circle (NISTIR 6556 section 4.3.6.1: more than 0, at most 360 degrees);
 * so is a sweep below 1e-9 rad, which only rounding leaves over.
 */
export function arcSweepRad(
  x0: number,
  y0: number,
  x1: number,
  y1: number,
  centreX: number,
  centreY: number,
  clockwise: boolean,
): number {
  const ax = x0 - centreX;
  const ay = y0 - centreY;
  const bx = x1 - centreX;
  const by = y1 - centreY;
  const counter = Math.atan2(ax * by - ay * bx, ax * bx + ay * by);
  const sweep = clockwise ? -counter : counter;
  return sweep < 1e-9 ? Math.min(sweep + 2 * Math.PI, 2 * Math.PI) : sweep;
}

/** Where an arc comes farthest along an axis between its ends, flat `[x, y, ...]`: its quarters, as far as it passes them. */
export function arcQuarters(
  x0: number,
  y0: number,
  x1: number,
  y1: number,
  centreX: number,
  centreY: number,
  clockwise: boolean,
): number[] {
  const sweep = arcSweepRad(x0, y0, x1, y1, centreX, centreY, clockwise);
  const radius = Math.sqrt((x0 - centreX) ** 2 + (y0 - centreY) ** 2);
  const found: number[] = [];
  for (const [cos, sin] of [
    [1, 0],
    [0, 1],
    [-1, 0],
    [0, -1],
  ]) {
    const [x, y] = [centreX + radius * cos, centreY + radius * sin];
    if (arcSweepRad(x0, y0, x, y, centreX, centreY, clockwise) < sweep) found.push(x, y);
  }
  return found;
}
