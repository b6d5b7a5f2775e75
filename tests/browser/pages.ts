// Preview pages made by the built command line, opened in the browser, and what the browser says against them.

import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import type { Browser, Page } from "playwright-core";
import { newFolder, slabtrue } from "../cli/run.ts";

const ROOT = join(import.meta.dirname, "../..");
export const SAMPLES = join(ROOT, "samples");
/** The page without any plan, as the package holds it. */
export const EMPTY_PAGE = join(ROOT, "dist/preview.html");

/** Writes a preview of a job and returns its path. */
export async function previewOf(jobFile: string, folder = newFolder()): Promise<string> {
  const out = join(folder, "page.html");
  const { status, stderr } = await slabtrue(folder, "preview", jobFile, "--out", out);
  if (status !== 0) throw new Error(stderr);
  return out;
}

/** What `slabtrue plan --json` says of a job. */
// biome-ignore lint/suspicious/noExplicitAny: the document of the contract
export async function planOf(jobFile: string): Promise<any> {
  const folder = newFolder();
  const { status, stdout, stderr } = await slabtrue(
    folder,
    "plan",
    jobFile,
    "--out",
    join(folder, "plan"),
    "--json",
  );
  if (status !== 0) throw new Error(stderr);
  return JSON.parse(stdout);
}

/** A sample's files in a folder of their own, the job changed by `change`. */
// biome-ignore lint/suspicious/noExplicitAny: tests change what they like
export function jobCopy(sample: string, change: (job: any) => void): string {
  const folder = newFolder();
  const job = JSON.parse(readFileSync(join(SAMPLES, sample, "job.json"), "utf8"));
  const shop = JSON.parse(readFileSync(join(SAMPLES, sample, job.shop), "utf8"));
  job.shop = "shop.json";
  change(job);
  writeFileSync(join(folder, "shop.json"), JSON.stringify(shop, null, 1));
  writeFileSync(join(folder, "job.json"), JSON.stringify(job, null, 1));
  return join(folder, "job.json");
}

export interface Opened {
  readonly page: Page;
  /** Errors on the console, and scripts that failed. */
  readonly errors: string[];
  /** Addresses asked for, the page's own aside. */
  readonly requests: string[];
}

export async function open(
  browser: Browser,
  file: string,
  options: NonNullable<Parameters<Browser["newPage"]>[0]> = {},
): Promise<Opened> {
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 }, ...options });
  const errors: string[] = [];
  const requests: string[] = [];
  const own = pathToFileURL(file).href;
  page.on("console", (message) => {
    if (message.type() === "error") errors.push(message.text());
  });
  page.on("pageerror", (error) => errors.push(String(error)));
  page.on("request", (request) => {
    const address = request.url();
    if (address !== own && !address.startsWith("blob:") && !address.startsWith("data:"))
      requests.push(address);
  });
  await page.goto(own);
  await page.waitForSelector("html[data-ready]", { timeout: 20_000 });
  return { page, errors, requests };
}

/** Drops files onto the page. */
export async function drop(page: Page, files: Readonly<Record<string, string>>): Promise<void> {
  const transfer = await page.evaluateHandle(
    `(() => {
      const transfer = new DataTransfer();
      for (const [name, text] of Object.entries(${JSON.stringify(files)}))
        transfer.items.add(new File([text], name));
      return transfer;
    })()`,
  );
  await page.dispatchEvent("body", "dragenter", { dataTransfer: transfer });
  await page.dispatchEvent("body", "drop", { dataTransfer: transfer });
}

/** The figure of that name beside the scene. */
export function figure(page: Page, name: string) {
  return page.locator(".panel dl.figures dt", { hasText: name }).first().locator("+ dd");
}

/** Sets the time rail to a share of the machine time. */
export async function scrub(page: Page, share: number): Promise<void> {
  await page.locator(".rail-slider").evaluate((element, to) => {
    const slider = element as unknown as { max: string; value: string; dispatchEvent(event: object): void };
    slider.value = String(Number(slider.max) * to);
    slider.dispatchEvent(new Event("input"));
  }, share);
}

/** `0:43:07` as the page says it. */
export function clockTime(seconds: number): string {
  const whole = Math.round(seconds);
  const two = (count: number) => String(count).padStart(2, "0");
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}
