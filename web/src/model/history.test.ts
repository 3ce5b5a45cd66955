import assert from "node:assert/strict";
import { test } from "node:test";
import { begun, changed, moved, text } from "./history";

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
