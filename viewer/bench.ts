// The piece on its bench: the scene (or, where the browser cannot draw it, the plan view) with its tools, its legend,
// and what is under the pointer. Follows the state and the player.

import type { SetupScene } from "../src/preview/scene.ts";
import { VIEWS, type View } from "./camera.ts";
import { h, say } from "./dom.ts";
import { clockTime } from "./format.ts";
import { legend } from "./legend.ts";
import { PlanView } from "./planview.ts";
import type { Player } from "./player.ts";
import { canDraw, Stage } from "./stage.ts";
import { SHADE_NAMES, SHADES, type Shade, type State, type Store, shown } from "./state.ts";
import { entryText } from "./timerail.ts";

const VIEW_NAMES: Readonly<Record<View, string>> = {
  slant: "Slant",
  above: "Above",
  side: "Side",
  end: "End",
};
const TIMES = [1, 2, 5, 10, 20];

export class Bench {
  readonly element: HTMLElement;
  readonly stage = canDraw() ? new Stage() : null;
  private readonly plan: PlanView | null;
  private readonly store: Store;
  private readonly player: Player;
  private readonly tip = h("div", { class: "tip", role: "status", hidden: true });
  private readonly heightsNow = h("span", { class: "heights-now" });
  private readonly shade: HTMLSelectElement;
  private view = 0;
  /** What lies on the bench: while it is the same, the eye stays where it is. */
  private lying = "";
  private layer = Number.NaN;

  constructor(store: Store, player: Player) {
    this.store = store;
    this.player = player;
    this.plan = this.stage === null ? new PlanView(store) : null;
    this.shade = h(
      "select",
      { id: "shade", onchange: () => store.set({ shade: this.shade.value as Shade }) },
      ...SHADES.map((value) => h("option", { value }, SHADE_NAMES[value])),
    );
    this.element = h(
      "section",
      { class: "stage-box", "aria-label": "The piece" },
      this.stage?.element ?? this.plan?.element ?? null,
      this.stage === null ? null : this.tools(this.stage),
      this.stage === null ? null : legend(store),
      this.tip,
    );
    player.onLoad = (setup, ends) => this.load(setup, ends);
    if (this.stage !== null) this.stage.onPoint = (entry, x, y) => this.point(entry, x, y);
    store.listen((state, changed) => {
      const is = (...keys: (keyof State)[]) => keys.some((key) => changed.has(key));
      if (is("units")) this.stage?.label(state.units);
      if (is("shade")) {
        this.shade.value = state.shade;
        this.stage?.shade(state.shade);
      }
      if (is("heights")) this.stretch();
      if (is("scene", "setup", "follow", "layers", "cuts", "links", "lifts")) this.filter();
      if (is("playing")) this.stage?.setMoving(state.playing);
    });
  }

  nextView(): void {
    this.view = (this.view + 1) % VIEWS.length;
    this.stage?.eye.show(VIEWS[this.view]);
  }

  nextShade(): void {
    const { shade } = this.store.state;
    this.store.set({ shade: SHADES[(SHADES.indexOf(shade) + 1) % SHADES.length] });
  }

  /** Shows the wood and the cutter at the player's moment. */
  show(): void {
    const { moment, replay } = this.player;
    const setup = shown(this.store.state);
    if (moment === null || replay === null || setup === null) return;
    if (replay.heights !== null) this.stage?.setHeights(replay.heights);
    this.stage?.cutterAt(moment.x, moment.y, moment.z, moment.seconds);
    this.plan?.show(moment);
    const layer = layerAt(setup.track.layer, moment.entry);
    if (layer === this.layer) return;
    this.layer = layer;
    if (this.store.state.follow) this.filter();
  }

  private tools(stage: Stage): HTMLElement {
    const heights = h(
      "select",
      { id: "heights", onchange: () => this.store.set({ heights: Number(heights.value) }) },
      h("option", { value: 0 }, "as suits"),
      ...TIMES.map((times) => h("option", { value: times }, timesText(times))),
    );
    return h(
      "div",
      { class: "stage-tools" },
      h("label", { class: "inline", for: "shade" }, "Show ", this.shade),
      h("label", { class: "inline", for: "heights" }, "Heights ", heights, this.heightsNow),
      h(
        "div",
        { class: "views", role: "group", "aria-label": "Seen from" },
        ...VIEWS.map((view) =>
          h("button", { type: "button", onclick: () => stage.eye.show(view) }, VIEW_NAMES[view]),
        ),
      ),
    );
  }

  private load(setup: SetupScene, ends: Float64Array): void {
    const { state } = this.store;
    const pieces = setup.pieces.map(({ id }) => id).join(" ");
    const lying = `${state.scene?.job} ${setup.face} ${pieces} ${setup.wood?.cols} ${setup.wood?.rows}`;
    this.stage?.load(setup, ends);
    this.stretch();
    if (lying !== this.lying) this.stage?.eye.show("slant");
    this.lying = lying;
    this.stage?.label(state.units);
    this.stage?.shade(state.shade);
    this.layer = Number.NaN;
  }

  private stretch(): void {
    if (this.stage === null) return;
    const { heights } = this.store.state;
    const times = heights > 0 ? heights : this.stage.ownHeights();
    this.stage.stretch(times);
    say(this.heightsNow, heights > 0 ? "" : timesText(times));
  }

  private filter(): void {
    const { follow, layers, cuts, links, lifts } = this.store.state;
    const layer = (index: number) => (follow ? index === this.layer : layers.has(index));
    this.stage?.filter({ layer, cuts, links, lifts });
  }

  /** Tells of the move under the pointer. */
  private point(entry: number, x: number, y: number): void {
    const { tip, stage } = this;
    const { state } = this.store;
    const setup = shown(state);
    tip.hidden = entry < 0 || setup === null;
    if (setup === null || stage === null || entry < 0) return;
    const ends = this.player.replay?.ends[entry] ?? 0;
    say(tip, `${entryText(setup, entry, state.units)}, done at ${clockTime(ends)}`);
    const isRight = x > stage.element.clientWidth / 2;
    const shift = isRight ? " translateX(-100%)" : "";
    tip.style.transform = `translate(${x + (isRight ? -14 : 14)}px, ${y + 14}px)${shift}`;
  }
}

function timesText(times: number): string {
  return times === 1 ? "1:1" : `${times}\u00d7`;
}

/** The layer under the cutter; on the way to one, that one. */
function layerAt(layers: Int16Array, entry: number): number {
  for (let k = entry; k < layers.length; k++) if (layers[k] >= 0) return layers[k];
  return layers[layers.length - 1] ?? -1;
}
