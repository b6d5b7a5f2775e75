// The judge's bench: the pieces of a raw job through all its setups, cut by the text of their programs alone.
// Between setups a piece is turned over, set into a mold, or pushed along, all cell by cell: each cell knows how
// high its faces were measured, how far they have been cut, and where its wood lies. Shares no code with src.

import {
  cellsOver,
  heightsOn,
  highestReading,
  judgeFloor,
  judgeProgram,
  type Patch,
  type Problem,
  type ProblemCode,
  placeOf,
} from "./judge.ts";
import { measuredFace } from "./judge-face.ts";
import {
  type JudgedPiece,
  type JudgedReadings,
  type JudgedSetup,
  judgedPiece,
  judgedSetup,
  type RawJob,
} from "./judge-job.ts";
import { boxOf, distanceToShape, isInside, type Polygon } from "./judge-plane.ts";

type Cells = ReturnType<typeof cellsOver>;

/** One face of a piece, cell by cell. */
interface Side {
  /** As measured. */
  readonly z: Float64Array;
  /** Where the cutting edge has been: Infinity (of the face that is down -Infinity) where it was not. */
  readonly cutAt: Float64Array;
  readonly leaveMm: number;
}

interface Body extends Cells {
  readonly id: string;
  readonly outline: Polygon;
  readonly up: Side;
  readonly down: Side;
  readonly wood: { readonly top: Float64Array; readonly bottom: Float64Array } | null;
  readonly highestMm: number;
  readonly lowestMm: number;
  /** Whether the highest place was found by cells: one that a keep-out has left uncut. */
  readonly coarse: boolean;
  readonly faceUp: string;
  readonly axis: "x" | "y";
}

/** What the judge finds of one piece after a setup. */
export interface JudgedLeft {
  /** How high the piece lies is known to a cell only, so that its shares of an almost level face mean little. */
  readonly coarse: boolean;
  readonly cleanUp: number;
  readonly woodLitres: number;
  readonly resinLitres: number;
  readonly thinnestMm: number;
  readonly thickestMm: number;
  /** In the cell that holds the place. */
  readonly thicknessAtMm: (x: number, y: number) => number;
}

export interface SetupVerdict {
  readonly problems: readonly Problem[];
  readonly pieces: Readonly<Record<string, JudgedLeft>>;
}

/** A program as a plan has it: its text, and how far the wood was pushed for it. */
export interface LayProgram {
  readonly text: string;
  readonly shiftMm: number;
}

const EVEN_MM = 0.02; // how far the volumes of an even target may differ, as a height all over the pieces
const FLOOR_FOUND_MM = 0.06; // of a floor below the highest place that a setup has left, known to a cell

export class JudgesBench {
  private readonly job: RawJob;
  private readonly cellMm: number;
  private readonly bodies = new Map<string, Body>();
  private done = 0;

  constructor(job: RawJob, cellMm = 2) {
    this.job = job;
    this.cellMm = cellMm;
  }

  /** Judges the programs of the next setup, whose plan claims the floor, and used the margin where the job names none. */
  next(programs: readonly LayProgram[], floorMm: number, marginMm?: number): SetupVerdict {
    const { job } = this;
    const raw = job.setups[this.done];
    const setup = judgedSetup(job, raw.id, marginMm);
    const ids = raw.pieces ?? this.existing();
    const bodies = this.laid(
      ids.map((id) => this.body(id)),
      setup,
    );
    const patches = bodies.map((body) => patchOf(body, setup.marginMm));
    const before = patches.map(({ top }) => top.slice());
    const problems: Problem[] = [];
    checkFloor(setup, bodies, patches, floorMm, (code, line, text) => problems.push({ code, line, text }));
    const shifts = programs.map(({ shiftMm }) => shiftMm);
    programs.forEach(({ text, shiftMm }, k) => {
      const lays = k === programs.length - 1 ? shifts : null;
      problems.push(...judgeProgram({ setup, shiftMm, lay: k + 1, lays }, patches, text, floorMm).problems);
    });
    const pieces = bodies.map((body, k) => [body.id, leftOf(body, patches[k], floorMm)] as const);
    bodies.forEach((body, k) => {
      this.bodies.set(body.id, cutBody(body, patches[k], before[k], setup));
    });
    this.done++;
    return { problems, pieces: Object.fromEntries(pieces) };
  }

  /** A piece waits for the setups after which its parts are cast, and is gone after the one that it is cast after. */
  private existing(): string[] {
    const index = (id: string) => this.job.setups.findIndex((setup) => setup.id === id);
    const parts = this.job.pieces.flatMap(({ madeOf }) => madeOf ?? []);
    return this.job.pieces
      .filter(({ madeOf }) => (madeOf ?? []).every(({ after }) => index(after) < this.done))
      .filter(({ id }) => parts.every(({ piece, after }) => piece !== id || index(after) >= this.done))
      .map(({ id }) => id);
  }

  private body(id: string): Body {
    const known = this.bodies.get(id);
    if (known) return known;
    const raw = this.job.pieces.find((piece) => piece.id === id);
    if (!raw) throw new Error(`the job has no piece ${id}`);
    const piece = judgedPiece(raw, this.job.units);
    return piece.madeOf.length > 0 ? this.cast(piece) : freshBody(piece, this.cellMm);
  }

  private cast(piece: JudgedPiece): Body {
    const parts = piece.madeOf.map((part) => {
      const body = this.bodies.get(part.piece);
      if (!body) throw new Error(`${part.piece} was never cut`);
      const [cos, sin] = [Math.cos(part.angleRad), Math.sin(part.angleRad)];
      const [atX, atY] = part.atMm;
      const back = (x: number, y: number): [number, number] => [
        cos * (x - atX) + sin * (y - atY),
        cos * (y - atY) - sin * (x - atX),
      ];
      return { body, back, raiseMm: piece.shellMm.under - body.lowestMm };
    });
    const cells = cellsOver(piece.outline, { cellMm: this.cellMm });
    const top = new Float64Array(cells.inside.length).fill(NaN);
    const bottom = new Float64Array(cells.inside.length).fill(NaN);
    let highest = -Infinity;
    for (const { body, raiseMm } of parts)
      for (let i = 0; i < body.inside.length; i++)
        if (body.inside[i] === 1) highest = Math.max(highest, upAt(body, i) + raiseMm);
    for (let i = 0; i < top.length; i++) {
      if (cells.inside[i] === 0) continue;
      const [x, y] = placeOf(cells, i);
      for (const { body, back, raiseMm } of parts) {
        const [px, py] = back(x, y);
        if (!isInside(body.outline, px, py)) continue;
        const at = nearestCell(body, px, py);
        top[i] = upAt(body, at) + raiseMm;
        bottom[i] = downAt(body, at) + raiseMm;
      }
    }
    const flatMm = Number.isNaN(piece.thicknessMm) ? highest + piece.shellMm.upper : piece.thicknessMm;
    const fresh = freshBody({ ...piece, thicknessMm: flatMm, wood: [] }, this.cellMm);
    return { ...fresh, wood: { top, bottom } };
  }

  private laid(bodies: readonly Body[], setup: JudgedSetup): Body[] {
    const box = boxOf(bodies.map(({ outline }) => outline));
    return bodies.map((body) => {
      if (body.faceUp === setup.face) return body;
      const axis = setup.face === "under" ? setup.turn : body.axis;
      return turnedOver(body, axis, axis === "x" ? box.yMin + box.yMax : box.xMin + box.xMax);
    });
  }
}

function freshBody(piece: JudgedPiece, cellMm: number): Body {
  const cells = cellsOver(piece.outline, { cellMm });
  const count = cells.inside.length;
  const up = heightsOn(cells, measuredFace(piece.readings, piece.thicknessMm));
  const down = heightsOn(cells, measuredFace(piece.under, 0));
  const { wood, shellMm } = piece;
  const shelled = wood !== null || shellMm.upper > 0 || shellMm.under > 0;
  const isWood = Array.from({ length: shelled ? count : 0 }, (_, i) =>
    (wood ?? [piece.outline]).some((outline) => isInside(outline, ...placeOf(cells, i))),
  );
  return {
    ...cells,
    ...{ id: piece.id, outline: piece.outline, faceUp: "upper", axis: "x", coarse: false },
    up: { z: up, cutAt: new Float64Array(count).fill(Infinity), leaveMm: 0 },
    down: { z: down, cutAt: new Float64Array(count).fill(-Infinity), leaveMm: 0 },
    wood: shelled
      ? {
          top: up.map((z, i) => (isWood[i] ? z - shellMm.upper : NaN)),
          bottom: down.map((z, i) => (isWood[i] ? z + shellMm.under : NaN)),
        }
      : null,
    highestMm: highestReading(piece),
    lowestMm: lowestReading(piece.outline, piece.under),
  };
}

function lowestReading(outline: Polygon, under: JudgedReadings | null): number {
  if (!under) return 0;
  return under.points.reduce(
    (lowest, [x, y, z]) => (distanceToShape(outline, x, y) < 1e-6 ? Math.min(lowest, z) : lowest),
    Infinity,
  );
}

function turnedOver(body: Body, axis: "x" | "y", sumMm: number): Body {
  const { cols, rows, cellMm, highestMm } = body;
  const from = (i: number) => {
    const [col, row] = [i % cols, Math.floor(i / cols)];
    return axis === "x" ? (rows - 1 - row) * cols + col : row * cols + cols - 1 - col;
  };
  const mirrored = (z: Float64Array) => z.map((_, i) => highestMm - z[from(i)]);
  const side = ({ z, cutAt, leaveMm }: Side): Side => ({ z: mirrored(z), cutAt: mirrored(cutAt), leaveMm });
  return {
    ...body,
    x0: axis === "y" ? sumMm - body.x0 - (cols - 1) * cellMm : body.x0,
    y0: axis === "x" ? sumMm - body.y0 - (rows - 1) * cellMm : body.y0,
    inside: body.inside.map((_, i) => body.inside[from(i)]),
    outline: body.outline.map(([x, y]): readonly [number, number] =>
      axis === "x" ? [x, sumMm - y] : [sumMm - x, y],
    ),
    up: side(body.down),
    down: side(body.up),
    wood: body.wood && { top: mirrored(body.wood.bottom), bottom: mirrored(body.wood.top) },
    highestMm: highestMm - body.lowestMm,
    lowestMm: 0,
    faceUp: body.faceUp === "upper" ? "under" : "upper",
    axis,
  };
}

function upAt({ up }: Body, i: number): number {
  return Math.min(up.z[i], up.cutAt[i]);
}

function downAt({ down }: Body, i: number): number {
  return Math.max(down.z[i], down.cutAt[i]);
}

/** The cell inside that is nearest to a place inside. */
function nearestCell(body: Body, x: number, y: number): number {
  const { x0, y0, cellMm, cols, rows, inside } = body;
  const [col, row] = [Math.round((x - x0) / cellMm), Math.round((y - y0) / cellMm)];
  let best = -1;
  let least = Infinity;
  for (let reach = 0; reach < 4 && best < 0; reach++)
    for (let r = Math.max(0, row - reach); r <= Math.min(rows - 1, row + reach); r++)
      for (let c = Math.max(0, col - reach); c <= Math.min(cols - 1, col + reach); c++) {
        const [cx, cy] = placeOf(body, r * cols + c);
        const away = (cx - x) ** 2 + (cy - y) ** 2;
        if (inside[r * cols + c] === 1 && away < least) [best, least] = [r * cols + c, away];
      }
  if (best < 0) throw new Error(`no cell of ${body.id} near ${x} ${y}`);
  return best;
}

function patchOf(body: Body, marginMm: number): Patch {
  const { id, outline, cols, rows, cellMm, x0, y0, inside, up, wood, highestMm } = body;
  const measured = up.z.map((_, i) => (inside[i] === 1 ? upAt(body, i) : -Infinity));
  const top = up.z.map((z, i) => (inside[i] === 1 ? Math.min(z + marginMm, up.cutAt[i]) : -Infinity));
  return { id, outline, cols, rows, cellMm, x0, y0, inside, measured, top, wood, highestMm };
}

function cutBody(body: Body, { top }: Patch, before: Float64Array, setup: JudgedSetup): Body {
  const { thickness, even } = setup.target;
  const leaveMm = thickness !== undefined || even !== undefined ? setup.leaveMm : 0;
  const cutAt = body.up.cutAt.map((at, i) => (top[i] < before[i] ? Math.min(at, top[i]) : at));
  const cut = { ...body, up: { z: body.up.z, cutAt, leaveMm } };
  let [highest, highestCut] = [-Infinity, -Infinity];
  for (let i = 0; i < top.length; i++) {
    if (body.inside[i] === 0) continue;
    highest = Math.max(highest, upAt(cut, i));
    // The edge may also have passed over a place without taking anything.
    if (cutAt[i] <= body.up.z[i]) highestCut = Math.max(highestCut, cutAt[i]);
  }
  return { ...cut, highestMm: Math.min(body.highestMm, highest), coarse: highestCut < highest };
}

function leftOf(body: Body, { top, wood, measured }: Patch, floorMm: number): JudgedLeft {
  const mm2 = body.cellMm ** 2;
  let [cells, clean, woodMm3, allMm3] = [0, 0, 0, 0];
  let [thinnestMm, thickestMm] = [Infinity, -Infinity];
  for (let i = 0; i < top.length; i++) {
    if (body.inside[i] === 0) continue;
    const left = Math.min(measured[i], top[i]);
    const face = wood ? Math.min(measured[i], wood.top[i]) : measured[i];
    allMm3 += (measured[i] - left) * mm2;
    if (!Number.isNaN(face)) {
      cells++;
      if (face > floorMm && top[i] <= floorMm + 0.02) clean++;
      woodMm3 += Math.max(0, face - Math.max(left, wood ? wood.bottom[i] : -Infinity)) * mm2;
    }
    const thick = left - downAt(body, i);
    thinnestMm = Math.min(thinnestMm, thick);
    thickestMm = Math.max(thickestMm, thick);
  }
  return {
    coarse: body.coarse,
    cleanUp: clean / cells,
    woodLitres: woodMm3 / 1e6,
    resinLitres: (allMm3 - woodMm3) / 1e6,
    ...{ thinnestMm, thickestMm },
    thicknessAtMm: (x, y) => {
      const i = nearestCell(body, x, y);
      return Math.min(measured[i], top[i]) - downAt(body, i);
    },
  };
}

function checkFloor(
  setup: JudgedSetup,
  bodies: readonly Body[],
  patches: readonly Patch[],
  floorMm: number,
  report: (code: ProblemCode, line: number, text: string) => void,
): void {
  // How high a piece lies is then known to a cell only, and a share may hang on that.
  if (setup.target.thickness === undefined && bodies.some(({ coarse }) => coarse)) return;
  if (setup.target.even === undefined) {
    const leaveBelow = Math.max(...bodies.map(({ down }) => down.leaveMm));
    const fresh = bodies.every(({ up, wood }) => wood === null && up.cutAt.every((at) => at === Infinity));
    const exact = setup.target.thickness !== undefined || fresh;
    judgeFloor(setup, patches, floorMm, report, leaveBelow, exact ? undefined : FLOOR_FOUND_MM);
    return;
  }
  // As much above the floor (less what is left for sanding) as lies below it by more than the thickness.
  const f = floorMm - setup.leaveMm;
  let [surplusMm3, areaMm2] = [0, 0];
  for (const body of bodies) {
    const mm2 = body.cellMm ** 2;
    for (let i = 0; i < body.inside.length; i++) {
      if (body.inside[i] === 0) continue;
      const above = Math.max(0, upAt(body, i) - f);
      surplusMm3 += (above - Math.max(0, f - setup.target.evenMm - downAt(body, i))) * mm2;
      areaMm2 += mm2;
    }
  }
  if (Math.abs(surplusMm3) > EVEN_MM * areaMm2)
    report("floor", 0, `${floorMm}: above ${f} stand ${surplusMm3 / 1e6} litres more than below it`);
}
