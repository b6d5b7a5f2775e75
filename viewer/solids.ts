// What stands and lies around the wood: bed, travel, program zero, keep-outs, shims, the line of the floor, and the
// cutter. Frame axes, mm.

import {
  BufferGeometry,
  DoubleSide,
  Float32BufferAttribute,
  GLSL3,
  Group,
  LineSegments,
  Mesh,
  RawShaderMaterial,
  ShapeUtils,
  Vector2,
} from "three";
import type { SetupScene } from "../src/preview/scene.ts";
import { formatLength, type Units } from "../src/units.ts";
import type { Colours, Rgb } from "./theme.ts";

/** A word at a place of the scene. */
export interface Label {
  readonly text: string;
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly kind: "zero" | "keep-out" | "travel" | "shim";
}

type Ink = "ink" | "paper" | "keepOut" | "cut" | "lift";

export class Solids {
  readonly group = new Group();
  readonly cutter = new Group();
  private readonly materials: { readonly material: RawShaderMaterial; readonly ink: Ink }[] = [];

  constructor(scene: SetupScene) {
    const { programs, zeroMm, keepOuts, shims, floorMm, pieces } = scene;
    for (const { minX, minY, maxX, maxY } of programs.map(({ reach }) => reach))
      this.lines(dashed([minX, minY, maxX, minY, maxX, maxY, minX, maxY], 0, 40), "ink", 0.45);
    this.lines(crossAt(zeroMm.x, zeroMm.y, zeroMm.z, 60), "ink", 1);
    for (const { outline, heightMm } of keepOuts) {
      this.mesh(prismOf(outline, heightMm), "keepOut", 0.85, 1);
      this.lines(ringLines(outline, heightMm), "ink", 0.8);
    }
    for (const { x, y, thicknessMm } of shims)
      this.mesh(prismOf(circle(x, y, 18), Math.max(0.5, thicknessMm)), "lift", 1, 0);
    if (floorMm !== null)
      for (const { outline } of pieces) this.lines(ringLines(outline, floorMm), "ink", 0.7);
    this.group.add(this.cutter);
    this.addCutter(scene.cutter.diameterMm / 2);
  }

  private addCutter(radiusMm: number): void {
    const ring = circle(0, 0, Math.max(radiusMm, 4));
    this.mesh(discOf(ring), "cut", 0.28, 0, this.cutter);
    this.lines([...ringLines(ring, 0), 0, 0, 0, 0, 0, 30], "ink", 1, this.cutter);
  }

  colour(colours: Colours): void {
    for (const { material, ink } of this.materials) material.uniforms.uColour.value = colours[ink];
  }

  dispose(): void {
    for (const { material } of this.materials) material.dispose();
    this.group.traverse((child) => {
      if (child instanceof Mesh || child instanceof LineSegments) child.geometry.dispose();
    });
  }

  private mesh(places: number[], ink: Ink, alpha: number, striped: number, into = this.group): void {
    const mesh = new Mesh(geometryOf(places), this.material(ink, alpha, striped));
    mesh.frustumCulled = false;
    mesh.renderOrder = 1;
    into.add(mesh);
  }

  private lines(places: number[], ink: Ink, alpha: number, into = this.group): void {
    const lines = new LineSegments(geometryOf(places), this.material(ink, alpha, 0));
    lines.frustumCulled = false;
    lines.renderOrder = 3;
    into.add(lines);
  }

  private material(ink: Ink, alpha: number, striped: number): RawShaderMaterial {
    const material = new RawShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: VERTEX,
      fragmentShader: FRAGMENT,
      transparent: alpha < 1,
      depthWrite: alpha > 0.5,
      side: DoubleSide,
      uniforms: {
        uColour: { value: [0, 0, 0] satisfies Rgb },
        uAlpha: { value: alpha },
        uStriped: { value: striped },
      },
    });
    this.materials.push({ material, ink });
    return material;
  }
}

export function labelsOf({ programs, zeroMm, keepOuts, shims }: SetupScene, units: Units): Label[] {
  return [
    { text: "X0 Y0 Z0", ...zeroMm, kind: "zero" },
    ...programs.map(
      ({ reach: { minX, minY, maxX, maxY } }): Label => ({
        text: `travel ${formatLength(maxX - minX, units)} \u00d7 ${formatLength(maxY - minY, units)}`,
        ...{ x: maxX, y: minY, z: 0, kind: "travel" },
      }),
    ),
    ...keepOuts.map(({ name, outline, heightMm }): Label => {
      const { x, y } = middle(outline);
      return { text: `${name}, ${formatLength(heightMm, units)}`, x, y, z: heightMm, kind: "keep-out" };
    }),
    ...shims.map(
      ({ x, y, thicknessMm }): Label => ({
        text: `shim ${formatLength(thicknessMm, units)}`,
        ...{ x, y, z: thicknessMm, kind: "shim" },
      }),
    ),
  ];
}

function middle(ring: Float64Array): { x: number; y: number } {
  let [x, y] = [0, 0];
  for (let k = 0; k < ring.length; k += 2) {
    x += ring[k];
    y += ring[k + 1];
  }
  return { x: (2 * x) / ring.length, y: (2 * y) / ring.length };
}

function geometryOf(places: number[]): BufferGeometry {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new Float32BufferAttribute(places, 3));
  return geometry;
}

function circle(x: number, y: number, radiusMm: number): Float64Array {
  const ring = new Float64Array(96);
  for (let k = 0; k < 48; k++) {
    ring[2 * k] = x + radiusMm * Math.cos((k * Math.PI) / 24);
    ring[2 * k + 1] = y + radiusMm * Math.sin((k * Math.PI) / 24);
  }
  return ring;
}

function ringLines(ring: Float64Array, z: number): number[] {
  const places: number[] = [];
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2)
    places.push(ring[p], ring[p + 1], z, ring[k], ring[k + 1], z);
  return places;
}

function dashed(ring: readonly number[], z: number, dashMm: number): number[] {
  const places: number[] = [];
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
    const [ax, ay, bx, by] = [ring[p], ring[p + 1], ring[k], ring[k + 1]];
    const length = Math.sqrt((bx - ax) ** 2 + (by - ay) ** 2);
    const steps = Math.min(500, Math.max(1, Math.round(length / dashMm)));
    for (let step = 0; step < steps; step++)
      for (const share of [step / steps, (step + 0.55) / steps])
        places.push(ax + (bx - ax) * share, ay + (by - ay) * share, z);
  }
  return places;
}

/** Arms along +X and +Y, the one along X with a barb so that it is told from the other. */
function crossAt(x: number, y: number, z: number, armMm: number): number[] {
  const barb = armMm / 5;
  return [
    ...[x - barb, y, z, x + armMm, y, z, x, y - barb, z, x, y + armMm, z],
    ...[
      x + armMm,
      y,
      z,
      x + armMm - barb,
      y + barb / 2,
      z,
      x + armMm,
      y,
      z,
      x + armMm - barb,
      y - barb / 2,
      z,
    ],
    ...[x, y, z - barb, x, y, z + barb],
    ...ringLines(circle(x, y, barb), z),
  ];
}

function discOf(ring: Float64Array): number[] {
  const places: number[] = [];
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2)
    places.push(0, 0, 0, ring[p], ring[p + 1], 0, ring[k], ring[k + 1], 0);
  return places;
}

/** Walls and lid of an outline, from the bed up. */
function prismOf(ring: Float64Array, heightMm: number): number[] {
  const places: number[] = [];
  const corners: Vector2[] = [];
  for (let k = 0, p = ring.length - 2; k < ring.length; p = k, k += 2) {
    const [ax, ay, bx, by] = [ring[p], ring[p + 1], ring[k], ring[k + 1]];
    places.push(ax, ay, 0, bx, by, 0, bx, by, heightMm, ax, ay, 0, bx, by, heightMm, ax, ay, heightMm);
    corners.push(new Vector2(bx, by));
  }
  for (const face of ShapeUtils.triangulateShape(corners, []))
    for (const k of face) places.push(corners[k].x, corners[k].y, heightMm);
  return places;
}

const VERTEX = `
precision highp float;
uniform mat4 modelViewMatrix, projectionMatrix;
in vec3 position;
out vec3 vPlace;
out vec3 vView;
void main() {
  vPlace = position;
  vec4 view = modelViewMatrix * vec4(position, 1.0);
  vView = view.xyz;
  gl_Position = projectionMatrix * view;
}`;

const FRAGMENT = `
precision highp float;
uniform vec3 uColour;
uniform float uAlpha, uStriped;
in vec3 vPlace;
in vec3 vView;
out vec4 colour;
void main() {
  float stripe = uStriped * step(fract((vPlace.x + vPlace.y + vPlace.z) / 14.0), 0.5);
  colour = vec4(mix(uColour, uColour * 0.6, stripe), uAlpha);
}`;
