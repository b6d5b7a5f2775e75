// Setups joined with what they name: pieces by id, a cutter of the shop. What a setup leaves out comes
// from its neighbours here, and what cannot go together is refused: depths beyond the cutter, pieces
// that overlap, pieces that are not there yet or are in a mold already.

import { type Asked, advise } from "../cutting/advise.ts";
import { hardestOf } from "../cutting/warnings.ts";
import { formatLength, formatPoint, type Units } from "../units.ts";
import type { Lives } from "./casting.ts";
import type { SetupDraft } from "./drawings.ts";
import type { Cutter, Passes, Piece, Setup, Shop } from "./job.ts";
import { overlapOf } from "./outline.ts";
import type { Path } from "./text.ts";
import { didYouMean, listed, quoted } from "./wording.ts";

/** What there is to name, by id; a null item exists, but does not hold. Null: no list to look in. */
export interface Named {
  readonly pieces: ReadonlyMap<string, Piece | null> | null;
  readonly cutters: ReadonlyMap<string, Cutter | null> | null;
  /** Null where it does not hold. */
  readonly shop: Shop | null;
}

/** Takes what is wrong and where in the setup. */
export type Report = (path: Path, text: string) => void;

/** The setup of that index with its pieces and cutter, or null after reporting why not. */
export function linkedSetup(
  draft: SetupDraft,
  index: number,
  named: Named,
  lives: Lives,
  units: Units,
  report: Report,
): Setup | null {
  const pieces = findPieces(draft.pieces ?? lives.at(index), named, report);
  // Where a piece does not hold, that is told already.
  const allHold = named.pieces !== null && [...named.pieces.values()].every((piece) => piece !== null);
  if (pieces.length === 0 && allHold)
    report([], "no piece is there to be cut: all are in the mold of a cast piece");
  let there = lives.sound;
  draft.pieces?.forEach((id, k) => {
    const why = lives.missing(id, index);
    if (why === null) return;
    there = false;
    report(["pieces", k], why);
  });
  const cutter = findCutter(draft.cutter, named, report);
  checkDepths(draft, cutter, units, report);

  const sound = [...new Set(pieces)].filter((piece) => piece !== null);
  // A cast and its parts share ground, but are never there together.
  if (there) for (const text of overlaps(sound, units)) report(draft.pieces ? ["pieces"] : [], text);
  draft.keepOut.forEach(({ lays }, k) => {
    if (lays && draft.reindex === undefined)
      report(
        ["keepOut", k, "lays"],
        `found ${lays.join(", ")}, but this setup is cut in one lay; wanted "reindex" beside it, or no lays`,
      );
  });
  if (!cutter || !named.shop || sound.length === 0 || sound.length < pieces.length) return null;
  return {
    id: draft.id,
    face: draft.face,
    turn: draft.turn,
    pieces: sound,
    cutter,
    target: draft.target,
    leaveMm: draft.leave,
    marginMm: draft.margin ?? null,
    passes: passesOf(draft.passes, cutter, sound, named.shop, units),
    keepOuts: draft.keepOut.map(({ name, outline, height, lays = null }, k) => ({
      name: name ?? `keep-out ${k + 1}`,
      outline,
      heightMm: height,
      lays,
    })),
    clear: { zMm: draft.clear.z, sideMm: draft.clear.side },
    zero: { xMm: draft.zero.x, yMm: draft.zero.y, z: draft.zero.z },
    reindexMm: draft.reindex?.overlap ?? null,
  };
}

/** Reports the names that lead nowhere in a setup that does not hold for other reasons. */
export function checkNames(written: Readonly<Record<string, unknown>>, named: Named, report: Report): void {
  const { pieces, cutter } = written;
  if (Array.isArray(pieces)) findPieces(pieces, named, report);
  if (typeof cutter === "string") findCutter(cutter, named, report);
}

function passesOf(
  draft: SetupDraft["passes"],
  cutter: Cutter,
  pieces: readonly Piece[],
  { machine, materials }: Shop,
  units: Units,
): Passes {
  const { depth, stepover, feed, resinFeed = null, speed } = draft;
  const finish = draft.finish
    ? { depthMm: draft.finish.depth ?? depth, stepoverShare: draft.finish.stepover ?? stepover }
    : null;
  const asked: Asked = {
    ...{ speed, feedMmPerMin: feed, resinFeedMmPerMin: resinFeed },
    finishFeedMmPerMin: draft.finish?.feed ?? null,
  };
  const advice = advise(
    asked,
    {
      ...{ cutter, machine, depthMm: depth, stepoverShare: stepover, finish },
      ...hardestOf(pieces, materials),
    },
    units,
  );
  const { feedMmPerMin } = advice;
  return {
    depthMm: depth,
    finish: finish && { ...finish, feedMmPerMin: advice.finishFeedMmPerMin ?? feedMmPerMin },
    stepoverShare: stepover,
    angleRad: draft.angle === "fastest" ? 0 : draft.angle,
    fastest: draft.angle === "fastest",
    edgeFirst: draft.edgeFirst,
    rows: draft.rows,
    overrunMm: draft.overrun ?? null,
    feedMmPerMin,
    resinFeedMmPerMin: advice.resinFeedMmPerMin ?? (resinFeed === "advise" ? null : resinFeed),
    speed: advice.speed,
    ...(Object.values(asked).includes("advise") ? { advised: advice.text } : {}),
    rampRad: draft.entry === "air" ? null : draft.entry.ramp,
  };
}

function findPieces(ids: readonly unknown[], { pieces }: Named, report: Report): (Piece | null)[] {
  return ids.map((id, k) => {
    if (pieces === null || typeof id !== "string") return null;
    if (ids.indexOf(id) < k) report(["pieces", k], `the piece ${quoted(id)} is named twice; once is enough`);
    return lookUp(id, pieces, "piece", (text) => report(["pieces", k], text));
  });
}

function findCutter(id: string, { cutters }: Named, report: Report): Cutter | null {
  return cutters && lookUp(id, cutters, "cutter", (text) => report(["cutter"], text));
}

function lookUp<T>(
  id: string,
  all: ReadonlyMap<string, T | null>,
  noun: string,
  report: (text: string) => void,
): T | null {
  const found = all.get(id);
  if (found !== undefined) return found;
  const names = [...all.keys()];
  const near = didYouMean(id, names);
  const known = names.slice(0, 10).map((name) => quoted(name));
  report(`there is no ${noun} ${quoted(id)}${near || `; wanted ${listed(known) || `the id of a ${noun}`}`}`);
  return null;
}

function checkDepths({ passes }: SetupDraft, cutter: Cutter | null, units: Units, report: Report): void {
  const { depth, finish } = passes;
  if (finish?.depth !== undefined && finish.depth > depth) {
    const most = `at most ${formatLength(depth, units)}, the depth of the passes before it`;
    report(["passes", "finish", "depth"], `found ${formatLength(finish.depth, units)}; wanted ${most}`);
  }
  if (cutter && depth > cutter.depthMaxMm) {
    const most = `at most ${formatLength(cutter.depthMaxMm, units)}, the depthMax of cutter ${quoted(cutter.id)}`;
    report(["passes", "depth"], `found ${formatLength(depth, units)} a pass; wanted ${most}`);
  }
}

/** One sentence for each two pieces that share ground, 20 at most. */
function* overlaps(pieces: readonly Piece[], units: Units): Generator<string> {
  let told = 0;
  for (const [k, piece] of pieces.entries())
    for (const other of pieces.slice(0, k)) {
      const place = overlapOf(other.outline, piece.outline);
      if (!place) continue;
      const where = formatPoint(place[0], place[1], units);
      yield `the pieces ${quoted(other.id)} and ${quoted(piece.id)} overlap at ${where}; pieces of one setup must lie beside each other`;
      if (++told === 20) return;
    }
}
