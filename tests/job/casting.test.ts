// Which pieces there are when, and what of casting cannot be: by hand. No outside source.

import { describe, expect, test } from "vitest";
import { type CastPlan, livesOf } from "../../src/job/casting.ts";
import { exampleJob, findings, type Loose, read } from "./example.ts";

/** Pieces as `{ id: parts }`, a part as "piece after"; setups as "id" or "id: pieces". */
function lives(pieces: Record<string, string[]>, setups: string[]) {
  const reports: string[] = [];
  const plan: CastPlan = {
    pieces: new Map(
      Object.entries(pieces).map(([id, parts]) => {
        const madeOf = parts.map((part) => {
          const [piece, after] = part.split(" ");
          return { piece, after, angleRad: 0, atMm: [0, 0] as const };
        });
        return [id, { madeOf }];
      }),
    ),
    setups: setups.map((setup) => {
      const [id, named] = setup.split(": ");
      return { id, pieces: named?.split(" ") ?? null };
    }),
  };
  const found = livesOf(plan, (piece, path, text) => reports.push(`${piece}.${path.join(".")}: ${text}`));
  return { at: setups.map((_, index) => found.at(index).join(" ")), missing: found.missing, reports };
}

describe("pieces that exist", () => {
  test("a cast takes the place of its parts after the setup that each names", () => {
    const { at, reports } = lives({ left: [], right: [], top: ["left skim", "right skim"], other: [] }, [
      "skim",
      "shell",
    ]);
    expect(reports).toEqual([]);
    expect(at).toEqual(["left right other", "top other"]);
  });

  test("with parts that are ready at different times it is there after the last", () => {
    const { at, reports } = lives({ left: [], right: [], top: ["left a", "right c"] }, [
      "a",
      "b: right",
      "c: right",
      "d",
    ]);
    expect(reports).toEqual([]);
    expect(at).toEqual(["left right", "right", "right", "top"]);
  });

  test("in whatever order the file has them, and a cast may be cast again", () => {
    const { at, reports } = lives(
      { whole: ["top shell", "apron skim"], top: ["left skim"], left: [], apron: [] },
      ["skim", "shell", "last"],
    );
    expect(reports).toEqual([]);
    expect(at).toEqual(["left apron", "top", "whole"]);
  });

  test("without casting all are there always", () => {
    expect(lives({ a: [], b: [] }, ["one", "two"]).at).toEqual(["a b", "a b"]);
  });
});

describe("what cannot be", () => {
  const reportsOf = (pieces: Record<string, string[]>, setups: string[]) => lives(pieces, setups).reports;

  test("a piece cast from itself, at once or at a remove", () => {
    expect(reportsOf({ a: ["a one"] }, ["one"])).toEqual([
      expect.stringMatching(/^a\.madeOf\.0\.piece: .*itself/),
    ]);
    const ring = reportsOf({ a: ["b one"], b: ["c one"], c: ["a one"] }, ["one"]);
    expect(ring.length).toBeGreaterThan(0);
    expect(ring[0]).toMatch(/made of itself/);
  });

  test("a piece in two molds, or twice in one", () => {
    expect(reportsOf({ a: [], b: ["a one"], c: ["a one"] }, ["one"])).toEqual([
      expect.stringMatching(/^c\.madeOf\.0\.piece: .*"a".*"b"/),
    ]);
    expect(reportsOf({ a: [], b: ["a one", "a one"] }, ["one"])).toEqual([
      expect.stringMatching(/^b\.madeOf\.1\.piece: /),
    ]);
  });

  test("parts and setups that are not there, with the name that was meant", () => {
    expect(reportsOf({ left: [], b: ["lefd one"] }, ["one"])).toEqual([
      expect.stringMatching(/^b\.madeOf\.0\.piece: .*"lefd".*"left"/),
    ]);
    expect(reportsOf({ left: [], b: ["left skin"] }, ["skim"])).toEqual([
      expect.stringMatching(/^b\.madeOf\.0\.after: .*"skin".*"skim"/),
    ]);
  });

  test("a setup that does not cut the part", () => {
    expect(reportsOf({ a: [], b: ["a one"], c: [] }, ["one: c", "two"])).toEqual([
      expect.stringMatching(/^b\.madeOf\.0\.after: .*"one" does not cut the piece "a"/),
    ]);
    // It exists only later.
    expect(reportsOf({ a: [], b: ["a two"], c: ["b one"] }, ["one", "two"])).toEqual([
      expect.stringMatching(/^c\.madeOf\.0\.after: /),
    ]);
  });

  test("why a piece is not there, before its cast and after it", () => {
    const { missing } = lives({ a: [], b: ["a one"] }, ["one", "two"]);
    expect(missing("a", 0)).toBeNull();
    expect(missing("b", 0)).toMatch(/"b" is cast after the setup "one"/);
    expect(missing("a", 1)).toMatch(/"a" is in the mold of "b" since the setup "one"; name "b" instead/);
    expect(missing("b", 1)).toBeNull();
    expect(missing("nobody", 0)).toBeNull();
  });
});

describe("in a job file", () => {
  /** The example's two pieces skimmed, cast and cut again. */
  const cast = (change: (job: Loose) => void) => (job: Loose) => {
    const top = {
      id: "top",
      outline: { length: 1100, width: 1000, at: [-50, -50] },
      shell: { upper: 5, under: 4 },
      madeOf: [
        { piece: "left", after: "skim" },
        { piece: "right", at: [0, "1 cm"], angle: 90, after: "skim" },
      ],
    };
    job.pieces.push(top);
    job.setups.push({ ...job.setups[0], id: "shell", target: { depth: 5 } });
    change(job);
  };

  test("is read in mm and radians, and setups that name no pieces take those that exist", () => {
    const job = read(cast(() => {}));
    expect(job.pieces[2].madeOf).toEqual([
      { piece: "left", atMm: [0, 0], angleRad: 0, after: "skim" },
      { piece: "right", atMm: [0, 10], angleRad: Math.PI / 2, after: "skim" },
    ]);
    expect(job.pieces[2]).toMatchObject({ shellMm: { upper: 5, under: 4 }, thicknessMm: null, upper: null });
    expect(job.setups.map(({ pieces }) => pieces.map(({ id }) => id))).toEqual([["left", "right"], ["top"]]);
  });

  test("every mistake is told with its place", () => {
    const found = (change: (job: Loose) => void) => findings(cast(change));
    expect(found((job) => (job.pieces[2].madeOf[0].piece = "top"))).toEqual([
      expect.stringMatching(/^pieces\[2\]\.madeOf\[0\]\.piece: .*itself/),
    ]);
    expect(found((job) => (job.pieces[2].madeOf[1].piece = "left"))).toEqual([
      expect.stringMatching(/^pieces\[2\]\.madeOf\[1\]\.piece: .*already in the mold/),
    ]);
    expect(found((job) => (job.pieces[2].madeOf[1].after = "skip"))).toEqual([
      expect.stringMatching(/^pieces\[2\]\.madeOf\[1\]\.after: .*"skip".*"skim"/),
    ]);
    expect(found((job) => (job.setups[0].pieces = ["right"]))).toContainEqual(
      expect.stringMatching(/^pieces\[2\]\.madeOf\[0\]\.after: .*does not cut/),
    );
    expect(found((job) => (job.setups[1].pieces = ["left", "top"]))).toContainEqual(
      expect.stringMatching(/^setups\[1\]\.pieces\[0\]: .*"left" is in the mold of "top"/),
    );
    expect(found((job) => (job.setups[0].pieces = ["left", "right", "top"]))).toContainEqual(
      expect.stringMatching(/^setups\[0\]\.pieces\[2\]: .*"top" is cast after/),
    );
    expect(found((job) => (job.pieces[2].madeOf = []))).toEqual([
      expect.stringMatching(/^pieces\[2\]\.madeOf: /),
    ]);
    expect(found((job) => (job.pieces[2].madeOf[0].angle = "north"))).toEqual([
      expect.stringMatching(/^pieces\[2\]\.madeOf\[0\]\.angle: /),
    ]);
    expect(found((job) => (job.pieces[2].shell.under = -1))).toEqual([
      expect.stringMatching(/^pieces\[2\]\.shell\.under: /),
    ]);
  });

  test("a job without a setup for the cast is sound: it is only poured", () => {
    expect(findings(cast((job) => job.setups.pop()))).toEqual([]);
    expect(exampleJob().pieces).toHaveLength(2);
  });
});
