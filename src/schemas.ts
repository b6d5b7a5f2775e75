// JSON Schemas (draft 2020-12) of the files that slabtrue reads and writes, for editors that complete
// and check while one types, and for scripts. They come from the schemas that read the files. What
// takes more than one field to tell, the reader alone finds.

import * as z from "zod";
import { jobSchema, shopSchema } from "./job/schema.ts";
import { planSchema } from "./plan-schema.ts";

/** The files there are schemas of. */
export const SCHEMA_NAMES = ["job", "shop", "plan"] as const;

export type SchemaName = (typeof SCHEMA_NAMES)[number];

// Bare numbers look the same in both units.
const SCHEMAS: Readonly<Record<SchemaName, () => { title: string; schema: z.ZodType }>> = {
  job: () => ({ title: "slabtrue job file", schema: jobSchema("mm", "mm") }),
  shop: () => ({ title: "slabtrue shop file", schema: shopSchema("mm") }),
  plan: () => ({ title: "slabtrue plan.json", schema: planSchema }),
};

/** The JSON Schema of one kind of file. */
export function fileSchema(name: SchemaName): object {
  const { title, schema } = SCHEMAS[name]();
  const { $schema, ...rest } = z.toJSONSchema(schema, { io: "input", override: fixTuple });
  return { $schema, title, ...rest };
}

/** Printed tuples say nothing of their length. */
function fixTuple({
  zodSchema,
  jsonSchema,
}: {
  zodSchema: z.core.$ZodTypes;
  jsonSchema: z.core.JSONSchema.BaseSchema;
}) {
  if (zodSchema._zod.def.type !== "tuple") return;
  jsonSchema.minItems = zodSchema._zod.def.items.length;
  jsonSchema.items = false;
}
