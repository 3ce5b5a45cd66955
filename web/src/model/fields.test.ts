import assert from "node:assert/strict";
import { test } from "node:test";
import type { JobView, ValueView } from "../wire/wire";
import { type Field, groupsOf, newCast, shownNumber, typed } from "./fields";

const value = (text: string, mm: number | null = null, number: number | null = null): ValueView => ({ text, mm, number });

function job(values: Record<string, ValueView>): JobView {
  return {
    id: "a", title: "A", file: "a/job.toml", version: "v", sources: "s", text: "", units: "mm", values, findings: [],
    choices: { woods: ["black walnut"], resins: ["deep pour"], finishes: ["hardening oil"] }, work: { is: "idle" },
  };
}

const paths = (view: JobView) => groupsOf(view).flatMap((group) => group.fields.map((field) => field.path));

test("the card shows what the outline of the job has", () => {
  const circle = job({ "piece.outline.kind": value("circle"), "piece.outline.diameter": value("190 mm", 190) });
  assert.ok(paths(circle).includes("piece.outline.diameter"));
  assert.ok(!paths(circle).includes("piece.outline.width"));
  const kinds = groupsOf(circle)[0]!.fields[0] as Field & { is: "kind" };
  assert.equal(kinds.options[0]!.toml, "{ kind = \"circle\", diameter = \"190 mm\" }", "another kind keeps the size");
  assert.ok(kinds.options[1]!.toml.includes("length = \"190 mm\", width = \"137 mm\""), kinds.options[1]!.toml);
});

test("a profile of the maker's own has its points on the card", () => {
  const own = job({ "piece.outside.points.0.inset": value("4 mm", 4), "piece.outside.points.0.height": value("20 mm", 20) });
  assert.ok(paths(own).includes("piece.outside.points.0.inset") && !paths(own).includes("piece.outside.points.0.slope"));
});

test("every cast has its group", () => {
  const two = job({ "cast.0.name": value("tide"), "cast.0.kind": value("rim-drips"), "cast.1.name": value("ring"), "cast.1.kind": value("ring-band") });
  assert.ok(paths(two).includes("cast.0.count") && paths(two).includes("cast.1.band"));
  assert.ok(!paths(two).includes("cast.1.count"));
  assert.match(newCast(two, "ring-band"), /name = "rim"/);
  const river = job({ "piece.height": value("30 mm", 30), "piece.floor": value("9 mm", 9) });
  assert.match(newCast(river, "river"), /kind = "river"[^]*depth = "24 mm"/);
  const winding = job({ "cast.0.name": value("oxbow"), "cast.0.kind": value("river"), "cast.0.swing": value("9 mm", 9) });
  assert.ok(paths(winding).includes("cast.0.swing") && !paths(winding).includes("cast.0.band"));
});

test("what is typed becomes what it says", () => {
  const wall: Field = { is: "length", path: "piece.wall", label: "Wall", least: 2, most: 20, step: 0.5 };
  assert.deepEqual(typed(wall, " 1/4 in "), { as: "text", value: "1/4 in" });
  const pigment = { is: "number", path: "cast.0.pigment", label: "Pigment", least: 0, most: 1, step: 0.01, unit: "%", scale: 100 } as const;
  assert.deepEqual(typed(pigment, "1,5 %"), { as: "number", value: 0.015 });
  assert.equal(typed(pigment, "much"), null);
  assert.equal(shownNumber(pigment, 0.015), "1.5");
});
