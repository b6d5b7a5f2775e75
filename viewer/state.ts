// What the page shows, in one place: whoever draws listens, whoever acts sets. No DOM in here.

import type { Scene, SetupScene } from "../src/preview/scene.ts";
import type { Units } from "../src/units.ts";
import type { Source } from "./protocol.ts";

export const SHADES = ["plain", "height", "thickness", "residual", "clean"] as const;
export type Shade = (typeof SHADES)[number];

export const SHADE_NAMES: Readonly<Record<Shade, string>> = {
  plain: "Wood and resin",
  height: "Height above the floor",
  thickness: "Thickness left",
  residual: "Residual after the proof",
  clean: "Wood not cleaned",
};

/** Something that went wrong, told as the command line tells it. */
export interface Problem {
  readonly title: string;
  readonly lines: readonly string[];
  /** Files that the job names and nobody has given. */
  readonly missing: readonly string[];
}

/** One change to the job, and what came of it. The first step is the job as it was opened. */
export interface Step {
  readonly source: Source;
  readonly setup: number;
  /** Which field was changed, and to what. */
  readonly field: string;
  readonly typed: string;
  /** Null while it is being planned, or where it cannot be. */
  readonly scene: Scene | null;
  readonly problem: Problem | null;
}

export interface State {
  /** What is drawn; stays while something new is planned. */
  readonly scene: Scene | null;
  /** Name of a program that somebody dropped, which is then what is drawn. */
  readonly program: string | null;
  readonly setup: number;
  readonly units: Units;
  readonly shade: Shade;
  /** How many times heights are drawn; 0: as suits the piece. */
  readonly heights: number;
  /** Only the layer under the cutter is drawn; else those of `layers`. */
  readonly follow: boolean;
  readonly layers: ReadonlySet<number>;
  readonly cuts: boolean;
  readonly links: boolean;
  readonly lifts: boolean;
  /** Seconds of machine time, and whether it runs, so many times as fast. */
  readonly time: number;
  readonly playing: boolean;
  readonly pace: number;
  /** What the worker is at; empty: nothing. */
  readonly busy: string;
  readonly problem: Problem | null;
  /** Changes so far, and which of them is shown. */
  readonly steps: readonly Step[];
  readonly at: number;
  /** Said to those who cannot see. */
  readonly spoken: string;
}

export type Changed = ReadonlySet<keyof State>;

export class Store {
  state: State = {
    ...{ scene: null, program: null, setup: 0, units: "mm", shade: "plain", heights: 0 },
    ...{ follow: true, layers: new Set<number>(), cuts: true, links: true, lifts: true },
    ...{ time: 0, playing: false, pace: 60, busy: "", problem: null, steps: [], at: 0, spoken: "" },
  };
  private readonly listeners: ((state: State, changed: Changed) => void)[] = [];

  set(patch: Partial<State>): void {
    const before = this.state;
    this.state = { ...before, ...patch };
    const changed = new Set(
      (Object.keys(patch) as (keyof State)[]).filter((key) => before[key] !== this.state[key]),
    );
    if (changed.size > 0) for (const listener of this.listeners) listener(this.state, changed);
  }

  listen(listener: (state: State, changed: Changed) => void): void {
    this.listeners.push(listener);
  }
}

/** The setup that is drawn. */
export function shown({ scene, setup }: State): SetupScene | null {
  return scene?.setups[setup] ?? null;
}

/** The text of the job as it stands after the changes. */
export function sourceOf({ steps, at }: State): Source | null {
  return steps[at]?.source ?? null;
}

/** What a change is judged by. */
export interface Figures {
  readonly seconds: number;
  readonly passes: number;
  readonly thicknessMm: number;
}

function figuresOf(setup: SetupScene | undefined): Figures | null {
  if (setup === undefined) return null;
  const thickest = setup.pieces.map(({ thickestMm }) => thickestMm);
  return {
    seconds: setup.seconds.total,
    passes: setup.layers.length,
    thicknessMm: thickest.length > 0 ? Math.max(...thickest) : Number.NaN,
  };
}

/** What all changes of one field so far have done to its setup; null: none was made, or none has an answer yet. */
export function changeBy({ steps, at }: State, setup: number, field: string): Figures | null {
  let [seconds, passes, thicknessMm] = [0, 0, 0];
  let any = false;
  let before = figuresOf(steps[0]?.scene?.setups[setup]);
  for (let k = 1; k <= at; k++) {
    const after = figuresOf(steps[k].scene?.setups[setup]);
    if (after === null) continue;
    if (before !== null && steps[k].setup === setup && steps[k].field === field) {
      any = true;
      seconds += after.seconds - before.seconds;
      passes += after.passes - before.passes;
      thicknessMm += after.thicknessMm - before.thicknessMm;
    }
    before = after;
  }
  return any ? { seconds, passes, thicknessMm } : null;
}
