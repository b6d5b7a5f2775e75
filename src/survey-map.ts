// The heights of a surveyed face as a picture: bands of height with a scale, readings and shims marked. A whole
// SVG of its own; shades run from dark to light, so that they are told apart in grey too.

import { escaped } from "./html.ts";
import type { Ring } from "./job/job.ts";
import { LevelSets } from "./region/levels.ts";
import { boxOf, type HeightField } from "./survey/field.ts";
import { pointsOf } from "./survey/surface.ts";
import type { PieceSurvey } from "./survey.ts";
import { formatLength, type Units } from "./units.ts";

const BANDS = 9;
/** Low to high; our own, with even steps of lightness. */
const SHADES = [
  "#1b2a49",
  "#23466b",
  "#2b6286",
  "#3b7f96",
  "#579b9c",
  "#7fb59e",
  "#aacda3",
  "#d3e2b1",
  "#f6f2c9",
];
const WIDE = 960;
const PAD = 60;
const GAP = 115;
/** Of more readings than this only the suspects are marked: dots would hide the heights. */
const MARKED_MAX = 2000;

/** All pieces in one picture, each to its own scale of heights. */
export function surveyMap(surveys: readonly PieceSurvey[], units: Units): string {
  let top = PAD;
  const parts = surveys.map((survey) => {
    const box = boxOf([survey.piece.outline]);
    const scale = (WIDE - 2 * PAD) / Math.max(box.maxX - box.minX, box.maxY - box.minY);
    const height = (box.maxY - box.minY) * scale;
    const drawn = pieceMap(survey, units, scale, top);
    top += height + GAP;
    return drawn;
  });
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDE} ${top.toFixed(0)}" font-family="sans-serif" font-size="13" fill="#111" role="img">`,
    `<title>Heights of the upper faces above the bed</title>`,
    `<rect width="100%" height="100%" fill="#fff"/>`,
    ...parts,
    "</svg>",
    "",
  ].join("\n");
}

function pieceMap(survey: PieceSurvey, units: Units, scale: number, top: number): string {
  const { piece, face, scatter, seat } = survey;
  const box = boxOf([piece.outline]);
  const x = (mm: number) => (PAD + (mm - box.minX) * scale).toFixed(1);
  const y = (mm: number) => (top + (box.maxY - mm) * scale).toFixed(1);
  const path = (ring: Ring) => {
    let text = "";
    for (let k = 0; k < ring.length; k += 2) text += `${k === 0 ? "M" : "L"}${x(ring[k])} ${y(ring[k + 1])}`;
    return `${text}Z`;
  };
  const { low, high } = rangeInside(survey);
  const clip = `face-${top.toFixed(0)}`;
  const coarse = thinned(face);
  const levels = new LevelSets(coarse);
  const bands = high - low < 1e-6 ? 1 : BANDS;
  const levelOf = (band: number) => low + ((high - low) * band) / bands;
  const filled = Array.from({ length: bands }, (_, band) => {
    const shade = shadeOf(band, bands);
    if (band === 0) return `<path d="${path(piece.outline)}" fill="${shade}"/>`;
    const rings = levels.rings(levelOf(band)).map(path).join("");
    return `<path d="${rings}" fill="${shade}" fill-rule="evenodd" clip-path="url(#${clip})"/>`;
  });
  const suspects = scatter?.suspects ?? [];
  const readings = piece.upper === null ? new Float64Array(0) : pointsOf(piece.upper);
  const marked = readings.length / 3 <= MARKED_MAX;
  const height = (box.maxY - box.minY) * scale;
  return [
    `<clipPath id="${clip}"><path d="${path(piece.outline)}"/></clipPath>`,
    `<text x="${PAD}" y="${(top - 14).toFixed(0)}" font-weight="bold">${escaped(piece.id, 60)}: heights above the bed, ${formatLength(low, units)} to ${formatLength(high, units)}</text>`,
    ...filled,
    `<path d="${path(piece.outline)}" fill="none" stroke="#111" stroke-width="1.5"/>`,
    ...(marked ? dots(readings, new Set(suspects.map((one) => `${one.x} ${one.y}`))) : []).map(
      ([px, py]) => `<circle cx="${x(px)}" cy="${y(py)}" r="2.6" fill="#fff" stroke="#111"/>`,
    ),
    ...suspects.map((one) => diamond(x(one.x), y(one.y))),
    ...seat.shims.map(
      (shim) =>
        `<rect x="${x(shim.x)}" y="${y(shim.y)}" width="22" height="12" transform="translate(-11 -6)" fill="#fff" stroke="#111" stroke-width="2"/>` +
        `<text x="${x(shim.x)}" y="${y(shim.y)}" dy="-10" text-anchor="middle" stroke="#fff" stroke-width="3" paint-order="stroke">shim ${formatLength(Math.round(shim.thicknessMm * 100) / 100, units)}</text>`,
    ),
    scaleBar(bands, levelOf, units, top + height + 22),
    `<text x="${PAD}" y="${(top + height + 70).toFixed(0)}" font-size="11">${legend(survey, marked)}</text>`,
  ].join("\n");
}

function diamond(x: string, y: string): string {
  return `<path d="M${x} ${y}m-7 0l7 -7l7 7l-7 7z" fill="#fff" stroke="#b3261e" stroke-width="2.5"/>`;
}

/** Readings that are no suspects. */
function dots(xyz: Float64Array, suspects: ReadonlySet<string>): [number, number][] {
  const places: [number, number][] = [];
  for (let k = 0; k < xyz.length; k += 3)
    if (!suspects.has(`${xyz[k]} ${xyz[k + 1]}`)) places.push([xyz[k], xyz[k + 1]]);
  return places;
}

/** What the marks mean; of those that are there. */
function legend({ piece, scatter, seat }: PieceSurvey, marked: boolean): string {
  return [
    "+X to the right, +Y up",
    ...(piece.upper === null
      ? ["not measured: taken as level"]
      : [marked ? "dot: a reading" : "readings too many to mark"]),
    ...((scatter?.suspects.length ?? 0) > 0
      ? ["diamond: a reading that its neighbours do not bear out, measure it again"]
      : []),
    ...(seat.shims.length > 0 ? ["box: a shim under the piece"] : []),
  ].join("; ");
}

/** The shades in order, with the height at each of their borders. */
function scaleBar(bands: number, levelOf: (band: number) => number, units: Units, top: number): string {
  const wide = (WIDE - 2 * PAD) / bands;
  const shades = Array.from(
    { length: bands },
    (_, band) =>
      `<rect x="${(PAD + band * wide).toFixed(1)}" y="${top.toFixed(0)}" width="${wide.toFixed(1)}" height="12" fill="${shadeOf(band, bands)}" stroke="#111" stroke-width=".5"/>`,
  );
  const borders = bands === 1 ? [0] : Array.from({ length: bands + 1 }, (_, band) => band);
  const heights = borders.map(
    (band) =>
      `<text x="${(PAD + band * wide).toFixed(1)}" y="${(top + 27).toFixed(0)}" font-size="11"${bands === 1 ? "" : ' text-anchor="middle"'}>${formatLength(levelOf(band), units)}</text>`,
  );
  return [...shades, ...heights].join("");
}

function shadeOf(band: number, bands: number): string {
  return SHADES[Math.round((band * (SHADES.length - 1)) / Math.max(1, bands - 1))];
}

function rangeInside({ face, mask }: PieceSurvey): { low: number; high: number } {
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (let k = 0; k < mask.length; k++) {
    if (mask[k] === 0) continue;
    low = Math.min(low, face.z[k]);
    high = Math.max(high, face.z[k]);
  }
  return { low, high };
}

const DRAWN_SAMPLES = 240;

/** Samples enough for a picture. */
function thinned(face: HeightField): HeightField {
  const step = Math.max(1, Math.floor(Math.max(face.cols, face.rows) / DRAWN_SAMPLES));
  const [cols, rows] = [Math.ceil(face.cols / step), Math.ceil(face.rows / step)];
  const z = new Float32Array(cols * rows);
  for (let row = 0; row < rows; row++)
    for (let col = 0; col < cols; col++) z[row * cols + col] = face.z[row * step * face.cols + col * step];
  return { x0: face.x0, y0: face.y0, pitchMm: face.pitchMm * step, cols, rows, z };
}
