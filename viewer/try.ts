// Try another way: a setup's numbers, changed here, planned anew, with what each change has done beside it.

import type { SetupScene } from "../src/preview/scene.ts";
import { formatLength, inUnits, parseFeed, parseLength, type Units } from "../src/units.ts";
import type { Actions } from "./actions.ts";
import { h } from "./dom.ts";
import { minutesMore, signed } from "./format.ts";
import { changeBy, type State, type Store, shown, sourceOf } from "./state.ts";

interface Field {
  readonly key: string;
  readonly name: string;
  readonly path: readonly string[];
  /** What stands behind the number. */
  readonly unit: (units: Units) => string;
  /** As the plan has it, in the unit shown. */
  readonly value: (setup: SetupScene, units: Units) => number | null;
  /** What goes into the job's file for what was typed; null: not understood. */
  readonly written: (typed: string, units: Units, job: Units) => number | string | null;
  readonly step: (units: Units) => number;
}

const RADIAN = 180 / Math.PI;

const lengthUnit = (units: Units) => units;

/** A length as typed: a number in the unit shown, or text with its own. In the file it is a number where that is its unit. */
function writtenLength(typed: string, units: Units, job: Units): number | string | null {
  const plain = plainNumber(typed);
  if (plain !== null) return units === job ? plain : `${plain} ${units}`;
  return parseLength(typed, job) === null ? null : typed.trim();
}

function writtenFeed(typed: string, units: Units, job: Units): number | string | null {
  const plain = plainNumber(typed);
  if (plain !== null) return units === job ? plain : `${plain} ${units}/min`;
  return parseFeed(typed, job) === null ? null : typed.trim();
}

function plainNumber(typed: string): number | null {
  const text = typed.trim().replace(",", ".");
  return /^-?(\d+\.?\d*|\.\d+)$/.test(text) ? Number(text) : null;
}

const TARGETS = {
  thickness: "Floor at thickness",
  depth: "Floor at depth",
  even: "Even to thickness",
  cleanUp: "Clean-up",
} as const;

function fieldsOf({ target, passes }: SetupScene): Field[] {
  if (target === null || passes === null) return [];
  const share = (key: string, name: string, path: readonly string[], of: () => number): Field => ({
    ...{ key, name, path },
    unit: () => "%",
    value: () => 100 * of(),
    written: (typed) => {
      const number = plainNumber(typed.replace(/%\s*$/, ""));
      return number === null ? null : Math.round(number * 1e6) / 1e8;
    },
    step: () => 5,
  });
  const length = (
    key: string,
    name: string,
    path: readonly string[],
    of: (setup: SetupScene) => number | null,
    step: (units: Units) => number,
  ): Field => ({
    ...{ key, name, path, step },
    unit: lengthUnit,
    value: (setup, units) => {
      const mm = of(setup);
      return mm === null ? null : inUnits(mm, units);
    },
    written: writtenLength,
  });
  return [
    share("stepover", "Stepover", ["passes", "stepover"], () => passes.stepoverShare),
    length(
      "depth",
      "Depth per pass",
      ["passes", "depth"],
      (setup) => setup.passes?.depthMm ?? null,
      (units) => (units === "mm" ? 0.25 : 0.01),
    ),
    target.kind === "cleanUp"
      ? { ...share("target", TARGETS.cleanUp, ["target", "cleanUp"], () => target.share), step: () => 1 }
      : length(
          "target",
          TARGETS[target.kind],
          ["target", target.kind],
          () => target.mm,
          (units) => (units === "mm" ? 0.5 : 0.02),
        ),
    length(
      "leave",
      "Leave for sanding",
      ["leave"],
      (setup) => setup.leaveMm,
      (units) => (units === "mm" ? 0.1 : 0.005),
    ),
    {
      ...{ key: "feed", name: "Feed", path: ["passes", "feed"], written: writtenFeed },
      unit: (units) => `${units}/min`,
      value: (_, units) => inUnits(passes.feedMmPerMin, units),
      step: (units) => (units === "mm" ? 250 : 10),
    },
    {
      ...{ key: "angle", name: "Angle from the grain", path: ["passes", "angle"] },
      unit: () => "degrees",
      value: () => (passes.angleRad === null ? null : passes.angleRad * RADIAN),
      written: (typed) =>
        typed.trim() === "fastest" ? "fastest" : plainNumber(typed.replace(/\u00b0|degrees?/, "")),
      step: () => 15,
    },
  ];
}

export function tryPanel(store: Store, actions: Actions): HTMLElement {
  const form = h("div", { class: "try-fields" });
  const undo = h("button", { type: "button", onclick: () => actions.undo() }, "Undo");
  const redo = h("button", { type: "button", onclick: () => actions.redo() }, "Redo");
  const trouble = h("div", { class: "trouble", role: "alert" });
  const sum = h("p", { class: "quiet" });
  const element = h(
    "section",
    { class: "try", "aria-label": "Try another way" },
    h("h3", {}, "Try another way"),
    form,
    trouble,
    sum,
    h("div", { class: "buttons" }, undo, redo),
  );
  let drawn: { key: string; refresh: (state: State) => void } | null = null;
  store.listen((state, changed) => {
    const setup = shown(state);
    element.hidden =
      setup === null || setup.passes === null || sourceOf(state) === null || state.program !== null;
    if (setup === null || element.hidden) return;
    const key = `${state.setup} ${state.units} ${setup.target?.kind} ${setup.id}`;
    if (drawn?.key !== key) {
      const rows = fieldsOf(setup).map((field) => fieldRow(field, store, actions));
      const way = rowsRow(actions);
      form.replaceChildren(...rows.map((row) => row.element), way.element);
      drawn = { key, refresh: refreshAll([...rows, way]) };
    }
    if (["scene", "setup", "units", "steps", "at", "busy"].some((name) => changed.has(name as "scene")))
      drawn.refresh(state);
    undo.disabled = state.at === 0;
    redo.disabled = state.at + 1 >= state.steps.length;
    trouble.replaceChildren(
      ...(state.at > 0 && state.problem !== null ? state.problem.lines.map((line) => h("p", {}, line)) : []),
    );
    sum.textContent = sumText(state);
  });
  return element;
}

function refreshAll(rows: readonly Row[]): (state: State) => void {
  return (state) => {
    for (const row of rows) row.refresh(state);
  };
}

interface Row {
  readonly element: HTMLElement;
  refresh(state: State): void;
}

function fieldRow(field: Field, store: Store, actions: Actions): Row {
  const id = `try-${field.key}`;
  const input = h("input", {
    ...{ id, type: "text", inputmode: "decimal", autocomplete: "off", spellcheck: "false" },
    "aria-describedby": `${id}-change`,
    oninput: () => input.toggleAttribute("data-edited", true),
    onchange: () => apply(input.value),
    onkeydown: (event: KeyboardEvent) => {
      const step = { ArrowUp: 1, ArrowDown: -1 }[event.key];
      const number = plainNumber(input.value);
      if (step === undefined || number === null) return;
      event.preventDefault();
      const size = field.step(store.state.units);
      input.value = shortNumber(Math.max(0, number + step * size));
    },
  });
  const unit = h("span", { class: "unit" });
  const change = h("output", { class: "change", id: `${id}-change`, for: id });
  const apply = (typed: string) => {
    const { state } = store;
    input.toggleAttribute("data-edited", false);
    const written = field.written(typed, state.units, state.scene?.units ?? "mm");
    input.setAttribute("aria-invalid", String(written === null));
    if (written === null) {
      change.textContent = "a number is wanted";
      return;
    }
    if (shortNumber(numberOf(field, state) ?? Number.NaN) === shortNumber(Number(typed))) return;
    actions.change(field.key, field.path, written, typed);
  };
  return {
    element: h(
      "div",
      { class: "try-row" },
      h("label", { for: id }, field.name),
      h("span", { class: "entry" }, input, unit),
      change,
    ),
    refresh: (state) => {
      unit.textContent = field.unit(state.units);
      const value = numberOf(field, state);
      if (document.activeElement !== input || state.busy === "") {
        input.value = pending(field.key, state) ?? (value === null ? "" : shortNumber(value));
      }
      change.textContent = changeText(state, field.key);
    },
  };
}

/** What was typed, where no plan follows it yet. */
function pending(key: string, { steps, at, setup }: State): string | null {
  const step = steps[at];
  return step !== undefined && step.scene === null && step.field === key && step.setup === setup
    ? step.typed
    : null;
}

function rowsRow(actions: Actions): Row {
  const select = h(
    "select",
    {
      id: "try-rows",
      onchange: () => actions.change("rows", ["passes", "rows"], select.value, select.value),
    },
    h("option", { value: "both-ways" }, "both ways"),
    h("option", { value: "one-way" }, "one way"),
  );
  const change = h("output", { class: "change", for: "try-rows" });
  return {
    element: h(
      "div",
      { class: "try-row" },
      h("label", { for: "try-rows" }, "Rows"),
      h("span", { class: "entry" }, select),
      change,
    ),
    refresh: (state) => {
      select.value = pending("rows", state) ?? shown(state)?.passes?.rows ?? "both-ways";
      change.textContent = changeText(state, "rows");
    },
  };
}

function numberOf(field: Field, state: State): number | null {
  const setup = shown(state);
  const now = setup && fieldsOf(setup).find(({ key }) => key === field.key);
  return setup && now ? now.value(setup, state.units) : null;
}

function changeText(state: State, key: string): string {
  if (pending(key, state) !== null)
    return state.steps[state.at].problem === null ? "planning \u2026" : "not possible";
  const change = changeBy(state, state.setup, key);
  if (change === null) return "";
  return [
    minutesMore(change.seconds),
    change.passes === 0
      ? "same passes"
      : `${signed(change.passes, 0)} ${Math.abs(change.passes) === 1 ? "pass" : "passes"}`,
    thicknessText(change.thicknessMm, state.units),
  ].join(", ");
}

function thicknessText(changeMm: number, units: Units): string {
  if (!(Math.abs(changeMm) >= 0.005)) return "same thickness";
  return `${changeMm < 0 ? "\u2212" : "+"}${formatLength(Math.abs(changeMm), units)}`;
}

function sumText(state: State): string {
  const first = state.steps[0]?.scene;
  const now = state.steps[state.at]?.scene;
  if (state.at === 0 || !first || !now) return "";
  const more = now.seconds.machine - first.seconds.machine;
  return `All changes together: ${minutesMore(more)} of machine time.`;
}

function shortNumber(value: number): string {
  if (!Number.isFinite(value)) return "";
  return String(Number(value.toFixed(4)));
}
