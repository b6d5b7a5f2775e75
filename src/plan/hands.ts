// What people do around the machine's own time: loading the bed, turning pieces over, pushing long ones on,
// changing cutters, setting zero.

import type { Job, Setup } from "../job/job.ts";

/** What people do for a setup, each so many times. */
export interface Hands {
  readonly loads: number;
  readonly turns: number;
  readonly cutterChanges: number;
}

/** What people do for each setup of the job. */
export function handsOf({ setups }: Job): Hands[] {
  let onBed: readonly string[] = [];
  const faceUp = new Map<string, Setup["face"]>();
  let cutter: string | null = null;
  return setups.map((setup) => {
    const ids = setup.pieces.map(({ id }) => id);
    const turned = ids.some((id) => (faceUp.get(id) ?? "upper") !== setup.face);
    const other = ids.some((id) => !onBed.includes(id));
    const changed = cutter !== null && cutter !== setup.cutter.id;
    for (const id of ids) faceUp.set(id, setup.face);
    [onBed, cutter] = [ids, setup.cutter.id];
    return { loads: other ? 1 : 0, turns: turned ? 1 : 0, cutterChanges: changed ? 1 : 0 };
  });
}

/** All of it in minutes, as the shop says how long each takes; long pieces are pushed on so often in all. */
export function handMinutes(
  job: Job,
  pushes: number,
): Readonly<Record<keyof Hands | "zeros" | "pushes", number>> {
  const each = job.shop.handMinutes;
  const hands = handsOf(job);
  const times = (what: keyof Hands) => hands.reduce((sum, setup) => sum + setup[what], 0);
  return {
    loads: each.load * times("loads"),
    turns: each.turnOver * times("turns"),
    cutterChanges: each.cutterChange * times("cutterChanges"),
    zeros: each.zero * hands.length,
    pushes: each.push * pushes,
  };
}
