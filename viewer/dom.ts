// Elements without a framework. Text always becomes text: nothing that a file says can become markup here.

type Child = Node | string | null | false;
type Attributes = Readonly<
  Record<string, string | number | boolean | null | undefined | ((event: never) => void)>
>;

/** An element with attributes, `on...` listeners and children; attributes that are null, undefined or false are left out. */
export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: readonly Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  fill(element, attributes, children);
  return element;
}

/** The same of a drawing. */
export function svg<K extends keyof SVGElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: readonly Child[]
): SVGElementTagNameMap[K] {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  fill(element, attributes, children);
  return element;
}

function fill(element: Element, attributes: Attributes, children: readonly Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") element.addEventListener(name.slice(2), value as EventListener);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.filter((child) => child !== null && child !== false));
}

/** Replaces text only where it is another: what a screen reader follows is not told twice. */
export function say(element: Element, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}
