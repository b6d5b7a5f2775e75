// The shop file: machine, cutters and how programs are dressed; what stays the same from job to job.

import * as z from "zod";
import { formatLength, inUnits, parseLength } from "../units.ts";
import {
  feeds,
  id,
  lengths,
  list,
  perUnit,
  report,
  schemaLink,
  unit,
  wantedForm,
  whenSound,
} from "./fields.ts";
import type { Cutter, Shop } from "./job.ts";
import { quoteSchema, quotingOf } from "./quoting.ts";
import { describeValue } from "./wording.ts";

export const SHOP_FORMAT = "slabtrue-shop/1";

const ACCELERATION_MIN_MM_PER_S2 = 1;
const ACCELERATION_MAX_MM_PER_S2 = 1_000_000;

/**
 * A machine that reaches farther or a cutter that is wider is no machine or cutter of this trade, nor is a
 * machine smaller than a sheet of paper with nothing but thin cutters: the numbers were meant in the other unit.
 */
const OF_THE_TRADE_MM = { travelMost: 25_000, cutterMost: 400, travelLeast: 210, cutterLeast: 10 };

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
      const least = inUnits(ACCELERATION_MIN_MM_PER_S2, units);
      const most = Math.round(inUnits(ACCELERATION_MAX_MM_PER_S2, units));
      if (mmPerS2 === null || mmPerS2 > ACCELERATION_MAX_MM_PER_S2)
        report(ctx, `found ${perS2}; wanted at most ${most} ${units}/s^2`);
      else if (mmPerS2 < ACCELERATION_MIN_MM_PER_S2)
        report(ctx, `found ${perS2}; wanted at least ${Number(least.toFixed(2))} ${units}/s^2`);
      else return mmPerS2;
      return z.NEVER;
    })
    .describe("A number in file units per second, per second.");
  const revolutions = z.number().positive().max(1_000_000).describe("rev/min");

  const tilt = z.number().min(-100).max(100).prefault(0);
  const spindle = z
    .strictObject({
      speedMin: z.number().nonnegative().max(1_000_000).describe("rev/min"),
      speedMax: revolutions,
      powerKw: z.number().positive().max(1000).describe("Of the motor, in kW."),
      efficiency: z
        .number()
        .positive()
        .max(1)
        .prefault(0.8)
        .describe("Share of the power that reaches the cutter."),
      spinUpSeconds: z
        .number()
        .nonnegative()
        .max(600)
        .prefault(5)
        .describe("From standstill to full speed; programs wait that long."),
      outOfSquare: z
        .strictObject({
          x: tilt.describe("About an axis parallel to X, mm per m."),
          y: tilt.describe("About an axis parallel to Y, mm per m."),
        })
        .prefault({})
        .describe("Tilt about each axis, mm per m."),
    })
    .refine(({ speedMin, speedMax }) => speedMin <= speedMax, {
      path: ["speedMin"],
      error: "found more than speedMax; wanted at most that",
      ...whenSound("speedMin", "speedMax"),
    })
    .describe("The motor that turns the cutter.");

  const machine = z.strictObject({
    name: z.string().prefault("").describe("Of the machine, for people."),
    travel: axes(size).describe("What the cutter's centre can reach."),
    feedLimit: axes(feed).describe("Fastest feed of each axis."),
    rapid: axes(feed).describe("Speed of each axis on rapids."),
    acceleration: axes(acceleration).describe("Of each axis, in file units per second, per second."),
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
    id: id.describe("What setups name this cutter by."),
    name: z.string().optional().describe("For people; as the id when left out."),
    diameter: size.describe("Of the circle that its edges cut."),
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
        setCost: z.number().nonnegative().max(1e9).describe("Of all edges together, in the shop's currency."),
        lifeHours: z.number().positive().max(1e6).describe("Hours of cutting until all edges are worn."),
      })
      .optional()
      .describe("Edges that are changed when worn."),
  });

  const program = z.strictObject({
    workOffset: z
      .enum(["G54", "G55", "G56", "G57", "G58", "G59"])
      .prefault("G54")
      .transform((word) => Number(word.slice(1)))
      .describe("The work coordinate system that programs select."),
    comments: z.boolean().prefault(true).describe("Whether programs say in words what they do."),
    lineNumbers: z.boolean().prefault(false).describe("Whether lines begin with N and a number."),
    toolChange: z
      .enum(["none", "M6"])
      .prefault("none")
      .describe(`"M6" where the controller handles cutter changes; "none": none is written.`),
    extension: z
      .string()
      .regex(/^[A-Za-z0-9]{1,8}$/, wantedForm("1 to 8 letters and digits, without a dot"))
      .prefault("nc")
      .describe("Of program files."),
    start: programLines.describe("Plain lines put before the program's own."),
    end: programLines.describe("Plain lines put after the program's own."),
  });

  const energy = z.number().positive().max(2000);
  const share = z.number().nonnegative().max(0.02);
  const material = z.strictObject({
    name: id
      .refine((name) => /\p{L}/u.test(name), wantedForm("a name with letters in it"))
      .describe("As pieces name it."),
    densityKgPerM3: z.number().positive().max(25_000).optional().describe("In kg per cubic metre."),
    energyJPerCm3: z
      .strictObject({ low: energy.describe("J per cm3."), high: energy.describe("J per cm3.") })
      .refine(({ low, high }) => low <= high, {
        path: ["low"],
        error: "found more than high; wanted at most that",
      })
      .optional()
      .describe("Energy that cutting a cm3 of it takes, from sharp edges along the grain to dull ones."),
    movement: z
      .strictObject({
        radial: share.describe("From the heart outwards."),
        tangential: share.describe("Along the growth rings."),
      })
      .optional()
      .describe("Share of its size that it grows by for each percent of moisture, as 0.0019 and 0.0027."),
    source: z.string().prefault("the shop file").describe("Where the numbers come from."),
  });

  const money = z.number().nonnegative().max(1e9);
  const inOtherUnit = (shop: { machine: z.output<typeof machine>; cutters: z.output<typeof cutter>[] }) => {
    const { travelMost, cutterMost, travelLeast, cutterLeast } = OF_THE_TRADE_MM;
    const { x, y } = shop.machine.travel;
    const widest = Math.max(...shop.cutters.map(({ diameter }) => diameter));
    const found = [x, y, widest].map((mm) => formatLength(mm, units));
    const told = `with a travel of ${found[0]} by ${found[1]} and a cutter of ${found[2]}`;
    if (units === "in" && (x > travelMost || widest > cutterMost))
      return `found "in" ${told}; wanted "mm", if the file's numbers are millimetres`;
    if (units === "mm" && Math.max(x, y) < travelLeast && widest < cutterLeast)
      return `found "mm" ${told}; wanted "in", if the file's numbers are inches`;
    return null;
  };
  const minutes = z.number().nonnegative().max(100_000);
  return z
    .strictObject({
      $schema: schemaLink,
      format: z.literal(SHOP_FORMAT).describe("What kind of file this is."),
      units: unit,
      machine: machine.describe("What the machine can do: from its plate, its controller and its manual."),
      cutters: list(cutter, 1, 1000).describe("The flat cutters of the shop."),
      program: program.prefault({}).describe("How programs are dressed for this controller."),
      probe: z
        .strictObject({
          radius: size,
          feed,
          logStart: programLines.describe("Put before the first reading: starts the controller's record."),
          logEnd: programLines.describe("Put after the last reading: ends the record."),
        })
        .optional()
        .describe("Touch probe, and the lines with which this controller records readings."),
      rates: z
        .strictObject({
          currency: z
            .string()
            .regex(/^[A-Za-z]{3}$/, wantedForm("a currency's three letters (ISO 4217), as EUR or USD"))
            .transform((code) => code.toUpperCase())
            .describe("ISO 4217 code, as EUR or USD."),
          machineHour: money.describe("Price of an hour of the machine."),
          labourHour: money.describe("Price of an hour of a person."),
          minutes: z
            .strictObject({
              load: minutes.describe("Laying a piece and clamping it."),
              turnOver: minutes.describe("Turning it over and clamping it again."),
              cutterChange: minutes.describe("Changing the cutter."),
              zero: minutes.describe("Setting zero."),
              push: minutes
                .optional()
                .describe(
                  "Pushing a long piece on between lays and clamping it again; as load when left out.",
                ),
            })
            .describe("Minutes of people's time, each time."),
        })
        .optional()
        .describe("What an hour costs, and how long people take around the machine's own time."),
      quote: quoteSchema(units)
        .prefault({})
        .describe("What quotes reckon with beside the rates; all of it may be left out."),
      materials: list(material, 0, 1000)
        .prefault([])
        .describe("What this shop adds to the table of materials, or knows better than it."),
    })
    .superRefine((shop, ctx) => {
      const slip = inOtherUnit(shop);
      if (slip !== null) report(ctx, slip, ["units"]);
    });
});

type ShopDraft = z.output<ReturnType<typeof shopSchema>>;

/** The shop as the rest of the program sees it. */
export function shopOf({
  units,
  machine,
  cutters,
  program,
  probe,
  rates,
  quote,
  materials,
}: ShopDraft): Shop {
  const { spindle, nose } = machine;
  return {
    units,
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
    probe: probe
      ? {
          radiusMm: probe.radius,
          feedMmPerMin: probe.feed,
          logStart: probe.logStart,
          logEnd: probe.logEnd,
        }
      : null,
    materials: materials.map(({ name, densityKgPerM3, energyJPerCm3, movement, source }) => ({
      ...{ name, source },
      densityKgPerM3: densityKgPerM3 ?? null,
      energyJPerCm3: energyJPerCm3 ?? null,
      movement: movement ?? null,
    })),
    handMinutes: handMinutesOf(rates?.minutes),
    quoting: quotingOf(rates, quote),
  };
}

function handMinutesOf(minutes: NonNullable<ShopDraft["rates"]>["minutes"] | undefined): Shop["handMinutes"] {
  if (minutes === undefined) return { load: 0, turnOver: 0, cutterChange: 0, zero: 0, push: 0 };
  return { ...minutes, push: minutes.push ?? minutes.load };
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
