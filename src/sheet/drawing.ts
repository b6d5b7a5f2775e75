// A setup seen from above, to scale, as an SVG for paper: black on white, told apart by line and hatching and
// not by colour. Frame coordinates in mm, Y up; the drawing's own have Y down.

import { escaped } from "../html.ts";
import type { Ring } from "../job/job.ts";
import { isMotion, type Track } from "../motion/track.ts";
import type { PlannedSetup } from "../plan.ts";
import { boxOf } from "../survey/field.ts";

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
}

/** How large the drawing is at most, in its own units, which are about tenths of a millimetre on paper. */
const WIDE = 1000;
const HIGH = 520;
const PAD = 46;
/** Outlines of thousands of corners are thinned to this on paper. */
const STEP = 0.4;

export function drawingOf({ planned, angleRad, calipers, shims }: DrawingParts): string {
  const { setup, zeroMm, found, programs } = planned;
  const outlines = found.map(({ piece }) => piece.outline);
  const zero = Float64Array.of(zeroMm.x, zeroMm.y);
  const box = boxOf([...outlines, ...setup.keepOuts.map(({ outline }) => outline), zero]);
  const [spanX, spanY] = [Math.max(1, box.maxX - box.minX), Math.max(1, box.maxY - box.minY)];
  const scale = Math.min((WIDE - 2 * PAD) / spanX, (HIGH - 2 * PAD) / spanY);
  const height = spanY * scale + 2 * PAD;
  const x = (mm: number) => PAD + (mm - box.minX) * scale;
  const y = (mm: number) => height - PAD - (mm - box.minY) * scale;
  const path = (ring: Ring) => ringPath(ring, x, y);
  const [first, last] = endsOf(programs[0].track);
  return [
    `<svg class="drawing" viewBox="0 0 ${WIDE} ${height.toFixed(0)}" role="img" aria-label="Plan of setup ${escaped(setup.id)}">`,
    HATCHES,
    ...outlines.map((ring) => `<path class="piece" d="${path(ring)}"/>`),
    ...found.flatMap(({ timbers }) =>
      (timbers ?? []).map(({ outline }) => `<path class="wood" d="${path(outline)}"/>`),
    ),
    ...setup.keepOuts.map(
      ({ outline, name }) =>
        `<path class="keep-out" d="${path(outline)}"/>${label(middleOf(outline), name, x, y)}`,
    ),
    ...found.map(({ piece }) => label(middleOf(piece.outline), piece.id, x, y, "name")),
    rowArrow(middleOf(outlines[0]), angleRad, x, y),
    zeroMark(x(zeroMm.x), y(zeroMm.y)),
    ...(first === null ? [] : [pointMark(x(first.x + zeroMm.x), y(first.y + zeroMm.y), "start")]),
    ...(last === null ? [] : [pointMark(x(last.x + zeroMm.x), y(last.y + zeroMm.y), "end")]),
    ...calipers.map((mark) => letterMark(x(mark.x), y(mark.y), mark.label)),
    ...shims.map((mark) => shimMark(x(mark.x), y(mark.y), mark.label)),
    "</svg>",
  ].join("\n");
}

const HATCHES = `<defs>
<pattern id="hatch" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V9" stroke="#000" stroke-width="1.6"/></pattern>
<pattern id="dots" width="11" height="11" patternUnits="userSpaceOnUse"><circle cx="2" cy="2" r="1" fill="#000"/></pattern>
</defs>`;

function ringPath(ring: Ring, x: (mm: number) => number, y: (mm: number) => number): string {
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

function label(
  at: Place,
  text: string,
  x: (mm: number) => number,
  y: (mm: number) => number,
  kind = "label",
): string {
  return `<text class="${kind}" x="${x(at.x).toFixed(1)}" y="${y(at.y).toFixed(1)}">${escaped(text, 40)}</text>`;
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
    `<circle class="zero" r="7"/><text class="label" x="47" y="5">X</text><text class="label" x="0" y="-45">Y</text></g>`
  );
}

function pointMark(x: number, y: number, kind: "start" | "end"): string {
  const shape = kind === "start" ? "M-8 7L8 7L0 -8Z" : "M-7 -7H7V7H-7Z";
  return `<g transform="translate(${x.toFixed(1)} ${y.toFixed(1)})"><path class="${kind}" d="${shape}"/><text class="label" x="0" y="22">${kind}</text></g>`;
}

function letterMark(x: number, y: number, letter: string): string {
  return `<g transform="translate(${x.toFixed(1)} ${y.toFixed(1)})"><circle class="caliper" r="12"/><text class="label" x="0" y="5">${escaped(letter, 3)}</text></g>`;
}

function shimMark(x: number, y: number, text: string): string {
  return `<g transform="translate(${x.toFixed(1)} ${y.toFixed(1)})"><path class="shim" d="M-11 -7H11V7H-11Z"/><text class="label" x="0" y="-12">${escaped(text, 20)}</text></g>`;
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
