import { closeSync, existsSync, openSync, promises, readFileSync, rmSync, writeSync } from 'node:fs';
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
  #waiting: string[] = [];
  #writing: Promise<void> = Promise.resolve();
  #next: Promise<void> | null = null;
  readonly #file: promises.FileHandle;
  readonly #lock: string;

  private constructor(file: promises.FileHandle, lock: string) {
    this.#file = file;
    this.#lock = lock;
  }

  /** Opens the journal of `folder` and keeps other audits out of it. Throws `UserError` when one is running there. */
  static async open(folder: string, again: boolean): Promise<Journal> {
    const lock = join(folder, LOCK);
    takeLock(lock);
    const path = join(folder, JOURNAL);
    if (again) rmSync(path, { force: true });
    const text = existsSync(path) ? readFileSync(path, 'utf8') : '';
    const journal = new Journal(await promises.open(path, 'a'), lock);
    for (const line of text.split('\n')) {
      const entry = entryOf(line);
      if (entry?.reports.every((r) => existsSync(join(folder, r)))) journal.entries.set(entry.key, entry);
    }
    if (text !== '' && !text.endsWith('\n')) await journal.#file.write('\n');
    return journal;
  }

  /**
   * Resolves when the entry is on the disk. The disk is waited for once for all entries that came while it was at work: a thread that waited for
   * each would be what a many-threaded audit waits for.
   */
  async add(entry: Entry): Promise<void> {
    this.#waiting.push(`${JSON.stringify(entry)}\n`);
    this.#next ??= this.#writing.then(() => {
      this.#next = null;
      this.#writing = this.#write(this.#waiting.splice(0).join(''));
      return this.#writing;
    });
    await this.#next;
    this.entries.set(entry.key, entry);
  }

  async #write(lines: string): Promise<void> {
    const bytes = Buffer.from(lines, 'utf8');
    try {
      for (let at = 0; at < bytes.length; ) at += (await this.#file.write(bytes, at)).bytesWritten;
      await this.#file.sync();
    } catch (e) {
      throw writeFault(JOURNAL, e);
    }
  }

  async close(): Promise<void> {
    await this.#writing.catch(() => {});
    await this.#file.close();
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
