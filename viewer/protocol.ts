// What the page asks of its worker, and what that answers. Every ask has a number of its own, and one answer.

import type { Scene } from "../src/preview/scene.ts";

/** A job's text and the files it names, by name as the job names them. */
export interface Source {
  readonly jobFile: string;
  readonly files: Readonly<Record<string, string>>;
}

/** A file made here, to be saved. */
export interface MadeFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

export type Ask =
  | { readonly kind: "plan"; readonly source: Source }
  /** Everything of the plan that can be saved. */
  | { readonly kind: "files"; readonly source: Source }
  /** A program by whomever; run on the wood of a setup of the plan where there is one. */
  | {
      readonly kind: "program";
      readonly name: string;
      readonly bytes: Uint8Array;
      readonly source: Source | null;
      readonly setup: number;
    };

export type Answer =
  | { readonly kind: "planned"; readonly scene: Scene; readonly milliseconds: number }
  | { readonly kind: "files"; readonly files: readonly MadeFile[]; readonly sheet: string | null }
  | { readonly kind: "program"; readonly scene: Scene; readonly onWood: boolean }
  | {
      readonly kind: "failed";
      /** As the command line says it. */
      readonly lines: readonly string[];
      /** Files that the job names and nobody has given. */
      readonly missing: readonly string[];
    };

export type Numbered<T> = T & { readonly id: number };
