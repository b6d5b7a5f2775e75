// Builds the page into one file without a single address in it: script, style, and the planner's worker, which
// lies in it compressed. A policy in the page allows exactly this script and this style, and no network.
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

/** Puts the worker into the page, and then the policy, when nothing changes any more. */
function sealed(): Plugin {
  return {
    name: "sealed-page",
    enforce: "post",
    generateBundle: {
      order: "post",
      async handler(_, bundle) {
        const worker = deflateRawSync(await workerScript(), { level: 9 }).toString("base64");
        for (const asset of Object.values(bundle)) {
          if (asset.type !== "asset" || !asset.fileName.endsWith(".html")) continue;
          const html = String(asset.source).replace("<!--planner-->", () => worker);
          asset.source = html.replace("<!--policy-->", () => policyFor(html));
        }
      },
    },
  };
}

function policyFor(html: string): string {
  const hashes = (tag: string) =>
    [...html.matchAll(new RegExp(`<${tag}(?![^>]*type="application)[^>]*>([\\s\\S]*?)</${tag}>`, "g"))]
      .map(([, text]) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`)
      .join(" ");
  const rules = [
    "default-src 'none'",
    `script-src ${hashes("script")}`,
    `style-src ${hashes("style")}`,
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
