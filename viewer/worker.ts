// The core in the background: plans jobs from their texts, proves programs, makes files. Keeps the last plan.

import { strToU8, zipSync } from "fflate";
import { planDocument } from "../src/document.ts";
import { describeIssue, describePlanError, InputError, PlanError } from "../src/errors.ts";
import { readJob } from "../src/job/read.ts";
import { type Plan, planJob } from "../src/plan.ts";
import { changedText } from "../src/preview/change.ts";
import { ASSUMED_MACHINE, programOnWood, programScene } from "../src/preview/program.ts";
import { type Scene, sceneOf } from "../src/preview/scene.ts";
import { checkStartLine } from "../src/rs274/read.ts";
import { sheetHtml } from "../src/sheet/sheet.ts";
import type { Answer, Ask, Numbered, Source, Wanted } from "./protocol.ts";

/** The last job that was planned. */
let last: { readonly key: string; readonly plan: Plan; readonly scene: Scene } | null = null;
/** Files that the job at hand names and that are not there. */
let missing: string[] = [];

const port = globalThis as unknown as {
  onmessage: ((event: { data: Numbered<Ask> }) => void) | null;
  postMessage(answer: Numbered<Answer>, transfer?: Transferable[]): void;
};

port.onmessage = ({ data: ask }) => {
  const answer = answerTo(ask);
  port.postMessage({ ...answer, id: ask.id });
};

function answerTo(ask: Ask): Answer {
  missing = [];
  try {
    switch (ask.kind) {
      case "change":
        return { kind: "changed", text: changedText(ask.text, [...ask.path], ask.value) };
      case "plan": {
        const from = performance.now();
        const { scene } = planned(ask.source);
        return { kind: "planned", scene, milliseconds: performance.now() - from };
      }
      case "file":
        return fileOf(planned(ask.source).plan, ask.source, ask.wanted);
      case "program":
        return programAnswer(ask);
    }
  } catch (error) {
    return { kind: "failed", lines: linesOf(error), missing };
  }
}

function planned(source: Source): NonNullable<typeof last> {
  const key = JSON.stringify(source);
  if (last?.key === key) return last;
  const job = readJob(textOf(source, source.jobFile), source.jobFile, hostOf(source));
  const plan = planJob(job, new Map(source.seats));
  last = { key, plan, scene: sceneOf(plan) };
  return last;
}

function programAnswer({ name, bytes, source, setup }: Extract<Ask, { kind: "program" }>): Answer {
  const found = source && planned(source);
  if (found === null) {
    const scene = programScene(name, bytes, ASSUMED_MACHINE);
    return { kind: "program", scene, onWood: false };
  }
  const at = Math.min(setup, found.scene.setups.length - 1);
  const shown = programOnWood(name, bytes, found.plan, found.plan.setups[at], found.scene.setups[at]);
  const { total } = shown.seconds;
  const scene = { ...found.scene, setups: [shown], seconds: { machine: total, shop: total } };
  return { kind: "program", scene, onWood: true };
}

/** A date for the archive's entries: without a clock, like plans give like files. */
const UNDATED = new Date(2000, 0, 1);

function fileOf(plan: Plan, source: Source, wanted: Wanted): Answer {
  const programs = plan.setups.flatMap((setup) => setup.programs);
  const sheet = () => strToU8(sheetHtml(plan));
  if (wanted.what === "sheet") return { kind: "file", name: "sheet.html", bytes: sheet(), type: "text/html" };
  if (wanted.what === "program") {
    const found = programs.find(({ file }) => file === wanted.file);
    if (found === undefined) throw new Error(`the plan has no program ${wanted.file}`);
    return { kind: "file", name: found.file, bytes: found.text, type: "text/plain" };
  }
  const files: Record<string, Uint8Array> = Object.fromEntries(
    programs.map(({ file, text }) => [file, text]),
  );
  files["sheet.html"] = sheet();
  files["plan.json"] = strToU8(`${JSON.stringify(planDocument(plan), null, 2)}\n`);
  files[baseName(source.jobFile)] = strToU8(source.files[source.jobFile]);
  const name = plan.job.name.replace(/[^A-Za-z0-9_-]+/g, "-").slice(0, 60);
  const bytes = zipSync(files, { level: 6, mtime: UNDATED });
  return { kind: "file", name: `${name || "plan"}.zip`, bytes, type: "application/zip" };
}

/** Files are found by the name that the job gives, or else by its last part: dropped files have no folders. */
function textOf({ files }: Source, path: string): string {
  if (Object.hasOwn(files, path)) return files[path];
  const name = baseName(path).toLowerCase();
  const alike = Object.keys(files).find((known) => baseName(known).toLowerCase() === name);
  if (alike !== undefined) return files[alike];
  missing.push(path);
  throw new Error("there is no such file");
}

function hostOf(source: Source) {
  return {
    readText: (path: string) => textOf(source, path),
    checkProgramLines: (lines: readonly string[]) =>
      lines.flatMap((line, index) => {
        const text = checkStartLine(line);
        return text === null ? [] : [{ index, text }];
      }),
  };
}

function linesOf(error: unknown): string[] {
  if (error instanceof InputError) return error.issues.map(describeIssue);
  if (error instanceof PlanError) return [describePlanError(error)];
  return [
    `slabtrue failed, and that is its fault, not yours: ${error instanceof Error ? error.message : String(error)}`,
    "Please report this line together with your job file and the files it names.",
  ];
}

function baseName(path: string): string {
  return path.replace(/^.*[\\/]/s, "");
}
