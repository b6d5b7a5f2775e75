// Where to read a face by hand: a CSV of few places with the heights left open, which comes back as readings when
// they are filled in. Both edges, the ends and the middle: cup, bow and twist show there. Frame coordinates.

import { PlanError } from "../errors.ts";
import type { Job, Piece } from "../job/job.ts";
import { grainOf } from "../passes/angle.ts";
import { isEmpty } from "../region/region.ts";
import { formatLength, inUnits, MM_PER_INCH, type Units } from "../units.ts";
import { groundOf } from "./ground.ts";
import { fewStations, type Station } from "./places.ts";

export interface HandList {
  readonly text: string;
  readonly places: number;
}

/** An indicator's foot stands this far from the edge; half of it on pieces where that leaves no ground. Common practice, no source. */
const EDGE_MM = 10;
/** Keep-outs are passed at the clearance and this, which rounding of the places uses up. */
const ROUND_MM = 1;
/** Stations about so far apart, so many of them; a wide piece is read in five places across. Common practice, no source. */
const STATION_MM = 300;
const STATIONS_MIN = 4;
const WIDE_MM = 800;
const PLACES_MAX = 30;

/** The list for the pieces of a job's first setup, and how the job will name its file. Throws PlanError. */
export function handList(job: Job, file = "heights.csv"): HandList {
  const [setup] = job.setups;
  const { units } = job;
  const names = setup.pieces.map(({ id }) => id).join(" and ");
  const unit =
    units === "mm" ? "millimetres; a point for decimals" : "inches, as 2.125 or 2 1/8; a point for decimals";
  const lines = [
    `# Heights of the upper face of ${names}, for the job ${job.name}`,
    `# Write each height above the bed behind the last comma of its line: ${unit}`,
    "# X and Y count from where the outlines in the job file count from",
    "# Where you cannot read: delete the line; or read beside it and put x and y right",
    `# When every line has its height: name this file in the job, as "upper": { "file": ${JSON.stringify(file)} }`,
    `# units: ${units}`,
    "x,y,z",
  ];
  let places = 0;
  for (const piece of setup.pieces) {
    const stations = stationsOf(job, piece);
    stations.forEach((station, k) => {
      lines.push(`# Piece ${piece.id}, ${stationName(k, stations.length)}`);
      for (const { x, y } of station) lines.push(`${rounded(x, units)},${rounded(y, units)},`);
      places += station.length;
    });
  }
  const harmless = lines.map((line) => line.replace(/[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/gu, " "));
  return { text: `${harmless.join("\n")}\n`, places };
}

function stationsOf({ setups: [setup], units }: Job, piece: Piece): Station[] {
  const keepOuts = setup.keepOuts.map((keepOut) => ({ keepOut, distanceMm: setup.clear.sideMm + ROUND_MM }));
  const wide = groundOf(piece, EDGE_MM, keepOuts);
  const ground = isEmpty(wide) ? groundOf(piece, EDGE_MM / 2, keepOuts) : wide;
  if (isEmpty(ground)) {
    const text = `piece "${piece.id}" has no place that is ${formatLength(EDGE_MM / 2, units)} inside its outline and clear of the keep-outs`;
    throw new PlanError("no-place", setup.id, text);
  }
  return fewStations(ground, grainOf(piece), howMany, PLACES_MAX);
}

function howMany(lengthMm: number, widthMm: number) {
  const across = widthMm > WIDE_MM ? 5 : 3;
  const wanted = Math.round(lengthMm / STATION_MM) + 1;
  return { across, stations: Math.max(STATIONS_MIN, Math.min(Math.floor(PLACES_MAX / across), wanted)) };
}

function stationName(k: number, count: number): string {
  if (k === 0) return "at one end";
  return k === count - 1 ? "at the other end" : `station ${k + 1} of ${count}`;
}

/** Places that a tape finds: whole millimetres, sixteenths of an inch. */
function rounded(mm: number, units: Units): string {
  const stepMm = units === "mm" ? 1 : MM_PER_INCH / 16;
  const value = inUnits(Math.round(mm / stepMm) * stepMm, units);
  return String(Number(value.toFixed(4)) + 0);
}
