// `slabtrue survey`: what the wood is, as a table, as JSON, or as a picture of its heights.

import { surveyDocument } from "../src/document.ts";
import { ADVICE_MARGIN_MM, type PieceSurvey, surveyJob } from "../src/survey.ts";
import { surveyMap } from "../src/survey-map.ts";
import { formatLength, formatPoint, type Units } from "../src/units.ts";
import { readJobFile } from "./files.ts";
import { LADDER_COLUMNS_MIN, surveyLadder } from "./ladder.ts";
import { writeOut } from "./out-file.ts";
import { aligned, clockTime, percent } from "./report.ts";
import { printJson, printLines, wrapped } from "./terminal.ts";

export interface SurveyOptions {
  readonly svg?: string;
  readonly json?: boolean;
}

export function survey(jobFile: string, { svg, json }: SurveyOptions): void {
  const job = readJobFile(jobFile);
  const surveys = surveyJob(job);
  if (svg !== undefined) writePicture(svg, surveyMap(surveys, job.units));
  if (json) printJson(surveyDocument(surveys, job.units));
  else printLines(surveyLines(surveys, job.name, job.units));
}

function surveyLines(surveys: readonly PieceSurvey[], name: string, units: Units): string[] {
  return [
    name,
    ...surveys.flatMap((one) => ["", ...pieceLines(one, units)]),
    ...(surveys.length === 0 ? ["No piece to survey: cast pieces are, once they are measured."] : []),
  ];
}

function pieceLines(found: PieceSurvey, units: Units): string[] {
  return [
    `Piece ${found.piece.id}`,
    ...aligned([...faceRows(found, units), ...lieRows(found, units)]),
    ...(process.stdout.columns >= LADDER_COLUMNS_MIN ? ["", ...surveyLadder(found, units), ""] : []),
    ...suspectLines(found, units),
    ...densityLines(found, units),
    ...shimLines(found, units),
    ...curveLines(found, units),
  ];
}

/** To 0.01 mm: nothing here is known better. */
function length(mm: number, units: Units): string {
  return formatLength(Math.round(mm * 100) / 100, units);
}

function faceRows({ flatnessMm, form, scatter, outside, face }: PieceSurvey, units: Units): string[][] {
  if (scatter === null)
    return [["Face", `not measured: taken as level, ${length(face.z[0], units)} above the bed`]];
  return [
    ["Flatness", `${length(flatnessMm, units)}: its readings lie between two planes so far apart`],
    ["Cup", `${length(form.cup.riseMm, units)}${shape(form.cup)} across the grain`],
    ["Bow", `${length(form.bow.riseMm, units)}${shape(form.bow)} along the grain`],
    ["Twist", `${length(form.twistMm, units)}: one corner off the plane of the other three`],
    ["Scatter", `${length(scatter.sigmaMm, units)} from reading to reading`],
    ["Guessed", `${percent(outside)} of the face lies beyond the readings`],
  ];
}

function lieRows(found: PieceSurvey, units: Units): string[][] {
  const { piece, rests, asLaidMm, bestMm, seat } = found;
  const gain = bestMm - asLaidMm;
  const more = asLaidMm > 0 && gain >= 0.005 ? `, ${length(gain, units)} more` : "";
  const tilt = tiltText(seat, units);
  return [
    ...restRows(piece.under !== null || piece.calipers !== null, rests, units),
    ...(bestMm <= 0
      ? [["Clean", "no thickness comes out clean on both faces"]]
      : [
          [
            "Clean",
            asLaidMm <= 0
              ? "nothing on both faces as it lies"
              : `${length(asLaidMm, units)} on both faces as it lies`,
          ],
          ["", `${length(bestMm, units)} on both faces at the best tilt${more}`],
          ...(tilt === "" ? [] : [["Tilt", tilt]]),
        ]),
  ];
}

function restRows(measured: boolean, rests: PieceSurvey["rests"], units: Units): string[][] {
  if (!measured) return [["Lies", "flat on the bed as far as is known: its under face was not measured"]];
  if (rests.length === 0) return [["Lies", "nothing is under its middle: it tips over"]];
  const places = rests.map(({ supports }) =>
    supports.map(([x, y]) => formatPoint(Math.round(x), Math.round(y), units)).join(", "),
  );
  if (places.length === 1) return [["Lies", `still, on ${places[0]}`]];
  return places.map((at, k) => (k === 0 ? ["Rocks", `it rests on ${at}`] : ["", `or on ${at}`]));
}

/** How the planes of the best tilt rise in the lay as measured; "" where they do not. */
function tiltText({ tiltX, tiltY }: PieceSurvey["seat"], units: Units): string {
  const [perMm, per] = units === "mm" ? [1000, "a metre"] : [304.8, "a foot"];
  const along = (slope: number, axis: string) =>
    Math.abs(slope) * perMm < 0.005
      ? []
      : [`${length(Math.abs(slope) * perMm, units)} ${per} ${slope < 0 ? "down" : "up"} towards +${axis}`];
  return [...along(tiltX, "X"), ...along(tiltY, "Y")].join(", ");
}

function shimLines({ seat, piece }: PieceSurvey, units: Units): string[] {
  if (seat.shims.length === 0) return [];
  return [
    "",
    "  Shims that give the best tilt",
    ...aligned(
      seat.shims.map(({ x, y, thicknessMm }) => [
        length(thicknessMm, units),
        `at ${formatPoint(Math.round(x), Math.round(y), units)}`,
      ]),
    ),
    ...wrapped(
      "  ",
      `Press on every corner before it is clamped: it must not rock. ${
        piece.madeOf.length === 0
          ? "Without --seat best, a plan is for the piece as it was measured, without shims."
          : "A plan is for the piece as it came out of the mold, without shims."
      }`,
    ),
  ];
}

function curveLines({ cleanUp }: PieceSurvey, units: Units): string[] {
  const told = (mm: number | null) => (mm === null ? "-" : length(mm, units));
  const reason = cleanUp.find((row) => row.reason !== "")?.reason;
  const known = cleanUp.some(({ floorMm }) => floorMm !== null);
  return [
    "",
    ...(known
      ? aligned([
          ["Clean-up", "Depth", "Floor above bed", "Layers", "Machine time"],
          ...cleanUp.map(({ share, depthMm, floorMm, layers, seconds }) => [
            percent(share),
            told(depthMm),
            told(floorMm),
            layers === null ? "-" : String(layers),
            seconds === null ? "-" : clockTime(seconds),
          ]),
        ])
      : []),
    ...(reason === undefined ? [] : wrapped(known ? "  Mind: " : "  Clean-up: ", reason)),
  ];
}

function shape({ riseMm, shape: kind }: PieceSurvey["form"]["cup"]): string {
  return riseMm < 0.005 ? "" : kind === "crowned" ? ", the middle high," : ", the middle low,";
}

function suspectLines({ scatter }: PieceSurvey, units: Units): string[] {
  return (scatter?.suspects ?? [])
    .slice(0, 5)
    .flatMap(({ x, y, z, missMm }) =>
      wrapped(
        "  Mind: ",
        `the reading ${formatLength(z, units)} at ${formatPoint(x, y, units)} is ${formatLength(Math.abs(missMm), units)} ` +
          `${missMm > 0 ? "higher" : "lower"} than its neighbours say; measure it again`,
      ),
    );
}

function densityLines({ density }: PieceSurvey, units: Units): string[] {
  if (density === null) return [];
  const margin = formatLength(ADVICE_MARGIN_MM, units);
  // By whole millimetres, or eighths of an inch.
  const step = units === "mm" ? 1 : 3.175;
  const text =
    density.kind === "scatter"
      ? `more readings do not give a margin of ${margin}, for those there are disagree too much: they ask for ${formatLength(density.leastMm, units)}. ` +
        "Read each place twice and write down the mean; brush chips from under the foot, press it down, and let the dial settle"
      : `for a margin of ${margin} take about ${density.count} readings, ${formatLength(Math.round(density.spacingMm / step) * step, units)} apart`;
  return wrapped("  Readings: ", text);
}

function writePicture(file: string, text: string): void {
  writeOut(file, text, (old) => old.includes("<svg"));
}
