// What stands on the page when there is no plan, and when something went wrong.

import { h } from "./dom.ts";
import type { Store } from "./state.ts";

export function emptyState(store: Store, chooseFiles: () => void): HTMLElement {
  const element = h(
    "section",
    { class: "empty", hidden: true },
    h("h2", {}, "No plan is open"),
    h(
      "p",
      {},
      "Drop a job file here, together with its shop file and the tables it names. It is planned and proven on this device; nothing leaves it.",
    ),
    h("p", {}, "Or drop any RS-274 program: it is drawn and timed."),
    h("button", { type: "button", class: "primary", onclick: chooseFiles }, "Open files"),
  );
  store.listen((state, changed) => {
    if (changed.has("scene")) element.hidden = state.scene !== null;
  });
  return element;
}

export function problemState(store: Store, chooseFiles: () => void): HTMLElement {
  const element = h("section", { class: "problem", role: "alert", hidden: true });
  store.listen(({ problem, steps, at }, changed) => {
    if (!changed.has("problem") && !changed.has("at") && !changed.has("steps")) return;
    // Of a change that cannot be, the place beside its field tells.
    const isShown = problem !== null && problem !== steps[at]?.problem;
    element.hidden = !isShown;
    element.replaceChildren();
    if (!isShown) return;
    element.append(
      h("h2", {}, problem.title),
      h("ul", {}, ...problem.lines.map((line) => h("li", {}, line))),
      ...(problem.missing.length > 0
        ? [
            h(
              "p",
              {},
              `Drop ${problem.missing.map((path) => path.replace(/^.*[\\/]/s, "")).join(", ")} onto the page too, or choose again with all files.`,
            ),
          ]
        : []),
      h(
        "div",
        { class: "buttons" },
        h("button", { type: "button", onclick: chooseFiles }, "Open files"),
        h("button", { type: "button", onclick: () => store.set({ problem: null }) }, "Close"),
      ),
    );
  });
  return element;
}
