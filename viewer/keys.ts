// Keys that work anywhere on the page, and files dropped anywhere on it.

import { h } from "./dom.ts";

/** What keys do; a key that does nothing here goes where it would have gone. */
export interface KeyActions {
  undo(): void;
  redo(): void;
  play(): void;
  stepRow(direction: 1 | -1): void;
  stepLayer(direction: 1 | -1): void;
  setup(index: number): void;
  nextShade(): void;
  nextView(): void;
  swapUnits(): void;
  chooseFiles(): void;
  help(): void;
}

export function listenToKeys(actions: KeyActions): void {
  document.addEventListener("keydown", (event) => {
    const target = event.target as HTMLElement;
    if (event.altKey || target.closest("dialog") !== null) return;
    const isChord = event.ctrlKey || event.metaKey;
    // Whoever writes needs the keys; undoing is ours again once what was written is taken.
    const writes = isChord ? "input[data-edited]" : "input:not([type=range], [type=checkbox]), select";
    if (target.closest(writes) !== null) return;
    const act = isChord ? chord(event, actions) : plainKey(event.key, target, actions);
    if (act === null) return;
    event.preventDefault();
    act();
  });
}

function chord({ key, shiftKey }: KeyboardEvent, actions: KeyActions): (() => void) | null {
  const letter = key.toLowerCase();
  if (letter === "z") return shiftKey ? actions.redo : actions.undo;
  return letter === "y" ? actions.redo : null;
}

function plainKey(key: string, target: HTMLElement, actions: KeyActions): (() => void) | null {
  switch (key) {
    case " ":
      // Where the space bar already presses something, it goes on doing that.
      return target.closest("button, summary, a, input[type=checkbox]") === null ? actions.play : null;
    case ",":
      return () => actions.stepRow(-1);
    case ".":
      return () => actions.stepRow(1);
    case "[":
      return () => actions.stepLayer(-1);
    case "]":
      return () => actions.stepLayer(1);
    case "s":
      return actions.nextShade;
    case "v":
      return actions.nextView;
    case "u":
      return actions.swapUnits;
    case "o":
      return actions.chooseFiles;
    case "?":
      return actions.help;
    default:
      return /^[1-9]$/.test(key) ? () => actions.setup(Number(key) - 1) : null;
  }
}

/** Takes files dropped anywhere; the element returned covers the page while they hover. */
export function listenToDrops(take: (files: readonly File[]) => void): HTMLElement {
  const cover = h(
    "div",
    { class: "drop-cover", hidden: true, "aria-hidden": "true" },
    "Let go: a job with its files, or a program",
  );
  // Each element that the pointer crosses is entered and left; over none it has left the page.
  let entered = 0;
  const enter = (by: number) => {
    entered = Math.max(0, entered + by);
    cover.hidden = entered === 0;
  };
  document.addEventListener("dragenter", (event) => {
    event.preventDefault();
    enter(1);
  });
  document.addEventListener("dragleave", () => enter(-1));
  document.addEventListener("dragover", (event) => event.preventDefault());
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    enter(-entered);
    take([...(event.dataTransfer?.files ?? [])]);
  });
  return cover;
}
