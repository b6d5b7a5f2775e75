// The shop file: machine, cutters and how programs are dressed; what stays the same from job to job.

import * as z from "zod";
import { inUnits, parseLength } from "../units.ts";
import { feeds, id, lengths, list, perUnit, report, unit, wantedForm, whenSound } from "./fields.ts";
import type { Cutter, Shop } from "./job.ts";
import { describeValue } from "./wording.ts";

export const SHOP_FORMAT = "slabtrue-shop/1";

const ACCELERATION_MAX_MM_PER_S2 = 1_000_000;

/** The longest line a controller must read (NISTIR 6556, section 3.3). */
const LINE_MAX = 256;

const programLine = z.string().superRefine((line, ctx) => {
  if (/[\r\n]/.test(line)) report(ctx, `${describeValue(line)}; wanted one line an entry, without line ends`);
  else if (!/^[\x20-\x7e\t]*$/.test(line)) report(ctx, `${describeValue(line)}; wanted plain ASCII`);
  if (line.length > LINE_MAX)
    report(ctx, `found a line of ${line.length} characters; wanted at most ${LINE_MAX}`);
});
const programLines = list(programLine, 0, 1000).prefault([]);

/** The shop file in `units`. Its output is in mm, mm/min and seconds. */
export const shopSchema = perUnit((units) => {
  const { size, space } = lengths(units);
  const feed = feeds(units);
  const axes = <T extends z.ZodType>(each: T) => z.strictObject({ x: each, y: each, z: each });
  const acceleration = z
    .number()
    .positive()
    .transform((perS2, ctx) => {
      const mmPerS2 = parseLength(perS2, units);
      if (mmPerS2 !== null && mmPerS2 <= ACCELERATION_MAX_MM_PER_S2) return mmPerS2;
      const most = Math.round(inUnits(ACCELERATION_MAX_MM_PER_S2, units));
      report(ctx, `found ${perS2}; wanted at most ${most} ${units}/s^2`);
      return z.NEVER;
    })
    .describe("A number in file units per second, per second.");
  const revolutions = z.number().positive().max(1_000_000).describe("rev/min");

  const spindle = z
    .strictObject({
      speedMin: z.number().nonnegative().max(1_000_000).describe("rev/min"),
      speedMax: revolutions,
      powerKw: z.number().positive().max(1000),
      efficiency: z
        .number()
        .positive()
        .max(1)
        .prefault(0.8)
        .describe("Share of the power that reaches the cutter."),
      spinUpSeconds: z.number().nonnegative().max(600).prefault(5),
      outOfSquare: z
        .strictObject({
          x: z.number().min(-100).max(100).prefault(0),
          y: z.number().min(-100).max(100).prefault(0),
        })
        .prefault({})
        .describe("Tilt about each axis, mm per m."),
    })
    .refine(({ speedMin, speedMax }) => speedMin <= speedMax, {
      path: ["speedMin"],
      error: "found more than speedMax; wanted at most that",
      ...whenSound("speedMin", "speedMax"),
    });

  const machine = z.strictObject({
    name: z.string().prefault(""),
    travel: axes(size).describe("What the cutter's centre can reach."),
    feedLimit: axes(feed).describe("Fastest feed of each axis."),
    rapid: axes(feed).describe("Speed of each axis on rapids."),
    acceleration: axes(acceleration),
    cornerDeviation: size
      .prefault("0.05 mm")
      .describe("How far a corner may be cut when carrying speed through it."),
    spindle,
    nose: z
      .strictObject({
        diameter: size,
        above: space.describe("How far its underside stands above the cutting edge."),
      })
      .optional()
      .describe("Spindle nose or dust shoe: kept clear of keep-outs and material too."),
  });

  const cutter = z.strictObject({
    id,
    name: z.string().optional(),
    diameter: size,
    edges: z.int().min(1).max(100).describe("How many edges cut, one after the other, in a turn."),
    speedMax: revolutions,
    depthMax: size.describe("The deepest cut it may take in one pass."),
    chipLoad: z
      .strictObject({ min: size, max: size })
      .refine(({ min, max }) => min <= max, {
        path: ["min"],
        error: "found more than max; wanted at most that",
      })
      .describe("Feed for each edge and turn that it cuts well with, least and most."),
    centreCutting: z.boolean().prefault(false).describe("Whether it may plunge straight into material."),
    inserts: z
      .strictObject({
        setCost: z.number().nonnegative().max(1e9),
        lifeHours: z.number().positive().max(1e6),
      })
      .optional(),
  });

  const program = z.strictObject({
    workOffset: z
      .enum(["G54", "G55", "G56", "G57", "G58", "G59"])
      .prefault("G54")
      .transform((word) => Number(word.slice(1))),
    comments: z.boolean().prefault(true),
    lineNumbers: z.boolean().prefault(false),
    toolChange: z.enum(["none", "M6"]).prefault("none"),
    extension: z
      .string()
      .regex(/^[A-Za-z0-9]{1,8}$/, wantedForm("1 to 8 letters and digits, without a dot"))
      .prefault("nc"),
    start: programLines.describe("Plain lines put before the program's own."),
    end: programLines.describe("Plain lines put after the program's own."),
  });

  const money = z.number().nonnegative().max(1e9);
  const minutes = z.number().nonnegative().max(100_000);
  return z.strictObject({
    format: z.literal(SHOP_FORMAT),
    units: unit,
    machine,
    cutters: list(cutter, 1, 1000),
    program: program.prefault({}),
    probe: z
      .strictObject({ radius: size, feed, logStart: programLines, logEnd: programLines })
      .optional()
      .describe("Touch probe, and the lines with which this controller records readings. Not used yet."),
    rates: z
      .strictObject({
        currency: z.string(),
        machineHour: money,
        labourHour: money,
        minutes: z.strictObject({ load: minutes, turnOver: minutes, cutterChange: minutes, zero: minutes }),
      })
      .optional()
      .describe("What an hour costs, and how long people take around the machine's own time."),
    materials: z
      .array(z.looseObject({ name: z.string() }))
      .optional()
      .describe("Not used yet."),
  });
});

type ShopDraft = z.output<ReturnType<typeof shopSchema>>;

/** The shop as the rest of the program sees it. */
export function shopOf({ machine, cutters, program, rates }: ShopDraft): Shop {
  const { spindle, nose } = machine;
  return {
    machine: {
      name: machine.name,
      travelMm: machine.travel,
      feedLimitMmPerMin: machine.feedLimit,
      rapidMmPerMin: machine.rapid,
      accelerationMmPerS2: machine.acceleration,
      cornerDeviationMm: machine.cornerDeviation,
      spindle,
      nose: nose ? { diameterMm: nose.diameter, aboveMm: nose.above } : null,
    },
    cutters: cutters.map(cutterOf),
    program,
    handMinutes: rates?.minutes ?? { load: 0, turnOver: 0, cutterChange: 0, zero: 0 },
  };
}

export function cutterOf(cutter: ShopDraft["cutters"][number]): Cutter {
  return {
    id: cutter.id,
    name: cutter.name ?? cutter.id,
    diameterMm: cutter.diameter,
    edges: cutter.edges,
    speedMax: cutter.speedMax,
    depthMaxMm: cutter.depthMax,
    chipLoadMm: cutter.chipLoad,
    centreCutting: cutter.centreCutting,
    inserts: cutter.inserts ?? null,
  };
}
