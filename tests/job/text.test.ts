import { describe, expect, test } from "vitest";
import { parseSource, placeText } from "../../src/job/text.ts";
import { issuesOf } from "./example.ts";

const refused = (text: string) => issuesOf(() => parseSource(text, "f.json"));
const kept = (text: string) => parseSource(text, "f.json").issues;

describe("what is read", () => {
  test("comments of both kinds and a byte-order mark are allowed, and the mark takes no column", () => {
    const source = parseSource(
      '\uFEFF{ // here\n /* there\n */ "a": [1, 2.5e1, true, null, "\\u00e9"] }',
      "f.json",
    );
    expect(source.value).toEqual({ a: [1, 25, true, null, "é"] });
    expect(parseSource('\uFEFF{"a": 1}', "f.json").issueAt(["a"], "x")).toMatchObject({ line: 1, column: 7 });
  });

  test("a field named __proto__ is a field like any other", () => {
    const { value } = parseSource('{"__proto__": {"x": 1}, "constructor": 2}', "f.json");
    expect(Object.keys(value as object)).toEqual(["__proto__", "constructor"]);
    expect((value as { x?: unknown }).x).toBeUndefined();
  });
});

describe("places", () => {
  const source = parseSource('{\r\n  "a": [\n    { "b": 1 },\r    { "c d": [7, 8] }\n  ]\n}', "f.json");

  test.each([
    [[], "", 1, 1],
    [["a"], "a", 2, 8],
    [["a", 0, "b"], "a[0].b", 3, 12],
    [["a", 1, "c d", 1], 'a[1]["c d"][1]', 4, 18],
    [["a", 1, "missing"], "a[1].missing", 4, 5],
    [["a", 5, "b"], "a[5].b", 2, 8],
    [["a", "b"], "a.b", 2, 8],
  ])("%j is %s in line %i, column %i, whichever line ends are used", (path, place, line, column) => {
    expect(source.issueAt(path, "what")).toEqual({ file: "f.json", place, line, column, text: "what" });
  });

  test("a field's name is found too", () => {
    expect(source.issueAt(["a", 1, "c d"], "what", "name")).toMatchObject({ line: 4, column: 7 });
  });

  test("hostile names cannot break out of a place", () => {
    expect(placeText(["a", "x\n\u001b[2J\u202e"])).toBe('a["x\\n\\u001b[2J\\u202e"]');
    expect(placeText(["y".repeat(500)]).length).toBeLessThan(80);
  });
});

describe("what is refused", () => {
  test.each([
    ["", 1, 1, "the file is empty"],
    ["  \n // nothing\n", 1, 1, "the file is empty"],
    ['{"a": 1} x', 1, 10, 'found "x"; names and texts stand in double quotes'],
    ['{"a": 1} 5', 1, 10, 'found "5" after the end'],
    ['{"a": 1}\n{"b": 2}', 2, 1, 'found "{" after the end'],
    ['{"a" 1}', 1, 6, "a colon is wanted"],
    ['{"a": 1\n "b": 2}', 2, 2, 'found "\\"b\\"" where a comma is wanted'],
    ["{a: 1}", 1, 2, 'found "a"; names and texts stand in double quotes'],
    ["{'a': 1}", 1, 2, `found "'a'"; names and texts stand in double quotes`],
    ["{5: 1}", 1, 2, "a field's name in double quotes is wanted"],
    ['{"a": [1,, 2]}', 1, 10, "a comma with nothing before it"],
    ['{"a": [, 2]}', 1, 8, "a comma with nothing before it"],
    ['{"a": }', 1, 7, "a value is wanted"],
    ['{"a": NaN}', 1, 7, 'found "NaN"; names and texts stand in double quotes'],
    ['{"a": 1.}', 1, 7, "not a whole number or decimal"],
    ['{"a": [1, 2}', 1, 12, "where a comma is wanted"],
    ['{"a": [1, 2', 1, 12, "the end of the file where ] is wanted"],
    ['{"a": 1', 1, 8, "a { was not closed"],
    ['{"a": "x\ny"}', 1, 7, "not closed with a double quote on its line"],
    ['{"a": "\\q"}', 1, 7, "a backslash that means nothing"],
    ['{"a": "\t"}', 1, 7, "a control character"],
    ['{"a": 1} /* ', 1, 10, "not closed with */"],
    ["\u0000", 1, 1, 'found "\\u0000"'],
  ])("%j: line %i, column %i", (text, line, column, says) => {
    const issues = refused(text);
    expect(issues[0]).toMatchObject({ file: "f.json", place: "", line, column });
    expect(issues[0].text).toContain(says);
    expect(issues).toHaveLength(1);
  });

  test("nesting deeper than any job needs is refused before the parser sees it", () => {
    for (const open of ["[", '{"a":']) {
      const [issue] = refused(open.repeat(1_000_000));
      expect(issue.text).toContain("nested more than 32 deep");
    }
    expect(kept(`${"[".repeat(32)}${"]".repeat(32)}`)).toEqual([]);
  });

  test("brackets inside texts and comments do not count as nesting", () => {
    expect(kept(`{"a": "${"[".repeat(100)}" /* ${"{".repeat(100)} */}`)).toEqual([]);
  });

  test("a file of more than 32 MB is refused", () => {
    expect(refused(`"${" ".repeat(33 * 2 ** 20)}"`)[0].text).toContain("larger than 32 MB");
  });
});

describe("findings that do not hide the others", () => {
  test("trailing commas are all found, at the comma", () => {
    const issues = kept('{"a": [1, 2, // two, three\n ],\n "b": {"c": 1,},\n}');
    expect(issues.map(({ line, column }) => [line, column])).toEqual([
      [1, 12],
      [3, 14],
      [3, 16],
    ]);
    expect(issues[0].text).toContain("a comma with nothing after it");
  });

  test("a field given twice names both lines", () => {
    const [issue, ...others] = kept('{\n"a": 1,\n"b": {"x": 1,\n"x": 2},\n"a": 3}');
    expect(issue).toMatchObject({ place: "b.x", line: 4, column: 1 });
    expect(issue.text).toBe('the field "x" is given twice, on line 3 and line 4; keep one');
    expect(others).toHaveLength(1);
    expect(others[0]).toMatchObject({ place: "a", line: 5 });
  });
});
