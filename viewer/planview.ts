// The plan view, for browsers that cannot draw the scene: outlines, wood, keep-outs, the track of the layer under
// the cutter, program zero and travel, as seen from above.

import { isMotion } from "../src/motion/track.ts";
import { chordsOf, placeIn } from "../src/preview/cut.ts";
import { spendOf } from "../src/preview/rail.ts";
import type { Moment } from "../src/preview/replay.ts";
import type { SetupScene } from "../src/preview/scene.ts";
import { boxOf } from "../src/survey/field.ts";
import { h, svg } from "./dom.ts";
import { type State, type Store, shown } from "./state.ts";

/** A drawing with more lines than this would be slow. */
const LINES_MAX = 20_000;

export class PlanView {
  readonly element = h("div", { class: "stage plan-view" });
  private readonly store: Store;
  private cutter: SVGElement | null = null;
  private drawn = "";

  constructor(store: Store) {
    this.store = store;
    store.listen((state) => this.draw(state, this.layer));
  }

  private layer = 0;

  show(moment: Moment): void {
    const setup = shown(this.store.state);
    if (setup === null) return;
    this.layer = Math.max(0, setup.track.layer[moment.entry]);
    this.draw(this.store.state, this.layer);
    const [x, y] = [moment.x + setup.zeroMm.x, moment.y + setup.zeroMm.y];
    if (Number.isNaN(x + y)) return;
    this.cutter?.setAttribute("cx", x.toFixed(2));
    this.cutter?.setAttribute("cy", (-y).toFixed(2));
  }

  private draw(state: State, layer: number): void {
    const setup = shown(state);
    if (setup === null) return;
    const { follow, layers, cuts, links, lifts } = state;
    const key = [
      setup.id,
      setup.track.count,
      setup.seconds.total,
      follow ? layer : [...layers].join(" "),
      cuts,
      links,
      lifts,
    ].join("|");
    if (key === this.drawn) return;
    this.drawn = key;
    const isShown = (of: number) => (follow ? of === layer : layers.has(of));
    const ring = (outline: Float64Array, kind: string) => svg("path", { class: kind, d: ringPath(outline) });
    const box = boxOf([...setup.pieces, ...setup.keepOuts].map(({ outline }) => outline));
    const view =
      box.minX <= box.maxX ? box : (setup.programs[0]?.reach ?? { minX: 0, minY: 0, maxX: 100, maxY: 100 });
    const pad = 0.06 * (view.maxX - view.minX);
    const [width, height] = [view.maxX - view.minX + 2 * pad, view.maxY - view.minY + 2 * pad];
    this.cutter = svg("circle", { class: "plan-cutter", r: Math.max(5, setup.cutter.diameterMm / 2) });
    const { x, y } = setup.zeroMm;
    this.element.replaceChildren(
      h(
        "p",
        { class: "notice" },
        "This browser cannot draw in three dimensions here (no WebGL 2). The plan from above and all numbers are complete.",
      ),
      svg(
        "svg",
        {
          viewBox: `${view.minX - pad} ${-view.maxY - pad} ${width} ${height}`,
          ...{ role: "img", "aria-label": `Plan view of ${setup.id} from above` },
        },
        ...setup.pieces.map(({ outline }) => ring(outline, "plan-piece")),
        ...setup.keepOuts.map(({ outline }) => ring(outline, "plan-keep-out")),
        ...[cuts ? 0 : -1, links ? 1 : -1, lifts ? 2 : -1]
          .filter((spend) => spend >= 0)
          .map((spend) =>
            svg("path", { class: `plan-track plan-track-${spend}`, d: trackPath(setup, spend, isShown) }),
          ),
        svg("path", { class: "plan-zero", d: `M${x - 15} ${-y}H${x + 60}M${x} ${-y + 15}V${-y - 60}` }),
        this.cutter,
      ),
    );
  }
}

function ringPath(ring: Float64Array): string {
  let path = "";
  for (let k = 0; k < ring.length; k += 2)
    path += `${k === 0 ? "M" : "L"}${ring[k].toFixed(2)} ${(-ring[k + 1]).toFixed(2)}`;
  return `${path}Z`;
}

function trackPath(setup: SetupScene, spend: number, isShown: (layer: number) => boolean): string {
  const { track, zeroMm } = setup;
  const parts: string[] = [];
  for (let k = 1; k < track.count && parts.length < LINES_MAX; k++) {
    if (!isMotion(track.kind[k]) || spendOf(track, k) !== spend || !isShown(track.layer[k])) continue;
    if (Number.isNaN(track.x[k - 1] + track.y[k - 1])) continue;
    const chords = chordsOf(track, k, 0.5);
    for (let chord = 0; chord <= chords; chord++) {
      const { x, y } = placeIn(track, k, chord / chords);
      parts.push(`${chord === 0 ? "M" : "L"}${(x + zeroMm.x).toFixed(2)} ${(-y - zeroMm.y).toFixed(2)}`);
    }
  }
  return parts.join("");
}
