// Names in a job are people's, and may hold anything: in programs, file names, pages, CSV and on the screen they
// are text and nothing else. What ids may not hold is refused; what is taken changes no move.

import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { exampleJob, type Loose } from "../job/example.ts";
import { readStrictly } from "../oracles/strict-reader.ts";
import { newFolder, slabtrue } from "./run.ts";

const HOSTILE: Record<string, string> = {
  "a closed comment": "top) G0 X0 Z-50 (",
  "line ends": "top\nG0 Z-50\r\nM3\u2028M30\u0085%",
  controls: "top\u0000\u0007\u001b[2J\u009b31m\u007f",
  "marks of writing direction": "\u202egpj.pot\u2066\u200f\u200b",
  "the end of a script": `</script></style><script>alert(1)</script><img src=x onerror=alert(1)>"'&lt;`,
  "a comment of a page": "--><!-- ]]> <![CDATA[",
  "a way out of the folder": "../../../../tmp/top",
  "a path of another system": "C:\\Windows\\..\\top\\",
  "a device": "CON",
  "a device with an extension": "nul.txt",
  "a port": "COM1",
  "a formula": '=HYPERLINK("http://0","1")+cmd|\' /C calc\'!A0',
  "a message": "MSG, top (debug, #1) %",
  "placeholders of many kinds": "$& $1 $` {{7*7}} %s %d #{1}",
  "other letters": "Ÿćž 天板 טבלה 🪵🪚 ﷽ e\u0301\u0301\u0301",
  "lone halves of a letter": "\ud83e top \udeb5",
  "10 000 letters": "a)\n".repeat(3334),
  "10 000 marks on one letter": `a${"\u0301".repeat(9999)}`,
};

/** The job with the text wherever people write names; ids must be short, and without controls. */
function named(text: string): Loose {
  const job = exampleJob();
  const id = text.replace(/\p{Cc}/gu, "").slice(0, 80) || "x";
  job.name = text;
  job.pieces = [{ id, material: text, outline: { length: 300, width: 150 }, thickness: 40 }];
  Object.assign(job.setups[0], { id, margin: 0.5, pieces: [id] });
  job.setups[0].keepOut = [{ name: text, outline: { length: 20, width: 20, at: [400, 0] }, height: 50 }];
  job.shop.machine.name = text;
  job.shop.cutters[0].name = text;
  return job;
}

async function planOf(text: string) {
  const folder = newFolder();
  writeFileSync(join(folder, "job.json"), JSON.stringify(named(text)));
  const run = await slabtrue(folder, "plan", "job.json");
  return { folder, run };
}

const moves = (program: string) =>
  program
    .split("\n")
    .filter((line) => !line.includes("("))
    .join("\n");

const tameProgram = planOf("top").then(({ folder }) =>
  readFileSync(join(folder, "job-plan", "01-top.nc"), "utf8"),
);

test.concurrent.each(Object.entries(HOSTILE))(
  "%s in all names stays text",
  async (_, text) => {
    const { folder, run } = await planOf(text);
    // What an id may not hold is refused, with words that can be shown.
    expect([0, 2]).toContain(run.status);
    expect(run.stdout + run.stderr).not.toMatch(/(?!\n)\p{Cc}|\p{Cf}|\u2028|\u2029/u);
    expect(run.stderr).not.toMatch(/its fault/);
    if (run.status === 2) {
      expect(readdirSync(folder)).toEqual(["job.json"]);
      return;
    }
    expect(readdirSync(folder).sort()).toEqual(["job-plan", "job.json"]);
    const files = readdirSync(join(folder, "job-plan"));
    const program = files.find((name) => name.endsWith(".nc")) ?? "";
    expect(files.sort()).toEqual([program, "plan.json", "preview.html", "sheet.html"].sort());
    expect(program).toMatch(/^01-[A-Za-z0-9_-]{1,70}\.nc$/);

    const read = (name: string) => readFileSync(join(folder, "job-plan", name), "utf8");
    expect(read(program)).toMatch(/^[ -~\n]+$/);
    expect(readStrictly(read(program)).problems).toEqual([]);
    expect(moves(read(program))).toBe(moves(await tameProgram));
    expect(JSON.parse(read("plan.json")).job).toBe(text);
    // Asked for yes or no: a failure should not print whole pages. The preview's data stand in blocks that are no script.
    for (const page of ["sheet.html", "preview.html"]) {
      const holds = /<script>alert|<img src=x|<style><script/.test(read(page));
      expect(holds, `${page} holds an element of a name`).toBe(false);
    }
    const acts = /(?![\n\t])\p{Cc}|[\u202a-\u202e\u2066-\u2069]/u.exec(read("sheet.html"));
    expect(
      acts?.[0].codePointAt(0),
      "a control, or a mark of writing direction, in the sheet",
    ).toBeUndefined();
  },
  120_000,
);

test("the list of places to read by hand holds no name that a spreadsheet would act on", async () => {
  const folder = newFolder();
  writeFileSync(join(folder, "job.json"), JSON.stringify(named(HOSTILE["a formula"])));
  const { status, stdout } = await slabtrue(folder, "probe", "job.json", "--by-hand");
  expect(status).toBe(0);
  for (const line of stdout.trimEnd().split("\n")) expect(line).toMatch(/^(#|[\d.-]|x)/);
}, 120_000);
