// What one can do on the page: open files, change the job and go back, save. Each ends in a change of the state.

import type { Planner } from "./data.ts";
import type { Answer, Source, Wanted } from "./protocol.ts";
import { type Problem, type Step, type Store, shown, sourceOf } from "./state.ts";

const PLANNING = "Planning anew, and running the proof …";

/** A file that was dropped or chosen. */
interface ReadFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** Larger files are no job's. */
const FILE_MAX_MB = 256;

export class Actions {
  private readonly store: Store;
  private readonly planner: Planner;
  /** Files dropped so far that no job has been found for. */
  private loose: Record<string, string> = {};
  /** A job that was dropped without all the files it names. */
  private waiting: string | null = null;
  /** Ends when all changes so far are planned. */
  private changes: Promise<void> = Promise.resolve();

  constructor(store: Store, planner: Planner) {
    this.store = store;
    this.planner = planner;
  }

  /** Takes up a plan that was made elsewhere. */
  open(scene: Step["scene"], source: Source): void {
    this.store.set({
      ...{ scene, program: null, setup: 0, time: 0, playing: false, problem: null },
      ...(scene && { units: scene.units }),
      steps: [{ source, setup: 0, field: "", typed: "", scene, problem: null }],
      at: 0,
    });
  }

  // Changes ------------------------------------------------------------------------------------

  /** Sets a field of the shown setup in the job's text and plans it anew; one change after the other. */
  change(field: string, path: readonly (string | number)[], value: string | number, typed: string): void {
    this.changes = this.changes.then(() => this.changeNow(field, path, value, typed));
  }

  private async changeNow(
    field: string,
    path: readonly (string | number)[],
    value: string | number,
    typed: string,
  ): Promise<void> {
    const { setup, program, steps, at } = this.store.state;
    const source = sourceOf(this.store.state);
    if (source === null || program !== null) return;
    this.store.set({ busy: PLANNING });
    const answer = await this.planner.ask({
      ...{ kind: "change", value, text: source.files[source.jobFile] },
      path: ["setups", setup, ...path],
    });
    if (answer.kind !== "changed") {
      this.store.set({ busy: "", problem: problemOf(answer, "The job's file cannot be changed") });
      return;
    }
    const files = { ...source.files, [source.jobFile]: answer.text };
    const step: Step = {
      ...{ setup, field, typed, scene: null, problem: null },
      source: { ...source, files },
    };
    this.store.set({ steps: [...steps.slice(0, at + 1), step], at: at + 1, problem: null });
    await this.planStep(step);
  }

  undo(): void {
    this.goTo(this.store.state.at - 1);
  }

  redo(): void {
    this.goTo(this.store.state.at + 1);
  }

  private goTo(at: number): void {
    const { steps } = this.store.state;
    const step = steps[at];
    if (step === undefined) return;
    this.store.set({ at, problem: step.problem, setup: at === 0 ? this.store.state.setup : step.setup });
    if (step.scene !== null) this.show(step.scene);
    else if (step.problem === null) void this.planStep(step);
  }

  private async planStep(step: Step): Promise<void> {
    this.store.set({ busy: PLANNING });
    const answer = await this.planner.ask({ kind: "plan", source: step.source });
    this.store.set({ busy: "" });
    this.settle(step, answer);
  }

  private settle(step: Step, answer: Answer): void {
    const { state } = this.store;
    const scene = answer.kind === "planned" ? answer.scene : null;
    const problem = problemOf(answer, "This cannot be planned");
    const at = state.steps.indexOf(step);
    if (at < 0) return;
    const steps = state.steps.map((other) => (other === step ? { ...step, scene, problem } : other));
    this.store.set({ steps });
    if (at !== state.at) return;
    this.store.set({ problem });
    if (scene !== null) this.show(scene);
  }

  private show(scene: NonNullable<Step["scene"]>): void {
    const { state } = this.store;
    const setup = Math.min(state.setup, scene.setups.length - 1);
    // The cutter stays at the same share of the program.
    const before = shown(state)?.seconds.total ?? 0;
    const total = scene.setups[setup].seconds.total;
    const time = before > 0 ? (state.time / before) * total : 0;
    this.store.set({ scene, setup, time, program: null, spoken: "The new plan is shown." });
  }

  // Files --------------------------------------------------------------------------------------

  /** Takes files that were dropped or chosen: a job with what it names, or a program. */
  async take(files: readonly File[]): Promise<void> {
    const large = files.find((file) => file.size > FILE_MAX_MB * 2 ** 20);
    if (large !== undefined) {
      this.fail("This cannot be read", [`${large.name}: it is larger than ${FILE_MAX_MB} MB`]);
      return;
    }
    const read: ReadFile[] = [];
    for (const file of files)
      try {
        read.push({ name: file.name, bytes: new Uint8Array(await file.arrayBuffer()) });
      } catch {
        this.fail("This cannot be read", [`${file.name}: drop the files themselves, not their folder`]);
        return;
      }
    const texts: Record<string, string> = {};
    const programs: ReadFile[] = [];
    for (const file of read) {
      if (isText(file)) {
        const text = textOf(file.bytes);
        if (text === null) {
          this.fail("This cannot be read", [`${file.name}: it is not UTF-8 text`]);
          return;
        }
        texts[file.name] = text;
      } else programs.push(file);
    }
    if (Object.keys(texts).length > 0) await this.takeTexts(texts);
    else if (programs.length > 0) await this.takeProgram(programs[0]);
  }

  private async takeTexts(texts: Record<string, string>): Promise<void> {
    const named = Object.keys(texts).find((name) => isJob(texts[name]));
    this.loose = { ...this.loose, ...texts };
    const jobFile = named ?? this.waiting;
    if (jobFile === null) {
      this.fail("No job among these files", [
        `${Object.keys(texts).join(", ")}: kept for the job that names them; drop the job file too ("format": "slabtrue-job/1")`,
      ]);
      return;
    }
    const source: Source = { jobFile, files: this.loose, seats: [] };
    this.store.set({ busy: "Planning, and running the proof …", problem: null });
    const answer = await this.planner.ask({ kind: "plan", source });
    this.store.set({ busy: "" });
    const problem = problemOf(answer, `${jobFile} cannot be planned`);
    // What is missing may come with the next drop.
    this.waiting = problem !== null && problem.missing.length > 0 ? jobFile : null;
    if (answer.kind === "planned") {
      this.loose = {};
      this.open(answer.scene, source);
      this.store.set({ spoken: `${answer.scene.job} is planned and shown.` });
    } else this.store.set({ problem });
  }

  private async takeProgram({ name, bytes }: ReadFile): Promise<void> {
    const { state } = this.store;
    const step = state.steps.slice(0, state.at + 1).findLast(({ scene }) => scene !== null);
    this.store.set({ busy: `Reading ${name} …`, problem: null });
    const answer = await this.planner.ask({
      ...{ kind: "program", name, bytes, setup: state.setup },
      source: step?.source ?? null,
    });
    this.store.set({ busy: "" });
    if (answer.kind !== "program") {
      this.store.set({ problem: problemOf(answer, `${name} cannot be shown`) });
      return;
    }
    const units = state.scene === null ? answer.scene.units : state.units;
    this.store.set({ scene: answer.scene, program: name, setup: 0, time: 0, playing: false, units });
    this.store.set({ spoken: `${name} is shown.` });
  }

  /** Leaves a dropped program for the plan. */
  closeProgram(): void {
    const { state } = this.store;
    const step = state.steps.slice(0, state.at + 1).findLast(({ scene }) => scene !== null);
    if (step?.scene) this.store.set({ scene: step.scene, program: null, setup: 0, time: 0, problem: null });
  }

  // Saving -------------------------------------------------------------------------------------

  /** Has a file of the plan made, and saves it. */
  async save(wanted: Wanted): Promise<void> {
    const source = sourceOf(this.store.state);
    if (source === null) return;
    this.store.set({ busy: "Making the file …" });
    const answer = await this.planner.ask({ kind: "file", source, wanted });
    this.store.set({ busy: "" });
    if (answer.kind === "file") saveFile(answer.name, answer.bytes, answer.type);
    else this.store.set({ problem: problemOf(answer, "Nothing is saved") });
  }

  /** Saves the job's file as it is after the changes. */
  saveJob(): void {
    const source = sourceOf(this.store.state);
    if (source === null) return;
    const text = new TextEncoder().encode(source.files[source.jobFile]);
    saveFile(source.jobFile.replace(/^.*[\\/]/s, ""), text, "application/json");
  }

  private fail(title: string, lines: readonly string[]): void {
    this.store.set({ problem: { title, lines, missing: [] } });
  }
}

function problemOf(answer: Answer, title: string): Problem | null {
  return answer.kind === "failed" ? { title, lines: answer.lines, missing: answer.missing } : null;
}

/** JSON, tables and drawings; everything else is taken for a program. */
function isText({ name, bytes }: ReadFile): boolean {
  if (/\.(json|jsonc|csv|svg)$/i.test(name)) return true;
  const start = new TextDecoder().decode(bytes.subarray(0, 400)).replace(/^\uFEFF/, "");
  return /^\s*(\/\/[^\n]*\s*|\/\*[\s\S]*?\*\/\s*)*\{/.test(start);
}

function isJob(text: string): boolean {
  return /"format"\s*:\s*"slabtrue-job\//.test(text);
}

function textOf(bytes: Uint8Array): string | null {
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    return null;
  }
}

function saveFile(name: string, bytes: Uint8Array, type: string): void {
  const address = URL.createObjectURL(new Blob([bytes as Uint8Array<ArrayBuffer>], { type }));
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
