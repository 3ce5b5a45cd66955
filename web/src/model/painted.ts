// The map of a check as a picture to be laid on the piece, and the numbers of its legend.
import { shade } from "./carving";
import type { MapView } from "../wire/wire";

export interface Painting {
  view: MapView;
  /** Red, green, blue and how much is known, of each cell. */
  cells: Uint8Array;
  across: number;
  up: number;
}

export function painting(view: MapView): Painting {
  const [low, high] = view.range as [number, number];
  const cells = new Uint8Array(4 * view.values.length);
  view.values.forEach((value, k) => {
    if (value != null) cells.set([...shade(view.scale, (value - low) / (high - low)).map(Math.round), 255], 4 * k);
  });
  return { view, cells, across: view.nx, up: view.values.length / view.nx };
}

/** Where a value stands on the scale, from 0 to 1. */
export const share = ({ range }: MapView, value: number): number => Math.min(1, Math.max(0, (value - range[0]!) / (range[1]! - range[0]!)));
