// The track as lines: cuts broad and whole, links dashed, lifts thin and dotted at their height; what is still to
// come is paler. Any subset of layers and kinds. Also finds the move under a pointer. Frame axes, mm.

import {
  BufferAttribute,
  DynamicDrawUsage,
  GLSL3,
  Group,
  InstancedBufferAttribute,
  InstancedBufferGeometry,
  LineSegments,
  Matrix4,
  Mesh,
  RawShaderMaterial,
} from "three";
import { isMotion } from "../src/motion/track.ts";
import { chordsOf, placeIn } from "../src/preview/cut.ts";
import { Spend, spendOf } from "../src/preview/rail.ts";
import type { SetupScene } from "../src/preview/scene.ts";
import type { Colours } from "./theme.ts";

/** Drawn arcs leave the true ones by at most this. */
const SAGITTA_MM = 0.2;
/** More than this are drawn as plain lines, which take half the time. */
const RIBBONS_MAX = 60_000;
/** What each segment has. */
const COLUMNS = ["from", "to", "info"] as const;

/** Which moves are drawn. */
export interface Filter {
  readonly layer: (index: number) => boolean;
  readonly cuts: boolean;
  readonly links: boolean;
  readonly lifts: boolean;
}

export class TrackLines {
  readonly group = new Group();
  /** Ribbons with soft edges; and, where there are very many, plain lines. */
  private readonly ribbons: Mesh;
  private readonly threads: LineSegments<InstancedBufferGeometry>;
  private readonly scene: SetupScene;
  private readonly material: RawShaderMaterial;
  private readonly geometry = new InstancedBufferGeometry();
  /** All segments: two places each, the entry, what it is for, and when it ends. */
  private readonly places: Float32Array;
  private readonly entries: Int32Array;
  private readonly spends: Uint8Array;
  private readonly ends: Float32Array;
  /** The segments that are drawn. */
  private readonly drawn: Int32Array;
  private count = 0;

  constructor(scene: SetupScene, ends: Float64Array) {
    this.scene = scene;
    const segments = segmentsOf(scene, ends);
    this.places = segments.places;
    this.entries = segments.entries;
    this.spends = segments.spends;
    this.ends = segments.ends;
    this.drawn = new Int32Array(this.entries.length);
    const { geometry } = this;
    geometry.setAttribute("corner", new BufferAttribute(new Float32Array([0, -1, 1, -1, 0, 1, 1, 1]), 2));
    geometry.setIndex([0, 1, 2, 2, 1, 3]);
    for (const [name, size] of [
      ["from", 3],
      ["to", 3],
      ["info", 2],
    ] as const) {
      const column = new InstancedBufferAttribute(new Float32Array(size * this.entries.length), size);
      column.setUsage(DynamicDrawUsage);
      geometry.setAttribute(name, column);
    }
    this.material = new RawShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: VERTEX,
      fragmentShader: FRAGMENT,
      transparent: true,
      depthTest: false,
      depthWrite: false,
      uniforms: {
        uSize: { value: [1, 1] },
        uRatio: { value: 1 },
        uNow: { value: 0 },
        uCut: { value: [0, 0, 0] },
        uLink: { value: [0, 0, 0] },
        uLift: { value: [0, 0, 0] },
        uRim: { value: [0, 0, 0] },
      },
    });
    const thread = new InstancedBufferGeometry();
    thread.setAttribute("corner", new BufferAttribute(new Float32Array([0, 0, 1, 0]), 2));
    for (const name of COLUMNS) thread.setAttribute(name, geometry.attributes[name]);
    this.ribbons = new Mesh(geometry, this.material);
    this.threads = new LineSegments(thread, this.material);
    for (const lines of [this.ribbons, this.threads]) {
      lines.frustumCulled = false;
      lines.renderOrder = 2;
      this.group.add(lines);
    }
  }

  show(filter: Filter): void {
    const { scene, places, entries, spends, ends, drawn, geometry } = this;
    const { layer } = scene.track;
    const wanted = [filter.cuts, filter.links, filter.lifts, false];
    const from = geometry.attributes.from.array as Float32Array;
    const to = geometry.attributes.to.array as Float32Array;
    const info = geometry.attributes.info.array as Float32Array;
    let count = 0;
    let [lastLayer, isIn] = [Number.NaN, false];
    for (let k = 0; k < entries.length; k++) {
      if (!wanted[spends[k]]) continue;
      const of = layer[entries[k]];
      if (of !== lastLayer) [lastLayer, isIn] = [of, filter.layer(of)];
      if (!isIn) continue;
      for (let axis = 0; axis < 3; axis++) {
        from[3 * count + axis] = places[6 * k + axis];
        to[3 * count + axis] = places[6 * k + 3 + axis];
      }
      info[2 * count] = ends[k];
      info[2 * count + 1] = spends[k];
      drawn[count++] = k;
    }
    this.count = count;
    geometry.instanceCount = count;
    this.threads.geometry.instanceCount = count;
    this.ribbons.visible = count > 0 && count <= RIBBONS_MAX;
    this.threads.visible = count > RIBBONS_MAX;
    for (const name of COLUMNS) geometry.attributes[name].needsUpdate = true;
  }

  at(seconds: number): void {
    this.material.uniforms.uNow.value = seconds;
  }

  resize(widthPx: number, heightPx: number, ratio: number): void {
    this.material.uniforms.uSize.value = [widthPx, heightPx];
    this.material.uniforms.uRatio.value = ratio;
  }

  colour({ cut, link, lift, rim }: Colours): void {
    const { uCut, uLink, uLift, uRim } = this.material.uniforms;
    uRim.value = rim;
    uCut.value = cut;
    uLink.value = link;
    uLift.value = lift;
  }

  /** The drawn entry nearest to a place of the screen (-1 to 1), not farther than so many pixels; -1: none. */
  entryAt(
    x: number,
    y: number,
    projection: Matrix4,
    widthPx: number,
    heightPx: number,
    withinPx: number,
  ): number {
    const m = new Matrix4().multiplyMatrices(projection, this.group.matrixWorld).elements;
    const { places, drawn } = this;
    const [px, py] = [(x * widthPx) / 2, (y * heightPx) / 2];
    let best = -1;
    let least = withinPx * withinPx;
    for (let n = 0; n < this.count; n++) {
      const k = 6 * drawn[n];
      const screenX = (at: number) =>
        ((m[0] * places[at] + m[4] * places[at + 1] + m[8] * places[at + 2] + m[12]) * widthPx) / 2;
      const screenY = (at: number) =>
        ((m[1] * places[at] + m[5] * places[at + 1] + m[9] * places[at + 2] + m[13]) * heightPx) / 2;
      const [ax, ay, bx, by] = [screenX(k), screenY(k), screenX(k + 3), screenY(k + 3)];
      const [dx, dy] = [bx - ax, by - ay];
      const length = dx * dx + dy * dy;
      const share = length > 0 ? Math.max(0, Math.min(1, ((px - ax) * dx + (py - ay) * dy) / length)) : 0;
      const away = (px - ax - share * dx) ** 2 + (py - ay - share * dy) ** 2;
      // Of two that lie over each other the later counts: it lies lower, and is the one seen last.
      if (away <= least) {
        least = away;
        best = drawn[n];
      }
    }
    return best < 0 ? -1 : this.entries[best];
  }

  dispose(): void {
    this.geometry.dispose();
    this.threads.geometry.dispose();
    this.material.dispose();
  }
}

function segmentsOf(scene: SetupScene, times: Float64Array) {
  const { track, zeroMm } = scene;
  const chords = new Int32Array(track.count);
  let count = 0;
  for (let k = 1; k < track.count; k++) {
    if (!isMotion(track.kind[k])) continue;
    const known = track.x[k] + track.y[k] + track.z[k] + track.x[k - 1] + track.y[k - 1] + track.z[k - 1];
    if (Number.isNaN(known)) continue;
    chords[k] = chordsOf(track, k, SAGITTA_MM);
    count += chords[k];
  }
  const places = new Float32Array(6 * count);
  const entries = new Int32Array(count);
  const spends = new Uint8Array(count);
  const ends = new Float32Array(count);
  let at = 0;
  for (let k = 1; k < track.count; k++) {
    const spend = spendOf(track, k);
    for (let chord = 0; chord < chords[k]; chord++, at++) {
      const a = placeIn(track, k, chord / chords[k]);
      const b = placeIn(track, k, (chord + 1) / chords[k]);
      places.set([a.x + zeroMm.x, a.y + zeroMm.y, a.z + zeroMm.z], 6 * at);
      places.set([b.x + zeroMm.x, b.y + zeroMm.y, b.z + zeroMm.z], 6 * at + 3);
      entries[at] = k;
      spends[at] = Math.min(spend, Spend.spindle);
      ends[at] = times[k];
    }
  }
  return { places, entries, spends, ends };
}

const VERTEX = `
precision highp float;
uniform mat4 modelViewMatrix, projectionMatrix;
uniform vec2 uSize;
uniform float uRatio, uNow;
in vec2 corner;
in vec3 from, to;
in vec2 info;
out float vSide, vHalf, vAlong, vCome;
flat out int vSpend;
void main() {
  vec4 a = projectionMatrix * modelViewMatrix * vec4(from, 1.0);
  vec4 b = projectionMatrix * modelViewMatrix * vec4(to, 1.0);
  vec2 way = (b.xy - a.xy) * uSize * 0.5;
  float far = length(way);
  vec2 along = far > 1e-3 ? way / far : vec2(1.0, 0.0);
  vSpend = int(info.y + 0.5);
  vHalf = (vSpend == 0 ? 1.1 : vSpend == 1 ? 0.9 : 0.65) * uRatio;
  vec4 at = mix(a, b, corner.x);
  // More on both sides, for soft edges and a rim.
  float wide = vHalf + 1.4 * uRatio;
  vec2 off = vec2(-along.y, along.x) * corner.y * wide + along * (corner.x * 2.0 - 1.0) * vHalf;
  at.xy += off / (uSize * 0.5);
  vSide = corner.y * wide;
  vAlong = corner.x * far / uRatio;
  vCome = info.x <= uNow ? 1.0 : 0.5;
  gl_Position = at;
}`;

const FRAGMENT = `
precision highp float;
precision highp int;
uniform vec3 uCut, uLink, uLift, uRim;
uniform float uRatio;
in float vSide, vHalf, vAlong, vCome;
flat in int vSpend;
out vec4 colour;
void main() {
  if (vSpend == 1 && fract(vAlong / 9.0) > 0.62) discard;
  if (vSpend == 2 && fract(vAlong / 5.0) > 0.42) discard;
  float core = clamp(vHalf + 0.5 - abs(vSide), 0.0, 1.0);
  // A rim of the other lightness, so that lines are seen on all shades.
  float rim = 0.55 * clamp((vHalf + 1.4 * uRatio - abs(vSide)) / uRatio, 0.0, 1.0);
  vec3 line = vSpend == 0 ? uCut : vSpend == 1 ? uLink : uLift;
  colour = vec4(mix(uRim, line, core), max(core, rim) * vCome);
}`;
