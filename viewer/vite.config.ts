// Builds the page into one file without a single address in it: style, script, and the planner's worker, both of which
// lie in it compressed. A policy in the page allows exactly these scripts and this style, and no network.
import { createHash } from "node:crypto";
import { deflateRawSync } from "node:zlib";
import { build, defineConfig, type Plugin } from "vite";
import { viteSingleFile } from "vite-plugin-singlefile";
import { slimThree } from "./slim-three.ts";

// jsonc-parser's "main" cannot be bundled.
const resolve = { mainFields: ["module", "main"] };

/** The worker's script, bundled by itself. */
async function workerScript(): Promise<string> {
  const result = await build({
    configFile: false,
    root: import.meta.dirname,
    logLevel: "warn",
    resolve,
    build: {
      write: false,
      target: "es2022",
      minify: true,
      lib: { entry: "worker.ts", formats: ["iife"], name: "planner", fileName: "worker" },
    },
  });
  const [{ output }] = result as { output: { code: string }[] }[];
  return output[0].code;
}

/** Packs the page's script and its worker into data blocks, and then states the policy, when nothing changes any more. */
function sealed(): Plugin {
  return {
    name: "sealed-page",
    enforce: "post",
    generateBundle: {
      order: "post",
      async handler(_, bundle) {
        const worker = packed(await workerScript());
        for (const asset of Object.values(bundle)) {
          if (asset.type !== "asset" || !asset.fileName.endsWith(".html")) continue;
          asset.source = sealedPage(String(asset.source), worker);
        }
      },
    },
  };
}

const SCRIPT = /<script type="module"[^>]*>([\s\S]*?)<\/script>/;
const STYLE = /<style[^>]*>([\s\S]*?)<\/style>/;

function sealedPage(html: string, worker: string): string {
  const script = SCRIPT.exec(html)?.[1];
  const style = STYLE.exec(html)?.[1];
  if (script === undefined || style === undefined) throw new Error("the page has no script or no style");
  const policy = policyFor([STARTER, script], style);
  return html
    .replace(SCRIPT, "")
    .replace("<!--planner-->", () => worker)
    .replace("<!--page-->", () => packed(script))
    .replace("<!--starter-->", () => `<script type="module">${STARTER}</script>`)
    .replace("<!--policy-->", () => policy);
}

function packed(text: string): string {
  return deflateRawSync(text, { level: 9 }).toString("base64");
}

/** Unpacks the page's script and runs it: the policy lets it run because it knows what it is. */
const STARTER = `
const page = document.getElementById("page");
try {
  const bytes = Uint8Array.from(atob(document.getElementById("slabtrue-page").textContent), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  const script = document.createElement("script");
  script.type = "module";
  script.textContent = await new Response(stream).text();
  document.head.append(script);
} catch {
  page.textContent = "This page needs a newer browser, of 2023 or later.";
}
`;

function policyFor(scripts: readonly string[], style: string): string {
  const hash = (text: string) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;
  const rules = [
    "default-src 'none'",
    `script-src ${scripts.map(hash).join(" ")}`,
    `style-src ${hash(style)}`,
    "worker-src blob:",
    "img-src data: blob:",
    "base-uri 'none'",
    "form-action 'none'",
  ];
  return `<meta http-equiv="Content-Security-Policy" content="${rules.join("; ")}">`;
}

export default defineConfig({
  root: import.meta.dirname,
  resolve,
  plugins: [slimThree(), viteSingleFile({ removeViteModuleLoader: true }), sealed()],
  build: {
    outDir: "../dist",
    emptyOutDir: false,
    target: "es2022",
    minify: true,
    chunkSizeWarningLimit: 2000,
    rolldownOptions: { input: { preview: `${import.meta.dirname}/preview.html` } },
  },
});
