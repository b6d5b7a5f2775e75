// A job file's text with one of its numbers changed: what else it says stays as it is, comments too.

import { applyEdits, findNodeAtLocation, type JSONPath, modify, parseTree } from "jsonc-parser";

/** Sets a field, or takes it out where the value is undefined. */
export function changedText(text: string, path: JSONPath, value: unknown): string {
  const mark = text.startsWith("\uFEFF") ? "\uFEFF" : "";
  const plain = text.slice(mark.length);
  const eol = plain.includes("\r\n") ? "\r\n" : "\n";
  const edits = modify(plain, path, value, {
    formattingOptions: { insertSpaces: true, tabSize: 2, eol },
  });
  return mark + applyEdits(plain, edits);
}

/** What a job file says at a place; undefined where it says nothing. */
export function writtenAt(text: string, path: JSONPath): unknown {
  const root = parseTree(text.replace(/^\uFEFF/, ""));
  return root && findNodeAtLocation(root, path)?.value;
}
