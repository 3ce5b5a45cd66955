import assert from "node:assert/strict";
import { test } from "node:test";
import type { MapView } from "../wire/wire";
import { painting, share } from "./painted";

test("cells have the colour of their value, and none where nothing was looked at", () => {
  const view: MapView = {
    title: "x", unit: "mm", limit: 1.5, range: [1, 3], first: [0, 0], pitch: 1, nx: 2, values: [1, null, 2, 3], to_map: [1, 0, 0, 0, 0, 1, 0, 0], side: 0,
    scale: [[0, 0, 0], [200, 100, 0]],
  };
  const { cells, across, up } = painting(view);
  assert.deepEqual([across, up], [2, 2]);
  assert.deepEqual([...cells], [0, 0, 0, 255, 0, 0, 0, 0, 100, 50, 0, 255, 200, 100, 0, 255]);
  assert.equal(share(view, view.limit!), 0.25);
});
