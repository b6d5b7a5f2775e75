// The judge's own surface from readings, mm above the bed: bilinear between the nodes of a grid; for
// scattered points linear over the Delaunay triangles (Bowyer 1981, Watson 1981), and outside their
// hull the plane of the triangle at the nearest hull edge. Slow and plain; a few hundred points at most.

import type { JudgedPiece, JudgedReadings } from "./judge-job.ts";
import { distanceToSegment } from "./judge-plane.ts";

/** Height of the piece's upper face at a place, in mm; outside the readings it is continued. */
export function faceOf(
  piece: Pick<JudgedPiece, "readings" | "thicknessMm">,
): (x: number, y: number) => number {
  return measuredFace(piece.readings, piece.thicknessMm);
}

/** Height of a face at a place; `flatMm` everywhere where it was not measured. */
export function measuredFace(
  readings: JudgedReadings | null,
  flatMm: number,
): (x: number, y: number) => number {
  if (!readings) return () => flatMm;
  return readings.grid ? gridFace(readings.grid) : scatteredFace(readings.points);
}

function gridFace(grid: NonNullable<JudgedReadings["grid"]>): (x: number, y: number) => number {
  const rows = grid.rows.length;
  const cols = grid.rows[0].length;
  return (x, y) => {
    const c = Math.min(cols - 2, Math.max(0, Math.floor((x - grid.x0) / grid.dx)));
    const r = Math.min(rows - 2, Math.max(0, Math.floor((y - grid.y0) / grid.dy)));
    const u = (x - grid.x0) / grid.dx - c;
    const v = (y - grid.y0) / grid.dy - r;
    const near = grid.rows[r][c] * (1 - u) + grid.rows[r][c + 1] * u;
    const far = grid.rows[r + 1][c] * (1 - u) + grid.rows[r + 1][c + 1] * u;
    return near * (1 - v) + far * v;
  };
}

type Point = readonly [number, number, number];
type Triangle = readonly [number, number, number];

function scatteredFace(points: readonly Point[]): (x: number, y: number) => number {
  const triangles = delaunay(points);
  const planes = triangles.map((triangle) => planeThrough(triangle.map((i) => points[i])));
  const hull = hullEdges(triangles);
  let last = 0;
  return (x, y) => {
    // Neighbouring places mostly lie in the same triangle.
    if (holds(points, triangles[last], x, y)) return planes[last](x, y);
    const found = triangles.findIndex((triangle) => holds(points, triangle, x, y));
    if (found >= 0) {
      last = found;
      return planes[found](x, y);
    }
    let nearest = hull[0];
    let nearestMm = Infinity;
    for (const edge of hull) {
      const [xa, ya] = points[edge.a];
      const [xb, yb] = points[edge.b];
      const mm = distanceToSegment(x, y, xa, ya, xb, yb);
      if (mm < nearestMm) [nearest, nearestMm] = [edge, mm];
    }
    return planes[nearest.triangle](x, y);
  };
}

/** Counter-clockwise triangles over the points. Throws when the points lie in one line. */
export function delaunay(points: readonly Point[]): Triangle[] {
  const far = 1e3 * Math.max(...points.map(([x, y]) => Math.abs(x) + Math.abs(y)), 1);
  const all: Point[] = [...points, [-3 * far, -far, 0], [3 * far, -far, 0], [0, 3 * far, 0]];
  const n = points.length;
  let triangles: Triangle[] = [[n, n + 1, n + 2]];
  for (let i = 0; i < n; i++) {
    const [x, y] = all[i];
    const broken = triangles.filter((triangle) => inCircle(all, triangle, x, y));
    // The edges that only one broken triangle has are the rim of the hole around the new point.
    const edges = broken.flatMap(([a, b, c]) => [
      [a, b],
      [b, c],
      [c, a],
    ]);
    const rim = edges.filter(([a, b]) => !edges.some(([c, d]) => c === b && d === a));
    triangles = triangles.filter((triangle) => !broken.includes(triangle));
    for (const [a, b] of rim) triangles.push([a, b, i]);
  }
  const inner = triangles.filter((triangle) => triangle.every((corner) => corner < n));
  if (inner.length === 0) throw new Error("the readings lie in one line");
  return inner;
}

function hullEdges(triangles: readonly Triangle[]): { a: number; b: number; triangle: number }[] {
  const edges = triangles.flatMap(([a, b, c], triangle) => [
    { a, b, triangle },
    { a: b, b: c, triangle },
    { a: c, b: a, triangle },
  ]);
  const known = new Set(edges.map((edge) => `${edge.a} ${edge.b}`));
  return edges.filter((edge) => !known.has(`${edge.b} ${edge.a}`));
}

function inCircle(points: readonly Point[], triangle: Triangle, x: number, y: number): boolean {
  const [ax, ay] = [points[triangle[0]][0] - x, points[triangle[0]][1] - y];
  const [bx, by] = [points[triangle[1]][0] - x, points[triangle[1]][1] - y];
  const [cx, cy] = [points[triangle[2]][0] - x, points[triangle[2]][1] - y];
  const determinant =
    (ax * ax + ay * ay) * (bx * cy - cx * by) -
    (bx * bx + by * by) * (ax * cy - cx * ay) +
    (cx * cx + cy * cy) * (ax * by - bx * ay);
  return determinant > 0;
}

function holds(points: readonly Point[], [a, b, c]: Triangle, x: number, y: number): boolean {
  return (
    side(points[a], points[b], x, y) >= 0 &&
    side(points[b], points[c], x, y) >= 0 &&
    side(points[c], points[a], x, y) >= 0
  );
}

function side([xa, ya]: Point, [xb, yb]: Point, x: number, y: number): number {
  return (xb - xa) * (y - ya) - (yb - ya) * (x - xa);
}

function planeThrough([a, b, c]: Point[]): (x: number, y: number) => number {
  const [ux, uy, uz] = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
  const [vx, vy, vz] = [c[0] - a[0], c[1] - a[1], c[2] - a[2]];
  const area = ux * vy - uy * vx;
  const alongX = (uz * vy - vz * uy) / area;
  const alongY = (ux * vz - vx * uz) / area;
  return (x, y) => a[2] + alongX * (x - a[0]) + alongY * (y - a[1]);
}
