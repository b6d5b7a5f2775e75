// `slabtrue survey`: what the wood is, as a table, as JSON, or as a picture of its heights.

import { surveyDocument } from "../src/document.ts";
import { ADVICE_MARGIN_MM, type PieceSurvey, surveyJob } from "../src/survey.ts";
import { surveyMap } from "../src/survey-map.ts";
import { formatLength, formatPoint, type Units } from "../src/units.ts";
import { readJobFile } from "./files.ts";
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
    ...(surveys.length === 0 ? ["No piece to survey: cast pieces are made of others."] : []),
  ];
}

function pieceLines(found: PieceSurvey, units: Units): string[] {
  const length = (mm: number) => formatLength(Math.round(mm * 100) / 100, units);
  const { piece, form, scatter, seat, rests, cleanUp, cleanUpNote } = found;
  const gain = found.bestMm - found.asLaidMm;
  return [
    `Piece ${piece.id}`,
    ...aligned([
      ["Flatness", `${length(found.flatnessMm)}: its readings lie between two planes so far apart`],
      ["Cup", `${length(form.cup.riseMm)}${shape(form.cup)} across the grain`],
      ["Bow", `${length(form.bow.riseMm)}${shape(form.bow)} along the grain`],
      ["Twist", `${length(form.twistMm)}: one corner off the plane of the other three`],
      ...(scatter === null
        ? [["Readings", "none of the upper face"]]
        : [
            ["Scatter", `${length(scatter.sigmaMm)} from reading to reading`],
            ["Guessed", `${percent(found.outside)} of the face lies beyond the readings`],
          ]),
      ["Lies", restText(rests.length)],
      ["Clean", cleanText(found, units)],
    ]),
    ...suspectLines(found, units),
    ...densityLines(found, units),
    ...(seat.shims.length === 0
      ? []
      : [
          "",
          `  Shims for ${length(found.bestMm)}, ${length(gain)} more than without:`,
          ...aligned(
            seat.shims.map(({ x, y, thicknessMm }) => [
              length(thicknessMm),
              `at ${formatPoint(Math.round(x), Math.round(y), units)}`,
            ]),
          ),
        ]),
    ...(cleanUp.length === 0
      ? []
      : [
          "",
          ...aligned([
            ["Clean-up", "Depth", "Floor above bed", "Layers", "Machine time"],
            ...cleanUp.map(({ share, depthMm, floorMm, layers, seconds }) => [
              percent(share),
              length(depthMm),
              length(floorMm),
              String(layers),
              clockTime(seconds),
            ]),
          ]),
        ]),
    ...(cleanUpNote === "" ? [] : wrapped("  Mind: ", cleanUpNote)),
  ];
}

function shape({ riseMm, shape: kind }: PieceSurvey["form"]["cup"]): string {
  return riseMm < 0.005 ? "" : kind === "crowned" ? ", the middle high," : ", the middle low,";
}

function restText(rests: number): string {
  if (rests === 0) return "nothing under its middle: it tips over";
  if (rests === 1) return "still, on three places";
  return "rocks: it comes to rest in more than one way";
}

function cleanText({ asLaidMm, bestMm }: PieceSurvey, units: Units): string {
  const length = (mm: number) => formatLength(Math.round(mm * 100) / 100, units);
  if (bestMm <= 0) return "no thickness comes out clean on both faces";
  if (asLaidMm <= 0) return `nothing as it lies; ${length(bestMm)} at the best tilt, on both faces`;
  return `${length(asLaidMm)} on both faces as it lies, ${length(bestMm)} at the best tilt`;
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
  const text =
    density.kind === "scatter"
      ? `no number of readings gives a margin of ${margin}: they are off each other by too much, take them with more care`
      : `for a margin of ${margin} take about ${density.count} readings, ${formatLength(Math.round(density.spacingMm), units)} apart`;
  return wrapped("  Readings: ", text);
}

function writePicture(file: string, text: string): void {
  writeOut(file, text, (old) => old.includes("<svg"));
}
