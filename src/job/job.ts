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

export interface Shop {
  readonly machine: Machine;
  readonly cutters: readonly Cutter[];
  readonly program: ProgramStyle;
  /** What people do around the machine's own time, minutes; 0 where the shop does not say. */
  readonly handMinutes: {
    readonly load: number;
    readonly turnOver: number;
    readonly cutterChange: number;
    readonly zero: number;
  };
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
}

export type Target =
  | { readonly kind: "thickness"; readonly mm: number }
  | { readonly kind: "depth"; readonly mm: number }
  | { readonly kind: "cleanUp"; readonly share: number };

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
  readonly rows: "both-ways" | "one-way";
  /** How far the cutter's centre goes past the last material of a row; null: what entering from air needs. */
  readonly overrunMm: number | null;
  readonly feedMmPerMin: number;
  readonly resinFeedMmPerMin: number;
  /** rev/min */
  readonly speed: number;
  /** Null: only from air. Else the steepest ramp allowed where no air can be reached, from the level. */
  readonly rampRad: number | null;
}

export interface KeepOut {
  readonly name: string;
  readonly outline: Ring;
  /** Above the bed. */
  readonly heightMm: number;
}

export interface Setup {
  readonly id: string;
  readonly face: "upper";
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
}

export interface Job {
  readonly name: string;
  /** The unit of the job's programs and reports. */
  readonly units: Units;
  readonly shop: Shop;
  readonly pieces: readonly Piece[];
  readonly setups: readonly Setup[];
}
