// Wood and resin in soft daylight. The figure of the wood is invented for looks, as in the pictures of the pack; it says
// nothing about the boards at hand.
import { Color, DataTexture, DoubleSide, GLSL3, ShaderMaterial, Vector3, Vector4 } from "three";
import type { Painting } from "../model/painted";

/** Most boards a blank may have in the picture. */
export const MOST_BOARDS = 24;

const VERTEX = /* glsl */ `
in vec4 shade;
out vec3 place;
out vec3 facing;
out vec4 own;
void main() {
  place = position;
  facing = normal;
  own = shade;
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;

/** Sun from the front left, sky above, a little light back from the bench. Linear light in, sRGB out. */
const LIGHT = /* glsl */ `
precision highp float;
in vec3 place;
in vec3 facing;
in vec4 own;
out vec4 seen;
uniform vec3 eye;
uniform vec3 colour;
uniform float rim;
uniform float hollow;
uniform float fine;
uniform float each;

const vec3 SUN = normalize(vec3(-0.45, -0.62, 0.85));

uniform sampler2D map;
uniform float mapped;
uniform vec4 map_x;
uniform vec4 map_y;
uniform vec4 map_at;
uniform float side;

// The figures of a check, laid on the skin that they are about.
vec3 painted(vec3 base, vec3 n) {
  // A figure in plan says nothing of upright walls, but for those that are its subject.
  if (mapped < 0.5 || (side != 0.0 && n.z * side < 0.05)) return base;
  vec2 at = (vec2(dot(map_x, vec4(place, 1.0)), dot(map_y, vec4(place, 1.0))) - map_at.xy) / map_at.zw;
  if (any(lessThan(at, vec2(0.0))) || any(greaterThan(at, vec2(1.0)))) return base;
  vec4 cell = texture(map, at);
  return mix(base, pow(cell.rgb, vec3(2.2)), cell.a);
}

// Corners without a normal of their own are those of flat walls.
vec3 across() {
  return dot(facing, facing) > 0.01 ? normalize(facing) : normalize(cross(dFdx(place), dFdy(place)));
}

// How much of the sky a point sees: less deep inside the hollow.
float open_sky(vec3 n) {
  float inward = smoothstep(-0.1, 0.25, -dot(normalize(n.xy + 1e-4), normalize(place.xy + 1e-4)) * length(n.xy) + n.z * 0.6);
  float depth = clamp(1.0 - place.z / max(rim, 1.0), 0.0, 1.0);
  return 1.0 - hollow * inward * depth;
}

vec3 lit(vec3 base, vec3 n, float shine, float sharp) {
  vec3 to_eye = normalize(eye - place);
  if (dot(n, to_eye) < 0.0) n = -n;
  float sky = 0.5 + 0.5 * n.z;
  float sun = max(dot(n, SUN), 0.0);
  float open = open_sky(n);
  vec3 light = vec3(0.50, 0.54, 0.60) * sky * open + vec3(0.17, 0.145, 0.12) * (1.0 - sky) + vec3(0.80, 0.76, 0.68) * sun * open;
  vec3 half_way = normalize(SUN + to_eye);
  float edge = pow(1.0 - max(dot(n, to_eye), 0.0), 4.0);
  float gleam = shine * (pow(max(dot(n, half_way), 0.0), sharp) * open + 0.35 * edge * sky);
  return base * light + vec3(gleam);
}

vec3 shown(vec3 linear) {
  vec3 c = clamp(linear, 0.0, 1.0);
  return mix(12.92 * c, 1.055 * pow(c, vec3(1.0 / 2.4)) - 0.055, step(0.0031308, c));
}`;

const WOOD = /* glsl */ `${LIGHT}
uniform vec3 least[${MOST_BOARDS}];
uniform vec3 most[${MOST_BOARDS}];
uniform int boards;

float hash(ivec3 p, uint seed) {
  uint h = (uint(p.x) * 0x8da6b343u) ^ (uint(p.y) * 0xd8163841u);
  h ^= (uint(p.z) * 0xcb1ab31fu) ^ (seed * 0x165667b1u);
  h = (h ^ (h >> 15)) * 0x2c1b3c6du;
  h = (h ^ (h >> 12)) * 0x297a2d39u;
  return float((h ^ (h >> 15)) >> 8) / 16777216.0;
}

float noise(vec3 at, uint seed) {
  vec3 base = floor(at);
  vec3 t = at - base;
  t = t * t * (3.0 - 2.0 * t);
  ivec3 p = ivec3(base);
  float a = mix(mix(hash(p, seed), hash(p + ivec3(1, 0, 0), seed), t.x), mix(hash(p + ivec3(0, 1, 0), seed), hash(p + ivec3(1, 1, 0), seed), t.x), t.y);
  float b = mix(mix(hash(p + ivec3(0, 0, 1), seed), hash(p + ivec3(1, 0, 1), seed), t.x), mix(hash(p + ivec3(0, 1, 1), seed), hash(p + ivec3(1, 1, 1), seed), t.x), t.y);
  return mix(a, b, t.z);
}

float pick(int k, uint seed) { return hash(ivec3(k, 0, 0), seed); }

vec3 wood(vec3 base, uint board, vec3 at) {
  uint seed = 7u + 31u * board;
  float side = pick(1, seed) < 0.5 ? -1.0 : 1.0;
  vec3 heart = vec3(0.0, (pick(2, seed) - 0.5) * 60.0, side * (35.0 + 45.0 * pick(3, seed)));
  vec3 slow = vec3(at.x * 0.008, at.y * 0.02, at.z * 0.02);
  float sway = noise(slow, seed) - 0.5;
  vec3 away = at - heart + vec3(0.0, sway, -sway) * 14.0;
  float radius = length(away.yz);
  if (fine > 0.5) radius += (noise(at * vec3(0.02, 0.09, 0.09), seed + 2u) - 0.5) * 2.0;
  float ring = radius / (2.6 + 2.2 * pick(4, seed));
  float year = floor(ring);
  float t = ring - year;
  float late = t < 0.86 ? pow(t / 0.86, 3.0) : 1.0 - (t - 0.86) / 0.14;
  float strength = 0.55 + 0.9 * hash(ivec3(int(year), 1, 0), seed);
  float light = 1.08 - 0.30 * late * strength;
  if (fine > 0.5) {
    light += 0.16 * (noise(at * vec3(0.05, 1.7, 1.7), seed + 3u) - 0.5);
    light += 0.10 * (noise(at * vec3(0.16, 4.0, 4.0), seed + 4u) - 0.5);
    light -= max(noise(at * vec3(0.11, 2.4, 2.4), seed + 5u) - 0.80, 0.0) * 2.4;
    light += 0.20 * (noise(at * vec3(0.006, 0.05, 0.05), seed + 6u) - 0.5);
  }
  light *= 0.80 + 0.26 * pick(5, seed);
  vec3 warm = vec3(1.0, 1.0 - 0.035 * (pick(6, seed) - 0.5) - 0.05 * late, 1.0 - 0.10 * (pick(6, seed) - 0.5) - 0.09 * late);
  return base * warm * max(light, 0.15);
}

void main() {
  vec3 n = across();
  // A hair under the skin, so that a skin along a glue line belongs to one board.
  vec3 at = place - n * 0.05;
  int board = 0;
  for (int k = 0; k < ${MOST_BOARDS}; k++) {
    if (k >= boards) break;
    if (all(greaterThanEqual(at, least[k])) && all(lessThanEqual(at, most[k]))) board = k;
  }
  // The fourth part of a corner's own colour says how much of it is to be seen, above the figure of the wood.
  float told = each > 0.5 ? own.a : 0.0;
  vec3 base = painted(told > 0.99 ? own.rgb : mix(wood(colour, uint(board), at), own.rgb, told), n);
  seen = vec4(shown(lit(base, n, 0.10, 26.0)), 1.0);
}`;

const RESIN = /* glsl */ `${LIGHT}
uniform float clear;
void main() {
  vec3 n = across();
  vec3 to_eye = normalize(eye - place);
  float level = abs(dot(n, to_eye));
  // Light that went in comes out again where the way through is short: at grazing angles and towards the sun.
  float through = clear * (0.30 + 0.5 * (1.0 - level) + 0.35 * max(dot(-to_eye, SUN), 0.0));
  vec3 base = painted(mix(colour, sqrt(colour), through), n);
  seen = vec4(shown(lit(base, n, 0.42, 90.0) + colour * through * 0.25), 1.0 - 0.22 * clear * level);
}`;

const SHADOW = /* glsl */ `
precision highp float;
in vec3 place;
in vec3 facing;
in vec4 own;
out vec4 seen;
uniform vec2 reach;
uniform float dark;
void main() {
  float r = length((place.xy - reach * vec2(0.06, 0.05)) / reach);
  seen = vec4(0.10, 0.075, 0.05, dark * smoothstep(1.12, 0.45, r));
}`;

const linear = (colour: readonly number[]) => new Color().setRGB(colour[0]! / 255, colour[1]! / 255, colour[2]! / 255, "srgb");

function material(fragmentShader: string, uniforms: Record<string, { value: unknown }>): ShaderMaterial {
  return new ShaderMaterial({ glslVersion: GLSL3, vertexShader: VERTEX, fragmentShader, uniforms, side: DoubleSide });
}

/** What all materials of one picture share. */
export interface Shared {
  eye: { value: Vector3 };
  rim: { value: number };
  fine: { value: number };
  /** How much darker the bottom of a hollow is. */
  hollow: { value: number };
  /** The map that is painted on what is shown, if one is. */
  map: { value: DataTexture };
  mapped: { value: number };
  /** The way from a place to the map, and the corner and size of that. */
  map_x: { value: Vector4 };
  map_y: { value: Vector4 };
  map_at: { value: Vector4 };
  /** Which way the skin looks that is painted; 0 either. */
  side: { value: number };
}

export const shared = (): Shared => ({
  eye: { value: new Vector3() }, rim: { value: 50 }, fine: { value: 1 }, hollow: { value: 0.3 }, map: { value: new DataTexture(new Uint8Array(4), 1, 1) }, mapped: { value: 0 },
  map_x: { value: new Vector4() }, map_y: { value: new Vector4() }, map_at: { value: new Vector4(0, 0, 1, 1) }, side: { value: 0 },
});

/** Lays a map on everything that is shown, or takes it away. */
export function lay(on: Shared, painting: Painting | null): void {
  on.mapped.value = painting ? 1 : 0;
  if (!painting) return;
  const { first, pitch, to_map: way, side } = painting.view;
  on.map.value.dispose();
  on.map.value = new DataTexture(painting.cells, painting.across, painting.up);
  on.map.value.needsUpdate = true;
  on.map_x.value.fromArray(way, 0);
  on.map_y.value.fromArray(way, 4);
  on.map_at.value.set(first[0]! - pitch / 2, first[1]! - pitch / 2, pitch * painting.across, pitch * painting.up);
  on.side.value = side;
}

/** Wood of this colour, glued from these boards; `each` takes the corners' own colours. */
export function wood(of: Shared, colour: readonly number[], boards: readonly [number[], number[]][], each: boolean): ShaderMaterial {
  const corner = (k: number, which: 0 | 1) => new Vector3(...((boards[k]?.[which] ?? [0, 0, 0]) as [number, number, number]));
  const all = Array.from({ length: MOST_BOARDS }, (_, k) => k);
  return material(WOOD, {
    ...of, colour: { value: linear(colour) }, each: { value: each ? 1 : 0 }, boards: { value: Math.min(boards.length, MOST_BOARDS) },
    least: { value: all.map((k) => corner(k, 0)) }, most: { value: all.map((k) => corner(k, 1)) },
  });
}

/** Resin of this colour. */
export function resin(of: Shared, colour: readonly number[], translucent: boolean): ShaderMaterial {
  const made = material(RESIN, { ...of, colour: { value: linear(colour) }, clear: { value: translucent ? 1 : 0 }, each: { value: 0 } });
  made.transparent = translucent;
  return made;
}

/** The soft shadow on the bench, as far as the piece reaches. */
export function shadow(reach: { value: unknown }, dark: { value: number }): ShaderMaterial {
  const made = material(SHADOW, { reach, dark });
  made.transparent = true;
  made.depthWrite = false;
  return made;
}
