// Typed arrays of a tree of plain data as one run of bytes that compresses well, and the tree again from it.
// Numbers become whole multiples of a step, then differences, then planes of bytes. What does not fit is kept
// as it is. Heights (single precision) are kept to 1 um, everything else to 0.1 um, and whole numbers exactly.

/** A tree without its typed arrays, and their bytes. */
export interface Packed {
  readonly json: string;
  readonly bytes: Uint8Array;
}

/** Stands in the tree where a typed array stood. */
interface Column {
  readonly column: keyof typeof TYPES;
  readonly count: number;
  /** Where its bytes begin. */
  readonly at: number;
  /** 0: the array's own bytes. */
  readonly step: number;
  /** How often differences were taken. */
  readonly order: number;
  /** How many planes of bytes there are: higher ones would hold nothing. */
  readonly planes: number;
}

const TYPES = {
  Uint8Array,
  Int16Array,
  Int32Array,
  Float32Array,
  Float64Array,
} as const;

type Numbers = Uint8Array | Int16Array | Int32Array | Float32Array | Float64Array;

const NOT_A_NUMBER = -(2 ** 31);
const MINUS_INFINITY = NOT_A_NUMBER + 1;
const PLUS_INFINITY = 2 ** 31 - 1;
/** Program coordinates stand on one of these; the last is for everything. mm. */
const STEPS = [1, 0.001, 0.00254, 0.0001];
const HEIGHT_STEP = 0.001;

export function pack(tree: unknown): Packed {
  const parts: Uint8Array[] = [];
  let at = 0;
  const json = JSON.stringify(tree, (_, value) => {
    const column = nameOf(value);
    if (column === null) return value;
    const numbers = value as Numbers;
    const step = stepOf(numbers);
    // Faces are smooth: there differences of differences are smaller still.
    const order = step === 0 || column === "Uint8Array" ? 0 : column === "Float32Array" ? 2 : 1;
    const bytes =
      step === 0 || column === "Uint8Array"
        ? new Uint8Array(numbers.buffer, numbers.byteOffset, numbers.byteLength)
        : planesOf(numbers, step, order);
    parts.push(bytes);
    const packed: Column = {
      ...{ column, count: numbers.length, at, step, order },
      planes: numbers.length > 0 ? bytes.length / numbers.length : 0,
    };
    at += bytes.length;
    return packed;
  });
  const bytes = new Uint8Array(at);
  let to = 0;
  for (const part of parts) {
    bytes.set(part, to);
    to += part.length;
  }
  return { json, bytes };
}

/** The tree as it was packed; throws where it is none. */
export function unpack<T>({ json, bytes }: Packed): T {
  return JSON.parse(json, (_, value) => (isColumn(value) ? unpackColumn(value, bytes) : value));
}

function isColumn(value: unknown): value is Column {
  return typeof value === "object" && value !== null && "column" in value && "at" in value && "step" in value;
}

function nameOf(value: unknown): Column["column"] | null {
  if (!ArrayBuffer.isView(value)) return null;
  const name = value.constructor.name as Column["column"];
  return name in TYPES ? name : null;
}

/** The largest step on which all numbers stand; 0 where there is none. */
function stepOf(numbers: Numbers): number {
  if (numbers instanceof Float32Array) return fits(numbers, HEIGHT_STEP, HEIGHT_STEP) ? HEIGHT_STEP : 0;
  if (!(numbers instanceof Float64Array)) return 1;
  return STEPS.find((step) => fits(numbers, step, step === STEPS.at(-1) ? step : 1e-7)) ?? 0;
}

function fits(numbers: Numbers, step: number, error: number): boolean {
  for (let k = 0; k < numbers.length; k++) {
    const value = numbers[k];
    if (!Number.isFinite(value)) continue;
    const steps = Math.round(value / step);
    if (Math.abs(steps) >= 2 ** 31 - 2 || Math.abs(steps * step - value) > error) return false;
  }
  return true;
}

function planesOf(numbers: Numbers, step: number, order: number): Uint8Array {
  const count = numbers.length;
  const whole = new Int32Array(count);
  for (let k = 0; k < count; k++) {
    const value = numbers[k];
    whole[k] = Number.isFinite(value)
      ? Math.round(value / step)
      : value > 0
        ? PLUS_INFINITY
        : value < 0
          ? MINUS_INFINITY
          : NOT_A_NUMBER;
  }
  for (let time = 0; time < order; time++)
    // Differences may run over; sums run over alike.
    for (let k = count - 1; k > 0; k--) whole[k] = (whole[k] - whole[k - 1]) | 0;
  let all = 0;
  for (let k = 0; k < count; k++) {
    // Zigzag: small differences of either sign leave the higher planes empty.
    whole[k] = (whole[k] << 1) ^ (whole[k] >> 31);
    all |= whole[k];
  }
  const used = all === 0 ? 0 : Math.ceil((32 - Math.clz32(all)) / 8);
  const bytes = new Uint8Array(used * count);
  for (let plane = 0; plane < used; plane++)
    for (let k = 0; k < count; k++) bytes[plane * count + k] = whole[k] >>> (8 * plane);
  return bytes;
}

function unpackColumn({ column, count, at, step, order, planes }: Column, bytes: Uint8Array): Numbers {
  const Type = TYPES[column];
  if (step === 0 || column === "Uint8Array")
    return new Type(bytes.slice(at, at + count * Type.BYTES_PER_ELEMENT).buffer);
  const whole = new Int32Array(count);
  for (let plane = 0; plane < planes; plane++)
    for (let k = 0; k < count; k++) whole[k] |= bytes[at + plane * count + k] << (8 * plane);
  for (let k = 0; k < count; k++) whole[k] = (whole[k] >>> 1) ^ -(whole[k] & 1);
  for (let time = 0; time < order; time++)
    for (let k = 1; k < count; k++) whole[k] = (whole[k] + whole[k - 1]) | 0;
  const numbers = new Type(count);
  for (let k = 0; k < count; k++) {
    const steps = whole[k];
    numbers[k] =
      steps === NOT_A_NUMBER
        ? Number.NaN
        : steps === MINUS_INFINITY
          ? Number.NEGATIVE_INFINITY
          : steps === PLUS_INFINITY
            ? Number.POSITIVE_INFINITY
            : steps * step;
  }
  return numbers;
}
