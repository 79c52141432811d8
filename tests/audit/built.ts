import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { build } from 'vite';

/** The command as it is delivered, in a folder of its own with the packages that are installed beside it. */
export async function builtCommand(): Promise<{ dir: string; command: string }> {
  const dir = mkdtempSync(join(tmpdir(), 'guessrow-'));
  symlinkSync(resolve('node_modules'), join(dir, 'node_modules'), 'junction');
  await build({ mode: 'cli', logLevel: 'warn', build: { outDir: join(dir, 'dist', 'cli') } });
  return { dir, command: join(dir, 'dist', 'cli', 'guessrow.js') };
}

export function run(at: { dir: string; command: string }, ...args: string[]) {
  return spawnSync(process.execPath, [at.command, ...args], { cwd: at.dir, encoding: 'utf8', timeout: 300_000 });
}

export function start(at: { dir: string; command: string }, ...args: string[]): ChildProcess {
  return spawn(process.execPath, [at.command, ...args], { cwd: at.dir, stdio: ['ignore', 'pipe', 'pipe'] });
}

/** Waits until `there` is true; false when it does not become so in time. */
export async function until(there: () => boolean | Promise<boolean>, forMs = 120_000): Promise<boolean> {
  for (const end = Date.now() + forMs; Date.now() < end; ) {
    if (await there()) return true;
    await new Promise((r) => setTimeout(r, 50));
  }
  return false;
}
