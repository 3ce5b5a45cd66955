import assert from "node:assert/strict";
import { test } from "node:test";
import type { ChoiceFigures } from "../wire/wire";
import { changes, risks } from "./choices";

const now: ChoiceFigures = { machine_s: 3600, hands_s: 1200, wait_s: 0, cost: 80, currency: "EUR", fails: ["a"], watch: ["b", "c"] };

test("only what changes is told", () => {
  assert.deepEqual(changes(now, now), []);
  assert.deepEqual(changes(now, { ...now, machine_s: 4200, hands_s: 1210, wait_s: 86400, cost: 77.5 }), ["machine +10 min", "waiting +1 d 0 h", "−2.5 EUR"]);
});

test("checks that become worse are named, those that become better counted", () => {
  assert.deepEqual(risks(now, now), { worse: [], better: 0 });
  assert.deepEqual(risks(now, { ...now, fails: ["b"], watch: ["a", "d"] }), { worse: ["fails: b", "to watch: d"], better: 2 });
});
