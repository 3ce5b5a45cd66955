// The picture in space: draws solids, lets them be turned, and draws nothing while nothing moves.
import {
  BufferAttribute, BufferGeometry, DirectionalLight, HemisphereLight, Mesh, MeshBasicMaterial, PerspectiveCamera, PlaneGeometry, Scene, type ShaderMaterial, SphereGeometry,
  Vector2, Vector3, WebGLRenderer,
} from "three";
import type { Carving } from "../model/carving";
import type { Painting } from "../model/painted";
import type { Solid } from "../model/preview";
import type { CutterDoc } from "../wire/wire";
import { CarvingScene } from "./carve";
import { nextDetail } from "./detail";
import { lay, resin, shadow, shared, wood } from "./materials";
import { AT_FIRST, type Eye, orbit } from "./orbit";

/** After this long without a move the picture is at rest, ms. */
const REST = 160;
const FIELD_OF_VIEW = 28;
/** How long it takes to fly to a place, ms. */
const FLIGHT = 600;
/** A changed piece this many times larger or smaller still fits the view. */
const FITS = 1.3;
/** Mark of the moment the first picture was drawn, for whoever measures. */
const FIRST = "first picture";

export type Boards = readonly [number[], number[]][];

/** A picture in space within an element. `null` where the browser draws none. */
export function stage(within: HTMLElement): Stage | null {
  try {
    return new Stage(within);
  } catch {
    return null;
  }
}

export class Stage {
  private readonly renderer: WebGLRenderer;
  private readonly scene = new Scene();
  private readonly camera = new PerspectiveCamera(FIELD_OF_VIEW, 1, 1, 10_000);
  private readonly shared = shared();
  private readonly reach = { value: new Vector2(100, 100) };
  private readonly dark = { value: 0.34 };
  private readonly ground: Mesh<PlaneGeometry, ShaderMaterial>;
  private readonly spot = new Mesh(new SphereGeometry(1, 20, 12), new MeshBasicMaterial({ color: 0xd03a1e, depthTest: false, transparent: true }));
  private parts: Mesh<BufferGeometry, ShaderMaterial>[] = [];
  private carving: CarvingScene | null = null;
  private eye: Eye = AT_FIRST;
  private middle = new Vector3(0, 0, 25);
  private size = 200;
  private detail = 1;
  private moving = false;
  private drawn = 0;
  private asked = 0;
  private rest: ReturnType<typeof setTimeout> | undefined;
  private readonly ends: (() => void)[] = [];
  /** Counts flights: a newer one, or a hand, ends the one before. */
  private flight = 0;
  private readonly followers = new Set<() => void>();

  constructor(within: HTMLElement) {
    this.renderer = new WebGLRenderer({ antialias: true, alpha: true, powerPreference: "high-performance" });
    const canvas = this.renderer.domElement;
    canvas.setAttribute("aria-hidden", "true");
    within.append(canvas);
    this.camera.up.set(0, 0, 1);
    this.ground = new Mesh(new PlaneGeometry(1, 1), shadow(this.reach, this.dark));
    this.ground.geometry.setAttribute("shade", new BufferAttribute(new Float32Array(12), 3));
    this.ground.renderOrder = -1;
    this.spot.renderOrder = 1;
    this.spot.visible = false;
    const daylight = new DirectionalLight(0xfff4e4, 1.6);
    daylight.position.set(-0.45, -0.62, 0.85);
    this.scene.add(this.ground, this.spot, new HemisphereLight(0xdfe8f2, 0x6b5f50, 1.4), daylight);
    const resized = new ResizeObserver(() => this.resize());
    resized.observe(within);
    this.ends.push(orbit(within, () => this.eye, (eye) => {
      this.flight += 1;
      this.look(eye);
    }), () => resized.disconnect(), () => canvas.remove());
    this.resize();
  }

  /** Shows these solids in the place of what was shown. Where they are the same piece, changed, the eye stays as long as they fit. */
  show(solids: readonly Solid[], boards: Boards, same = false): void {
    this.clear();
    this.parts = solids.map((solid) => new Mesh(geometry(solid), this.lookOf(solid, boards)));
    for (const part of this.parts) this.scene.add(part);
    this.frame(solids, same);
    this.draw();
  }

  /** Shows a carving in the place of what was shown; the caller moves it and asks for drawings. */
  carve(of: Carving, cutters: readonly CutterDoc[]): CarvingScene {
    this.clear();
    const carving = new CarvingScene(of, cutters, this.shared);
    this.carving = carving;
    this.scene.add(...carving.objects);
    this.fit(carving.least, carving.most, false);
    this.shared.hollow.value = 0.06;
    this.draw();
    return carving;
  }

  /** Draws again because what is shown has moved; as fast as it can be. */
  again(): void {
    this.look(this.eye);
  }

  /** A mark at a place of the piece, or none. */
  mark(at: readonly number[] | null): void {
    this.spot.visible = at !== null;
    if (at) this.spot.position.set(at[0]!, at[1]!, at[2]!);
    this.spot.scale.setScalar(this.size / 75);
    this.draw();
  }

  /** Paints a map on what is shown, or none. */
  paint(painting: Painting | null): void {
    lay(this.shared, painting);
    this.draw();
  }

  /** Goes to where a place is seen well: from its own side, from above for what lies on top and from below for what lies under. */
  fly(at: readonly number[]): void {
    const [x, y, z] = [at[0]! - this.middle.x, at[1]! - this.middle.y, at[2]! - this.middle.z];
    const flat = Math.hypot(x, y) < this.size / 20;
    const from = this.eye;
    const around = flat ? from.turn : Math.atan2(x, -y);
    // The short way round.
    const turn = from.turn + ((((around - from.turn) % (2 * Math.PI)) + 3 * Math.PI) % (2 * Math.PI)) - Math.PI;
    const to: Eye = { turn, rise: z < -this.size / 8 && !flat ? 0.25 : 0.75, away: 2 };
    const began = performance.now();
    const lasts = matchMedia("(prefers-reduced-motion: reduce)").matches ? 0 : FLIGHT;
    const flight = ++this.flight;
    const on = (now: number) => {
      if (flight !== this.flight) return;
      const part = lasts === 0 ? 1 : Math.min(1, Math.max(0, (now - began) / lasts));
      const eased = part * part * (3 - 2 * part);
      const between = (a: number, b: number) => a + (b - a) * eased;
      this.look({ turn: between(from.turn, to.turn), rise: between(from.rise, to.rise), away: between(from.away, to.away) });
      if (part < 1) requestAnimationFrame(on);
    };
    requestAnimationFrame(on);
  }

  /** Where a place of the piece is seen, in pixels of the element; `null` behind the eye. */
  seen(at: readonly number[]): [number, number] | null {
    const parent = this.renderer.domElement.parentElement;
    if (!parent || this.parts.length === 0) return null;
    const point = new Vector3(at[0]!, at[1]!, at[2]!).project(this.camera);
    if (point.z > 1) return null;
    return [((point.x + 1) / 2) * parent.clientWidth, ((1 - point.y) / 2) * parent.clientHeight];
  }

  /** Width of the picture, pixels. */
  width(): number {
    return this.renderer.domElement.clientWidth;
  }

  /** Calls after every drawing, until what it returns is called. */
  follow(drawn: () => void): () => void {
    this.followers.add(drawn);
    drawn();
    return () => this.followers.delete(drawn);
  }

  /** Darker shadows for light rooms, softer ones for dark rooms. */
  night(dark: boolean): void {
    this.dark.value = dark ? 0.6 : 0.34;
    this.draw();
  }

  /** Back to where the eye was first. */
  reset(): void {
    this.look(AT_FIRST);
  }

  /** Draws both in one scale, so that sizes can be compared. */
  alike(other: Stage): void {
    this.size = other.size = Math.max(this.size, other.size);
    this.draw();
    other.draw();
  }

  /** Looks from where another picture is looked at. */
  turn(eye: Eye): void {
    if (eye !== this.eye) this.look(eye);
  }

  /** Where the eye is. */
  now(): Eye {
    return this.eye;
  }

  /** Ends it and gives back what it held. */
  end(): void {
    clearTimeout(this.rest);
    cancelAnimationFrame(this.asked);
    this.show([], []);
    this.ground.geometry.dispose();
    this.ground.material.dispose();
    this.spot.geometry.dispose();
    this.spot.material.dispose();
    for (const end of this.ends) end();
    this.renderer.dispose();
    this.renderer.forceContextLoss();
  }

  private lookOf(solid: Solid, boards: Boards): ShaderMaterial {
    const { is, colour, translucent } = solid.head;
    return is === "resin" ? resin(this.shared, colour, translucent) : wood(this.shared, colour, boards, solid.colours !== undefined);
  }

  /** Puts the middle of the solids in the middle, the bench under them. */
  private frame(solids: readonly Solid[], same: boolean): void {
    const [least, most] = [new Vector3(Infinity, Infinity, Infinity), new Vector3(-Infinity, -Infinity, -Infinity)];
    for (const { corners } of solids) {
      for (let k = 0; k < corners.length; k += 3) {
        const at = new Vector3(corners[k]!, corners[k + 1]!, corners[k + 2]!);
        least.min(at);
        most.max(at);
      }
    }
    if (!Number.isFinite(least.x)) return;
    this.fit(least, most, same);
    // A workpiece on its carrier is no hollow: its low parts lie open.
    this.shared.hollow.value = solids.some((solid) => solid.colours) ? 0.06 : 0.3;
  }

  private clear(): void {
    for (const part of this.parts) {
      this.scene.remove(part);
      part.geometry.dispose();
      part.material.dispose();
    }
    this.parts = [];
    if (!this.carving) return;
    this.scene.remove(...this.carving.objects);
    this.carving.end();
    this.carving = null;
  }

  private fit(least: Vector3, most: Vector3, same: boolean): void {
    const size = most.clone().sub(least);
    const now = Math.max(size.x, size.y, size.z);
    if (!same || now > this.size * FITS || now * FITS < this.size) {
      this.middle = least.clone().add(most).multiplyScalar(0.5);
      this.size = now;
    }
    this.shared.rim.value = most.z;
    this.reach.value.set(size.x * 0.62, size.y * 0.62);
    this.ground.scale.set(1, 1, 1);
    const [x, y] = [size.x * 0.8, size.y * 0.8];
    const z = least.z - 0.3;
    this.ground.geometry.setAttribute("position", new BufferAttribute(new Float32Array([-x, y, z, x, y, z, -x, -y, z, x, -y, z]), 3));
  }

  private look(eye: Eye): void {
    this.eye = eye;
    this.moving = true;
    clearTimeout(this.rest);
    this.rest = setTimeout(() => {
      this.moving = false;
      this.drawn = 0;
      this.draw();
    }, REST);
    this.draw();
  }

  private resize(): void {
    const parent = this.renderer.domElement.parentElement;
    if (!parent || parent.clientWidth === 0 || parent.clientHeight === 0) return;
    this.camera.aspect = parent.clientWidth / parent.clientHeight;
    this.camera.updateProjectionMatrix();
    this.draw();
  }

  private draw(): void {
    cancelAnimationFrame(this.asked);
    this.asked = requestAnimationFrame((time) => {
      if (this.moving && this.drawn > 0) this.detail = nextDetail(this.detail, time - this.drawn);
      this.drawn = time;
      this.render();
    });
  }

  private render(): void {
    const parent = this.renderer.domElement.parentElement;
    if (!parent) return;
    const full = Math.min(window.devicePixelRatio, 2);
    this.shared.fine.value = this.moving && this.detail < 0.9 ? 0 : 1;
    this.renderer.setPixelRatio(this.moving ? full * this.detail : full);
    this.renderer.setSize(parent.clientWidth, parent.clientHeight, false);
    const { turn, rise, away } = this.eye;
    // The whole piece stays in view on narrow screens, too.
    const distance = this.size * away * Math.max(1, 1.25 / this.camera.aspect);
    const flat = Math.cos(rise);
    this.camera.position.set(Math.sin(turn) * flat, -Math.cos(turn) * flat, Math.sin(rise)).multiplyScalar(distance).add(this.middle);
    this.camera.near = distance / 50;
    this.camera.far = distance * 4;
    this.camera.updateProjectionMatrix();
    this.camera.lookAt(this.middle);
    this.shared.eye.value.copy(this.camera.position);
    this.renderer.render(this.scene, this.camera);
    for (const drawn of this.followers) drawn();
    if (this.parts.length > 0 && performance.getEntriesByName(FIRST).length === 0) performance.mark(FIRST);
  }
}

function geometry(solid: Solid): BufferGeometry {
  const made = new BufferGeometry();
  made.setAttribute("position", new BufferAttribute(solid.corners, 3));
  made.setAttribute("normal", new BufferAttribute(solid.normals, 3, true));
  // Corners without colours of their own get none: the shader does not look.
  const shade = solid.colours ?? new Uint8Array(solid.corners.length);
  made.setAttribute("shade", new BufferAttribute(shade, 3, true));
  made.setIndex(new BufferAttribute(solid.triangles, 1));
  return made;
}
