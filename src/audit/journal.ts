import { closeSync, existsSync, fsyncSync, openSync, readFileSync, rmSync, writeSync } from 'node:fs';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { UserError } from '../core/messages.ts';
import { writeFault } from '../files.ts';
import { isKey } from './key.ts';
import type { Entry } from './types.ts';

export const JOURNAL = 'journal.jsonl';
export const LOCK = 'audit.lock';

/**
 * What has been checked, a line a field, in a file that is only ever added to. A field counts as checked when its line is on the
 * disk, and its reports are there before. A line that was cut off by a crash does not count: its field is checked again.
 */
export class Journal {
  readonly entries = new Map<string, Entry>();
  readonly #fd: number;
  readonly #lock: string;

  /** Opens the journal of `folder` and keeps other audits out of it. Throws `UserError` when one is running there. */
  constructor(folder: string, again: boolean) {
    this.#lock = join(folder, LOCK);
    takeLock(this.#lock);
    const path = join(folder, JOURNAL);
    if (again) rmSync(path, { force: true });
    const text = existsSync(path) ? readFileSync(path, 'utf8') : '';
    for (const line of text.split('\n')) {
      const entry = entryOf(line);
      if (entry?.reports.every((r) => existsSync(join(folder, r)))) this.entries.set(entry.key, entry);
    }
    this.#fd = openSync(path, 'a');
    if (text !== '' && !text.endsWith('\n')) writeSync(this.#fd, '\n');
  }

  add(entry: Entry): void {
    const bytes = Buffer.from(`${JSON.stringify(entry)}\n`, 'utf8');
    try {
      for (let at = 0; at < bytes.length; ) at += writeSync(this.#fd, bytes, at);
      fsyncSync(this.#fd);
    } catch (e) {
      throw writeFault(JOURNAL, e);
    }
    this.entries.set(entry.key, entry);
  }

  close(): void {
    closeSync(this.#fd);
    rmSync(this.#lock, { force: true });
  }
}

function entryOf(line: string): Entry | null {
  try {
    const e = JSON.parse(line) as Entry;
    // Report names lead to files: only those that this program can have made are followed.
    const sound =
      isKey(e.key) &&
      typeof e.row?.verdict === 'string' &&
      Array.isArray(e.reports) &&
      e.reports.every((r) => /^fields\/[a-z0-9-]+\.[a-z]+$/.test(r));
    return sound ? e : null;
  } catch {
    return null;
  }
}

/** One audit in a folder at a time. The lock of a process that is gone is taken over. */
function takeLock(path: string): void {
  const mine = `${process.pid} ${hostname()}\n`;
  for (let tries = 0; tries < 3; tries++) {
    try {
      const fd = openSync(path, 'wx');
      writeSync(fd, mine);
      closeSync(fd);
      return;
    } catch (e) {
      if ((e as NodeJS.ErrnoException).code !== 'EEXIST') throw writeFault(path, e);
    }
    const [pid, host] = readLock(path).split(' ');
    if (host?.trim() === hostname() && !runs(Number(pid))) rmSync(path, { force: true });
    else break;
  }
  throw new UserError(
    'audit-running',
    'Another audit is writing into this folder.',
    { file: LOCK },
    'Wait for it, or choose another folder; if it is certain that none runs, delete that file.',
  );
}

function readLock(path: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return '';
  }
}

function runs(pid: number): boolean {
  if (!Number.isInteger(pid) || pid <= 0 || pid === process.pid) return false;
  try {
    process.kill(pid, 0);
    return true;
  } catch (e) {
    return (e as NodeJS.ErrnoException).code === 'EPERM';
  }
}
