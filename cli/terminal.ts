// Text for the terminal: results to stdout, messages to stderr. Nothing that a user's file says can act
// on the screen, turn the direction of writing, or begin a line of its own.

/** Controls, and characters that are not seen: marks of writing direction, joiners, separators of lines. */
const UNSEEN = /[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/gu;

/** Prints results, one line each. */
export function printLines(lines: readonly string[]): void {
  process.stdout.write(asText(lines));
}

/** Prints messages, one line each. */
export function printMessages(lines: readonly string[]): void {
  process.stderr.write(asText(lines));
}

/** How far a long run has come, on stderr from its first second on: on a screen in one line that renews itself. */
export class Progress {
  private readonly what: string;
  private readonly start = performance.now();
  private nextMs = 1000;
  private shown = "";

  constructor(what: string) {
    this.what = what;
  }

  /** How much of a file is done. */
  tell(doneBytes: number, ofBytes: number): void {
    const [unit, bytes] = ofBytes < 2 ** 21 ? ["kB", 2 ** 10] : ["MB", 2 ** 20];
    const count = (of: number) => Math.ceil(of / bytes);
    this.say(() => `${count(doneBytes)} of ${count(Math.max(doneBytes, ofBytes))} ${unit}`);
  }

  /** Anything else that is done by now. */
  say(done: () => string): void {
    const ms = performance.now() - this.start;
    if (ms < this.nextMs) return;
    const text = `${this.what} ${done()}`;
    if (process.stderr.isTTY) {
      this.shown = text.replace(UNSEEN, "");
      process.stderr.write(`\r${this.shown}`);
      this.nextMs = ms + 250;
    } else {
      printMessages([text]);
      this.nextMs = 2 * ms;
    }
  }

  /** Clears the line. */
  end(): void {
    if (this.shown !== "") process.stderr.write(`\r${" ".repeat(this.shown.length)}\r`);
    this.shown = "";
  }
}

/** Prints one JSON document as the result. */
export function printJson(document: object): void {
  process.stdout.write(jsonText(document));
}

/** A document as JSON that is safe to look at: what cannot be seen is escaped. */
export function jsonText(document: object): string {
  const text = JSON.stringify(document, null, 2);
  return `${text.replace(UNSEEN, (unseen) => (unseen === "\n" ? unseen : escaped(unseen)))}\n`;
}

/** Breaks a sentence into lines of at most `width`; `first` stands before it, blanks before the further lines. */
export function wrapped(first: string, sentence: string, width = 80): string[] {
  const lines: string[] = [];
  let line = "";
  for (const word of sentence.split(" ")) {
    if (line !== "" && first.length + line.length + 1 + word.length > width) {
      lines.push(line);
      line = word;
    } else line = line === "" ? word : `${line} ${word}`;
  }
  return [...lines, line].map((text, k) => (k === 0 ? first : " ".repeat(first.length)) + text);
}

function asText(lines: readonly string[]): string {
  return lines.map((line) => `${line.replace(UNSEEN, "").trimEnd()}\n`).join("");
}

function escaped(unseen: string): string {
  let text = "";
  for (let k = 0; k < unseen.length; k++) text += `\\u${unseen.charCodeAt(k).toString(16).padStart(4, "0")}`;
  return text;
}
