// The eye: an orthographic camera turned about a place of the piece, by pointers, wheel and keys. Left drag or one
// finger turns, right or middle drag or two fingers move, wheel or pinch brings nearer. Scene axes: Z up, mm.

import { OrthographicCamera, Vector3 } from "three";

export const VIEWS = ["slant", "above", "side", "end"] as const;
export type View = (typeof VIEWS)[number];

/** Azimuth and elevation, radians. */
const DIRECTIONS: Readonly<Record<View, readonly [number, number]>> = {
  slant: [-0.95, 0.62],
  above: [-Math.PI / 2, Math.PI / 2],
  side: [-Math.PI / 2, 0.03],
  end: [0, 0.03],
};

const ELEVATION_MIN = 0.03;
const TURN_RAD_PER_PX = 0.006;

export class Eye {
  readonly camera = new OrthographicCamera();
  /** Called when the picture must be drawn anew. */
  onChange: () => void = () => {};
  private readonly target = new Vector3();
  private azimuth: number = DIRECTIONS.slant[0];
  private elevation: number = DIRECTIONS.slant[1];
  /** Millimetres of the scene for one pixel. */
  mmPerPx = 1;
  private widthPx = 1;
  private heightPx = 1;
  /** Half of what is looked at, along X, Y and Z. */
  private half = new Vector3(1, 1, 1);
  private readonly element: HTMLElement;
  private readonly pointers = new Map<number, { x: number; y: number; pans: boolean }>();

  constructor(element: HTMLElement) {
    this.element = element;
    element.addEventListener("pointerdown", this.down);
    element.addEventListener("pointermove", this.move);
    for (const end of ["pointerup", "pointercancel", "lostpointercapture"] as const)
      element.addEventListener(end, this.up);
    element.addEventListener("wheel", this.wheel, { passive: false });
    element.addEventListener("contextmenu", (event) => event.preventDefault());
    element.addEventListener("keydown", this.key);
  }

  get isDragging(): boolean {
    return this.pointers.size > 0;
  }

  resize(widthPx: number, heightPx: number): void {
    this.widthPx = widthPx;
    this.heightPx = heightPx;
    this.update();
  }

  /** Looks at a box whose middle is the scene's origin. */
  lookAt(halfX: number, halfY: number, halfZ: number): void {
    this.half.set(halfX, halfY, halfZ);
  }

  show(view: View): void {
    [this.azimuth, this.elevation] = DIRECTIONS[view];
    this.fit();
  }

  /** Moves the eye so that all is seen. */
  fit(): void {
    this.target.set(0, 0, 0);
    this.update();
    const { half, camera } = this;
    let [x, y] = [0, 0];
    for (const corner of [0, 1, 2, 3, 4, 5, 6, 7]) {
      const at = new Vector3(
        corner & 1 ? half.x : -half.x,
        corner & 2 ? half.y : -half.y,
        corner & 4 ? half.z : -half.z,
      );
      at.applyMatrix4(camera.matrixWorldInverse);
      x = Math.max(x, Math.abs(at.x));
      y = Math.max(y, Math.abs(at.y));
    }
    this.mmPerPx = 1.12 * Math.max((2 * x) / this.widthPx, (2 * y) / this.heightPx, 1e-3);
    this.update();
  }

  private update(): void {
    const { camera, target } = this;
    const reach = 4 * (this.half.length() + target.length()) + 1000;
    const flat = Math.cos(this.elevation);
    camera.up.set(
      -Math.sin(this.elevation) * Math.cos(this.azimuth),
      -Math.sin(this.elevation) * Math.sin(this.azimuth),
      flat,
    );
    camera.position.set(
      target.x + reach * flat * Math.cos(this.azimuth),
      target.y + reach * flat * Math.sin(this.azimuth),
      target.z + reach * Math.sin(this.elevation),
    );
    camera.lookAt(target);
    const [w, h] = [(this.widthPx * this.mmPerPx) / 2, (this.heightPx * this.mmPerPx) / 2];
    Object.assign(camera, { left: -w, right: w, top: h, bottom: -h, near: 1, far: 2 * reach });
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
    this.onChange();
  }

  private turn(dxPx: number, dyPx: number): void {
    this.azimuth -= dxPx * TURN_RAD_PER_PX;
    this.elevation = clamp(this.elevation + dyPx * TURN_RAD_PER_PX, ELEVATION_MIN, Math.PI / 2);
  }

  private pan(dxPx: number, dyPx: number): void {
    const right = new Vector3().setFromMatrixColumn(this.camera.matrixWorld, 0);
    const up = new Vector3().setFromMatrixColumn(this.camera.matrixWorld, 1);
    this.target.addScaledVector(right, -dxPx * this.mmPerPx).addScaledVector(up, dyPx * this.mmPerPx);
  }

  /** Brings nearer by a factor, the place under (x, y) of the element staying where it is. */
  private zoom(factor: number, xPx: number, yPx: number): void {
    const to = clamp(this.mmPerPx / factor, 0.01, 20);
    const [dx, dy] = [xPx - this.widthPx / 2, yPx - this.heightPx / 2];
    const change = this.mmPerPx - to;
    const right = new Vector3().setFromMatrixColumn(this.camera.matrixWorld, 0);
    const up = new Vector3().setFromMatrixColumn(this.camera.matrixWorld, 1);
    this.target.addScaledVector(right, dx * change).addScaledVector(up, -dy * change);
    this.mmPerPx = to;
  }

  private readonly down = (event: PointerEvent) => {
    if ((event.target as HTMLElement).closest("button, select, label, input") !== null) return;
    this.element.setPointerCapture(event.pointerId);
    const pans = event.button !== 0 || event.shiftKey;
    this.pointers.set(event.pointerId, { x: event.offsetX, y: event.offsetY, pans });
  };

  private readonly move = (event: PointerEvent) => {
    const pointer = this.pointers.get(event.pointerId);
    if (pointer === undefined) return;
    const [dx, dy] = [event.offsetX - pointer.x, event.offsetY - pointer.y];
    if (dx === 0 && dy === 0) return;
    const other = [...this.pointers].find(([id]) => id !== event.pointerId)?.[1];
    if (other !== undefined) {
      const before = distance(pointer, other);
      const after = distance({ x: event.offsetX, y: event.offsetY }, other);
      this.pan(dx / 2, dy / 2);
      if (before > 0) this.zoom(after / before, (event.offsetX + other.x) / 2, (event.offsetY + other.y) / 2);
    } else if (pointer.pans) this.pan(dx, dy);
    else this.turn(dx, dy);
    pointer.x = event.offsetX;
    pointer.y = event.offsetY;
    this.update();
  };

  private readonly up = (event: PointerEvent) => {
    if (this.pointers.delete(event.pointerId)) this.onChange();
  };

  private readonly wheel = (event: WheelEvent) => {
    event.preventDefault();
    const lines = event.deltaMode === WheelEvent.DOM_DELTA_LINE ? 16 : 1;
    this.zoom(Math.exp(-event.deltaY * lines * 0.0015), event.offsetX, event.offsetY);
    this.update();
  };

  private readonly key = (event: KeyboardEvent) => {
    const step = 24;
    const arrows: Readonly<Record<string, readonly [number, number]>> = {
      ArrowLeft: [-step, 0],
      ArrowRight: [step, 0],
      ArrowUp: [0, -step],
      ArrowDown: [0, step],
    };
    const arrow = arrows[event.key];
    if (arrow !== undefined) {
      if (event.shiftKey) this.pan(-arrow[0], -arrow[1]);
      else this.turn(arrow[0], -arrow[1]);
    } else if (event.key === "+" || event.key === "=") this.zoom(1.25, this.widthPx / 2, this.heightPx / 2);
    else if (event.key === "-") this.zoom(0.8, this.widthPx / 2, this.heightPx / 2);
    else if (event.key === "Home") {
      this.show("slant");
      event.preventDefault();
      return;
    } else return;
    event.preventDefault();
    this.update();
  };
}

function distance(a: { x: number; y: number }, b: { x: number; y: number }): number {
  return Math.sqrt((a.x - b.x) ** 2 + (a.y - b.y) ** 2);
}

function clamp(value: number, least: number, most: number): number {
  return Math.max(least, Math.min(most, value));
}
