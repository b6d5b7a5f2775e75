// What one edge of the cutter takes, and what that costs the spindle. Milling formulas as machinist
// handbooks give them (Machinery's Handbook, milling feeds and power, from memory; the same set stands
// in industrial milling catalogues). Millimetres, mm/min, rev/min, radians. Takes the cutter as sharp
// and true, and the cut as as deep everywhere as it is at its deepest.

/** Feed of one edge in one turn, mm: fz = F / (n z). */
export function feedPerEdgeMm(feedMmPerMin: number, speed: number, edges: number): number {
  return feedMmPerMin / (speed * edges);
}

/** The angle over which an edge is in the material, where the cutter takes a strip `widthMm` wide at its side: arccos(1 - 2 ae / D). */
export function engagementRad(widthMm: number, diameterMm: number): number {
  return Math.acos(1 - 2 * Math.min(1, widthMm / diameterMm));
}

/** The thickest chip for a feed per edge of 1: below 1 ("chip thinning") where the strip is narrower than the radius. */
export function chipShare(widthMm: number, diameterMm: number): number {
  const engaged = engagementRad(widthMm, diameterMm);
  return engaged < Math.PI / 2 ? Math.sin(engaged) : 1;
}

/** Mean chip thickness for a feed per edge of 1: (2 ae / D) / engagement angle. */
export function meanChipShare(widthMm: number, diameterMm: number): number {
  const share = Math.min(1, widthMm / diameterMm);
  return (2 * share) / engagementRad(widthMm, diameterMm);
}

/** Speed of the rim, m/s: pi D n. */
export function rimSpeedMPerS(diameterMm: number, speed: number): number {
  return (Math.PI * diameterMm * speed) / 60_000;
}

/** Volume taken per second, cm³/s: Q = ap ae F. */
export function removalCm3PerS(depthMm: number, widthMm: number, feedMmPerMin: number): number {
  return (depthMm * widthMm * feedMmPerMin) / 60_000;
}

/** Power at the cutter, kW, for a specific cutting energy in J/cm³ (the same number in N/mm²): P = kc Q. */
export function cuttingPowerKw(removedCm3PerS: number, energyJPerCm3: number): number {
  return (removedCm3PerS * energyJPerCm3) / 1000;
}

/** Torque at a spindle that gives `powerKw`, N·m: P / (2 pi n). */
export function torqueNm(powerKw: number, speed: number): number {
  return (powerKw * 60_000) / (2 * Math.PI * speed);
}
