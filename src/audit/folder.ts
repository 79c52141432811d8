/** Files below a folder that a name or a pattern means, and which of them are maps. */
import { closeSync, type Dirent, readSync, statSync } from 'node:fs';
import { extname, join, resolve, sep } from 'node:path';
import { line, UserError } from '../core/shared/messages.ts';
import { openPlain, readFolder } from '../files.ts';

export function kindOf(path: string): 'folder' | 'file' | 'nothing' {
  try {
    return statSync(path).isDirectory() ? 'folder' : 'file';
  } catch {
    return 'nothing';
  }
}

/** Which files are meant, and in which folders they may lie; all paths absolute. */
export interface Pattern {
  file(path: string): boolean;
  folder(path: string): boolean;
}
export const EVERYTHING: Pattern = { file: () => true, folder: () => true };

/** `*` and `?` stay within one folder, `**` does not. */
export function pattern(path: string): Pattern {
  const parts = resolve(path).split(sep);
  const matcher = (part: readonly string[]): RegExp => {
    const source = part
      .join('/')
      .replace(/\*\*\/?|[*?]|[.+^${}()|[\]\\]/g, (m) =>
        m.startsWith('**') ? '(?:.*/)?' : m === '*' ? '[^/]*' : m === '?' ? '[^/]' : `\\${m}`,
      );
    return new RegExp(`^${source}$`);
  };
  const whole = matcher(parts);
  // Below the first part with "**" any folder may hold a match.
  const deep = parts.findIndex((p) => p.includes('**'));
  return {
    file: (file) => whole.test(file.split(sep).join('/')),
    folder(at) {
      const names = at.split(sep);
      const fixed = deep < 0 ? names.length : Math.min(names.length, deep);
      return (
        (deep >= 0 || names.length < parts.length) &&
        matcher(parts.slice(0, fixed)).test(names.slice(0, fixed).join('/'))
      );
    },
  };
}

/**
 * Plain files below a folder, hidden ones and the output left out; links to folders are not followed, so there are no circles. A folder that cannot
 * be read is reported, and the others are searched.
 */
export function filesBelow(
  folder: string,
  out: string,
  enter: (folder: string) => boolean,
  unread: (folder: string, sentence: string) => void,
): string[] {
  const found: string[] = [];
  const open = [folder];
  for (let at = open.pop(); at !== undefined; at = open.pop()) {
    let inside: Dirent[] = [];
    try {
      inside = readFolder(at);
    } catch (e) {
      if (!(e instanceof UserError)) throw e;
      unread(at, line(e.detail));
    }
    for (const f of inside) {
      const path = join(at, f.name);
      if (f.name.startsWith('.') || path === out) continue;
      if (f.isDirectory()) {
        if (enter(path)) open.push(path);
      } else if (f.isFile() || (f.isSymbolicLink() && leadsToFile(path))) found.push(path);
    }
  }
  return found.sort();
}

/** Whether a link leads to a file; a broken or forbidden one counts as a file, so that it gets a row. */
function leadsToFile(link: string): boolean {
  try {
    return statSync(link).isFile();
  } catch {
    return true;
  }
}

export function isPart(path: string): boolean {
  return /\.(dbf|prj|cpg|shx)$/i.test(path);
}

/** Why a file is not a map: decided by its ending, and for a .json, which may be anything, by its first bytes; null for a map. */
export function noMap(path: string): string | null {
  const ext = extname(path).toLowerCase();
  if (ext === '.geojson' || ext === '.zip' || ext === '.shp') return null;
  if (ext !== '.json') return ext === '' ? 'its name has no ending' : `"${ext}" is not the ending of a map`;
  const start = Buffer.alloc(4096);
  let fd: number | null;
  try {
    fd = openPlain(path);
  } catch {
    // Its row says why.
    return null;
  }
  if (fd === null) return null;
  try {
    const text = start.toString('latin1', 0, readSync(fd, start, 0, start.length, 0));
    return /"type"\s*:\s*"Feature(Collection)?"/.test(text) ? null : 'it does not begin as a GeoJSON map does';
  } finally {
    closeSync(fd);
  }
}
