import { type Note, type Place, UserError } from '../shared/messages.ts';
import { head, shown, splitName } from './bytes.ts';
import { countRecords } from './count.ts';
import type { Limits } from './limits.ts';
import type { NamedBytes } from './types.ts';
import { openZip } from './zip.ts';

/** The files of one layer. `table` is the layer that the user named, where it is a table within the file. */
export type Layer =
  | { format: 'geojson' | 'csv' | 'flatgeobuf' | 'geoparquet' | 'kml'; source: string; file: NamedBytes }
  | { format: 'geopackage'; source: string; file: NamedBytes; table: string | undefined; boundary: boolean }
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
/** Formats of one file, by extension. */
const FORMATS: Readonly<Record<string, Exclude<Layer['format'], 'shapefile'>>> = {
  geojson: 'geojson',
  json: 'geojson',
  ndjson: 'geojson',
  jsonl: 'geojson',
  geojsonl: 'geojson',
  geojsons: 'geojson',
  geojsonseq: 'geojson',
  csv: 'csv',
  tsv: 'csv',
  fgb: 'flatgeobuf',
  parquet: 'geoparquet',
  geoparquet: 'geoparquet',
  gpkg: 'geopackage',
  kml: 'kml',
};
/** ParallelReading a map, a file of a later rank is usually a picture or a description of it. */
const RANKS: readonly (readonly string[])[] = [
  ['shp', 'geojson', 'ndjson', 'jsonl', 'geojsonl', 'geojsons', 'geojsonseq', 'fgb', 'parquet', 'geoparquet', 'gpkg'],
  ['kml'],
  ['json'],
  ['csv', 'tsv'],
];
/** A layer with this many records is recorded work, where the others have at most `FEW_RECORDS`. */
const MANY_RECORDS = 50;
const FEW_RECORDS = 5;

interface Picking {
  /** The layer that the user named. */
  layer?: string | undefined;
  /** Whether a field boundary is wanted: of a recorded layer and one with few records, the latter. */
  boundary?: boolean | undefined;
}

/**
 * Step 1 of the intake: the one layer among the files, archives and gzips opened. Extensions count in any letter case, and so do the base names that hold a
 * shapefile together. Of several layers the one that looks recorded is taken, if only one does, with a note. Throws `UserError` 'several-layers' naming
 * them when neither `layer` nor this chooses, 'no-layer' when there is none.
 */
export async function pick(
  given: NamedBytes[],
  { layer, boundary = false }: Picking,
  limits: Limits,
  notes: Note[],
): Promise<Layer> {
  if (given.length === 0) {
    throw new UserError('no-file', 'No map was given.', {}, 'Give a GeoJSON, a .zip, or the parts of one shapefile.');
  }
  const files = await Promise.all(
    given.map(async (f) => ((await isGzip(f)) ? (await import('./gunzip.ts')).openGzip(f, limits) : f)),
  );
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

  const place = container ? { file: container } : files.length === 1 ? { file: shown(files[0].name) } : {};
  if (orphans.length > 0) {
    notes.push({
      code: 'part-not-read',
      sentence: `"${shown(orphans[0].name)}.${orphans[0].ext}" belongs to no .shp of that name and was not read.`,
      place,
      todo: 'Give all parts of a shapefile the same name.',
    });
  }
  // The name may be that of a table within the one file.
  const only = layers.length === 1 && layers[0].ext === 'gpkg';
  if (layer !== undefined && !only) return finish(named(layers, layer, place), container, undefined, boundary);
  if (inside) noteArchives(all, container, notes);
  if (layers.length === 1) return finish(layers[0], container, layer, boundary);
  return finish(await likely(layers, boundary, place, notes), container, undefined, boundary);
}

const same = (a: string, b: string): boolean => a.toLowerCase() === b.toLowerCase();

function named(layers: readonly Found[], layer: string, place: Place): Found {
  const byPath = layers.filter((l) => same(l.name, layer));
  const chosen =
    byPath.length > 0
      ? byPath
      : layers.filter((l) => same(splitName(l.name).base, layer) || same(`${l.name}.${l.ext}`, layer));
  if (chosen.length === 1) return chosen[0];
  throw new UserError(
    'layer-not-found',
    chosen.length === 0
      ? `There is no layer "${shown(layer)}"; there is ${listed(layers.map((l) => l.name))}.`
      : `More than one layer is called "${shown(layer)}": ${listed(chosen.map((l) => l.name))}.`,
    place,
    'Choose one of them (--layer NAME).',
  );
}

/** Of several layers the one that looks recorded (or like a boundary); a note says so. */
async function likely(layers: readonly Found[], boundary: boolean, place: Place, notes: Note[]): Promise<Found> {
  const counts: number[] = [];
  for (const l of layers) counts.push(await countRecords(l.ext, l.files, MANY_RECORDS));
  const choice = recordedOf(counts, boundary);
  if (choice < 0) {
    const most = (n: number): string =>
      Number.isNaN(n) ? '' : n >= MANY_RECORDS ? ' (many records)' : ` (${n} record${n === 1 ? '' : 's'})`;
    throw new UserError(
      'several-layers',
      `There are ${layers.length} layers: ${listed(
        layers.map((l) => l.name),
        (i) => most(counts[i]),
      )}.`,
      place,
      'Choose one of them (--layer NAME).',
    );
  }
  notes.push(
    chosenNote(
      layers.map((l) => l.name),
      choice,
      boundary,
      place,
    ),
  );
  return layers[choice];
}

/** The layer that looks recorded, or for a boundary the one beside it; -1 where that is not clear. */
export function recordedOf(counts: readonly number[], boundary: boolean): number {
  const at = (test: (n: number) => boolean): number[] => counts.flatMap((n, i) => (test(n) ? [i] : []));
  const many = at((n) => n >= MANY_RECORDS);
  const few = at((n) => n <= FEW_RECORDS);
  if (many.length !== 1 || few.length !== counts.length - 1) return -1;
  if (!boundary) return many[0];
  return few.length === 1 ? few[0] : -1;
}

/** The note on which of several layers was read, and that the other may be the boundary. */
export function chosenNote(names: readonly string[], choice: number, boundary: boolean, place: Place): Note {
  const others = names.filter((_, i) => i !== choice);
  return {
    code: 'layer-chosen',
    sentence: boundary
      ? `Of the layers "${shown(names[choice])}" was taken as the boundary; the other one holds many records, as a map does.`
      : `Of ${names.length} layers "${shown(names[choice])}" was read, the only one with many records; ${listed(others)} ${others.length === 1 ? 'has' : 'have'} a few and ${others.length === 1 ? 'was' : 'were'} not used.`,
    place,
    todo: boundary
      ? 'Choose the map with "--layer NAME" if that is wrong.'
      : others.length === 1
        ? 'If that is the field boundary, give the same file with "--boundary" too; "--layer NAME" reads it instead.'
        : '"--layer NAME" reads another.',
  };
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
    // The planter may lie beside the map.
    const isMap = Object.hasOwn(FORMATS, kind) && !(files.length > 1 && /\.planter\.json$/i.test(file.name));
    if (!isMap && !PARTS.includes(kind as never)) return;
    const { folder, base } = splitName(file.name);
    const key = `${isMap ? `map:${file.name}` : 'shp:'}${folder}${base}`.toLowerCase();
    let layer = found.get(key);
    if (!layer) {
      layer = { name: `${folder}${base}`, ext: kind, files: new Map(), doubled: '' };
      found.set(key, layer);
    }
    if (layer.files.has(kind)) layer.doubled = kind;
    if (kind === 'shp') layer.ext = 'shp';
    layer.files.set(kind, file);
  });
  const all = [...found.values()];
  const doubled = all.find((l) => l.doubled);
  if (doubled) {
    throw new UserError(
      'part-twice',
      `"${shown(doubled.name)}.${doubled.doubled}" appears twice, in different letter case.`,
      { file: container || shown(doubled.name) },
      'Keep one of them.',
    );
  }
  const ranked = RANKS.map((rank) => all.filter((l) => rank.includes(l.ext)));
  const orphans = all.filter((l) => PARTS.includes(l.ext as never) && l.ext !== 'shp');
  return { layers: ranked.find((r) => r.length > 0) ?? [], orphans };
}

function finish(layer: Found, container: string, table: string | undefined, boundary: boolean): Layer {
  const main = layer.files.get('shp') ?? (layer.files.get(layer.ext) as NamedBytes);
  const source = container ? `${container}/${shown(main.name)}` : shown(main.name);
  if (layer.ext !== 'shp') {
    const format = FORMATS[layer.ext];
    return format === 'geopackage' ? { format, source, file: main, table, boundary } : { format, source, file: main };
  }
  const parts: ShapefileParts = { shp: main };
  for (const ext of PARTS) {
    const file = layer.files.get(ext);
    if (file !== undefined) parts[ext] = file;
  }
  return { format: 'shapefile', source, parts };
}

async function isGzip(file: NamedBytes): Promise<boolean> {
  const { ext } = splitName(file.name);
  if (
    ext !== 'gz' &&
    (ext === 'zip' || Object.hasOwn(FORMATS, ext) || PARTS.includes(ext as never) || ARCHIVES.has(ext))
  )
    return false;
  const first = await head(file, 3);
  // A .tar.gz holds many files.
  return first[0] === 0x1f && first[1] === 0x8b && first[2] === 8 && !/\.tar\.gz$/i.test(file.name);
}

const MAGIC: readonly [kind: string, bytes: readonly number[]][] = [
  ['zip', [0x50, 0x4b, 3, 4]],
  ['shp', [0, 0, 0x27, 0x0a]],
  ['geojson', [0x7b]],
  ['geojson', [0xef, 0xbb, 0xbf, 0x7b]],
  ['geojson', [0x1e, 0x7b]],
  ['fgb', [0x66, 0x67, 0x62, 3]],
  ['parquet', [0x50, 0x41, 0x52, 0x31]],
  ['gpkg', [0x53, 0x51, 0x4c, 0x69]],
  ['kml', [0x3c, 0x3f, 0x78, 0x6d]],
  ['kml', [0x3c, 0x6b, 0x6d, 0x6c]],
];

/** 'zip' or an extension of a map by the name; where the name says nothing, by the first bytes. */
async function kindOf(file: NamedBytes): Promise<string> {
  const { ext } = splitName(file.name);
  if (ext === 'kmz') return 'zip';
  if (ext === 'zip' || Object.hasOwn(FORMATS, ext) || PARTS.includes(ext as never)) return ext;
  if (ARCHIVES.has(ext)) return ext;
  const first = await head(file, 4);
  return MAGIC.find(([, bytes]) => bytes.every((b, i) => first[i] === b))?.[0] ?? ext;
}

function nothing(files: NamedBytes[], container: string): UserError {
  const place = { file: container || shown(files[0].name) };
  const nested = files.find((f) => ARCHIVES.has(splitName(f.name).ext));
  if (nested) {
    return new UserError(
      container ? 'zip-nested' : 'unknown-format',
      container
        ? `The archive holds another archive, "${shown(nested.name)}".`
        : 'This kind of archive is not supported.',
      place,
      container ? 'Unpack it and give the inner archive.' : 'Unpack it, or pack the map as a .zip.',
    );
  }
  const part = files.find((f) => PARTS.includes(splitName(f.name).ext as never));
  if (part) {
    return new UserError(
      'shp-missing',
      `"${shown(part.name)}" was given without the .shp that holds the shapes.`,
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
          ? 'The archive holds no map.'
          : 'The file is not a map of any supported kind.',
    place,
    'Export the map as GeoJSON or as a shapefile; GeoPackage, FlatGeobuf, GeoParquet, KML and CSV are read too.',
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

function listed(names: readonly string[], more: (i: number) => string = () => ''): string {
  const first = names.slice(0, 12).map((n, i) => `"${shown(n)}"${more(i)}`);
  return names.length > 12 ? `${first.join(', ')} and ${names.length - 12} more` : first.join(', ');
}
