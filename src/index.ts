/**
 * slabtrue's core: from the text of a job file to proven RS-274/NGC programs, their time, and what to print.
 *
 * Pure: no files, clock, randomness or console; files are read by the `JobHost` that is handed in. Inside,
 * lengths are millimetres, feeds mm/min, times seconds, angles radians, volumes litres, masses kilograms; the
 * documents (`planDocument`, `checkDocument`) are in the job's own unit. Z = 0 is the top of the bed, Z up.
 *
 * ```ts
 * const job = readJob(text, "job.json", { readText: (path) => readFileSync(path, "utf8") });
 * const plan = planJob(job);
 * for (const { programs } of plan.setups)
 *   for (const { file, text } of programs) writeFileSync(file, text);
 * ```
 *
 * @packageDocumentation
 */

/** `plan.json` and the result of a check as plain JSON values, in the job's unit. */
export { checkDocument, PLAN_FORMAT, planDocument } from "./document.ts";
/**
 * The two failures that are the user's to mend. `InputError.issues` hold file, place, line, column and text;
 * `PlanError` holds `code`, `setup`, `line` and the message. Everything else is a fault of slabtrue.
 */
export { describeIssue, InputError, type InputIssue, PlanError } from "./errors.ts";
/** What a job, a shop, pieces, readings, setups and cutters are, in mm, mm/min, seconds and radians. */
export type {
  CastPart,
  Cutter,
  FinishPass,
  Job,
  KeepOut,
  Machine,
  Passes,
  Piece,
  ProgramStyle,
  Readings,
  Ring,
  Setup,
  Shop,
  Target,
  Xyz,
} from "./job/job.ts";
/**
 * The job in a job file's text, complete and in mm: `readJob(text, file, host)`. Paths in it are taken relative
 * to `file` and read by `host.readText`. Throws `InputError` with every mistake and its place.
 */
export { type JobHost, readJob, readShop } from "./job/read.ts";
/** A piece of wood and resin: litres, kilograms, and what a deeper skim would have meant. */
export type { Cast, DeeperSkim } from "./plan/pour.ts";
/**
 * Plans and proves every setup: `planJob(job)`. Each program is written, read back by a reader that shares no code
 * with the writer, and run on the measured wood. Throws `PlanError` with a stable `code` when a setup cannot be
 * made or is not safe. The same job gives the same bytes.
 *
 * `checkProgram(job, setupId, text)` proves any program on the wood that a setup finds; it never throws for what
 * the program does, but tells it as findings.
 */
export {
  type CheckResult,
  checkProgram,
  type Finding,
  type LayerReport,
  type Plan,
  type PlannedPiece,
  type PlannedProgram,
  type PlannedSetup,
  type Proof,
  planJob,
  type Seat,
  type Seats,
  type Seconds,
  type Warning,
} from "./plan.ts";
/** The operator's sheet of a plan: a whole HTML page without scripts, one printed page a setup. */
export { sheetHtml } from "./sheet/sheet.ts";

/** Lengths as people write them: `parseLength("2 1/4 in", "mm")` is 57.15 mm, null for what is no length. */
export { formatFeed, formatLength, parseFeed, parseLength, type Units } from "./units.ts";
