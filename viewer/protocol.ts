// What the page asks of its worker, and what that answers. Every ask has a number of its own, and one answer.

import type { Seat } from "../src/plan.ts";
import type { Scene } from "../src/preview/scene.ts";

/** A job's text and the files it names, by name as the job names them. */
export interface Source {
  readonly jobFile: string;
  readonly files: Readonly<Record<string, string>>;
  /** How pieces lie on shims, where the plan is for that. */
  readonly seats: readonly (readonly [piece: string, Seat])[];
}

/** What of a plan can be saved: everything in one archive, its sheet, or one program by its file's name. */
export type Wanted = { readonly what: "all" | "sheet" } | { readonly what: "program"; readonly file: string };

export type Ask =
  /** The job's text with one field set. */
  | {
      readonly kind: "change";
      readonly text: string;
      readonly path: readonly (string | number)[];
      readonly value: string | number;
    }
  | { readonly kind: "plan"; readonly source: Source }
  | { readonly kind: "file"; readonly source: Source; readonly wanted: Wanted }
  /** A program by whomever; run on the wood of a setup of the plan where there is one. */
  | {
      readonly kind: "program";
      readonly name: string;
      readonly bytes: Uint8Array;
      readonly source: Source | null;
      readonly setup: number;
    };

export type Answer =
  | { readonly kind: "changed"; readonly text: string }
  | { readonly kind: "planned"; readonly scene: Scene; readonly milliseconds: number }
  | { readonly kind: "file"; readonly name: string; readonly bytes: Uint8Array; readonly type: string }
  | { readonly kind: "program"; readonly scene: Scene; readonly onWood: boolean }
  | {
      readonly kind: "failed";
      /** As the command line says it. */
      readonly lines: readonly string[];
      /** Files that the job names and nobody has given. */
      readonly missing: readonly string[];
    };

export type Numbered<T> = T & { readonly id: number };
