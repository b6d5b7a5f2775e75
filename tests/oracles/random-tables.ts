// Random jobs of several setups for the judge's bench: slabs cut on both faces, two slabs skimmed and cast and
// cut again, and planks longer than the machine. Millimetres. Faces are grids that reach around the outlines.

import type { RawJob, RawPiece, RawReadings, RawSetup } from "./judge-job.ts";
import { type Box, boxOf, distanceToShape, type Polygon } from "./judge-plane.ts";
import { plainShop } from "./plain-shop.ts";
import { Dice } from "./random-jobs.ts";

export interface RandomTable {
  readonly job: RawJob;
  /** What the dice gave, for the name of a test. */
  readonly label: string;
}

export function randomTable(seed: number): RandomTable {
  const dice = new Dice(seed);
  const kind = dice.pick(["faces", "faces", "cast", "cast", "long"] as const);
  const cutterMm = round(dice.between(35, 75), 1);
  const shop = plainShop(cutterMm);
  const make = { faces: bothFaces, cast, long }[kind];
  const { pieces, setups, travelX, label } = make(dice, cutterMm);
  // From dice of their own, so that seeds known from before stay the jobs that they were.
  const later = new Dice(seed + 1e6);
  for (const { passes } of setups) if (later.chance(0.2)) passes.edgeFirst = true;
  if (travelX !== undefined) shop.machine.travel.x = travelX;
  const job: RawJob = {
    ...{ format: "slabtrue-job/1", name: `random table ${seed}`, units: "mm", shop },
    ...{ pieces, setups },
  };
  return { job, label: `${kind}: ${label}, cutter ${cutterMm}` };
}

interface Made {
  readonly pieces: RawPiece[];
  readonly setups: RawSetup[];
  readonly travelX?: number;
  readonly label: string;
}

type Face = (x: number, y: number) => number;

/** A slab: its outline, both faces, and their extremes inside the outline. */
interface Slab {
  readonly raw: RawPiece;
  readonly outline: Polygon;
  readonly upper: readonly [number, number];
  readonly under: readonly [number, number];
}

function slab(dice: Dice, id: string, box: Box, thickMm: number): Slab {
  const [length, width] = [box.xMax - box.xMin, box.yMax - box.yMin];
  const live = dice.chance(0.7);
  const wave = () => {
    const [deep, phase, turns] = [dice.between(3, 0.1 * width), dice.between(0, 6), dice.between(2, 5)];
    return (t: number) => (live ? deep * (1 + Math.sin(phase + turns * t)) : 0);
  };
  const [near, far] = [wave(), wave()];
  const parts = live ? dice.whole(6, 14) : 1;
  const shares = Array.from({ length: parts + 1 }, (_, i) => i / parts);
  const outline = [
    ...shares.map((t) => [round(box.xMin + length * t, 2), round(box.yMin + near(t), 2)] as const),
    ...shares
      .toReversed()
      .map((t) => [round(box.xMin + length * t, 2), round(box.yMax - far(t), 2)] as const),
  ];
  const face = (middle: number): Face => {
    const [bow, cup, twist] = [dice.between(-1.2, 1.2), dice.between(-1.2, 1.2), dice.between(-0.8, 0.8)];
    const [tiltU, tiltV] = [dice.between(-0.7, 0.7), dice.between(-0.7, 0.7)];
    return (x, y) => {
      const [u, v] = [(2 * (x - box.xMin)) / length - 1, (2 * (y - box.yMin)) / width - 1];
      return middle + bow * u * u + cup * v * v + twist * u * v + tiltU * u + tiltV * v;
    };
  };
  const [upper, under] = [face(thickMm), face(5)];
  const raw: RawPiece = { id, material: "elm", outline: outline.map((corner) => [...corner]) };
  if (dice.chance(0.5)) raw.grain = dice.whole(-90, 90);
  const measured = dice.pick(["both", "both", "upper", "none"]);
  if (measured === "none") raw.thickness = round(thickMm, 2);
  else raw.upper = readings(dice, box, upper);
  if (measured === "both") raw.under = readings(dice, box, under);
  return {
    ...{ raw, outline },
    upper: measured === "none" ? [thickMm, thickMm] : extremes(outline, box, upper),
    under: measured === "both" ? extremes(outline, box, under) : [0, 0],
  };
}

function readings(dice: Dice, box: Box, face: Face): RawReadings {
  const [dx, dy] = [dice.between(40, 90), dice.between(40, 90)].map((mm) => round(mm, 1));
  const at = [box.xMin - dx * dice.between(0.1, 0.9), box.yMin - dy * dice.between(0.1, 0.9)].map((mm) =>
    round(mm, 1),
  );
  const cols = Math.ceil((box.xMax - at[0]) / dx) + 1;
  const rows = Math.ceil((box.yMax - at[1]) / dy) + 1;
  const heights = Array.from({ length: rows }, (_, row) =>
    Array.from({ length: cols }, (_, col) =>
      Math.max(0.1, round(face(at[0] + col * dx, at[1] + row * dy), 2)),
    ),
  );
  return { grid: { at, step: [dx, dy], rows: heights } };
}

function extremes(outline: Polygon, box: Box, face: Face): [number, number] {
  let [least, most] = [Infinity, -Infinity];
  for (let i = 0; i <= 60; i++)
    for (let j = 0; j <= 30; j++) {
      const x = box.xMin + ((box.xMax - box.xMin) * i) / 60;
      const y = box.yMin + ((box.yMax - box.yMin) * j) / 30;
      if (distanceToShape(outline, x, y) > 0) continue;
      least = Math.min(least, face(x, y));
      most = Math.max(most, face(x, y));
    }
  return [least, most];
}

/** One or two slabs, one above the other in Y. */
function slabs(dice: Dice, count: number): Slab[] {
  const thickMm = dice.between(42, 60);
  let y = dice.between(-50, 200);
  return Array.from({ length: count }, (_, k) => {
    const [x, length, width] = [dice.between(-50, 200), dice.between(280, 520), dice.between(120, 220)];
    const box = {
      xMin: round(x, 1),
      xMax: round(x + length, 1),
      yMin: round(y, 1),
      yMax: round(y + width, 1),
    };
    y += width + dice.between(5, 60);
    return slab(dice, k === 0 ? "left" : "right", box, thickMm);
  });
}

function setup(dice: Dice, id: string, more: Partial<RawSetup>): RawSetup {
  return {
    ...{ id, face: "upper", cutter: "flat", target: { depth: 2 } },
    margin: round(dice.between(0.2, 0.9), 2),
    ...more,
    passes: {
      ...{ depth: round(dice.between(2, 4), 1), stepover: round(dice.between(0.4, 0.9), 2) },
      ...{ feed: 6000, speed: 14000 },
      ...(dice.chance(0.4) ? { angle: dice.pick([90, 45, dice.whole(-90, 90)]) } : {}),
      ...(dice.chance(0.25) ? { finish: { depth: 0.5, stepover: 0.5 } } : {}),
      ...(dice.chance(0.2) ? { rows: "one-way" as const } : {}),
      ...(dice.chance(0.2) ? { overrun: round(dice.between(2, 40), 1) } : {}),
      ...more.passes,
    },
    ...(dice.chance(0.3)
      ? { clear: { z: round(dice.between(4, 15), 1), side: round(dice.between(2, 8), 1) } }
      : {}),
    ...(dice.chance(0.3)
      ? { zero: { x: dice.whole(-100, 200), y: dice.whole(-100, 200), z: "bed" as const } }
      : {}),
  };
}

/** A cleat across an edge of the common box, on the bed. */
function cleat(dice: Dice, outlines: readonly Polygon[], heightMm: number): NonNullable<RawSetup["keepOut"]> {
  const { xMin, xMax, yMin, yMax } = boxOf(outlines);
  const [length, width] = [dice.between(30, 70), dice.between(20, 40)];
  const along = dice.chance(0.5);
  const at = along
    ? [dice.between(xMin, xMax - length), dice.pick([yMin - width / 2, yMax - width / 2])]
    : [dice.pick([xMin - length / 2, xMax - length / 2]), dice.between(yMin, yMax - width)];
  const [x, y] = at.map((mm) => round(mm, 1));
  const corners = [
    [x, y],
    [x + length, y],
    [x + length, y + width],
    [x, y + width],
  ];
  return [
    { name: "cleat", outline: corners.map((corner) => corner.map((mm) => round(mm, 1))), height: heightMm },
  ];
}

function bothFaces(dice: Dice): Made {
  const found = slabs(dice, dice.pick([1, 1, 2]));
  const [lowUpper, highUpper] = span(found, "upper");
  const [lowUnder, highUnder] = span(found, "under");
  const outlines = found.map(({ outline }) => outline);
  const turn = dice.pick(["x", "y"] as const);
  const measured = found.every(({ raw }) => raw.upper);
  const kind = dice.pick(["thickness", "depth", "even", ...(measured ? ["cleanUp"] : [])]);
  const leave = dice.chance(0.5) ? round(dice.between(0.1, 0.6), 2) : 0;
  const finished = round(lowUpper - highUnder - dice.between(1, 5), 2);
  const upperTarget: RawSetup["target"] =
    kind === "thickness"
      ? { thickness: round(dice.between(lowUpper - 1.5, highUpper - 0.4) - leave, 2) }
      : kind === "depth"
        ? { depth: round(dice.between(0.6, 3.5), 2) }
        : kind === "even"
          ? { even: finished }
          : { cleanUp: round(dice.between(0.3, 1), 2) };
  const keepOut = dice.chance(0.3) ? cleat(dice, outlines, round(highUpper + dice.between(4, 20), 1)) : [];
  const first = setup(dice, "upper", { target: upperTarget, leave, keepOut });
  const underKind = kind === "even" ? "thickness" : dice.pick(["depth", "thickness", "cleanUp"]);
  const flat = found.some(({ raw }) => !raw.under);
  const underTarget: RawSetup["target"] =
    underKind === "thickness"
      ? { thickness: finished }
      : underKind === "cleanUp" && !flat
        ? { cleanUp: round(dice.between(0.3, 1), 2) }
        : { depth: round(dice.between(0.6, 3), 2) };
  const blockUnder = dice.chance(0.2) ? cleat(dice, outlines, round(highUpper + dice.between(4, 20), 1)) : [];
  const second = setup(dice, "under", {
    ...{ face: "under", turn, target: underTarget, keepOut: blockUnder },
    ...(dice.chance(0.4) ? { leave: 0.3 } : {}),
  });
  const again = dice.chance(0.35) ? [setup(dice, "again", { target: { depth: 1.5 } })] : [];
  const label = `${found.length}, ${JSON.stringify(upperTarget)}, about ${turn} ${JSON.stringify(underTarget)}, under ${lowUnder.toFixed(1)}`;
  return { pieces: found.map(({ raw }) => raw), setups: [first, second, ...again], label };
}

function cast(dice: Dice, cutterMm: number): Made {
  const found = slabs(dice, dice.pick([1, 2, 2]));
  const measured = found.every(({ raw }) => raw.upper);
  const skim = setup(dice, "skim-upper", {
    target: measured
      ? { cleanUp: round(dice.between(0.6, 1), 2) }
      : { depth: round(dice.between(0.8, 2), 2) },
  });
  const both = dice.chance(0.6);
  const flat = found.some(({ raw }) => !raw.under);
  const skimUnder = setup(dice, "skim-under", {
    ...{ face: "under", turn: dice.pick(["x", "y"] as const) },
    target: flat ? { depth: 1 } : { cleanUp: round(dice.between(0.6, 1), 2) },
  });
  const skims = both ? [skim, skimUnder] : [skim];
  const after = skims[skims.length - 1].id;
  // Whatever the turns did, each piece lies within its box's mirror images; parts are set side by side by their boxes.
  const shell = { upper: round(dice.between(2, 6), 1), under: round(dice.between(2, 6), 1) };
  const angle = dice.pick([0, 90, 30, 180, -90, dice.whole(-180, 180)]);
  const turned = both ? skimUnder.turn : undefined;
  const common = boxOf(found.map(({ outline }) => outline));
  const [x, yFirst] = [round(dice.between(0, 100), 1), round(dice.between(0, 100), 1)];
  let y = yFirst;
  let right = x;
  const madeOf = found.map(({ raw, outline }) => {
    const laid = outline.map(([px, py]): readonly [number, number] =>
      turned === "x"
        ? [px, common.yMin + common.yMax - py]
        : turned === "y"
          ? [common.xMin + common.xMax - px, py]
          : [px, py],
    );
    const a = (angle * Math.PI) / 180;
    const set = laid.map(
      ([px, py]) => [px * Math.cos(a) - py * Math.sin(a), px * Math.sin(a) + py * Math.cos(a)] as const,
    );
    const box = boxOf([set]);
    const at = [round(x + 12 - box.xMin, 2), round(y + 12 - box.yMin, 2)];
    right = Math.max(right, x + 24 + box.xMax - box.xMin);
    y += box.yMax - box.yMin + 15;
    return { piece: raw.id, at, angle, after };
  });
  const top: RawPiece = {
    ...{ id: "top", material: "elm and epoxy", grain: dice.pick([0, 90, angle]), shell, madeOf },
    outline: [
      [x, yFirst],
      [round(right, 1), yFirst],
      [round(right, 1), round(y + 10, 1)],
      [x, round(y + 10, 1)],
    ],
  };
  const resin = { passes: { feed: 6000, speed: 14000, resinFeed: 4200 } };
  const shellUpper = setup(dice, "shell-upper", {
    ...resin,
    target: dice.pick([
      { cleanUp: round(dice.between(0.7, 0.98), 2) },
      { depth: round(shell.upper + dice.between(-1, 1.5), 2) },
    ]),
  });
  const shellUnder = setup(dice, "shell-under", {
    ...{ face: "under", turn: dice.pick(["x", "y"] as const) },
    target: dice.pick([
      { cleanUp: round(dice.between(0.7, 0.98), 2) },
      { depth: round(shell.under + 0.7, 2) },
    ]),
    ...resin,
  });
  const setups = [...skims, shellUpper, shellUnder];
  const short = dice.chance(0.25);
  const travelX = Math.round(
    Math.max(9 * cutterMm, (right - x) / dice.between(1.1, 1.7) + 2 * cutterMm + 50),
  );
  if (short) for (const one of setups) one.reindex = { overlap: dice.whole(10, 40) };
  const label = `${found.length} at ${angle}, ${short ? `on ${travelX}, ` : ""}${skims.map(({ id, target }) => `${id} ${JSON.stringify(target)}`).join(", ")}, shell ${JSON.stringify(shellUpper.target)} ${JSON.stringify(shellUnder.target)}`;
  return {
    pieces: [...found.map(({ raw }) => raw), top],
    setups,
    ...(short ? { travelX } : {}),
    label,
  };
}

function long(dice: Dice, cutterMm: number): Made {
  const [x, y] = [dice.between(-50, 200), dice.between(-50, 200)];
  const [length, width] = [dice.between(700, 1500), dice.between(100, 200)];
  const box = { xMin: round(x, 1), xMax: round(x + length, 1), yMin: round(y, 1), yMax: round(y + width, 1) };
  const planks = [slab(dice, "plank", box, dice.between(42, 55))];
  if (dice.chance(0.25)) {
    const shift = round(dice.between(-40, 40), 1);
    const beside = { ...box, xMin: box.xMin + shift, yMin: box.yMax + 20, yMax: box.yMax + 130 };
    planks.push(slab(dice, "second", beside, planks[0].upper[1]));
  }
  const [low, high] = span(planks, "upper");
  const travelX = Math.round(Math.max(7 * cutterMm, length / dice.between(1.2, 2.6) + 2 * cutterMm + 40));
  const reindex = { overlap: dice.whole(10, 40) };
  const keepOut = dice.chance(0.3)
    ? cleat(
        dice,
        planks.map(({ outline }) => outline),
        round(high + 8, 1),
      )
    : [];
  const first = setup(dice, "upper", {
    ...{ reindex, keepOut },
    target: dice.pick([
      { thickness: round(dice.between(low - 1, high - 0.5), 2) },
      { depth: round(dice.between(0.7, 3), 2) },
    ]),
  });
  const second = setup(dice, "under", {
    ...{ face: "under", turn: dice.pick(["x", "y"] as const), reindex },
    target: { depth: round(dice.between(0.7, 2.5), 2) },
  });
  const label = `${length.toFixed(0)} on ${travelX}, ${JSON.stringify(first.target)}, angle ${first.passes.angle ?? 0} of ${planks[0].raw.grain ?? 0}`;
  return {
    pieces: planks.map(({ raw }) => raw),
    setups: dice.chance(0.4) ? [first, second] : [first],
    ...{ travelX, label },
  };
}

function span(found: readonly Slab[], face: "upper" | "under"): [number, number] {
  return [Math.min(...found.map((one) => one[face][0])), Math.max(...found.map((one) => one[face][1]))];
}

function round(value: number, digits: number): number {
  return Math.round(value * 10 ** digits) / 10 ** digits;
}
