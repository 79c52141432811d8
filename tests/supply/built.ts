import { spawnSync } from 'node:child_process';
import { mkdirSync, rmdirSync, statSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

export const root = fileURLToPath(new URL('../..', import.meta.url));

/** The page, the command and the library in `dist`, built where a source is newer. One test file at a time. */
export async function built(): Promise<void> {
  const lock = `${root}node_modules/.guessrow-building`;
  for (;;) {
    try {
      mkdirSync(lock);
      break;
    } catch {
      const since = statSync(lock, { throwIfNoEntry: false })?.mtimeMs ?? Date.now();
      // Left behind by a run that was ended.
      if (Date.now() - since > 120_000) rmdirSync(lock);
      await new Promise((r) => setTimeout(r, 200));
    }
  }
  try {
    const r = spawnSync(process.execPath, ['src/setup.mjs', 'build'], { cwd: root, encoding: 'utf8' });
    if (r.status !== 0) throw new Error(`The build failed.\n${r.stdout}${r.stderr}`);
  } finally {
    rmdirSync(lock);
  }
}
