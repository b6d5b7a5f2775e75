// The command line's entry: what there is to ask. The work of a command is loaded when it is asked
// for, so that help and mistakes in the command line answer at once.

import { Command } from "commander";
import { version } from "../package.json";
import type { ActualOptions } from "./actual.ts";
import type { CheckOptions } from "./check.ts";
import { endWith } from "./outcome.ts";
import type { PlanOptions } from "./plan.ts";

const program = new Command("slabtrue")
  .description("Plans the flattening of slabs on a CNC router: proven programs from measured heights.")
  .version(version)
  .helpCommand(false)
  // Commander throws instead of printing and exiting, so that all failures end alike.
  .exitOverride()
  .configureOutput({ outputError: () => {} })
  .addHelpText("after", "\nExample:\n  slabtrue plan samples/cupped-slab/job.json");

program
  .command("plan")
  .description("Plans a job and writes its programs, proven and timed, into a folder.")
  .argument("<job>", "the job file")
  .option("--out <folder>", "where to write (default: beside the job file, <its name>-plan)")
  .option("--force", "write into a folder that holds other things too; they stay")
  .option("--json", "print the plan as one JSON document")
  .addHelpText("after", "\nExample:\n  slabtrue plan samples/cupped-slab/job.json --out out/cupped-slab")
  .action(async (job: string, options: PlanOptions) => (await import("./plan.ts")).plan(job, options));

program
  .command("check")
  .description("Runs any program on the wood of one setup and says what is wrong with it.")
  .argument("<program>", "the program to check")
  .requiredOption("--job <file>", "the job it is meant for")
  .requiredOption("--setup <id>", "the setup of that job")
  .option("--json", "print what was found as one JSON document")
  .addHelpText(
    "after",
    "\nExample:\n  slabtrue check 01-skim-upper.nc --job samples/cupped-slab/job.json --setup skim-upper",
  )
  .action(async (file: string, options: CheckOptions) => (await import("./check.ts")).check(file, options));

program
  .command("actual")
  .description("Records what a setup really took, and tells how your machine keeps to its plans.")
  .argument("[plan]", "the plan's folder, or its plan.json")
  .option("--setup <id>", "the setup that was cut")
  .option("--minutes <n>", "how long it took at the machine, without breaks")
  .option("--list", "print the runs recorded so far")
  .option("--shop <file>", "the shop file beside which actuals.csv lies (default: as the plan says)")
  .option("--json", "print the result as one JSON document")
  .addHelpText("after", "\nExample:\n  slabtrue actual out/cupped-slab --setup skim-upper --minutes 41")
  .action(async (plan: string | undefined, options: ActualOptions) =>
    (await import("./actual.ts")).actual(plan, options),
  );

// A reader that has seen enough (| head) is no failure.
process.stdout.on("error", (error: NodeJS.ErrnoException) => {
  if (error.code !== "EPIPE") throw error;
});

try {
  await program.parseAsync();
} catch (error) {
  endWith(error, process.argv.includes("--json"));
}
