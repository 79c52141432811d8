import { availableParallelism } from 'node:os';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    exclude: ['tests/e2e/**'],
    globalSetup: ['tests/temp.ts'],
    testTimeout: 60_000,
    // The runner would leave one core to itself: half the machine on two.
    maxWorkers: availableParallelism(),
  },
});
