// One closed shape of an SVG drawing as an outline in mm: Y up, the lower left of the drawing's page at
// the origin, at the drawing's own real size. The shape is the line itself; how wide its stroke is
// drawn does not count. Scripts, pictures, texts and animations are not looked at, references to other
// files are not followed, and entities of a file's own are refused.

import { SaxesParser, type SaxesTagNS } from "saxes";
import { InputError } from "../errors.ts";
import { formatPoint, type Units } from "../units.ts";
import type { Ring } from "./job.ts";
import { REACH_MAX_MM, ringOf } from "./outline.ts";
import {
  type Attributes,
  combined,
  IDENTITY,
  innerPage,
  type Matrix,
  pageOf,
  transformOf,
  Unreadable,
  type Viewport,
} from "./svg-frame.ts";
import { type Contour, closedContour, isShape, type Shape } from "./svg-shapes.ts";
import { didYouMean, printable, quoted } from "./wording.ts";

const LENGTH_MAX = 16 * 2 ** 20;
const DEPTH_MAX = 256;
const IDS_TOLD = 10;
/** Among more shapes the only closed one is not looked for. */
const SHAPES_MAX = 10_000;
const SVG_NAMESPACE = "http://www.w3.org/2000/svg";

/** The shape of that id, or with null the only closed one, in a drawing's text. Throws InputError. */
export function svgRing(text: string, file: string, id: string | null, units: Units): Ring {
  const refuse: Refuse = (place, what) => {
    throw new InputError([
      { file, place: "", line: place?.line ?? 0, column: place?.column ?? 0, text: what },
    ]);
  };
  const drawing = parseDrawing(text, refuse);
  const shape = id === null ? onlyShape(drawing, refuse) : shapeNamed(id, drawing, refuse);
  return ringOfShape(shape, units, refuse);
}

type Refuse = (place: Place | null, text: string) => never;

interface Place {
  readonly line: number;
  readonly column: number;
}

interface DrawnShape extends Shape, Place {
  readonly id: string | null;
  /** Why its place is not known, if so. */
  readonly trouble: string | null;
  /** The element around it of which nothing is drawn where it stands; null: none. */
  readonly inside: string | null;
  readonly hidden: boolean;
}

interface Drawing {
  readonly shapes: readonly DrawnShape[];
  /** Elements that are no shapes, by id. */
  readonly others: ReadonlyMap<string, Place & { readonly element: string }>;
}

// The text -----------------------------------------------------------------------------------

/** What holds inside an element. */
interface Around {
  readonly element: string;
  readonly toMm: Matrix;
  readonly viewport: Viewport;
  readonly trouble: string | null;
  readonly inside: string | null;
  readonly hidden: boolean;
}

function parseDrawing(text: string, refuse: Refuse): Drawing {
  if (text.length > LENGTH_MAX)
    refuse(
      null,
      `the drawing is larger than ${LENGTH_MAX / 2 ** 20} MB; save the outline in a file of its own`,
    );
  const shapes: DrawnShape[] = [];
  const others = new Map<string, Place & { element: string }>();
  const stack: Around[] = [];
  let start: Place = { line: 1, column: 1 };
  let sheet = "";

  const parser = new SaxesParser({ xmlns: true });
  const here = () => ({ line: parser.line, column: parser.column + 1 });
  parser.on("error", (error) => {
    const entity = error.message.includes("undefined entity");
    const advice = entity ? "save it without entities of its own, as plain SVG" : "is it an SVG drawing?";
    refuse(
      here(),
      `the drawing is not well-formed XML (${printable(error.message.replace(/^[\d:]+ /, ""), 120)}); ${advice}`,
    );
  });
  parser.on("doctype", (doctype) => {
    if (doctype.includes("["))
      refuse(here(), "the drawing brings a document type of its own; save it without, as plain SVG");
  });
  parser.on("opentagstart", ({ name }) => {
    // The parser has just read the name and the character after it.
    const { line, column } = here();
    start = { line, column: Math.max(1, column - name.length - 2) };
  });
  parser.on("opentag", (tag) => {
    if (stack.length >= DEPTH_MAX) refuse(start, `elements nested more than ${DEPTH_MAX} deep`);
    const known = tag.uri === SVG_NAMESPACE || tag.uri === "";
    const element = known ? tag.local : tag.name;
    const attributes = attributesOf(tag);
    const around = stack.at(-1);
    if (around === undefined) {
      if (!known || element !== "svg")
        refuse(start, `found a document of <${printable(element, 40)}>; wanted an SVG drawing`);
      stack.push(wholePage(attributes, start, refuse));
      return;
    }
    const inner = innerOf(element, known, attributes, around);
    stack.push(inner);
    const { id = null } = attributes;
    if (known && isShape(element)) shapes.push({ ...inner, ...start, attributes, id });
    else if (id !== null) others.set(id, { element, ...start });
  });
  parser.on("closetag", () => stack.pop());
  const inSheet = (content: string) => {
    if (stack.at(-1)?.element === "style") sheet += content;
  };
  parser.on("text", inSheet);
  parser.on("cdata", inSheet);
  parser.write(text).close();

  if (!GEOMETRY.test(sheet)) return { shapes, others };
  const trouble = `may be moved or changed by the drawing's style sheet; ${PLAIN_WANTED}`;
  return { shapes: shapes.map((shape) => ({ ...shape, trouble: shape.trouble ?? trouble })), others };
}

/** Of attributes in a namespace, such as those for editors, none says where anything stands. */
function attributesOf(tag: SaxesTagNS): Attributes {
  const attributes: Record<string, string> = Object.create(null);
  for (const { name, prefix, value } of Object.values(tag.attributes))
    if (prefix === "") attributes[name] = value;
  return attributes;
}

function wholePage(attributes: Attributes, place: Place, refuse: Refuse): Around {
  try {
    if (moved(attributes))
      throw new Unreadable(`the drawing as a whole is moved by its transform; ${PLAIN_WANTED}`);
    return { element: "svg", ...pageOf(attributes), trouble: null, inside: null, hidden: false };
  } catch (error) {
    if (!(error instanceof Unreadable)) throw error;
    return refuse(place, error.message);
  }
}

/** Properties that say where a shape stands and what it looks like, when a style has them. */
const GEOMETRY =
  /(?:^|[{;/])\s*(?:transform(?:-origin|-box)?|translate|rotate|scale|offset-[a-z]+|d|x|y|width|height|cx|cy|r|rx|ry)\s*:/;
const PLAIN_WANTED = `save the drawing with "transform" attributes on its groups and shapes only`;

/** Elements of whose content nothing is drawn where it stands. */
const NOT_DRAWN = new Set(
  "defs symbol clipPath mask pattern marker linearGradient radialGradient filter style script text foreignObject metadata".split(
    " ",
  ),
);

function innerOf(element: string, known: boolean, attributes: Attributes, around: Around): Around {
  const { display, style = "" } = attributes;
  const hidden = around.hidden || display === "none" || /(?:^|;)\s*display\s*:\s*none/.test(style);
  const inside = around.inside ?? (known && !NOT_DRAWN.has(element) ? null : element);
  if (around.trouble !== null || inside !== null) return { ...around, element, hidden, inside };
  try {
    if (GEOMETRY.test(style) || attributes["transform-origin"] !== undefined)
      throw new Unreadable(
        `is moved or changed by its style or "transform-origin", or that of a group around it; ${PLAIN_WANTED}`,
      );
    const page = element === "svg";
    if (page && moved(attributes))
      throw new Unreadable(
        `stands in a drawing inside the drawing that is moved by its transform; ${PLAIN_WANTED}`,
      );
    const { matrix, viewport } = page
      ? innerPage(attributes, around.viewport)
      : {
          matrix: attributes.transform ? transformOf(attributes.transform) : IDENTITY,
          viewport: around.viewport,
        };
    return { element, toMm: combined(around.toMm, matrix), viewport, trouble: null, inside, hidden };
  } catch (error) {
    if (!(error instanceof Unreadable)) throw error;
    return { ...around, element, hidden, trouble: error.message };
  }
}

/** Whether a whole page has a transform, whose centre programs do not agree on. */
function moved({ transform, style = "" }: Attributes): boolean {
  return transform !== undefined || /(?:^|;)\s*transform/.test(style);
}

// The shape ----------------------------------------------------------------------------------

function shapeNamed(id: string, { shapes, others }: Drawing, refuse: Refuse): DrawnShape {
  const [shape, second] = shapes.filter((one) => one.id === id);
  if (second)
    refuse(
      second,
      `the id ${quoted(id)} is already that of the shape on line ${shape.line}; give one another`,
    );
  if (shape?.inside)
    refuse(
      shape,
      `the shape ${quoted(id)} stands in <${printable(shape.inside, 40)}>, so it is not drawn there; wanted a shape that is`,
    );
  if (shape) return shape;
  const ids = shapes.flatMap((one) => one.id ?? []);
  const other = others.get(id);
  if (other)
    refuse(
      other,
      `${quoted(id)} is ${OTHERS[other.element] ?? `<${printable(other.element, 40)}>`}; wanted ${SHAPE_WANTED}${among(ids)}`,
    );
  return refuse(
    null,
    `there is no shape with the id ${quoted(id)} in the drawing${didYouMean(id, ids) || `; wanted ${SHAPE_WANTED}${among(ids)}`}`,
  );
}

const SHAPE_WANTED = "one closed path, polygon, rectangle, circle or ellipse";

const OTHERS: Readonly<Record<string, string>> = {
  g: "a group of shapes",
  svg: "a whole drawing",
  use: "a reference to another shape (a clone); turn it into a shape of its own",
  text: "a text; turn it into a path",
  tspan: "a text; turn it into a path",
  image: "a picture; trace it into a path",
  line: "a single line",
};

function among(ids: readonly string[]): string {
  if (ids.length === 0) return "";
  const told = ids.slice(0, IDS_TOLD).map((id) => quoted(id));
  return `: the drawing has ${told.join(", ")}${ids.length > IDS_TOLD ? ", ..." : ""}`;
}

function onlyShape({ shapes }: Drawing, refuse: Refuse): DrawnShape {
  const drawn = shapes.filter(({ inside, hidden }) => inside === null && !hidden);
  if (drawn.length === 0) refuse(null, `the drawing shows no shape; wanted ${SHAPE_WANTED}`);
  if (drawn.length === 1) return drawn[0];
  if (drawn.length > SHAPES_MAX)
    refuse(null, `the drawing has ${drawn.length} shapes; name the right one with "id"`);
  const contours = drawn.map(contourOf);
  const closed = drawn.filter((_, k) => "corners" in contours[k]);
  if (closed.length === 1) return closed[0];
  if (closed.length === 0) {
    const why = contours.map((contour) => ("why" in contour ? contour.why : ""));
    refuse(drawn[0], `none of the drawing's ${drawn.length} shapes is closed: ${titled(drawn[0])} ${why[0]}`);
  }
  const told = closed
    .slice(0, IDS_TOLD)
    .map(({ id, element, line }) => (id === null ? `${element} on line ${line}` : quoted(id)));
  return refuse(
    null,
    `the drawing has ${closed.length} closed shapes: ${told.join(", ")}${closed.length > IDS_TOLD ? ", ..." : ""}; name one with "id"`,
  );
}

/** The corners of a shape that is closed, or why it is none. */
function contourOf(shape: DrawnShape): { readonly corners: Contour["corners"] } | { readonly why: string } {
  if (shape.trouble !== null) return { why: shape.trouble };
  try {
    return { corners: closedContour(shape) };
  } catch (error) {
    if (!(error instanceof Unreadable)) throw error;
    return { why: error.message };
  }
}

function ringOfShape(shape: DrawnShape, units: Units, refuse: Refuse): Ring {
  const contour = contourOf(shape);
  if ("why" in contour) return refuse(shape, `${titled(shape)} ${contour.why}`);
  const result = ringOf(contour.corners);
  if ("ring" in result) return result.ring;
  if (result.problem === "few" || result.problem === "no-area")
    return refuse(shape, `${titled(shape)} encloses no area`);
  if (result.problem === "far")
    return refuse(
      shape,
      `${titled(shape)} reaches beyond ${REACH_MAX_MM / 1000} m from the drawing's lower left; look at its size and viewBox`,
    );
  const how = result.problem === "crosses" ? "crosses" : "touches";
  const where = formatPoint(result.x, result.y, units);
  return refuse(
    shape,
    `${titled(shape)} ${how} itself at ${where}, seen from the drawing's lower left; an outline must not`,
  );
}

/** `the path "left"`. */
function titled({ element, id }: DrawnShape): string {
  const noun = element === "rect" ? "rectangle" : element;
  return id === null ? `the ${noun}` : `the ${noun} ${quoted(id)}`;
}
