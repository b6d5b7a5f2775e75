// The command line's entry: what there is to ask. The work of a command is loaded when it is asked
// for, so that help and mistakes in the command line answer at once.

import { Argument, Command, Option } from "commander";
import { version } from "../package.json";
import type { SchemaName } from "../src/schemas.ts";
import type { ActualOptions } from "./actual.ts";
import type { CheckOptions } from "./check.ts";
import { endWith } from "./outcome.ts";
import type { PlanOptions } from "./plan.ts";
import type { PreviewOptions } from "./preview.ts";
import type { ProbeOptions } from "./probe.ts";
import type { QuoteOptions } from "./quote.ts";
import type { ResumeOptions } from "./resume.ts";
import type { StartOptions } from "./start.ts";
import type { SurveyOptions } from "./survey.ts";

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
  .addOption(
    new Option("--seat <lay>", "plan measured pieces on the shims that survey finds").choices(["best"]),
  )
  .option("--json", "print the plan as one JSON document")
  .addHelpText("after", "\nExample:\n  slabtrue plan samples/cupped-slab/job.json --out out/cupped-slab")
  .action(async (job: string, options: PlanOptions) => (await import("./plan.ts")).plan(job, options));

program
  .command("survey")
  .description("Says what the wood is: flatness, how it should lie, shims, and what each clean-up costs.")
  .argument("<job>", "the job file")
  .option("--svg <file>", "also draw the heights of each face, with readings and shims")
  .option("--json", "print the survey as one JSON document")
  .addHelpText("after", "\nExample:\n  slabtrue survey samples/river-table/job.json --svg heights.svg")
  .action(async (job: string, options: SurveyOptions) => (await import("./survey.ts")).survey(job, options));

program
  .command("check")
  .description("Runs any program on the wood of one setup and says what is wrong with it.")
  .argument("<program>", "the program to check")
  .requiredOption("--job <file>", "the job it is meant for")
  .requiredOption("--setup <id>", "the setup of that job")
  .option("--lay <number>", "which lay, where the setup is cut in several (default: 1)")
  .addOption(new Option("--seat <lay>", "the plan was made on the shims that survey finds").choices(["best"]))
  .option("--json", "print what was found as one JSON document")
  .addHelpText(
    "after",
    "\nExample:\n  slabtrue check out/cupped-slab/01-skim-upper.nc --job samples/cupped-slab/job.json --setup skim-upper",
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

program
  .command("quote")
  .description(
    "Says hours and price as low, likely and high: from sizes before a slab is measured, or of a job.",
  )
  .argument("[job]", "the job file; left out, the sizes below make one")
  .option("--length <length>", "of the table, with its unit")
  .option("--width <length>", "of the table")
  .option("--thickness <length>", "of the slabs as sawn")
  .option("--finished <length>", "thickness of the finished table")
  .option("--slabs <n>", "how many slabs lie side by side (default: 1)")
  .option("--shell <length>", "resin over the wood on each face, for a cast table (default: none)")
  .option("--species <name>", "of the wood")
  .option("--faces <both|upper>", "which faces are cut (default: both)")
  .option("--shop <file>", "the shop file")
  .option("--cutter <id>", "a cutter of the shop (default: its first)")
  .option("--seed <n>", "begins the invented tables; like seeds give like quotes (default: 1)")
  .option("--invent <n>", "how many tables to invent (default: 200)")
  .option("--compare <what>", "cutter, stepover, depth, or several with commas: quotes of other settings")
  .option("--html <file>", "write the quote as two pages to print, for the client and for the shop")
  .option("--json", "print the quote as one JSON document")
  .addHelpText(
    "after",
    '\nExample:\n  slabtrue quote --length "2.4 m" --width "1.1 m" --thickness "57 mm" --finished "45 mm" --shop samples/shops/gantry-mm.json',
  )
  .action(async (job: string | undefined, options: QuoteOptions) =>
    (await import("./quote.ts")).quote(job, options),
  );

program
  .command("probe")
  .description("Prints a program that reads a face with a touch probe, or a list of places to read by hand.")
  .argument("<job>", "the job file; the pieces of its first setup are read")
  .addOption(
    new Option("--by-hand", "a CSV of few places to fill in, instead of a program").conflicts("spacing"),
  )
  .option("--spacing <length>", "distance between touches at most (default: from the size of the pieces)")
  .option("--out <file>", "where to write (default: to stdout)")
  .addHelpText(
    "after",
    "\nExample:\n  slabtrue probe samples/live-edge-cleats/job.json --by-hand --out bar-upper-2.csv",
  )
  .action(async (job: string, options: ProbeOptions) => (await import("./probe.ts")).probe(job, options));

program
  .command("preview")
  .description("Writes a page that shows a plan: one file, opened by a double click, without a network.")
  .argument("<job>", "the job file")
  .option("--out <file>", "where to write (default: beside the job file, <its name>-preview.html)")
  .addHelpText("after", "\nExample:\n  slabtrue preview samples/cupped-slab/job.json --out out/table.html")
  .action(async (job: string, options: PreviewOptions) =>
    (await import("./preview.ts")).preview(job, options),
  );

program
  .command("resume")
  .description("Prints the rest of a program that was broken off, proven on the wood as it stands.")
  .argument("<program>", "the program that was broken off")
  .requiredOption("--job <file>", "the job it was made for")
  .requiredOption("--setup <id>", "the setup of that job")
  .requiredOption("--after-line <n>", "the last line that was carried out, counted from 1")
  .option("--replace-cutter", "stop for setting Z anew, and cut the last whole row again")
  .option("--lay <number>", "which lay, where the setup is cut in several (default: 1)")
  .addOption(new Option("--seat <lay>", "the plan was made on the shims that survey finds").choices(["best"]))
  .option("--out <file>", "where to write (default: to stdout)")
  .addHelpText(
    "after",
    "\nExample:\n  slabtrue resume out/cupped-slab/01-skim-upper.nc --job samples/cupped-slab/job.json --setup skim-upper \\\n    --after-line 40 --out 01-rest.nc",
  )
  .action(async (file: string, options: ResumeOptions) =>
    (await import("./resume.ts")).resume(file, options),
  );

program
  .command("schema")
  .description("Prints the JSON Schema of a file, by which editors complete and check it.")
  .addArgument(new Argument("<file>", "which kind of file").choices(["job", "shop", "plan"]))
  .addHelpText("after", "\nExample:\n  slabtrue schema job > job.schema.json")
  .action(async (name: SchemaName) => (await import("./schema.ts")).schema(name));

program
  .command("start")
  .description("Makes a first shop file and job file, asking for each number and saying where it is found.")
  .argument("<folder>", "where to write shop.json and job.json")
  .option("--yes", "ask nothing: take examples for all numbers")
  .addHelpText("after", "\nExample:\n  slabtrue start my-shop")
  .action(async (folder: string, options: StartOptions) =>
    (await import("./start.ts")).start(folder, options),
  );

// A reader that has seen enough (| head) is no failure.
for (const stream of [process.stdout, process.stderr])
  stream.on("error", (error: NodeJS.ErrnoException) => {
    if (error.code !== "EPIPE") throw error;
  });

try {
  await program.parseAsync();
} catch (error) {
  endWith(error, process.argv.includes("--json"));
}
