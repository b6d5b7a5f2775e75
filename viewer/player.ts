// Playback: the time of the program, the wood at that time, and the clock that moves it on. Prepares its snapshots
// in the time that nothing else needs.

import { rowStarts } from "../src/preview/rail.ts";
import { firstAbove, type Moment, Replay } from "../src/preview/replay.ts";
import type { Scene, SetupScene } from "../src/preview/scene.ts";
import { type Changed, type State, type Store, shown } from "./state.ts";

/** So many cells are run at a time while preparing: a few milliseconds. */
const CELLS_AT_ONCE = 1_500_000;

export class Player {
  replay: Replay | null = null;
  moment: Moment | null = null;
  /** Called when the wood or the cutter is another. */
  onMoment: () => void = () => {};
  /** Called when another setup is to be drawn, before its first moment. */
  onLoad: (setup: SetupScene, ends: Float64Array) => void = () => {};
  private readonly store: Store;
  private setup: SetupScene | null = null;
  private rows: Int32Array = new Int32Array(0);
  private lastFrame = 0;

  constructor(store: Store) {
    this.store = store;
    store.listen((state, changed) => this.follow(state, changed));
  }

  private follow(state: State, changed: Changed): void {
    const setup = shown(state);
    if (setup !== this.setup && state.scene !== null && setup !== null) this.load(setup, state.scene);
    else if (changed.has("time")) this.show();
    if (changed.has("playing") && state.playing) {
      if (this.replay !== null && state.time >= this.replay.total) this.store.set({ time: 0 });
      this.lastFrame = performance.now();
      requestAnimationFrame(this.tick);
    }
  }

  private load(setup: SetupScene, scene: Scene): void {
    this.setup = setup;
    const replay = new Replay(setup, scene.machine);
    this.replay = replay;
    this.rows = rowStarts(setup.track);
    this.onLoad(setup, replay.ends);
    this.show();
    const prepare = () => {
      if (this.replay !== replay) return;
      const isDone = replay.prepare(CELLS_AT_ONCE);
      if (isDone) this.show();
      else setTimeout(prepare, 0);
    };
    // The first picture goes first.
    setTimeout(prepare, 300);
  }

  private show(): void {
    const { replay } = this;
    if (replay === null) return;
    this.moment = replay.at(this.store.state.time);
    this.onMoment();
  }

  private readonly tick = (now: number) => {
    const { state } = this.store;
    if (!state.playing || this.replay === null) return;
    // A page that slept does not leap.
    const passed = Math.min(0.25, Math.max(0, (now - this.lastFrame) / 1000));
    this.lastFrame = now;
    const time = Math.min(this.replay.total, state.time + passed * state.pace);
    this.store.set({ time, playing: time < this.replay.total });
    requestAnimationFrame(this.tick);
  };

  /** To the start of the row after or before the one under way. */
  stepRow(direction: 1 | -1): void {
    const { replay, rows } = this;
    if (replay === null || rows.length === 0) return;
    const { time } = this.store.state;
    const starts = Float64Array.from(rows, (entry) => (entry > 0 ? replay.ends[entry - 1] : 0));
    const next = firstAbove(starts, time + 1e-6);
    const before = firstAbove(starts, time - 1e-6) - 1;
    const to = direction === 1 ? (starts[next] ?? replay.total) : (starts[before] ?? 0);
    this.store.set({ time: to, playing: false });
  }

  /** To the start of the layer after or before the one under way. */
  stepLayer(direction: 1 | -1): void {
    const { replay, setup } = this;
    if (replay === null || setup === null) return;
    const { time } = this.store.state;
    const { layer, count } = setup.track;
    const starts: number[] = [];
    for (let k = 1; k < count; k++)
      if (layer[k] !== layer[k - 1] && layer[k] >= 0) starts.push(replay.ends[k - 1]);
    const to =
      direction === 1
        ? (starts.find((start) => start > time + 1e-6) ?? replay.total)
        : (starts.findLast((start) => start < time - 1e-6) ?? 0);
    this.store.set({ time: to, playing: false });
  }

  /** When an entry begins. */
  startOf(entry: number): number {
    return entry > 0 ? (this.replay?.ends[entry - 1] ?? 0) : 0;
  }
}
