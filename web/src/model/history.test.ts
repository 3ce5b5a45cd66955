import assert from "node:assert/strict";
import { test } from "node:test";
import { begun, changed, kept, moved, resumed, text } from "./history";

test("every change can be undone and done again", () => {
  let history = begun("0");
  for (let k = 1; k <= 500; k++) history = changed(history, String(k));
  for (let k = 499; k >= 0; k--) {
    history = moved(history, -1)!;
    assert.equal(text(history), String(k));
  }
  assert.equal(moved(history, -1), null);
  history = moved(history, 1)!;
  assert.equal(text(history), "1");
  history = changed(history, "other");
  assert.equal(moved(history, 1), null, "what was undone is gone after a change");
  assert.equal(text(moved(history, -1)!), "1");
  assert.equal(changed(history, "other"), history, "the same text is no change");
});

test("what was undone can be done again after a reload", () => {
  let history = changed(changed(begun("aa"), "bb"), "cc");
  history = moved(history, -1)!;
  const back = resumed(kept(history, 100), "bb");
  assert.deepEqual(back, history);
  assert.equal(text(moved(back, 1)!), "cc");
  // Changed elsewhere meanwhile: that is one more step.
  assert.equal(text(moved(resumed(kept(history, 100), "dd"), -1)!), "bb");
  assert.deepEqual(JSON.parse(kept(changed(history, "ee"), 4)), { texts: ["bb", "ee"], at: 1 });
  for (const other of [null, "", "{}", "[1]", "{\"texts\":[3],\"at\":0}"]) assert.deepEqual(resumed(other, "x"), begun("x"));
});
