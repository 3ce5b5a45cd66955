import assert from "node:assert/strict";
import { test } from "node:test";
import type { CheckDoc, PlanDoc, State } from "../wire/wire";
import { byPurpose, counted, frameAt, framesOf, modelAt, strain, worstFirst } from "./making";

const check = (id: string, state: State, value: number | null, limit: number | null, sense = "at most"): CheckDoc =>
  ({ id, title: id, state, value, limit, unit: "mm", sense });

test("what fails comes first, then what is nearest to its limit", () => {
  const checks = [check("a", "holds", 1, 10), check("b", "watch", 1, 2), check("c", "holds", 9, 10), check("d", "fails", null, null),
    check("e", "holds", 6, 5, "at least"), check("f", "fails", 3, 2)];
  assert.deepEqual(worstFirst(checks).map((c) => c.id), ["f", "d", "b", "c", "e", "a"]);
  assert.deepEqual(counted(checks), { holds: 3, watch: 1, fails: 2 });
  assert.equal(strain(check("x", "holds", 0, 5, "at least")), Infinity);
  assert.equal(strain(check("x", "holds", 0, 0)), 0);
});

const plan = {
  steps: [
    { id: "mill", title: "Mill" }, { id: "trim", title: "Square" },
    { id: "carve-cavity", title: "Carve", change: { does: "carve", setup: "cavity" } }, { id: "seal", title: "Seal" },
  ],
} as unknown as PlanDoc;
const files = ["pictures/step-03-carve-cavity.png", "pictures/step-02-trim.png", "pictures/piece.png", "models/setup-cavity-after.glb", "plan.json", "programs/01.nc"];

test("each step shows the workpiece as it was left last", () => {
  const frames = framesOf(plan, files);
  assert.deepEqual(frames.map((frame) => frame.step), [1, 2]);
  assert.equal(frameAt(frames, 0), null);
  assert.equal(frameAt(frames, 3)?.picture, "pictures/step-03-carve-cavity.png");
  assert.equal(modelAt(plan, files, 2), "models/setup-cavity-after.glb");
  assert.equal(modelAt(plan, files, 1), null);
});

test("every file has its place among the papers", () => {
  const groups = byPurpose(files.map((path) => ({ path })));
  assert.deepEqual(groups.map(([word]) => word), ["Programs", "Models", "Pictures", "For other programs"]);
  assert.equal(groups.flatMap(([, of]) => of).length, files.length);
});
