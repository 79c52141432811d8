import {
  closeSync,
  createReadStream,
  existsSync,
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
import type { NamedBytes } from '../core/intake/types.ts';
import { UserError } from '../core/messages.ts';

/** What belongs to one shapefile, beside its .shp. */
const PARTS = ['.shp', '.dbf', '.prj', '.cpg', '.shx'];

/** A file on disk as named bytes. Throws `UserError` when it is not there or cannot be read. */
export function namedFile(path: string): NamedBytes {
  const size = sizeOf(path);
  return {
    name: basename(path),
    sizeBytes: size,
    async *chunks() {
      for await (const chunk of createReadStream(path, { highWaterMark: 1 << 20 })) yield chunk as Uint8Array;
    },
  };
}

/** The map at `path` with the files that belong to it: a .shp brings its .dbf, .prj and .cpg, whatever their case. Paths are absolute. */
export function mapPaths(path: string): string[] {
  sizeOf(path);
  const full = resolve(path);
  const ext = extname(full);
  if (!PARTS.includes(ext.toLowerCase())) return [full];
  const stem = basename(full, ext).toLowerCase();
  return readdirSync(dirname(full))
    .filter((n) => PARTS.includes(extname(n).toLowerCase()) && basename(n, extname(n)).toLowerCase() === stem)
    .sort()
    .map((n) => join(dirname(full), n));
}

/** The text of a small file, UTF-8. */
export function readText(path: string): string {
  if (sizeOf(path) > 5_000_000)
    throw new UserError(
      'file-size',
      'The file is too large for a planter file.',
      { file: basename(path) },
      'Is it the map?',
    );
  return readFileSync(path, 'utf8');
}

function sizeOf(path: string): number {
  const file = basename(path);
  let found: ReturnType<typeof statSync> | undefined;
  try {
    found = statSync(path);
    closeSync(openSync(path, 'r'));
  } catch (e) {
    const code = (e as NodeJS.ErrnoException).code;
    if (code === 'EACCES' || code === 'EPERM')
      throw new UserError('file-access', 'The file may not be read.', { file }, 'Ask for the right to read it.');
    if (!found) throw new UserError('no-file', `There is no file "${path}".`, {}, 'Check the name and the folder.');
    throw e;
  }
  if (!found.isFile())
    throw new UserError(
      'not-a-file',
      found.isDirectory() ? 'This is a folder, not a file.' : 'This is not a plain file.',
      { file },
      'Name the file in it.',
    );
  return Number(found.size);
}

/** Refuses an output that is one of the inputs, by another name or link too, or that has no folder to lie in. */
export function checkOutput(out: string, inputs: readonly string[]): void {
  const file = basename(out);
  if (!existsSync(dirname(resolve(out))))
    throw new UserError(
      'no-folder',
      `There is no folder "${dirname(out)}".`,
      { file },
      'Make it first, or choose another.',
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

/** Writes beside `out` and renames, so that nobody ever sees half a file. */
export function writeOutput(out: string, parts: Iterable<string>): void {
  const beside = `${out}.${process.pid}.part`;
  try {
    const fd = openSync(beside, 'wx');
    try {
      for (const block of blocks(parts)) writeAll(fd, block);
    } finally {
      closeSync(fd);
    }
    renameSync(beside, out);
  } catch (e) {
    rmSync(beside, { force: true });
    const code = (e as NodeJS.ErrnoException).code;
    if (code === 'EACCES' || code === 'EPERM' || code === 'EROFS' || code === 'ENOSPC')
      throw new UserError(
        'file-access',
        code === 'ENOSPC' ? 'The disk is full.' : 'The output may not be written there.',
        { file: basename(out) },
        'Choose another folder.',
      );
    throw e;
  }
}

function writeAll(fd: number, text: string): void {
  const bytes = Buffer.from(text, 'utf8');
  for (let at = 0; at < bytes.length; ) at += writeSync(fd, bytes, at);
}

/** Small pieces of text put together to about a megabyte. */
export function* blocks(parts: Iterable<string>): Generator<string> {
  let held: string[] = [];
  let length = 0;
  for (const p of parts) {
    held.push(p);
    length += p.length;
    if (length > 1 << 20) {
      yield held.join('');
      held = [];
      length = 0;
    }
  }
  if (length > 0) yield held.join('');
}
