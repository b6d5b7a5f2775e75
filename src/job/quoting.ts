// What the shop file says for quotes: how far its slabs usually are off flat, and what goes into a price beside
// the rates. All of it may be left out. The defaults are common practice, no source; a shop that measures its
// slabs knows better.

import * as z from "zod";
import { lengths, perUnit } from "./fields.ts";
import type { Quoting } from "./job.ts";

const SPREAD = "Standard deviation";

/** The field `quote` of a shop file in `units`. */
export const quoteSchema = perUnit((units) => {
  const { space } = lengths(units);
  const perMetre = z.number().nonnegative().max(100);
  const share = z.number().nonnegative().max(1);
  const warp = z.strictObject({
    bow: perMetre.prefault(1).describe(`${SPREAD} of the rise along a slab, mm for each m of its length.`),
    cup: perMetre.prefault(4).describe(`${SPREAD} of the rise across it, mm for each m of its width.`),
    twist: perMetre
      .prefault(1.5)
      .describe(`${SPREAD} of a corner off the plane of the other three, mm for each m of length.`),
    wedge: perMetre
      .prefault(0.5)
      .describe(`${SPREAD} of the change of thickness from end to end, mm for each m of length.`),
    sawMarks: space.prefault("0.4 mm").describe(`${SPREAD} of the waves that the saw leaves.`),
    shell: share
      .prefault(0.12)
      .describe(`${SPREAD} of the resin over the wood, as a share of what was meant.`),
    pour: perMetre.prefault(1).describe(`${SPREAD} of the cup of a cast piece, mm for each m of its width.`),
  });
  return z.strictObject({
    warp: warp.prefault({}).describe("How far the shop's slabs are off flat when they come in."),
    river: share
      .max(0.9)
      .prefault(0.12)
      .describe("Share of a cast top's width that is resin between its slabs, where only sizes are given."),
    hands: share
      .prefault(0.15)
      .describe(`${SPREAD} of people's minutes, as a share of the minutes under rates.`),
    minding: share
      .prefault(0)
      .describe("Share of the machine's time for which a person is paid beside the machine's rate."),
    margin: z.number().nonnegative().max(10).prefault(0).describe("Added to the price, as a share of it."),
    validDays: z.int().min(1).max(3650).prefault(30).describe("How long the printed quote holds."),
  });
});

/** The money and the field `quote`, as quotes reckon with them. */
export function quotingOf(
  rates: { currency: string; machineHour: number; labourHour: number } | undefined,
  quote: z.output<ReturnType<typeof quoteSchema>>,
): Quoting {
  const { warp, river, hands, minding, margin, validDays } = quote;
  const { bow, cup, twist, wedge, sawMarks, shell, pour } = warp;
  const perMetre = (mm: number) => mm / 1000;
  return {
    rates: rates
      ? { currency: rates.currency, machineHour: rates.machineHour, labourHour: rates.labourHour }
      : null,
    warp: {
      ...{ bow: perMetre(bow), cup: perMetre(cup), twist: perMetre(twist), wedge: perMetre(wedge) },
      ...{ sawMarksMm: sawMarks, shellShare: shell, pour: perMetre(pour) },
    },
    ...{ riverShare: river, handShare: hands, mindingShare: minding, marginShare: margin, validDays },
  };
}
