import { randomBytes } from 'node:crypto';
import {
  closeSync,
  constants,
  copyFileSync,
  existsSync,
  linkSync,
  openSync,
  promises,
  readFileSync,
  renameSync,
  rmSync,
  writeSync,
} from 'node:fs';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { UserError } from '../core/shared/messages.ts';
import { removeQuietly, writeFault, writeOutput } from '../files.ts';
import { ENTRY, shaped } from './schema.ts';
import type { Entry } from './types.ts';

export const JOURNAL = 'journal.jsonl';
export const LOCK = 'audit.lock';

/** A line of the journal that this program cannot have written, counted from 1, and what is wrong with it. */
export interface BadLine {
  line: number;
  fault: string;
}

/**
 * What has been checked, a line a field, in a file that is only ever added to. A field counts as checked when its line is on the
 * disk, and its reports are there before. A line cut off by a crash does not count: its field is checked again. Neither does a line that this
 * program did not write: it is reported and left out.
 */
export class Journal {
  readonly entries = new Map<string, Entry>();
  readonly bad: BadLine[] = [];
  #waiting: string[] = [];
  #writing: Promise<void> = Promise.resolve();
  #next: Promise<void> | null = null;
  readonly #file: promises.FileHandle;
  readonly #release: () => void;

  private constructor(file: promises.FileHandle, release: () => void) {
    this.#file = file;
    this.#release = release;
  }

  /** Opens the journal of `folder` and keeps other audits out of it. Throws `UserError` when one is running there. */
  static async open(folder: string, again: boolean): Promise<Journal> {
    const release = takeLock(join(folder, LOCK));
    try {
      const path = join(folder, JOURNAL);
      if (again) rmSync(path, { force: true });
      const text = existsSync(path) ? readFileSync(path, 'utf8') : '';
      const whole = text.slice(0, text.lastIndexOf('\n') + 1);
      const entries = new Map<string, Entry>();
      const bad: BadLine[] = [];
      const good: string[] = [];
      for (const [i, line] of whole.split('\n').slice(0, -1).entries()) {
        const entry = entryOf(line);
        if ('fault' in entry) bad.push({ line: i + 1, ...entry });
        else {
          good.push(`${line}\n`);
          if (entry.value.reports.every((r) => existsSync(join(folder, r)))) entries.set(entry.value.key, entry.value);
        }
      }
      if (bad.length > 0 || whole !== text) await writeOutput(path, good);
      const journal = new Journal(await promises.open(path, 'a'), release);
      for (const [key, entry] of entries) journal.entries.set(key, entry);
      journal.bad.push(...bad);
      return journal;
    } catch (e) {
      release();
      throw writeFault(JOURNAL, e);
    }
  }

  /**
   * Resolves when the entry is on the disk. All entries that arrive during one write to the disk share the next one: a thread that waited for
   * each would hold up an audit with many threads.
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
    this.#release();
  }
}

function entryOf(line: string): { value: Entry } | { fault: string } {
  let json: unknown;
  try {
    json = JSON.parse(line);
  } catch {
    return { fault: 'it is not JSON' };
  }
  return shaped(ENTRY, json);
}

/**
 * One audit in a folder at a time; returns the release of the lock. The lock of a process that is gone is taken over.
 *
 * Two audits may find the same stale lock. A second name for that lock decides which one takes it over, because only one can
 * create it; then its own lock replaces the old one in one step, so that there is always one. A name created too late, when the lock
 * already belonged to another, shows in its content, and is removed.
 */
function takeLock(path: string): () => void {
  const mine = `${process.pid} ${hostname()} ${randomBytes(12).toString('hex')}\n`;
  const release = (): void => {
    if (readLock(path) === mine) removeQuietly(path);
  };
  const fresh = (at: string): boolean => {
    let fd: number;
    try {
      fd = openSync(at, 'wx');
    } catch (e) {
      if ((e as NodeJS.ErrnoException).code === 'EEXIST') return false;
      throw writeFault(path, e);
    }
    writeSync(fd, mine);
    closeSync(fd);
    return true;
  };
  for (let tries = 0; tries < 3; tries++) {
    if (fresh(path)) return release;
    const held = readLock(path);
    const [pid, host, token = ''] = held.trim().split(' ');
    if (host !== hostname() || runs(Number(pid))) break;
    const claim = `${path}.${/^[0-9a-f]{24}$/.test(token) ? token : 'old'}`;
    if (!secondName(path, claim)) continue;
    try {
      if (readLock(claim) !== held) continue;
      const beside = `${path}.${mine.trim().split(' ')[2]}`;
      fresh(beside);
      renameSync(beside, path);
      return release;
    } finally {
      removeQuietly(claim);
    }
  }
  throw new UserError(
    'audit-running',
    'Another audit is writing into this folder.',
    { file: LOCK },
    'Wait for it, or choose another folder; if it is certain that none runs, delete that file.',
  );
}

/** Gives a file a second name, which must be free; where the file system has no hard links, a copy. False where it is taken, or the file is gone. */
function secondName(path: string, name: string): boolean {
  try {
    linkSync(path, name);
    return true;
  } catch (e) {
    const { code } = e as NodeJS.ErrnoException;
    if (code === 'EEXIST' || code === 'ENOENT') return false;
  }
  try {
    copyFileSync(path, name, constants.COPYFILE_EXCL);
    return true;
  } catch {
    return false;
  }
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
