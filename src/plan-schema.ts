// What plan.json holds, field by field, for the printed JSON Schema. Fields may be added in later
// releases, so others than these are let pass; none of these is renamed or changes its meaning.

import * as z from "zod";
import { PLAN_FORMAT } from "./document.ts";

const length = z.number().describe("A length in the file's unit.");
const place = z.tuple([length, length, length]);
const seconds = z.number().nonnegative().describe("Machine time.");
/** Null where there is none, as when nothing is cut. */
const known = z.number().nullable();

const proof = z
  .looseObject({
    ok: z.boolean(),
    cell: known.describe("Width of the cells that wood and keep-outs were compared on."),
    cleanUp: known.describe("The least share of a piece's face that is cut, 0 to 1."),
    highest: known.describe("The highest place left on the setup's pieces, above the bed."),
    lowest: known.describe("The lowest place left."),
    deepestCut: known.describe("The deepest bite of any move."),
    rapidHits: z.int().describe("Rapids that met wood."),
    keepOutHits: z.int().describe("Moves that came too near a keep-out."),
    plungeHits: z.int().describe("Moves straight down into wood."),
    outsideTravel: z.int().describe("Moves beyond the machine's travel."),
  })
  .describe("What running the written programs on the measured wood found.");

const setup = z.looseObject({
  id: z.string().describe("Of the setup."),
  face: z.enum(["upper", "under"]).describe("The face that is up."),
  cutter: z.string().describe("Id of the cutter."),
  floor: length.describe("Above the bed."),
  margin: length.describe("How far the wood may stand above its readings."),
  zero: place.describe("Where the program's zero lies in the setup's frame."),
  programs: z
    .array(
      z.looseObject({
        file: z.string().describe("In the plan's folder."),
        shift: z.tuple([length, length]).describe("How far the wood has been pushed from its first lay."),
        seconds,
      }),
    )
    .describe("One, or one for every lay."),
  layers: z
    .array(
      z.looseObject({
        z: length.describe("Above the bed."),
        depth: length.describe("At most, below the layer before."),
        kind: z.enum(["rough", "finish"]).describe("The finish layer is the last."),
        rows: z.int(),
        cutLength: length.describe("Length of the cuts, all rows together."),
        area: z.number().describe("In square units."),
        seconds,
      }),
    )
    .describe("In the order they are cut."),
  extent: z.looseObject({ min: place, max: place }).describe("Of the programs, in their own coordinates."),
  seconds: z
    .looseObject({ total: seconds, cutting: seconds, linking: seconds, rapid: seconds, spindle: seconds })
    .describe("Machine time of the setup and its parts."),
  removed: z.looseObject({ wood: z.number(), resin: z.number() }).describe("Litres."),
  removedMost: length.describe("At the place where most comes off."),
  pieces: z.array(
    z.looseObject({
      id: z.string(),
      cleanUp: z.number().describe("Share of the face that is cut, 0 to 1."),
      thinnest: length.describe("Least thickness left."),
      thickest: length.describe("Greatest thickness left."),
    }),
  ),
  proof,
  warnings: z.array(z.looseObject({ code: z.string().describe("Stable, for scripts."), text: z.string() })),
});

export const planSchema = z.looseObject({
  format: z.literal(PLAN_FORMAT).describe("What kind of file this is."),
  job: z.string().describe("Name of the job."),
  units: z.enum(["mm", "in"]).describe("The unit of the lengths here: the job's."),
  setups: z.array(setup).describe("In the order they are cut."),
  seconds: z
    .looseObject({
      machine: seconds.describe("Machine time in all."),
      shop: seconds.describe("With loading, turning over, changing cutters and setting zero."),
    })
    .describe("Of the whole job."),
  cautions: z.array(z.string()).describe("What to mind before cutting."),
});
