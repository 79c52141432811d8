import { availableParallelism } from 'node:os';
import { defineConfig } from 'vitest/config';

/** Tests of the core: values in, values out. They share the modules that they load, and what the engine has compiled: a third less processor time (48 s to 30 s for 20 files). */
const PURE = [
  'coverage',
  'formats',
  'generator',
  'golden',
  'ground',
  'infer',
  'intake',
  'invariants',
  'origins',
  'outside',
  'planter',
  'rebuild',
  'report',
  'settings',
  'simulator',
  'track',
].map((folder) => `tests/${folder}/**/*.test.ts`);

export default defineConfig({
  test: {
    // The runner would leave one core to itself: half the machine on two. One worker more, because those that test the command and the queue wait for processes half of their time.
    maxWorkers: availableParallelism() + 1,
    projects: [
      {
        test: {
          name: 'tests',
          include: ['tests/**/*.test.ts'],
          exclude: ['tests/e2e/**', ...PURE],
          globalSetup: ['tests/temp.ts'],
          testTimeout: 60_000,
        },
      },
      {
        test: {
          name: 'pure',
          include: PURE,
          isolate: false,
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
