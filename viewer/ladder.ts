// The thickness ladder: one rung for the raw piece, one for each setup, one for the finished piece. Each shows the
// piece from its side as it was first laid: what stays, what this setup takes off which face, what it leaves rough.
// All rungs have one scale, so that thickness is seen getting less. A setup is chosen on it.

import type { PieceScene, Scene, SetupScene } from "../src/preview/scene.ts";
import { formatLength, type Units } from "../src/units.ts";
import { h, svg } from "./dom.ts";
import { clockTime } from "./format.ts";
import type { Store } from "./state.ts";

const WIDTH = 208;
/** Space under the highest and over the lowest place. */
const MARGIN = 4;
/** Few rungs may be taller. */
const HEIGHT = 64;
const HEIGHT_OF_MANY = 40;
const MANY = 3;
/** So little is neither rough nor cut. */
const SEEN_MM = 0.02;

export function ladder(store: Store): HTMLElement {
  const list = h("div", { class: "rungs", role: "radiogroup", "aria-label": "Setups, from raw to finished" });
  const element = h(
    "section",
    { class: "ladder", "aria-label": "Thickness ladder" },
    h("h2", {}, "Thickness ladder"),
    list,
  );
  const build = () => {
    const { scene, units, setup } = store.state;
    list.replaceChildren(...(scene === null ? [] : rungs(scene, units, setup, store)));
  };
  list.addEventListener("keydown", (event) => {
    const step = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1 }[event.key];
    const { scene, setup } = store.state;
    if (step === undefined || scene === null) return;
    event.preventDefault();
    choose(store, (setup + step + scene.setups.length) % scene.setups.length);
    list.querySelector<HTMLElement>('[aria-checked="true"]')?.focus();
  });
  store.listen((_, changed) => {
    if (["scene", "units"].some((key) => changed.has(key as "scene"))) build();
    else if (changed.has("setup"))
      list.querySelectorAll('[role="radio"]').forEach((rung, k) => {
        const isChosen = k === store.state.setup;
        rung.setAttribute("aria-checked", String(isChosen));
        rung.setAttribute("tabindex", isChosen ? "0" : "-1");
      });
  });
  build();
  return element;
}

function choose(store: Store, setup: number): void {
  store.set({ setup, time: 0, playing: false });
}

function rungs(scene: Scene, units: Units, chosen: number, store: Store): HTMLElement[] {
  const first = scene.setups[0];
  const last = scene.setups.at(-1);
  if (first === undefined || last === undefined || first.pieces.length === 0)
    return scene.setups.map((setup, k) => rung(setup, k, chosen, null, units, store));
  const scale = scaleOf(scene);
  const length = (mm: number) => formatLength(mm, units);
  return [
    h(
      "div",
      { class: "rung end" },
      h("span", { class: "rung-name" }, "Raw"),
      drawing(first.pieces, "raw", scale, units),
      h("span", { class: "rung-figures" }, length(Math.max(...first.pieces.map(({ foundMm }) => foundMm)))),
    ),
    ...scene.setups.map((setup, k) => rung(setup, k, chosen, scale, units, store)),
    h(
      "div",
      { class: "rung end" },
      h("span", { class: "rung-name" }, "Finished"),
      drawing(last.pieces, "done", scale, units),
      h("span", { class: "rung-figures" }, finishedText(last, units)),
    ),
  ];
}

function rung(
  setup: SetupScene,
  k: number,
  chosen: number,
  scale: Scale | null,
  units: Units,
  store: Store,
): HTMLElement {
  const side = setup.pieces[0]?.section.side ?? 1;
  const figures =
    setup.floorMm === null
      ? clockTime(setup.seconds.total)
      : `${formatLength(setup.removedMostMm, units)} off, ${clockTime(setup.seconds.total)}`;
  return h(
    "button",
    {
      ...{ type: "button", class: "rung", role: "radio", "aria-checked": String(k === chosen) },
      tabindex: k === chosen ? 0 : -1,
      onclick: () => choose(store, k),
    },
    h(
      "span",
      { class: "rung-name" },
      h("span", { class: "rung-number" }, `${k + 1}`),
      h("span", { class: "rung-id" }, setup.id),
      h("span", { class: "rung-face" }, side === 1 ? setup.face : `${setup.face}, turned`),
    ),
    scale && drawing(setup.pieces, "cut", scale, units),
    h("span", { class: "rung-figures" }, figures),
  );
}

function finishedText(setup: SetupScene, units: Units): string {
  const thin = Math.min(...setup.pieces.map(({ thinnestMm }) => thinnestMm));
  const thick = Math.max(...setup.pieces.map(({ thickestMm }) => thickestMm));
  const [a, b] = [formatLength(thin, units), formatLength(thick, units)];
  return a === b ? a : `${a} to ${b}`;
}

/** Between which heights all rungs are drawn. */
interface Scale {
  readonly low: number;
  readonly high: number;
  readonly heightPx: number;
}

function scaleOf({ setups }: Scene): Scale {
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const { pieces } of setups)
    for (const { section } of pieces)
      for (const column of [section.outerMm, section.farMm])
        for (const z of column) {
          if (z < low) low = z;
          if (z > high) high = z;
        }
  const heightPx = setups.length < MANY ? HEIGHT : HEIGHT_OF_MANY;
  return low < high ? { low, high, heightPx } : { low: 0, high: 1, heightPx };
}

/** The pieces of a rung beside each other. */
function drawing(
  pieces: readonly PieceScene[],
  what: "raw" | "cut" | "done",
  { low, high, heightPx }: Scale,
  units: Units,
): SVGElement {
  const each = WIDTH / pieces.length;
  const y = (z: number) => MARGIN + ((high - z) / (high - low)) * (heightPx - 2 * MARGIN);
  const parts = pieces.flatMap((piece, k) =>
    pieceParts(piece, what, k * each, each - (pieces.length > 1 ? 6 : 0), y),
  );
  return svg(
    "svg",
    {
      ...{ viewBox: `0 0 ${WIDTH} ${heightPx}`, class: "section", role: "img" },
      "aria-label": sectionText(pieces, what, units),
    },
    ...parts,
  );
}

function sectionText(pieces: readonly PieceScene[], what: "raw" | "cut" | "done", units: Units): string {
  const names = pieces.map(({ id }) => id).join(", ");
  if (what === "raw") return `Side section of ${names}, raw`;
  const left = pieces.map(({ thickestMm }) => formatLength(thickestMm, units)).join(", ");
  return `Side section of ${names}, ${what === "done" ? "finished" : "after this setup"}: ${left} thick`;
}

function pieceParts(
  { section }: PieceScene,
  what: "raw" | "cut" | "done",
  x: number,
  width: number,
  y: (z: number) => number,
): SVGElement[] {
  const { outerMm, innerMm, leftOuterMm, leftInnerMm, farMm, woodHighMm, woodLowMm, side } = section;
  const top = what === "raw" ? outerMm : leftOuterMm;
  const hasResin = woodHighMm.some((z) => !Number.isNaN(z));
  const parts: SVGElement[] = [
    svg("path", { class: hasResin ? "is-resin" : "is-wood", d: band(top, farMm, x, width, y) }),
  ];
  if (hasResin) {
    // Of the wood only what still is there.
    const high = woodHighMm.map((z, k) => (side === 1 ? Math.min(z, top[k]) : z));
    const low = woodLowMm.map((z, k) => (side === 1 ? z : Math.max(z, top[k])));
    parts.push(svg("path", { class: "is-wood", d: band(high, low, x, width, y) }));
  }
  if (what === "cut") {
    parts.push(svg("path", { class: "is-off", d: band(outerMm, leftOuterMm, x, width, y) }));
    parts.push(svg("path", { class: "floor-line", d: line(leftOuterMm, x, width, y) }));
  }
  const inner = what === "raw" ? innerMm : leftInnerMm;
  const rough = inner.map((z, k) => (Math.abs(z - top[k]) > SEEN_MM ? z : Number.NaN));
  parts.push(svg("path", { class: "hollow-line", d: line(rough, x, width, y) }));
  return parts;
}

/** The area between two columns, station by station, gaps left out. */
function band(a: Float32Array, b: Float32Array, x: number, width: number, y: (z: number) => number): string {
  const step = width / a.length;
  let path = "";
  for (let k = 0; k < a.length; ) {
    if (Number.isNaN(a[k] + b[k])) {
      k++;
      continue;
    }
    const from = k;
    while (k < a.length && !Number.isNaN(a[k] + b[k])) k++;
    const at = (n: number, z: number) => `${(x + n * step).toFixed(1)} ${y(z).toFixed(2)}`;
    path += `M${at(from, a[from])}`;
    for (let n = from; n < k; n++) path += `L${at(n + 0.5, a[n])}`;
    path += `L${at(k, a[k - 1])}L${at(k, b[k - 1])}`;
    for (let n = k - 1; n >= from; n--) path += `L${at(n + 0.5, b[n])}`;
    path += `L${at(from, b[from])}Z`;
  }
  return path;
}

function line(column: Float32Array, x: number, width: number, y: (z: number) => number): string {
  const step = width / column.length;
  let path = "";
  let isOn = false;
  for (let k = 0; k < column.length; k++) {
    if (Number.isNaN(column[k])) {
      isOn = false;
      continue;
    }
    const height = y(column[k]).toFixed(2);
    path += isOn
      ? `L${(x + (k + 0.5) * step).toFixed(1)} ${height}`
      : `M${(x + k * step).toFixed(1)} ${height}`;
    path += `L${(x + (k + 1) * step).toFixed(1)} ${height}`;
    isOn = true;
  }
  return path;
}
