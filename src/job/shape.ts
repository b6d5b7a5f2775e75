// What a file may say of an outline - corners, a rectangle, or stations along a slab - as a ring.

import * as z from "zod";
import { formatLength, formatPoint, type Units } from "../units.ts";
import { type Context, lengths, list, notBuilt, perUnit, report, wantedForm } from "./fields.ts";
import type { Ring } from "./job.ts";
import { CORNERS_MAX, type RingResult, ringOf } from "./outline.ts";

/** The outline of a piece or keep-out, as a ring. */
export const outlineSchema = perUnit((units) => {
  const { coordinate, size, place } = lengths(units);
  const polygon = list(place, 0, CORNERS_MAX).transform(
    (corners, ctx): Ring => ringOrNever(ringOf(corners), units, ctx),
  );
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
        .describe(
          "[x, yNear, yFar] at every place measured with a tape along the slab, joined by straight lines.",
        ),
      svg: notBuilt("an outline from an SVG drawing"),
      id: notBuilt("an outline from an SVG drawing"),
    })
    .transform(({ length, width, at, stations }, ctx): Ring => {
      if (stations !== undefined) {
        if (length !== undefined || width !== undefined || at !== undefined)
          report(ctx, `found "stations" beside "length", "width" or "at"; wanted one or the other`);
        return stationRing(stations, units, ctx);
      }
      if (length === undefined || width === undefined) {
        const missing = length === undefined ? "length" : "width";
        report(ctx, `missing; wanted "length" and "width", or "stations", or a list of corners [x, y]`, [
          missing,
        ]);
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
      wantedForm('a list of corners [[x, y], ...], {"length", "width", "at"}, or {"stations"}'),
    )
    .describe("Corners in either direction, or a rectangle, or stations. Must not cross itself.");
});

function ringOrNever(result: RingResult, units: Units, ctx: Context): Ring {
  if ("ring" in result) return result.ring;
  if (result.problem === "few")
    report(ctx, "found fewer than 3 different corners; an outline needs at least 3");
  else if (result.problem === "no-area")
    report(ctx, "all corners lie on one line; an outline must enclose an area");
  else {
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
