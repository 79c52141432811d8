import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';

const NAME = 'guessrow-tests-';

/**
 * One folder for everything that tests, and the programs they start, write for a while; it goes when the run ends, whatever a test forgot.
 * The runner hands its environment on to those who run the tests.
 */
export function setup(): () => void {
  // Each project of the run calls this; one folder serves them all.
  if (basename(tmpdir()).startsWith(NAME)) return () => {};
  const folder = mkdtempSync(join(tmpdir(), NAME));
  process.env.TMPDIR = folder;
  return () => rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
}
