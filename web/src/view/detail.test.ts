import assert from "node:assert/strict";
import { test } from "node:test";
import { nextDetail } from "./detail";

/** Plays frames on a machine that needs so many ms for a full frame, in proportion to its pixels, and 4 ms besides. */
function settled(full: number): { detail: number; took: number } {
  let [detail, took] = [1, 0];
  for (let k = 0; k < 200; k++) {
    took = 4 + full * detail * detail;
    detail = nextDetail(detail, took);
  }
  return { detail, took };
}

test("a quick machine draws in full, a slow one at twenty frames a second or more", () => {
  assert.equal(settled(8).detail, 1);
  for (const full of [60, 150, 400, 1000]) assert.ok(settled(full).took < 50, `${full}: ${settled(full).took}`);
});

test("it draws finer again once it can", () => {
  let detail = 0.2;
  for (let k = 0; k < 40; k++) detail = nextDetail(detail, 6);
  assert.equal(detail, 1);
});
