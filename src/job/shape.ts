// What a file may say of an outline - corners, a rectangle, stations along a slab, or a shape of a
// drawing - as a ring; a drawing is still to be read.

import * as z from "zod";
import { formatLength, formatPoint, type Units } from "../units.ts";
import { type Context, lengths, list, perUnit, report, someText, wantedForm } from "./fields.ts";
import type { Ring } from "./job.ts";
import { CORNERS_MAX, REACH_MAX_MM, type RingResult, ringOf } from "./outline.ts";

/** A shape in an SVG drawing; id null: the only closed one. */
export interface DrawingRef {
  readonly kind: "drawing";
  readonly file: string;
  readonly id: string | null;
}

export type RingOrDrawing = Ring | DrawingRef;

/** The outline of a piece or keep-out. */
export const outlineSchema = perUnit((units) => {
  const { coordinate, size, place } = lengths(units);
  const polygon = list(place, 0, CORNERS_MAX)
    .transform((corners, ctx): Ring => ringOrNever(ringOf(corners), units, ctx))
    .meta({ minItems: 3 });
  const shape = z
    .strictObject({
      length: size.optional().describe("Along X."),
      width: size.optional().describe("Along Y."),
      at: place.optional().describe("The corner with the least X and Y; [0, 0] when left out."),
      stations: list(
        z.tuple([coordinate, coordinate, coordinate], wantedForm("[x, yNear, yFar]")),
        0,
        CORNERS_MAX / 2,
      )
        .optional()
        .meta({
          description:
            "[x, yNear, yFar] at every place measured with a tape along the slab, joined by straight lines.",
          minItems: 2,
        }),
      svg: someText
        .optional()
        .describe("Path of an SVG drawing with its size in mm or in, relative to this file."),
      id: someText
        .optional()
        .describe("Of a closed shape in the drawing; the only closed one when left out."),
    })
    .transform((written, ctx): RingOrDrawing => {
      const { length, width, at, stations, svg, id } = written;
      if (isMixed(written, ctx)) return z.NEVER;
      if (svg !== undefined) return { kind: "drawing", file: svg, id: id ?? null };
      if (stations !== undefined) return stationRing(stations, units, ctx);
      if (length === undefined || width === undefined) {
        const missing = length === undefined ? "length" : "width";
        const forms = `"length" and "width", or "stations", or "svg", or a list of corners [x, y]`;
        report(ctx, `missing; wanted ${forms}`, [missing]);
        return z.NEVER;
      }
      const [x, y] = at ?? [0, 0];
      const corners = [
        [x, y],
        [x + length, y],
        [x + length, y + width],
        [x, y + width],
      ] as const;
      return ringOrNever(ringOf(corners), units, ctx);
    });
  return z
    .union(
      [polygon, shape],
      wantedForm('a list of corners [[x, y], ...], {"length", "width", "at"}, {"stations"} or {"svg", "id"}'),
    )
    .describe(
      "Corners in either direction, a rectangle, stations, or a shape of a drawing. Must not cross itself.",
    );
});

/** Reports fields of two forms in one outline, and an id without its drawing. */
function isMixed(written: object, ctx: Context): boolean {
  const forms = [["length", "width", "at"], ["stations"], ["svg", "id"]].map((names) =>
    names.find((name) => (written as Record<string, unknown>)[name] !== undefined),
  );
  const [first, second] = forms.filter((name) => name !== undefined);
  if (second !== undefined) {
    report(ctx, `found "${first}" beside "${second}"; wanted one form of outline`, [second]);
    return true;
  }
  if (first !== "id") return false;
  report(ctx, `missing; wanted the path of the drawing that "id" names a shape of`, ["svg"]);
  return true;
}

function ringOrNever(result: RingResult, units: Units, ctx: Context): Ring {
  if ("ring" in result) return result.ring;
  if (result.problem === "few")
    report(ctx, "found fewer than 3 different corners; an outline needs at least 3");
  else if (result.problem === "no-area")
    report(ctx, "all corners lie on one line; an outline must enclose an area");
  else if (result.problem === "far") {
    const ask = units === "in" ? "; are the numbers of this file millimetres?" : "";
    const found = `reaches ${formatPoint(result.x, result.y, units)}`;
    report(ctx, `${found}; wanted an outline within ${REACH_MAX_MM / 1000} m of the origin${ask}`);
  } else {
    const [first, second] = result.edges.map(([from, to]) => `from corner [${from}] to [${to}]`);
    const how = result.problem === "crosses" ? "crosses" : "touches";
    report(
      ctx,
      `the outline ${how} itself at ${formatPoint(result.x, result.y, units)}: the edge ${first} and the edge ${second}; look for a corner out of order or mistyped`,
      [result.edges[0][0]],
    );
  }
  return z.NEVER;
}

function stationRing(
  stations: readonly (readonly [number, number, number])[],
  units: Units,
  ctx: Context,
): Ring {
  if (stations.length < 2) {
    report(ctx, `found ${describeCount(stations.length, "station")}; wanted at least 2`, ["stations"]);
    return z.NEVER;
  }
  let sound = true;
  stations.forEach(([x, near, far], k) => {
    if (!(near < far)) {
      const found = `found yNear ${formatLength(near, units)} and yFar ${formatLength(far, units)}`;
      report(ctx, `${found}; yFar must be greater`, ["stations", k]);
      sound = false;
    }
    if (k > 0 && !(x > stations[k - 1][0])) {
      const found = `found x ${formatLength(x, units)} after ${formatLength(stations[k - 1][0], units)}`;
      report(ctx, `${found}; x must grow from station to station`, ["stations", k]);
      sound = false;
    }
  });
  if (!sound) return z.NEVER;
  const near = stations.map(([x, y]) => [x, y] as const);
  const far = stations.map(([x, , y]) => [x, y] as const);
  return ringOrNever(ringOf([...near, ...far.reverse()]), units, ctx);
}

function describeCount(count: number, noun: string): string {
  return count === 1 ? `1 ${noun}` : `${count} ${noun}s`;
}
