// What plan.json holds, field by field, for the printed JSON Schema. Fields may be added in later
// releases, so others than these are let pass; none of these is renamed or changes its meaning.

import * as z from "zod";
import { PLAN_FORMAT } from "./document.ts";

const length = z.number().describe("A length in the file's unit.");
const place = z.tuple([length, length, length]);
const area = z.number().nonnegative().describe("In square units.");
const share = z.number().min(0).max(1);
const seconds = z.number().nonnegative().describe("Machine time.");
const litres = z.number().nonnegative().describe("Litres.");
const kilograms = z.number().nonnegative().describe("Kilograms.");
const removed = z.looseObject({ wood: litres, resin: litres }).describe("What comes off.");

/** Null where there is none, as when nothing is cut. */
const known = z.number().nullable();

const proof = z
  .looseObject({
    ok: z.boolean().describe("Whether nothing was found wrong; a plan with anything wrong is not written."),
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

const program = z.looseObject({
  file: z.string().describe("In the plan's folder."),
  shift: z.tuple([length, length]).describe("How far the wood has been pushed from its first lay."),
  seconds,
});

const layer = z.looseObject({
  z: length.describe("Above the bed."),
  depth: length.describe("At most, below the layer before."),
  kind: z.enum(["rough", "finish"]).describe("The finish layer is the last."),
  rows: z.int().describe("How many rows are cut."),
  cutLength: length.describe("Length of the cuts, all rows together."),
  area,
  seconds,
});

const piece = z.looseObject({
  id: z.string().describe("Of the piece."),
  cleanUp: share.describe("Share of the face that is cut, 0 to 1; of its wood where it has resin."),
  resinCleanUp: share.optional().describe("Of its resin."),
  thinnest: length.describe("Least thickness left where the cutter reaches."),
  thickest: length.describe("Greatest thickness left."),
  cleanThickness: length.describe("The greatest finished thickness at which this face is clean all over."),
  removed,
  rough: z
    .array(
      z.looseObject({
        at: z.tuple([length, length]).describe("Its deepest place."),
        deep: length.describe("How far that lies below the floor."),
        area,
      }),
    )
    .describe("The largest places that stay rough."),
});

const setup = z.looseObject({
  id: z.string().describe("Of the setup."),
  face: z.enum(["upper", "under"]).describe("The face that is up."),
  cutter: z.string().describe("Id of the cutter."),
  floor: length.describe("Above the bed."),
  margin: length.describe("How far the wood may stand above its readings."),
  zero: place.describe("Where the program's zero lies in the setup's frame."),
  programs: z.array(program).describe("One, or one for every lay."),
  layers: z.array(layer).describe("In the order they are cut."),
  extent: z
    .looseObject({ min: place.describe("Least X, Y and Z."), max: place.describe("Greatest X, Y and Z.") })
    .describe("Of the programs, in their own coordinates."),
  seconds: z
    .looseObject({ total: seconds, cutting: seconds, linking: seconds, rapid: seconds, spindle: seconds })
    .describe("Machine time of the setup and its parts."),
  removed,
  removedMost: length.describe("At the place where most comes off."),
  pieces: z.array(piece).describe("What the setup does to each piece."),
  proof,
  warnings: z
    .array(
      z.looseObject({
        code: z.string().describe("Stable, for scripts."),
        text: z.string().describe("For people."),
      }),
    )
    .describe("What to mind in this setup."),
});

const cast = z.looseObject({
  piece: z.string().describe("Its id."),
  resin: z.looseObject({ litres, kilograms }).describe("That goes into the mold."),
  wood: z.looseObject({ litres }).describe("That lies in the mold."),
  mass: z
    .looseObject({ before: kilograms, after: kilograms })
    .describe("As it comes out of the mold, and when all setups are cut."),
  skims: z
    .array(
      z.looseObject({
        setup: z.string().describe("Id of the setup that goes deeper than the wood was skimmed."),
        skims: z.array(z.string()).describe("Ids of the setups that skimmed the wood."),
        deeper: length.describe("How far it goes below their plane."),
        secondsMore: seconds.describe("What skimming that deep would have taken."),
        secondsLess: seconds.describe("What it would have saved."),
        resinLitresLess: litres.describe("Resin that it would have saved."),
      }),
    )
    .describe("Where skimming deeper before casting would have paid."),
});

export const planSchema = z.looseObject({
  format: z.literal(PLAN_FORMAT).describe("What kind of file this is."),
  job: z.string().describe("Name of the job."),
  units: z.enum(["mm", "in"]).describe("The unit of the lengths here: the job's."),
  setups: z.array(setup).describe("In the order they are cut."),
  shims: z
    .array(
      z.looseObject({
        piece: z.string().describe("Id of the piece."),
        at: z.tuple([length, length]).describe("In the frame of its first lay."),
        thickness: length,
      }),
    )
    .describe("What goes under which piece before its first setup, and where."),
  casts: z.array(cast).describe("One for every piece of wood and resin."),
  notes: z.array(z.string()).describe("How the wood will move, where moisture is given."),
  seconds: z
    .looseObject({
      machine: seconds.describe("Machine time in all."),
      shop: seconds.describe("With loading, turning over, changing cutters and setting zero."),
    })
    .describe("Of the whole job."),
  cautions: z.array(z.string()).describe("What to mind before cutting."),
  files: z
    .record(z.string(), z.string())
    .optional()
    .describe(
      "SHA-256 of each file beside this one, by name: a file that was changed by hand is not overwritten.",
    ),
});
