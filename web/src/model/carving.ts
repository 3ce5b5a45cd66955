// A carving, as the server tells it (see CarvingHead): when which block runs, where the tip is, and how the workpiece stands.
import type { CarvingHead } from "../wire/wire";

export const FEED = 0;
const WAIT = 2;
/** The tip was set elsewhere by hand, or another cutter was put in. */
export const BY_HAND = 3;
/** States of the workpiece kept on the way, so that going back need not begin from the start. */
const KEPT = 24;

export type Point = [number, number, number];

export interface Carving {
  head: CarvingHead;
  /** Where the tip is at the end of each moment, mm. */
  points: Float32Array;
  does: Uint8Array;
  /** Width of the cut in 255ths of the cutter's. */
  engaged: Uint8Array;
  /** Index among the parts. */
  part: Uint16Array;
  line: Uint32Array;
  ends: Float32Array;
  /** Underside of each column, and its top before the first move, mm. */
  low: Float32Array;
  top: Float32Array;
  /** Index of each column's first segment, and one more. */
  segmentsFrom: Uint32Array;
  segmentEnd: Float32Array;
  segmentOf: Uint16Array;
  /** Index of each moment's first sinking, and one more. */
  sunkFrom: Uint32Array;
  sunkColumn: Uint16Array;
  sunkTop: Float32Array;
}

/** Reads what the server sent. */
export function readCarving(bytes: ArrayBuffer): Carving {
  const length = new DataView(bytes).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length))) as CarvingHead;
  let at = 4 + length;
  const list = <T>(Kind: { new (bytes: ArrayBuffer, at: number, count: number): T; BYTES_PER_ELEMENT: number }, count: number): T => {
    const values = new Kind(bytes, at, count);
    at = (at + count * Kind.BYTES_PER_ELEMENT + 3) & ~3;
    return values;
  };
  const n = head.moments;
  const columns = head.columns[0]! * head.columns[1]!;
  const counted = list(Uint16Array, 3 * n);
  const points = Float32Array.from(counted, (count, k) => head.min[k % 3]! + head.step[k % 3]! * count);
  const packed = list(Uint8Array, 4 * n);
  const [line, ends] = [list(Uint32Array, n), list(Float32Array, n)];
  const height = (count: number) => head.low_mm + head.height_mm * count;
  const low = Float32Array.from(list(Uint16Array, columns), height);
  const top = Float32Array.from(list(Uint16Array, columns), height);
  const segmentsFrom = running(list(Uint8Array, columns));
  const segments = list(Uint16Array, 2 * head.segments);
  const sunkFrom = running(list(Uint16Array, n));
  const sunk = list(Uint16Array, 2 * head.sunk);
  if (at !== bytes.byteLength) throw new Error("the carving is not whole");
  const every = (values: Uint16Array, first: number) => Uint16Array.from({ length: values.length / 2 }, (_, k) => values[2 * k + first]!);
  return {
    head, points, line, ends, low, top, segmentsFrom, sunkFrom,
    does: Uint8Array.from({ length: n }, (_, k) => packed[4 * k]!),
    engaged: Uint8Array.from({ length: n }, (_, k) => packed[4 * k + 1]!),
    part: Uint16Array.from({ length: n }, (_, k) => packed[4 * k + 2]! + 256 * packed[4 * k + 3]!),
    segmentEnd: Float32Array.from(every(segments, 0), height),
    segmentOf: every(segments, 1),
    sunkColumn: every(sunk, 0),
    sunkTop: Float32Array.from(every(sunk, 1), height),
  };
}

/** Where each part of a list begins, from the counts of the parts; one more for the end. */
function running(counts: Uint8Array | Uint16Array): Uint32Array {
  const from = new Uint32Array(counts.length + 1);
  for (let k = 0; k < counts.length; k++) from[k + 1] = from[k]! + counts[k]!;
  return from;
}

/** The moment that runs at a time, s: the first that ends after it, or the last. */
export function momentAt(of: Carving, seconds: number): number {
  let [least, most] = [0, of.ends.length - 1];
  while (least < most) {
    const middle = (least + most) >> 1;
    if (of.ends[middle]! > seconds) most = middle;
    else least = middle + 1;
  }
  return least;
}

/** Where the tip is at a time. */
export function tipAt(of: Carving, seconds: number): Point {
  const k = momentAt(of, seconds);
  const point = (i: number): Point => [of.points[3 * i]!, of.points[3 * i + 1]!, of.points[3 * i + 2]!];
  if (k === 0 || of.does[k]! >= WAIT) return point(k);
  const [from, to] = [point(k - 1), point(k)];
  const lasts = of.ends[k]! - of.ends[k - 1]!;
  const share = lasts > 0 ? Math.min(1, Math.max(0, (seconds - of.ends[k - 1]!) / lasts)) : 1;
  return [0, 1, 2].map((j) => from[j]! + share * (to[j]! - from[j]!)) as Point;
}

const sameBlock = (of: Carving, a: number, b: number) =>
  of.line[a] === of.line[b] && of.head.parts[of.part[a]!]!.file === of.head.parts[of.part[b]!]!.file;

/** The time one block on (1) or back (−1): the end of the next block, or the start of this one and then of the one before. */
export function blockFrom(of: Carving, seconds: number, by: -1 | 1): number {
  const last = of.ends.length - 1;
  let k = momentAt(of, seconds);
  if (by === 1) {
    while (k < last && (sameBlock(of, k, k + 1) || of.ends[k]! <= seconds)) k++;
    return of.ends[k]!;
  }
  const start = (from: number) => {
    let first = from;
    while (first > 0 && sameBlock(of, first, first - 1)) first--;
    return first;
  };
  let first = start(k);
  // At the very start of a block the one before is meant; blocks without a time of their own are passed over.
  while (first > 0 && of.ends[first - 1]! >= seconds) first = start(first - 1);
  return first === 0 ? 0 : of.ends[first - 1]!;
}

/** The workpiece as it stands after some moments; it goes forward and back. */
export class Standing {
  readonly tops: Float32Array;
  /** So many moments are done. */
  private done = 0;
  private readonly kept: (Float32Array | undefined)[] = [];
  private readonly each: number;

  constructor(readonly of: Carving) {
    this.tops = of.top.slice();
    this.each = Math.max(1, Math.ceil(of.head.moments / KEPT));
    this.kept[0] = of.top;
  }

  /** Goes to where so many moments are done; the columns that have changed, or `null` where any may have. */
  go(moments: number): ReadonlySet<number> | null {
    const to = Math.min(this.of.head.moments, Math.max(0, moments));
    let all = false;
    if (to < this.done) {
      let key = Math.floor(to / this.each);
      while (!this.kept[key]) key--;
      this.tops.set(this.kept[key]!);
      this.done = key * this.each;
      all = true;
    }
    const changed = new Set<number>();
    while (this.done < to) {
      const stop = Math.min(to, (Math.floor(this.done / this.each) + 1) * this.each);
      const [from, end] = [this.of.sunkFrom[this.done]!, this.of.sunkFrom[stop]!];
      for (let k = from; k < end; k++) {
        const column = this.of.sunkColumn[k]!;
        this.tops[column] = this.of.sunkTop[k]!;
        if (!all) changed.add(column);
      }
      this.done = stop;
      if (stop % this.each === 0) this.kept[stop / this.each] ??= this.tops.slice();
    }
    return all ? null : changed;
  }
}

/** Material just under the top of a column: its index among the looks. */
export function materialAt(of: Carving, column: number, top: number): number {
  const [from, end] = [of.segmentsFrom[column]!, of.segmentsFrom[column + 1]!];
  for (let k = from; k < end; k++) if (of.segmentEnd[k]! > top - 0.02) return of.segmentOf[k]!;
  return end > from ? of.segmentOf[end - 1]! : 0;
}

/** The colour at a share of a scale, each part 0 to 255. */
export function shade(scale: readonly (readonly number[])[], share: number): Point {
  const along = Math.min(1, Math.max(0, share)) * (scale.length - 1);
  const k = Math.min(Math.floor(along), scale.length - 2);
  return [0, 1, 2].map((j) => scale[k]![j]! + (along - k) * (scale[k + 1]![j]! - scale[k]![j]!)) as Point;
}
