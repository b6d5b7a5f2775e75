// Pieces and setups with the outlines that stand in drawings read, so that every outline is a ring.

import type * as z from "zod";
import type { Ring } from "./job.ts";
import type { pieceSchema } from "./piece.ts";
import type { setupSchema } from "./setup.ts";
import type { RingOrDrawing } from "./shape.ts";
import type { Path } from "./text.ts";

type WrittenPiece = z.output<ReturnType<typeof pieceSchema>>;
type WrittenSetup = z.output<ReturnType<typeof setupSchema>>;

export type PieceDraft = Omit<WrittenPiece, "outline" | "wood"> & {
  readonly outline: Ring;
  readonly wood?: readonly Ring[] | undefined;
};

export type SetupDraft = Omit<WrittenSetup, "keepOut"> & {
  readonly keepOut: readonly (Omit<WrittenSetup["keepOut"][number], "outline"> & {
    readonly outline: Ring;
  })[];
};

/** The ring of the outline at that place of the job file, or null after reporting why there is none. */
export type RingReader = (outline: RingOrDrawing, at: Path) => Ring | null;

/** Null where a drawing does not give its ring. */
export function pieceWithRings(piece: WrittenPiece, at: Path, ringFor: RingReader): PieceDraft | null {
  const outline = ringFor(piece.outline, [...at, "outline"]);
  const wood = piece.wood && allOrNone(piece.wood.map((ring, k) => ringFor(ring, [...at, "wood", k])));
  return outline === null || wood === null ? null : { ...piece, outline, wood };
}

/** Null where a drawing does not give its ring. */
export function setupWithRings(setup: WrittenSetup, at: Path, ringFor: RingReader): SetupDraft | null {
  const keepOut = allOrNone(
    setup.keepOut.map((item, k) => {
      const outline = ringFor(item.outline, [...at, "keepOut", k, "outline"]);
      return outline && { ...item, outline };
    }),
  );
  return keepOut && { ...setup, keepOut };
}

function allOrNone<T>(items: readonly (T | null)[]): T[] | null {
  const found = items.filter((item) => item !== null);
  return found.length === items.length ? found : null;
}
