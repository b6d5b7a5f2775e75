// What the judge needs from a raw job file: one setup of it, in mm in the bed's frame (Z up, bed = 0).
// The job must be resolved: shop inline, readings inline. Nothing is checked here: a job that is
// not as the contract says gives nonsense or a plain Error. Does not know SVG outlines.

import type { Polygon } from "./judge-plane.ts";

/** A bare number in the file's unit, or text with its unit. */
export type RawLength = number | string;

export interface RawReadings {
  points?: RawLength[][];
  grid?: { at: RawLength[]; step: RawLength[]; rows: (RawLength | null)[][] };
}

export interface RawPiece {
  id: string;
  material?: string;
  outline:
    | RawLength[][]
    | { length: RawLength; width: RawLength; at?: RawLength[] }
    | { stations: RawLength[][] };
  grain?: number;
  thickness?: RawLength;
  upper?: RawReadings;
  under?: RawReadings;
  wood?: RawLength[][][];
  shell?: { upper?: RawLength; under?: RawLength };
  madeOf?: { piece: string; at?: RawLength[]; angle?: number; after: string }[];
}

export interface RawSetup {
  id: string;
  face: string;
  turn?: "x" | "y";
  pieces?: string[];
  cutter: string;
  target: { thickness?: RawLength; depth?: RawLength; cleanUp?: number; even?: RawLength };
  leave?: RawLength;
  margin?: RawLength;
  passes: {
    depth?: RawLength;
    finish?: { depth: RawLength; stepover?: number; feed?: RawLength };
    stepover?: number;
    angle?: number | "fastest";
    rows?: "both-ways" | "one-way";
    overrun?: RawLength;
    feed: RawLength;
    resinFeed?: RawLength;
    speed: number | "advise";
    edgeFirst?: boolean;
    entry?: "air" | { ramp: number };
  };
  keepOut?: { name: string; outline: RawLength[][]; height: RawLength; lays?: number[] }[];
  clear?: { z?: RawLength; side?: RawLength };
  zero?: { x?: RawLength; y?: RawLength; z?: "bed" | "high-spot" };
  reindex?: { overlap?: RawLength };
}

export interface RawShop {
  format: string;
  units: "mm" | "in";
  machine: {
    travel: Record<"x" | "y" | "z", RawLength>;
    rapid: Record<"x" | "y" | "z", RawLength>;
    nose?: { diameter: RawLength; above: RawLength };
    [more: string]: unknown;
  };
  cutters: { id: string; diameter: RawLength; [more: string]: unknown }[];
  [more: string]: unknown;
}

export interface RawJob {
  format: string;
  name: string;
  units: "mm" | "in";
  shop: RawShop;
  pieces: RawPiece[];
  setups: RawSetup[];
}

/** Readings in mm; of a grid the nodes, and how they are laid out. */
export interface JudgedReadings {
  readonly points: readonly (readonly [number, number, number])[];
  readonly grid: {
    readonly x0: number;
    readonly y0: number;
    readonly dx: number;
    readonly dy: number;
    readonly rows: readonly (readonly number[])[];
  } | null;
}

export interface JudgedPiece {
  readonly id: string;
  readonly outline: Polygon;
  readonly thicknessMm: number;
  /** Null: a box. */
  readonly readings: JudgedReadings | null;
  /** Of the under face; null: it lies on the bed. */
  readonly under: JudgedReadings | null;
  /** Outlines of the wood where the rest is resin; null: all of it. */
  readonly wood: readonly Polygon[] | null;
  readonly shellMm: { readonly upper: number; readonly under: number };
  readonly madeOf: readonly {
    readonly piece: string;
    readonly atMm: readonly [number, number];
    readonly angleRad: number;
    readonly after: string;
  }[];
}

export interface JudgedKeepOut {
  readonly name: string;
  readonly outline: Polygon;
  readonly heightMm: number;
  /** The lays in which it stands there; left out: all. */
  readonly lays?: readonly number[];
}

export interface JudgedSetup {
  readonly face: string;
  readonly turn: "x" | "y";
  readonly units: "mm" | "in";
  readonly pieces: readonly JudgedPiece[];
  readonly radiusMm: number;
  readonly nose: { readonly radiusMm: number; readonly aboveMm: number } | null;
  readonly travelMm: readonly [number, number, number];
  readonly rapidMmPerMin: readonly [number, number, number];
  readonly target: RawSetup["target"] & {
    readonly thicknessMm: number;
    readonly depthMm: number;
    readonly evenMm: number;
  };
  readonly leaveMm: number;
  readonly marginMm: number;
  readonly depthMm: number;
  /** Infinity where resin asks for no feed of its own. */
  readonly resinFeedMmPerMin: number;
  /** Steepest descent allowed in material, as rise over run; 0 where only air will do. */
  readonly rampSlope: number;
  readonly keepOuts: readonly JudgedKeepOut[];
  readonly clearZMm: number;
  readonly clearSideMm: number;
  readonly zero: { readonly xMm: number; readonly yMm: number; readonly z: "bed" | "high-spot" };
}

/** The setup named, in mm. `marginMm` stands in where the job leaves the margin to the planner. */
export function judgedSetup(job: RawJob, setupId: string, marginMm?: number): JudgedSetup {
  const setup = job.setups.find((candidate) => candidate.id === setupId);
  if (!setup) throw new Error(`the job has no setup ${setupId}`);
  const cutter = job.shop.cutters.find((candidate) => candidate.id === setup.cutter);
  if (!cutter) throw new Error(`the shop has no cutter ${setup.cutter}`);
  const margin = setup.margin ?? marginMm;
  if (margin === undefined) throw new Error(`setup ${setupId} names no margin`);

  const mm = (length: RawLength | undefined, otherwise = 0) =>
    length === undefined ? otherwise : toMm(length, job.units);
  const shopMm = (length: RawLength) => toMm(length, job.shop.units);
  const { travel, rapid, nose } = job.shop.machine;
  const entry = setup.passes.entry ?? "air";
  const ids = setup.pieces ?? job.pieces.map((piece) => piece.id);
  return {
    face: setup.face,
    turn: setup.turn ?? "x",
    units: job.units,
    pieces: job.pieces
      .filter((piece) => ids.includes(piece.id))
      .map((piece) => judgedPiece(piece, job.units)),
    radiusMm: shopMm(cutter.diameter) / 2,
    nose: nose ? { radiusMm: shopMm(nose.diameter) / 2, aboveMm: shopMm(nose.above) } : null,
    travelMm: [shopMm(travel.x), shopMm(travel.y), shopMm(travel.z)],
    rapidMmPerMin: [shopMm(rapid.x), shopMm(rapid.y), shopMm(rapid.z)],
    target: {
      ...setup.target,
      thicknessMm: mm(setup.target.thickness, NaN),
      depthMm: mm(setup.target.depth, NaN),
      evenMm: mm(setup.target.even, NaN),
    },
    leaveMm: mm(setup.leave),
    marginMm: setup.margin === undefined ? Number(margin) : mm(setup.margin),
    depthMm: mm(setup.passes.depth, 2),
    resinFeedMmPerMin: mm(setup.passes.resinFeed, Infinity),
    rampSlope: entry === "air" ? 0 : Math.tan((entry.ramp * Math.PI) / 180),
    keepOuts: (setup.keepOut ?? []).map((keepOut) => ({
      name: keepOut.name,
      outline: corners(keepOut.outline, job.units),
      heightMm: mm(keepOut.height),
      ...(keepOut.lays ? { lays: keepOut.lays } : {}),
    })),
    clearZMm: mm(setup.clear?.z, 10),
    clearSideMm: mm(setup.clear?.side, 5),
    zero: { xMm: mm(setup.zero?.x), yMm: mm(setup.zero?.y), z: setup.zero?.z ?? "bed" },
  };
}

export function judgedPiece(piece: RawPiece, units: "mm" | "in"): JudgedPiece {
  const mm = (length: RawLength | undefined) => toMm(length ?? 0, units);
  return {
    id: piece.id,
    outline: outlineOf(piece.outline, units),
    thicknessMm: piece.thickness === undefined ? NaN : toMm(piece.thickness, units),
    readings: piece.upper ? judgedReadings(piece.upper, units) : null,
    under: piece.under ? judgedReadings(piece.under, units) : null,
    wood: piece.wood?.map((outline) => corners(outline, units)) ?? null,
    shellMm: { upper: mm(piece.shell?.upper), under: mm(piece.shell?.under) },
    madeOf: (piece.madeOf ?? []).map(({ piece: part, at, angle = 0, after }) => ({
      piece: part,
      atMm: [mm(at?.[0]), mm(at?.[1])],
      angleRad: (angle * Math.PI) / 180,
      after,
    })),
  };
}

function outlineOf(outline: RawPiece["outline"], units: "mm" | "in"): Polygon {
  if (Array.isArray(outline)) return corners(outline, units);
  if ("stations" in outline) {
    // Along the near edge, and back along the far one.
    const near = outline.stations.map(([x, yNear]) => [x, yNear]);
    const far = outline.stations.map(([x, , yFar]) => [x, yFar]);
    return corners([...near, ...far.reverse()], units);
  }
  const [x, y] = (outline.at ?? [0, 0]).map((length) => toMm(length, units));
  const [length, width] = [toMm(outline.length, units), toMm(outline.width, units)];
  return [
    [x, y],
    [x + length, y],
    [x + length, y + width],
    [x, y + width],
  ];
}

function corners(list: RawLength[][], units: "mm" | "in"): Polygon {
  return list.map(([x, y]) => [toMm(x, units), toMm(y, units)] as const);
}

function judgedReadings(readings: RawReadings, units: "mm" | "in"): JudgedReadings {
  if (readings.points) {
    const points = readings.points.map(
      ([x, y, z]) => [toMm(x, units), toMm(y, units), toMm(z, units)] as const,
    );
    return { points, grid: null };
  }
  if (!readings.grid) throw new Error("the judge needs readings inline, as points or as a grid");
  const [x0, y0] = readings.grid.at.map((length) => toMm(length, units));
  const [dx, dy] = readings.grid.step.map((length) => toMm(length, units));
  const rows = readings.grid.rows.map((row) =>
    row.map((z) => {
      if (z === null) throw new Error("the judge knows no grids with holes");
      return toMm(z, units);
    }),
  );
  const points = rows.flatMap((row, r) => row.map((z, c) => [x0 + c * dx, y0 + r * dy, z] as const));
  return { points, grid: { x0, y0, dx, dy, rows } };
}

const UNIT_MM: Readonly<Record<string, number>> = {
  mm: 1,
  cm: 10,
  m: 1000,
  in: 25.4,
  '"': 25.4,
  ft: 304.8,
  "'": 304.8,
};

/** A length, or a feed ("6 m/min" gives 6000), in mm: the sum of its parts, each `2`, `2.25` or `2 1/4` and a unit. */
export function toMm(length: RawLength, units: "mm" | "in"): number {
  if (typeof length === "number") return length * UNIT_MM[units];
  const part = /\s*(?:(\d+)\s*\/\s*(\d+)|(\d+)\s+(\d+)\s*\/\s*(\d+)|(\d*\.?\d+))\s*(mm|cm|m|in|ft|'|")/y;
  const text = length.replace(/\/(min|s)\s*$/, "");
  let sumMm = 0;
  while (part.lastIndex < text.length) {
    const found = part.exec(text);
    if (!found) throw new Error(`the judge cannot read the length ${length}`);
    const [, over, under, whole, over2, under2, plain, unit] = found;
    const value = plain
      ? Number(plain)
      : Number(whole ?? 0) + Number(over ?? over2) / Number(under ?? under2);
    sumMm += value * UNIT_MM[unit];
  }
  return /\/s\s*$/.test(length) ? sumMm * 60 : sumMm;
}
