import assert from "node:assert/strict";
import { test } from "node:test";
import type { JobView } from "../wire/wire";
import type { Field } from "./fields";
import { handlesOf, pulled } from "./handles";

const limit = (path: string, least: number, most: number): Field => ({ is: "length", path, label: path, least, most, step: 0.5 });
const job = { values: { "piece.height": { text: "52 mm", mm: 52, number: null }, "piece.outline.diameter": { text: "190 mm", mm: 190, number: null } } } as unknown as JobView;

test("a handle sits on the size it changes", () => {
  const handles = handlesOf(job, [190, 190, 52], [limit("piece.height", 10, 150), limit("piece.outline.diameter", 60, 400)]);
  assert.deepEqual(handles.map((one) => [one.path, one.at]), [["piece.outline.diameter", [95, 0, 52]], ["piece.height", [0, 95, 52]]]);
});

test("pulling follows the finger", () => {
  const [diameter] = handlesOf(job, [190, 190, 52], [limit("piece.outline.diameter", 60, 400)]);
  // One mm shows as 2 pixels to the right: 20 pixels are 10 mm on one side, so 20 mm across.
  assert.equal(pulled(diameter!, 190, [20, 7], [2, 0], 1), 210);
  assert.equal(pulled(diameter!, 190, [-20, 0], [2, 0], 1), 170);
  assert.equal(pulled(diameter!, 190, [9000, 0], [2, 0], 1), 400);
  assert.equal(pulled(diameter!, 190, [50, 50], [0, 0], 1), 190, "seen end on, a pull says nothing");
});

test("drips are pulled longer at their ends", () => {
  const mm = (value: number) => ({ text: `${value} mm`, mm: value, number: null });
  const drips = { values: { "cast.0.kind": { text: "rim-drips", mm: null, number: null }, "cast.0.band": mm(6), "cast.0.length.1": mm(20) } } as unknown as JobView;
  const handles = handlesOf(drips, [190, 190, 52], [limit("cast.0.band", 2, 40), limit("cast.0.length.1", 2, 60)]);
  assert.deepEqual(handles.map((one) => [one.path, one.at[2], one.along]), [["cast.0.band", 46, [0, 0, -1]], ["cast.0.length.1", 26, [0, 0, -1]]]);
  const [x, y] = handles[1]!.at;
  assert.ok(Math.abs(Math.hypot(x, y) - 95) < 1e-9, "on the wall");
});
