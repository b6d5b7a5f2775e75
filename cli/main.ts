// The command line's entry: what there is to ask, and one place where failures end.

import { Command } from "commander";
import { version } from "../package.json";
import { addCheck } from "./check.ts";
import { endWith } from "./outcome.ts";
import { addPlan } from "./plan.ts";

const program = new Command("slabtrue")
  .description("Plans the flattening of slabs on a CNC router: proven programs from measured heights.")
  .version(version)
  .helpCommand(false)
  .showSuggestionAfterError()
  // Commander throws what it would have printed and exited with, so that all failures end alike.
  .exitOverride()
  .configureOutput({ outputError: () => {} })
  .addHelpText("after", "\nExample:\n  slabtrue plan samples/cupped-slab/job.json");
addPlan(program);
addCheck(program);

// A reader that has seen enough (| head) is no failure.
process.stdout.on("error", (error: NodeJS.ErrnoException) => {
  if (error.code !== "EPIPE") throw error;
});

try {
  program.parse();
} catch (error) {
  endWith(error, process.argv.includes("--json"));
}
