// Light and dark: the page's colours are the style sheet's; the scene reads them from there.

export type Rgb = readonly [number, number, number];

export interface Colours {
  readonly wood: Rgb;
  readonly fresh: Rgb;
  readonly resin: Rgb;
  readonly ink: Rgb;
  readonly paper: Rgb;
  readonly cut: Rgb;
  readonly link: Rgb;
  readonly lift: Rgb;
  readonly rim: Rgb;
  readonly keepOut: Rgb;
}

/** Shares of 1, as the style sheet has them now. */
export function coloursNow(): Colours {
  const style = getComputedStyle(document.documentElement);
  const read = (name: string): Rgb => {
    const hex = style.getPropertyValue(name).trim().slice(1);
    const part = (at: number) => Number.parseInt(hex.slice(at, at + 2), 16) / 255;
    return [part(0), part(2), part(4)];
  };
  return {
    wood: read("--wood"),
    fresh: read("--fresh"),
    resin: read("--resin"),
    ink: read("--ink"),
    paper: read("--paper"),
    cut: read("--cut"),
    link: read("--link"),
    lift: read("--lift"),
    rim: read("--rim"),
    keepOut: read("--keep-out"),
  };
}

export type Theme = "auto" | "light" | "dark";

/** Sets the theme and calls back whenever colours change, by hand or by the system. */
export function setTheme(theme: Theme): void {
  if (theme === "auto") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = theme;
}
