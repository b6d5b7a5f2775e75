// Areas of src/region against another library's: JSTS 2.12.1, a JavaScript port of the JTS Topology Suite,
// licensed EDL-1.0 or EPL-1.0. It works on doubles and on other ideas than the integers underneath ours.

import fc from "fast-check";
import WKTReader from "jsts/org/locationtech/jts/io/WKTReader.js";
import BufferOp from "jsts/org/locationtech/jts/operation/buffer/BufferOp.js";
import OverlayOp from "jsts/org/locationtech/jts/operation/overlay/OverlayOp.js";
import { describe, expect, test } from "vitest";
import type { Ring } from "../../src/job/job.ts";
import {
  areaOf,
  difference,
  grown,
  intersection,
  parts,
  regionOf,
  shrunk,
  swept,
  union,
} from "../../src/region/region.ts";
import { anyRing, rectangle } from "../region/shapes.ts";

const SEED = 20_260_223;
const plan = { seed: SEED, numRuns: 40 };

/** What of a JTS geometry is used here. */
interface Geometry {
  getArea(): number;
  getLength(): number;
  getNumGeometries(): number;
}

const reader = new WKTReader(undefined as never);

/** One outline, and holes in it. */
function geometryOf(outline: Ring, holes: readonly Ring[] = []): Geometry {
  const text = [outline, ...holes].map((ring) => {
    const corners: string[] = [];
    for (let k = 0; k <= ring.length; k += 2)
      corners.push(`${ring[k % ring.length]} ${ring[(k + 1) % ring.length]}`);
    return `(${corners.join(", ")})`;
  });
  return reader.read(`POLYGON (${text.join(", ")})`) as unknown as Geometry;
}

/** Buffered with arcs of so many chords a quarter that they stray less than 1 um at 60 mm. */
function buffered(geometry: Geometry, distance: number): Geometry {
  return BufferOp.bufferOp(geometry, distance, 150) as Geometry;
}

/** Corners in whole micrometres, as our regions keep them: both then start from the same ring. */
const wholeRing = (size: number) => anyRing(size).map((ring) => ring.map((v) => Math.round(v * 1000) / 1000));

/** In mm, to whole micrometres. */
function cornerAt(um: number, angle: number): [number, number] {
  return [Math.round(um * Math.cos(angle)) / 1000, Math.round(um * Math.sin(angle)) / 1000];
}

/** Corners that a crossing adds are rounded to a micrometre; 10 um is what is cleaned away as a crumb. */
function byRounding(...geometries: Geometry[]): number {
  return 0.002 * geometries.reduce((sum, geometry) => sum + geometry.getLength(), 1);
}

test("the other library means the same by an area (by hand: 100 x 60 less 20 x 10)", () => {
  const framed = geometryOf(rectangle(0, 0, 100, 60), [rectangle(10, 10, 30, 20)]);
  expect(framed.getArea()).toBe(5800);
  expect(framed.getLength()).toBe(320 + 60);
});

describe("areas of two rings agree", () => {
  test.each([
    ["union", union, OverlayOp.union],
    ["difference", difference, OverlayOp.difference],
    ["intersection", intersection, OverlayOp.intersection],
  ] as const)("in %s", (_, ours, theirs) => {
    fc.assert(
      fc.property(wholeRing(250), wholeRing(250), (a, b) => {
        const [ga, gb] = [geometryOf(a), geometryOf(b)];
        const found = areaOf(ours(regionOf([a]), regionOf([b])));
        const other = theirs(ga, gb) as Geometry;
        expect(Math.abs(found - other.getArea())).toBeLessThan(byRounding(ga, gb));
      }),
      plan,
    );
  });

  test("and so does the number of their parts, crumbs apart", () => {
    fc.assert(
      fc.property(wholeRing(250), wholeRing(250), (a, b) => {
        const ours = parts(difference(regionOf([a]), regionOf([b]))).filter((part) => areaOf(part) > 0.1);
        const other = OverlayOp.difference(geometryOf(a), geometryOf(b));
        let count = 0;
        for (let k = 0; k < other.getNumGeometries(); k++) if (other.getGeometryN(k).getArea() > 0.1) count++;
        expect(ours.length).toBe(count);
      }),
      plan,
    );
  });
});

describe("offsets agree", () => {
  const distance = fc.constantFrom(0.7, 5, 31.75, 60);

  test("grown: never smaller than theirs, and at most 25 um larger all around", () => {
    fc.assert(
      fc.property(wholeRing(200), distance, (ring, d) => {
        const other = buffered(geometryOf(ring), d);
        const more = areaOf(grown(regionOf([ring]), d)) - other.getArea();
        expect(more).toBeGreaterThan(-0.001 * other.getLength());
        expect(more).toBeLessThan(0.026 * other.getLength() + 0.1);
      }),
      plan,
    );
  });

  // Not by more than a ring is deep: of a ring shrunk to nothing the other library may keep an inside-out rest.
  test("shrunk: as theirs to 15 um all around", () => {
    fc.assert(
      fc.property(wholeRing(200), fc.constantFrom(0.7, 5, 10), (ring, d) => {
        const other = buffered(geometryOf(ring), -d);
        const off = Math.abs(areaOf(shrunk(regionOf([ring]), d)) - other.getArea());
        expect(off).toBeLessThan(0.016 * other.getLength() + 0.1);
      }),
      plan,
    );
  });

  test("swept: never more than theirs along the same way, and at most 15 um less all around", () => {
    fc.assert(
      fc.property(wholeRing(200), distance, (ring, d) => {
        const corners: string[] = [];
        for (let k = 0; k < ring.length; k += 2) corners.push(`${ring[k]} ${ring[k + 1]}`);
        const way = reader.read(`LINESTRING (${corners.join(", ")})`) as unknown as Geometry;
        const other = buffered(way, d);
        const less = other.getArea() - areaOf(swept([ring], d));
        expect(less).toBeGreaterThan(-0.001 * other.getLength());
        expect(less).toBeLessThan(0.016 * other.getLength() + 0.1);
      }),
      plan,
    );
  });

  test("of an area with a hole and a second part beside it", () => {
    const radii = fc.array(fc.integer({ min: 30_000, max: 200_000 }), { minLength: 5, maxLength: 14 });
    // A star about the origin, made smaller about the same, is a hole; the other part stands far aside.
    const starOf = (um: readonly number[], size: number) =>
      Float64Array.from(um.flatMap((radius, k) => cornerAt(size * radius, (2 * Math.PI * k) / um.length)));
    fc.assert(
      fc.property(radii, radii, distance, (first, second, d) => {
        const [outline, hole, other] = [starOf(first, 1), starOf(first, 0.4), starOf(second, 1)];
        const aside = other.map((v, k) => (k % 2 === 0 ? v + 2000 : v));
        const region = union(difference(regionOf([outline]), regionOf([hole])), regionOf([aside]));
        const geometries = [geometryOf(outline, [hole]), geometryOf(aside)];
        // A quarter of a star's least radius is never deeper than it is.
        const [more, less] = [d, -Math.min(d, 7)].map((by) =>
          geometries.map((geometry) => buffered(geometry, by)),
        );
        const area = (found: Geometry[]) => found.reduce((sum, geometry) => sum + geometry.getArea(), 0);
        const border = (found: Geometry[]) => found.reduce((sum, geometry) => sum + geometry.getLength(), 0);
        const grew = areaOf(grown(region, d)) - area(more);
        expect(grew).toBeGreaterThan(-0.001 * border(more) - 0.1);
        expect(grew).toBeLessThan(0.026 * border(more) + 0.1);
        expect(Math.abs(areaOf(shrunk(region, Math.min(d, 7))) - area(less))).toBeLessThan(
          0.016 * border(less) + 0.1,
        );
      }),
      { ...plan, numRuns: 30 },
    );
  });
});

describe("a keep-out's ground", () => {
  test("a slab less what a cutter cannot reach beside its cleats agrees", () => {
    fc.assert(
      fc.property(wholeRing(400), wholeRing(60), wholeRing(60), (slab, one, two) => {
        const blocked = union(grown(regionOf([one]), 36.75), grown(regionOf([two]), 36.75));
        const ours = areaOf(difference(regionOf([slab]), blocked));
        const around = OverlayOp.union(
          buffered(geometryOf(one), 36.75),
          buffered(geometryOf(two), 36.75),
        ) as Geometry;
        const other = OverlayOp.difference(geometryOf(slab), around) as Geometry;
        const border = around.getLength();
        expect(ours - other.getArea()).toBeLessThan(0.001 * border + byRounding(geometryOf(slab)));
        expect(ours - other.getArea()).toBeGreaterThan(-0.026 * border - byRounding(geometryOf(slab)));
      }),
      { ...plan, numRuns: 30 },
    );
  });
});
