// The operator's sheet: one printed page for each setup, with what is needed at the machine and nothing else.
// A whole HTML page without scripts, black on white, for A4 and Letter. All that a user named is escaped.

import { escaped } from "../html.ts";
import type { Ring } from "../job/job.ts";
import type { LayerReport, Plan, PlannedSetup } from "../plan.ts";
import { boxOf } from "../survey/field.ts";
import { formatFeed, formatLength, formatPoint, type Units } from "../units.ts";
import { drawingOf, layDrawings, type Mark } from "./drawing.ts";

/** The sheet of a plan, a page a setup. */
export function sheetHtml(plan: Plan): string {
  const title = escaped(plan.job.name, 80);
  return [
    "<!doctype html>",
    '<html lang="en"><head><meta charset="utf-8">',
    `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">`,
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
    `<title>${title} - setup sheet</title><style>${STYLE}</style></head><body>`,
    ...plan.setups.map((planned, index) => setupPage(plan, planned, index)),
    "</body></html>",
    "",
  ].join("\n");
}

function setupPage(plan: Plan, planned: PlannedSetup, index: number): string {
  const { job } = plan;
  const { setup } = planned;
  const { units } = job;
  const calipers = caliperPlaces(planned, units);
  const shims = shimMarks(plan, index, units);
  return [
    "<section>",
    `<header><h1>${escaped(setup.id, 60)}</h1><p>${escaped(job.name, 80)} &middot; sheet ${index + 1} of ${plan.setups.length}</p></header>`,
    `<p class="lead">${faceText(planned)}</p>`,
    drawingOf({ planned, angleRad: planned.angleRad, calipers, shims, units }),
    layDrawings(planned, units),
    keepOutText(planned, units),
    '<div class="columns"><div>',
    facts(planned, units),
    zeroBlock(planned, units),
    "</div><div>",
    layerTable(planned, units),
    checkBlock(planned, calipers, units),
    "</div></div>",
    shimText(planned, shims, units),
    roughText(planned, units),
    warningsText(planned),
    checklist(planned),
    cautionText(plan),
    "</section>",
  ].join("\n");
}

// What lies how ------------------------------------------------------------------------------------

function faceText({ setup, found }: PlannedSetup): string {
  const pieces = found.map(({ piece }) => `<b>${escaped(piece.id, 40)}</b>`).join(", ");
  if (setup.face === "upper") return `${pieces}: <b>upper face up</b>.`;
  const way =
    found[0].turned === "x"
      ? "the edge that was near you now lies far"
      : "the end that was left now lies right";
  return `${pieces}: <b>under face up</b>, turned over about ${found[0].turned.toUpperCase()} (${way}).`;
}

function facts(planned: PlannedSetup, units: Units): string {
  const { setup, programs, seconds, floorMm, zeroMm } = planned;
  const { passes, cutter } = setup;
  const feeds =
    passes.resinFeedMmPerMin === null
      ? formatFeed(passes.feedMmPerMin, units)
      : `${formatFeed(passes.feedMmPerMin, units)}, in resin ${formatFeed(passes.resinFeedMmPerMin, units)}`;
  return table([
    ["Cutter", `${escaped(cutter.name, 60)}, diameter ${formatLength(cutter.diameterMm, units)}`],
    ["Speed", `<b>${passes.speed} rev/min</b>`],
    ["Feed", feeds],
    [
      "Floor",
      `${formatLength(floorMm, units)} above the bed; in the program <b>Z ${number(floorMm - zeroMm.z, units)}</b>`,
    ],
    ...programs.map(({ file, seconds: time, lay }, k): [string, string] => [
      programs.length > 1 ? `Lay ${lay?.number ?? k + 1}` : "Program",
      `<b>${escaped(file, 80)}</b>, ${clock(time)}`,
    ]),
    ["Time", `${clock(seconds.total)}; taken: <span class="box"></span> min`],
  ]);
}

function zeroBlock({ setup, zeroMm, programs }: PlannedSetup, units: Units): string {
  const height =
    setup.zero.z === "bed"
      ? "Touch Z0 off on top of the bed, where nothing lies."
      : `Touch Z0 off on the highest place of the wood; it should stand ${formatLength(zeroMm.z, units)} above the bed.`;
  const lines = [
    `X0 Y0 lies at ${formatPoint(zeroMm.x, zeroMm.y, units)} of the job, the round mark in the drawing.`,
    height,
  ];
  programs.forEach(({ shiftMm, file, lay }, k) => {
    if (k === 0) return;
    const push = formatLength(programs[k - 1].shiftMm[0] - shiftMm[0], units);
    lines.push(
      `Lay ${lay?.number ?? k + 1}, ${escaped(file, 60)}: push the wood <b>${push}</b> towards -X along the fence, clamp it, leave zero where it is.`,
    );
  });
  if (programs.length > 1)
    lines.push(
      "After each lay put a straightedge over the seam: a step means that the wood or the zero has moved.",
    );
  return `<h2>Zero</h2>${list(lines)}`;
}

const LAYERS_SHOWN = 12;

function layerTable({ layers, zeroMm, programs }: PlannedSetup, units: Units): string {
  if (programs.length > 1)
    return `<h2>Layers</h2><p>${layers.length} in ${programs.length} lays; the programs name each.</p>`;
  const shown = layers.length <= LAYERS_SHOWN ? layers : [...layers.slice(0, 8), ...layers.slice(-3)];
  const row = (layer: LayerReport) =>
    `<tr><td>${layers.indexOf(layer) + 1}</td><td>${number(layer.zMm - zeroMm.z, units)}</td><td>${number(layer.depthMm, units)}</td><td>${(layer.seconds / 60).toFixed(1)}</td></tr>`;
  return [
    `<h2>Layers (${units}, min)</h2><table class="layers"><tr><th></th><th>Z</th><th>depth</th><th>time</th></tr>`,
    ...shown.map((layer, k) =>
      k === 8 && shown.length < layers.length ? `<tr><td colspan="4">...</td></tr>${row(layer)}` : row(layer),
    ),
    "</table>",
  ].join("");
}

const KEEP_OUTS_SHOWN = 10;

/** Where what must not be touched stands on the bed, and how high. */
function keepOutText({ setup: { keepOuts }, programs }: PlannedSetup, units: Units): string {
  if (keepOuts.length === 0) return "";
  const items = keepOuts.slice(0, KEEP_OUTS_SHOWN).map(({ name, outline, heightMm, lays }) => {
    const { minX, minY, maxX, maxY } = boxOf([outline]);
    const when = lays === null || programs.length === 1 ? "" : `, in lay ${lays.join(", ")} only`;
    return `<b>${escaped(name, 40)}</b> ${formatLength(heightMm, units)} high, from ${formatPoint(minX, minY, units)} to ${formatPoint(maxX, maxY, units)}${when}`;
  });
  const more = keepOuts.length - items.length;
  return `<p><b>Keep-outs</b> (places as the job counts them): ${items.join("; ")}${more > 0 ? `; ${more} more: see the job` : ""}.</p>`;
}

// What to look at ----------------------------------------------------------------------------------

/** Of several pieces each is measured in so many places. */
const CORNERS = [
  [-1, -1],
  [1, 1],
  [1, -1],
  [-1, 1],
] as const;
const PLACES_MAX = 8;

/** Places well inside the corners of the pieces, with the thickness that is expected there. */
function caliperPlaces({ found, pieces }: PlannedSetup, units: Units): (Mark & { thickness: string })[] {
  const corners = found.length === 1 ? CORNERS : CORNERS.slice(0, 2);
  const places = found.flatMap(({ piece: { outline } }, index) =>
    corners.map(([right, up]) => {
      const middle = meanOf(outline);
      let best = { most: Number.NEGATIVE_INFINITY, x: 0, y: 0 };
      for (let c = 0; c < outline.length; c += 2) {
        const most = right * (outline[c] - middle.x) + up * (outline[c + 1] - middle.y);
        if (most > best.most) best = { most, x: outline[c], y: outline[c + 1] };
      }
      const [x, y] = [best.x + 0.12 * (middle.x - best.x), best.y + 0.12 * (middle.y - best.y)];
      return { x, y, thickness: formatLength(pieces[index].thicknessAtMm(x, y), units) };
    }),
  );
  return places.slice(0, PLACES_MAX).map((place, k) => ({ ...place, label: "ABCDEFGH"[k] }));
}

function meanOf(ring: Ring): { x: number; y: number } {
  let [x, y] = [0, 0];
  for (let k = 0; k < ring.length; k += 2) {
    x += ring[k];
    y += ring[k + 1];
  }
  return { x: (2 * x) / ring.length, y: (2 * y) / ring.length };
}

function checkBlock(
  { pieces }: PlannedSetup,
  calipers: readonly (Mark & { thickness: string })[],
  units: Units,
): string {
  const thick = pieces.map(({ id, thinnestMm, thickestMm }) => {
    const [least, most] = [formatLength(thinnestMm, units), formatLength(thickestMm, units)];
    return `${escaped(id, 40)}: ${least === most ? least : `${least} to ${most}`}`;
  });
  return [
    `<h2>Thickness after the cut</h2><p>${thick.join("; ")}</p>`,
    '<table class="layers"><tr><th></th><th>expected</th><th>measured</th></tr>',
    ...calipers.map(
      ({ label, thickness }) =>
        `<tr><td>${label}</td><td>${thickness}</td><td><span class="box"></span></td></tr>`,
    ),
    "</table>",
  ].join("");
}

function roughText({ pieces }: PlannedSetup, units: Units): string {
  const places = pieces.flatMap(({ id, rough }) =>
    rough.slice(0, 3).map(({ x, y, deepMm }) => {
      const deep = deepMm > 0 ? `, up to ${formatLength(deepMm, units)} deep` : "";
      return `${escaped(id, 40)} around ${formatPoint(x, y, units)}${deep}`;
    }),
  );
  return places.length === 0
    ? ""
    : `<p><b>Stays rough</b> (places as the job counts them): ${places.join("; ")}.</p>`;
}

function warningsText({ warnings }: PlannedSetup): string {
  const shown = warnings.slice(0, 3).map(({ text }) => `<li>${escaped(text, 260)}</li>`);
  if (shown.length === 0) return "";
  const more = warnings.length > 3 ? `<li>${warnings.length - 3} more: see the plan.</li>` : "";
  return `<p><b>Mind</b></p><ul>${shown.join("")}${more}</ul>`;
}

function checklist({ setup }: PlannedSetup): string {
  const items = [
    "Piece held so that it cannot shift or lift, and every clamp and cleat where the drawing has it",
    setup.keepOuts.length > 0
      ? "Keep-outs where they are drawn, and no higher than told above"
      : "Nothing else on the bed: the job names no clamps or cleats",
    "Cutter clean, its inserts tight, rated for the speed",
    "Zero set, and checked with a first move above the piece",
    "Extraction on, respirator and ear protection on, resin fully cured",
    "Somebody stays at the machine, a hand near the stop",
  ];
  return `<h2>Before the start</h2><ul class="ticks">${items.map((item) => `<li>${item}</li>`).join("")}</ul>`;
}

function cautionText({ cautions }: Plan): string {
  return `<p class="caution">${cautions.map((caution) => escaped(caution, 400)).join(" ")}</p>`;
}

// Shims --------------------------------------------------------------------------------------------

interface ShimMark extends Mark {
  readonly id: string;
}

/** What goes under the pieces that lie on the bed for the first time. */
function shimMarks({ seats, setups }: Plan, index: number, units: Units): ShimMark[] {
  const before = setups.slice(0, index).flatMap(({ found }) => found.map(({ piece }) => piece.id));
  return setups[index].found
    .filter(({ piece }) => !before.includes(piece.id))
    .flatMap(({ piece: { id } }) =>
      (seats.get(id)?.shims ?? []).map(({ x, y, thicknessMm }) => ({
        ...{ id, x, y },
        label: formatLength(Math.round(thicknessMm * 100) / 100, units),
      })),
    );
}

function shimText({ found }: PlannedSetup, shims: readonly ShimMark[], units: Units): string {
  if (shims.length === 0) return "";
  const under = found.flatMap(({ piece: { id } }) => {
    const own = shims.filter((shim) => shim.id === id);
    if (own.length === 0) return [];
    const places = own.map(({ label, x, y }) => `${label} at ${formatPoint(x, y, units)}`).join("; ");
    return found.length === 1 ? places : `under <b>${escaped(id, 40)}</b> ${places}`;
  });
  return `<p><b>Shims</b> ${under.join("; ")}: put them under before anything is clamped, so that the piece lies still.</p>`;
}

// Words --------------------------------------------------------------------------------------------

function table(rows: readonly (readonly [string, string])[]): string {
  return `<table class="facts">${rows.map(([name, text]) => `<tr><th>${name}</th><td>${text}</td></tr>`).join("")}</table>`;
}

function list(lines: readonly string[]): string {
  return `<ul>${lines.map((line) => `<li>${line}</li>`).join("")}</ul>`;
}

function number(mm: number, units: Units): string {
  return formatLength(mm, units).replace(/ \S+$/, "");
}

function clock(seconds: number): string {
  const minutes = Math.round(seconds / 60);
  return minutes < 60
    ? `${minutes} min`
    : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

const STYLE = `
@page { size: auto; margin: 10mm; }
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: #000; font: 9.5pt/1.3 "Liberation Sans", Arial, sans-serif; }
section { max-width: 188mm; margin: 0 auto 6mm; break-after: page; break-inside: avoid; }
section:last-child { break-after: auto; }
header { display: flex; justify-content: space-between; align-items: baseline; border-bottom: 2px solid #000; }
h1 { font-size: 17pt; margin: 0; } header p { margin: 0; }
h2 { font-size: 10pt; margin: 1.5mm 0 .5mm; }
p { margin: 1mm 0; } ul { margin: .5mm 0; padding-left: 5mm; }
.lead { font-size: 11pt; }
.drawing { width: 100%; max-height: 62mm; display: block; border: 1px solid #000; }
.small text { font-size: 13px; }
.lays { display: grid; grid-template-columns: 1fr 1fr; gap: 1mm 4mm; align-items: end; } .small { width: 100%; max-height: 36mm; display: block; border: 1px solid #000; } .lay { margin: .5mm 0 0; }
.lays { break-inside: avoid; } .three { grid-template-columns: 1fr 1fr 1fr; } section:has(.lays) .drawing { max-height: 44mm; }
.piece { fill: url(#dots); stroke: #000; stroke-width: 2.4; } .wood { fill: #fff; stroke: #000; stroke-width: 1.6; stroke-dasharray: 8 4; }
.keep-out { fill: url(#hatch); stroke: #000; stroke-width: 2; } .rows, .zero { fill: none; stroke: #000; stroke-width: 2.2; }
.start { fill: #000; } .end, .caliper, .shim { fill: #fff; stroke: #000; stroke-width: 2; }
text { font: 17px "Liberation Sans", Arial, sans-serif; text-anchor: middle; paint-order: stroke; stroke: #fff; stroke-width: 4px; }
.name { font-weight: bold; font-size: 20px; }
.columns { display: grid; grid-template-columns: 1fr 1fr; gap: 6mm; }
table { border-collapse: collapse; } th { text-align: left; font-weight: normal; padding: .3mm 3mm .3mm 0; vertical-align: top; }
.layers td, .layers th { text-align: right; padding: 0 3mm; border-bottom: 1px solid #999; }
.box { display: inline-block; width: 22mm; height: 5mm; border: 1px solid #000; vertical-align: middle; }
.ticks { list-style: none; padding: 0; display: grid; grid-template-columns: 1fr 1fr; gap: 0 6mm; } .ticks li { padding-left: 6mm; position: relative; break-inside: avoid; min-height: 4.4mm; }
.ticks li::before { content: ""; position: absolute; left: 0; top: .7mm; width: 3.2mm; height: 3.2mm; border: 1px solid #000; }
.caution { font-size: 7pt; line-height: 1.2; border-top: 1px solid #000; padding-top: 1mm; margin-top: 2mm; }
`;
