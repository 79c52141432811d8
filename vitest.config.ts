import { availableParallelism } from 'node:os';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    // The runner would leave one core to itself: half the machine on two.
    maxWorkers: availableParallelism(),
    projects: [
      {
        test: {
          name: 'tests',
          include: ['tests/**/*.test.ts'],
          exclude: ['tests/e2e/**'],
          globalSetup: ['tests/temp.ts'],
          testTimeout: 60_000,
        },
      },
      {
        // The built page in a real browser: one browser at a time, on a machine that may be busy.
        test: {
          name: 'page',
          include: ['tests/e2e/**/*.test.ts'],
          globalSetup: ['tests/temp.ts', 'tests/e2e/build.ts'],
          fileParallelism: false,
          sequence: { groupOrder: 1 },
          testTimeout: 240_000,
          hookTimeout: 240_000,
        },
      },
    ],
  },
});
