// Polygons in the plane for the judge: which side a place is on, and how far away the edge is.
// A polygon is a list of corners in mm, in either direction, not repeated at the end.

export type Polygon = readonly (readonly [number, number])[];

export interface Box {
  readonly xMin: number;
  readonly yMin: number;
  readonly xMax: number;
  readonly yMax: number;
}

/** Even-odd rule; a place exactly on the edge may come out either way. */
export function isInside(polygon: Polygon, x: number, y: number): boolean {
  let inside = false;
  for (let i = 0, j = polygon.length - 1; i < polygon.length; j = i++) {
    const [xa, ya] = polygon[i];
    const [xb, yb] = polygon[j];
    if (ya > y !== yb > y && x < xa + ((y - ya) / (yb - ya)) * (xb - xa)) inside = !inside;
  }
  return inside;
}

/** Distance in mm to the nearest place of the edge, from either side. */
export function distanceToEdge(polygon: Polygon, x: number, y: number): number {
  let nearest = Infinity;
  for (let i = 0, j = polygon.length - 1; i < polygon.length; j = i++) {
    const [xa, ya] = polygon[j];
    const [xb, yb] = polygon[i];
    nearest = Math.min(nearest, distanceToSegment(x, y, xa, ya, xb, yb));
  }
  return nearest;
}

/** Distance in mm to the polygon as a filled shape: 0 inside. */
export function distanceToShape(polygon: Polygon, x: number, y: number): number {
  return isInside(polygon, x, y) ? 0 : distanceToEdge(polygon, x, y);
}

export function distanceToSegment(
  x: number,
  y: number,
  xa: number,
  ya: number,
  xb: number,
  yb: number,
): number {
  const dx = xb - xa;
  const dy = yb - ya;
  const length2 = dx * dx + dy * dy;
  const along = length2 > 0 ? ((x - xa) * dx + (y - ya) * dy) / length2 : 0;
  const t = Math.min(1, Math.max(0, along));
  const ex = x - xa - t * dx;
  const ey = y - ya - t * dy;
  return Math.sqrt(ex * ex + ey * ey);
}

export function boxOf(polygons: readonly Polygon[]): Box {
  let [xMin, yMin, xMax, yMax] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const polygon of polygons) {
    for (const [x, y] of polygon) {
      xMin = Math.min(xMin, x);
      yMin = Math.min(yMin, y);
      xMax = Math.max(xMax, x);
      yMax = Math.max(yMax, y);
    }
  }
  return { xMin, yMin, xMax, yMax };
}
