// Setups joined with what they name: pieces by id, a cutter of the shop. What a setup leaves out comes
// from its neighbours here, and what cannot go together is refused: depths beyond the cutter, pieces
// that overlap.

import type * as z from "zod";
import type { InputIssue } from "../errors.ts";
import { formatLength, formatPoint, type Units } from "../units.ts";
import type { Cutter, Passes, Piece, Setup } from "./job.ts";
import { overlapOf } from "./outline.ts";
import type { setupSchema } from "./setup.ts";
import type { Path, Source } from "./text.ts";
import { didYouMean, listed, quoted } from "./wording.ts";

type SetupDraft = z.output<ReturnType<typeof setupSchema>>;

/** What there is to name. Null stands for what exists, but does not hold. */
export interface Named {
  readonly pieces: ReadonlyMap<string, Piece | null>;
  /** Null where there is no shop to look in. */
  readonly cutters: ReadonlyMap<string, Cutter | null> | null;
}

/** A setup with its pieces and cutter, or null after adding to `issues` why not. */
export function linkedSetup(
  draft: SetupDraft,
  at: Path,
  named: Named,
  source: Source,
  units: Units,
  issues: InputIssue[],
): Setup | null {
  const report = (path: Path, text: string) => issues.push(source.issueAt([...at, ...path], text));
  const ids = draft.pieces ?? [...named.pieces.keys()];
  const pieces = ids.map((id, k) => {
    if (ids.indexOf(id) < k) report(["pieces", k], `the piece ${quoted(id)} is named twice; once is enough`);
    return lookUp(id, named.pieces, "piece", (text) => report(["pieces", k], text));
  });
  const cutter =
    named.cutters && lookUp(draft.cutter, named.cutters, "cutter", (text) => report(["cutter"], text));
  checkDepths(draft, cutter, units, report);

  const sound = pieces.filter((piece) => piece !== null);
  if (new Set(ids).size === ids.length)
    for (const text of overlaps(sound, units)) report(draft.pieces ? ["pieces"] : [], text);
  if (!cutter || sound.length < pieces.length) return null;
  return {
    id: draft.id,
    face: "upper",
    pieces: sound,
    cutter,
    target: draft.target,
    leaveMm: draft.leave,
    marginMm: draft.margin ?? null,
    passes: passesOf(draft.passes),
    keepOuts: draft.keepOut.map(({ name, outline, height }, k) => ({
      name: name ?? `keep-out ${k + 1}`,
      outline,
      heightMm: height,
    })),
    clear: { zMm: draft.clear.z, sideMm: draft.clear.side },
    zero: { xMm: draft.zero.x, yMm: draft.zero.y, z: draft.zero.z },
  };
}

function passesOf(draft: SetupDraft["passes"]): Passes {
  const { depth, stepover, feed, finish } = draft;
  return {
    depthMm: depth,
    finish: finish
      ? {
          depthMm: finish.depth ?? depth,
          stepoverShare: finish.stepover ?? stepover,
          feedMmPerMin: finish.feed ?? feed,
        }
      : null,
    stepoverShare: stepover,
    angleRad: draft.angle,
    rows: draft.rows,
    overrunMm: draft.overrun ?? null,
    feedMmPerMin: feed,
    resinFeedMmPerMin: draft.resinFeed ?? feed,
    speed: draft.speed,
    rampRad: draft.entry === "air" ? null : draft.entry.ramp,
  };
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

function checkDepths(
  { passes }: SetupDraft,
  cutter: Cutter | null,
  units: Units,
  report: (path: Path, text: string) => void,
): void {
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

/** One sentence for each two pieces that share ground. */
function* overlaps(pieces: readonly Piece[], units: Units): Generator<string> {
  for (const [k, piece] of pieces.entries())
    for (const other of pieces.slice(0, k)) {
      const place = overlapOf(other.outline, piece.outline);
      if (!place) continue;
      const where = formatPoint(place[0], place[1], units);
      yield `the pieces ${quoted(other.id)} and ${quoted(piece.id)} overlap at ${where}; pieces of one setup must lie beside each other`;
    }
}
