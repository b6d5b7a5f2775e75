// `slabtrue preview`: plans and proves a job, and writes the page that shows it.

import { basename, dirname, extname, join } from "node:path";
import { planJob } from "../src/plan.ts";
import { readJobTexts } from "./files.ts";
import { writeOut } from "./out-file.ts";
import { isPreview, previewPage } from "./page.ts";
import { printLines } from "./terminal.ts";

export interface PreviewOptions {
  readonly out?: string;
}

export function preview(jobFile: string, { out }: PreviewOptions): void {
  const texts = readJobTexts(jobFile);
  const file = out ?? join(dirname(jobFile), `${basename(jobFile, extname(jobFile))}-preview.html`);
  writeOut(file, previewPage(planJob(texts.job), texts), isPreview);
  printLines([`Written to ${file}: open it with a double click; it needs no network.`]);
}
