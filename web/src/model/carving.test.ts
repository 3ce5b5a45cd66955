import assert from "node:assert/strict";
import { test } from "node:test";
import { BY_HAND, FEED, Standing, blockFrom, materialAt, momentAt, readCarving, shade, tipAt } from "./carving";

/** Two columns, four moments on three lines, packed as the server does. */
function bytes(): ArrayBuffer {
  const head = {
    files: ["a.nc"], parts: [{ file: 0, cutter: 1 }], moments: 4, min: [0, 0, -5], step: [1, 1, 0.5], columns: [2, 1], origin: [0, 0], pitch_mm: 1,
    low_mm: 0, height_mm: 0.5, segments: 3, sunk: 3, materials: [], boards: [], scale: [[0, 0, 0], [200, 100, 0]], measured_mm: 0.3, seconds: 6,
  };
  let text = new TextEncoder().encode(JSON.stringify(head));
  text = new Uint8Array([...text, ...new Array((4 - (text.length % 4)) % 4).fill(32)]);
  const parts: number[] = [];
  const u16 = (...values: number[]) => values.forEach((value) => parts.push(value & 255, value >> 8));
  const pad = () => { while (parts.length % 4 > 0) parts.push(0); };
  u16(0, 0, 20, 10, 0, 20, 10, 4, 20, 10, 8, 10);
  pad();
  parts.push(BY_HAND, 0, 0, 0, 1, 0, 0, 0, FEED, 51, 0, 0, FEED, 255, 0, 0);
  for (const line of [7, 7, 8, 8]) parts.push(line, 0, 0, 0);
  parts.push(...new Uint8Array(new Float32Array([0, 2, 4, 6]).buffer));
  u16(0, 0);
  u16(20, 20);
  parts.push(2, 1);
  pad();
  u16(10, 0, 20, 1, 20, 0);
  u16(0, 0, 1, 2);
  u16(0, 16, 0, 8, 1, 4);
  const all = new Uint8Array(4 + text.length + parts.length);
  new DataView(all.buffer).setUint32(0, text.length, true);
  all.set(text, 4);
  all.set(parts, 4 + text.length);
  return all.buffer;
}

test("the tip is where it is at a time", () => {
  const of = readCarving(bytes());
  assert.deepEqual(tipAt(of, 0), [0, 0, 5]);
  assert.deepEqual(tipAt(of, 1), [5, 0, 5]);
  assert.deepEqual(tipAt(of, 3), [10, 2, 5]);
  assert.deepEqual(tipAt(of, 5), [10, 6, 2.5]);
  assert.deepEqual(tipAt(of, 99), [10, 8, 0]);
  assert.deepEqual([-1, 0, 1.9, 2, 6, 9].map((t) => momentAt(of, t)), [0, 1, 1, 2, 3, 3]);
});

test("one block on and back", () => {
  const of = readCarving(bytes());
  assert.deepEqual([0, 1, 2, 3, 6].map((t) => blockFrom(of, t, 1)), [2, 2, 6, 6, 6]);
  assert.deepEqual([6, 5, 2, 1, 0].map((t) => blockFrom(of, t, -1)), [2, 2, 0, 0, 0]);
});

test("the workpiece stands the same whichever way it is come to", () => {
  const of = readCarving(bytes());
  const standing = new Standing(of);
  assert.deepEqual(standing.go(3), new Set([0]));
  assert.deepEqual([...standing.tops], [8, 10]);
  assert.deepEqual(standing.go(4), new Set([0, 1]));
  assert.deepEqual([...standing.tops], [4, 2]);
  assert.equal(standing.go(2), null);
  assert.deepEqual([...standing.tops], [10, 10]);
  standing.go(99);
  assert.deepEqual([...standing.tops], [4, 2]);
  assert.deepEqual([materialAt(of, 0, 10), materialAt(of, 0, 4), materialAt(of, 1, 9)], [1, 0, 0]);
});

test("shades lie straight between the places of the scale", () => {
  assert.deepEqual(shade([[0, 0, 0], [200, 100, 0]], 0.25), [50, 25, 0]);
  assert.deepEqual(shade([[0, 0, 0], [200, 100, 0]], 7), [200, 100, 0]);
});
