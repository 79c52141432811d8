import { closeSync, type Dirent, readSync, statSync } from 'node:fs';
import { basename, dirname, extname, isAbsolute, join, relative, resolve, sep } from 'node:path';
import { parseWhere, type Where } from '../core/intake/index.ts';
import { plantingOf, readPlanter } from '../core/planter/index.ts';
import { line, UserError } from '../core/shared/messages.ts';
import { mapPaths, openPlain, readFolder, readText } from '../files.ts';
import { readList } from './list.ts';
import { type MapsFrom, nameFault } from './source.ts';
import type { BadField, Field, LeftAlone, Settings } from './types.ts';

const PLANTER = /\.planter\.json$/i;

export interface Wanted {
  /** Maps, folders, patterns with * and ?, and lists (.csv), as the user gave them. */
  paths: readonly string[];
  /** Planter files for every field that the list names none for, each "FILE" or "MACHINE=FILE". */
  planters: readonly string[];
  settings: Settings;
  /** How long the check of a field may take. */
  seconds: number;
  /** Where workers read maps; null when they are read here, by their own paths. */
  from: MapsFrom | null;
  /** The output folder: nothing in it is a map. */
  out: string;
}

export interface Found {
  fields: (Field | BadField)[];
  /** Files in the folders that were not taken for maps. */
  leftAlone: LeftAlone[];
  /** Every file on this machine that is read for it, absolute: lists, planters, maps and boundaries. */
  inputs: string[];
}

/** A planter file, absolute, and the machine that it is of. */
interface PlanterFile {
  path: string;
  machine?: string;
}

interface Item {
  /** Where it lies, absolute; below an address the name in the list. */
  at: string;
  planters: PlanterFile[];
  settings: Settings;
  boundary: string | null;
  machine: string | null;
}

/** One file may hold several fields, each with its own choice of records. */
function choiceWords({ where = [] }: Settings, { where: ofAll }: Settings): string {
  return where === ofAll || where.length === 0 ? '' : ` (${where.map((w) => `${w.column}=${w.value}`).join(', ')})`;
}

/** Every field of the audit, in the order of its name. Throws `UserError` when an option or a list cannot be used at all. */
export function findFields(wanted: Wanted): Found {
  const out = resolve(wanted.out);
  const others: { at: string; why: string }[] = [];
  const items: Item[] = [];
  /** Folders that could not be read, with the reason. */
  const unread = new Map<string, string>();
  const plain = (at: string): void => {
    items.push({
      at,
      planters: planterFiles(wanted.planters, '.'),
      settings: wanted.settings,
      boundary: null,
      machine: null,
    });
  };
  const folder = (path: string, { file: keep, folder: enter }: Pattern): void => {
    for (const file of filesBelow(path, out, enter, (at, sentence) => unread.set(at, sentence))) {
      if (!keep(file)) continue;
      const why = noMap(file);
      if (why === null) plain(file);
      else if (!isPart(file) && !PLANTER.test(file)) others.push({ at: file, why });
    }
  };
  for (const path of wanted.paths) {
    const kind = kindOf(path);
    if (kind === 'folder') folder(resolve(path), EVERYTHING);
    else if (kind === 'nothing' && /[*?]/.test(path)) {
      const fixed = path.slice(0, path.search(/[*?]/));
      const start = fixed.endsWith('/') || fixed === '' ? fixed || '.' : dirname(fixed);
      if (kindOf(start) !== 'folder')
        throw new UserError('no-folder', `There is no folder "${start}".`, {}, 'Check the name and the folder.');
      folder(resolve(start), pattern(path));
    } else if (extname(path).toLowerCase() === '.csv') items.push(...listed(path, wanted));
    else {
      refuseMissing(path);
      plain(resolve(path));
    }
  }
  if (items.length === 0 && unread.size === 0)
    throw new UserError(
      'no-maps',
      'No map was found there.',
      {},
      'Maps are .geojson, .json, .shp or .zip files; or give a list (.csv) with a column "map".',
    );
  const root = wanted.from?.url ? '' : common([...items.map((i) => i.at), ...unread.keys()].map((at) => dirname(at)));
  const nameOf = (at: string): string => (root === '' ? at : relative(root, at).split(sep).join('/'));
  const leftAlone = others.map(({ at, why }) => ({ name: nameOf(at), why })).sort((a, b) => (a.name < b.name ? -1 : 1));
  const planters = new Map<string, { text: string } | { sentence: string }>();
  const seen = new Set<string>();
  const fields: (Field | BadField)[] = [];
  for (const item of items) {
    const name = nameOf(item.at) + choiceWords(item.settings, wanted.settings);
    const same = JSON.stringify([item.at, item.planters, item.boundary, item.settings]);
    if (seen.has(same)) continue;
    seen.add(same);
    const one = fieldOf(item, name, wanted, planters);
    fields.push(one);
  }
  for (const [at, sentence] of unread) fields.push({ name: nameOf(at), machine: null, sentence });
  const order = (f: Field | BadField): string => `${f.name}\0${'settings' in f ? (f.settings.planting ?? '') : ''}`;
  fields.sort((a, b) => (order(a) < order(b) ? -1 : order(a) > order(b) ? 1 : 0));
  const local = (i: Item): (string | null)[] => [
    ...i.planters.map((p) => p.path),
    ...(wanted.from?.url ? [] : [i.at, i.boundary]),
  ];
  const inputs = [...wanted.paths, ...items.flatMap(local)].flatMap((p) => (p === null ? [] : [resolve(p)]));
  return { fields, leftAlone, inputs: [...new Set(inputs)] };
}

function fieldOf(
  item: Item,
  name: string,
  wanted: Wanted,
  planters: Map<string, { text: string } | { sentence: string }>,
): Field | BadField {
  const { machine } = item;
  if (item.planters.length === 0)
    return {
      name,
      machine,
      sentence: 'No planter is given for this map. Name one in the list, or add "--planter FILE".',
    };
  const read: { text: string; file: string; machine?: string }[] = [];
  for (const { path, machine: of } of item.planters) {
    const found = planters.get(path) ?? planterAt(path);
    planters.set(path, found);
    if ('sentence' in found) return { name, machine, sentence: found.sentence };
    read.push({ text: found.text, file: basename(path), ...(of === undefined ? {} : { machine: of }) });
  }
  const several = read.length > 1 || read[0].machine !== undefined;
  const settings = several ? { ...item.settings, planters: read } : item.settings;
  try {
    const { planting } = settings;
    if (planting !== undefined) {
      const known = read.map((p) => readPlanter(p.text, p.file));
      // Refused with the names there are where no planter has it.
      if (!known.some((p) => p.plantings.some((k) => k.name === planting))) plantingOf(known[0], planting);
    }
    const files = (at: string): string[] => (wanted.from === null ? mapPaths(at) : namesFor(at, wanted.from));
    return {
      name,
      machine,
      map: files(item.at),
      boundary: item.boundary === null ? [] : files(item.boundary),
      planter: read[0].text,
      planterFile: read[0].file,
      settings,
      seconds: wanted.seconds,
    };
  } catch (e) {
    if (e instanceof UserError) return { name, machine, sentence: line(e.detail) };
    throw e;
  }
}

function planterAt(path: string): { text: string } | { sentence: string } {
  try {
    const text = readText(path);
    readPlanter(text, basename(path));
    return { text };
  } catch (e) {
    if (e instanceof UserError) return { sentence: line(e.detail) };
    throw e;
  }
}

/** Names below the place that workers read from. */
function namesFor(at: string, from: MapsFrom): string[] {
  const refuse = (fault: ReturnType<typeof nameFault>): void => {
    if (fault) throw new UserError('outside', fault.sentence, { file: basename(at) }, fault.todo);
  };
  if (from.url) {
    refuse(nameFault(at, false));
    if (/\.(shp|dbf|prj|cpg|shx)$/i.test(at))
      throw new UserError(
        'loose-parts',
        'The loose parts of a shapefile are not fetched from an address.',
        { file: basename(at) },
        'Pack them as a .zip.',
      );
    return [at];
  }
  return mapPaths(at).map((path) => {
    const name = relative(from.folder!, path).split(sep).join('/');
    // Where it lies on another drive it has no name below the folder.
    refuse(nameFault(isAbsolute(name) ? '..' : name));
    return name;
  });
}

function listed(path: string, wanted: Wanted): Item[] {
  const here = dirname(resolve(path));
  const at = (cell: string): string => (wanted.from?.url ? cell : resolve(here, cell));
  return readList(readText(path, 'list', 100_000_000), basename(path)).map((row) => ({
    at: at(row.map),
    planters:
      row.planter === undefined ? planterFiles(wanted.planters, '.') : planterFiles(row.planter.split(/\s*;\s*/), here),
    settings: {
      ...wanted.settings,
      ...(row.planting === undefined ? {} : plantingCell(row.planting)),
      ...(row.layer === undefined ? {} : { layer: row.layer }),
      ...(row.crs === undefined ? {} : { crs: row.crs }),
      ...(row.where === undefined ? {} : { where: conditions(row.where) }),
    },
    boundary: row.boundary === undefined ? null : at(row.boundary),
    machine: row.machine ?? null,
  }));
}

/** "FILE" or "MACHINE=FILE" each, from `folder` on. */
function planterFiles(cells: readonly string[], folder: string): PlanterFile[] {
  return cells.map((cell) => {
    const at = cell.indexOf('=');
    if (at < 1 || kindOf(resolve(folder, cell)) === 'file') return { path: resolve(folder, cell) };
    return { machine: cell.slice(0, at).trim(), path: resolve(folder, cell.slice(at + 1).trim()) };
  });
}

/** "narrow", or "North 2=narrow; 2026-04-22=wide" by machine or day. */
function plantingCell(cell: string): Pick<Settings, 'planting' | 'plantings'> {
  if (!cell.includes('=')) return { planting: cell };
  const out: { planting?: string; plantings: Record<string, string> } = { plantings: {} };
  for (const part of cell.split(/\s*;\s*/)) {
    const at = part.indexOf('=');
    if (at < 1) out.planting = part;
    else out.plantings[part.slice(0, at).trim()] = part.slice(at + 1).trim();
  }
  return out;
}

/** "Field=North; Machine=2" as conditions. */
function conditions(cell: string): Where[] {
  return cell.split(/;\s*(?=[^=;]+=)/).map((text) => parseWhere(text, 'in the column "where" of the list'));
}

/** Refuses a name that leads to nothing, which is a slip; a file that is there and cannot be read is a row, whether it was named or found. */
function refuseMissing(path: string): void {
  try {
    mapPaths(path);
  } catch (e) {
    if (!(e instanceof UserError) || e.detail.code === 'no-file') throw e;
  }
}

function kindOf(path: string): 'folder' | 'file' | 'nothing' {
  try {
    return statSync(path).isDirectory() ? 'folder' : 'file';
  } catch {
    return 'nothing';
  }
}

/**
 * Plain files below a folder, hidden ones and the output left out; links to folders are not followed, so there are no circles. A folder that cannot
 * be read is told of, and the others are gone through.
 */
function filesBelow(
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

/** Whether a link leads to a file; one that leads nowhere, or may not be followed, is taken for such, so that it is told of. */
function leadsToFile(link: string): boolean {
  try {
    return statSync(link).isFile();
  } catch {
    return true;
  }
}

function isPart(path: string): boolean {
  return /\.(dbf|prj|cpg|shx)$/i.test(path);
}

/** Why a file is not taken for a map, by its ending, and a .json, which may be anything, by how it begins; null for a map. */
function noMap(path: string): string | null {
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

/** Which files are meant, and in which folders they may lie; all paths absolute. */
interface Pattern {
  file(path: string): boolean;
  folder(path: string): boolean;
}
const EVERYTHING: Pattern = { file: () => true, folder: () => true };

/** `*` and `?` stay within one folder, `**` does not. */
function pattern(path: string): Pattern {
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

/** The folder that holds all of them. */
function common(folders: readonly string[]): string {
  let parts = folders[0].split(sep);
  for (const f of folders) {
    const other = f.split(sep);
    let n = 0;
    while (n < parts.length && n < other.length && parts[n] === other[n]) n++;
    parts = parts.slice(0, n);
  }
  return parts.join(sep) || sep;
}
