// A job as the rest of the program sees it: checked, complete, and in millimetres, mm/min, seconds
// and radians. What the files may say, and what stands in for what they leave out, is in schema.ts.

import type { Units } from "../units.ts";

/**
 * A closed outline: flat `[x0, y0, x1, y1, ...]` in mm, not repeated at the end, counter-clockwise
 * seen from above with Y up. It does not cross itself and encloses an area.
 */
export type Ring = Float64Array;

export interface Xyz {
  readonly x: number;
  readonly y: number;
  readonly z: number;
}

export interface Machine {
  readonly name: string;
  readonly travelMm: Xyz;
  readonly feedLimitMmPerMin: Xyz;
  readonly rapidMmPerMin: Xyz;
  readonly accelerationMmPerS2: Xyz;
  readonly cornerDeviationMm: number;
  readonly spindle: {
    readonly speedMin: number;
    readonly speedMax: number;
    readonly powerKw: number;
    readonly efficiency: number;
    readonly spinUpSeconds: number;
    /** Tilt about each axis, mm per m. */
    readonly outOfSquare: { readonly x: number; readonly y: number };
  };
  /** Spindle nose or dust shoe; its underside stands `aboveMm` over the cutting edge. */
  readonly nose: { readonly diameterMm: number; readonly aboveMm: number } | null;
}

export interface Cutter {
  readonly id: string;
  readonly name: string;
  readonly diameterMm: number;
  readonly edges: number;
  readonly speedMax: number;
  readonly depthMaxMm: number;
  readonly chipLoadMm: { readonly min: number; readonly max: number };
  readonly centreCutting: boolean;
  readonly inserts: { readonly setCost: number; readonly lifeHours: number } | null;
}

/** How programs are dressed for this shop's controller. */
export interface ProgramStyle {
  /** G54 ... G59 as 54 ... 59. */
  readonly workOffset: number;
  readonly comments: boolean;
  readonly lineNumbers: boolean;
  readonly toolChange: "none" | "M6";
  readonly extension: string;
  readonly start: readonly string[];
  readonly end: readonly string[];
}

/** What a shop adds to the table of materials, or knows better than it; null: as the table has it. */
export interface ShopMaterial {
  readonly name: string;
  readonly densityKgPerM3: number | null;
  /** Specific cutting energy, J/cm³ (the same number in N/mm²). */
  readonly energyJPerCm3: { readonly low: number; readonly high: number } | null;
  /** Share of its size that it grows by for each percent of moisture, across the growth rings and along them. */
  readonly movement: { readonly radial: number; readonly tangential: number } | null;
  readonly source: string;
}

/** A touch probe in the spindle, and the lines with which the controller records what it touches. */
export interface Probe {
  readonly radiusMm: number;
  readonly feedMmPerMin: number;
  readonly logStart: readonly string[];
  readonly logEnd: readonly string[];
}

/** How far slabs are off flat: standard deviations, of the first four and of `pour` as mm for each mm of size. */
export interface Warp {
  readonly bow: number;
  readonly cup: number;
  readonly twist: number;
  readonly wedge: number;
  readonly sawMarksMm: number;
  /** Of the resin meant to be over the wood. */
  readonly shellShare: number;
  readonly pour: number;
}

/** What quotes reckon with. */
export interface Quoting {
  /** Null: the shop does not say what an hour costs. */
  readonly rates: {
    readonly currency: string;
    readonly machineHour: number;
    readonly labourHour: number;
  } | null;
  readonly warp: Warp;
  /** Of a cast top's width, resin between its slabs. */
  readonly riverShare: number;
  /** Standard deviation of people's minutes. */
  readonly handShare: number;
  /** Of the machine's time, for which a person is paid beside it. */
  readonly mindingShare: number;
  /** Added to the price. */
  readonly marginShare: number;
  readonly validDays: number;
}

export interface Shop {
  /** The unit of the shop file's bare numbers. */
  readonly units: Units;
  readonly machine: Machine;
  readonly cutters: readonly Cutter[];
  readonly program: ProgramStyle;
  /** Null: the shop has none. */
  readonly probe: Probe | null;
  readonly materials: readonly ShopMaterial[];
  /** What people do around the machine's own time, minutes; 0 where the shop does not say. */
  readonly handMinutes: {
    readonly load: number;
    readonly turnOver: number;
    readonly cutterChange: number;
    readonly zero: number;
    /** Pushing a long piece on between lays, and clamping it again. */
    readonly push: number;
  };
  readonly quoting: Quoting;
}

/** Measured heights of a face above the bed, mm. */
export type Readings =
  | {
      readonly kind: "grid";
      /** The first node, and the distance between neighbours (both positive). */
      readonly x0: number;
      readonly y0: number;
      readonly dx: number;
      readonly dy: number;
      readonly cols: number;
      readonly rows: number;
      /** Row-major, rows along +X, first row at y0; NaN where nothing was read. */
      readonly z: Float64Array;
    }
  | {
      readonly kind: "points";
      /** Flat `[x0, y0, z0, ...]`. */
      readonly xyz: Float64Array;
    };

export interface Piece {
  readonly id: string;
  /** As the user named it; "" when they did not. */
  readonly material: string;
  readonly outline: Ring;
  /** Direction of the grain, from +X; null: the outline's long axis. */
  readonly grainRad: number | null;
  /** Thickest place; null where the face was measured instead. */
  readonly thicknessMm: number | null;
  /** The upper face's readings; null: a box of its thickness. */
  readonly upper: Readings | null;
  /** The under face's heights above the bed in the same lay; null: as `calipers` say, else it lies on the bed. */
  readonly under: Readings | null;
  /** Thickness in places, flat `[x, y, t, ...]`; null: none was taken. */
  readonly calipers: Float64Array | null;
  /** Outlines of the wood where the rest is resin; null: wood all over. */
  readonly wood: readonly Ring[] | null;
  /** Resin over the wood on each face. */
  readonly shellMm: { readonly upper: number; readonly under: number };
  /** The earlier pieces that it is cast from; empty: it is no cast. */
  readonly madeOf: readonly CastPart[];
  /** Percent of the oven-dry mass: as it is worked, and where it will be used. */
  readonly moisture: { readonly now: number; readonly inUse: number } | null;
}

/** An earlier piece in a mold. */
export interface CastPart {
  readonly piece: string;
  /** It is turned about its frame's origin, then moved by this. */
  readonly angleRad: number;
  readonly atMm: readonly [number, number];
  /** The setup that leaves it as it is cast. */
  readonly after: string;
}

export type Target =
  | { readonly kind: "thickness"; readonly mm: number }
  | { readonly kind: "depth"; readonly mm: number }
  | { readonly kind: "cleanUp"; readonly share: number }
  | { readonly kind: "even"; readonly mm: number };

export interface FinishPass {
  readonly depthMm: number;
  readonly stepoverShare: number;
  readonly feedMmPerMin: number;
}

export interface Passes {
  readonly depthMm: number;
  readonly finish: FinishPass | null;
  /** Share of the cutter's diameter. */
  readonly stepoverShare: number;
  /** From the grain. */
  readonly angleRad: number;
  /** The angle is chosen: that with the least time. */
  readonly fastest: boolean;
  /** Along the outline's edge before the rows of each layer. */
  readonly edgeFirst: boolean;
  readonly rows: "both-ways" | "one-way";
  /** How far the cutter's centre goes past the last material of a row; null: what entering from air needs. */
  readonly overrunMm: number | null;
  readonly feedMmPerMin: number;
  /** Wherever the cutter removes resin; null: like wood. */
  readonly resinFeedMmPerMin: number | null;
  /** rev/min */
  readonly speed: number;
  /** Where feeds or speed were left to us: what was taken, and why; for people. */
  readonly advised?: string;
  /** Null: only from air. Else the steepest ramp allowed where no air can be reached, from the level. */
  readonly rampRad: number | null;
}

export interface KeepOut {
  readonly name: string;
  readonly outline: Ring;
  /** Above the bed. */
  readonly heightMm: number;
  /** The lays in which it stands there, counted from 1; null: all. */
  readonly lays: readonly number[] | null;
}

export interface Setup {
  readonly id: string;
  /** The face that is up, as the pieces were first laid. */
  readonly face: "upper" | "under";
  /** The axis about which pieces are turned over when another face is up. */
  readonly turn: "x" | "y";
  readonly pieces: readonly Piece[];
  readonly cutter: Cutter;
  readonly target: Target;
  readonly leaveMm: number;
  /** Null: from the readings' own scatter. */
  readonly marginMm: number | null;
  readonly passes: Passes;
  readonly keepOuts: readonly KeepOut[];
  readonly clear: { readonly zMm: number; readonly sideMm: number };
  readonly zero: { readonly xMm: number; readonly yMm: number; readonly z: "bed" | "high-spot" };
  /** How far neighbouring lays overlap where a piece is longer than the travel; null: it must not be. */
  readonly reindexMm: number | null;
}

export interface Job {
  readonly name: string;
  /** The unit of the job's programs and reports. */
  readonly units: Units;
  readonly shop: Shop;
  /** The file that says the shop, its path as the job file's own: the job file itself where the shop stands in it. */
  readonly shopFile: string;
  readonly pieces: readonly Piece[];
  readonly setups: readonly Setup[];
  /** What is odd in the files and no mistake for certain, one sentence each. */
  readonly notes: readonly string[];
}
