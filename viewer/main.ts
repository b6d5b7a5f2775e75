// The page: its parts, put together.

import { Actions } from "./actions.ts";
import { Bench } from "./bench.ts";
import { embedded, Planner } from "./data.ts";
import { h, say } from "./dom.ts";
import { listenToDrops, listenToKeys } from "./keys.ts";
import { ladder } from "./ladder.ts";
import { panel } from "./panel.ts";
import { Player } from "./player.ts";
import { Store } from "./state.ts";
import { emptyState, problemState } from "./states.ts";
import { timeRail } from "./timerail.ts";
import { keyList, top } from "./top.ts";

const store = new Store();
const actions = new Actions(store, new Planner());
// First of all listeners: whoever draws finds the moment that belongs to the time.
const player = new Player(store);
const bench = new Bench(store, player);
const rail = timeRail(store, player, () => bench.stage?.expectMovement());
player.onMoment = () => {
  bench.show();
  rail.update();
};

const files = h("input", {
  ...{ type: "file", multiple: true, id: "files", class: "unseen", tabindex: -1, "aria-hidden": "true" },
  onchange: () => {
    void actions.take([...(files.files ?? [])]);
    files.value = "";
  },
});
const chooseFiles = () => files.click();
const recolour = () => bench.stage?.recolour();
const help = keyList();
const spoken = h("p", { class: "unseen", role: "status" });
const empty = emptyState(store, chooseFiles);
const desk = h(
  "main",
  { class: "desk", hidden: true },
  ladder(store),
  bench.element,
  panel(store, actions),
  rail,
);

store.listen((state, changed) => {
  if (changed.has("scene")) desk.hidden = state.scene === null;
  if (changed.has("spoken")) say(spoken, state.spoken);
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", recolour);
listenToKeys({
  undo: () => actions.undo(),
  redo: () => actions.redo(),
  play: () => store.set({ playing: !store.state.playing }),
  stepRow: (direction) => player.stepRow(direction),
  stepLayer: (direction) => player.stepLayer(direction),
  setup: (setup) => {
    if (setup < (store.state.scene?.setups.length ?? 0)) store.set({ setup, time: 0, playing: false });
  },
  nextShade: () => bench.nextShade(),
  nextView: () => bench.nextView(),
  swapUnits: () => store.set({ units: store.state.units === "mm" ? "in" : "mm" }),
  chooseFiles,
  help: () => help.showModal(),
});

const page = document.getElementById("page") as HTMLElement;
page.removeAttribute("aria-busy");
page.replaceChildren(
  top(store, help, chooseFiles, recolour),
  problemState(store, chooseFiles),
  empty,
  desk,
  listenToDrops((dropped) => void actions.take(dropped)),
  help,
  files,
  spoken,
);

try {
  const found = await embedded();
  if (found === null) empty.hidden = false;
  else actions.open(found.scene, found.source);
} catch (error) {
  empty.hidden = false;
  const text = error instanceof Error ? error.message : String(error);
  const lines = [text, "Make the page anew with slabtrue preview."];
  store.set({ problem: { title: "The plan in this page cannot be read", lines, missing: [] } });
}
document.documentElement.dataset.ready = "true";
