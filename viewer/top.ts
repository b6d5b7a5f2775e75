// The head of the page: what is shown, what the worker is at, and what holds for the whole page; and the list of keys.

import { h, say } from "./dom.ts";
import type { Store } from "./state.ts";
import { setTheme, type Theme } from "./theme.ts";

const THEMES: readonly (readonly [Theme, string])[] = [
  ["auto", "Light or dark: auto"],
  ["light", "Light"],
  ["dark", "Dark"],
];

const KEYS = [
  ["Space", "play or pause"],
  [", and .", "row before, next row"],
  ["[ and ]", "layer before, next layer"],
  ["1 to 9", "setup"],
  ["S", "next shade"],
  ["V", "slant, above, side, end"],
  ["U", "mm or inch"],
  ["O", "open files"],
  ["Ctrl Z, Ctrl Y", "undo, redo"],
  [
    "on the piece",
    "arrow keys turn, Shift and arrow keys move, + and \u2212 bring nearer, Home shows all; left drag turns, right drag moves",
  ],
  ["on the time rail", "arrow keys go on and back, Page Up and Page Down by layers"],
  ["?", "these keys"],
] as const;

export function top(
  store: Store,
  help: HTMLDialogElement,
  chooseFiles: () => void,
  onTheme: () => void,
): HTMLElement {
  const title = h("h1", {}, "slabtrue preview");
  const subtitle = h("p", { class: "subtitle" });
  const busy = h("p", { class: "busy", role: "status" });
  const units = h(
    "select",
    {
      "aria-label": "Unit of lengths",
      onchange: () => store.set({ units: units.value === "in" ? "in" : "mm" }),
    },
    h("option", { value: "mm" }, "mm"),
    h("option", { value: "in" }, "inch"),
  );
  const theme = h(
    "select",
    {
      "aria-label": "Light or dark",
      onchange: () => {
        setTheme(theme.value as Theme);
        onTheme();
      },
    },
    ...THEMES.map(([value, name]) => h("option", { value }, name)),
  );
  store.listen((state, changed) => {
    if (changed.has("scene") || changed.has("program")) {
      const job = state.scene?.job;
      say(title, job ?? "slabtrue preview");
      document.title = job === undefined ? "slabtrue preview" : `${job} - slabtrue preview`;
      say(subtitle, state.program === null ? "Plan and proof" : `Program ${state.program}`);
    }
    if (changed.has("units")) units.value = state.units;
    if (changed.has("busy")) say(busy, state.busy);
  });
  return h(
    "header",
    { class: "top" },
    h("div", { class: "titles" }, title, subtitle),
    busy,
    h(
      "div",
      { class: "top-tools" },
      h("button", { type: "button", onclick: chooseFiles }, "Open files"),
      units,
      theme,
      h("button", { type: "button", onclick: () => help.showModal() }, "Keys"),
    ),
  );
}

export function keyList(): HTMLDialogElement {
  return h(
    "dialog",
    { class: "help", "aria-label": "Keys" },
    h("h2", {}, "Keys"),
    h("dl", { class: "figures" }, ...KEYS.flatMap(([name, text]) => [h("dt", {}, name), h("dd", {}, text)])),
    h("form", { method: "dialog" }, h("button", {}, "Close")),
  );
}
