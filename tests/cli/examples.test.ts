// The help of every command ends with an example, and every example works in a folder that holds the samples.

import { execFile } from "node:child_process";
import { cpSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { newFolder, PROGRAM, slabtrue } from "./run.ts";

const folder = newFolder();

/** The lines after "Example:", each with its continuation. */
function exampleIn(help: string): string {
  const [, example] = /\nExample:\n((?: {2}.*\n?)+)$/.exec(help) ?? [];
  expect(example, help).toMatch(/^ {2}slabtrue \S/);
  return example;
}

// Examples are lines for a shell, with quotes and >.
test.skipIf(process.platform === "win32")(
  "the example in the help of every command works",
  async () => {
    cpSync(join(import.meta.dirname, "../../samples"), join(folder, "samples"), { recursive: true });
    const help = (...command: string[]) =>
      slabtrue(folder, ...command, "--help").then(({ stdout }) => stdout);
    const whole = await help();
    const commands = Array.from(
      /\nCommands:\n(.*?)\n\n/s.exec(whole)?.[1].matchAll(/^ {2}(\w+)/gm) ?? [],
      (found) => found[1],
    );
    expect(commands.length).toBeGreaterThanOrEqual(9);
    // The plan comes first: others need its folder.
    const examples = [exampleIn(whole)];
    for (const command of commands) examples.push(exampleIn(await help(command)));
    await expectWorks(examples[0]);
    await expectWorks(examples[1]);
    await Promise.all(examples.slice(2).map(expectWorks));
  },
  240_000,
);

async function expectWorks(example: string): Promise<void> {
  // In a test nobody is there to answer what start asks.
  const line = / start /.test(example) ? `${example.trimEnd()} --yes` : example;
  const script = `slabtrue() { "${process.execPath}" "${PROGRAM}" "$@"; }\n${line}`;
  const { status, stderr } = await new Promise<{ status: number; stderr: string }>((done) => {
    execFile("sh", ["-c", script], { cwd: folder }, (error, _, told) =>
      done({ status: error === null ? 0 : Number(error.code), stderr: told }),
    );
  });
  expect({ example, status, stderr: status === 0 ? "" : stderr }).toEqual({ example, status: 0, stderr: "" });
}
