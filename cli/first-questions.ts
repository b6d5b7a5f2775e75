// What `slabtrue start` asks: each number, where it is found, what it may be, and an example of it. The
// examples suit each other and plan as they stand; they are no one's machine.

import * as z from "zod";
import { feeds, lengths } from "../src/job/fields.ts";
import { wording } from "../src/job/wording.ts";
import { formatLength, inUnits, type Units } from "../src/units.ts";

/** As it was written: a bare number in the file's unit, or text with its own. */
export type Answer = number | string;

export type Key =
  | `${"travel" | "piece"}${"X" | "Y" | "Z"}`
  | `${"feedLimit" | "rapid" | "acceleration"}${"XY" | "Z"}`
  | "speedMin"
  | "speedMax"
  | "powerKw"
  | "diameter"
  | "edges"
  | "cutterSpeedMax"
  | "depthMax"
  | "chipMin"
  | "chipMax"
  | "finished"
  | "speed"
  | "feed";

export interface Question {
  readonly key: Key;
  /** What it is and where it is found. */
  readonly text: string;
  /** Of a bare number. */
  readonly unit: string;
  readonly example: (before: Values) => Answer;
  /** Gives mm, mm/min or a plain number. */
  readonly schema: z.ZodType<number>;
  /** What is wrong with it beside the answers before it, or null. */
  readonly check?: (value: number, before: Values) => string | null;
}

/** Answers so far in mm, mm/min or as plain numbers. */
export type Values = Readonly<Record<Key, number>>;

/** What an answer says, or what is wrong with it. */
export function answerValue(
  question: Question,
  answer: Answer,
  before: Values,
): { readonly value: number } | { readonly wrong: string } {
  const parsed = question.schema.safeParse(answer, { error: wording });
  if (!parsed.success) return { wrong: parsed.error.issues[0].message };
  const wrong = question.check?.(parsed.data, before) ?? null;
  return wrong === null ? { value: parsed.data } : { wrong };
}

/** Air beside the piece that the cutter needs within the travel to come down and turn round, mm. */
const ROOM_MM = 30;
/** With less travel there is no flattening of slabs, mm. */
const TRAVEL_MIN_MM = 200;
const LIFT_MIN_MM = 40;

export function questions(units: Units): readonly Question[] {
  const { size } = lengths(units);
  const feed = feeds(units);
  const mm = (metric: number, inch: Answer) => () => (units === "mm" ? metric : inch);
  const fixed = (value: number) => () => value;
  const positive = z.number().positive().max(1_000_000);
  const told = (value: number) => formatLength(value, units);
  const perMinute = `${units}/min`;
  const least = (mm: number) => (value: number) =>
    value >= mm ? null : `found ${told(value)}; wanted at least ${told(mm)}`;
  const longest = (axis: "X" | "Y", before: Values) => before[`travel${axis}`] - before.diameter - ROOM_MM;
  const inTravel = (axis: "X" | "Y") => (value: number, before: Values) =>
    value <= longest(axis, before)
      ? null
      : `found ${told(value)}; wanted at most ${told(longest(axis, before))}: within the travel the cutter must pass both edges`;

  const fits = (number: number, mostMm: number) => Math.min(number, twoDigits(inUnits(mostMm, units)));

  return [
    {
      key: "travelX",
      text: "Travel along X, the way that the cutter's centre can go: on the machine's plate or in its manual, or jog from end to end and subtract.",
      unit: units,
      example: mm(2600, 102),
      schema: size,
      check: least(TRAVEL_MIN_MM),
    },
    {
      key: "travelY",
      text: "Travel along Y, found in the same way.",
      unit: units,
      example: mm(1320, 52),
      schema: size,
      check: least(TRAVEL_MIN_MM),
    },
    {
      key: "travelZ",
      text: "Travel along Z, found in the same way.",
      unit: units,
      example: mm(180, 7),
      schema: size,
      check: least(LIFT_MIN_MM),
    },
    {
      key: "feedLimitXY",
      text: "Fastest feed of X and Y in a cut: among the controller's settings, as the greatest rate of an axis; the lesser of the two.",
      unit: perMinute,
      example: mm(15000, 600),
      schema: feed,
    },
    {
      key: "feedLimitZ",
      text: "Fastest feed of Z, found in the same way.",
      unit: perMinute,
      example: mm(4000, 150),
      schema: feed,
    },
    {
      key: "rapidXY",
      text: "Speed of X and Y on rapids (G0): among the controller's settings; often the same as the fastest feed.",
      unit: perMinute,
      example: mm(20000, 800),
      schema: feed,
    },
    {
      key: "rapidZ",
      text: "Speed of Z on rapids, found in the same way.",
      unit: perMinute,
      example: mm(6000, 240),
      schema: feed,
    },
    {
      key: "accelerationXY",
      text: "Acceleration of X and Y: among the controller's settings, beside the rates. Machine times depend on it.",
      unit: `${units}/s^2`,
      example: mm(500, 20),
      schema: positive,
    },
    {
      key: "accelerationZ",
      text: "Acceleration of Z, found in the same way.",
      unit: `${units}/s^2`,
      example: mm(250, 10),
      schema: positive,
    },
    {
      key: "speedMin",
      text: "Slowest speed at which the spindle may cut: in the spindle's or its drive's manual.",
      unit: "rev/min",
      example: fixed(6000),
      schema: z.number().nonnegative().max(1_000_000),
    },
    {
      key: "speedMax",
      text: "Fastest speed of the spindle: on its plate.",
      unit: "rev/min",
      example: fixed(24000),
      schema: positive,
      check: (value, { speedMin }) =>
        value >= speedMin ? null : `found ${value}; wanted at least ${speedMin}, the slowest speed`,
    },
    {
      key: "powerKw",
      text: "Power of the spindle: on its plate; 1 hp is 0.746 kW.",
      unit: "kW",
      example: fixed(3),
      schema: z.number().positive().max(1000),
    },
    {
      key: "diameter",
      text: "Diameter of the surfacing cutter over its edges: on the cutter, or measured with calipers while it stands still and unplugged.",
      unit: units,
      example: mm(63.5, 2.5),
      schema: size,
      check: (value, { travelX, travelY }) => {
        const most = Math.min(travelX, travelY) / 2;
        return value <= most
          ? null
          : `found ${told(value)}; wanted at most ${told(most)}, half the lesser travel`;
      },
    },
    {
      key: "edges",
      text: "How many edges it has that cut one after the other in a turn: count them.",
      unit: "",
      example: fixed(3),
      schema: z.int().min(1).max(100),
    },
    {
      key: "cutterSpeedMax",
      text: "Fastest speed that the cutter is rated for: marked on it. Never run it faster.",
      unit: "rev/min",
      example: fixed(18000),
      schema: positive,
      check: (value, { speedMin }) =>
        value >= speedMin ? null : `found ${value}; wanted at least ${speedMin}, the spindle's slowest speed`,
    },
    {
      key: "depthMax",
      text: "Deepest cut that it may take in one pass: in the maker's data.",
      unit: units,
      example: mm(4, "5/32 in"),
      schema: size,
    },
    {
      key: "chipMin",
      text: "Least chip load (feed for each edge and turn) that it cuts well with: in the maker's data.",
      unit: units,
      example: mm(0.08, 0.003),
      schema: size,
    },
    {
      key: "chipMax",
      text: "Greatest chip load, found in the same way.",
      unit: units,
      example: mm(0.5, 0.02),
      schema: size,
      check: (value, { chipMin }) =>
        value >= chipMin
          ? null
          : `found ${told(value)}; wanted at least ${told(chipMin)}, the least chip load`,
    },
    {
      key: "pieceX",
      text: "Length of the slab, along X on the bed: measure with a tape.",
      unit: units,
      example: (before) => fits(units === "mm" ? 2000 : 78, longest("X", before)),
      schema: size,
      check: inTravel("X"),
    },
    {
      key: "pieceY",
      text: "Width of the slab, along Y: measure with a tape at the widest place.",
      unit: units,
      example: (before) => fits(units === "mm" ? 700 : 28, longest("Y", before)),
      schema: size,
      check: inTravel("Y"),
    },
    {
      key: "pieceZ",
      text: "Thickness at the thickest place: measure with calipers, or a square on the bed.",
      unit: units,
      example: mm(60, 2.5),
      schema: size,
    },
    {
      key: "finished",
      text: "Thickness that shall be left when this face is flat.",
      unit: units,
      example: ({ pieceZ }) => twoDigits(inUnits(0.9 * pieceZ, units)),
      schema: size,
      check: (value, { pieceZ }) =>
        value < pieceZ
          ? null
          : `found ${told(value)}; wanted less than ${told(pieceZ)}, or nothing comes off`,
    },
    {
      key: "speed",
      text: "Spindle speed to cut with, within what spindle and cutter bear.",
      unit: "rev/min",
      // No faster than the feed keeps up with.
      example: (before) => {
        const fed = twoDigits(before.feedLimitXY / (before.edges * goodChip(before)));
        return Math.max(before.speedMin, Math.min(14000, most(before), fed));
      },
      schema: positive,
      check: (value, before) =>
        value >= before.speedMin && value <= most(before)
          ? null
          : `found ${value}; wanted ${before.speedMin} to ${most(before)}`,
    },
    {
      key: "feed",
      text: "Feed to cut with: chip load x edges x speed. Begin near the least chip load.",
      unit: perMinute,
      example: (before) => {
        const { speed, edges, feedLimitXY } = before;
        return twoDigits(inUnits(Math.min(goodChip(before) * edges * speed, feedLimitXY), units));
      },
      schema: feed,
      check: (value, { feedLimitXY }) =>
        value <= feedLimitXY ? null : `found more than the fastest feed of X and Y; wanted at most that`,
    },
  ];
}

/** Near the least chip load, as feed lost in corners must not make chips too thin (common practice, no source). */
function goodChip({ chipMin, chipMax }: Values): number {
  return Math.min(1.5 * chipMin, chipMax);
}

/** The fastest that both spindle and cutter bear. */
function most({ speedMax, cutterSpeedMax }: Values): number {
  return Math.min(speedMax, cutterSpeedMax);
}

/** Never more than the number. */
function twoDigits(value: number): number {
  const unit = 10 ** (Math.floor(Math.log10(value)) - 1);
  return Number((Math.floor(value / unit + 1e-9) * unit).toPrecision(2));
}
