// `slabtrue schema`: prints the JSON Schema of a file, for editors and scripts.

import { fileSchema, type SchemaName } from "../src/schemas.ts";
import { printJson } from "./terminal.ts";

export function schema(name: SchemaName): void {
  printJson(fileSchema(name));
}
