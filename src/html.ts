// Text that stays text in HTML and SVG.

const NAMES: Readonly<Record<string, string>> = {
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  '"': "&quot;",
  "'": "&#39;",
};

/** Controls, and what is not seen or turns the direction of writing. */
const UNSEEN = /[\p{Cc}\p{Cf}\p{Zl}\p{Zp}\p{Cs}]/gu;

/** Any text as it must stand in markup, cut at `lengthMax` characters. */
export function escaped(text: string, lengthMax = 200): string {
  const seen = text.replace(UNSEEN, " ");
  const short = seen.length > lengthMax ? `${seen.slice(0, lengthMax)}...` : seen;
  return short.replace(/[&<>"']/g, (character) => NAMES[character]);
}
