// From a drawing's own coordinates to millimetres: lengths with units, transforms, viewBox and
// preserveAspectRatio, as the SVG 2 recommendation (chapter 8) has them. A CSS pixel, the unit of bare
// numbers inside a drawing, is 1/96 inch (CSS Values and Units 3, section 6.2).

import { MM_PER_INCH } from "../units.ts";
import { describeValue, quoted } from "./wording.ts";

/** Something in a drawing that cannot be read, said without its place. */
export class Unreadable extends Error {}

/** (x, y) becomes (a x + c y + e, b x + d y + f). */
export interface Matrix {
  readonly a: number;
  readonly b: number;
  readonly c: number;
  readonly d: number;
  readonly e: number;
  readonly f: number;
}

export const IDENTITY: Matrix = { a: 1, b: 0, c: 0, d: 1, e: 0, f: 0 };

/** First `inner`, then `outer`. */
export function combined(outer: Matrix, inner: Matrix): Matrix {
  const { a, b, c, d, e, f } = outer;
  return {
    a: a * inner.a + c * inner.b,
    b: b * inner.a + d * inner.b,
    c: a * inner.c + c * inner.d,
    d: b * inner.c + d * inner.d,
    e: a * inner.e + c * inner.f + e,
    f: b * inner.e + d * inner.f + f,
  };
}

/** Width and height, in a drawing's units, of what percentages refer to. */
export interface Viewport {
  readonly width: number;
  readonly height: number;
}

export type Attributes = Readonly<Record<string, string>>;

const NUMBER = String.raw`[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?`;
const LENGTH = new RegExp(`^(${NUMBER}) *([A-Za-z]+|%)?$`);
/** No list of numbers that says where one thing stands is longer. */
const SHORT_MAX = 1000;

const PX_PER_INCH = 96;
/** Units that say a real size. */
const MM_PER: ReadonlyMap<string, number> = new Map([
  ["mm", 1],
  ["cm", 10],
  ["q", 0.25],
  ["in", MM_PER_INCH],
  ["pt", MM_PER_INCH / 72],
  ["pc", MM_PER_INCH / 6],
]);

/** The numbers of a list parted by blanks or commas, or null where it holds anything else. */
export function numbersIn(text: string): number[] | null {
  const rest = text.replace(new RegExp(NUMBER, "g"), " ");
  if (!/^[\s,]*$/.test(rest)) return null;
  return Array.from(text.matchAll(new RegExp(NUMBER, "g")), (found) => Number(found[0]));
}

/** A length inside a drawing in its own units, percentages of `whole`; null where the attribute is not there. */
export function innerLength(attributes: Attributes, name: string, whole: number): number | null {
  const written = attributes[name];
  if (written === undefined) return null;
  const [, digits, unit = "px"] = LENGTH.exec(written.trim().slice(0, SHORT_MAX)) ?? [];
  const mm = MM_PER.get(unit.toLowerCase());
  const scale = unit === "%" ? whole / 100 : unit === "px" ? 1 : mm && (mm * PX_PER_INCH) / MM_PER_INCH;
  if (digits === undefined || scale === undefined)
    throw new Unreadable(`${describeValue(written)} for ${name}; wanted a number`);
  return Number(digits) * scale;
}

/** The drawing as a whole: how it lies in mm with Y up and its lower left at the origin. */
export function pageOf(attributes: Attributes): { toMm: Matrix; viewport: Viewport } {
  const box = viewBoxOf(attributes);
  const [width, height] = pageSize(attributes, box);
  const flip: Matrix = { a: 1, b: 0, c: 0, d: -1, e: 0, f: height };
  if (box !== null)
    return { toMm: combined(flip, viewMatrix(attributes, box, width, height)), viewport: box };
  const mmPerPx = MM_PER_INCH / PX_PER_INCH;
  const scale: Matrix = { a: mmPerPx, b: 0, c: 0, d: mmPerPx, e: 0, f: 0 };
  return { toMm: combined(flip, scale), viewport: { width: width / mmPerPx, height: height / mmPerPx } };
}

/** A drawing inside the drawing: its coordinates to those around it. */
export function innerPage(attributes: Attributes, around: Viewport): { matrix: Matrix; viewport: Viewport } {
  const length = (name: string, whole: number) => innerLength(attributes, name, whole);
  const width = length("width", around.width) ?? around.width;
  const height = length("height", around.height) ?? around.height;
  const corner = {
    ...IDENTITY,
    e: length("x", around.width) ?? 0,
    f: length("y", around.height) ?? 0,
  };
  const box = viewBoxOf(attributes);
  if (box === null) return { matrix: corner, viewport: { width, height } };
  return { matrix: combined(corner, viewMatrix(attributes, box, width, height)), viewport: box };
}

/** The matrix of a `transform` attribute. */
export function transformOf(text: string): Matrix {
  let matrix = IDENTITY;
  const parts = /([A-Za-z]+)\s*\(([^()]*)\)[\s,]*/gy;
  let end = text.length - text.trimStart().length;
  parts.lastIndex = end;
  for (let part = parts.exec(text); part !== null; part = parts.exec(text)) {
    end = parts.lastIndex;
    const step = transformStep(part[1], numbersIn(part[2]) ?? []);
    if (step === null) break;
    matrix = combined(matrix, step);
    if (end === text.length) return matrix;
  }
  if (text.trim() === "" || text.trim() === "none") return IDENTITY;
  throw new Unreadable(
    `found the transform ${quoted(text)}; wanted matrix, translate, scale, rotate, skewX or skewY with plain numbers`,
  );
}

function transformStep(name: string, numbers: readonly number[]): Matrix | null {
  const [p, q, r] = numbers;
  const count = numbers.length;
  if (name === "matrix" && count === 6) {
    const [a, b, c, d, e, f] = numbers;
    return { a, b, c, d, e, f };
  }
  if (name === "translate" && (count === 1 || count === 2)) return { ...IDENTITY, e: p, f: q ?? 0 };
  if (name === "scale" && (count === 1 || count === 2)) return { ...IDENTITY, a: p, d: q ?? p };
  if (name === "skewX" && count === 1) return { ...IDENTITY, c: Math.tan(inRadians(p)) };
  if (name === "skewY" && count === 1) return { ...IDENTITY, b: Math.tan(inRadians(p)) };
  if (name !== "rotate" || (count !== 1 && count !== 3)) return null;
  const [sin, cos] = [Math.sin(inRadians(p)), Math.cos(inRadians(p))];
  const turn: Matrix = { a: cos, b: sin, c: -sin, d: cos, e: 0, f: 0 };
  if (count === 1) return turn;
  return combined({ ...IDENTITY, e: q, f: r }, combined(turn, { ...IDENTITY, e: -q, f: -r }));
}

function inRadians(degrees: number): number {
  return (degrees * Math.PI) / 180;
}

interface ViewBox extends Viewport {
  readonly x: number;
  readonly y: number;
}

function viewBoxOf(attributes: Attributes): ViewBox | null {
  const written = attributes.viewBox;
  if (written === undefined) return null;
  const [x, y, width, height, ...more] = numbersIn(written.slice(0, SHORT_MAX)) ?? [];
  if (!(width > 0) || !(height > 0) || more.length > 0)
    throw new Unreadable(
      `found the viewBox ${quoted(written)}; wanted four numbers: left, top, width and height, the last two above 0`,
    );
  return { x, y, width, height };
}

/** Width and height of the whole drawing in mm. Pixels say no real size: programs take 72, 90 or 96 for an inch. */
function pageSize(attributes: Attributes, box: ViewBox | null): [width: number, height: number] {
  const real = (name: string) => {
    const written = attributes[name];
    if (written === undefined || written.trim() === "auto") return null;
    const [, digits, unit = ""] = LENGTH.exec(written.trim().slice(0, SHORT_MAX)) ?? [];
    const mm = Number(digits) * (MM_PER.get(unit.toLowerCase()) ?? Number.NaN);
    if (mm > 0) return mm;
    const why =
      unit === "" || unit === "px"
        ? "says no real size, as programs take 72, 90 or 96 pixels for an inch"
        : "is no real size";
    throw new Unreadable(`the drawing's ${name} ${quoted(written)} ${why}; ${SIZE_WANTED}`);
  };
  const width = real("width");
  const height = real("height");
  if (width !== null && height !== null) return [width, height];
  if (width !== null && box !== null) return [width, (width * box.height) / box.width];
  if (height !== null && box !== null) return [(height * box.width) / box.height, height];
  const missing = width !== null ? "height" : height !== null ? "width" : "width and height";
  throw new Unreadable(`the drawing does not say its ${missing}; ${SIZE_WANTED}`);
}

const SIZE_WANTED = `save it with its width and height in mm or in, as width="2400mm"`;

/** A viewBox fitted into `width` by `height`. */
function viewMatrix(attributes: Attributes, box: ViewBox, width: number, height: number): Matrix {
  const written = attributes.preserveAspectRatio ?? "xMidYMid";
  const found = /^\s*(?:defer\s+)?(?:(none)|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?\s*$/.exec(
    written.slice(0, SHORT_MAX),
  );
  if (found === null)
    throw new Unreadable(`found the preserveAspectRatio ${quoted(written)}; wanted one like "xMidYMid meet"`);
  const [, none, alongX, alongY, fit] = found;
  let [a, d] = [width / box.width, height / box.height];
  if (none === undefined) a = d = fit === "slice" ? Math.max(a, d) : Math.min(a, d);
  const e = (width - a * box.width) * (SHARE[alongX] ?? 0) - a * box.x;
  const f = (height - d * box.height) * (SHARE[alongY] ?? 0) - d * box.y;
  return { a, b: 0, c: 0, d, e, f };
}

/** How much of the room left over lies before the drawing. */
const SHARE: Readonly<Record<string, number>> = { Min: 0, Mid: 0.5, Max: 1 };
