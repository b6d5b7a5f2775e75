// The shapes of a drawing as corners in mm: paths with lines, Bezier curves and elliptical arcs,
// polygons, rectangles with or without rounded corners, circles and ellipses (SVG 2, chapters 9 and
// 10). Curves become chords that nowhere leave them by more than 0.01 mm.

import svgpath from "svgpath";
import { CORNERS_MAX } from "./outline.ts";
import {
  type Attributes,
  innerLength,
  type Matrix,
  numbersIn,
  Unreadable,
  type Viewport,
} from "./svg-frame.ts";
import { quoted } from "./wording.ts";

/** How far a chord may leave its curve, and how near to each other ends count as joined, mm. */
const TOLERANCE_MM = 0.01;

/** No 20 000 corners take more letters. */
const DATA_MAX = 4 * 2 ** 20;

export interface Contour {
  readonly corners: readonly (readonly [number, number])[];
  /** Distance from the last corner to the first; 0 where the drawing itself closes the contour. */
  readonly gapMm: number;
}

/** An element that draws a shape. */
export interface Shape {
  readonly element: string;
  readonly attributes: Attributes;
  readonly toMm: Matrix;
  readonly viewport: Viewport;
}

const DRAWN: Readonly<Record<string, (shape: Shape, pen: Pen) => void>> = {
  path: drawPath,
  polygon: (shape, pen) => drawCorners(shape, pen, true),
  polyline: (shape, pen) => drawCorners(shape, pen, false),
  rect: drawRectangle,
  circle: (shape, pen) => {
    const { width, height } = shape.viewport;
    const radius = innerLength(shape.attributes, "r", Math.sqrt((width * width + height * height) / 2));
    drawEllipse(shape, pen, radius, radius);
  },
  ellipse: (shape, pen) => {
    const [rx, ry] = radiiOf(shape);
    drawEllipse(shape, pen, rx, ry);
  },
};

/** Whether the element draws a shape that this module knows. */
export function isShape(element: string): boolean {
  return Object.hasOwn(DRAWN, element);
}

/** The one closed contour of a shape. Throws Unreadable where it is none, saying why. */
export function closedContour(shape: Shape): Contour["corners"] {
  if ((shape.attributes.d ?? shape.attributes.points ?? "").length > DATA_MAX) tooMany();
  const pen = new Pen(shape.toMm);
  DRAWN[shape.element](shape, pen);
  const contours = pen.contours();
  if (contours.length === 0) throw new Unreadable("draws nothing; wanted a closed shape");
  if (contours.length > 1)
    throw new Unreadable(
      `is made of ${contours.length} separate lines; wanted one closed line: break it apart and name the outer one`,
    );
  const [{ corners, gapMm }] = contours;
  if (gapMm > TOLERANCE_MM)
    throw new Unreadable(
      `is open: its two ends lie ${formatGap(gapMm)} apart; wanted a closed shape, so join them`,
    );
  return corners;
}

/** In the drawing's real size both ways, as the drawing's unit need not be the job's. */
function formatGap(mm: number): string {
  return `${mm < 1 ? mm.toFixed(3) : mm.toFixed(1)} mm`;
}

/** Takes a shape's own coordinates and keeps corners in mm. */
class Pen {
  readonly #toMm: Matrix;
  readonly #done: Contour[] = [];
  #corners: [number, number][] = [];
  #count = 0;

  constructor(toMm: Matrix) {
    this.#toMm = toMm;
  }

  contours(): readonly Contour[] {
    this.#end(false);
    return this.#done;
  }

  move(x: number, y: number): void {
    this.#end(false);
    this.line(x, y);
  }

  line(x: number, y: number): void {
    this.#add(...this.#place(x, y));
  }

  cubic(x1: number, y1: number, x2: number, y2: number, x: number, y: number): void {
    const [ax, ay] = this.#corners[this.#corners.length - 1];
    const [bx, by] = this.#place(x1, y1);
    const [cx, cy] = this.#place(x2, y2);
    const [dx, dy] = this.#place(x, y);
    // The second derivative is greatest at an end.
    const bend =
      6 * Math.max(size(ax - 2 * bx + cx, ay - 2 * by + cy), size(bx - 2 * cx + dx, by - 2 * cy + dy));
    const chords = this.#chords(bend);
    for (let k = 1; k < chords; k++) {
      const t = k / chords;
      const s = 1 - t;
      const [p, q, r, u] = [s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t];
      this.#add(p * ax + q * bx + r * cx + u * dx, p * ay + q * by + r * cy + u * dy);
    }
    this.#add(dx, dy);
  }

  /** Part of an ellipse that is turned by `turn`, from the angle `from` on by `sweep`, to where it ends. */
  arc(
    centre: readonly [number, number],
    radii: readonly [number, number],
    turn: number,
    from: number,
    sweep: number,
    end: readonly [number, number],
  ): void {
    const { a, b, c, d } = this.#toMm;
    const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
    const [cx, cy] = this.#place(...centre);
    const [ux, uy] = [(a * cos + c * sin) * radii[0], (b * cos + d * sin) * radii[0]];
    const [vx, vy] = [(c * cos - a * sin) * radii[1], (d * cos - b * sin) * radii[1]];
    const chords = this.#chords(sweep * sweep * size(size(ux, uy), size(vx, vy)));
    for (let k = 1; k < chords; k++) {
      const angle = from + (sweep * k) / chords;
      this.#add(
        cx + ux * Math.cos(angle) + vx * Math.sin(angle),
        cy + uy * Math.cos(angle) + vy * Math.sin(angle),
      );
    }
    this.line(...end);
  }

  close(): void {
    this.#end(true);
  }

  #place(x: number, y: number): [number, number] {
    const { a, b, c, d, e, f } = this.#toMm;
    return [a * x + c * y + e, b * x + d * y + f];
  }

  /** A chord over the part h of a curve leaves it by at most h^2 / 8 times its second derivative. */
  #chords(secondDerivative: number): number {
    const chords = Math.ceil(Math.sqrt(secondDerivative / (8 * TOLERANCE_MM)));
    if (chords > CORNERS_MAX) tooMany();
    return Math.max(1, chords);
  }

  #add(x: number, y: number): void {
    if (!Number.isFinite(x + y)) throw new Unreadable("has coordinates too large for a number");
    if (++this.#count > CORNERS_MAX) tooMany();
    this.#corners.push([x, y]);
  }

  #end(closed: boolean): void {
    const corners = this.#corners;
    this.#corners = [];
    // A place that the pen only goes to draws nothing.
    if (corners.length < 2) return;
    const [[x0, y0], [x1, y1]] = [corners[0], corners[corners.length - 1]];
    this.#done.push({ corners, gapMm: closed ? 0 : size(x1 - x0, y1 - y0) });
  }
}

function tooMany(): never {
  throw new Unreadable(
    `has more than ${CORNERS_MAX} corners once its curves are chords within ${TOLERANCE_MM} mm; simplify it`,
  );
}

function size(x: number, y: number): number {
  return Math.sqrt(x * x + y * y);
}

// Elements -----------------------------------------------------------------------------------

function drawPath({ attributes }: Shape, pen: Pen): void {
  const parsed: ReturnType<typeof svgpath> & { readonly err?: string } = svgpath(attributes.d ?? "");
  if (parsed.err)
    throw new Unreadable(`has path data that cannot be read (${parsed.err.replace(/^SvgPath: /, "")})`);
  let start: readonly [number, number] = [0, 0];
  let closed = false;
  parsed
    .abs()
    .unshort()
    .iterate((segment, _, x, y) => {
      // What follows a closed line without a new start begins where that line began.
      if (closed && segment[0] !== "M" && segment[0] !== "Z") pen.move(...start);
      closed = segment[0] === "Z";
      switch (segment[0]) {
        case "M":
          start = [segment[1], segment[2]];
          return pen.move(...start);
        case "L":
          return pen.line(segment[1], segment[2]);
        case "H":
          return pen.line(segment[1], y);
        case "V":
          return pen.line(x, segment[1]);
        case "C":
          return pen.cubic(segment[1], segment[2], segment[3], segment[4], segment[5], segment[6]);
        case "Q": {
          const [, qx, qy, endX, endY] = segment;
          const third = (from: number, to: number) => from + (2 / 3) * (to - from);
          return pen.cubic(third(x, qx), third(y, qy), third(endX, qx), third(endY, qy), endX, endY);
        }
        case "A":
          return drawArc(pen, [x, y], segment.slice(1) as number[]);
        case "Z":
          return pen.close();
        default:
          throw new Unreadable(`has the unknown path command ${quoted(segment[0])}`);
      }
    });
}

/** An arc by its ends, as paths have it, by its centre (SVG 2, appendix B.2.4 and B.2.5). */
function drawArc(pen: Pen, [x0, y0]: readonly [number, number], parameters: readonly number[]): void {
  const [rxGiven, ryGiven, degrees, large, sweep, x1, y1] = parameters;
  let [rx, ry] = [Math.abs(rxGiven), Math.abs(ryGiven)];
  if (x0 === x1 && y0 === y1) return;
  if (rx === 0 || ry === 0) {
    pen.line(x1, y1);
    return;
  }
  const turn = (degrees * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  // Half the way between the ends, turned so that the ellipse's axes are those of coordinates.
  const px = (cos * (x0 - x1) + sin * (y0 - y1)) / 2;
  const py = (cos * (y0 - y1) - sin * (x0 - x1)) / 2;
  // Radii too small to reach both ends grow until they do.
  const short = (px / rx) ** 2 + (py / ry) ** 2;
  if (short > 1) [rx, ry] = [rx * Math.sqrt(short), ry * Math.sqrt(short)];
  const off = Math.sqrt(Math.max(0, 1 / Math.max(short, 1e-300) - 1)) * (large === sweep ? -1 : 1);
  const [qx, qy] = short > 1 ? [0, 0] : [(off * rx * py) / ry, (-off * ry * px) / rx];
  const centre = [cos * qx - sin * qy + (x0 + x1) / 2, sin * qx + cos * qy + (y0 + y1) / 2] as const;
  const from = Math.atan2((py - qy) / ry, (px - qx) / rx);
  const to = Math.atan2((-py - qy) / ry, (-px - qx) / rx);
  let by = to - from;
  if (sweep && by < 0) by += 2 * Math.PI;
  if (!sweep && by > 0) by -= 2 * Math.PI;
  pen.arc(centre, [rx, ry], turn, from, by, [x1, y1]);
}

function drawCorners({ attributes }: Shape, pen: Pen, closed: boolean): void {
  const numbers = numbersIn(attributes.points ?? "");
  if (numbers === null || numbers.length % 2 > 0)
    throw new Unreadable(
      `has points that cannot be read: ${quoted(attributes.points)}; wanted pairs of numbers`,
    );
  for (let k = 0; k < numbers.length; k += 2) pen.line(numbers[k], numbers[k + 1]);
  if (closed) pen.close();
}

function drawRectangle(shape: Shape, pen: Pen): void {
  const { attributes, viewport } = shape;
  const x = innerLength(attributes, "x", viewport.width) ?? 0;
  const y = innerLength(attributes, "y", viewport.height) ?? 0;
  const width = innerLength(attributes, "width", viewport.width) ?? 0;
  const height = innerLength(attributes, "height", viewport.height) ?? 0;
  if (!(width > 0 && height > 0)) throw new Unreadable("has no width and height above 0");
  const radii = radiiOf(shape);
  const rx = Math.min(radii[0] ?? 0, width / 2);
  const ry = Math.min(radii[1] ?? 0, height / 2);
  const [right, low] = [x + width, y + height];
  if (!(rx > 0 && ry > 0)) {
    pen.move(x, y);
    pen.line(right, y);
    pen.line(right, low);
    pen.line(x, low);
    pen.close();
    return;
  }
  const corner = (cx: number, cy: number, quarter: number, endX: number, endY: number) =>
    pen.arc([cx, cy], [rx, ry], 0, (quarter * Math.PI) / 2, Math.PI / 2, [endX, endY]);
  pen.move(x + rx, y);
  pen.line(right - rx, y);
  corner(right - rx, y + ry, 3, right, y + ry);
  pen.line(right, low - ry);
  corner(right - rx, low - ry, 0, right - rx, low);
  pen.line(x + rx, low);
  corner(x + rx, low - ry, 1, x, low - ry);
  pen.line(x, y + ry);
  corner(x + rx, y + ry, 2, x + rx, y);
  pen.close();
}

/** Radii along X and Y; one that is left out or "auto" is as the other. */
function radiiOf({ attributes, viewport }: Shape): [number | null, number | null] {
  const radius = (name: "rx" | "ry", whole: number) =>
    attributes[name]?.trim() === "auto" ? null : innerLength(attributes, name, whole);
  const rx = radius("rx", viewport.width);
  const ry = radius("ry", viewport.height);
  return [rx ?? ry, ry ?? rx];
}

function drawEllipse({ attributes, viewport }: Shape, pen: Pen, rx: number | null, ry: number | null): void {
  if (!(rx !== null && ry !== null && rx > 0 && ry > 0)) throw new Unreadable("has no radius above 0");
  const x = innerLength(attributes, "cx", viewport.width) ?? 0;
  const y = innerLength(attributes, "cy", viewport.height) ?? 0;
  pen.move(x + rx, y);
  pen.arc([x, y], [rx, ry], 0, 0, 2 * Math.PI, [x + rx, y]);
  pen.close();
}
