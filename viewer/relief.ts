// The pieces as relief: a mesh over the wood's grid whose heights lie in a texture, so that the cut is drawn by
// writing that texture, and walls down to the face below. Colours come from the reading chosen. Frame axes, mm.

import {
  BufferAttribute,
  BufferGeometry,
  ClampToEdgeWrapping,
  DataTexture,
  DoubleSide,
  FloatType,
  FrontSide,
  GLSL3,
  Group,
  Mesh,
  NearestFilter,
  RawShaderMaterial,
  RedFormat,
  RGBAFormat,
  UnsignedByteType,
} from "three";
import type { SetupScene } from "../src/preview/scene.ts";
import type { WoodScene } from "../src/preview/wood-scene.ts";
import { shadeTable } from "./palette.ts";
import { SHADES, type Shade } from "./state.ts";
import type { Colours } from "./theme.ts";

export class Relief {
  readonly group = new Group();
  private readonly heights: DataTexture;
  private readonly textures: DataTexture[];
  private readonly material: RawShaderMaterial;
  private readonly wood: WoodScene;
  /** Of every sample, and of every other; each made when it is first drawn. */
  private readonly faces: (Mesh | undefined)[] = [];

  constructor(scene: SetupScene, wood: WoodScene) {
    const { cols, rows } = wood;
    this.heights = texture(wood.before.slice(), cols, rows, "red");
    const still = texture(stillOf(wood), cols, rows, "rgba");
    const masks = texture(masksOf(wood), cols, rows, "bytes");
    const ramp = texture(shadeTable(256), 256, 1, "bytes");
    this.textures = [this.heights, still, masks, ramp];
    this.material = new RawShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: VERTEX,
      fragmentShader: FRAGMENT,
      side: DoubleSide,
      polygonOffset: true,
      polygonOffsetFactor: 1,
      polygonOffsetUnits: 1,
      uniforms: {
        uHeights: { value: this.heights },
        uStill: { value: still },
        uMasks: { value: masks },
        uRamp: { value: ramp },
        uGrid: { value: [wood.x0, wood.y0, wood.pitchMm] },
        uCols: { value: cols },
        uFloor: { value: scene.floorMm ?? 0 },
        uEvery: { value: 1 },
        uMode: { value: 0 },
        uRange: { value: [0, 1] },
        uWood: { value: [0, 0, 0] },
        uFresh: { value: [0, 0, 0] },
        uResin: { value: [0, 0, 0] },
        uInk: { value: [0, 0, 0] },
        uPaper: { value: [0, 0, 0] },
      },
    });
    this.wood = wood;
    const walls = wallsOf(scene, wood);
    if (walls !== null) this.group.add(walls(this.material));
  }

  /** Draws these heights from now on. */
  set(heights: Float32Array): void {
    (this.heights.image.data as unknown as Float32Array).set(heights);
    this.heights.needsUpdate = true;
  }

  /** Draws every other sample only, for pictures that must be quick. */
  simplify(isCoarse: boolean): void {
    const stride = isCoarse ? 2 : 1;
    if (this.faces[stride] === undefined) {
      const face = meshOf(faceIndex(this.wood, stride), this.material);
      this.faces[stride] = face;
      this.group.add(face);
    }
    this.faces.forEach((face, of) => {
      if (face !== undefined) face.visible = of === stride;
    });
  }

  /** Draws a line of equal height every so far. */
  contour(everyMm: number): void {
    this.material.uniforms.uEvery.value = everyMm;
  }

  shade(shade: Shade, [low, high]: readonly [number, number]): void {
    const { uMode, uRange } = this.material.uniforms;
    uMode.value = SHADES.indexOf(shade);
    uRange.value = [low, high];
  }

  colour(colours: Colours): void {
    const { uWood, uFresh, uResin, uInk, uPaper } = this.material.uniforms;
    uWood.value = colours.wood;
    uFresh.value = colours.fresh;
    uResin.value = colours.resin;
    uInk.value = colours.ink;
    uPaper.value = colours.paper;
  }

  dispose(): void {
    for (const kept of this.textures) kept.dispose();
    this.material.dispose();
    for (const child of this.group.children) if (child instanceof Mesh) child.geometry.dispose();
  }
}

function meshOf(geometry: BufferGeometry, material: RawShaderMaterial): Mesh {
  const mesh = new Mesh(geometry, material);
  // There are no positions to tell where it is.
  mesh.frustumCulled = false;
  return mesh;
}

/** Cells side by side whose vertices common caches hold. */
const BAND = 6;

/**
 * Two triangles for each cell of `stride` samples that reaches into a piece. Vertices are samples: their number says
 * where they are.
 */
function faceIndex({ cols, rows, inside, before }: WoodScene, stride: number): BufferGeometry {
  const index = new Uint32Array(6 * Math.ceil(cols / stride) * Math.ceil(rows / stride));
  let count = 0;
  const isThere = (k: number) => before[k] > Number.NEGATIVE_INFINITY;
  // In narrow bands, so that a row's vertices are still at hand when the next row needs them again.
  for (let band = 0; band + stride < cols; band += BAND * stride)
    for (let row = 0; row + stride < rows; row += stride)
      for (let cell = 0; cell < BAND; cell++) {
        const col = band + cell * stride;
        if (col + stride >= cols) break;
        const a = row * cols + col;
        const [b, c, d] = [a + stride, a + stride * cols, a + stride * cols + stride];
        if (inside[a] < 128 && inside[b] < 128 && inside[c] < 128 && inside[d] < 128) continue;
        if (!isThere(a) || !isThere(b) || !isThere(c) || !isThere(d)) continue;
        index[count] = index[count + 3] = a;
        index[count + 1] = b;
        index[count + 2] = index[count + 4] = d;
        index[count + 5] = c;
        count += 6;
      }
  const geometry = new BufferGeometry();
  geometry.setIndex(new BufferAttribute(index.slice(0, count), 1));
  return geometry;
}

/** Walls along the outlines; `wall` is x, y, how far up (1: the cut face, 0: the face below). */
function wallsOf({ pieces }: SetupScene, { pitchMm }: WoodScene) {
  const places: number[] = [];
  const index: number[] = [];
  for (const { outline } of pieces) {
    const first = places.length / 3;
    for (let k = 0; k < outline.length; k += 2) {
      const [ax, ay] = [outline[k], outline[k + 1]];
      const [bx, by] = [outline[(k + 2) % outline.length], outline[(k + 3) % outline.length]];
      const length = Math.sqrt((bx - ax) ** 2 + (by - ay) ** 2);
      const steps = Math.max(1, Math.ceil(length / (2 * pitchMm)));
      for (let step = 0; step < steps; step++) {
        const [x, y] = [ax + ((bx - ax) * step) / steps, ay + ((by - ay) * step) / steps];
        places.push(x, y, 0, x, y, 1);
      }
    }
    const count = places.length / 3 - first;
    for (let k = 0; k < count; k += 2) {
      const [a, b] = [first + k, first + ((k + 2) % count)];
      index.push(a, b, b + 1, a, b + 1, a + 1);
    }
  }
  if (index.length === 0) return null;
  return (face: RawShaderMaterial) => {
    const geometry = new BufferGeometry();
    geometry.setAttribute("wall", new BufferAttribute(Float32Array.from(places), 3));
    geometry.setIndex(index);
    const material = new RawShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: WALL_VERTEX,
      fragmentShader: FRAGMENT,
      // Outlines run counter-clockwise, so walls face outwards; those behind would show along the far edges.
      side: FrontSide,
      polygonOffset: true,
      polygonOffsetFactor: 1,
      polygonOffsetUnits: 4,
      // The same uniforms, so that what holds for the face holds for its walls.
      uniforms: face.uniforms,
    });
    return meshOf(geometry, material);
  };
}

function stillOf({ before, after, below, timberTop }: WoodScene): Float32Array<ArrayBuffer> {
  const still = new Float32Array(4 * before.length);
  for (let k = 0; k < before.length; k++) {
    still[4 * k] = finite(before[k]);
    still[4 * k + 1] = finite(after[k]);
    still[4 * k + 2] = below[k];
    still[4 * k + 3] = timberTop === null ? 1e6 : finite(timberTop[k]);
  }
  return still;
}

function finite(height: number): number {
  return Math.max(height, -1e6);
}

function masksOf({ inside, timber, clean }: WoodScene): Uint8Array<ArrayBuffer> {
  const masks = new Uint8Array(4 * inside.length);
  for (let k = 0; k < inside.length; k++) {
    masks[4 * k] = inside[k];
    masks[4 * k + 1] = timber === null ? 255 : timber[k];
    masks[4 * k + 2] = clean[k];
  }
  return masks;
}

function texture(
  data: Float32Array<ArrayBuffer> | Uint8Array<ArrayBuffer>,
  cols: number,
  rows: number,
  form: "red" | "rgba" | "bytes",
): DataTexture {
  const made = new DataTexture(
    data,
    cols,
    rows,
    form === "red" ? RedFormat : RGBAFormat,
    form === "bytes" ? UnsignedByteType : FloatType,
  );
  made.minFilter = made.magFilter = NearestFilter;
  made.wrapS = made.wrapT = ClampToEdgeWrapping;
  made.needsUpdate = true;
  return made;
}

const COMMON = `
precision highp float;
precision highp int;
precision highp sampler2D;
uniform mat4 modelViewMatrix, projectionMatrix;
uniform sampler2D uHeights, uStill, uMasks;
uniform vec3 uGrid;
uniform int uCols;
out vec3 vView;
out vec2 vPlace;
out vec4 vStill;
out vec2 vMasks;
out float vZ;
flat out int vClean;
flat out float vWall;
`;

const VERTEX = `${COMMON}
void main() {
  ivec2 p = ivec2(gl_VertexID % uCols, gl_VertexID / uCols);
  vZ = texelFetch(uHeights, p, 0).r;
  vStill = texelFetch(uStill, p, 0);
  vec4 masks = texelFetch(uMasks, p, 0);
  vMasks = masks.rg;
  vClean = int(masks.b * 255.0 + 0.5);
  vWall = 0.0;
  vPlace = uGrid.xy + uGrid.z * vec2(p);
  vec4 view = modelViewMatrix * vec4(vPlace, vZ, 1.0);
  vView = view.xyz;
  gl_Position = projectionMatrix * view;
}`;

const WALL_VERTEX = `${COMMON}
in vec3 wall;
void main() {
  vPlace = wall.xy;
  vec2 at = (wall.xy - uGrid.xy) / uGrid.z;
  ivec2 p = ivec2(floor(at));
  vec2 t = at - vec2(p);
  // Between the samples around; those beyond the wood's rim do not count.
  float sum = 0.0, part = 0.0;
  vStill = vec4(0.0);
  float timber = 0.0;
  for (int k = 0; k < 4; k++) {
    ivec2 q = p + ivec2(k & 1, k >> 1);
    float w = ((k & 1) == 1 ? t.x : 1.0 - t.x) * ((k >> 1) == 1 ? t.y : 1.0 - t.y) + 1e-4;
    float z = texelFetch(uHeights, q, 0).r;
    if (z < -1e5) continue;
    part += w;
    sum += w * z;
    vStill += w * texelFetch(uStill, q, 0);
    timber += w * texelFetch(uMasks, q, 0).g;
  }
  part = max(part, 1e-4);
  vStill /= part;
  vMasks = vec2(1.0, timber / part);
  vClean = 0;
  vWall = 1.0;
  vZ = wall.z > 0.5 ? sum / part : vStill.z;
  vec4 view = modelViewMatrix * vec4(vPlace, vZ, 1.0);
  vView = view.xyz;
  gl_Position = projectionMatrix * view;
}`;

const FRAGMENT = `
precision highp float;
precision highp int;
precision highp sampler2D;
uniform sampler2D uRamp;
uniform float uFloor, uEvery;
uniform int uMode;
uniform vec2 uRange;
uniform vec3 uWood, uFresh, uResin, uInk, uPaper;
in vec3 vView;
in vec2 vPlace;
in vec4 vStill;
in vec2 vMasks;
in float vZ;
flat in int vClean;
flat in float vWall;
out vec4 colour;

float stripes(float across, float every, float share) {
  return step(fract(across / every), share);
}

void main() {
  if (vMasks.r < 0.5) discard;
  vec3 normal = normalize(cross(dFdx(vView), dFdy(vView)));
  if (normal.z < 0.0) normal = -normal;
  float light = 0.42 + 0.58 * max(0.0, dot(normal, normalize(vec3(-0.35, 0.55, 0.76))));
  bool isWood = vMasks.g >= 0.5 && vZ <= vStill.a + 0.02;
  bool isFresh = vWall < 0.5 && vZ < vStill.r - 0.004;
  vec3 base = isWood ? (isFresh ? uFresh : uWood) : mix(uResin, uPaper, isFresh ? 0.18 : 0.0);
  // Resin is told by its stripes too.
  if (!isWood) base = mix(base, uPaper, 0.25 * stripes(vPlace.x - vPlace.y, 26.0, 0.16));
  if (uMode == 0 || vWall > 0.5) {
    vec3 lit = base * (vWall > 0.5 ? 0.5 + 0.35 * light : light);
    // Lines of equal height, as on a map; where it is level there are none.
    float steps = vZ / uEvery, wide = fwidth(steps);
    float near = abs(fract(steps + 0.5) - 0.5);
    if (vWall < 0.5 && wide > 1e-4 && wide < 0.4) lit *= 1.0 - 0.3 * (1.0 - smoothstep(0.4, 1.2, near / wide));
    colour = vec4(lit, 1.0);
    return;
  }
  if (uMode == 4) {
    vec3 shown = mix(uFresh, uPaper, 0.55);
    if (vClean == 2) shown = mix(uWood * 0.55, uInk, 0.35 * stripes(vPlace.x + vPlace.y, 12.0, 0.4));
    else if (vClean == 3)
      shown = mix(uPaper, uInk, 0.75 * max(stripes(vPlace.x + vPlace.y, 18.0, 0.3), stripes(vPlace.x - vPlace.y, 18.0, 0.3)));
    else if (vClean == 4) shown = base;
    colour = vec4(shown * (0.75 + 0.25 * light), 1.0);
    return;
  }
  float value = uMode == 1 ? vZ - uFloor : uMode == 2 ? vZ - vStill.b : vStill.g - uFloor;
  float share = clamp((value - uRange.x) / max(1e-6, uRange.y - uRange.x), 0.0, 1.0);
  colour = vec4(texture(uRamp, vec2((share * 255.0 + 0.5) / 256.0, 0.5)).rgb * (0.82 + 0.18 * light), 1.0);
}`;
