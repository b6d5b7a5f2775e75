// Writes plan folders until it is killed, each larger than a moment: for the test that kills it.

import { checkPlanFolder, fingerprints, PLAN_FILE, writePlanFolder } from "../../cli/plan-folder.ts";

/** A plan folder's files: programs with this text, and what plan.json says of them. */
export function planFiles(text: string, count = 1): Map<string, string> {
  const programs = Array.from({ length: count }, (_, k) => ({ file: `${k}.nc` }));
  const files = new Map(programs.map(({ file }) => [file, text]));
  const plan = { format: "slabtrue-plan/1", setups: [{ programs }], files: fingerprints(files) };
  return files.set(PLAN_FILE, JSON.stringify(plan));
}

const [, , folder, label] = process.argv;
if (label !== undefined) {
  console.log("begins");
  for (let n = 0; ; n++) {
    checkPlanFolder(folder, true);
    writePlanFolder(folder, planFiles(`${label} ${n} `.repeat(1000), 20), true);
  }
}
