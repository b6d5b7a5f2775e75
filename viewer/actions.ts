// What one can do on the page: open files, change the job and go back, save. Each ends in a change of the state.

import { strToU8, zipSync } from "fflate";
import { changedText } from "../src/preview/change.ts";
import type { Planner } from "./data.ts";
import type { Answer, MadeFile, Source } from "./protocol.ts";
import { type Problem, type Step, type Store, shown, sourceOf } from "./state.ts";

/** Larger files are no job's. */
const FILE_MAX_MB = 256;

export class Actions {
  private readonly store: Store;
  private readonly planner: Planner;
  /** Files dropped so far that no job has been found for. */
  private loose: Record<string, string> = {};
  /** A job that was dropped without all the files it names. */
  private waiting: string | null = null;
  /** The text that is being planned, and the one that waits behind it. */
  private running = false;
  private queued = false;

  constructor(store: Store, planner: Planner) {
    this.store = store;
    this.planner = planner;
  }

  /** Takes up a plan that was made elsewhere. */
  open(scene: Step["scene"], source: Source): void {
    this.store.set({
      ...{ scene, program: null, setup: 0, time: 0, playing: false, problem: null },
      ...(scene && { units: scene.units }),
      steps: [{ source, setup: 0, field: "", scene, problem: null }],
      at: 0,
    });
  }

  // Changes ------------------------------------------------------------------------------------

  /** Sets a field of the shown setup in the job's text and plans it anew. */
  change(field: string, path: readonly (string | number)[], value: unknown): void {
    const { state } = this.store;
    const source = sourceOf(state);
    if (source === null || state.program !== null) return;
    const text = changedText(source.files[source.jobFile], ["setups", state.setup, ...path], value);
    const files = { ...source.files, [source.jobFile]: text };
    const step: Step = {
      ...{ setup: state.setup, field, scene: null, problem: null },
      source: { ...source, files },
    };
    this.store.set({ steps: [...state.steps.slice(0, state.at + 1), step], at: state.at + 1, problem: null });
    void this.plan();
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
    else if (step.problem === null) void this.plan();
  }

  /** Plans the text at hand; whoever changes it meanwhile gets the newest text planned next. */
  private async plan(): Promise<void> {
    if (this.running) {
      this.queued = true;
      return;
    }
    this.running = true;
    do {
      this.queued = false;
      const { steps, at } = this.store.state;
      const step = steps[at];
      if (step === undefined || step.scene !== null) break;
      this.store.set({ busy: "Planning anew, and running the proof …" });
      const answer = await this.planner.ask({ kind: "plan", source: step.source });
      this.settle(step, answer);
    } while (this.queued);
    this.running = false;
    this.store.set({ busy: "" });
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
    const read = await Promise.all(
      files.map(async (file) => ({ name: file.name, bytes: new Uint8Array(await file.arrayBuffer()) })),
    );
    const texts: Record<string, string> = {};
    const programs: MadeFile[] = [];
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
    const source: Source = { jobFile, files: this.loose };
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

  private async takeProgram({ name, bytes }: MadeFile): Promise<void> {
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

  /** All programs in one archive, with the job as changed and all figures. */
  async saveAll(): Promise<void> {
    const made = await this.made();
    if (made === null) return;
    const entries = Object.fromEntries(made.files.map(({ name, bytes }) => [name, bytes]));
    if (made.sheet !== null) entries["sheet.html"] = strToU8(made.sheet);
    // No clock in the archive: like plans give like files.
    const archive = zipSync(entries, { level: 6, mtime: new Date(2000, 0, 1) });
    save(`${this.fileName()}.zip`, archive, "application/zip");
  }

  async saveProgram(file: string): Promise<void> {
    const made = await this.made();
    const found = made?.files.find(({ name }) => name === file);
    if (found !== undefined) save(file, found.bytes, "text/plain");
  }

  async saveSheet(): Promise<void> {
    const made = await this.made();
    if (made?.sheet) save("sheet.html", strToU8(made.sheet), "text/html");
  }

  saveJob(): void {
    const source = sourceOf(this.store.state);
    if (source === null) return;
    const name = source.jobFile.replace(/^.*[\\/]/s, "");
    save(name, strToU8(source.files[source.jobFile]), "application/json");
  }

  private async made(): Promise<Extract<Answer, { kind: "files" }> | null> {
    const source = sourceOf(this.store.state);
    if (source === null) return null;
    this.store.set({ busy: "Making the files …" });
    const answer = await this.planner.ask({ kind: "files", source });
    this.store.set({ busy: "" });
    if (answer.kind === "files") return answer;
    this.store.set({ problem: problemOf(answer, "Nothing is saved: this cannot be planned") });
    return null;
  }

  private fileName(): string {
    return (this.store.state.scene?.job ?? "plan").replace(/[^A-Za-z0-9_-]+/g, "-").slice(0, 60) || "plan";
  }

  private fail(title: string, lines: readonly string[]): void {
    this.store.set({ problem: { title, lines, missing: [] } });
  }
}

function problemOf(answer: Answer, title: string): Problem | null {
  return answer.kind === "failed" ? { title, lines: answer.lines, missing: answer.missing } : null;
}

/** JSON, tables and drawings; everything else is taken for a program. */
function isText({ name, bytes }: MadeFile): boolean {
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

function save(name: string, bytes: Uint8Array, type: string): void {
  const address = URL.createObjectURL(new Blob([bytes as Uint8Array<ArrayBuffer>], { type }));
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
