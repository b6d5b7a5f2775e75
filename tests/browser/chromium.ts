// The browser for tests: Debian's chromium, run without a window. Where it is missing and this is root on a system
// with apt, it is installed; else the test says what to install.

import { spawnSync } from "node:child_process";
import { accessSync, constants } from "node:fs";
import { delimiter, join } from "node:path";
import { type Browser, chromium } from "playwright-core";

const NAMES = ["chromium", "chromium-browser", "google-chrome"];
const QUIET = [
  "--headless",
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

/** Starts the browser; `more` are further arguments. */
export function launch(...more: readonly string[]): Promise<Browser> {
  return chromium.launch({ executablePath: program(), args: [...QUIET, ...more] });
}

function program(): string {
  const found = onPath() ?? (install() ? onPath() : null);
  if (found !== null) return found;
  throw new Error(
    "The browser tests need Chromium, and none is on the PATH. Install it with the system's package manager, " +
      'such as "apt-get install chromium" as root on Debian, and run the tests again.',
  );
}

function onPath(): string | null {
  for (const folder of (process.env.PATH ?? "").split(delimiter))
    for (const name of NAMES) {
      const file = join(folder, name);
      try {
        accessSync(file, constants.X_OK);
        return file;
      } catch {
        // Not here.
      }
    }
  return null;
}

/** Whether the package manager was allowed to install it, and did. */
function install(): boolean {
  if (process.getuid?.() !== 0 || spawnSync("apt-get", ["--version"]).status !== 0) return false;
  const apt = (...args: string[]) =>
    spawnSync("apt-get", args, {
      stdio: ["ignore", "ignore", "inherit"],
      env: { ...process.env, DEBIAN_FRONTEND: "noninteractive" },
    }).status === 0;
  return apt("-q", "update") && apt("-q", "-y", "--no-install-recommends", "install", "chromium");
}
