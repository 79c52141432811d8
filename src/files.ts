import {
  closeSync,
  constants,
  copyFileSync,
  createReadStream,
  type Dirent,
  existsSync,
  fstatSync,
  fsync,
  linkSync,
  lstatSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  realpathSync,
  renameSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs';
import { basename, dirname, extname, join, resolve } from 'node:path';
import { promisify } from 'node:util';
import type { NamedBytes } from './core/intake/types.ts';
import { UserError } from './core/shared/messages.ts';

const onDisk = promisify(fsync);

/** What belongs to one shapefile, beside its .shp. */
const PARTS = ['.shp', '.dbf', '.prj', '.cpg', '.shx'];

/** A file on disk as named bytes. Throws `UserError` when it is not there or cannot be read. */
export function namedFile(path: string): NamedBytes {
  const size = sizeOf(path);
  return {
    name: basename(path),
    sizeBytes: size,
    async *chunks() {
      // Half of a read map would be a wrong answer, so a file that goes or changes while it is read ends the check.
      const gone = (): UserError =>
        new UserError(
          'file-changed',
          'The file was changed or removed while it was read.',
          { file: basename(path) },
          'Wait until it is copied completely, then check again.',
        );
      let read = 0;
      try {
        const fd = openPlain(path);
        if (fd === null) throw gone();
        for await (const chunk of createReadStream('', { fd, highWaterMark: 1 << 20 })) {
          read += (chunk as Uint8Array).byteLength;
          if (read > size) throw gone();
          yield chunk as Uint8Array;
        }
      } catch (e) {
        if (e instanceof UserError || typeof (e as NodeJS.ErrnoException).code !== 'string') throw e;
        throw (e as NodeJS.ErrnoException).code === 'ENOENT' ? gone() : unreadable(path, e as NodeJS.ErrnoException);
      }
      if (read !== size) throw gone();
    },
  };
}

/**
 * The map at `path` with the files that belong to it: a .shp brings its .dbf, .prj and .cpg, whatever their case, and a folder all files in it but hidden
 * ones. Paths are absolute. Throws `UserError` where there is no file.
 */
export function mapPaths(path: string): string[] {
  const full = resolve(path);
  if (statSync(full, { throwIfNoEntry: false })?.isDirectory()) {
    const files = readFolder(full).filter((f) => f.isFile() && !f.name.startsWith('.'));
    if (files.length > 0) return files.map((f) => join(full, f.name)).sort();
    throw new UserError(
      'folder-empty',
      'The folder holds no files.',
      { file: basename(full) },
      'Name the file of the map, or the folder that it lies in.',
    );
  }
  sizeOf(path);
  const ext = extname(full);
  if (!PARTS.includes(ext.toLowerCase())) return [full];
  const stem = basename(full, ext).toLowerCase();
  return readFolder(dirname(full))
    .map((f) => f.name)
    .filter((n) => PARTS.includes(extname(n).toLowerCase()) && basename(n, extname(n)).toLowerCase() === stem)
    .sort()
    .map((n) => join(dirname(full), n));
}

/** What lies in a folder. Throws `UserError` when it is not there or may not be read. */
export function readFolder(path: string): Dirent[] {
  try {
    return readdirSync(path, { withFileTypes: true });
  } catch (e) {
    throw unreadable(path, e as NodeJS.ErrnoException, 'folder');
  }
}

/** The text of a planter file, or of another small file that `what` names, UTF-8. */
export function readText(path: string, what = 'planter file', mostBytes = 5_000_000): string {
  if (sizeOf(path) > mostBytes)
    throw new UserError(
      'file-size',
      `The file is too large for a ${what}.`,
      { file: basename(path) },
      'Is it the map?',
    );
  let fd: number | null = null;
  try {
    fd = openPlain(path);
    return fd === null ? '' : readFileSync(fd, 'utf8');
  } catch (e) {
    throw unreadable(path, e as NodeJS.ErrnoException);
  } finally {
    if (fd !== null) closeSync(fd);
  }
}

function unreadable(path: string, e: NodeJS.ErrnoException, what: 'file' | 'folder' = 'file'): UserError {
  const file = basename(path);
  if (e.code === 'EACCES' || e.code === 'EPERM')
    return new UserError(
      'file-access',
      `There is no permission to read the ${what}.`,
      { file },
      'Ask for permission to read it.',
    );
  if (what === 'folder' && (e.code === 'ENOENT' || e.code === 'ENOTDIR'))
    return new UserError('no-folder', `There is no folder "${path}".`, {}, 'Check the name and the folder.');
  return new UserError(
    'file-read',
    `The system could not read the ${what} (${e.code ?? e.message}).`,
    { file },
    'Copy it to another disk and check that copy.',
  );
}

/**
 * The descriptor of a plain file, or null where it is none. A pipe would be waited for until somebody writes into it, so nothing is opened that
 * was not looked at, and what took its place since is opened without waiting.
 */
export function openPlain(path: string): number | null {
  if (!statSync(path).isFile()) return null;
  const fd = openSync(path, constants.O_RDONLY | (constants.O_NONBLOCK ?? 0));
  if (fstatSync(fd).isFile()) return fd;
  closeSync(fd);
  return null;
}

function sizeOf(path: string): number {
  const file = basename(path);
  let found: ReturnType<typeof statSync> | undefined;
  try {
    found = statSync(path);
    const fd = openPlain(path);
    if (fd !== null) closeSync(fd);
  } catch (e) {
    const { code } = e as NodeJS.ErrnoException;
    if (!found && code !== 'EACCES' && code !== 'EPERM') throw notThere(path);
    throw unreadable(path, e as NodeJS.ErrnoException);
  }
  if (!found.isFile())
    throw new UserError(
      'not-a-file',
      found.isDirectory() ? 'This is a folder, not a file.' : 'This is not a plain file.',
      { file },
      found.isDirectory() ? 'Name the file in it.' : 'Write its output to a file, and name that.',
    );
  return Number(found.size);
}

function notThere(path: string): UserError {
  let link = false;
  try {
    link = lstatSync(path).isSymbolicLink();
  } catch {
    // Not even a link.
  }
  return link
    ? new UserError('no-file', 'This is a link that leads to nothing.', { file: basename(path) }, 'Put the file there.')
    : new UserError('no-file', `There is no file "${path}".`, {}, 'Check the name and the folder.');
}

/** Refuses an output that is one of the inputs, by another name or link too, or that has no folder to lie in. */
export function checkOutput(out: string, inputs: readonly string[]): void {
  const file = basename(out);
  if (!existsSync(dirname(resolve(out))))
    throw new UserError(
      'no-folder',
      `There is no folder "${dirname(out)}".`,
      { file },
      'Create it first, or choose another.',
    );
  if (!existsSync(out)) return;
  if (!statSync(out).isFile())
    throw new UserError('not-a-file', 'The output is not a plain file.', { file }, 'Choose another name.');
  const same = (path: string): boolean => {
    const [a, b] = [statSync(out), statSync(path)];
    return realpathSync(out) === realpathSync(path) || (a.ino !== 0 && a.ino === b.ino && a.dev === b.dev);
  };
  if (inputs.some(same))
    throw new UserError(
      'overwrite',
      'The output would overwrite an input of this check.',
      { file },
      'Choose another name.',
    );
}

const WRITE_FAULTS: Readonly<Record<string, string>> = {
  EACCES: 'There is no permission to write the output there.',
  EPERM: 'There is no permission to write the output there.',
  EROFS: 'The disk is read-only.',
  ENOSPC: 'The disk is full.',
  EDQUOT: 'Your disk quota is used up.',
  EFBIG: 'The output is larger than the file system allows.',
  ENAMETOOLONG: 'The name of the output is too long.',
  EEXIST: 'There is a file where a folder of the output should be.',
  EISDIR: 'The output is a folder.',
  ENOTDIR: 'The folder of the output is a file.',
};

/**
 * Writes beside `out`, makes sure that it is on the disk, and renames, so that half a file is never visible and an earlier output stays until the new
 * one is complete. A process that gets a signal to end (Ctrl+C, a terminal that closes) removes the temporary file first; one that is killed may leave it, and
 * its name ends in `.part`. The thread continues while the disk works; a write to the system's memory is too short to hand to another
 * thread (12 of 15 steps of a field's three reports).
 */
export function writeOutput(out: string, parts: Iterable<string> | Uint8Array): Promise<void> {
  return writeOutputs([[out, parts]]);
}

/** The same for files that belong together: all of them get their names, or every name keeps its old file. */
export async function writeOutputs(
  files: readonly (readonly [string, Iterable<string> | Uint8Array])[],
): Promise<void> {
  const done: Written[] = [];
  let at = '';
  try {
    for (const [out, parts] of files) {
      at = out;
      const beside = `${out}.${process.pid}.${Date.now().toString(36)}.part`;
      const fd = openSync(beside, 'wx');
      done.push({ out, beside });
      hold(beside);
      try {
        if (parts instanceof Uint8Array) writeAll(fd, parts);
        else
          for (const block of blocks(parts)) {
            writeAll(fd, Buffer.from(block, 'utf8'));
            // A signal is heard between two blocks.
            if (block.length >= BLOCK) await new Promise((resolve) => setImmediate(resolve));
          }
        await onDisk(fd);
      } finally {
        closeSync(fd);
      }
    }
    rename(done, (out) => {
      at = out;
    });
  } catch (e) {
    // A folder that may not be written may not be cleaned either; then nothing was made in it.
    for (const { beside } of done) removeQuietly(beside);
    throw writeFault(at, e);
  } finally {
    for (const { beside } of done) letGo(beside);
  }
}

interface Written {
  out: string;
  beside: string;
}

/** Gives all of them their names. Where one cannot have its own, those before it give theirs back to what had them. */
function rename(files: readonly Written[], at: (out: string) => void): void {
  const earlier: (string | null)[] = [];
  let renamed = 0;
  try {
    if (files.length > 1)
      for (const { out, beside } of files) {
        at(out);
        earlier.push(keep(out, `${beside}.old.part`));
      }
    for (const { out, beside } of files) {
      at(out);
      renameSync(beside, out);
      renamed++;
    }
  } catch (e) {
    for (const [i, { out }] of files.slice(0, renamed).entries()) {
      const kept = earlier[i];
      if (kept === null) removeQuietly(out);
      else renameSync(kept, out);
    }
    throw e;
  } finally {
    for (const kept of earlier) if (kept !== null) removeQuietly(kept);
  }
}

/** Gives the file at `out` a second name, or where the file system has no hard links makes a copy; null where there is no file. */
function keep(out: string, name: string): string | null {
  if (lstatSync(out, { throwIfNoEntry: false }) === undefined) return null;
  try {
    linkSync(out, name);
  } catch {
    copyFileSync(out, name, constants.COPYFILE_EXCL);
  }
  return name;
}

/** Temporary files beside outputs: a process that gets a signal to end removes them. */
const unfinished = new Set<string>();
const SIGNALS = ['SIGINT', 'SIGTERM', 'SIGHUP'] as const;

function hold(path: string): void {
  // Installed only while there is something to remove: a listener would keep a busy process from ending at once.
  if (unfinished.size === 0) for (const signal of SIGNALS) process.on(signal, takeAway);
  unfinished.add(path);
}

function letGo(path: string): void {
  unfinished.delete(path);
  if (unfinished.size === 0) for (const signal of SIGNALS) process.off(signal, takeAway);
}

function takeAway(signal: NodeJS.Signals): void {
  for (const path of [...unfinished]) {
    removeQuietly(path);
    letGo(path);
  }
  // Nobody else heard it: it ends the process, as it would have.
  if (process.listenerCount(signal) === 0) process.kill(process.pid, signal);
}

/** The system's error when writing `out`, as a sentence; any other exception is returned unchanged. */
export function writeFault(out: string, e: unknown): unknown {
  const { code } = e as NodeJS.ErrnoException;
  if (e instanceof UserError || typeof code !== 'string') return e;
  return new UserError(
    'file-access',
    WRITE_FAULTS[code] ?? `The system could not write the output (${code}).`,
    { file: basename(out) },
    'Choose another folder.',
  );
}

/** Makes a folder and those that it lies in, where they are missing. Throws `UserError`. */
export function makeFolder(path: string): void {
  const missing: string[] = [];
  for (let at = resolve(path); !existsSync(at) && dirname(at) !== at; at = dirname(at)) missing.unshift(at);
  // One by one: asked to make all of them, Node 20 tries for ever where the system says of a folder that is there that it is not (/proc).
  for (const folder of missing)
    try {
      mkdirSync(folder);
    } catch (e) {
      const { code } = e as NodeJS.ErrnoException;
      if (code === 'EEXIST' && existsSync(folder) && statSync(folder).isDirectory()) continue;
      if (code !== 'ENOENT') throw writeFault(folder, e);
      throw new UserError(
        'file-access',
        'No folder can be created there.',
        { file: basename(folder) },
        'Choose another folder.',
      );
    }
}

/** Removes a temporary file of this program; a failure is ignored. */
export function removeQuietly(path: string): void {
  try {
    rmSync(path, { force: true });
  } catch {
    // What stopped a write may stop this too.
  }
}

function writeAll(fd: number, bytes: Uint8Array): void {
  for (let at = 0; at < bytes.length; ) at += writeSync(fd, bytes, at);
}

const BLOCK = 1 << 20;

/** Small pieces of text put together to about a megabyte. */
export function* blocks(parts: Iterable<string>): Generator<string> {
  let held: string[] = [];
  let length = 0;
  for (const p of parts) {
    held.push(p);
    length += p.length;
    if (length > BLOCK) {
      yield held.join('');
      held = [];
      length = 0;
    }
  }
  if (length > 0) yield held.join('');
}
