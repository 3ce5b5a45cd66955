// Which folder may use which: the model knows neither the drawing library nor the document, the view no card.
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";

const MAY_USE: Record<string, RegExp> = {
  wire: /^\.\/[a-z]+$/,
  model: /^(\.\/[a-z]+|\.\.\/wire\/[a-z]+|@preact\/signals)$/,
  view: /^(\.\/[a-z]+|\.\.\/(wire|model)\/[a-z]+|three)$/,
  cards: /^(\.\/[a-z]+|\.\.\/(wire|model|view)\/[a-z]+|preact|preact\/hooks|@preact\/signals)$/,
};

test("imports only point down", () => {
  let seen = 0;
  for (const [folder, allowed] of Object.entries(MAY_USE)) {
    for (const file of readdirSync(join("src", folder))) {
      if (file.includes(".test.")) continue;
      const text = readFileSync(join("src", folder, file), "utf8");
      for (const [, from] of text.matchAll(/from "([^"]+)"/g)) {
        assert.match(from!, allowed, `${folder}/${file} must not use ${from}`);
        seen += 1;
      }
      if (folder === "model") assert.doesNotMatch(text, /\b(document|window)\./, `${file} is no place for the document`);
    }
  }
  assert.ok(seen > 20, `only ${seen} imports seen`);
});
