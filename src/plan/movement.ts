// How the wood of a planned job will move.

import { movementNote, widthAcrossGrainMm } from "../cutting/movement.ts";
import type { Job, Piece } from "../job/job.ts";
import { grainOf } from "../passes/angle.ts";
import type { PlannedSetup } from "../plan.ts";

/** How a piece's wood will move once it is as the last of its setups leaves it; null where nothing is to be said. */
export function movement(
  { id, moisture }: Piece,
  setups: readonly PlannedSetup[],
  { pieces, units, shop }: Job,
): string | null {
  const lastOf = (name: string) => {
    const last = setups.findLast((setup) => setup.pieces.some((piece) => piece.id === name));
    const index = last?.pieces.findIndex((piece) => piece.id === name) ?? -1;
    return last && { stock: last.found[index], thicknessMm: last.pieces[index].thickestMm };
  };
  const own = lastOf(id);
  if (own === undefined || moisture === null) return null;
  // A part of a cast is as thick as the cast.
  let whole = id;
  for (;;) {
    const cast = pieces.find(({ madeOf }) => madeOf.some((part) => part.piece === whole));
    if (cast === undefined) break;
    whole = cast.id;
  }
  const { piece, timbers } = own.stock;
  const { thicknessMm } = lastOf(whole) ?? own;
  const outlines = timbers?.map(({ outline }) => outline) ?? [piece.outline];
  const widthMm = widthAcrossGrainMm(outlines, grainOf(piece));
  return movementNote(
    { piece, thicknessMm, widthMm, inResin: whole !== id || timbers !== null },
    units,
    shop.materials,
  );
}
