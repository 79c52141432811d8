import { type Note, UserError } from '../messages.ts';
import { head, shown, splitName } from './bytes.ts';
import type { Limits } from './limits.ts';
import type { NamedBytes } from './types.ts';
import { openZip } from './zip.ts';

/** The files of one layer. */
export type Layer =
  | { format: 'geojson'; source: string; file: NamedBytes }
  | { format: 'shapefile'; source: string; parts: ShapefileParts };

export interface ShapefileParts {
  shp: NamedBytes;
  dbf?: NamedBytes;
  prj?: NamedBytes;
  cpg?: NamedBytes;
  shx?: NamedBytes;
}

const PARTS = ['shp', 'dbf', 'prj', 'cpg', 'shx'] as const;
const ARCHIVES = new Set(['zip', '7z', 'rar', 'gz', 'tgz', 'tar', 'bz2', 'xz', 'kmz']);

/**
 * Step 1 of the intake: the one layer among the files, archives opened. Extensions count in any letter case, and so do the base names that hold a
 * shapefile together. Throws `UserError` 'several-layers' naming them when `layer` does not choose, 'no-layer' when there is none.
 */
export async function pick(
  files: NamedBytes[],
  layer: string | undefined,
  limits: Limits,
  notes: Note[],
): Promise<Layer> {
  if (files.length === 0) {
    throw new UserError('no-file', 'No map was given.', {}, 'Give a GeoJSON, a .zip, or the parts of one shapefile.');
  }
  const kinds = await Promise.all(files.map(kindOf));
  const zips = files.filter((_, i) => kinds[i] === 'zip');
  if (zips.length > 0 && files.length > 1) {
    throw new UserError(
      'several-layers',
      'An archive was given together with other files.',
      { file: shown(zips[0].name) },
      'Give one map at a time.',
    );
  }
  const inside = zips.length === 1;
  const all = inside ? await openZip(zips[0], limits) : files;
  const container = inside ? shown(zips[0].name) : '';
  const { layers, orphans } = layersOf(all, inside ? all.map((f) => splitName(f.name).ext) : kinds, container);
  if (layers.length === 0) throw nothing(all, container);

  if (orphans.length > 0) {
    notes.push({
      code: 'part-not-read',
      sentence: `"${shown(orphans[0].name)}.${orphans[0].ext}" belongs to no .shp of that name and was not read.`,
      place: { file: container || shown(files[0].name) },
      todo: 'Give all parts of a shapefile the same name.',
    });
  }
  const named = layers.map((l) => l.name);
  const same = (a: string, b: string): boolean => a.toLowerCase() === b.toLowerCase();
  if (layer === undefined) {
    if (layers.length > 1) {
      throw new UserError(
        'several-layers',
        `There are ${layers.length} layers: ${listed(named)}.`,
        { file: container || shown(files[0].name) },
        'Choose one of them (--layer NAME).',
      );
    }
    noteArchives(all, container, notes);
    return finish(layers[0], container);
  }
  const byPath = layers.filter((l) => same(l.name, layer));
  const chosen =
    byPath.length > 0
      ? byPath
      : layers.filter((l) => same(splitName(l.name).base, layer) || same(`${l.name}.${l.ext}`, layer));
  if (chosen.length !== 1) {
    throw new UserError(
      'layer-not-found',
      chosen.length === 0
        ? `There is no layer "${shown(layer)}"; there is ${listed(named)}.`
        : `More than one layer is called "${shown(layer)}": ${listed(chosen.map((l) => l.name))}.`,
      { file: container || shown(files[0].name) },
      'Choose one of them (--layer NAME).',
    );
  }
  return finish(chosen[0], container);
}

interface Found {
  /** Path without extension, as the user would name it. */
  name: string;
  ext: string;
  files: Map<string, NamedBytes>;
  doubled: string;
}

function layersOf(files: NamedBytes[], kinds: string[], container: string): { layers: Found[]; orphans: Found[] } {
  const found = new Map<string, Found>();
  files.forEach((file, i) => {
    const kind = kinds[i];
    const isMap = kind === 'geojson' || kind === 'json';
    if (!isMap && !PARTS.includes(kind as never)) return;
    const { folder, base } = splitName(file.name);
    const key = `${isMap ? `json:${file.name}` : 'shp:'}${folder}${base}`.toLowerCase();
    let layer = found.get(key);
    if (!layer) {
      layer = { name: `${folder}${base}`, ext: kind, files: new Map(), doubled: '' };
      found.set(key, layer);
    }
    if (layer.files.has(kind)) layer.doubled = kind;
    if (kind === 'shp') layer.ext = 'shp';
    layer.files.set(kind, file);
  });
  let layers = [...found.values()];
  const shapefiles = layers.filter((l) => l.files.has('shp'));
  const doubled = layers.find((l) => l.doubled);
  if (doubled) {
    throw new UserError(
      'part-twice',
      `"${shown(doubled.name)}.${doubled.doubled}" is there twice, in different letter cases.`,
      { file: container || shown(doubled.name) },
      'Keep one of them.',
    );
  }
  const maps = layers.filter((l) => l.ext === 'geojson');
  const json = layers.filter((l) => l.ext === 'json');
  layers = [...shapefiles, ...maps];
  // A plain .json beside real layers is mostly a description of them.
  if (layers.length === 0) layers = json;
  const orphans = [...found.values()].filter((l) => PARTS.includes(l.ext as never) && l.ext !== 'shp');
  return { layers, orphans };
}

function finish(layer: Found, container: string): Layer {
  const main = layer.files.get('shp') ?? (layer.files.get(layer.ext) as NamedBytes);
  const source = container ? `${container}/${shown(main.name)}` : shown(main.name);
  if (layer.ext !== 'shp') return { format: 'geojson', source, file: main };
  const parts: ShapefileParts = { shp: main };
  for (const ext of PARTS) {
    const file = layer.files.get(ext);
    if (file !== undefined) parts[ext] = file;
  }
  return { format: 'shapefile', source, parts };
}

/** 'zip', 'geojson', 'json' or a shapefile extension by the name; where the name says nothing, by the first bytes. */
async function kindOf(file: NamedBytes): Promise<string> {
  const { ext } = splitName(file.name);
  if (ext === 'zip' || ext === 'geojson' || ext === 'json' || PARTS.includes(ext as never)) return ext;
  if (ARCHIVES.has(ext)) return ext;
  const first = await head(file, 4);
  if (first[0] === 0x50 && first[1] === 0x4b && first[2] === 3 && first[3] === 4) return 'zip';
  if (first[0] === 0 && first[1] === 0 && first[2] === 0x27 && first[3] === 0x0a) return 'shp';
  if (first[0] === 0x7b || (first[0] === 0xef && first[3] === 0x7b)) return 'geojson';
  return ext;
}

function nothing(files: NamedBytes[], container: string): UserError {
  const place = { file: container || shown(files[0].name) };
  const nested = files.find((f) => ARCHIVES.has(splitName(f.name).ext));
  if (nested) {
    return new UserError(
      container ? 'zip-nested' : 'unknown-format',
      container ? `The archive holds another archive, "${shown(nested.name)}".` : 'This kind of archive is not read.',
      place,
      container ? 'Unpack it and give the inner archive.' : 'Unpack it, or pack the map as a .zip.',
    );
  }
  const part = files.find((f) => PARTS.includes(splitName(f.name).ext as never));
  if (part) {
    return new UserError(
      'shp-missing',
      `"${shown(part.name)}" is there, but the .shp with the shapes is not.`,
      place,
      'Give all parts of the shapefile: .shp, .dbf, .prj, .shx and .cpg.',
    );
  }
  const sizes = files.every((f) => f.sizeBytes === 0);
  return new UserError(
    files.length > 0 && sizes ? 'empty-file' : container ? 'no-layer' : 'unknown-format',
    files.length === 0
      ? 'The archive holds no file.'
      : sizes
        ? 'The file is empty.'
        : container
          ? 'The archive holds neither a shapefile nor a GeoJSON.'
          : 'The file is neither GeoJSON, nor a shapefile, nor a .zip of one.',
    place,
    'Export the map as GeoJSON or as a shapefile.',
  );
}

function noteArchives(files: NamedBytes[], container: string, notes: Note[]): void {
  const nested = files.find((f) => ARCHIVES.has(splitName(f.name).ext));
  if (!nested || !container) return;
  notes.push({
    code: 'zip-nested',
    sentence: `The archive also holds another archive, "${shown(nested.name)}", which was not opened.`,
    place: { file: container },
    todo: 'Unpack it if the map you mean is in there.',
  });
}

function listed(names: string[]): string {
  const first = names.slice(0, 12).map((n) => `"${shown(n)}"`);
  return names.length > 12 ? `${first.join(', ')} and ${names.length - 12} more` : first.join(', ');
}
