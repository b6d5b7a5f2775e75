// Which places of a face to read: stations along the grain, places across each from edge to edge, and some more on
// the rim where those leave a part of it far from any. Frame coordinates, millimetres.

import { type Region, rings } from "../region/region.ts";
import { boxOf } from "../survey/field.ts";
import { alongRing, type Place } from "./ground.ts";

/** Stretches of a station shorter than this share of the spacing get one place, in their middle. */
const SHORT_SHARE = 0.25;
/** No part of the rim is farther from a place than this share of the distance between stations. */
const RIM_SHARE = 0.55;
/** By hand, places are at least this share of their usual distance apart, and so many mm, which rounding leaves distinct. */
const APART_SHARE = 0.2;
const APART_MM_MIN = 6;
/** By hand, the ground reaches beyond the places by this share of its width at most, looked at in so many directions. */
const BEYOND_SHARE = 0.02;
const DIRECTIONS = 32;
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
 * Few places, for reading by hand: stations along `directionRad` and places across each, from edge to edge, and what
 * else the outline's corners need; about as many as `choose` says for the ground's length and width, `most` in all.
 * The stations at the ends go from corner to corner, those between lie more and more as the other end does.
 */
export function fewStations(
  ground: Region,
  directionRad: number,
  choose: (lengthMm: number, widthMm: number) => { readonly stations: number; readonly across: number },
  most: number,
): Station[] {
  const frame = new GrainFrame(ground, directionRad);
  const { stations, across } = choose(frame.lengthMm, frame.widthMm);
  for (let count = stations; count > 2; count--) {
    const found = frame.few(count, across, most);
    if (found.flat().length <= most) return found;
  }
  return frame.few(2, across, most);
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
  private readonly near: number;
  private readonly far: number;
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
    this.near = minY;
    this.far = maxY;
  }

  stationsApart(spacingMm: number): number[] {
    return evenly(this.from, this.to, Math.ceil((this.to - this.from) / spacingMm));
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
    return this.turnedBack(stations);
  }

  /** `count` stations of `across` places, none too near to another, and what the corners need; the rim while there are fewer than `most`. */
  few(count: number, across: number, most: number): Station[] {
    const stepMm = this.lengthMm / (count - 1);
    const acrossMm = this.widthMm / Math.max(1, across - 1);
    const apartMm = Math.max(APART_MM_MIN, APART_SHARE * Math.min(stepMm, acrossMm));
    const taken: Place[] = [];
    const stations = Array.from({ length: count }, (): Place[] => []);
    const take = (place: Place, station: Place[]) => {
      if (taken.some((other) => squared(place, other) < apartMm ** 2)) return;
      taken.push(place);
      station.push(place);
    };
    const wanted = this.fan(count, across);
    // The corners before all others, then the edges: what is too near to them gives way.
    for (const end of [0, count - 1]) for (const place of wanted[end].slice(0, 2)) take(place, stations[end]);
    for (const [k, places] of wanted.entries()) for (const place of places) take(place, stations[k]);
    const missed = this.missedCorners(taken, apartMm);
    missed.push(...this.missedRim([...taken, ...missed], Math.max(stepMm, acrossMm), most));
    const nearest = (place: Place) => {
      const to = (others: readonly Place[]) => Math.min(...others.map((other) => squared(place, other)));
      return wanted.reduce((best, others, k) => (to(others) < to(wanted[best]) ? k : best), 0);
    };
    for (const place of missed) stations[nearest(place)].push(place);
    return this.turnedBack(stations);
  }

  /** Stations from corner to corner at the ends, and evenly between: of each its near edge, its far one, and places between. */
  private fan(count: number, across: number): Place[][] {
    const edge = (side: -1 | 1) => {
      const ends = [-1, 1].map((end) => this.farthest(end / this.lengthMm, (0.5 * side) / this.widthMm));
      const us = evenly(ends[0].x, ends[1].x, count - 1);
      return [
        ends[0],
        ...us.slice(1, -1).map((u) => this.placeAt(u, side < 0 ? this.near : this.far)),
        ends[1],
      ];
    };
    const far = edge(1);
    return edge(-1).map((from, k) => {
      const to = far[k];
      if (from === null || to === null) return [from ?? to].filter((place) => place !== null);
      const vs = evenly(from.y, to.y, across - 1);
      const between = evenly(from.x, to.x, across - 1)
        .map((u, n) => this.placeAt(u, vs[n]))
        .slice(1, -1);
      return [from, to, ...between.filter((place) => place !== null)];
    });
  }

  /** The ground's place at u that is nearest to v; null where there is no ground. */
  private placeAt(u: number, v: number): Place | null {
    const x = Math.max(this.from, Math.min(this.to, u));
    const stretches = this.stretchesAt(x);
    return stretches.length === 0 ? null : { x, y: nearestOf(stretches, v) };
  }

  /** The corner of the ground that lies farthest that way. */
  private farthest(du: number, dv: number): Place {
    let best = { x: 0, y: 0, reach: Number.NEGATIVE_INFINITY };
    for (const ring of this.rings)
      for (let k = 0; k < ring.length; k += 2) {
        const reach = ring[k] * du + ring[k + 1] * dv;
        if (reach > best.reach) best = { x: ring[k], y: ring[k + 1], reach };
      }
    return { x: best.x, y: best.y };
  }

  /** Corners of the ground that lie beyond all places, worst first, until none lies far beyond them. */
  private missedCorners(places: readonly Place[], apartMm: number): Place[] {
    const ways = Array.from({ length: DIRECTIONS }, (_, k) => {
      const angle = (2 * Math.PI * k) / DIRECTIONS;
      const [du, dv] = [Math.cos(angle), Math.sin(angle)];
      const corner = this.farthest(du, dv);
      const beyond = (place: Place) => (corner.x - place.x) * du + (corner.y - place.y) * dv;
      return { corner, beyond, beyondMm: Math.min(...places.map(beyond)) };
    });
    const added: Place[] = [];
    for (;;) {
      const [{ corner, beyondMm }] = ways.sort((a, b) => b.beyondMm - a.beyondMm);
      if (beyondMm < Math.max(apartMm / 2, BEYOND_SHARE * this.widthMm)) return added;
      added.push(corner);
      for (const way of ways) way.beyondMm = Math.min(way.beyondMm, way.beyond(corner));
    }
  }

  private turnedBack(stations: readonly Place[][]): Station[] {
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

function squared(a: Place, b: Place): number {
  return (a.x - b.x) ** 2 + (a.y - b.y) ** 2;
}

function nearestOf(stretches: readonly (readonly [number, number])[], v: number): number {
  const clamped = stretches.map(([from, to]) => Math.max(from, Math.min(to, v)));
  return clamped.reduce((best, at) => (Math.abs(at - v) < Math.abs(best - v) ? at : best));
}
