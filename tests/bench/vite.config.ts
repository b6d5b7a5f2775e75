// Bundles the benches as the program itself is bundled, so that what is measured is what runs.
import { defineConfig } from "vite";

export default defineConfig({
  root: import.meta.dirname,
  logLevel: "warn",
  // jsonc-parser's other build loads its parts in a way that no bundler follows.
  resolve: { mainFields: ["module", "main"] },
  build: {
    ssr: "run.ts",
    outDir: "../../dist/bench",
    emptyOutDir: true,
    target: "node20",
    rolldownOptions: { output: { entryFileNames: "bench.mjs" } },
  },
  // The browser's driver loads its parts in a way that no bundler follows.
  ssr: { noExternal: true, external: ["playwright-core"], target: "node" },
});
