import { defineConfig } from "vitest/config";

export default defineConfig({
  cacheDir: "../node_modules/.vitest",
  test: {
    root: import.meta.dirname,
    include: ["**/*.test.ts"],
    exclude: ["bench/**"],
    testTimeout: 60_000,
    // Of two cores vitest would leave one idle.
    maxWorkers: 2,
  },
});
