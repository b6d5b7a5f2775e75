// The preview page of a plan: the page as it was built, with the plan put into its data blocks. Nothing of a
// job can become markup there: JSON goes in with < > & escaped, everything else as base64.

import { existsSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { deflateRawSync } from "node:zlib";
import { assert } from "../src/errors.ts";
import type { Plan } from "../src/plan.ts";
import { pack } from "../src/preview/pack.ts";
import { sceneOf } from "../src/preview/scene.ts";
import type { JobTexts } from "./files.ts";

export const PREVIEW_FILE = "preview.html";

/** By this a preview of ours is known. */
const MARK = 'name="generator" content="slabtrue preview"';

export function isPreview(html: string): boolean {
  return html.includes(MARK);
}

/** The page that shows a plan, made from these texts. */
export function previewPage(plan: Plan, { jobFile, texts }: JobTexts): string {
  const encoder = new TextEncoder();
  const files = Object.fromEntries([...texts].map(([name, text]) => [name, encoder.encode(text)]));
  const source = { jobFile, files, seats: [...plan.seats] };
  const { json, bytes } = pack({ scene: sceneOf(plan), source });
  const columns = deflateRawSync(bytes, { level: 6 }).toString("base64");
  return filled(filled(emptyPage(), "slabtrue-plan", inert(json)), "slabtrue-columns", columns);
}

/** Puts text into the data block of that id. */
function filled(html: string, id: string, text: string): string {
  const start = html.indexOf(`id="${id}">`);
  assert(start > 0, `the page has no block "${id}"`);
  const at = html.indexOf(">", start) + 1;
  // Not by replacing a pattern: the text may hold what patterns give a meaning to.
  return html.slice(0, at) + text + html.slice(at);
}

/** JSON that is nothing but JSON to whoever reads the page. */
function inert(json: string): string {
  return json.replace(
    /[<>&\u2028\u2029]/g,
    (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, "0")}`,
  );
}

function emptyPage(): string {
  const here = dirname(fileURLToPath(import.meta.url));
  const path = [here, dirname(here)]
    .map((folder) => join(folder, PREVIEW_FILE))
    .find((file) => existsSync(file));
  assert(path !== undefined, `${PREVIEW_FILE} is missing beside the program`);
  return readFileSync(path, "utf8");
}
