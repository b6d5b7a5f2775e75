// A plan, and what a check found, as the plain JSON documents that scripts read: in the job's unit, and
// rounded so that like plans give like text. A number that is not known is null.

import type { Cast } from "./plan/pour.ts";
import type { CheckResult, Plan, PlannedSetup, Proof, Seconds } from "./plan.ts";
import { ADVICE_MARGIN_MM, type PieceSurvey } from "./survey.ts";
import { inUnits, type Units } from "./units.ts";

/** What `plan.json` says of itself. */
export const PLAN_FORMAT = "slabtrue-plan/1";

/** The contents of `plan.json`. */
export function planDocument(plan: Plan): object {
  const { job, seconds, cautions } = plan;
  return {
    format: PLAN_FORMAT,
    job: job.name,
    units: job.units,
    setups: plan.setups.map((planned) => setupDocument(planned, job.units)),
    shims: [...plan.seats].flatMap(([piece, { shims }]) =>
      shims.map(({ x, y, thicknessMm }) => ({
        piece,
        at: [lengthIn(x, job.units), lengthIn(y, job.units)],
        thickness: lengthIn(thicknessMm, job.units),
      })),
    ),
    casts: plan.casts.map((cast) => castDocument(cast, job.units)),
    notes: plan.notes,
    seconds: { machine: time(seconds.machine), shop: time(seconds.shop) },
    cautions,
  };
}

/** What `survey` says of itself. */
const SURVEY_FORMAT = "slabtrue-survey/1";

/** What `survey` says with `--json`, in `units`; slopes are lengths by length. */
export function surveyDocument(surveys: readonly PieceSurvey[], units: Units): object {
  const length = (mm: number) => lengthIn(mm, units);
  const places = (found: readonly { readonly x: number; readonly y: number; readonly z: number }[]) =>
    found.map(({ x, y, z }) => [length(x), length(y), length(z)]);
  return {
    format: SURVEY_FORMAT,
    units,
    pieces: surveys.map((found) => ({
      id: found.piece.id,
      flatness: length(found.flatnessMm),
      cup: length(found.form.cup.riseMm),
      bow: length(found.form.bow.riseMm),
      twist: length(found.form.twistMm),
      scatter: length(found.scatter?.sigmaMm ?? 0),
      suspects: places(found.scatter?.suspects ?? []),
      outside: share(found.outside),
      thickness: { asLaid: length(found.asLaidMm), best: length(found.bestMm) },
      seat: {
        tilt: [rounded(found.seat.tiltX, 9), rounded(found.seat.tiltY, 9)],
        shims: found.seat.shims.map(({ x, y, thicknessMm }) => ({
          at: [length(x), length(y)],
          thickness: length(thicknessMm),
        })),
      },
      rests: found.rests.map(({ supports }) =>
        supports.map(([x, y, z]) => [length(x), length(y), length(z)]),
      ),
      cleanUp: found.cleanUp.map((row) => ({
        share: row.share,
        depth: row.depthMm === null ? null : length(row.depthMm),
        thickness: row.floorMm === null ? null : length(row.floorMm),
        layers: row.layers,
        minutes: row.seconds === null ? null : rounded(row.seconds / 60, 2),
        ...(row.reason === "" ? {} : { reason: row.reason }),
      })),
      ...(found.density === null ? {} : { density: densityDocument(found.density, length) }),
    })),
  };
}

function densityDocument(
  density: NonNullable<PieceSurvey["density"]>,
  length: (mm: number) => number | null,
): object {
  const margin = length(ADVICE_MARGIN_MM);
  return density.kind === "scatter"
    ? { margin, least: length(density.leastMm) }
    : { margin, readings: density.count, spacing: length(density.spacingMm) };
}

/** What `check` says with `--json`, in `units`. */
export function checkDocument(result: CheckResult, units: Units): object {
  return {
    ok: result.ok,
    count: result.count,
    findings: result.findings.map(({ code, line, text }) => ({ code, line, text })),
    warnings: result.warnings.map(({ code, line, text }) => ({ code, line, text })),
    seconds: secondsDocument(result.seconds),
    proof: proofDocument(result.proof, units),
  };
}

function setupDocument(planned: PlannedSetup, units: Units): object {
  const { setup, zeroMm, extentMm, removedLitres } = planned;
  const length = (mm: number) => lengthIn(mm, units);
  return {
    id: setup.id,
    face: setup.face,
    cutter: setup.cutter.id,
    floor: length(planned.floorMm),
    margin: length(planned.marginMm),
    zero: [length(zeroMm.x), length(zeroMm.y), length(zeroMm.z)],
    programs: planned.programs.map(({ file, shiftMm, seconds }) => ({
      file,
      shift: shiftMm.map(length),
      seconds: time(seconds),
    })),
    layers: planned.layers.map((layer) => ({
      z: length(layer.zMm),
      depth: length(layer.depthMm),
      kind: layer.kind,
      rows: layer.rows,
      cutLength: length(layer.cutLengthMm),
      area: areaIn(layer.areaMm2, units),
      seconds: time(layer.seconds),
    })),
    extent: { min: extentMm.min.map(length), max: extentMm.max.map(length) },
    seconds: secondsDocument(planned.seconds),
    removed: { wood: litres(removedLitres.wood), resin: litres(removedLitres.resin) },
    removedMost: length(planned.removedMostMm),
    pieces: planned.pieces.map((piece) => ({
      id: piece.id,
      cleanUp: share(piece.cleanUp),
      ...(piece.resinCleanUp === null ? {} : { resinCleanUp: share(piece.resinCleanUp) }),
      thinnest: length(piece.thinnestMm),
      thickest: length(piece.thickestMm),
      cleanThickness: length(piece.cleanThicknessMm),
      removed: { wood: litres(piece.removedLitres.wood), resin: litres(piece.removedLitres.resin) },
      rough: piece.rough.map(({ x, y, deepMm, areaMm2 }) => ({
        at: [length(x), length(y)],
        deep: length(deepMm),
        area: areaIn(areaMm2, units),
      })),
    })),
    proof: proofDocument(planned.proof, units),
    warnings: planned.warnings.map(({ code, text }) => ({ code, text })),
  };
}

function castDocument(cast: Cast, units: Units): object {
  return {
    piece: cast.piece,
    resin: { litres: litres(cast.resinLitres), kilograms: mass(cast.resinKg) },
    wood: { litres: litres(cast.woodLitres) },
    mass: { before: mass(cast.massBeforeKg), after: mass(cast.massAfterKg) },
    skims: cast.skims.map((skim) => ({
      setup: skim.setup,
      skims: skim.skims,
      deeper: lengthIn(skim.deeperMm, units),
      secondsMore: time(skim.secondsMore),
      secondsLess: time(skim.secondsLess),
      resinLitresLess: litres(skim.resinLitresLess),
    })),
  };
}

function proofDocument(proof: Proof, units: Units): object {
  return {
    ok: proof.ok,
    cell: lengthIn(proof.cellMm, units),
    cleanUp: share(proof.cleanUp),
    highest: lengthIn(proof.highestMm, units),
    lowest: lengthIn(proof.lowestMm, units),
    deepestCut: lengthIn(proof.deepestCutMm, units),
    rapidHits: proof.rapidHits,
    keepOutHits: proof.keepOutHits,
    plungeHits: proof.plungeHits,
    outsideTravel: proof.outsideTravel,
  };
}

function secondsDocument(seconds: Seconds): object {
  return {
    total: time(seconds.total),
    cutting: time(seconds.cutting),
    linking: time(seconds.linking),
    rapid: time(seconds.rapid),
    spindle: time(seconds.spindle),
  };
}

/** To 0.1 um or 0.00001 in: finer than any program's last decimal. */
function lengthIn(mm: number, units: Units): number | null {
  return rounded(inUnits(mm, units), units === "mm" ? 4 : 5);
}

function areaIn(mm2: number, units: Units): number | null {
  return rounded(inUnits(inUnits(mm2, units), units), units === "mm" ? 1 : 3);
}

function time(seconds: number): number | null {
  return rounded(seconds, 3);
}

function litres(volume: number): number | null {
  return rounded(volume, 5);
}

function mass(kilograms: number): number | null {
  return rounded(kilograms, 3);
}

function share(part: number): number | null {
  return rounded(part, 6);
}

/** Null for what JSON has no number for; never -0. */
function rounded(value: number, decimals: number): number | null {
  return Number.isFinite(value) ? Number(value.toFixed(decimals)) + 0 : null;
}
