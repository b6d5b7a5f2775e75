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
