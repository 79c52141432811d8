import { defineConfig } from 'vitest/config';

/** The built page in a real browser: one browser at a time, on a machine that may be busy. */
export default defineConfig({
  test: {
    include: ['tests/e2e/**/*.test.ts'],
    globalSetup: ['tests/temp.ts', 'tests/e2e/build.ts'],
    fileParallelism: false,
    testTimeout: 240_000,
    hookTimeout: 120_000,
  },
});
