// Every NAME.ts and NAME.css here becomes static/NAME.js and static/NAME.css; what pages share is imported by them.
import { build } from "esbuild";
import { mkdirSync, mkdtempSync, readdirSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = join(here, "..", "static");
const entries = readdirSync(here).filter((name) => /\.(ts|css)$/.test(name) && !name.endsWith(".d.ts"));
mkdirSync(out, { recursive: true });
const fresh = mkdtempSync(join(out, ".fresh-")); // each file takes its place at once: a server that runs misses none
await build({
  entryPoints: entries.map((name) => join(here, name)),
  outdir: fresh,
  bundle: true,
  minify: true,
  format: "iife",
  target: ["es2022", "safari16"],
  legalComments: "linked",
  logLevel: "warning",
});
const made = readdirSync(fresh);
for (const name of made) renameSync(join(fresh, name), join(out, name));
rmSync(fresh, { recursive: true });
for (const name of readdirSync(out)) {
  if (name !== "built" && !name.startsWith(".fresh-") && !made.includes(name)) rmSync(join(out, name));
}
writeFileSync(join(out, "built"), "");
