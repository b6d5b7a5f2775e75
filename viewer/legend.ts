// What the colours of the piece mean: wood and resin, a reading's scale, or what was not cleaned.

import { contourStep, shownRange } from "../src/preview/readings.ts";
import { formatLength } from "../src/units.ts";
import { h } from "./dom.ts";
import { shadeGradient } from "./palette.ts";
import { SHADE_NAMES, type Store, shown } from "./state.ts";

export function legend(store: Store): HTMLElement {
  const element = h("div", { class: "legend" });
  store.listen((_, changed) => {
    if (["scene", "setup", "units", "shade"].some((key) => changed.has(key as "scene")))
      element.replaceChildren(...parts(store));
  });
  return element;
}

function parts({ state }: Store): HTMLElement[] {
  const setup = shown(state);
  if (setup === null || setup.wood === null) return [];
  const { shade, units } = state;
  if (shade === "plain") {
    const step = formatLength(contourStep(setup, units), units);
    return [
      key("raw", "as found"),
      key("fresh", "cut"),
      ...(setup.wood.timber === null ? [] : [key("resin", "resin")]),
      h("span", {}, `a line every ${step} of height`),
    ];
  }
  if (shade === "clean")
    return [
      key("clean", "cleaned"),
      key("below", "below the floor"),
      key("kept", "kept off by keep-outs"),
      ...(setup.wood.timber === null ? [] : [key("resin", "resin")]),
    ];
  const [low, high] = shownRange(setup, shade);
  const ramp = h("i", { class: "ramp" });
  ramp.style.backgroundImage = shadeGradient();
  return [
    h("span", {}, SHADE_NAMES[shade]),
    ramp,
    h(
      "span",
      { class: "ticks" },
      ...[low, (low + high) / 2, high].map((mm) => h("span", {}, formatLength(mm, units))),
    ),
  ];
}

function key(kind: string, text: string): HTMLElement {
  return h("span", { class: "key" }, h("i", { class: `swatch swatch-${kind}` }), text);
}
