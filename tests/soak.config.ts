// The long runs, `npm run soak`: the tests that take random cases, with many more of them. They print how many.
import { defineConfig, mergeConfig } from "vitest/config";
import base from "./vitest.config.ts";

export default mergeConfig(
  base,
  defineConfig({
    test: {
      env: {
        SOAK: process.env.SOAK ?? "2300",
        TABLES: process.env.TABLES ?? "300",
        FAULTS: process.env.FAULTS ?? "2000",
        LINES: process.env.LINES ?? "5000000",
      },
    },
  }),
);
