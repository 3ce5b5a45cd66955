// The outline of a cutter as it turns: radius over height above the tip, mm, from the tip up to the top of its holder.
import type { CutterDoc } from "../wire/wire";

export interface Outline {
  /** What cuts. */
  edges: [number, number][];
  /** Neck and shank. */
  shank: [number, number][];
  /** Nut and holder. */
  holder: [number, number][];
}

/** Chords of a quarter of a round tip. */
const CHORDS = 10;

/** The outline; a tapered ball's cone leaves its ball where both have one tangent. */
export function outlineOf(cutter: CutterDoc): Outline {
  const [radius, corner] = [cutter.diameter / 2, cutter.corner_radius];
  const slope = (cutter.half_angle * Math.PI) / 180;
  const edges: [number, number][] = [[0, 0]];
  const round = (inner: number, r: number, upTo: number) => {
    for (let k = 0; k <= CHORDS; k++) {
      const angle = (k / CHORDS) * upTo;
      edges.push([inner + r * Math.sin(angle), r * (1 - Math.cos(angle))]);
    }
  };
  if (cutter.shape === "ball" || cutter.shape === "bull") round(radius - corner, corner, Math.PI / 2);
  else if (cutter.shape === "tapered-ball") round(0, corner, Math.PI / 2 - slope);
  else edges.push([cutter.shape === "cone" ? cutter.tip_diameter / 2 : radius, 0]);
  if (slope > 0) {
    const [r, z] = edges.at(-1)!;
    if (r < radius) edges.push([radius, z + (radius - r) / Math.tan(slope)]);
  }
  const flutes = Math.max(cutter.flute_length, edges.at(-1)![1]);
  edges.push([radius, flutes]);
  const [neck, thick] = [cutter.neck_diameter / 2, cutter.shank_diameter / 2];
  const shank: [number, number][] = [[neck, flutes], [neck, Math.max(flutes, cutter.neck_length)], [thick, Math.max(flutes, cutter.neck_length)], [thick, cutter.stickout]];
  const holder: [number, number][] = [];
  let z = cutter.stickout;
  for (const part of cutter.holder) {
    holder.push([part.diameter / 2, z], [part.diameter / 2, z + part.length]);
    z += part.length;
  }
  if (holder.length > 0) holder.unshift([0, cutter.stickout]);
  if (holder.length > 0) holder.push([0, z]);
  return { edges, shank, holder };
}
