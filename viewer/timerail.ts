// The time rail: the machine's minutes from left to right, layers as blocks, and under them how much of each moment
// goes into wood, ways between, and lifts, each in a lane of its own. Scrub on it, play it, go row by row.

import { type Block, blocksOf, SPENDS, Spend, spendShares } from "../src/preview/rail.ts";
import { heightsNow } from "../src/preview/readings.ts";
import type { SetupScene } from "../src/preview/scene.ts";
import { formatFeed, formatLength, formatVolume, type Units } from "../src/units.ts";
import { h, say, svg } from "./dom.ts";
import { clockTime } from "./format.ts";
import type { Player } from "./player.ts";
import { type Store, shown } from "./state.ts";

const BINS = 480;
const PACES = [1, 5, 20, 60, 150, 500];

/** `onScrub` is called before a time is set by hand. */
export function timeRail(
  store: Store,
  player: Player,
  onScrub: () => void,
): HTMLElement & { update(): void } {
  const blocks = h("div", { class: "rail-blocks", "aria-hidden": "true" });
  const lanes = h("div", { class: "rail-lanes", "aria-hidden": "true" });
  const slider = h("input", {
    ...{ type: "range", class: "rail-slider", min: 0, max: 1, step: 0.1, value: 0 },
    "aria-label": "Machine time",
    oninput: () => {
      onScrub();
      store.set({ time: Number(slider.value), playing: false });
    },
    onkeydown: (event: KeyboardEvent) => {
      const step = { ArrowLeft: -5, ArrowDown: -5, ArrowRight: 5, ArrowUp: 5 }[event.key];
      if (step !== undefined) {
        const to = store.state.time + step * (event.shiftKey ? 6 : 1);
        store.set({ time: Math.max(0, Math.min(player.replay?.total ?? 0, to)), playing: false });
      } else if (event.key === "PageUp" || event.key === "PageDown")
        player.stepLayer(event.key === "PageUp" ? 1 : -1);
      else return;
      event.preventDefault();
    },
  });
  const head = h("div", { class: "rail-head", "aria-hidden": "true" });
  const play = h("button", {
    type: "button",
    class: "play",
    onclick: () => store.set({ playing: !store.state.playing }),
  });
  const pace = h(
    "select",
    { "aria-label": "How many times as fast", onchange: () => store.set({ pace: Number(pace.value) }) },
    ...PACES.map((times) =>
      h("option", { value: times, selected: times === store.state.pace }, `${times}\u00d7`),
    ),
  );
  const clock = h("output", { class: "rail-clock" });
  const left = h("span", { class: "rail-left" });
  const taken = h("span", { class: "rail-taken" });
  const stands = h("span", { class: "rail-stands" });
  const where = h("span", { class: "rail-where" });
  const totals = h("div", { class: "rail-totals" });
  const element = h(
    "section",
    { class: "time-rail", "aria-label": "Time rail" },
    h(
      "div",
      { class: "rail-controls" },
      play,
      stepButton("\u2039 Row", "Row before", () => player.stepRow(-1)),
      stepButton("Row \u203a", "Next row", () => player.stepRow(1)),
      h("label", { class: "inline" }, "Pace ", pace),
      clock,
      left,
      taken,
      stands,
    ),
    h("div", { class: "rail-track" }, blocks, lanes, head, slider),
    h("div", { class: "rail-foot" }, where, totals),
  );

  const build = () => {
    const { state } = store;
    const setup = shown(state);
    const { replay } = player;
    if (setup === null || replay === null) return;
    slider.max = String(replay.total);
    blocks.replaceChildren(...blockElements(blocksOf(setup.track, replay.ends), setup, replay.total));
    lanes.replaceChildren(lanesOf(spendShares(setup.track, replay.ends, BINS)));
    const { cutting, linking, rapid, spindle } = setup.seconds;
    totals.replaceChildren(
      total("cut", setup.wood === null ? "Level moves" : "In the wood", cutting),
      total("link", "Links", linking),
      total("lift", "Lifts", rapid),
      total("spindle", "Spindle", spindle),
    );
  };
  const update = () => {
    const { state } = store;
    const setup = shown(state);
    const { replay, moment } = player;
    if (setup === null || replay === null || moment === null) return;
    slider.value = String(state.time);
    head.style.left = `${replay.total > 0 ? (100 * state.time) / replay.total : 0}%`;
    say(clock, clockTime(state.time));
    say(left, `left ${clockTime(replay.total - state.time)} of ${clockTime(replay.total)}`);
    const { wood, resin } = setup.removedLitres;
    const litres = wood + resin;
    const volume = (part: number) => formatVolume(part, state.units, 2);
    say(
      taken,
      setup.wood === null
        ? ""
        : !replay.isPrepared
          ? "counting material \u2026"
          : `taken ${volume(moment.taken * litres)} of ${volume(litres)}, ${Math.round(100 * moment.taken)} %`,
    );
    say(stands, standsText(setup, replay.heights, state.units));
    const text = entryText(setup, moment.entry, state.units);
    say(where, text);
    slider.setAttribute("aria-valuetext", `${clockTime(state.time)} of ${clockTime(replay.total)}, ${text}`);
  };
  store.listen((state, changed) => {
    if (changed.has("scene") || changed.has("setup")) build();
    if (["scene", "setup", "time", "units"].some((key) => changed.has(key as "scene"))) update();
    if (changed.has("playing") || changed.has("scene")) {
      say(play, state.playing ? "Pause" : "Play");
      play.setAttribute("aria-pressed", String(state.playing));
    }
  });
  say(play, "Play");
  return Object.assign(element, { update });
}

function stepButton(text: string, name: string, act: () => void): HTMLElement {
  return h("button", { type: "button", "aria-label": name, onclick: act }, text);
}

function total(kind: string, name: string, seconds: number): HTMLElement {
  return h(
    "span",
    { class: "rail-total" },
    h("i", { class: `swatch swatch-${kind}` }),
    `${name} ${clockTime(seconds)}`,
  );
}

function blockElements(blocks: readonly Block[], { layers }: SetupScene, total: number): HTMLElement[] {
  return blocks.map(({ layer, from, to }) => {
    const share = total > 0 ? (100 * (to - from)) / total : 100;
    const kind = layers[layer]?.kind;
    const name = layer < 0 ? "" : kind === "finish" ? "finish" : `${layer + 1}`;
    const block = h(
      "div",
      { class: `block ${layer < 0 ? "block-none" : layer % 2 === 0 ? "block-even" : "block-odd"}` },
      share > 3.2 || (share > 1.4 && name.length < 3) ? name : "",
    );
    block.style.width = `${share}%`;
    return block;
  });
}

/** Three lanes over each other, from the top: in the wood, links, lifts. */
function lanesOf(shares: Float32Array): SVGElement {
  const lane = (spend: Spend, top: number, kind: string) => {
    let path = `M0 ${top + 10}`;
    for (let bin = 0; bin < BINS; bin++) {
      const y = (top + 10 - 9 * Math.min(1, shares[SPENDS * bin + spend])).toFixed(2);
      path += `L${bin} ${y}L${bin + 1} ${y}`;
    }
    return svg("path", { class: `lane lane-${kind}`, d: `${path}L${BINS} ${top + 10}Z` });
  };
  return svg(
    "svg",
    { viewBox: `0 0 ${BINS} 30`, preserveAspectRatio: "none" },
    lane(Spend.cutting, 0, "cut"),
    lane(Spend.linking, 10, "link"),
    lane(Spend.lifting, 20, "lift"),
  );
}

/** How high the face stands now where the cutter can reach it. */
function standsText(setup: SetupScene, heights: Float32Array | null, units: Units): string {
  if (heights === null) return "";
  const [low, high] = heightsNow(setup, heights);
  if (!(low <= high)) return "";
  return `face ${formatLength(low, units)} to ${formatLength(high, units)} from the floor`;
}

const KINDS = [
  "lift (G0)",
  "move (G1)",
  "arc (G2)",
  "arc (G3)",
  "dwell",
  "spindle",
  "cutter change",
  "stop",
  "work offset",
  "end",
];

/** What an entry is, as the tooltip and the rail say it. */
export function entryText(setup: SetupScene, entry: number, units: Units): string {
  const { track, layers, programs } = setup;
  const layer = track.layer[entry];
  const row = track.row[entry];
  const kind = track.kind[entry];
  const feed = kind >= 1 && kind <= 3 ? `feed ${formatFeed(track.value[entry], units)}` : "";
  const z = Number.isNaN(track.z[entry]) ? "" : `Z ${formatLength(track.z[entry], units)}`;
  const file = programs.length > 1 ? (programs[track.program[entry]]?.file ?? "") : "";
  return [
    layer >= 0 ? `layer ${layer + 1} of ${layers.length}` : "",
    row >= 0 ? `row ${row + 1}` : KINDS[kind],
    feed,
    z,
    `line ${track.line[entry]}${file === "" ? "" : ` of ${file}`}`,
  ]
    .filter((part) => part !== "")
    .join(", ");
}
