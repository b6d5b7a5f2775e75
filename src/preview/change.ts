// A job file's text with one of its numbers changed: what else it says stays as it is, comments too.

import { applyEdits, type JSONPath, modify } from "jsonc-parser";

/** Sets a field. */
export function changedText(text: string, path: JSONPath, value: string | number): string {
  const mark = text.startsWith("\uFEFF") ? "\uFEFF" : "";
  const plain = text.slice(mark.length);
  const eol = plain.includes("\r\n") ? "\r\n" : "\n";
  const edits = modify(plain, path, value, {
    formattingOptions: { insertSpaces: true, tabSize: 2, eol },
  });
  return mark + applyEdits(plain, edits);
}
