// A carving in space: the workpiece as columns that sink, the cutter in its holder, and the moves coloured by engagement.
import {
  BufferAttribute, BufferGeometry, Color, Group, LatheGeometry, LineBasicMaterial, LineSegments, Mesh, MeshLambertMaterial, type Object3D, type ShaderMaterial, Vector2, Vector3,
} from "three";
import { type Carving, BY_HAND, FEED, Standing, materialAt, momentAt, shade, tipAt } from "../model/carving";
import { outlineOf } from "../model/cutter";
import type { CutterDoc } from "../wire/wire";
import { type Shared, wood } from "./materials";

/** So many of the last moves are drawn: more would hide the work. */
const LAST = 2500;
/** Moves lie so far above the path of the tip, mm, so that they are seen on the floor they have cut. */
const ABOVE = 0.15;
/** A column lower than this is gone, mm. */
const GONE = 0.01;

export class CarvingScene {
  readonly objects: Object3D[];
  readonly least: Vector3;
  readonly most: Vector3;
  private readonly standing: Standing;
  private readonly skin: Skin;
  private readonly moves: LineSegments<BufferGeometry, LineBasicMaterial>;
  private readonly cutters = new Map<number, Group>();

  constructor(readonly of: Carving, cutters: readonly CutterDoc[], shared: Shared) {
    this.standing = new Standing(of);
    this.skin = new Skin(of, shared);
    this.moves = moves(of);
    for (const part of of.head.parts) {
      const cutter = cutters.find((one) => one.number === part.cutter);
      if (cutter && !this.cutters.has(part.cutter)) this.cutters.set(part.cutter, turned(cutter));
    }
    this.objects = [this.skin.mesh, this.moves, ...this.cutters.values()];
    const { columns, origin, pitch_mm: pitch } = of.head;
    const high = of.top.reduce((most, z) => Math.max(most, z), -Infinity);
    this.least = new Vector3(origin[0]!, origin[1]!, of.head.low_mm);
    // Room for the cutter and the end of its holder above the work.
    const above = Math.max(0, ...cutters.filter((one) => this.cutters.has(one.number)).map((one) => one.stickout));
    this.most = new Vector3(origin[0]! + pitch * columns[0]!, origin[1]! + pitch * columns[1]!, high + above);
    this.go(0);
  }

  /** Shows the carving at a time, s. */
  go(seconds: number): void {
    const k = momentAt(this.of, seconds);
    const [begins, ends] = [k > 0 ? this.of.ends[k - 1]! : 0, this.of.ends[k]!];
    // A move has cut once half of it is done: it is at most some millimetres long.
    const done = ends > begins && seconds - begins < (ends - begins) / 2 ? k : k + 1;
    this.skin.show(this.standing.tops, this.standing.go(done));
    const first = Math.max(0, k + 1 - LAST);
    this.moves.geometry.setDrawRange(2 * first, 2 * (k + 1 - first));
    const tip = tipAt(this.of, seconds);
    const now = this.of.head.parts[this.of.part[k]!]!.cutter;
    for (const [number, cutter] of this.cutters) {
      cutter.visible = number === now;
      cutter.position.set(...tip);
    }
  }

  end(): void {
    const own = (object: Object3D) => {
      if (!(object instanceof Mesh || object instanceof LineSegments)) return;
      object.geometry.dispose();
      (object.material as { dispose: () => void }).dispose();
    };
    for (const object of this.objects) object.traverse(own);
  }
}

/** The skin of the columns: tops as one smooth sheet, walls where the sheet ends. */
class Skin {
  readonly mesh: Mesh<BufferGeometry, ShaderMaterial>;
  private readonly there: Uint8Array;
  private readonly place: BufferAttribute;
  private readonly normal: BufferAttribute;
  private readonly own: BufferAttribute;
  private readonly index: BufferAttribute;
  private readonly nx: number;
  private readonly ny: number;
  private readonly looks: number[][];

  constructor(private readonly of: Carving, shared: Shared) {
    [this.nx, this.ny] = [of.head.columns[0]!, of.head.columns[1]!];
    const n = this.nx * this.ny;
    this.there = new Uint8Array(n);
    // Each column has a corner on the sheet, one at the top of a wall and one at its bottom.
    this.place = new BufferAttribute(new Float32Array(9 * n), 3);
    this.normal = new BufferAttribute(new Int8Array(9 * n), 3, true);
    this.own = new BufferAttribute(new Uint8Array(12 * n), 4, true);
    this.index = new BufferAttribute(new Uint32Array(6 * n + 24 * n), 1);
    const { origin, pitch_mm: pitch } = of.head;
    for (let k = 0; k < n; k++) {
      for (let j = 0; j < 3; j++) this.place.setXYZ(k + j * n, origin[0]! + pitch * (k % this.nx), origin[1]! + pitch * Math.floor(k / this.nx), of.low[k]!);
    }
    this.looks = of.head.materials.map(({ is, colour }) => {
      const c = new Color().setRGB(colour[0]! / 255, colour[1]! / 255, colour[2]! / 255, "srgb");
      return [255 * c.r, 255 * c.g, 255 * c.b, is === "wood" ? 0 : 255];
    });
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", this.place);
    geometry.setAttribute("normal", this.normal);
    geometry.setAttribute("shade", this.own);
    geometry.setIndex(this.index);
    const look = of.head.materials[0]!.colour;
    this.mesh = new Mesh(geometry, wood(shared, look, of.head.boards as [number[], number[]][], true));
    this.mesh.frustumCulled = false;
    this.show(of.top, null);
  }

  /** Shows these tops; `changed` are the columns that differ from what was shown last, `null` for all. */
  show(tops: Float32Array, changed: ReadonlySet<number> | null): void {
    if (changed?.size === 0) return;
    const n = this.nx * this.ny;
    let parted = changed === null;
    const put = (k: number) => {
      const top = tops[k]!;
      const there = top > this.of.low[k]! + GONE ? 1 : 0;
      if (this.there[k] !== there) {
        this.there[k] = there;
        parted = true;
      }
      this.place.setZ(k, top);
      this.place.setZ(k + n, top);
      const look = this.looks[materialAt(this.of, k, top)]!;
      for (let j = 0; j < 3; j++) this.own.array.set(look, 4 * (k + j * n));
    };
    if (changed) {
      for (const k of changed) put(k);
      for (const k of changed) for (const near of [k, k - 1, k + 1, k - this.nx, k + this.nx]) if (near >= 0 && near < n) this.lean(near, tops);
    } else {
      for (let k = 0; k < n; k++) put(k);
      for (let k = 0; k < n; k++) this.lean(k, tops);
    }
    if (parted) this.sew();
    this.place.needsUpdate = this.normal.needsUpdate = this.own.needsUpdate = true;
  }

  /** The normal of the sheet at a column, from its neighbours that are there. */
  private lean(k: number, tops: Float32Array): void {
    const [x, y] = [k % this.nx, Math.floor(k / this.nx)];
    const rise = (before: boolean, beyond: boolean, by: number) => {
      const [a, b] = [before && this.there[k - by] ? k - by : k, beyond && this.there[k + by] ? k + by : k];
      return a === b ? 0 : (tops[b]! - tops[a]!) / (((b - a) / by) * this.of.head.pitch_mm);
    };
    const [dx, dy] = [rise(x > 0, x + 1 < this.nx, 1), rise(y > 0, y + 1 < this.ny, this.nx)];
    const long = Math.hypot(dx, dy, 1);
    this.normal.array.set([(-127 * dx) / long, (-127 * dy) / long, 127 / long].map(Math.round), 3 * k);
  }

  /** Triangles of the sheet wherever four columns stand together, walls around it. */
  private sew(): void {
    const { nx, ny, there } = this;
    const n = nx * ny;
    const index = this.index.array as Uint32Array;
    let at = 0;
    const whole = (x: number, y: number) => {
      if (x < 0 || y < 0 || x + 1 >= nx || y + 1 >= ny) return false;
      const k = y * nx + x;
      return there[k]! + there[k + 1]! + there[k + nx]! + there[k + nx + 1]! === 4;
    };
    const wall = (a: number, b: number) => {
      for (const corner of [a + n, a + 2 * n, b + n, b + n, a + 2 * n, b + 2 * n]) index[at++] = corner;
    };
    for (let y = 0; y < ny; y++) {
      for (let x = 0; x < nx; x++) {
        const k = y * nx + x;
        const here = whole(x, y);
        if (here) for (const corner of [k, k + 1, k + nx, k + nx, k + 1, k + nx + 1]) index[at++] = corner;
        if (x + 1 < nx && here !== whole(x, y - 1)) wall(k, k + 1);
        if (y + 1 < ny && here !== whole(x - 1, y)) wall(k, k + nx);
      }
    }
    this.index.needsUpdate = true;
    this.mesh.geometry.setDrawRange(0, at);
  }
}

/** The moves as lines: each in the colour of its engagement, those in the air pale. */
function moves(of: Carving): LineSegments<BufferGeometry, LineBasicMaterial> {
  const n = of.head.moments;
  const place = new Float32Array(6 * n);
  const colours = new Uint8Array(6 * n);
  const colour = new Color();
  const scale = Array.from({ length: 256 }, (_, k) => {
    const [r, g, b] = shade(of.head.scale, k / 255);
    colour.setRGB(r / 255, g / 255, b / 255, "srgb");
    return [255 * colour.r, 255 * colour.g, 255 * colour.b];
  });
  const air = [150, 150, 150];
  for (let k = 0; k < n; k++) {
    const from = k > 0 && of.does[k] !== BY_HAND ? k - 1 : k;
    for (let j = 0; j < 3; j++) {
      const up = j === 2 ? ABOVE : 0;
      place[6 * k + j] = of.points[3 * from + j]! + up;
      place[6 * k + 3 + j] = of.points[3 * k + j]! + up;
    }
    const look = of.does[k] === FEED && of.engaged[k]! > 0 ? scale[of.engaged[k]!]! : air;
    colours.set(look, 6 * k);
    colours.set(look, 6 * k + 3);
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(place, 3));
  geometry.setAttribute("color", new BufferAttribute(colours, 3, true));
  const lines = new LineSegments(geometry, new LineBasicMaterial({ vertexColors: true }));
  lines.frustumCulled = false;
  return lines;
}

/** A cutter as it turns, its tip at the origin, with the holder seen through. */
function turned(cutter: CutterDoc): Group {
  const outline = outlineOf(cutter);
  const group = new Group();
  const put = (line: [number, number][], color: number, opacity: number) => {
    if (line.length < 2) return;
    const geometry = new LatheGeometry(line.map(([r, z]) => new Vector2(r, z)), 40);
    geometry.rotateX(Math.PI / 2);
    const material = new MeshLambertMaterial({ color, transparent: opacity < 1, opacity, depthWrite: opacity === 1, side: 2 });
    group.add(new Mesh(geometry, material));
  };
  put(outline.edges, 0xc9ccd2, 1);
  put(outline.shank, 0x8b9098, 1);
  put(outline.holder, 0x4a4f57, 0.35);
  return group;
}
