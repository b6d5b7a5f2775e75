// The shortest way from one convex hull to another, each given by a few points: the method of Gilbert, Johnson and
// Keerthi (1988), with the triangle nearest to the origin found by trying all corners, edges and faces.

export type Vector = readonly [number, number, number];

const STEPS_MAX = 300;

export function dot(p: Vector, q: Vector): number {
  return p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
}

/**
 * From the hull of `from` to that of `to` moved by `shift`, the shortest vector; points as flat `[x, y, z, ...]`.
 * The hulls must not meet. `start` is a direction to begin with; `precision` is how much too long the way may be.
 */
export function shortestWay(
  from: readonly number[],
  to: readonly number[],
  shift: Vector,
  start: Vector,
  precision: number,
): Vector {
  let way = nearestAlong(from, to, shift, start);
  let corners: Vector[] = [way];
  for (let step = 0; step < STEPS_MAX; step++) {
    const length = Math.sqrt(dot(way, way));
    const next = nearestAlong(from, to, shift, way);
    if (!(length - dot(way, next) / length > precision)) break;
    const nearer = nearestToOrigin(corners, next);
    // Rounding can keep the last steps from gaining anything.
    if (!(dot(nearer.point, nearer.point) < dot(way, way))) break;
    way = nearer.point;
    corners = nearer.corners;
  }
  return way;
}

/** From the point of `from` farthest along the direction to the one of `to` least far. */
function nearestAlong(
  from: readonly number[],
  to: readonly number[],
  shift: Vector,
  direction: Vector,
): Vector {
  const p = farthest(from, direction, 1);
  const q = farthest(to, direction, -1);
  return [to[q] + shift[0] - from[p], to[q + 1] + shift[1] - from[p + 1], to[q + 2] + shift[2] - from[p + 2]];
}

function farthest(xyz: readonly number[], [x, y, z]: Vector, sign: 1 | -1): number {
  let best = Number.NEGATIVE_INFINITY;
  let at = 0;
  for (let k = 0; k < xyz.length; k += 3) {
    const along = sign * (x * xyz[k] + y * xyz[k + 1] + z * xyz[k + 2]);
    if (along > best) {
      best = along;
      at = k;
    }
  }
  return at;
}

interface Nearest {
  readonly point: Vector;
  /** One to three corners between which it lies. */
  readonly corners: Vector[];
}

/** Of the hull of `next` and up to three older points: the nearest always lies on a corner, edge or face of `next`. */
function nearestToOrigin(older: readonly Vector[], next: Vector): Nearest {
  let best: Nearest = { point: next, corners: [next] };
  const consider = (point: Vector | null, corners: Vector[]) => {
    if (point !== null && dot(point, point) < dot(best.point, best.point)) best = { point, corners };
  };
  older.forEach((p, i) => {
    consider(onEdge(next, p), [next, p]);
    for (const q of older.slice(i + 1)) consider(onFace(next, p, q), [next, p, q]);
  });
  return best;
}

/** The foot of the origin on the line through p and q; null where it lies beyond them. */
function onEdge(p: Vector, q: Vector): Vector | null {
  const along = minus(q, p);
  const share = -dot(p, along) / dot(along, along);
  return share > 0 && share < 1
    ? [p[0] + share * along[0], p[1] + share * along[1], p[2] + share * along[2]]
    : null;
}

/** The foot of the origin on the plane through p, q and r; null where it lies outside the triangle. */
function onFace(p: Vector, q: Vector, r: Vector): Vector | null {
  const normal = cross(minus(q, p), minus(r, p));
  const square = dot(normal, normal);
  if (!(square > 0)) return null;
  // What the origin sees of each edge, in the direction of the normal, tells on which side of it the foot lies.
  const sees = (s: Vector, t: Vector) => dot(cross(s, t), normal) > 0;
  if (!(sees(p, q) && sees(q, r) && sees(r, p))) return null;
  const share = dot(p, normal) / square;
  return [share * normal[0], share * normal[1], share * normal[2]];
}

function minus(p: Vector, q: Vector): Vector {
  return [p[0] - q[0], p[1] - q[1], p[2] - q[2]];
}

function cross(p: Vector, q: Vector): Vector {
  return [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]];
}
