// Builds the page into `dist` (with a packed copy beside each file), or, when asked, tests and journeys into `out`.
import { build } from "esbuild";
import { constants, gzipSync } from "node:zlib";
import { copyFile, mkdir, readFile, readdir, rm, writeFile } from "node:fs/promises";
import { join } from "node:path";

const shared = { bundle: true, format: "esm", target: "es2022", jsx: "automatic", jsxImportSource: "preact", logLevel: "warning" };

/** Files below a folder whose names end so. */
async function filesIn(folder, end) {
  const entries = await readdir(folder, { recursive: true, withFileTypes: true });
  const names = entries.filter((entry) => entry.isFile() && entry.name.endsWith(end));
  return names.map((entry) => join(entry.parentPath ?? entry.path, entry.name)).sort();
}

async function forNode(folder, end, out) {
  await rm(out, { recursive: true, force: true });
  const entryPoints = await filesIn(folder, end);
  await build({ ...shared, entryPoints, outdir: out, platform: "node", packages: "external", outExtension: { ".js": ".mjs" } });
}

async function page() {
  await rm("dist", { recursive: true, force: true });
  await mkdir("dist", { recursive: true });
  await build({ ...shared, entryPoints: ["src/page.tsx"], outdir: "dist", minify: true, legalComments: "linked" });
  await build({ ...shared, entryPoints: ["src/page.css"], outdir: "dist", minify: true, external: ["/fonts/*"] });
  await copyFile("src/index.html", "dist/index.html");
  for (const file of await filesIn("dist", "")) {
    // Level and time stamp are fixed, so that the same sources give the same bytes.
    await writeFile(`${file}.gz`, gzipSync(await readFile(file), { level: constants.Z_BEST_COMPRESSION }));
  }
}

if (process.argv.includes("--tests")) await forNode("src", ".test.ts", "out/tests");
else if (process.argv.includes("--journeys")) await forNode("journeys", ".test.ts", "out/journeys");
else await page();
