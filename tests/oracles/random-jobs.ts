// Random jobs for the judge: a seed gives a raw job (mm or in) with one setup, "top". Pieces of many
// shapes side by side, faces of many shapes, keep-outs of many heights. Every job has wood to cut, an explicit
// margin, and readings that reach around the outlines, except those of a plane, whose continuation is known.
// Everything is made in mm and turned into the job's unit as it is written down.

import type { RawJob, RawPiece, RawReadings, RawSetup } from "./judge-job.ts";
import { type Box, boxOf, distanceToShape, type Polygon } from "./judge-plane.ts";
import { plainShop } from "./plain-shop.ts";

export interface RandomJob {
  readonly job: RawJob;
  readonly setupId: "top";
  /** What the dice gave, for the name of a test. */
  readonly label: string;
}

export function randomJob(seed: number): RandomJob {
  const dice = new Dice(seed);
  const units = dice.chance(0.3) ? "in" : "mm";
  const write: Write = (mm) => (units === "in" ? round(mm / 25.4, 5) : round(mm, 3));
  const cutterMm = round(dice.between(25, 80), 1);
  const shapes = placedShapes(dice);
  const marginMm = round(dice.between(0.3, 1.5), 2);
  const baseMm = dice.between(30, 80);
  const pieces = shapes.map((shape, i) => randomPiece(dice, shape, `piece-${i + 1}`, baseMm, write));

  const places = pieces.flatMap((piece) => piece.placesMm);
  const highestMm = Math.max(...places);
  const lowestMm = Math.min(...places);
  const keepOutKind = dice.pick(["none", "none", "cleats", "cleats", "clamp", "low", "all"]);
  // The greatest floor that cuts a share of a box is its very top: nothing to cut.
  const boxes = pieces.some((piece) => piece.raw.thickness !== undefined);
  const kind = dice.pick(boxes ? ["thickness", "depth"] : ["thickness", "depth", "cleanUp"]);
  const span = { lowestMm, highestMm };
  const { target, leave, floorMm } = randomTarget(dice, kind, span, keepOutKind !== "none", write);
  const keepOut = randomKeepOuts(dice, keepOutKind, shapes, { floorMm, highestMm }, target, write);
  const passes = {
    ...randomPasses(dice, highestMm + marginMm - floorMm, cutterMm, write),
    ...laterPasses(new Dice(seed + 1e6)),
  };
  const setup: RawSetup = {
    id: "top",
    face: "upper",
    cutter: "flat",
    target,
    ...(leave > 0 ? { leave } : {}),
    margin: write(marginMm),
    passes,
    keepOut,
    ...(dice.chance(0.5)
      ? { clear: { z: write(dice.between(3, 20)), side: write(dice.between(1, 12)) } }
      : {}),
    ...(dice.chance(0.5) ? { zero: randomZero(dice, write) } : {}),
  };
  const nose = {
    diameter: round(cutterMm + dice.between(20, 100), 1),
    above: round(dice.between(25, 60), 1),
  };
  const shop = plainShop(cutterMm, dice.chance(0.3) ? nose : undefined);
  const job: RawJob = {
    format: "slabtrue-job/1",
    name: `random ${seed}`,
    units,
    shop,
    pieces: pieces.map((piece) => piece.raw),
    setups: [setup],
  };
  const kinds = pieces.map((piece) => piece.label).join(" + ");
  const label = `${units}, ${kinds}, ${JSON.stringify(target)}, keep-outs ${keepOutKind}, cutter ${cutterMm}`;
  return { job, setupId: "top", label };
}

/** A length as it stands in the job: rounded, in the job's unit. */
type Write = (mm: number) => number;

/** Small seeded generator (mulberry32, public domain). */
export class Dice {
  #state: number;

  constructor(seed: number) {
    this.#state = seed >>> 0;
  }

  /** Evenly spread in [0, 1). */
  next(): number {
    this.#state = (this.#state + 0x6d2b79f5) >>> 0;
    let t = this.#state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  whole(low: number, high: number): number {
    return Math.floor(this.between(low, high + 1));
  }

  chance(share: number): boolean {
    return this.next() < share;
  }

  pick<T>(list: readonly T[]): T {
    return list[this.whole(0, list.length - 1)];
  }
}

interface Shape {
  readonly kind: string;
  readonly outline: Polygon;
  /** The outline as near and far edge at stations along X, where it is of that kind. */
  readonly stations: readonly (readonly [number, number, number])[] | null;
}

/** One to three shapes in a column, their boxes apart. */
function placedShapes(dice: Dice): Shape[] {
  const count = dice.pick([1, 1, 2, 3]);
  const origin = [dice.between(-100, 300), dice.between(-100, 300)];
  let yNext = origin[1];
  const shapes: Shape[] = [];
  for (let i = 0; i < count; i++) {
    const lengthMm = dice.between(220, count === 1 ? 1200 : 600);
    const widthMm = dice.between(200, count === 1 ? 500 : 350);
    const kind = dice.pick(["rectangle", "convex", "L", "C", "live", "live", "star"]);
    const plain = outlineOf(dice, kind, lengthMm, widthMm);
    const turnRad = dice.chance(0.4) ? 0 : dice.between(0, 2 * Math.PI);
    const turned = plain.map(([x, y]) => [
      x * Math.cos(turnRad) - y * Math.sin(turnRad),
      x * Math.sin(turnRad) + y * Math.cos(turnRad),
    ]);
    const box = boxOf([turned as unknown as Polygon]);
    const [dx, dy] = [origin[0] + dice.between(0, 60) - box.xMin, yNext - box.yMin];
    const outline = turned.map(([x, y]) => [x + dx, y + dy] as const);
    yNext += box.yMax - box.yMin + dice.between(5, 90);
    const half = outline.length / 2;
    const stations =
      kind === "live" && turnRad === 0
        ? outline.slice(0, half).map(([x, y], k) => [x, y, outline[outline.length - 1 - k][1]] as const)
        : null;
    shapes.push({ kind, outline: dice.chance(0.3) ? outline.toReversed() : outline, stations });
  }
  return shapes;
}

function outlineOf(dice: Dice, kind: string, length: number, width: number): Polygon {
  if (kind === "L") {
    const [x, y] = [length * dice.between(0.4, 0.7), width * dice.between(0.4, 0.7)];
    return [
      [0, 0],
      [length, 0],
      [length, y],
      [x, y],
      [x, width],
      [0, width],
    ];
  }
  if (kind === "C") {
    const x = length * dice.between(0.3, 0.6);
    const [near, far] = [width * dice.between(0.25, 0.4), width * dice.between(0.55, 0.75)];
    return [
      [0, 0],
      [length, 0],
      [length, near],
      [x, near],
      [x, far],
      [length, far],
      [length, width],
      [0, width],
    ];
  }
  if (kind === "live") {
    const wave = () => {
      const [a, b] = [dice.between(5, 0.12 * width), dice.between(2, 0.05 * width)];
      const [phase, turns] = [dice.between(0, 6), dice.between(1, 3)];
      return (t: number) => a * Math.sin(phase + 2 * turns * t) + b * Math.sin(2 * phase + 9 * turns * t);
    };
    const [near, far] = [wave(), wave()];
    const parts = dice.whole(11, 29);
    const share = Array.from({ length: parts + 1 }, (_, i) => i / parts);
    return [
      ...share.map((t) => [length * t, near(t)] as const),
      ...share.toReversed().map((t) => [length * t, width + far(t)] as const),
    ];
  }
  if (kind === "star" || kind === "convex") {
    const count = kind === "star" ? dice.whole(7, 16) : dice.whole(5, 10);
    return Array.from({ length: count }, (_, i) => {
      const angle = (2 * Math.PI * (i + dice.between(-0.3, 0.3))) / count;
      const reach = kind === "star" ? dice.between(0.45, 1) : 1;
      return [(reach * length * Math.cos(angle)) / 2, (reach * width * Math.sin(angle)) / 2] as const;
    });
  }
  return [
    [0, 0],
    [length, 0],
    [length, width],
    [0, width],
  ];
}

interface RandomPiece {
  readonly raw: RawPiece;
  readonly label: string;
  /** Heights of the measured places, or the thickness. */
  readonly placesMm: readonly number[];
}

function randomPiece(dice: Dice, shape: Shape, id: string, baseMm: number, write: Write): RandomPiece {
  const { kind, outline, stations } = shape;
  const raw: RawPiece = {
    id,
    material: dice.pick(["white oak", "black walnut", "sugar maple"]),
    outline: stations
      ? { stations: stations.map((station) => station.map(write)) }
      : outline.map((corner) => corner.map(write)),
    ...(dice.chance(0.3) ? { grain: dice.whole(-90, 180) } : {}),
  };
  const topMm = baseMm + dice.between(-1, 1);
  const form = dice.pick(["box", "grid", "grid", "points", "points", "plane"]);
  if (form === "box") {
    raw.thickness = write(topMm);
    return { raw, label: `${kind} box`, placesMm: [topMm] };
  }
  const box = boxOf([outline]);
  const { face, name } = form === "plane" ? tilted(dice, box) : randomFace(dice, box);
  const height = (x: number, y: number) => topMm + face(x, y);
  let pitchMm = dice.between(60, 180);
  let readings: Triple[] = [];
  let placesMm: number[] = [];
  do {
    if (form === "grid") {
      [raw.upper, readings] = gridReadings(dice, box, pitchMm, height, write);
    } else {
      readings = scatteredReadings(dice, box, outline, pitchMm, form === "plane", height, write);
      // Of a plane all digits are kept, for thin triangles at the hull make much of a rounded one.
      const full = (mm: number) => mm / unitMm(write);
      const writeZ = form === "plane" ? full : write;
      raw.upper = { points: readings.map(([x, y, z]) => [write(x), write(y), writeZ(z)]) };
    }
    placesMm = readings.filter(([x, y]) => distanceToShape(outline, x, y) === 0).map(([, , z]) => z);
    pitchMm *= 0.7;
  } while (placesMm.length < 5);
  return { raw, label: `${kind} ${name} ${form}`, placesMm };
}

type Triple = readonly [number, number, number];
type Face = (x: number, y: number) => number;

function tilted(dice: Dice, box: Box): { face: Face; name: string } {
  const [u, v] = [dice.between(-3, 3), dice.between(-2, 2)];
  return {
    face: (x, y) => u * acrossBox(x, box.xMin, box.xMax) + v * acrossBox(y, box.yMin, box.yMax),
    name: "tilt",
  };
}

/** A sum of one to three forms, some millimetres in all. */
function randomFace(dice: Dice, box: Box): { face: Face; name: string } {
  const names = Array.from({ length: dice.whole(1, 3) }, () =>
    dice.pick(["tilt", "bow", "cup", "twist", "crown", "dish", "bumps", "noise"]),
  );
  const parts = names.map((name): ((u: number, v: number) => number) => {
    const a = dice.between(0.5, 2.5) * (dice.chance(0.5) ? 1 : -1);
    const [u0, v0, wide] = [dice.between(-0.4, 0.4), dice.between(-0.4, 0.4), dice.between(0.2, 0.5)];
    const hill = (u: number, v: number) => Math.exp(-((u - u0) ** 2 + (v - v0) ** 2) / wide ** 2);
    if (name === "tilt") return (u, v) => a * (u * Math.cos(u0 * 7) + v * Math.sin(u0 * 7));
    if (name === "bow") return (u) => a * u * u;
    if (name === "cup") return (_, v) => a * v * v;
    if (name === "twist") return (u, v) => a * u * v;
    if (name === "crown") return (u, v) => 2 * Math.abs(a) * hill(u, v);
    if (name === "dish") return (u, v) => -2 * Math.abs(a) * hill(u, v);
    if (name === "bumps") return (u, v) => 0.6 * a * Math.sin(5 * u + 7 * u0) * Math.cos(4 * v + 7 * v0);
    return () => dice.between(-0.2, 0.2);
  });
  const face: Face = (x, y) => {
    const [u, v] = [acrossBox(x, box.xMin, box.xMax), acrossBox(y, box.yMin, box.yMax)];
    return parts.reduce((sum, part) => sum + part(u, v), 0);
  };
  return { face, name: names.join("+") };
}

/** From -1 at the one end to 1 at the other. */
function acrossBox(value: number, min: number, max: number): number {
  return (2 * value - min - max) / (max - min);
}

function gridReadings(
  dice: Dice,
  box: Box,
  pitchMm: number,
  height: Face,
  write: Write,
): [RawReadings, Triple[]] {
  const unit = unitMm(write);
  const step = [pitchMm * dice.between(0.8, 1.2), pitchMm * dice.between(0.8, 1.2)].map(write);
  const [dx, dy] = step.map((length) => length * unit);
  const at = [box.xMin - dx * dice.between(0.05, 0.9), box.yMin - dy * dice.between(0.05, 0.9)].map(write);
  const [x0, y0] = at.map((length) => length * unit);
  const cols = Math.ceil((box.xMax - x0) / dx) + 1;
  const rows = Math.ceil((box.yMax - y0) / dy) + 1;
  const readings = Array.from({ length: cols * rows }, (_, i): Triple => {
    const [x, y] = [x0 + (i % cols) * dx, y0 + Math.floor(i / cols) * dy];
    return [x, y, height(x, y)];
  });
  const z = readings.map(([, , mm]) => write(mm));
  const heights = Array.from({ length: rows }, (_, row) => z.slice(row * cols, (row + 1) * cols));
  return [{ grid: { at, step, rows: heights } }, readings];
}

/** Readings apart from each other in the box; unless `bare`, also a ring of them around it. */
function scatteredReadings(
  dice: Dice,
  box: Box,
  outline: Polygon,
  pitchMm: number,
  bare: boolean,
  height: Face,
  write: Write,
): Triple[] {
  const found: [number, number][] = [];
  if (!bare) {
    const [xMin, xMax] = [box.xMin - 15, box.xMax + 15];
    const [yMin, yMax] = [box.yMin - 15, box.yMax + 15];
    const alongX = Math.ceil((xMax - xMin) / pitchMm);
    const alongY = Math.ceil((yMax - yMin) / pitchMm);
    const jitter = () => dice.between(-6, 6);
    for (let i = 0; i < alongX; i++) {
      found.push([xMin + ((xMax - xMin) * i) / alongX + jitter(), yMin + jitter()]);
      found.push([xMax - ((xMax - xMin) * i) / alongX + jitter(), yMax + jitter()]);
    }
    for (let i = 0; i < alongY; i++) {
      found.push([xMax + jitter(), yMin + ((yMax - yMin) * i) / alongY + jitter()]);
      found.push([xMin + jitter(), yMax - ((yMax - yMin) * i) / alongY + jitter()]);
    }
  }
  for (let tries = 0; tries < 400; tries++) {
    const [x, y] = [dice.between(box.xMin, box.xMax), dice.between(box.yMin, box.yMax)];
    if (bare && distanceToShape(outline, x, y) > 0) continue;
    if (found.every(([a, b]) => (a - x) ** 2 + (b - y) ** 2 > (0.6 * pitchMm) ** 2)) found.push([x, y]);
  }
  const unit = unitMm(write);
  return found.map((place) => {
    const [x, y] = place.map((mm) => write(mm) * unit);
    return [x, y, height(x, y)];
  });
}

function randomTarget(
  dice: Dice,
  kind: string,
  { lowestMm, highestMm }: { lowestMm: number; highestMm: number },
  keepOuts: boolean,
  write: Write,
): { target: RawSetup["target"]; leave: number; floorMm: number } {
  if (kind === "cleanUp") {
    const share = round(keepOuts ? dice.between(0.2, 0.55) : dice.between(0.3, 1), 2);
    return { target: { cleanUp: share }, leave: 0, floorMm: lowestMm - 2 };
  }
  const floorMm = dice.between(Math.max(highestMm - 8, lowestMm - 1.5), highestMm - 0.5);
  if (kind === "depth") return { target: { depth: write(highestMm - floorMm) }, leave: 0, floorMm };
  const leave = dice.chance(0.4) ? write(dice.between(0.2, 1)) : 0;
  return { target: { thickness: write(floorMm - leave * unitMm(write)) }, leave, floorMm };
}

function randomKeepOuts(
  dice: Dice,
  kind: string,
  shapes: readonly Shape[],
  heights: { floorMm: number; highestMm: number },
  target: RawSetup["target"],
  write: Write,
): NonNullable<RawSetup["keepOut"]> {
  if (kind === "none") return [];
  const { floorMm, highestMm } = heights;
  // What is low must be surely below the floor, and where the floor is a matter of shares nothing may stand in between.
  const heightMm = (wanted: string) => {
    if (wanted === "low") return Math.max(1, floorMm - dice.between(3, 15));
    if (wanted === "middle" && target.cleanUp === undefined) return dice.between(floorMm + 0.1, highestMm);
    return highestMm + dice.between(2, 35);
  };
  const box = (x: number, y: number, length: number, width: number, angle: number, height: number) => ({
    name: `block (${height.toFixed(0)} high)`,
    outline: [
      [-1, -1],
      [1, -1],
      [1, 1],
      [-1, 1],
    ].map(([u, v]) => {
      const [a, b] = [(u * length) / 2, (v * width) / 2];
      return [
        write(x + a * Math.cos(angle) - b * Math.sin(angle)),
        write(y + a * Math.sin(angle) + b * Math.cos(angle)),
      ];
    }),
    height: write(height),
  });
  const list: NonNullable<RawSetup["keepOut"]> = [];
  for (const { outline } of shapes) {
    const cleats = kind === "clamp" ? 0 : dice.whole(1, 3);
    for (let i = 0; i < cleats; i++) {
      const at = dice.whole(0, outline.length - 1);
      const [xa, ya] = outline[at];
      const [xb, yb] = outline[(at + 1) % outline.length];
      const t = dice.between(0.2, 0.8);
      const angle = Math.atan2(yb - ya, xb - xa);
      const wanted = kind === "low" ? "low" : dice.pick(["high", "high", "middle"]);
      const [length, width] = [dice.between(30, 90), dice.between(20, 45)];
      list.push(box(xa + t * (xb - xa), ya + t * (yb - ya), length, width, angle, heightMm(wanted)));
    }
    if (kind === "clamp" || (kind === "all" && dice.chance(0.5))) {
      const { xMin, xMax, yMin, yMax } = boxOf([outline]);
      const [x, y] = [
        xMin + (xMax - xMin) * dice.between(0.35, 0.65),
        yMin + (yMax - yMin) * dice.between(0.35, 0.65),
      ];
      const wanted = dice.pick(["high", "middle"]);
      list.push(box(x, y, dice.between(30, 80), dice.between(20, 60), dice.between(0, 3), heightMm(wanted)));
    }
  }
  return list;
}

function randomPasses(dice: Dice, toCutMm: number, cutterMm: number, write: Write): RawSetup["passes"] {
  const stepover = round(dice.between(0.3, 1), 2);
  const finish = {
    depth: write(dice.between(0.3, 0.8)),
    stepover: round(dice.between(0.3, 0.6), 2),
    feed: write(4000),
  };
  return {
    depth: write(Math.max(dice.between(0.8, 3.5), toCutMm / 6)),
    ...(dice.chance(0.3) ? { finish } : {}),
    stepover,
    angle: dice.chance(0.4) ? 0 : dice.whole(-180, 180),
    rows: dice.pick(["both-ways", "both-ways", "one-way"]),
    ...(dice.chance(0.3) ? { overrun: write(dice.between(2, cutterMm / 2 + 20)) } : {}),
    feed: write(6000),
    speed: 14000,
    ...(dice.chance(0.25) ? { entry: { ramp: round(dice.between(1, 5), 1) } } : {}),
  };
}

/** From dice of their own, so that seeds known from before stay the jobs that they were. */
function laterPasses(dice: Dice): Partial<RawSetup["passes"]> {
  return {
    ...(dice.chance(0.25) ? { edgeFirst: true } : {}),
    ...(dice.chance(0.05) ? { angle: "fastest" as const } : {}),
  };
}

function randomZero(dice: Dice, write: Write): NonNullable<RawSetup["zero"]> {
  const place = { x: write(dice.between(-200, 400)), y: write(dice.between(-200, 400)) };
  return { ...place, z: dice.pick(["bed", "high-spot"] as const) };
}

function unitMm(write: Write): number {
  return write(25.4) === 1 ? 25.4 : 1;
}

function round(value: number, digits: number): number {
  return Math.round(value * 10 ** digits) / 10 ** digits;
}
