// Areas in the plane: unions, differences and offsets of outlines, over clipper-lib. Millimetres
// outside, whole micrometres inside, so every corner is good to half a micrometre. Offsets with round
// corners are never smaller than asked and at most 25 um larger. This folder alone knows clipper-lib.

import ClipperLib, { type Path, type Paths, type PolyNode } from "clipper-lib";
import { assert } from "../errors.ts";
import type { Ring } from "../job/job.ts";
import { thinned } from "./levels.ts";

/** Micrometres to the millimetre. */
const SCALE = 1000;
/** Beyond this, coordinates leave clipper-lib's fast and exact range (47 m). */
const REACH_MM = 47_000;
/** Rings thinner than this, or smaller than its square, are crumbs of rounding and are dropped. */
const CRUMB_MM = 0.01;
/**
 * clipper-lib rounds its number of steps in a join, so the chord error reaches 2.25 times the tolerance
 * asked for, always towards the source: we ask for less and add it to the distance.
 */
const CHORD_UM = 10;
/** clipper-lib offsets in time quadratic in the corners: of more than these, those within `DENSE_UM` are spared first. */
const DENSE = 2000;
const DENSE_UM = 5;

/** An area in the plane, possibly in several parts and with holes. Read it with `rings` or `parts`. */
export interface Region {
  readonly paths: Paths;
}

export const EMPTY: Region = { paths: [] };

/** The area that rings enclose, each ring a part of its own; parts may touch or overlap. */
export function regionOf(rings: readonly Ring[]): Region {
  return combine(ClipperLib.ClipType.ctUnion, rings.map(pathOf), [], "nonzero");
}

/** The area inside an odd number of rings: outlines with their holes, in any direction. */
export function regionWithHoles(rings: readonly Ring[]): Region {
  return combine(ClipperLib.ClipType.ctUnion, rings.map(pathOf), [], "even-odd");
}

export function union(...regions: readonly Region[]): Region {
  const paths = regions.flatMap((region) => region.paths);
  return paths.length === 0 ? EMPTY : combine(ClipperLib.ClipType.ctUnion, paths, [], "nonzero");
}

export function intersection(a: Region, b: Region): Region {
  return combine(ClipperLib.ClipType.ctIntersection, a.paths, b.paths, "nonzero");
}

export function difference(a: Region, b: Region): Region {
  if (b.paths.length === 0) return a;
  return combine(ClipperLib.ClipType.ctDifference, a.paths, b.paths, "nonzero");
}

/** The region and all that lies within `distanceMm` (> 0) of it. */
export function grown(region: Region, distanceMm: number): Region {
  assert(distanceMm > 0, `grown by ${distanceMm} mm`);
  const offset = new ClipperLib.ClipperOffset(2, CHORD_UM / 2.25);
  const dense = region.paths.reduce((corners, path) => corners + path.length, 0) > DENSE;
  const grownPaths = dense ? region.paths.map(thinnedPath) : region.paths;
  offset.AddPaths(grownPaths, ClipperLib.JoinType.jtRound, ClipperLib.EndType.etClosedPolygon);
  const paths: Paths = [];
  offset.Execute(paths, distanceMm * SCALE + CHORD_UM + 2 + (dense ? DENSE_UM : 0));
  return { paths: paths.filter(isMore) };
}

/** The path without corners that lie nearly between their neighbours. */
function thinnedPath(path: Path): Path {
  const ring = thinned(
    path.flatMap(({ X, Y }) => [X, Y]),
    DENSE_UM,
  );
  return Array.from({ length: ring.length / 2 }, (_, k) => ({ X: ring[2 * k], Y: ring[2 * k + 1] }));
}

/** What of the region lies at least `distanceMm` (> 0) inside it, good to 15 um. */
export function shrunk(region: Region, distanceMm: number): Region {
  assert(distanceMm > 0, `shrunk by ${distanceMm} mm`);
  const offset = new ClipperLib.ClipperOffset(2, CHORD_UM / 2.25);
  offset.AddPaths(region.paths, ClipperLib.JoinType.jtRound, ClipperLib.EndType.etClosedPolygon);
  const paths: Paths = [];
  offset.Execute(paths, -distanceMm * SCALE);
  return { paths: paths.filter(isMore) };
}

/** What a disc sweeps on its ways, each `[x0, y0, x1, y1, ...]`: at most 15 um less to a side, and never more. */
export function swept(ways: readonly Ring[], radiusMm: number): Region {
  assert(radiusMm > 0, `swept by ${radiusMm} mm`);
  const offset = new ClipperLib.ClipperOffset(2, CHORD_UM / 2.25);
  offset.AddPaths(ways.map(pathOf), ClipperLib.JoinType.jtRound, ClipperLib.EndType.etOpenRound);
  const paths: Paths = [];
  offset.Execute(paths, radiusMm * SCALE);
  return { paths: paths.filter(isMore) };
}

export function isEmpty(region: Region): boolean {
  return region.paths.length === 0;
}

/** mm^2 */
export function areaOf(region: Region): number {
  let area = 0;
  for (const path of region.paths) area += ClipperLib.Clipper.Area(path);
  return area / (SCALE * SCALE);
}

/** The region's rings in mm: outer ones counter-clockwise, holes clockwise. */
export function rings(region: Region): Ring[] {
  return region.paths.map(ringOf);
}

/** The region's connected parts, each with its holes. */
export function parts(region: Region): Region[] {
  if (region.paths.length < 2) return region.paths.length === 0 ? [] : [region];
  const tree = new ClipperLib.PolyTree();
  execute(ClipperLib.ClipType.ctUnion, region.paths, [], "nonzero", tree);
  const found: Region[] = [];
  const collect = (outers: readonly PolyNode[]) => {
    for (const outer of outers) {
      const holes = outer.Childs();
      found.push({ paths: [outer.Contour(), ...holes.map((hole) => hole.Contour())].filter(isMore) });
      for (const hole of holes) collect(hole.Childs());
    }
  };
  collect(tree.Childs());
  return found.filter((part) => part.paths.length > 0);
}

type Fill = "nonzero" | "even-odd";

function combine(clip: number, subject: Paths, other: Paths, fill: Fill): Region {
  if (subject.length === 0) return EMPTY;
  const paths: Paths = [];
  execute(clip, subject, other, fill, paths);
  return { paths: paths.filter(isMore) };
}

function execute(clip: number, subject: Paths, other: Paths, fill: Fill, into: Paths | PolyNode): void {
  const clipper = new ClipperLib.Clipper();
  const type = fill === "nonzero" ? ClipperLib.PolyFillType.pftNonZero : ClipperLib.PolyFillType.pftEvenOdd;
  clipper.AddPaths(subject, ClipperLib.PolyType.ptSubject, true);
  if (other.length > 0) clipper.AddPaths(other, ClipperLib.PolyType.ptClip, true);
  clipper.Execute(clip, into, type, ClipperLib.PolyFillType.pftNonZero);
}

/** Whether a path is more than a crumb. */
function isMore(path: Path): boolean {
  if (path.length < 3) return false;
  let length = 0;
  for (let k = 0, p = path.length - 1; k < path.length; p = k++)
    length += Math.sqrt((path[k].X - path[p].X) ** 2 + (path[k].Y - path[p].Y) ** 2);
  const area = Math.abs(ClipperLib.Clipper.Area(path));
  const crumb = CRUMB_MM * SCALE;
  return area > crumb * crumb && area > (crumb * length) / 2;
}

function pathOf(ring: Ring): Path {
  const path: Path = [];
  for (let k = 0; k < ring.length; k += 2) {
    const x = ring[k];
    const y = ring[k + 1];
    // Out of range or NaN would go through clipper-lib in silence and come out as a plausible wrong area.
    assert(Math.abs(x) < REACH_MM && Math.abs(y) < REACH_MM, `corner (${x}, ${y}) in a region`);
    path.push({ X: Math.round(x * SCALE), Y: Math.round(y * SCALE) });
  }
  return path;
}

function ringOf(path: Path): Ring {
  const ring = new Float64Array(2 * path.length);
  path.forEach((point, k) => {
    ring[2 * k] = point.X / SCALE;
    ring[2 * k + 1] = point.Y / SCALE;
  });
  return ring;
}
