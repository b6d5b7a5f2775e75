// How the benches measure: two pieces of work against each other, in one process, turn by turn. Milliseconds on a
// shared machine differ by twice from run to run; the ratio of two medians taken alternately does not.

/** `ratio` is to be at most `target`. */
export interface BenchRow {
  readonly name: string;
  readonly ratio: number;
  readonly target: number;
  /** Sizes, checksum, and what the ratio means in plain words. */
  readonly detail: string;
}

const ROUNDS = 9;
const LEAST_MS = 40;

/**
 * Median time of `subject` over median time of `reference`. The quicker one is repeated until both last about
 * as long, and both at least 40 ms; then they take turns, nine times.
 */
export function medianRatio(subject: () => unknown, reference: () => unknown): number {
  for (let k = 0; k < 3; k++) {
    subject();
    reference();
  }
  const subjectOnce = Math.min(millis(subject, 1), millis(subject, 1));
  const referenceOnce = Math.min(millis(reference, 1), millis(reference, 1));
  const length = Math.max(subjectOnce, referenceOnce, LEAST_MS);
  const subjectTimes = Math.max(1, Math.round(length / subjectOnce));
  const referenceTimes = Math.max(1, Math.round(length / referenceOnce));
  const subjects: number[] = [];
  const references: number[] = [];
  for (let k = 0; k < ROUNDS; k++) {
    subjects.push(millis(subject, subjectTimes) / subjectTimes);
    references.push(millis(reference, referenceTimes) / referenceTimes);
  }
  return median(subjects) / median(references);
}

function millis(work: () => unknown, times: number): number {
  const start = performance.now();
  for (let k = 0; k < times; k++) work();
  return performance.now() - start;
}

function median(values: number[]): number {
  return values.sort((a, b) => a - b)[values.length >> 1];
}

/** Numbers from 0 to 1 that are the same in every run. */
export function seeded(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 2 ** 32;
  };
}
