import assert from "node:assert/strict";
import { test } from "node:test";
import type { CutterDoc } from "../wire/wire";
import { outlineOf } from "./cutter";

const cutter = (over: Partial<CutterDoc>): CutterDoc => ({
  number: 1, name: "x", shape: "flat", diameter: 6, corner_radius: 0, tip_diameter: 0, half_angle: 0, flute_length: 20, shank_diameter: 6, stickout: 35,
  holder: [{ diameter: 20, length: 18 }, { diameter: 60, length: 30 }], neck_diameter: 6, neck_length: 20, flutes: 2, overall_length: 60, helix_angle: 30,
  chip_load_wood: 0.05, chip_load_resin: 0.05, rpm_max: 24000, plunges: true, ...over,
});

/** Volume of what turns, by rings of straight sides (frustum: πh(a² + ab + b²)/3). */
const volume = (line: [number, number][]) =>
  line.slice(1).reduce((all, [b, z], k) => all + (Math.PI * (z - line[k]![1]) * (line[k]![0] ** 2 + line[k]![0] * b + b ** 2)) / 3, 0);

test("the outline encloses what the cutter is", () => {
  const flat = outlineOf(cutter({}));
  assert.ok(Math.abs(volume(flat.edges) - Math.PI * 9 * 20) < 1e-9);
  // A half ball and a cylinder in closed form; ten chords to a quarter take off less than 2 %.
  const ball = volume(outlineOf(cutter({ shape: "ball", corner_radius: 3 })).edges);
  const exact = Math.PI * ((2 / 3) * 27 + 9 * 17);
  assert.ok(ball < exact && ball > 0.98 * exact);
  const cone = outlineOf(cutter({ shape: "cone", half_angle: 45 })).edges;
  assert.deepEqual(cone.map(([r, z]) => [r, Math.round(z * 1e6) / 1e6]), [[0, 0], [0, 0], [3, 3], [3, 20]]);
  const tapered = outlineOf(cutter({ shape: "tapered-ball", corner_radius: 1, half_angle: 10 })).edges;
  const [last, before] = [tapered.at(-2)!, tapered.at(-3)!];
  assert.ok(Math.abs((last[0] - before[0]) / (last[1] - before[1]) - Math.tan((10 * Math.PI) / 180)) < 1e-9);
  assert.equal(flat.holder.at(-1)![1], 35 + 18 + 30);
});
