// Programs of ours with their square turns made round, by hand: where two rows are joined by a step square to both,
// a half circle takes the step's place. Our own rows are joined by straight lines, and arcs must be broken too.

interface Place {
  readonly x: number;
  readonly y: number;
}

/** The program with half circles for its square turns, but for those that end on one of the lines `spared`. */
export function withRoundTurns(
  program: readonly string[],
  spared: ReadonlySet<number>,
): { lines: string[]; arcs: number } {
  const places = placesAfter(program);
  const lines = [...program];
  let arcs = 0;
  for (let k = 2; k + 1 < lines.length; k++) {
    const [a, b, c, d] = [places[k - 2], places[k - 1], places[k], places[k + 1]];
    if (spared.has(k + 1) || a === null || b === null || c === null || d === null) continue;
    const [row, step, back] = [way(a, b), way(b, c), way(c, d)];
    const isTurn =
      Math.abs(dot(row, step)) < 1e-9 * length(row) * length(step) &&
      dot(row, back) < -0.999999 * length(row) * length(back);
    if (!isTurn) continue;
    const turn = row.x * step.y - row.y * step.x > 0 ? "G3" : "G2";
    const number = /^N\d+ /.exec(lines[k])?.[0] ?? "";
    const feed = / F[\d.]+/.exec(lines[k])?.[0] ?? "";
    lines[k] = `${number}${turn} X${c.x} Y${c.y} I${decimals(step.x / 2)} J${decimals(step.y / 2)}${feed}`;
    lines[k + 1] = lines[k + 1].replace(/^(N\d+ )?(G1 )?/, "$1G1 ");
    arcs++;
    k++;
  }
  return { lines, arcs };
}

/** Where each line's cut ends; null for lines that are no cut in the plane. */
function placesAfter(program: readonly string[]): (Place | null)[] {
  let [x, y, motion] = [Number.NaN, Number.NaN, ""];
  return program.map((line) => {
    if (line.includes("(")) return null;
    motion = /\bG([0123])\b/.exec(line)?.[1] ?? motion;
    const word = (letter: string) => new RegExp(`${letter}(-?[\\d.]+)`).exec(line)?.[1];
    const moves = word("X") !== undefined || word("Y") !== undefined;
    x = Number(word("X") ?? x);
    y = Number(word("Y") ?? y);
    return moves && motion === "1" && word("Z") === undefined ? { x, y } : null;
  });
}

function way(from: Place, to: Place): Place {
  return { x: to.x - from.x, y: to.y - from.y };
}

function dot(a: Place, b: Place): number {
  return a.x * b.x + a.y * b.y;
}

function length(a: Place): number {
  return Math.sqrt(dot(a, a));
}

function decimals(value: number): string {
  return value.toFixed(5);
}
