// What the reader has to say about a program: errors and notes, each with its line and column, as many as people read.

/** Something to say about a program. */
export interface ProgramFinding {
  readonly code: FindingCode;
  /** From 1; a column counts bytes, or UTF-16 units where the text came as a string. */
  readonly line: number;
  readonly column: number;
  /** One sentence for the people at the machine. */
  readonly text: string;
  /** Worth knowing, but not wrong. */
  readonly note: boolean;
}

/** Stable. */
export type FindingCode =
  | "bad-character"
  | "unknown-letter"
  | "bad-number"
  | "bad-comment"
  | "bad-line-number"
  | "line-too-long"
  | "percent"
  | "no-end"
  | "unknown-code"
  | "unsupported"
  | "modal-clash"
  | "repeated-word"
  | "unused-word"
  | "bad-value"
  | "axis-missing"
  | "no-motion-mode"
  | "no-feed"
  | "arc-form"
  | "arc-radius"
  | "arc-start"
  | "no-dwell-time"
  | "touch-start"
  | "touch-spindle"
  | NoteCode;

export type NoteCode =
  | "block-delete"
  | "semicolon"
  | "comment-character"
  | "units-not-stated"
  | "offset-change";

const FINDINGS_MAX = 100;

/** Collects findings; the first hundred are kept and all errors counted, a note is kept once. */
export class Findings {
  readonly list: ProgramFinding[] = [];
  /** How many errors of each code there are. */
  readonly errors = new Map<FindingCode, number>();
  /** The line being read. */
  line = 0;
  private readonly noted = new Set<NoteCode>();

  error(code: FindingCode, column: number, text: string): void {
    this.errors.set(code, (this.errors.get(code) ?? 0) + 1);
    if (this.list.length < FINDINGS_MAX) this.list.push({ code, line: this.line, column, text, note: false });
  }

  note(code: NoteCode, column: number, text: string): void {
    if (this.noted.has(code)) return;
    this.noted.add(code);
    if (this.list.length < FINDINGS_MAX) this.list.push({ code, line: this.line, column, text, note: true });
  }
}
