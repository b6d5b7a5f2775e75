// The file of recorded runs, and what is read from it. Ratios are worked by hand beside each case.

import { describe, expect, test } from "vitest";
import {
  ACTUALS_BEGIN,
  type Actual,
  actualLine,
  machineRatio,
  mendingOf,
  readActuals,
  weightedMedian,
} from "../../src/quote/actuals.ts";

function run(planned: number, actual: number, change: Partial<Actual> = {}): Actual {
  return {
    ...{ date: "2026-03-09", job: "Jetty table", setup: "skim-upper", cutter: "flat63" },
    ...{ plannedMinutes: planned, actualMinutes: actual },
    ...change,
  };
}

describe("the ratio", () => {
  test("when nothing is recorded then the plan holds within a tenth", () => {
    expect(machineRatio([])).toEqual({
      ...{ runs: 0, leftOut: 0, jobs: 0, since: "", median: 1, spread: 0 },
      ...{ expected: 1, expectedSpread: 0.1 },
    });
  });

  test("when there is one run then it counts a quarter beside the three that nobody made", () => {
    // (3 * 1 + 1.2) / 4 = 1.05; sqrt((3 * 0.01 + 0) / 4) = 0.0866
    const ratio = machineRatio([run(50, 60)]);
    expect(ratio).toMatchObject({ runs: 1, jobs: 1, since: "2026-03-09", median: 1.2, spread: 0 });
    expect(ratio.expected).toBeCloseTo(1.05, 12);
    expect(ratio.expectedSpread).toBeCloseTo(Math.sqrt(0.0075), 12);
  });

  test("when two of seven runs are far off then they hardly move it", () => {
    // Ratios 0.4 1.08 1.10 1.12 1.13 1.20 2.9: median 1.12, deviations 0 0.01 0.02 0.04 0.08 0.72 1.78, their
    // median 0.04; 1.4826 * 0.04 = 0.059304; expected (3 + 7 * 1.12) / 10 = 1.084.
    const minutes = [40, 108, 110, 112, 113, 120, 290];
    const runs = minutes.map((actual, k) =>
      run(100, actual, { job: `job ${k % 3}`, date: `2026-03-0${9 - k}` }),
    );
    const ratio = machineRatio(runs);
    expect(ratio).toMatchObject({ runs: 7, jobs: 3, since: "2026-03-03" });
    expect(ratio.median).toBeCloseTo(1.12, 12);
    expect(ratio.spread).toBeCloseTo(0.059304, 12);
    expect(ratio.expected).toBeCloseTo(1.084, 12);
    expect(ratio.expectedSpread).toBeCloseTo(Math.sqrt((3 * 0.01 + 7 * 0.059304 ** 2) / 10), 12);
    const without = machineRatio(
      runs.filter(({ actualMinutes }) => actualMinutes > 100 && actualMinutes < 200),
    );
    expect(without.median).toBeCloseTo(1.12, 12);
  });

  test("when a run is ten times its plan, or next to nothing of it, then it does not count", () => {
    for (const slip of [run(50, 500), run(50, 0.05)]) {
      expect(machineRatio([slip])).toMatchObject({ runs: 0, leftOut: 1, expected: 1, expectedSpread: 0.1 });
      const good = [run(50, 60), run(40, 46)];
      expect(machineRatio([...good, slip])).toEqual({ ...machineRatio(good), leftOut: 1 });
    }
  });

  test("when most of three runs or more are far off then the machine is, and they count", () => {
    const slow = [run(50, 200), run(50, 210), run(50, 220)];
    expect(machineRatio([...slow, run(50, 55)])).toMatchObject({ runs: 4, leftOut: 0 });
    expect(machineRatio(slow.slice(1))).toMatchObject({ runs: 0, leftOut: 2 });
  });

  test("when runs differ in length then long ones say more", () => {
    // Weights 10, 10, 100: half of 120 is reached in the third by order of ratio.
    expect(machineRatio([run(10, 20), run(10, 8), run(100, 110)]).median).toBeCloseTo(1.1, 12);
    expect(machineRatio([run(10, 20), run(10, 8), run(10, 11)]).median).toBeCloseTo(1.1, 12);
    expect(machineRatio([run(10, 20), run(30, 24), run(10, 11)]).median).toBeCloseTo(0.8, 12);
  });

  test("when halves part between two values then their middle is taken", () => {
    expect(weightedMedian([4, 1, 3, 2], [1, 1, 1, 1])).toBe(2.5);
    expect(weightedMedian([1, 2, 3], [1, 1, 2])).toBe(2.5);
    expect(weightedMedian([5], [7])).toBe(5);
  });
});

describe("the file", () => {
  test("when runs are written then they are read as they were", () => {
    const runs = [
      run(41.25, 44),
      run(10, 9.5, { job: 'Counter "west", 2 leaves', setup: "-1 skim", cutter: "=cmd()" }),
      run(10, 9.5, { job: "'quoted", setup: "'=1", cutter: "" }),
    ];
    expect(readActuals(ACTUALS_BEGIN + runs.map(actualLine).join(""))).toEqual({ runs, notes: [] });
  });

  test("when a name could act in a spreadsheet then it is written so that it cannot", () => {
    const names = [
      "=1+1",
      "+1",
      "-1",
      "@sum(a1)",
      " =1",
      "\t=1",
      "＝1",
      "a;=1",
      'b",=1',
      "c\n=1",
      "d\u2028=1",
    ];
    for (const name of names) {
      const line = actualLine(run(10, 9, { job: name }));
      expect(line.split("\n")).toHaveLength(2);
      // However a spreadsheet parts columns, none begins like a formula.
      for (const cell of [...line.split(/[;\t]/), ...cellsOf(line.trimEnd())])
        expect(cell).not.toMatch(/^\s*[=+\-@＝＋－＠]/);
    }
  });

  test("when the last line was cut off then it is no run, neither before nor after the next is written", () => {
    const whole = ACTUALS_BEGIN + actualLine(run(10, 12)) + actualLine(run(20, 22, { job: 'a "b", c' }));
    const next = run(30, 33);
    const begins = whole.indexOf("\n") + 1;
    for (let cut = begins; cut < whole.length; cut++) {
      const file = whole.slice(0, cut);
      const before = readActuals(file);
      expect(before.runs).toHaveLength(file.slice(begins).split("\n").length - 1);
      expect(before.notes).toHaveLength(file.endsWith("\n") ? 0 : 1);
      const after = readActuals(file + mendingOf(file) + actualLine(next));
      expect(after.runs).toEqual([...before.runs, next]);
      expect(after.notes).toHaveLength(before.notes.length);
    }
  });

  test("when two writers mend the same end then nothing is lost", () => {
    const file = `${ACTUALS_BEGIN}2026-03-09,Jetty table,skim-up`;
    const mending = mendingOf(file);
    const [a, b] = [run(1, 2), run(3, 4)];
    expect(readActuals(file + mending + actualLine(a) + mending + actualLine(b)).runs).toEqual([a, b]);
  });

  test("when a spreadsheet saved it with semicolons and decimal commas then it is read", () => {
    const text =
      "date;job;setup;cutter;planned minutes;actual minutes\r\n09.03.2026;Jetty table;top;flat63;41,25;44\r\n";
    expect(readActuals(text)).toEqual({
      runs: [run(41.25, 44, { date: "", setup: "top" })],
      notes: [],
    });
  });

  test("when a line says no run then it is told by its number", () => {
    const text = `${ACTUALS_BEGIN}2026-03-09,a,b,c,10\n2026-03-09,a,b,c,10,none\n2026-03-09,a,b,c,0,5\n\n`;
    const { runs, notes } = readActuals(text);
    expect(runs).toEqual([]);
    expect(notes.map((note) => /^line (\d)/.exec(note)?.[1])).toEqual(["2", "3", "4"]);
  });
});

/** Cells of a comma-separated line as RFC 4180 has them. */
function cellsOf(line: string): string[] {
  return [...line.matchAll(/(?:^|,)(?:"((?:[^"]|"")*)"|([^",]*))/g)].map(([, quoted, plain]) =>
    quoted === undefined ? plain : quoted.replaceAll('""', '"'),
  );
}
