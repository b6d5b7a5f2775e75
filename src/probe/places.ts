// Which places of a face to read: stations along the grain, places across each from edge to edge, and some more on
// the rim where those leave a part of it far from any. Frame coordinates, millimetres.

import { type Region, rings } from "../region/region.ts";
import { boxOf } from "../survey/field.ts";
import { alongRing, type Place } from "./ground.ts";

/** Stretches of a station shorter than this share of the spacing get one place, in their middle. */
const SHORT_SHARE = 0.25;
/** No part of the rim is farther from a place than this share of the distance between stations. */
const RIM_SHARE = 0.55;
/** Stations at the ends of the ground lie this far within, so that they cut it, mm. */
const END_MM = 0.02;

/** Places on a station across the grain, from near to far. */
export type Station = readonly Place[];

/**
 * A grid over the ground: stations along `directionRad` and places across them, neither farther apart than
 * `spacingMm`, both from edge to edge.
 */
export function gridStations(ground: Region, directionRad: number, spacingMm: number): Station[] {
  const frame = new GrainFrame(ground, directionRad);
  const us = frame.stationsApart(spacingMm);
  return frame.finished(
    us,
    us.map((u) => frame.stretchesAt(u).flatMap(([from, to]) => spread(from, to, spacingMm))),
    Number.POSITIVE_INFINITY,
  );
}

/**
 * Few places, for reading by hand: stations along `directionRad` and places across each, both edges among them;
 * as many as `choose` says for the ground's length and width, `most` in all.
 */
export function fewStations(
  ground: Region,
  directionRad: number,
  choose: (lengthMm: number, widthMm: number) => { readonly stations: number; readonly across: number },
  most: number,
): Station[] {
  const frame = new GrainFrame(ground, directionRad);
  const { stations, across } = choose(frame.lengthMm, frame.widthMm);
  const us = frame.stations(stations);
  return frame.finished(
    us,
    us.map((u) => {
      const stretches = frame.stretchesAt(u);
      const wanted = evenly(stretches[0]?.[0] ?? 0, stretches.at(-1)?.[1] ?? 0, across - 1);
      return stretches.length === 0 ? [] : [...new Set(wanted.map((v) => nearestOf(stretches, v)))];
    }),
    most,
  );
}

/** The places of stations in the order that a machine takes them: there and back. */
export function thereAndBack(stations: readonly Station[]): Place[] {
  return stations.flatMap((station, k) => (k % 2 === 0 ? station : station.toReversed()));
}

/** Ground turned so that the grain is along u; v is across. */
class GrainFrame {
  private readonly cos: number;
  private readonly sin: number;
  private readonly rings: readonly Float64Array[];
  private readonly from: number;
  private readonly to: number;
  readonly lengthMm: number;
  readonly widthMm: number;

  constructor(ground: Region, directionRad: number) {
    this.cos = Math.cos(directionRad);
    this.sin = Math.sin(directionRad);
    this.rings = rings(ground).map((ring) => {
      const turned = new Float64Array(ring.length);
      for (let k = 0; k < ring.length; k += 2) {
        turned[k] = ring[k] * this.cos + ring[k + 1] * this.sin;
        turned[k + 1] = ring[k + 1] * this.cos - ring[k] * this.sin;
      }
      return turned;
    });
    const { minX, maxX, minY, maxY } = boxOf(this.rings);
    this.lengthMm = maxX - minX;
    this.widthMm = maxY - minY;
    this.from = minX + END_MM;
    this.to = maxX - END_MM;
  }

  stationsApart(spacingMm: number): number[] {
    return evenly(this.from, this.to, Math.ceil((this.to - this.from) / spacingMm));
  }

  stations(count: number): number[] {
    return evenly(this.from, this.to, count - 1);
  }

  /** Stretches [from, to] of the ground across the grain at u, from near to far. */
  stretchesAt(u: number): [number, number][] {
    const crossings: number[] = [];
    for (const ring of this.rings)
      for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
        if (ring[k] > u === ring[p] > u) continue;
        crossings.push(ring[p + 1] + ((ring[k + 1] - ring[p + 1]) * (u - ring[p])) / (ring[k] - ring[p]));
      }
    crossings.sort((a, b) => a - b);
    return Array.from({ length: crossings.length >> 1 }, (_, k) => [crossings[2 * k], crossings[2 * k + 1]]);
  }

  /** Stations at `us` with places at `vs`, and more places on the rim, each on its nearest station. */
  finished(us: readonly number[], vs: readonly (readonly number[])[], most: number): Station[] {
    const stations = us.map((u, k) => vs[k].map((v): Place => ({ x: u, y: v })));
    const stepMm = us.length > 1 ? us[1] - us[0] : this.to - this.from;
    for (const place of this.missedRim(stations.flat(), stepMm, most)) {
      const nearest = us.length > 1 ? Math.round((place.x - us[0]) / stepMm) : 0;
      stations[Math.max(0, Math.min(us.length - 1, nearest))].push(place);
    }
    return stations
      .filter((station) => station.length > 0)
      .map((station) =>
        station
          .sort((a, b) => a.y - b.y)
          .map(({ x, y }) => ({ x: x * this.cos - y * this.sin, y: x * this.sin + y * this.cos })),
      );
  }

  /** Places on the rim, worst first, until none of it is far from all places. */
  private missedRim(places: readonly Place[], stepMm: number, most: number): Place[] {
    const rim = this.rings.flatMap((ring) => alongRing(ring, stepMm / 8));
    const squared = (a: Place, b: Place) => (a.x - b.x) ** 2 + (a.y - b.y) ** 2;
    const far = rim.map((at) =>
      places.reduce((least, place) => Math.min(least, squared(at, place)), Infinity),
    );
    const added: Place[] = [];
    while (places.length + added.length < most) {
      let worst = -1;
      for (let k = 0; k < rim.length; k++)
        if (far[k] > (RIM_SHARE * stepMm) ** 2 && (worst < 0 || far[k] > far[worst])) worst = k;
      if (worst < 0) break;
      added.push(rim[worst]);
      for (let k = 0; k < rim.length; k++) far[k] = Math.min(far[k], squared(rim[k], rim[worst]));
    }
    return added;
  }
}

/** Places from one end of a stretch to the other, not farther apart than `spacing`. */
function spread(from: number, to: number, spacing: number): number[] {
  if (to - from < SHORT_SHARE * spacing) return [(from + to) / 2];
  return evenly(from, to, Math.ceil((to - from) / spacing));
}

/** `parts` + 1 values from one end to the other; the middle alone where there are no parts. */
function evenly(from: number, to: number, parts: number): number[] {
  if (!(parts >= 1)) return [(from + to) / 2];
  return Array.from({ length: parts + 1 }, (_, k) => from + ((to - from) * k) / parts);
}

function nearestOf(stretches: readonly (readonly [number, number])[], v: number): number {
  const clamped = stretches.map(([from, to]) => Math.max(from, Math.min(to, v)));
  return clamped.reduce((best, at) => (Math.abs(at - v) < Math.abs(best - v) ? at : best));
}
