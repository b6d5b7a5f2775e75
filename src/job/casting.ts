// Which pieces there are when: a piece goes into its mold after the setup that its cast names, and the
// cast takes its place once all its parts are in. What cannot be - a piece cast from itself, in two
// molds, after a setup that does not cut it - is reported.

import type { CastPart } from "./job.ts";
import { didYouMean, quoted } from "./wording.ts";

/** What casting needs to know of pieces and setups, as far as they hold. */
export interface CastPlan {
  readonly pieces: ReadonlyMap<string, { readonly madeOf: readonly CastPart[] }>;
  /** The setups in order: their ids, and the pieces that they name; null: all that exist then. */
  readonly setups: readonly { readonly id: string; readonly pieces: readonly string[] | null }[];
}

/** The setups between which each piece exists. */
export interface Lives {
  /** Whether nothing was reported: else pieces may seem to be there together that are not. */
  readonly sound: boolean;
  /** Ids of the pieces that exist when the setup of that index begins, in the job's order. */
  at(index: number): string[];
  /** Why a piece is not there for the setup of that index; null when it is. */
  missing(id: string, index: number): string | null;
}

interface Life {
  /** The first setup it can be in, and the first it no longer can. */
  from: number;
  until: number;
  /** The cast that it goes into. */
  into: string;
}

/** Follows all pieces through the setups; reports at the cast piece's `madeOf` what cannot be. */
export function livesOf(
  plan: CastPlan,
  report: (piece: string, path: (string | number)[], text: string) => void,
): Lives {
  const lives = new Map<string, Life>();
  let sound = true;
  const tell = (piece: string, path: (string | number)[], text: string) => {
    sound = false;
    report(piece, path, text);
  };
  for (const id of plan.pieces.keys()) lives.set(id, { from: 0, until: Number.POSITIVE_INFINITY, into: "" });
  const order = setupOrder(plan);
  for (const [id, { madeOf }] of plan.pieces) {
    madeOf.forEach((part, k) => {
      const life = lives.get(part.piece);
      const say = (field: string, text: string) => tell(id, ["madeOf", k, field], text);
      if (life === undefined) {
        const hint = didYouMean(part.piece, [...plan.pieces.keys()]);
        say("piece", `there is no piece ${quoted(part.piece)}${hint}`);
      } else if (leadsTo(plan, part.piece, id))
        say("piece", `the piece ${quoted(id)} would be made of itself; take one of the links out`);
      else if (life.into !== "")
        say(
          "piece",
          `the piece ${quoted(part.piece)} is already in the mold of ${quoted(life.into)}; it can be cast once`,
        );
      else {
        life.into = id;
        const index = order.get(part.after);
        if (index === undefined)
          say("after", `there is no setup ${quoted(part.after)}${didYouMean(part.after, [...order.keys()])}`);
        else {
          life.until = index + 1;
          const cast = lives.get(id);
          if (cast !== undefined) cast.from = Math.max(cast.from, index + 1);
        }
      }
    });
  }
  const exists = (id: string, index: number) => {
    const life = lives.get(id);
    return life !== undefined && life.from <= index && index < life.until;
  };
  // A setup can only leave a piece that it cuts.
  for (const [id, { madeOf }] of plan.pieces)
    madeOf.forEach(({ piece, after }, k) => {
      const index = order.get(after);
      const life = lives.get(piece);
      if (index === undefined || life === undefined || life.into !== id) return;
      const named = plan.setups[index].pieces;
      if (life.from > index || (named !== null && !named.includes(piece)))
        tell(
          id,
          ["madeOf", k, "after"],
          `the setup ${quoted(after)} does not cut the piece ${quoted(piece)}; wanted the last setup that does`,
        );
    });
  return {
    sound,
    at: (index) => [...plan.pieces.keys()].filter((id) => exists(id, index)),
    missing: (id, index) => {
      const life = lives.get(id);
      if (life === undefined || exists(id, index)) return null;
      const setup = (at: number) => quoted(plan.setups[at]?.id ?? "");
      return index < life.from
        ? `the piece ${quoted(id)} is cast after the setup ${setup(life.from - 1)}, and this setup comes before that`
        : `the piece ${quoted(id)} is in the mold of ${quoted(life.into)} since the setup ${setup(life.until - 1)}; name ${quoted(life.into)} instead`;
    },
  };
}

function setupOrder({ setups }: CastPlan): Map<string, number> {
  const order = new Map<string, number>();
  for (const [index, { id }] of setups.entries()) if (!order.has(id)) order.set(id, index);
  return order;
}

/** Whether a piece is made of the other, at whatever remove, or is it. */
function leadsTo({ pieces }: CastPlan, from: string, to: string): boolean {
  const seen = new Set<string>();
  const open = [from];
  for (let id = open.pop(); id !== undefined; id = open.pop()) {
    if (id === to) return true;
    if (seen.has(id)) continue;
    seen.add(id);
    for (const { piece } of pieces.get(id)?.madeOf ?? []) open.push(piece);
  }
  return false;
}
