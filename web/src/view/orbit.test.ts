import assert from "node:assert/strict";
import { test } from "node:test";
import { AT_FIRST, byKey, moved } from "./orbit";

test("keys turn the piece and leave the others alone", () => {
  assert.ok(byKey(AT_FIRST, "ArrowRight")!.turn > AT_FIRST.turn);
  assert.ok(byKey(AT_FIRST, "ArrowUp")!.rise > AT_FIRST.rise);
  assert.ok(byKey(AT_FIRST, "+")!.away < AT_FIRST.away);
  assert.equal(byKey({ turn: 9, rise: 1, away: 1 }, "Home"), AT_FIRST);
  assert.equal(byKey(AT_FIRST, "Tab"), null);
});

test("the eye stays near the piece and never goes over the top", () => {
  let eye = AT_FIRST;
  for (let k = 0; k < 100; k++) eye = moved(eye, 0, 0.2, 0.8);
  assert.ok(eye.rise < Math.PI / 2 && eye.away > 0.5);
  for (let k = 0; k < 100; k++) eye = moved(eye, 0, -0.2, 1.3);
  assert.ok(eye.rise > -Math.PI / 2 && eye.away <= 5);
});
