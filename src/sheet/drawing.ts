// A setup seen from above, to scale, as an SVG for paper: black on white, told apart by line and hatching and
// not by colour. Frame coordinates in mm, Y up; the drawing's own have Y down.

import { escaped } from "../html.ts";
import type { KeepOut, Ring } from "../job/job.ts";
import { isMotion, type Track } from "../motion/track.ts";
import type { PlannedSetup } from "../plan.ts";
import { boxOf } from "../survey/field.ts";
import { formatLength, type Units } from "../units.ts";
import { Labels } from "./labels.ts";

export interface Place {
  readonly x: number;
  readonly y: number;
}

/** A mark with a letter, and what stands beside it. */
export interface Mark extends Place {
  readonly label: string;
}

export interface DrawingParts {
  readonly planned: PlannedSetup;
  /** Direction of the rows, from +X. */
  readonly angleRad: number;
  /** Where to measure the finished thickness. */
  readonly calipers: readonly Mark[];
  readonly shims: readonly Mark[];
  readonly units: Units;
}

/** How large the drawing is at most, in its own units, which are about tenths of a millimetre on paper. */
const SIZE: Size = { wide: 1000, high: 520, pad: 46, line: 18 };
/** Of two beside each other, and of three. */
const HALF: Size = { wide: 480, high: 180, pad: 26, line: 16 };
const THIRD: Size = { wide: 320, high: 120, pad: 20, line: 14 };
/** Of more lays the first are drawn; the others go on alike. */
const LAYS_DRAWN = 6;
/** Outlines of thousands of corners are thinned to this on paper. */
const STEP = 0.4;
/** Half the width of what is too small to be written on. */
const SMALL = 40;

interface Size {
  readonly wide: number;
  readonly high: number;
  readonly pad: number;
  /** How high a line of words is. */
  readonly line: number;
}

/** From mm of the frame to the drawing. */
interface Scale {
  readonly x: (mm: number) => number;
  readonly y: (mm: number) => number;
  readonly high: number;
}

export function drawingOf({ planned, angleRad, calipers, shims, units }: DrawingParts): string {
  const { setup, zeroMm, found, programs } = planned;
  const keepOuts = programs[0].lay?.keepOuts ?? setup.keepOuts;
  const outlines = found.map(({ piece }) => piece.outline);
  const zero = Float64Array.of(zeroMm.x, zeroMm.y);
  const scale = scaleTo([...outlines, ...keepOuts.map(({ outline }) => outline), zero], SIZE);
  const { x, y } = scale;
  const labels = new Labels(SIZE.wide, scale.high, SIZE.line);
  const word = ({ x: atX, y: atY }: Place, text: string, kind?: string) =>
    labels.word(x(atX), y(atY), text, kind);
  const [zeroX, zeroY] = [x(zeroMm.x), y(zeroMm.y)];
  const ends = (["start", "end"] as const).flatMap((kind, k) => {
    const place = endsOf(programs[0].track)[k];
    return place === null ? [] : { kind, x: x(place.x + zeroMm.x), y: y(place.y + zeroMm.y) };
  });
  const arrowAt = middleOf(outlines[0]);
  labels.block(zeroX + 16, zeroY, 24, 8);
  labels.block(zeroX, zeroY - 16, 8, 24);
  labels.block(x(arrowAt.x), y(arrowAt.y) + 26, 66 * Math.abs(Math.cos(angleRad)) + 6, 66 * Math.abs(Math.sin(angleRad)) + 6); // biome-ignore format: one mark a line
  for (const end of ends) labels.block(end.x, end.y, 9);
  for (const mark of calipers) labels.block(x(mark.x), y(mark.y), 13);
  for (const mark of shims) labels.block(x(mark.x), y(mark.y), 12, 8);
  blockAll(labels, keepOuts, scale);
  return [
    ...opening(`Plan of setup ${setup.id}`, "drawing", SIZE, scale),
    HATCHES,
    ...outlines.map((ring) => `<path class="piece" d="${ringPath(ring, scale)}"/>`),
    ...found.flatMap(({ timbers }) =>
      (timbers ?? []).map(({ outline }) => `<path class="wood" d="${ringPath(outline, scale)}"/>`),
    ),
    ...keepOuts.map(({ outline }) => `<path class="keep-out" d="${ringPath(outline, scale)}"/>`),
    rowArrow(arrowAt, angleRad, x, y),
    zeroMark(zeroX, zeroY),
    ...ends.map(pointMark),
    ...calipers.map((mark) => letterMark(x(mark.x), y(mark.y), mark.label)),
    ...shims.map((mark) => shimMark(x(mark.x), y(mark.y))),
    labels.word(zeroX + 47, zeroY, "X"),
    labels.word(zeroX, zeroY - 50, "Y"),
    ...found.map(({ piece }) => word(middleOf(piece.outline), piece.id, "name")),
    ...shims.map((mark) => labels.word(x(mark.x), y(mark.y) - 17, mark.label)),
    ...ends.map((end) => labels.word(end.x, end.y + 18, end.kind)),
    ...keepOuts.map(({ outline, name, heightMm }) =>
      word(middleOf(outline), `${name}, ${formatLength(heightMm, units)} high`),
    ),
    "</svg>",
  ].join("\n");
}

/** Where the wood lies on the bed in each lay, what stands there, and the strip that is cut. */
export function layDrawings({ found, zeroMm, programs }: PlannedSetup, units: Units): string {
  const lays = programs.flatMap(({ lay, shiftMm: [shiftX] }) => (lay === null ? [] : { ...lay, shiftX }));
  if (lays.length === 0) return "";
  const size = lays.length > 2 ? THIRD : HALF;
  const outlines = found.map(({ piece }) => piece.outline);
  const zero = Float64Array.of(zeroMm.x, zeroMm.y);
  const pushed = (ring: Ring, byX: number) => ring.map((value, k) => (k % 2 === 0 ? value + byX : value));
  const scale = scaleTo(
    [
      zero,
      ...lays.flatMap(({ shiftX, keepOuts }) => [
        ...outlines.map((ring) => pushed(ring, shiftX)),
        ...keepOuts.map(({ outline }) => outline),
      ]),
    ],
    size,
  );
  const drawn = lays.slice(0, LAYS_DRAWN).map(({ number, shiftX, fromX, toX, keepOuts }) => {
    const { x, y, high } = scale;
    const labels = new Labels(size.wide, high, size.line);
    const box = boxOf(outlines);
    const strip = [fromX, toX].map((value) => x(value + shiftX));
    const bars = strip.map((at) => `M${at.toFixed(1)} ${y(box.maxY).toFixed(1)}V${y(box.minY).toFixed(1)}`);
    const [zeroX, zeroY] = [x(zeroMm.x), y(zeroMm.y)];
    labels.block(zeroX, zeroY, 8);
    blockAll(labels, keepOuts, scale);
    return [
      '<div><p class="lay">',
      `<b>Lay ${number}</b>, ${shiftX === 0 ? "as first laid" : `pushed ${formatLength(-shiftX, units)} towards -X in all`}`,
      "</p>",
      ...opening(`Lay ${number}`, "small", size, scale),
      ...outlines.map((ring) => `<path class="piece" d="${ringPath(pushed(ring, shiftX), scale)}"/>`),
      `<path class="rows" stroke-dasharray="9 5" d="${bars.join("")}"/>`,
      ...keepOuts.map(({ outline }) => `<path class="keep-out" d="${ringPath(outline, scale)}"/>`),
      `<circle class="zero" cx="${zeroX.toFixed(1)}" cy="${zeroY.toFixed(1)}" r="6"/>`,
      labels.word((strip[0] + strip[1]) / 2, (y(box.minY) + y(box.maxY)) / 2, "cut here"),
      ...keepOuts.map(({ outline, name }) => {
        const at = middleOf(outline);
        return labels.word(x(at.x), y(at.y), name);
      }),
      "</svg></div>",
    ].join("");
  });
  const more = lays.length > LAYS_DRAWN ? `<p>${lays.length - LAYS_DRAWN} more lays go on alike.</p>` : "";
  return `<div class="lays${lays.length > 2 ? " three" : ""}">${drawn.join("\n")}</div>${more}`;
}

/** Words beside what is too small to be written on. */
function blockAll(labels: Labels, keepOuts: readonly KeepOut[], { x, y }: Scale): void {
  for (const { outline } of keepOuts) {
    const box = boxOf([outline]);
    const [halfWide, halfHigh] = [(x(box.maxX) - x(box.minX)) / 2, (y(box.minY) - y(box.maxY)) / 2];
    const at = middleOf(outline);
    if (Math.min(halfWide, halfHigh) < SMALL) labels.block(x(at.x), y(at.y), halfWide, halfHigh);
  }
}

function scaleTo(rings: readonly Ring[], { wide, high, pad }: Size): Scale {
  const box = boxOf(rings);
  const [spanX, spanY] = [Math.max(1, box.maxX - box.minX), Math.max(1, box.maxY - box.minY)];
  const scale = Math.min((wide - 2 * pad) / spanX, (high - 2 * pad) / spanY);
  const height = spanY * scale + 2 * pad;
  return {
    x: (mm) => pad + (mm - box.minX) * scale,
    y: (mm) => height - pad - (mm - box.minY) * scale,
    high: height,
  };
}

function opening(title: string, kind: string, { wide }: Size, { high }: Scale): string[] {
  return [
    `<svg class="${kind}" viewBox="0 0 ${wide} ${high.toFixed(0)}" role="img" aria-label="${escaped(title)}">`,
  ];
}

const HATCHES = `<defs>
<pattern id="hatch" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V9" stroke="#000" stroke-width="1.6"/></pattern>
<pattern id="dots" width="11" height="11" patternUnits="userSpaceOnUse"><circle cx="2" cy="2" r="1" fill="#000"/></pattern>
</defs>`;

function ringPath(ring: Ring, { x, y }: Scale): string {
  let text = "";
  let [lastX, lastY] = [Number.NaN, Number.NaN];
  for (let k = 0; k < ring.length; k += 2) {
    const [px, py] = [x(ring[k]), y(ring[k + 1])];
    if (Math.abs(px - lastX) < STEP && Math.abs(py - lastY) < STEP) continue;
    text += `${text === "" ? "M" : "L"}${px.toFixed(1)} ${py.toFixed(1)}`;
    [lastX, lastY] = [px, py];
  }
  return `${text}Z`;
}

/** The middle of a ring's box is where its name is looked for. */
function middleOf(ring: Ring): Place {
  const { minX, minY, maxX, maxY } = boxOf([ring]);
  return { x: (minX + maxX) / 2, y: (minY + maxY) / 2 };
}

function rowArrow(at: Place, angleRad: number, x: (mm: number) => number, y: (mm: number) => number): string {
  const [cx, cy] = [x(at.x), y(at.y) + 26];
  const degrees = ((-angleRad * 180) / Math.PI).toFixed(1);
  return (
    `<g transform="translate(${cx.toFixed(1)} ${cy.toFixed(1)}) rotate(${degrees})">` +
    `<path class="rows" d="M-70 0H70M-70 0l12 -6M-70 0l12 6M70 0l-12 -6M70 0l-12 6"/></g>`
  );
}

function zeroMark(x: number, y: number): string {
  const at = `${x.toFixed(1)} ${y.toFixed(1)}`;
  return (
    `<g transform="translate(${at})"><path class="zero" d="M0 0H40M40 0l-9 -5M40 0l-9 5M0 0V-40M0 -40l-5 9M0 -40l5 9"/>` +
    `<circle class="zero" r="7"/></g>`
  );
}

function pointMark({ x, y, kind }: Place & { readonly kind: "start" | "end" }): string {
  const shape = kind === "start" ? "M-8 7L8 7L0 -8Z" : "M-7 -7H7V7H-7Z";
  return `<path class="${kind}" transform="translate(${x.toFixed(1)} ${y.toFixed(1)})" d="${shape}"/>`;
}

function letterMark(x: number, y: number, letter: string): string {
  return `<g transform="translate(${x.toFixed(1)} ${y.toFixed(1)})"><circle class="caliper" r="12"/><text class="label" x="0" y="5">${escaped(letter, 3)}</text></g>`;
}

function shimMark(x: number, y: number): string {
  return `<path class="shim" transform="translate(${x.toFixed(1)} ${y.toFixed(1)})" d="M-11 -7H11V7H-11Z"/>`;
}

/** Where the first feed move begins, and where the track ends, program coordinates. */
function endsOf(track: Track): [Place | null, Place | null] {
  let first: Place | null = null;
  let last: Place | null = null;
  for (let k = 0; k < track.count; k++) {
    if (!isMotion(track.kind[k]) || Number.isNaN(track.x[k] + track.y[k])) continue;
    last = { x: track.x[k], y: track.y[k] };
    if (first === null && track.value[k] > 0) first = last;
  }
  return [first, last];
}
