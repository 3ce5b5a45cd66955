import assert from "node:assert/strict";
import { test } from "node:test";
import type { JobView } from "../wire/wire";
import { factsApart, valuesApart } from "./differences";

test("only what differs is told", () => {
  const here = [{ label: "Wood in it", value: "243 ml" }, { label: "Blank", value: "a" }, { label: "Resin in “tide”", value: "29 ml" }];
  const there = [{ label: "Wood in it", value: "260 ml" }, { label: "Blank", value: "a" }];
  assert.deepEqual(factsApart(here, there), [
    { label: "Wood in it", here: "243 ml", there: "260 ml" }, { label: "Resin in “tide”", here: "29 ml", there: "–" },
  ]);
});

test("a length is the same however it is written", () => {
  const job = (values: Record<string, [string, number | null]>) =>
    ({ values: Object.fromEntries(Object.entries(values).map(([path, [text, mm]]) => [path, { text, mm, number: null }])) }) as unknown as JobView;
  const here = job({ title: ["A", null], "piece.wall": ["1/4 in", 6.35], "piece.height": ["50 mm", 50] });
  const there = job({ title: ["B", null], "piece.wall": ["6.35 mm", 6.35], "piece.height": ["52 mm", 52] });
  assert.deepEqual(valuesApart(here, there), [{ label: "piece.height", here: "50 mm", there: "52 mm" }]);
});
