// Beside the scene: what the chosen setup comes to, which layers are drawn, what to mind, what can be saved.

import { cleanShares } from "../src/preview/readings.ts";
import type { Scene, SetupScene } from "../src/preview/scene.ts";
import { Clean } from "../src/preview/wood-scene.ts";
import { formatLength, formatPoint, formatVolume, type Units } from "../src/units.ts";
import type { Actions } from "./actions.ts";
import { h } from "./dom.ts";
import { clockTime, percent } from "./format.ts";
import { type State, type Store, shown } from "./state.ts";
import { tryPanel } from "./try.ts";

export function panel(store: Store, actions: Actions): HTMLElement {
  const result = h("div", {});
  const mind = h("div", {});
  const layers = h("div", {});
  const saving = h("div", {});
  const attempt = tryPanel(store, actions);
  const element = h("div", { class: "panel" }, result, mind, attempt, layers, saving);
  store.listen((state, changed) => {
    const is = (...keys: (keyof State)[]) => keys.some((key) => changed.has(key));
    if (is("scene", "setup", "units")) {
      result.replaceChildren(...resultPart(state));
      mind.replaceChildren(...mindPart(state));
    }
    if (is("scene", "setup", "units", "follow", "layers", "cuts", "links", "lifts"))
      redraw(layers, () => layersPart(state, store));
    if (is("scene", "setup", "busy", "problem", "steps", "at", "program"))
      redraw(saving, () => savePart(state, actions));
  });
  return element;
}

/** Rebuilds a part without taking the focus from who has it. */
function redraw(part: HTMLElement, make: () => HTMLElement[]): void {
  const held = document.activeElement;
  const key = held instanceof HTMLElement && part.contains(held) ? held.dataset.key : undefined;
  part.replaceChildren(...make());
  if (key !== undefined) part.querySelector<HTMLElement>(`[data-key="${CSS.escape(key)}"]`)?.focus();
}

function resultPart(state: State): HTMLElement[] {
  const setup = shown(state);
  if (setup === null || state.scene === null) return [];
  const { units } = state;
  const rows: [string, string][] = [];
  const { proof, floorMm } = setup;
  rows.push(["Machine time", clockTime(setup.seconds.total)]);
  rows.push(["Passes", passesText(setup)]);
  if (floorMm !== null) {
    rows.push(["Floor", `${formatLength(floorMm, units)} above the bed`]);
    rows.push(["Margin", formatLength(setup.marginMm, units)]);
    rows.push(["Comes off", removedText(setup, units)]);
  }
  for (const piece of setup.pieces) {
    const name = setup.pieces.length > 1 ? `${piece.id}: ` : "";
    rows.push([`${name}Thickness left`, range(piece.thinnestMm, piece.thickestMm, units)]);
    const resin = piece.resinCleanUp === null ? "" : `, resin ${percent(piece.resinCleanUp)}`;
    rows.push([`${name}Clean-up`, `${percent(piece.cleanUp)}${resin}`]);
    rows.push([
      `${name}Clean all over`,
      `at ${formatLength(piece.cleanThicknessMm, units)} or less, once sanded`,
    ]);
  }
  if (proof !== null && floorMm !== null) {
    rows.push([
      "Residual",
      `${range(proof.lowestMm - floorMm, proof.highestMm - floorMm, units)} from the floor`,
    ]);
    rows.push(["Deepest bite", formatLength(proof.deepestCutMm, units)]);
  }
  rows.push(["Zero", zeroText(setup, units)]);
  rows.push([
    "Cutter",
    setup.cutter.diameterMm > 0
      ? `${setup.cutter.name || setup.cutter.id}, ${formatLength(setup.cutter.diameterMm, units)}`
      : "not known",
  ]);
  return [
    h("h2", {}, state.program === null ? `Setup ${setup.id}` : `Program ${state.program}`),
    h(
      "p",
      { class: `proof ${setup.findings.length > 0 ? "proof-bad" : ""}` },
      proofText(setup, state.program !== null),
    ),
    h(
      "dl",
      { class: "figures" },
      ...rows.flatMap(([name, value]) => [h("dt", {}, name), h("dd", {}, value)]),
    ),
    ...bedPart(setup, units),
    h("p", { class: "quiet" }, timeText(state.scene, state.program !== null)),
  ];
}

/** What else stands on the bed, and under the piece. */
function bedPart({ keepOuts, shims }: SetupScene, units: Units): HTMLElement[] {
  const texts = [
    ...shims.map(
      ({ x, y, thicknessMm }) => `shim ${formatLength(thicknessMm, units)} at ${formatPoint(x, y, units)}`,
    ),
    ...keepOuts.map(({ name, heightMm }) => `keep-out ${name}, ${formatLength(heightMm, units)} high`),
  ];
  if (texts.length === 0) return [];
  return [
    h(
      "details",
      {},
      h("summary", {}, `On the bed, ${texts.length}`),
      h("ul", {}, ...texts.map((text) => h("li", {}, text))),
    ),
  ];
}

function timeText({ setups, seconds, machine }: Scene, isProgram: boolean): string {
  const timed = `Timed for ${machine.name}.`;
  if (isProgram) return timed;
  const whole = setups.length === 1 ? "Machine time" : `All ${setups.length} setups: machine time`;
  return `${whole} ${clockTime(seconds.machine)}, with what hands do ${clockTime(seconds.shop)}. ${timed}`;
}

function zeroText({ zeroMm, floorMm }: SetupScene, units: Units): string {
  const height = zeroMm.z === 0 ? "on the bed" : `${formatLength(zeroMm.z, units)} above the bed`;
  return floorMm === null
    ? "as the program has it"
    : `${formatPoint(zeroMm.x, zeroMm.y, units)}, Z ${height}`;
}

function passesText({ layers }: SetupScene): string {
  const rows = layers.reduce((sum, layer) => sum + layer.rows, 0);
  return `${layers.length} ${layers.length === 1 ? "layer" : "layers"}, ${rows} rows`;
}

function removedText({ removedLitres, removedMostMm }: SetupScene, units: Units): string {
  const { wood, resin } = removedLitres;
  const volume = (litres: number) => formatVolume(litres, units, 2);
  const parts = [`${volume(wood)} of wood`, ...(resin > 0 ? [`${volume(resin)} of resin`] : [])];
  return removedMostMm > 0 ? parts.join(", ") : "nothing";
}

function proofText({ proof, findings }: SetupScene, isForeign: boolean): string {
  if (findings.length > 0)
    return `${findings.length} ${findings.length === 1 ? "finding" : "findings"}. Do not run it.`;
  if (proof === null)
    return "Shown and timed; there is no wood to prove it on. Open its job first, then drop it again.";
  return isForeign
    ? "Run on the wood of this setup: nothing found wrong."
    : "The program was read back and run on the measured wood: nothing found wrong.";
}

function range(least: number, greatest: number, units: Units): string {
  const [a, b] = [formatLength(least, units), formatLength(greatest, units)];
  return a === b ? a : `${a} to ${b}`;
}

function mindPart(state: State): HTMLElement[] {
  const setup = shown(state);
  if (setup === null || state.scene === null) return [];
  const shares = cleanShares(setup);
  const texts = [
    ...setup.findings
      .slice(0, 20)
      .map(({ line, text }) => (line > 0 ? `line ${line}: ${text}` : `whole program: ${text}`)),
    ...(setup.findings.length > 20 ? [`and ${setup.findings.length - 20} more`] : []),
    ...setup.warnings.map(({ text }) => text),
    ...(shares[Clean.kept] > 0.0005 && setup.warnings.length === 0
      ? [`${percent(shares[Clean.kept])} of the face stands higher than the floor: keep-outs are too near`]
      : []),
    ...(state.program === null ? state.scene.notes : []),
  ];
  const cautions = state.scene.cautions;
  return [
    ...(texts.length > 0
      ? [
          h(
            "section",
            { class: "mind" },
            h("h3", {}, setup.findings.length > 0 ? "Found" : "Mind"),
            h("ul", {}, ...texts.map((text) => h("li", {}, text))),
          ),
        ]
      : []),
    ...(cautions.length > 0
      ? [
          h(
            "details",
            { class: "cautions" },
            h("summary", {}, "Before you cut"),
            h("ul", {}, ...cautions.map((text) => h("li", {}, text))),
          ),
        ]
      : []),
  ];
}

// Layers ---------------------------------------------------------------------------------------

function layersPart(state: State, store: Store): HTMLElement[] {
  const setup = shown(state);
  if (setup === null) return [];
  const { units, follow, layers } = state;
  const all = setup.layers.map((_, k) => k);
  const check = (
    key: string,
    text: string,
    checked: boolean,
    set: (checked: boolean) => void,
    swatch?: string,
  ) => {
    const box = h("input", { type: "checkbox", "data-key": key, checked, onchange: () => set(box.checked) });
    return h(
      "label",
      { class: "check" },
      box,
      swatch ? h("i", { class: `swatch swatch-${swatch}` }) : null,
      text,
    );
  };
  const choose = (shown: readonly number[]) => store.set({ follow: false, layers: new Set(shown) });
  return [
    h("h3", {}, "Track"),
    h(
      "div",
      { class: "checks" },
      check("cuts", "Cuts", state.cuts, (cuts) => store.set({ cuts }), "cut"),
      check("links", "Links", state.links, (links) => store.set({ links }), "link"),
      check("lifts", "Lifts", state.lifts, (lifts) => store.set({ lifts }), "lift"),
    ),
    h(
      "div",
      { class: "checks" },
      check("follow", "Only the layer under the cutter", follow, (on) =>
        store.set(on ? { follow: true } : { follow: false, layers: new Set(all) }),
      ),
    ),
    h(
      "details",
      { class: "layers", open: !follow },
      h("summary", {}, `Layers, ${setup.layers.length}`),
      h(
        "div",
        { class: "buttons" },
        h("button", { type: "button", "data-key": "all", onclick: () => choose(all) }, "All"),
        h("button", { type: "button", "data-key": "none", onclick: () => choose([]) }, "None"),
      ),
      h(
        "table",
        {},
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            ...["Layer", "Z above bed", "Rows", "Time"].map((name) => h("th", { scope: "col" }, name)),
          ),
        ),
        h(
          "tbody",
          {},
          ...setup.layers.map((layer, k) =>
            h(
              "tr",
              {},
              h(
                "td",
                {},
                check(
                  `layer-${k}`,
                  layer.kind === "finish" ? `${k + 1} finish` : `${k + 1}`,
                  follow || layers.has(k),
                  (on) => {
                    const next = new Set(follow ? all : layers);
                    if (on) next.add(k);
                    else next.delete(k);
                    store.set({ follow: false, layers: next });
                  },
                ),
              ),
              h("td", {}, formatLength(layer.zMm, units)),
              h("td", {}, String(layer.rows)),
              h("td", {}, clockTime(layer.seconds)),
            ),
          ),
        ),
      ),
    ),
  ];
}

// Saving ---------------------------------------------------------------------------------------

function savePart(state: State, actions: Actions): HTMLElement[] {
  const { scene, steps, at, busy, problem, program } = state;
  if (scene === null || steps[at] === undefined) return [];
  if (program !== null)
    return [
      h("h3", {}, "Save"),
      h("button", { type: "button", onclick: () => actions.closeProgram() }, "Back to the plan"),
    ];
  const off = busy !== "" || problem !== null;
  const files = scene.setups.flatMap(({ programs }) => programs.map(({ file }) => file));
  const button = (key: string, text: string, act: () => void) =>
    h("button", { type: "button", "data-key": key, disabled: off, onclick: act }, text);
  return [
    h("h3", {}, "Save"),
    h(
      "p",
      { class: "quiet" },
      at > 0
        ? "With your changes; every program is proven before it is saved."
        : "The programs of this plan, as proven.",
    ),
    h(
      "div",
      { class: "buttons" },
      button("zip", "All programs (zip)", () => void actions.save({ what: "all" })),
      button("job", at > 0 ? "Changed job file" : "Job file", () => actions.saveJob()),
      button("sheet", "Setup sheet", () => void actions.save({ what: "sheet" })),
    ),
    h(
      "details",
      {},
      h("summary", {}, "One program at a time"),
      h(
        "div",
        { class: "buttons" },
        ...files.map((file) => button(file, file, () => void actions.save({ what: "program", file }))),
      ),
    ),
  ];
}
