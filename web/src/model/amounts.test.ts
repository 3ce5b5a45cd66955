import assert from "node:assert/strict";
import { test } from "node:test";
import { amount, clock, digits, fileSize, stopwatch } from "./amounts";

test("numbers have three digits that count", () => {
  const cases: [number, string][] = [[0, "0"], [6, "6"], [6.5, "6.5"], [0.0213, "0.0213"], [237.76, "238"], [-1.5, "−1.5"],
    [1234, "1234"], [18400.4, "18\u202f400"], [0.99999, "1"], [Number.NaN, "–"]];
  for (const [value, wanted] of cases) assert.equal(digits(value), wanted);
});

test("lengths follow the maker's units, 25.4 mm to the inch", () => {
  assert.equal(amount(6.35, "mm", "mm"), "6.35\u00a0mm");
  assert.equal(amount(6.35, "mm", "in"), "0.25 in");
  assert.equal(amount(2540, "mm/min", "in"), "100 in/min");
  assert.equal(amount(63, "ml", "in"), "63\u00a0ml");
  assert.equal(amount(null, "mm", "mm"), "not computed");
  assert.equal(amount(12, "°", "mm"), "12°");
});

test("times are said as a person says them", () => {
  const cases: [number, string][] = [[40, "40 s"], [1500, "25 min"], [7500, "2 h 05"], [273600, "3 d 4 h"], [86399, "1 d 0 h"]];
  for (const [seconds, wanted] of cases) assert.equal(clock(seconds), wanted);
});

test("files have sizes", () => {
  assert.deepEqual([12, 1500, 4_781_724].map(fileSize), ["12 bytes", "1.5 kB", "4.78 MB"]);
});

test("a stopwatch counts whole seconds", () => {
  assert.deepEqual([0, 7.9, 60, 750, 3750].map(stopwatch), ["0:00", "0:07", "1:00", "12:30", "1:02:30"]);
});
