import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/**
 * One folder for everything that tests, and the programs they start, write for a while; it goes when the run ends, whatever a test forgot.
 * The runner hands its environment on to those who run the tests.
 */
export function setup(): () => void {
  const folder = mkdtempSync(join(tmpdir(), 'guessrow-tests-'));
  process.env.TMPDIR = folder;
  return () => rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
}
