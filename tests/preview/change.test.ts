// Changing a job's text leaves everything else as it was written.

import { expect, test } from "vitest";
import { changedText } from "../../src/preview/change.ts";

const TEXT = `{
  // the bench by the window
  "setups": [
    { "id": "a", "passes": { "depth": "3/32 in", /* kept */ "stepover": 0.65 } } // first
  ]
}
`;

test("one number, comments stay", () => {
  expect(changedText(TEXT, ["setups", 0, "passes", "stepover"], 0.5)).toBe(TEXT.replace("0.65", "0.5"));
  expect(changedText(TEXT, ["setups", 0, "passes", "depth"], "2 mm")).toBe(TEXT.replace("3/32 in", "2 mm"));
});

test("a field that was left out is added, and everything else stays", () => {
  const changed = changedText(TEXT, ["setups", 0, "leave"], 0.3);
  expect(changed).toContain('"leave": 0.3');
  for (const line of ["// the bench by the window", "/* kept */", "// first"])
    expect(changed).toContain(line);
});

test("a byte-order mark and Windows line ends stay", () => {
  const windows = `\uFEFF${TEXT.replaceAll("\n", "\r\n")}`;
  const changed = changedText(windows, ["setups", 0, "passes", "stepover"], 0.5);
  expect(changed).toBe(windows.replace("0.65", "0.5"));
});
