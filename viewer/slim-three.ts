// Leaves out of three what the page never draws with: its shaders (the page brings its own), lights, shadows,
// headsets, environments, clipping, morphing. Halves the page. Where a later three has moved a module, the build fails.

import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import type { Plugin } from "vite";

/** What stands in for a module, by its path in three's sources. */
const STAND_INS: Readonly<Record<string, string>> = {
  "renderers/shaders/ShaderChunk.js": "export const ShaderChunk = {};",
  "renderers/shaders/ShaderLib.js": "export const ShaderLib = {};",
  "renderers/shaders/UniformsLib.js": "export const UniformsLib = {};",
  "renderers/shaders/DFGLUTData.js": "export const getDFGLUT = () => null;",
  // For finding what is under a pointer, which the page does by itself.
  "math/Ray.js": "export class Ray {}",
  "math/Triangle.js": "export class Triangle {}",
  "math/FrustumArray.js": "export class FrustumArray {}",
  "renderers/webxr/WebXRManager.js": `export class WebXRManager {
    enabled = false;
    isPresenting = false;
    addEventListener() {}
    removeEventListener() {}
    dispose() {}
    setAnimationLoop() {}
    hasDepthSensing() { return false; }
  }`,
  "renderers/webgl/WebGLShadowMap.js":
    "export function WebGLShadowMap() { this.enabled = false; this.render = () => {}; }",
  "renderers/webgl/WebGLLights.js": `export function WebGLLights() {
    const none = ["ambient", "probe", "directional", "sun", "point", "spot", "rectArea", "hemi", "spotLightMap",
      "sunShadowMap", "directionalShadowMap", "pointShadowMap", "spotShadowMap"];
    const state = { version: 0, numSpotLightShadowsWithMaps: 0, numLightProbes: 0 };
    for (const name of none) state[name] = [];
    return { setup() {}, setupView() {}, state };
  }`,
  "renderers/webgl/WebGLEnvironments.js":
    "export function WebGLEnvironments() { return { get: (texture) => texture, dispose() {} }; }",
  "renderers/webgl/WebGLMorphtargets.js": "export function WebGLMorphtargets() { return { update() {} }; }",
  "renderers/webgl/WebGLUniformsGroups.js":
    "export function WebGLUniformsGroups() { return { bind() {}, update() {}, dispose() {} }; }",
  "renderers/webgl/WebGLMaterials.js":
    "export function WebGLMaterials() { return { refreshFogUniforms() {}, refreshMaterialUniforms() {} }; }",
  "renderers/webgl/WebGLOutput.js": "export function WebGLOutput() {}",
  "renderers/webgl/WebGLClipping.js": `export function WebGLClipping() {
    this.uniform = { value: null, needsUpdate: false };
    this.numPlanes = this.numIntersection = 0;
    this.init = () => false;
    this.setState = this.setGlobalState = this.beginShadows = this.endShadows = () => {};
  }`,
  "renderers/webgl/WebGLBackground.js": `import { Color } from "../../math/Color.js";
  export function WebGLBackground(renderer, environments, state) {
    const color = new Color(0);
    let alpha = 0;
    const set = () => state.buffers.color.setClear(color.r, color.g, color.b, alpha, true);
    return {
      getClearColor: () => color,
      setClearColor(to, toAlpha = 1) { color.set(to); alpha = toAlpha; set(); },
      getClearAlpha: () => alpha,
      setClearAlpha(to) { alpha = to; set(); },
      render() { set(); if (renderer.autoClear) renderer.clear(); },
      addToRenderList() {},
      dispose() {},
    };
  }`,
};

export function slimThree(): Plugin {
  const sources = join(dirname(createRequire(import.meta.url).resolve("three")), "../src");
  const used = new Set<string>();
  return {
    name: "slim-three",
    enforce: "pre",
    resolveId: (id) => (id === "three" ? join(sources, "Three.js") : undefined),
    load(id) {
      if (!id.startsWith(sources)) return undefined;
      const path = id.slice(sources.length + 1).replaceAll("\\", "/");
      if (!(path in STAND_INS)) return undefined;
      used.add(path);
      return STAND_INS[path];
    },
    buildEnd(error) {
      if (error !== undefined) return;
      const unused = Object.keys(STAND_INS).filter((path) => !used.has(path));
      if (unused.length > 0) throw new Error(`three has changed: it no longer loads ${unused.join(", ")}`);
    },
  };
}
