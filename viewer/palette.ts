// The colours of readings in shade: our own sequence from deep indigo over petrol to straw. Its lightness only ever
// rises (OKLCH, Ottosson 2020), so it reads without colours too.

/** Lightness, chroma and hue at equal steps of the reading. */
const STOPS: readonly (readonly [l: number, c: number, h: number])[] = [
  [0.26, 0.1, 285],
  [0.4, 0.1, 255],
  [0.54, 0.085, 215],
  [0.68, 0.085, 170],
  [0.82, 0.1, 120],
  [0.94, 0.1, 100],
];

/** RGB from 0 to 255 of a share from 0 to 1. */
function shadeAt(share: number): [number, number, number] {
  const at = Math.max(0, Math.min(1, share)) * (STOPS.length - 1);
  const k = Math.min(STOPS.length - 2, Math.floor(at));
  const mix = (index: 0 | 1 | 2) => STOPS[k][index] + (STOPS[k + 1][index] - STOPS[k][index]) * (at - k);
  return rgbOf(mix(0), mix(1), mix(2));
}

/** The whole sequence as RGBA bytes. */
export function shadeTable(count: number): Uint8Array<ArrayBuffer> {
  const table = new Uint8Array(4 * count);
  for (let k = 0; k < count; k++) table.set([...shadeAt(k / (count - 1)), 255], 4 * k);
  return table;
}

/** As a CSS gradient, least at the left. */
export function shadeGradient(): string {
  const stops = Array.from({ length: 13 }, (_, k) => `rgb(${shadeAt(k / 12).join(" ")})`);
  return `linear-gradient(to right, ${stops.join(", ")})`;
}

function rgbOf(lightness: number, chroma: number, hueDegrees: number): [number, number, number] {
  const hue = (hueDegrees * Math.PI) / 180;
  const [a, b] = [chroma * Math.cos(hue), chroma * Math.sin(hue)];
  const l = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3;
  const m = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3;
  const s = (lightness - 0.0894841775 * a - 1.291485548 * b) ** 3;
  const channel = (linear: number) => {
    const light = Math.max(0, Math.min(1, linear));
    return Math.round(255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055));
  };
  return [
    channel(4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s),
    channel(-1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s),
    channel(-0.0041960863 * l - 0.7034186147 * m + 1.707614701 * s),
  ];
}
