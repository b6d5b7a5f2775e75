// Outlines from drawings. Curves are checked against svg-path-properties, a library that measures SVG
// paths; areas and sizes against their closed forms; units and viewBox against SVG 2 and CSS (96 px = 1 in).

import fc from "fast-check";
import { svgPathProperties } from "svg-path-properties";
import { describe, expect, test } from "vitest";
import { svgRing } from "../../src/job/svg.ts";
import { findings, hostWith, issuesOf, type Loose, read, set } from "./example.ts";

const SEED = 20_260_601;

const PAGE = 'width="400mm" height="300mm" viewBox="0 0 400 300"';

const drawing = (body: string, root = PAGE) =>
  `<svg xmlns="http://www.w3.org/2000/svg" ${root}>\n${body}\n</svg>`;

function ringOf(body: string, id: string | null = null, root = PAGE): number[][] {
  const ring = svgRing(drawing(body, root), "slab.svg", id, "mm");
  return Array.from({ length: ring.length / 2 }, (_, k) => [ring[2 * k], ring[2 * k + 1]]);
}

const bounds = (ring: number[][]) => {
  const [x, y] = [0, 1].map((axis) => ring.map((corner) => corner[axis]));
  return [Math.min(...x), Math.min(...y), Math.max(...x), Math.max(...y)];
};

const area = (ring: number[][]) =>
  ring.reduce((sum, [x, y], k) => {
    const [nextX, nextY] = ring[(k + 1) % ring.length];
    return sum + (x * nextY - nextX * y) / 2;
  }, 0);

const closeTo = (numbers: number[], decimals = 6) =>
  numbers.map((number) => expect.closeTo(number, decimals));

/** What is wrong with the drawing, as the user reads it. */
const wrong = (text: string, id: string | null = null) =>
  issuesOf(() => svgRing(text, "slab.svg", id, "mm")).map(
    ({ line, column, text }) => `${line > 0 ? `${line}:${column} ` : ""}${text}`,
  );

describe("curves", () => {
  const paths = {
    lines: "M10 10h200v100H10z",
    "lines relative, without blanks": "m10,10l200-5.5.5,100-200,10z",
    cubics: "M50 150C50 20 350 20 350 150S50 280 50 150Z",
    quadratics: "M50 150Q200 10 350 150T50 150",
    "smooth quadratics": "M20 150q90-120 180 0t180 0v100h-360z",
    arcs: "M80 150A120 90 30 1 1 300 160A120 90 30 0 1 80 150Z",
    "arcs the other way": "M80 150a120 60 0 0 0 240 0a 120 120 0 0 0-240 0",
    "an arc whose radii are too small": "M100 150A10 5 20 0 1 300 150L200 290Z",
    "a small arc with flags run together": "M100 100a50 30 0 01100 40L60 200Z",
    "a live edge": "M20 40C60 20 120 60 180 38S300 30 380 50L372 210C320 240 260 190 200 212S80 230 26 205Z",
  };

  test.each(Object.entries(paths))("%s stay within 0.01 mm of what another library says", (_, path) => {
    const ring = ringOf(`<path d="${path}"/>`);
    const other = new svgPathProperties(path);
    const length = other.getTotalLength();
    const samples = Array.from({ length: 1500 }, (_, k) => other.getPointAtLength((length * k) / 1500));
    // Its points are right to about a thousandth of a mm, as it finds them by numerical integration.
    for (const { x, y } of samples) expect(distance(ring, x, 300 - y)).toBeLessThan(0.012);
    for (const [x, y] of ring) {
      const near = Math.min(...samples.map((sample) => Math.hypot(sample.x - x, 300 - sample.y - y)));
      expect(near).toBeLessThan((1.5 * length) / 1500);
    }
    expect(Math.abs(perimeter(ring) / length - 1)).toBeLessThan(3e-4);
    expect(area(ring)).toBeGreaterThan(0);
  });

  test(`any cubic stays within 0.01 mm of its formula, sharp bends too, seed ${SEED}`, () => {
    const number = fc.integer({ min: 10, max: 390 });
    fc.assert(
      fc.property(fc.tuple(number, number, number, number), ([x1, y1, x2, y2]) => {
        // Far away on the left it is closed by a line that it does not meet.
        const text = drawing(`<path d="M20 20C${x1} ${y1} ${x2} ${y2} 20 280H-900V20Z"/>`);
        const ring =
          issuesOf(() => svgRing(text, "", null, "mm")).length > 0 ? null : svgRing(text, "", null, "mm");
        fc.pre(ring !== null);
        const corners = Array.from({ length: ring.length / 2 }, (_, k) => [ring[2 * k], ring[2 * k + 1]]);
        for (let k = 0; k <= 400; k++) {
          const [t, s] = [k / 400, 1 - k / 400];
          const [a, b, c, d] = [s ** 3, 3 * s * s * t, 3 * s * t * t, t ** 3];
          const x = 20 * a + x1 * b + x2 * c + 20 * d;
          const y = 300 - (20 * a + y1 * b + y2 * c + 280 * d);
          expect(distance(corners, x, y)).toBeLessThan(0.01 + 1e-9);
        }
      }),
      { seed: SEED, numRuns: 60 },
    );
  });

  // Chords lie inside: of a convex shape at most 0.01 mm times its perimeter is missing.
  test.each<[string, string, number, number]>([
    ["circle", '<circle cx="200" cy="150" r="100"/>', Math.PI * 100 ** 2, 2 * Math.PI * 100],
    ["ellipse", '<ellipse cx="200" cy="150" rx="180" ry="40"/>', Math.PI * 180 * 40, 4 * (180 + 40)],
    ["rectangle", '<rect x="10" y="20" width="300" height="200"/>', 300 * 200, 0],
    [
      "rectangle with round corners",
      '<rect width="300" height="200" rx="30"/>',
      300 * 200 - (4 - Math.PI) * 900,
      1000,
    ],
    [
      "rectangle with elliptical corners",
      '<rect width="300" height="200" rx="40" ry="20"/>',
      60_000 - (4 - Math.PI) * 800,
      1000,
    ],
    [
      "rectangle with corners too round",
      '<rect width="300" height="200" rx="900" ry="50"/>',
      60_000 - (4 - Math.PI) * 150 * 50,
      1000,
    ],
    [
      "circle of two arcs",
      '<path d="M100 150a100 100 0 1 0 200 0a100 100 0 1 0-200 0"/>',
      Math.PI * 100 ** 2,
      2 * Math.PI * 100,
    ],
    ["polygon", '<polygon points="10,10 110 10, 110,60-90,60"/>', (100 + 200) * 25, 0],
    ["closed polyline", '<polyline points="10 10 110 10 110 60 10 60 10 10"/>', 100 * 50, 0],
  ])("the area of a %s is that of its closed form", (_, body, wanted, round) => {
    const found = area(ringOf(body));
    expect(found).toBeLessThanOrEqual(wanted * (1 + 1e-12));
    expect(found).toBeGreaterThan(wanted - 0.01 * round - 1e-6);
  });

  test("a large circle takes few corners, and enough", () => {
    const ring = ringOf('<circle cx="200" cy="150" r="2000"/>');
    // By the sagitta: 0.01 mm on a radius of 2 m are chords of about 0.0063 rad.
    expect(ring.length).toBeGreaterThan((2 * Math.PI) / (2 * Math.acos(1 - 0.01 / 2000)));
    expect(ring.length).toBeLessThan(2000);
  });

  test("a path may end where it began without being closed, and go on to draw nothing", () => {
    const plain = ringOf('<path d="M10 10H90V50H10Z"/>');
    for (const d of [
      "M10 10H90V50H10V10",
      "M10 10H90V50H10V10.005",
      "M10 10H90V50H10ZM300 300",
      "M1 1M10 10H90V50H10z",
    ])
      expect(area(ringOf(`<path d="${d}"/>`))).toBeCloseTo(area(plain), 0);
  });
});

describe("where and how large", () => {
  test("Y points up, and the lower left of the page is the origin", () => {
    const body = '<rect id="a" x="10" y="20" width="30" height="40"/>';
    expect(ringOf(body)).toEqual([
      [10, 240],
      [40, 240],
      [40, 280],
      [10, 280],
    ]);
    // The viewBox's own corner does not count, the page does.
    expect(bounds(ringOf(body, null, 'width="400mm" height="300mm" viewBox="-100 -50 400 300"'))).toEqual([
      110, 190, 140, 230,
    ]);
  });

  // A rectangle of 10 x 5 at (1, 2) in a drawing 20 units wide and 10 high.
  test.each<[string, string, number]>([
    ["mm", 'width="200mm" height="100mm" viewBox="0 0 20 10"', 10],
    ["cm", 'width="20cm" height="10cm" viewBox="0 0 20 10"', 10],
    ["in", 'width="20in" height="10 in" viewBox="0 0 20 10"', 25.4],
    ["IN", 'width="20IN" height="10IN" viewBox="0,0,20,10"', 25.4],
    ["pt", 'width="1440pt" height="720pt" viewBox="0 0 20 10"', 25.4],
    ["pc", 'width="120pc" height="60pc" viewBox="0 0 20 10"', 25.4],
    ["Q", 'width="800Q" height="400Q" viewBox="0 0 20 10"', 10],
    ["mm, only the width", 'width="200mm" viewBox="0 0 20 10"', 10],
    ["mm, only the height", 'width="auto" height="100mm" viewBox="0 0 20 10"', 10],
    ["in, without a viewBox: 96 units an inch", 'width="20in" height="10in"', 25.4 / 96],
  ])("a size in %s", (_, root, scale) => {
    const high = /viewBox/.test(root) ? 10 * scale : 254;
    const found = bounds(ringOf('<rect x="1" y="2" width="10" height="5"/>', null, root));
    expect(found).toEqual(closeTo([scale, high - 7 * scale, 11 * scale, high - 2 * scale], 9));
  });

  // A viewBox 100 x 100 on a page 400 x 300 mm: 3 mm a unit with 100 mm left over along X, unless stretched.
  test.each<[string, number[]]>([
    ["", [50, 0, 350, 300]],
    ["xMidYMid meet", [50, 0, 350, 300]],
    ["xMinYMin", [0, 0, 300, 300]],
    ["xMaxYMid", [100, 0, 400, 300]],
    ["none", [0, 0, 400, 300]],
    ["xMidYMin slice", [0, -100, 400, 300]],
    ["xMidYMax slice", [0, 0, 400, 400]],
  ])('preserveAspectRatio="%s"', (ratio, wanted) => {
    const root = `width="400mm" height="300mm" viewBox="0 0 100 100" ${ratio && `preserveAspectRatio="${ratio}"`}`;
    expect(bounds(ringOf('<rect width="100" height="100"/>', null, root))).toEqual(closeTo(wanted));
  });

  // Hand-worked: a square 10 x 10 at the origin of a 400 x 300 page, Y down from the top.
  test.each<[string, number[]]>([
    ["translate(30)", [30, 290, 40, 300]],
    ["translate(30,40)", [30, 250, 40, 260]],
    ["scale(2)", [0, 280, 20, 300]],
    ["scale(2 3) translate(1,1)", [2, 267, 22, 297]],
    ["translate(1,1),scale(2 3)", [1, 269, 21, 299]],
    ["rotate(90)", [-10, 290, 0, 300]],
    ["rotate(90 10 10)", [10, 290, 20, 300]],
    ["skewX(45)", [0, 290, 20, 300]],
    ["skewY(45)", [0, 280, 10, 300]],
    ["matrix(0 1 -1 0 50 20)", [40, 270, 50, 280]],
    [" matrix( 1e0,0 0 ,1 -5 .5 ) ", [-5, 289.5, 5, 299.5]],
    ["none", [0, 290, 10, 300]],
    ["scale(-1,1)", [-10, 290, 0, 300]],
  ])('transform="%s" on the shape or on a group', (transform, wanted) => {
    const square = '<path d="M0 0H10V10H0Z"/>';
    const on = bounds(ringOf(square.replace("<path", `<path transform="${transform}"`)));
    const around = bounds(ringOf(`<g transform="${transform}"><g>${square}</g></g>`));
    expect(on).toEqual(closeTo(wanted));
    expect(around).toEqual(closeTo(wanted));
  });

  test("groups' transforms go from the outside in", () => {
    const body =
      '<g transform="translate(100 0)"><g transform="scale(2)"><rect transform="translate(5 5)" width="10" height="10"/></g></g>';
    expect(bounds(ringOf(body))).toEqual([110, 270, 130, 290]);
  });

  test("a drawing inside the drawing has its own place, size and viewBox", () => {
    const inner = (attributes: string) => `<svg ${attributes}><rect width="50%" height="10"/></svg>`;
    expect(bounds(ringOf(inner('x="100" y="50" width="200" height="100" viewBox="0 0 20 20"')))).toEqual([
      150, 200, 200, 250,
    ]);
    expect(bounds(ringOf(inner('x="10%" y="10%"')))).toEqual([40, 260, 240, 270]);
  });

  test(`arcs and curves under any transform lie where the plain points go, seed ${SEED}`, () => {
    const path = "M-40-10C-20-60 60-40 50 10A45 25 30 0 1-30 30Q-60 20-40-10Z";
    const plain = new svgPathProperties(path);
    const length = plain.getTotalLength();
    const samples = Array.from({ length: 300 }, (_, k) => plain.getPointAtLength((length * k) / 300));
    const entry = fc.double({ min: -2, max: 2, noNaN: true });
    fc.assert(
      fc.property(entry, entry, entry, entry, (a, b, c, d) => {
        fc.pre(Math.abs(a * d - b * c) > 0.05);
        const ring = ringOf(
          `<g transform="matrix(${[a, b, c, d, 200, 150].join()})"><path d="${path}"/></g>`,
        );
        for (const { x, y } of samples)
          expect(distance(ring, a * x + c * y + 200, 300 - (b * x + d * y + 150))).toBeLessThan(0.012);
        expect(area(ring)).toBeGreaterThan(0);
      }),
      { seed: SEED, numRuns: 40 },
    );
  });

  test("lengths inside may carry a unit, by 96 pixels an inch", () => {
    expect(bounds(ringOf('<rect x="1in" y="0" width="96px" height="72pt"/>'))).toEqual(
      closeTo([96, 204, 192, 300]),
    );
  });
});

describe("which shape", () => {
  const two = '<rect id="left" width="10" height="10"/>\n<circle id="right" cx="50" cy="50" r="5"/>';

  test("the one of the id, or the only one that is closed and shown", () => {
    expect(bounds(ringOf(two, "left"))).toEqual([0, 290, 10, 300]);
    expect(bounds(ringOf(two, "right"))).toEqual(closeTo([45, 245, 55, 255], 2));
    const others = `<defs><rect width="9" height="9"/></defs><clipPath><circle r="4"/></clipPath>
      <g style="display: none"><rect width="8" height="8"/></g><rect display="none" width="7" height="7"/>
      <path d="M0 0L10 10"/><line x2="5"/><text>slab</text><image href="slab.jpg"/><use href="#x"/>
      <script>alert(1)</script><polyline points="0 0 5 5 9 0"/>`;
    expect(ringOf(`${others}<polygon points="0 0 10 0 0 10"/>`)).toHaveLength(3);
    expect(ringOf(`<g style="display:none">${two}</g>`, "left")).toHaveLength(4);
  });

  test.each<[string, string | null, string]>([
    [two, null, 'the drawing has 2 closed shapes: "left", "right"; name one with "id"'],
    [
      '<rect width="9" height="9"/>\n<rect width="8" height="8"/>',
      null,
      "the drawing has 2 closed shapes: rect on line 2, rect on line 3; name",
    ],
    [two, "lefft", 'there is no shape with the id "lefft" in the drawing; did you mean "left"?'],
    [
      two,
      "bench",
      'there is no shape with the id "bench" in the drawing; wanted one closed path, polygon, rectangle, circle or ellipse: the drawing has "left", "right"',
    ],
    ["<text>slab</text>", null, "the drawing shows no shape; wanted one closed path"],
    [
      `<g id="slab">${two}</g>`,
      "slab",
      '2:1 "slab" is a group of shapes; wanted one closed path, polygon, rectangle, circle or ellipse: the drawing has "left", "right"',
    ],
    [
      '  <use id="copy" href="#left"/>',
      "copy",
      '2:3 "copy" is a reference to another shape (a clone); turn it into a shape of its own',
    ],
    ['<text id="name">slab</text>', "name", '2:1 "name" is a text; turn it into a path'],
    ['<image id="photo"/>', "photo", '"photo" is a picture; trace it into a path'],
    ['<line id="edge" x2="5"/>', "edge", '"edge" is a single line'],
    [
      '<defs><path id="p" d="M0 0H9V9Z"/></defs>',
      "p",
      'the shape "p" stands in <defs>, so it is not drawn there',
    ],
    [
      '<rect id="a" width="1" height="1"/>\n  <rect id="a" width="2" height="2"/>',
      "a",
      '3:3 the id "a" is already that of the shape on line 2',
    ],
    [
      '<path id="p" d="M0 0H90V90"/>',
      "p",
      '2:1 the path "p" is open: its two ends lie 127.3 mm apart; wanted a closed shape, so join them',
    ],
    ['<path d="M0 0H90V90H0V.5"/>', null, "2:1 the path is open: its two ends lie 0.500 mm apart"],
    [
      '<polyline id="p" points="0 0 5 0 5 5"/>',
      "p",
      'the polyline "p" is open: its two ends lie 7.1 mm apart',
    ],
    [
      '<path d="M0 0H90"/><path d="M0 0V90"/>',
      null,
      "2:1 none of the drawing's 2 shapes is closed: the path is open: its two ends lie 90.0 mm apart",
    ],
    [
      '<path id="p" d="M0 0H90V90ZM10 10H20V20ZM30 30H40V40Z"/>',
      "p",
      'the path "p" is made of 3 separate lines; wanted one closed line: break it apart and name the outer one',
    ],
    ['<path id="p" d="M0 0H90V90Zl5 5"/>', "p", 'the path "p" is made of 2 separate lines'],
    [
      '<path id="p" d="M0 0L100 100V0L0 100Z"/>',
      "p",
      'the path "p" crosses itself at (50, 250) mm, seen from the drawing\'s lower left',
    ],
    ['<path id="p" d="M0 0H90L0 0Z"/>', "p", 'the path "p" encloses no area'],
    ['<path id="p"/>', "p", 'the path "p" draws nothing; wanted a closed shape'],
    ['<path id="p" d="M0 0H90V"/>', "p", 'the path "p" has path data that cannot be read (missed param'],
    ['<path id="p" d="M0 0R9 9 5 5Z"/>', "p", 'the path "p" has the unknown path command "R"'],
    [
      '<path id="p" d="M0 0H1e9V9Z"/>',
      "p",
      'the path "p" reaches beyond 40 m from the drawing\'s lower left',
    ],
    ['<path id="p" d="M0 0H1e999V9Z"/>', "p", 'the path "p" has coordinates too large for a number'],
    [
      '<polygon id="p" points="0 0 5 0 5"/>',
      "p",
      'the polygon "p" has points that cannot be read: "0 0 5 0 5"; wanted pairs of numbers',
    ],
    ['<polygon id="p" points="0 0 5 0 five"/>', "p", "has points that cannot be read"],
    ['<rect id="r" width="9"/>', "r", 'the rectangle "r" has no width and height above 0'],
    [
      '<rect id="r" width="9em" height="9"/>',
      "r",
      'the rectangle "r" found "9em" for width; wanted a number',
    ],
    ['<circle id="c" r="-5"/>', "c", 'the circle "c" has no radius above 0'],
    ['<ellipse id="c" rx="auto"/>', "c", 'the ellipse "c" has no radius above 0'],
    [
      '<g transform="rotate(45deg)"><rect id="r" width="9" height="9"/></g>',
      "r",
      'the rectangle "r" found the transform "rotate(45deg)"; wanted matrix, translate, scale',
    ],
    [
      '<rect id="r" transform="spin(5)" width="9" height="9"/>',
      "r",
      "wanted matrix, translate, scale, rotate, skewX or skewY",
    ],
    [
      '<rect id="r" style="fill:none; transform:rotate(5deg)" width="9" height="9"/>',
      "r",
      "is moved or changed by its style",
    ],
    [
      '<g transform-origin="5 5"><rect id="r" width="9" height="9"/></g>',
      "r",
      'is moved or changed by its style or "transform-origin"',
    ],
    [
      '<style>rect { fill: red; x: 5px }</style><rect id="r" width="9" height="9"/>',
      "r",
      "may be moved or changed by the drawing's style sheet",
    ],
    [
      '<svg transform="scale(2)"><rect id="r" width="9" height="9"/></svg>',
      "r",
      "stands in a drawing inside the drawing that is moved by its transform",
    ],
  ])("%s, id %s: refused", (body, id, text) => {
    const found = wrong(drawing(body), id);
    expect(found).toHaveLength(1);
    expect(found[0]).toContain(text);
  });

  test("a style that says nothing of places does no harm", () => {
    const body =
      '<style>.a{stroke-width:2;fill:none}</style><rect class="a" style="stroke-width:5;display:inline" width="9" height="9"/>';
    expect(ringOf(body)).toHaveLength(4);
  });
});

describe("the drawing as a whole", () => {
  const rect = '<rect width="9" height="9"/>';

  test.each<[string, string]>([
    [
      drawing(rect, 'width="400" height="300"'),
      '1:1 the drawing\'s width "400" says no real size, as programs take 72, 90 or 96 pixels for an inch; save it with its width and height in mm or in',
    ],
    [drawing(rect, 'width="400mm" height="300px"'), 'the drawing\'s height "300px" says no real size'],
    [
      drawing(rect, 'width="100%" height="300mm" viewBox="0 0 4 3"'),
      'the drawing\'s width "100%" is no real size',
    ],
    [drawing(rect, 'width="0mm" height="300mm"'), 'the drawing\'s width "0mm" is no real size'],
    [drawing(rect, 'viewBox="0 0 400 300"'), "the drawing does not say its width and height; save it with"],
    [drawing(rect, 'width="400mm"'), "the drawing does not say its height"],
    [
      drawing(rect, 'width="4mm" height="3mm" viewBox="0 0 0 3"'),
      'found the viewBox "0 0 0 3"; wanted four numbers',
    ],
    [
      drawing(rect, 'width="4mm" height="3mm" viewBox="0 0 4 3" preserveAspectRatio="fit"'),
      'found the preserveAspectRatio "fit"',
    ],
    [
      drawing(rect, 'width="4mm" height="3mm" transform="scale(2)"'),
      "the drawing as a whole is moved by its transform",
    ],
    ["", "the drawing is not well-formed XML"],
    ["x,y,z\n0,0,50\n", "the drawing is not well-formed XML"],
    [drawing("<g>"), "the drawing is not well-formed XML"],
    [
      '<html xmlns="http://www.w3.org/1999/xhtml"><svg/></html>',
      "1:1 found a document of <html>; wanted an SVG drawing",
    ],
    [drawing("<g>".repeat(300) + "</g>".repeat(300)), "elements nested more than 256 deep"],
    [" ".repeat(17 * 2 ** 20), "the drawing is larger than 16 MB"],
    [
      drawing(`<path d="${"M0 0C9 400 400 9 0 0".repeat(1)}${"L5 5L0 0".repeat(10_001)}Z"/>`),
      "has more than 20000 corners",
    ],
  ])("is refused %#", (text, wanted) => {
    const found = wrong(text);
    expect(found).toHaveLength(1);
    expect(found[0]).toContain(wanted);
  });

  test("entities of a file's own are refused, however much they would grow to", () => {
    const bomb = `<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>\n${drawing("&b;")}`;
    expect(wrong(bomb)[0]).toContain("the drawing brings a document type of its own; save it without");
    expect(wrong(drawing("&b;"))[0]).toContain("save it without entities of its own");
  });

  test("XML declaration, mark, public document type, comments, prefixes and editors' own elements are fine", () => {
    const text = `\uFEFF<?xml version="1.0" encoding="UTF-8"?>
      <!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">
      <!-- a slab --><s:svg xmlns:s="http://www.w3.org/2000/svg" xmlns:ed="urn:editor" ${PAGE} ed:transform="x">
      <ed:page width="5"><ed:rect width="5" height="5"/></ed:page><s:a><s:rect ed:width="3" width="9" height="9"/></s:a></s:svg>`;
    expect(svgRing(text, "a.svg", null, "mm")).toHaveLength(8);
    // A drawing that does not say which language it is in is taken for SVG.
    expect(svgRing(`<svg ${PAGE}>${rect}</svg>`, "a.svg", null, "mm")).toHaveLength(8);
  });

  test("many shapes and a large picture beside the outline are no trouble", () => {
    const many = Array.from({ length: 20_000 }, (_, k) => `<path id="p${k}" d="M${k} 0l5 5-5 5z"/>`).join(
      "\n",
    );
    const photo = `<image href="data:image/png;base64,${"A".repeat(4_000_000)}"/>`;
    const start = performance.now();
    expect(ringOf(many + photo, "p777")).toHaveLength(3);
    expect(wrong(drawing(many))).toEqual(['the drawing has 20000 shapes; name the right one with "id"']);
    expect(performance.now() - start).toBeLessThan(10_000);
  });
});

test(`a drawing with letters lost, doubled or changed gives a ring or one finding, seed ${SEED}`, () => {
  const sound = drawing(
    '<style>.a{fill:none}</style><g transform="rotate(5 9 9) scale(1.5)"><svg x="5" viewBox="0 0 9 9"><path class="a" id="p" d="M0 0Q9 1 9 9a5 4 10 0 1-9-.5T0 2z"/></svg></g>',
  );
  const change = fc.tuple(
    fc.nat(sound.length - 1),
    fc.constantFrom("", "<", ">", '"', "&", "/", "-", "e99", ".", "%", "0", "zz", "\u0000", "=", " "),
  );
  let rings = 0;
  fc.assert(
    fc.property(fc.array(change, { minLength: 1, maxLength: 3 }), (changes) => {
      const letters = [...sound];
      for (const [at, text] of changes) letters[at] = text;
      // Any other error than a finding fails the test.
      const found = wrong(letters.join(""), "p");
      if (found.length === 0) rings++;
      else expect(found).toHaveLength(1);
    }),
    { seed: SEED, numRuns: 1500 },
  );
  expect(rings).toBeGreaterThan(50);
});

describe("in a job", () => {
  const slab = drawing(
    '<rect id="left" x="20" width="300" height="200"/>\n<circle id="knot" cx="100" cy="100" r="20"/>',
  );
  const files = { "bench/art/slab.svg": slab };

  test("pieces, wood and keep-outs may be shapes of a drawing, whatever the job's unit", () => {
    const change = (job: Loose) => {
      job.units = "in";
      job.setups[0].passes.feed = "6 m/min";
      job.pieces = [
        {
          id: "left",
          outline: { svg: "art/slab.svg", id: "left" },
          wood: [{ svg: "./art/slab.svg", id: "knot" }],
          thickness: 2,
        },
      ];
      job.setups[0].keepOut = [{ outline: { svg: "art/slab.svg", id: "knot" }, height: 1 }];
    };
    const job = read(change, hostWith(files));
    expect(job.pieces[0].outline).toEqual(Float64Array.of(20, 100, 320, 100, 320, 300, 20, 300));
    expect(job.pieces[0].wood?.[0]).toEqual(job.setups[0].keepOuts[0].outline);
    expect(job.setups[0].keepOuts[0].outline.length).toBeGreaterThan(100);
  });

  test("what is wrong is told in the drawing, beside all other mistakes", () => {
    const outline = (outline: unknown) => (job: Loose) => {
      job.pieces[0].outline = outline;
      job.setups[0].clear = { side: -1 };
    };
    const other = "setups[0].clear.side: found -1; wanted 0 or more";
    expect(findings(outline({ svg: "art/slab.svg", id: "rite" }), hostWith(files))).toEqual([
      other,
      expect.stringContaining('there is no shape with the id "rite"'),
    ]);
    expect(findings(outline({ svg: "none.svg" }), hostWith(files))).toEqual([
      'pieces[0].outline.svg: cannot read "bench/none.svg": there is no such file',
      other,
    ]);
    const [{ file, line }] = issuesOf(() =>
      read(set("pieces[0].outline", { svg: "art/slab.svg" }), hostWith({ "bench/art/slab.svg": "<svg/>" })),
    );
    expect([file, line]).toEqual(["bench/art/slab.svg", 1]);
  });

  test.each<[unknown, string]>([
    [{ svg: "" }, "pieces[0].outline.svg: found an empty text"],
    [{ svg: 5 }, "pieces[0].outline.svg: found 5; wanted a text in double quotes"],
    [{ svg: "art/slab.svg", id: 5 }, "pieces[0].outline.id: found 5; wanted a text"],
    [
      { id: "left" },
      'pieces[0].outline.svg: missing; wanted the path of the drawing that "id" names a shape of',
    ],
    [
      { svg: "art/slab.svg", length: 5 },
      'pieces[0].outline.svg: found "length" beside "svg"; wanted one form of outline',
    ],
    [{ svg: "art/slab.svg", stations: [] }, 'found "stations" beside "svg"'],
    [
      {},
      'pieces[0].outline.length: missing; wanted "length" and "width", or "stations", or "svg", or a list of corners',
    ],
  ])("%j is refused", (outline, text) => {
    expect(findings(set("pieces[0].outline", outline), hostWith(files)).join("\n")).toContain(text);
  });
});

function perimeter(ring: number[][]): number {
  return ring.reduce((sum, [x, y], k) => {
    const [nextX, nextY] = ring[(k + 1) % ring.length];
    return sum + Math.hypot(nextX - x, nextY - y);
  }, 0);
}

/** From a place to the nearest place of the ring. */
function distance(ring: number[][], px: number, py: number): number {
  let least = Number.POSITIVE_INFINITY;
  ring.forEach(([x, y], k) => {
    const [nextX, nextY] = ring[(k + 1) % ring.length];
    const [dx, dy] = [nextX - x, nextY - y];
    const t = Math.max(0, Math.min(1, ((px - x) * dx + (py - y) * dy) / (dx * dx + dy * dy)));
    least = Math.min(least, Math.hypot(px - x - t * dx, py - y - t * dy));
  });
  return least;
}
