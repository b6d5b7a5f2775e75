// Where the words of a drawing stand: each at its place, or as little beside it as keeps it off marks and other words.
// In the drawing's own units.

import { escaped } from "../html.ts";

/** A letter's width, as a share of its line's height. */
const LETTER_SHARE = 0.5;
/** Letters shown of a word at most. */
const LETTERS_MAX = 48;

interface Patch {
  readonly x: number;
  readonly y: number;
  readonly halfWide: number;
  readonly halfHigh: number;
}

export class Labels {
  private readonly taken: Patch[] = [];
  private readonly wide: number;
  private readonly high: number;
  private readonly line: number;

  constructor(wide: number, high: number, lineHigh: number) {
    this.wide = wide;
    this.high = high;
    this.line = lineHigh;
  }

  /** No word will stand on this mark. */
  block(x: number, y: number, halfWide: number, halfHigh = halfWide): void {
    this.taken.push({ x, y, halfWide, halfHigh });
  }

  /** A word in the middle of which (x, y) is to lie. */
  word(x: number, y: number, text: string, kind = "label"): string {
    const halfWide = (Math.min(text.length, LETTERS_MAX) * LETTER_SHARE * this.line) / 2;
    const patch = { x, y, halfWide, halfHigh: this.line / 2 };
    const found = this.shifts(patch).find((shifted) => this.isFree(shifted)) ?? patch;
    this.taken.push(found);
    return `<text class="${kind}" x="${found.x.toFixed(1)}" y="${(found.y + 0.28 * this.line).toFixed(1)}">${escaped(text, LETTERS_MAX)}</text>`;
  }

  /** The places for a word, the nearest first. */
  private shifts(patch: Patch): Patch[] {
    const shifts: { readonly dx: number; readonly dy: number }[] = [];
    for (let down = -5; down <= 5; down++)
      for (let right = -4; right <= 4; right++)
        shifts.push({ dx: (right * (patch.halfWide + this.line)) / 2, dy: down * (this.line / 2 + 2) });
    return shifts
      .sort((a, b) => a.dx ** 2 + a.dy ** 2 - b.dx ** 2 - b.dy ** 2)
      .map(({ dx, dy }) => ({ ...patch, x: patch.x + dx, y: patch.y + dy }));
  }

  private isFree({ x, y, halfWide, halfHigh }: Patch): boolean {
    if (x < halfWide || x > this.wide - halfWide || y < halfHigh || y > this.high - halfHigh) return false;
    return this.taken.every(
      (other) =>
        Math.abs(x - other.x) >= halfWide + other.halfWide ||
        Math.abs(y - other.y) >= halfHigh + other.halfHigh,
    );
  }
}
