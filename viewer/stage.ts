// The scene of one setup: relief, track, what stands around it, and the eye. Draws when something has changed, and
// not otherwise. Heights are drawn a chosen number of times as high as they are.

import { Group, Matrix4, Scene, Vector3, WebGLRenderer } from "three";
import { contourStep, shownRange } from "../src/preview/readings.ts";
import type { SetupScene } from "../src/preview/scene.ts";
import { boxOf } from "../src/survey/field.ts";
import type { Units } from "../src/units.ts";
import { Eye } from "./camera.ts";
import { h } from "./dom.ts";
import { Relief } from "./relief.ts";
import { type Label, labelsOf, Solids } from "./solids.ts";
import type { Shade } from "./state.ts";
import { coloursNow } from "./theme.ts";
import { type Filter, TrackLines } from "./tracklines.ts";

/** Pictures slower than this are drawn coarser while something moves. */
const SLOW_MS = 45;
/** Pictures that follow each other faster than this are a movement. */
const SETTLE_MS = 160;

/** Whether this browser can draw it at all. */
export function canDraw(): boolean {
  try {
    return document.createElement("canvas").getContext("webgl2") !== null;
  } catch {
    return false;
  }
}

export class Stage {
  readonly element: HTMLElement;
  readonly eye: Eye;
  /** Called when a pointer rests on a move, or leaves it (-1); in pixels of the element. */
  onPoint: (entry: number, xPx: number, yPx: number) => void = () => {};
  /** Milliseconds that the last picture took, and how many were drawn. */
  frameMs = 0;
  frames = 0;
  private readonly renderer: WebGLRenderer;
  private readonly scene = new Scene();
  private readonly root = new Group();
  private readonly labelBox = h("div", { class: "labels", "aria-hidden": "true" });
  private labels: { readonly label: Label; readonly element: HTMLElement }[] = [];
  private relief: Relief | null = null;
  private track: TrackLines | null = null;
  private solids: Solids | null = null;
  private setup: SetupScene | null = null;
  private widthPx = 1;
  private heightPx = 1;
  private isFitted = false;
  private readonly isSoftware = isSoftware();
  private lastDrawn = Number.NEGATIVE_INFINITY;
  private settling: ReturnType<typeof setTimeout> | undefined;
  private isMoving = false;
  private isCoarse = false;
  private asked = false;

  constructor() {
    this.element = h("div", {
      ...{ class: "stage", tabindex: 0, role: "img" },
      "aria-label":
        "The piece in relief with the track over it. Arrow keys turn it, Shift and arrow keys move it, plus and minus bring it nearer, Home shows all.",
    });
    const canvas = h("canvas", { "aria-hidden": "true" });
    this.renderer = new WebGLRenderer({
      canvas,
      antialias: !this.isSoftware,
      alpha: true,
      powerPreference: "low-power",
    });
    this.element.append(canvas, this.labelBox);
    this.scene.add(this.root);
    this.scene.matrixAutoUpdate = false;
    this.eye = new Eye(this.element);
    this.eye.onChange = () => this.draw();
    this.element.addEventListener("pointermove", (event) => this.point(event));
    this.element.addEventListener("pointerdown", (event) => {
      if (event.pointerType === "touch") this.point(event);
    });
    this.element.addEventListener("pointerleave", () => this.onPoint(-1, 0, 0));
    new ResizeObserver(() => this.resize()).observe(this.element);
  }

  /** Draws another setup. */
  load(setup: SetupScene, ends: Float64Array): void {
    this.clear();
    this.setup = setup;
    const { wood } = setup;
    this.solids = new Solids(setup);
    this.track = new TrackLines(setup, ends);
    if (wood !== null) {
      this.relief = new Relief(setup, wood);
      this.root.add(this.relief.group);
    }
    this.root.add(this.solids.group, this.track.group);
    this.recolour();
    this.resize();
    this.expectMovement();
  }

  /** Times that heights are drawn, when the user leaves it to the page: a block, but no tower. */
  ownHeights(): number {
    const box = this.box();
    const across = Math.sqrt((box.maxX - box.minX) * (box.maxY - box.minY));
    const most = (0.25 * across) / Math.max(1, box.maxZ);
    return [1, 2, 3, 5, 8, 12, 20].findLast((times) => times <= Math.max(1, most)) ?? 1;
  }

  stretch(heights: number): void {
    if (this.setup === null) return;
    const box = this.box();
    const middle = [(box.minX + box.maxX) / 2, (box.minY + box.maxY) / 2, box.maxZ / 2];
    this.root.scale.set(1, 1, heights);
    this.root.position.set(-middle[0], -middle[1], -middle[2] * heights);
    this.root.updateMatrixWorld(true);
    this.eye.lookAt((box.maxX - box.minX) / 2, (box.maxY - box.minY) / 2, (box.maxZ / 2) * heights);
    this.draw();
  }

  private box() {
    const { pieces, keepOuts, track, zeroMm, floorMm } = this.setup as SetupScene;
    const rings = [...pieces, ...keepOuts].map(({ outline }) => outline);
    let maxZ = floorMm ?? 10;
    if (rings.length === 0) {
      const corners: number[] = [];
      for (let k = 0; k < track.count; k++)
        if (!Number.isNaN(track.x[k] + track.y[k]))
          corners.push(track.x[k] + zeroMm.x, track.y[k] + zeroMm.y);
      rings.push(Float64Array.from(corners.length > 0 ? corners : [0, 0, 100, 100]));
    }
    for (const height of this.setup?.wood?.before ?? []) if (height > maxZ) maxZ = height;
    for (const { heightMm } of keepOuts) maxZ = Math.max(maxZ, heightMm);
    return { ...boxOf(rings), maxZ };
  }

  setHeights(heights: Float32Array): void {
    this.relief?.set(heights);
    this.draw();
  }

  shade(shade: Shade): void {
    if (this.setup !== null) this.relief?.shade(shade, shownRange(this.setup, shade));
    this.draw();
  }

  filter(filter: Filter): void {
    this.track?.show(filter);
    this.draw();
  }

  /** Puts the cutter to a place of the program, at a time of it. */
  cutterAt(x: number, y: number, z: number, seconds: number): void {
    const { solids, setup } = this;
    if (solids === null || setup === null) return;
    const isKnown = !Number.isNaN(x + y + z);
    solids.cutter.visible = isKnown;
    if (isKnown) solids.cutter.position.set(x + setup.zeroMm.x, y + setup.zeroMm.y, z + setup.zeroMm.z);
    solids.cutter.updateMatrixWorld(true);
    this.track?.at(seconds);
    this.draw();
  }

  label(units: Units): void {
    if (this.setup === null) return;
    this.relief?.contour(contourStep(this.setup, units));
    this.labels = labelsOf(this.setup, units).map((label) => ({
      label,
      element: h("span", { class: `label label-${label.kind}` }, label.text),
    }));
    this.labelBox.replaceChildren(...this.labels.map(({ element }) => element));
    this.draw();
  }

  recolour(): void {
    const colours = coloursNow();
    this.relief?.colour(colours);
    this.track?.colour(colours);
    this.solids?.colour(colours);
    this.draw();
  }

  /** Says that the next picture should be there soon, and that a better one may follow. */
  expectMovement(): void {
    this.lastDrawn = performance.now();
  }

  /** Whether something moves all the time, so that pictures must be quick. */
  setMoving(isMoving: boolean): void {
    this.isMoving = isMoving;
    this.draw();
  }

  draw(): void {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.drawNow();
    });
  }

  private drawNow(): void {
    const from = performance.now();
    // What comes right after another picture is part of a movement.
    const isBusy = this.isMoving || this.eye.isDragging || from - this.lastDrawn < SETTLE_MS;
    const coarse = isBusy && (this.isSoftware || this.frameMs > SLOW_MS);
    if (coarse !== this.isCoarse) this.resolve(coarse);
    // Without a graphics card triangles cost, and those smaller than two pixels are not seen.
    const pitchPx = (this.setup?.wood?.pitchMm ?? 1) / this.eye.mmPerPx;
    this.relief?.simplify(coarse || (this.isSoftware && pitchPx < 2));
    this.renderer.render(this.scene, this.eye.camera);
    this.placeLabels();
    this.lastDrawn = performance.now();
    if (!coarse) this.frameMs = this.lastDrawn - from;
    this.frames++;
    clearTimeout(this.settling);
    if (coarse) this.settling = setTimeout(() => this.draw(), 2 * SETTLE_MS);
  }

  private resolve(coarse: boolean): void {
    this.isCoarse = coarse;
    const ratio = Math.min(2, devicePixelRatio) * (coarse ? 0.5 : 1);
    this.renderer.setPixelRatio(ratio);
    this.renderer.setSize(this.widthPx, this.heightPx, false);
    this.track?.resize(this.widthPx * ratio, this.heightPx * ratio, ratio);
  }

  private resize(): void {
    const { clientWidth, clientHeight } = this.element;
    if (clientWidth === 0 || clientHeight === 0) return;
    this.widthPx = clientWidth;
    this.heightPx = clientHeight;
    this.resolve(this.isCoarse);
    this.eye.resize(clientWidth, clientHeight);
    // What was loaded while nothing was seen had no size to be fitted to.
    if (!this.isFitted && this.setup !== null) {
      this.isFitted = true;
      this.eye.fit();
    }
  }

  private placeLabels(): void {
    const at = new Vector3();
    for (const { label, element } of this.labels) {
      at.set(label.x, label.y, label.z).applyMatrix4(this.root.matrixWorld).project(this.eye.camera);
      const x = ((at.x + 1) / 2) * this.widthPx;
      const y = ((1 - at.y) / 2) * this.heightPx;
      const isRight = x > this.widthPx - 170;
      element.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)${isRight ? " translateX(calc(-100% - 8px))" : ""}`;
      element.hidden = x < 0 || y < 0 || x > this.widthPx || y > this.heightPx;
    }
  }

  private point(event: PointerEvent): void {
    if (this.track === null || (event.pointerType !== "touch" && event.buttons !== 0)) return;
    const { camera } = this.eye;
    const projection = new Matrix4().multiplyMatrices(camera.projectionMatrix, camera.matrixWorldInverse);
    const x = (event.offsetX / this.widthPx) * 2 - 1;
    const y = 1 - (event.offsetY / this.heightPx) * 2;
    const within = event.pointerType === "touch" ? 22 : 9;
    const entry = this.track.entryAt(x, y, projection, this.widthPx, this.heightPx, within);
    this.onPoint(entry, event.offsetX, event.offsetY);
  }

  private clear(): void {
    this.root.clear();
    this.relief?.dispose();
    this.track?.dispose();
    this.solids?.dispose();
    this.relief = this.track = this.solids = null;
  }
}

/** Whether pictures are made without a graphics card; smoothing costs three times the time there. */
function isSoftware(): boolean {
  const gl = document.createElement("canvas").getContext("webgl2");
  const info = gl?.getExtension("WEBGL_debug_renderer_info");
  const name = info ? String(gl?.getParameter(info.UNMASKED_RENDERER_WEBGL)) : "";
  gl?.getExtension("WEBGL_lose_context")?.loseContext();
  return /swiftshader|llvmpipe|software|basic render/i.test(name);
}
