// Whether pieces can lie as a setup has them: beside each other, in their mold, and without rocking.

import { PlanError } from "../errors.ts";
import type { Piece, Setup } from "../job/job.ts";
import { inOrOn, overlapOf } from "../job/outline.ts";
import { type Lay, moved } from "../passes/lays.ts";
import type { Warning } from "../plan.ts";
import { areaOf, difference, grown, regionOf } from "../region/region.ts";
import { boxOf } from "../survey/field.ts";
import { balanceOf } from "../survey/ring.ts";
import type { Stock } from "../survey/stock.ts";
import { formatArea, formatLength, formatPoint, type Units } from "../units.ts";

/** Throws PlanError `overlap` when pieces, turned over or cast, lie on each other. */
export function checkApart(pieces: readonly Piece[], { id }: Setup, units: Units): void {
  for (const [k, piece] of pieces.entries())
    for (const other of pieces.slice(0, k)) {
      const place = overlapOf(other.outline, piece.outline);
      if (place !== null)
        throw new PlanError(
          "overlap",
          id,
          `the pieces "${other.id}" and "${piece.id}", as they lie for this setup, overlap at ${formatPoint(place[0], place[1], units)}`,
        );
    }
}

/** What people may not think of when they push a long piece on past what stands on the bed. */
export function pushWarnings({ keepOuts }: Setup, lays: readonly Lay[], stocks: readonly Stock[]): Warning[] {
  const code = "pushed-keep-out";
  return keepOuts.flatMap((keepOut): Warning[] => {
    const { name, lays: named } = keepOut;
    const late = named?.find((number) => number > Math.max(1, lays.length));
    if (late !== undefined) {
      const found =
        lays.length > 1
          ? `there are ${lays.length} lays`
          : "the setup is cut in one lay, and the keep-out is kept clear";
      return [{ code, text: `keep-out "${name}" is named for lay ${late}; ${found}` }];
    }
    if (named !== null) return [];
    const meets = ({ shiftMm }: Lay) => {
      const { outline } = moved(keepOut, -shiftMm);
      return stocks.some(({ piece }) => overlapOf(piece.outline, outline) !== null);
    };
    const lay = lays.findIndex(meets) + 1;
    if (lay === 0) return [];
    const text =
      lay === 1
        ? `keep-out "${name}" stands over the wood of lay 1, and in every lay it is kept clear at that place on the bed; if it moves on with the wood, give it "lays": [1] and name it again for the lays after, where it will stand then`
        : `before lay ${lay} the wood is pushed to where keep-out "${name}" stands: take it away by then, and say so with "lays": [${Array.from({ length: lay - 1 }, (_, k) => k + 1).join(", ")}]`;
    return [{ code, text }];
  });
}

/** Edges of wood may touch the mold; so much is rounding. */
const TOUCH_MM = 0.05;
/** A given thickness may be this much less than the wood in it. */
const OUT_MM = 0.5;

/** Throws PlanError `mold` when the parts of a cast lie out of its mold, over each other, or out of its resin. */
export function checkMold(
  { piece, timbers, highestMm }: Stock,
  { id }: Setup,
  units: Units,
  parts: readonly Stock[],
): void {
  const mold = grown(regionOf([piece.outline]), TOUCH_MM);
  const fail = (text: string) => {
    throw new PlanError("mold", id, `piece "${piece.id}": ${text}`);
  };
  const length = (mm: number) => formatLength(mm, units);
  const nameOf = (k: number) => (k < piece.madeOf.length ? `"${piece.madeOf[k].piece}"` : "its wood");
  timbers?.forEach(({ outline, top }, k) => {
    const out = areaOf(difference(regionOf([outline]), mold));
    if (out > 1)
      fail(
        `${nameOf(k)} reaches out of the mold with ${formatArea(out, units)}; check "at", "angle" and the mold's outline${asLeft(parts, units)}`,
      );
    for (const [other, { outline: ring }] of timbers.slice(0, k).entries()) {
      const place = overlapOf(ring, outline);
      if (place !== null)
        fail(
          `in the mold ${nameOf(other)} and ${nameOf(k)} overlap at ${formatPoint(place[0], place[1], units)}; check "at" and "angle"${asLeft(parts, units)}`,
        );
    }
    let highest = Number.NEGATIVE_INFINITY;
    for (let c = 0; c < outline.length; c += 2)
      highest = Math.max(highest, top.heightAt(outline[c], outline[c + 1]));
    if (piece.upper === null && highest > highestMm + OUT_MM)
      fail(
        `${nameOf(k)} stands ${length(highest)} high in the mold, the piece only ${length(highestMm)}; check "thickness"`,
      );
  });
}

/** Where the parts of a cast lie before they are moved into the mold: whoever reckons "at" forgets that turning moved them. */
function asLeft(parts: readonly Stock[], units: Units): string {
  if (parts.length === 0) return "";
  const lie = parts.map(({ piece }) => {
    const { minX, minY, maxX, maxY } = boxOf([piece.outline]);
    return `"${piece.id}" from ${formatPoint(minX, minY, units)} to ${formatPoint(maxX, maxY, units)}`;
  });
  const [turned] = parts.filter(({ faceUp }) => faceUp === "under");
  const swaps =
    turned === undefined
      ? ""
      : `turning about ${turned.turned.toUpperCase()} has swapped ${turned.turned === "x" ? "near and far" : "left and right"}: `;
  return `; before they are moved (${swaps}after their last setups) ${lie.join(", ")}`;
}

/** A face lies safely on places that span this share of it at the least. Common practice, no source. */
const SPREAD_SHARE_MIN = 0.25;
const DIRECTIONS = 24;

/** Of a stock about to be turned over: says so when what will lie down was not cut flat over well-spread places. */
export function rockingWarning({ piece, up, highestMm }: Stock): { code: string; text: string } | null {
  const { outline } = piece;
  if (restsOn(outline, up, highestMm)) return null;
  return {
    code: "rocks",
    text:
      `piece "${piece.id}": the face that now lies down was not cut flat over three well-spread places, so it may rock; ` +
      "shim it until it lies still, and measure the face that is up again",
  };
}

function restsOn(outline: Piece["outline"], { surface, cut }: Stock["up"], heightMm: number): boolean {
  if (cut === null) return false;
  // The hull of the places cut to the highest plane, from the farthest in each direction.
  const far = Array.from({ length: DIRECTIONS }, (_, k) => {
    const angle = (2 * Math.PI * k) / DIRECTIONS;
    return { cos: Math.cos(angle), sin: Math.sin(angle), most: Number.NEGATIVE_INFINITY, x: 0, y: 0 };
  });
  const step = Math.max(1, Math.round(4 / cut.pitchMm));
  const [cols, rows] = [Math.ceil(cut.cols / step), Math.ceil(cut.rows / step)];
  const measured = new Float32Array(cols * rows);
  surface.sample({ x0: cut.x0, y0: cut.y0, pitchMm: step * cut.pitchMm, cols, rows }, 0, measured);
  for (let row = 0; row < cut.rows; row += step)
    for (let col = 0; col < cut.cols; col += step) {
      if (Math.abs(cut.z[row * cut.cols + col] - heightMm) > TOUCH_MM) continue;
      // The cutter also passes over what only the margin says may stand there.
      if (measured[(row / step) * cols + col / step] < heightMm - TOUCH_MM) continue;
      const [x, y] = [cut.x0 + col * cut.pitchMm, cut.y0 + row * cut.pitchMm];
      if (!inOrOn(outline, x, y, 0)) continue;
      for (const direction of far) {
        const reach = direction.cos * x + direction.sin * y;
        if (reach > direction.most) Object.assign(direction, { most: reach, x, y });
      }
    }
  if (far[0].most === Number.NEGATIVE_INFINITY) return false;
  const hull = Float64Array.from(far.flatMap(({ x, y }) => [x, y]));
  const { area } = balanceOf(hull);
  const whole = balanceOf(outline);
  return area >= SPREAD_SHARE_MIN * whole.area && inOrOn(hull, whole.x, whole.y, 1);
}
