// What a spindle that is not square to the bed leaves between rows. A tilted cutter turns on a tilted
// disc: across the rows it leaves a saw-tooth of steps, along them a hollow in every row. Exact for a
// flat disc and any tilt, in the plane across the rows; millimetres, slopes as rise over run.
//
// The disc lies in z = p x + q y (x along the rows, p and q its slopes), its rim at radius R about the
// middle. Moved along x, what it leaves at y is the lowest z of the rim there:
//
//   z(y) = a y - b sqrt(Y² - y²),  |y| <= Y,  with  a = q / (1 + p²),  b = |p| sqrt(1 + p² + q²) / (1 + p²),
//   Y² = R² (1 + p²) / (1 + p² + q²)
//
// which for p = 0 is the step s tan(tilt) of neighbouring rows, and for q = 0 the hollow
// R sin(tilt) (1 - sqrt(1 - (s / 2R)²)). Does not model the cutter's runout, bending, or waves of the rails.

/** How the disc slopes along and across the rows. */
export interface DiscSlope {
  readonly along: number;
  readonly across: number;
}

/**
 * The disc's slopes for rows at `rowAngleRad` from +X, where the spindle is tilted about X and about Y
 * by `outOfSquare` (mm per m; right-handed about the axis). The disc then rises by `x` along +Y and
 * falls by `y` along +X.
 */
export function discSlope(
  outOfSquare: { readonly x: number; readonly y: number },
  rowAngleRad: number,
): DiscSlope {
  const [cos, sin] = [Math.cos(rowAngleRad), Math.sin(rowAngleRad)];
  const risingX = -outOfSquare.y / 1000;
  const risingY = outOfSquare.x / 1000;
  return { along: risingX * cos + risingY * sin, across: risingY * cos - risingX * sin };
}

/**
 * Height from the deepest to the highest place that rows `stepMm` apart leave, mm. Free edges of the
 * outermost rows are not counted.
 */
export function ridgeMm(diameterMm: number, stepMm: number, slope: DiscSlope): number {
  const [pp, qq] = [slope.along ** 2, slope.across ** 2];
  const a = Math.abs(slope.across) / (1 + pp);
  const b = (Math.abs(slope.along) * Math.sqrt(1 + pp + qq)) / (1 + pp);
  const tilt = Math.sqrt(a * a + b * b);
  if (tilt === 0) return 0;
  const reach = (diameterMm / 2) * Math.sqrt((1 + pp) / (1 + pp + qq));
  const step = Math.min(stepMm, 2 * reach);
  const z = (y: number) => a * y - b * Math.sqrt(Math.max(0, reach * reach - y * y));

  const from = keptFrom(a, b, reach, step);
  const deepest = Math.max(from, Math.min(from + step, (-reach * a) / tilt));
  return Math.max(z(from), z(from + step)) - z(deepest);
}

/**
 * Where the stretch of length `step` begins that a row keeps of its own: it ends where the row meets its
 * neighbours, at one height, so z(from) = z(from + step). That makes it a chord of slope a / b of the
 * circle with radius `reach`. Where the tilt across is too strong for such a chord on the upper half of
 * the circle, the row keeps what its lower rim cuts.
 */
function keptFrom(a: number, b: number, reach: number, step: number): number {
  const tilt = Math.sqrt(a * a + b * b);
  const chord = step * (tilt / b);
  const distance = Math.sqrt(Math.max(0, reach * reach - (chord * chord) / 4));
  const leftEndHeight = (distance * b - (chord / 2) * a) / tilt;
  return leftEndHeight >= 0 ? (-distance * a) / tilt - step / 2 : -reach;
}

/** The distance between rows that leaves half the ridge of rows `stepMm` apart, mm. */
export function halvingStepMm(diameterMm: number, stepMm: number, slope: DiscSlope): number {
  const wanted = ridgeMm(diameterMm, stepMm, slope) / 2;
  let [low, high] = [0, stepMm];
  for (let round = 0; round < 40; round++) {
    const middle = (low + high) / 2;
    if (ridgeMm(diameterMm, middle, slope) > wanted) high = middle;
    else low = middle;
  }
  return low;
}
