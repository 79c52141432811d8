/** Every field of an audit: each map with its planter and settings. */
import { basename, dirname, extname, isAbsolute, relative, resolve, sep } from 'node:path';
import { plantingOf, readPlanter } from '../core/planter/index.ts';
import { line, UserError } from '../core/shared/messages.ts';
import { mapPaths, readText } from '../files.ts';
import { EVERYTHING, filesBelow, isPart, kindOf, noMap, type Pattern, pattern } from './folder.ts';
import { type Item, listedItems, plainItem, type Wanted } from './items.ts';
import { type MapsFrom, nameFault } from './source.ts';
import type { BadField, Field, LeftAlone, Settings } from './types.ts';

const PLANTER = /\.planter\.json$/i;

export interface Found {
  fields: (Field | BadField)[];
  /** Files in the folders that were not taken for maps. */
  leftAlone: LeftAlone[];
  /** Every file on this machine that is read for it, absolute: lists, planters, maps and boundaries. */
  inputs: string[];
}

/** One file may hold several fields, each with its own choice of records. */
function choiceText({ where = [] }: Settings, { where: ofAll }: Settings): string {
  return where === ofAll || where.length === 0 ? '' : ` (${where.map((w) => `${w.column}=${w.value}`).join(', ')})`;
}

/** Every field of the audit, in the order of its name. Throws `UserError` when an option or a list cannot be used at all. */
export function findFields(wanted: Wanted): Found {
  const out = resolve(wanted.out);
  const others: { at: string; why: string }[] = [];
  const items: Item[] = [];
  /** Folders that could not be read, with the reason. */
  const unread = new Map<string, string>();
  const folder = (path: string, { file: keep, folder: enter }: Pattern): void => {
    for (const file of filesBelow(path, out, enter, (at, sentence) => unread.set(at, sentence))) {
      if (!keep(file)) continue;
      const why = noMap(file);
      if (why === null) items.push(plainItem(file, wanted));
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
    } else if (extname(path).toLowerCase() === '.csv') items.push(...listedItems(path, wanted));
    else {
      refuseMissing(path);
      items.push(plainItem(resolve(path), wanted));
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
    const name = nameOf(item.at) + choiceText(item.settings, wanted.settings);
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
      // Where no planter has it, the error lists the names there are.
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
    // A file on another drive has no name below the folder.
    refuse(nameFault(isAbsolute(name) ? '..' : name));
    return name;
  });
}

/** Refuses a name of nothing, which is a typing error; an existing file that cannot be read gets a row, whether it was named or found. */
function refuseMissing(path: string): void {
  try {
    mapPaths(path);
  } catch (e) {
    if (!(e instanceof UserError) || e.detail.code === 'no-file') throw e;
  }
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
