// The first shop file and job file as `slabtrue start` writes them, with comments that say what each
// number is and where it is found.

import { JOB_FORMAT, SHOP_FORMAT } from "../src/job/schema.ts";
import { fileSchema } from "../src/schemas.ts";
import { parseLength, type Units, unitWord } from "../src/units.ts";
import type { Answer, Key } from "./first-questions.ts";
import { jsonText, wrapped } from "./terminal.ts";

export type Answers = Readonly<Record<Key, Answer>>;

/** All files by name. */
export function firstFiles(units: Units, answers: Answers): ReadonlyMap<string, string> {
  return new Map([
    ["shop.json", shopText(units, answers)],
    ["job.json", jobFileText(units, answers)],
    ["shop.schema.json", jsonText(fileSchema("shop"))],
    ["job.schema.json", jsonText(fileSchema("job"))],
  ]);
}

export const FIRST_FILES = ["shop.json", "job.json", "shop.schema.json", "job.schema.json"] as const;

function shopText(units: Units, a: Answers): string {
  const axes = (xy: Answer, z: Answer) => group({ x: xy, y: xy, z });
  return lines([
    "{",
    ...comment(1, "What stays the same from job to job: machine, cutters, how programs are dressed."),
    ...comment(
      1,
      "Numbers that you did not give are examples. Put those of your own machine and cutter in before you cut: with wrong ones times are wrong, and a cutter may run faster or deeper than it bears.",
    ),
    `  "$schema": "shop.schema.json",`,
    `  "format": ${json(SHOP_FORMAT)},`,
    ...comment(
      1,
      `Bare numbers are in ${unitWord(units)}, feeds in ${units}/min. A length may also carry its unit: "57 mm", "2 1/4 in".`,
    ),
    `  "units": ${json(units)},`,
    `  "machine": {`,
    `    "name": "my router",`,
    ...comment(
      2,
      "How far the cutter's centre can go along each axis. On the machine's plate or in its manual; or jog from end to end and subtract.",
    ),
    `    "travel": ${group({ x: a.travelX, y: a.travelY, z: a.travelZ })},`,
    ...comment(
      2,
      "The fastest feed of each axis in a cut. Among the controller's settings, as the greatest rate of an axis.",
    ),
    `    "feedLimit": ${axes(a.feedLimitXY, a.feedLimitZ)},`,
    ...comment(
      2,
      "The speed of each axis on rapids (G0). Among the controller's settings; often the same as the fastest feed.",
    ),
    `    "rapid": ${axes(a.rapidXY, a.rapidZ)},`,
    ...comment(
      2,
      `How fast each axis gains speed, in ${units}/s^2. Among the controller's settings, beside the rates. Machine times depend on it.`,
    ),
    `    "acceleration": ${axes(a.accelerationXY, a.accelerationZ)},`,
    ...comment(
      2,
      "How far the path may round off a corner to keep its speed. Among the controller's settings, as path tolerance or corner deviation.",
    ),
    `    "cornerDeviation": ${units === "mm" ? 0.05 : 0.002},`,
    `    "spindle": {`,
    ...comment(
      3,
      "rev/min: the slowest at which it may cut, from its manual, and the fastest, from its plate.",
    ),
    `      "speedMin": ${json(a.speedMin)},`,
    `      "speedMax": ${json(a.speedMax)},`,
    ...comment(3, "On its plate; 1 hp is 0.746 kW. And the share of it that reaches the cutter."),
    `      "powerKw": ${json(a.powerKw)},`,
    `      "efficiency": 0.8,`,
    ...comment(
      3,
      "From standstill to full speed: take the time with a watch. Programs wait that long before they cut.",
    ),
    `      "spinUpSeconds": 8`,
    "    }",
    "  },",
    `  "cutters": [`,
    "    {",
    `      "id": "surfacing",`,
    ...comment(
      3,
      "Over its edges: marked on the cutter, or measured with calipers while it stands still and unplugged.",
    ),
    `      "diameter": ${json(a.diameter)},`,
    ...comment(3, "How many edges cut one after the other in a turn: count them."),
    `      "edges": ${json(a.edges)},`,
    ...comment(3, "rev/min that it is rated for: marked on it. Never run it faster."),
    `      "speedMax": ${json(a.cutterSpeedMax)},`,
    ...comment(
      3,
      "The deepest cut in one pass, and the feed for each edge and turn (chip load), least and most: in the maker's data.",
    ),
    `      "depthMax": ${json(a.depthMax)},`,
    `      "chipLoad": ${group({ min: a.chipMin, max: a.chipMax })},`,
    ...comment(
      3,
      "Whether its edges reach the middle, so that it may go straight down into wood. Most surfacing cutters may not.",
    ),
    `      "centreCutting": false`,
    "    }",
    "  ],",
    `  "program": {`,
    ...comment(
      2,
      "The work coordinate system in which you set zero, and the ending of the files that the controller opens.",
    ),
    `    "workOffset": "G54",`,
    `    "extension": "nc",`,
    ...comment(2, `"M6" if the controller asks for cutters or changes them, else "none".`),
    `    "toolChange": "none"`,
    "  }",
    "}",
  ]);
}

function jobFileText(units: Units, a: Answers): string {
  const metric = units === "mm";
  const mm = (answer: Answer) => parseLength(answer, units) ?? 0;
  const depth = mm(a.depthMax) < 2 ? a.depthMax : metric ? 2 : "5/64 in";
  return lines([
    "{",
    ...comment(1, "One table: its pieces as they lie on the bed, and what is cut of them."),
    `  "$schema": "job.schema.json",`,
    `  "format": ${json(JOB_FORMAT)},`,
    `  "name": "First slab",`,
    ...comment(
      1,
      `Bare numbers here are in ${unitWord(units)}, feeds in ${units}/min; programs and reports are too.`,
    ),
    `  "units": ${json(units)},`,
    `  "shop": "shop.json",`,
    `  "pieces": [`,
    "    {",
    `      "id": "slab",`,
    ...comment(3, "For judging the spindle's power: the kind of wood, or resin."),
    `      "material": "white oak",`,
    ...comment(
      3,
      'The slab from above, measured with a tape. Its corner with the least X and Y lies at the origin. A live edge takes a list of corners [[x, y], ...], or its edges every so far along ("stations"), or a closed line of an SVG drawing ("svg").',
    ),
    `      "outline": ${group({ length: a.pieceX, width: a.pieceY })},`,
    ...comment(
      3,
      "At the thickest place, with calipers or a square on the bed. This takes the slab for a box. Heights of its upper face above the spoilboard, measured in many places, show where it stands high, and save time:",
    ),
    `      // "upper": { "points": [[x, y, z], [x, y, z], ...] },`,
    `      "thickness": ${json(a.pieceZ)}`,
    "    }",
    "  ],",
    `  "setups": [`,
    "    {",
    `      "id": "flatten",`,
    `      "face": "upper",`,
    `      "cutter": "surfacing",`,
    ...comment(3, "The floor lies this far above the bed: what is left when this face is flat."),
    `      "target": ${group({ thickness: a.finished })},`,
    `      "passes": {`,
    ...comment(4, "At most, per layer; and from row to row as a share of the cutter's diameter."),
    `        "depth": ${json(depth)},`,
    `        "stepover": 0.6,`,
    ...comment(4, "Feed = chip load x edges x speed. Begin near the least chip load, and listen."),
    `        "feed": ${json(a.feed)},`,
    `        "speed": ${json(a.speed)}`,
    "      },",
    ...comment(
      3,
      "Every clamp, cleat and stop that stands on the bed, from above, with its height above the bed. What is not named here is not avoided.",
    ),
    `      // "keepOut": [{ "name": "stop", "outline": ${metric ? '{ "length": 40, "width": 80, "at": [-60, 300] }, "height": 40' : '{ "length": 2, "width": 3, "at": [-3, 12] }, "height": 1.5'} }],`,
    ...comment(
      3,
      "Where the program's zero lies: here at the corner of the slab, with Z on top of the spoilboard.",
    ),
    `      "zero": { "x": 0, "y": 0, "z": "bed" }`,
    "    }",
    "  ]",
    "}",
  ]);
}

function comment(depth: number, text: string): string[] {
  const indent = "  ".repeat(depth);
  return wrapped("", text, 100 - indent.length).map((line) => `${indent}// ${line}`);
}

function group(fields: Readonly<Record<string, Answer>>): string {
  const inside = Object.entries(fields).map(([name, value]) => `${json(name)}: ${json(value)}`);
  return `{ ${inside.join(", ")} }`;
}

function json(value: Answer): string {
  return JSON.stringify(value);
}

function lines(all: readonly string[]): string {
  return `${all.join("\n")}\n`;
}
