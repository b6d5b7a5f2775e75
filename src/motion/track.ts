// The track: motion as one struct of arrays, however it came to be. The planner makes one, the
// writer prints it, the reader makes one from text, the clock times it, the proof runs it.
// Millimetres, mm/min, seconds, rev/min; coordinates are program coordinates (frame less zero).

/** What an entry of a track does. */
export const Kind = {
  /** G0, all axes together in a straight line. */
  rapid: 0,
  /** G1. */
  cut: 1,
  /** G2 and G3 in the XY plane; Z may change along the way (a helix). */
  arcClockwise: 2,
  arcCounter: 3,
  /** G4; `value` is seconds. */
  dwell: 4,
  /** M3, M4, M5; `value` is rev/min, negative for M4, 0 for stopped. */
  spindle: 5,
  /** M6; `value` is the tool number. */
  toolChange: 6,
  /** M0, M1, M60: waits for a person. */
  stop: 7,
  /** G54 to G59.3; `value` is 54 ... 59.3. */
  offset: 8,
  /** M2, M30, or the closing %. */
  end: 9,
  /**
   * G38.2, straight towards (x, y, z) until a probe touches; `value` is the feed. Where it stops is not in the
   * program, so the axes it moves are unknown after it. Only programs that probe hold it.
   */
  touch: 10,
} as const;
export type Kind = (typeof Kind)[keyof typeof Kind];

/** Whether an entry moves the cutter. */
export function isMotion(kind: number): boolean {
  return kind <= Kind.arcCounter;
}

/**
 * Growable columns, one entry a move or event, `count` of them valid. The end point of an entry is
 * (x, y, z); an entry that is not motion repeats the position. A coordinate is NaN until a program
 * has given it. Full circles end where they start.
 */
export class Track {
  count = 0;
  kind: Uint8Array;
  x: Float64Array;
  y: Float64Array;
  z: Float64Array;
  /** Feed of a cut or arc in mm/min (NaN when none was ever given); else what the kind says. */
  value: Float64Array;
  /** Centre of an arc, in the coordinates of x and y; unused otherwise. */
  centreX: Float64Array;
  centreY: Float64Array;
  /** Line of the text, from 1; 0 while the track has not been written. */
  line: Int32Array;
  /** Index of the layer and of the row that the planner made this entry for; -1 for neither. */
  layer: Int16Array;
  row: Int32Array;

  constructor(capacity = 1024) {
    this.kind = new Uint8Array(capacity);
    this.x = new Float64Array(capacity);
    this.y = new Float64Array(capacity);
    this.z = new Float64Array(capacity);
    this.value = new Float64Array(capacity);
    this.centreX = new Float64Array(capacity);
    this.centreY = new Float64Array(capacity);
    this.line = new Int32Array(capacity);
    this.layer = new Int16Array(capacity);
    this.row = new Int32Array(capacity);
  }

  /** Adds an entry and returns its index; grows the columns when they are full. */
  push(kind: Kind, x: number, y: number, z: number, value = NaN, line = 0): number {
    const i = this.count++;
    if (i === this.kind.length) this.reserve(2 * i + 16);
    this.kind[i] = kind;
    this.x[i] = x;
    this.y[i] = y;
    this.z[i] = z;
    this.value[i] = value;
    this.line[i] = line;
    this.layer[i] = -1;
    this.row[i] = -1;
    return i;
  }

  /** Forgets the first entries; those after them move up. */
  drop(count: number): void {
    const { kind, x, y, z, value, centreX, centreY, line, layer, row } = this;
    for (const column of [kind, x, y, z, value, centreX, centreY, line, layer, row])
      column.copyWithin(0, count, this.count);
    this.count -= count;
  }

  /** Makes room for `capacity` entries; those that exist stay. */
  reserve(capacity: number): void {
    if (capacity <= this.kind.length) return;
    this.kind = grown(this.kind, new Uint8Array(capacity));
    this.x = grown(this.x, new Float64Array(capacity));
    this.y = grown(this.y, new Float64Array(capacity));
    this.z = grown(this.z, new Float64Array(capacity));
    this.value = grown(this.value, new Float64Array(capacity));
    this.centreX = grown(this.centreX, new Float64Array(capacity));
    this.centreY = grown(this.centreY, new Float64Array(capacity));
    this.line = grown(this.line, new Int32Array(capacity));
    this.layer = grown(this.layer, new Int16Array(capacity));
    this.row = grown(this.row, new Int32Array(capacity));
  }
}

function grown<T extends { set(from: T): void }>(from: T, to: T): T {
  to.set(from);
  return to;
}
