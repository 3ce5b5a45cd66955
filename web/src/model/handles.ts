// Sizes that can be taken hold of in the picture: where each handle sits on the piece, and which way it is pulled.
import type { JobView } from "../wire/wire";
import type { Field } from "./fields";

type Point = readonly [number, number, number];

export interface Handle {
  path: string;
  label: string;
  /** Where it sits, mm. */
  at: Point;
  /** The way to pull for more. */
  along: Point;
  /** How much the size grows for each mm pulled: 2 where both sides move. */
  each: number;
  least: number;
  most: number;
}

/** The handles of a job whose piece has this length, width and height. */
export function handlesOf(job: JobView, size: readonly number[], limits: readonly Field[]): Handle[] {
  const [long, wide, high] = size as [number, number, number];
  const handles: Handle[] = [];
  const put = (path: string, label: string, at: Point, along: Point, each: number) => {
    const limit = limits.find((field) => field.path === path);
    if (job.values[path]?.mm == null || limit?.is !== "length") return;
    handles.push({ path, label, at, along, each, least: limit.least, most: limit.most });
  };
  const mm = (path: string) => job.values[path]?.mm ?? 0;
  put("piece.outline.diameter", "Diameter", [long / 2, 0, high], [1, 0, 0], 2);
  put("piece.outline.length", "Length along the grain", [long / 2, 0, high], [1, 0, 0], 2);
  put("piece.outline.width", "Width across the grain", [0, -wide / 2, high], [0, -1, 0], 2);
  put("piece.height", "Height", [0, wide / 2, high], [0, 0, 1], 1);
  put("piece.wall", "Wall", [-long / 2 + mm("piece.wall"), 0, high], [1, 0, 0], 1);
  for (let k = 0; job.values[`cast.${k}.kind`]; k++) {
    const foot = high - mm(`cast.${k}.band`);
    put(`cast.${k}.band`, "Height of the ring", [0, -wide / 2, foot], [0, 0, -1], 1);
    // A place on the wall, so far round from the front; drips hang everywhere.
    const round = (angle: number, z: number): Point => [(-long / 2) * Math.sin(angle), (-wide / 2) * Math.cos(angle), z];
    put(`cast.${k}.length.1`, "Longest drip", round(0.5, foot - mm(`cast.${k}.length.1`)), [0, 0, -1], 1);
    put(`cast.${k}.width.1`, "Widest drip", round(1, foot - 2), [-Math.cos(1), Math.sin(1), 0], 1);
  }
  return handles;
}

/** What a size becomes when its handle is pulled by so many pixels; `way` is one mm along it as it shows, in pixels. */
export function pulled(handle: Handle, from: number, by: readonly [number, number], way: readonly [number, number], step: number): number {
  const long = way[0] ** 2 + way[1] ** 2;
  // Seen end on, a pull says nothing.
  if (long < 1e-4) return from;
  const mm = (by[0] * way[0] + by[1] * way[1]) / long;
  const to = Math.round((from + mm * handle.each) / step) * step;
  return Math.min(handle.most, Math.max(handle.least, to));
}
