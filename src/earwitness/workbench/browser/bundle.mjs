// Every NAME.ts and NAME.css here becomes static/NAME.js and static/NAME.css; what pages share is imported by them.
import { build } from "esbuild";
import { readdirSync, rmSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = join(here, "..", "static");
const entries = readdirSync(here).filter((name) => /\.(ts|css)$/.test(name) && !name.endsWith(".d.ts"));
rmSync(out, { recursive: true, force: true });
await build({
  entryPoints: entries.map((name) => join(here, name)),
  outdir: out,
  bundle: true,
  minify: true,
  format: "iife",
  target: ["es2022", "safari16"],
  legalComments: "linked",
  logLevel: "warning",
});
writeFileSync(join(out, "built"), "");
