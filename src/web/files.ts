/** Dropped or chosen files, sorted into maps, planter files and others. */

/** A planter file is far smaller than this; nothing larger is opened to see what it is. */
const PLANTER_MAX_BYTES = 256 * 1024;

export interface Sorted {
  map: File[];
  planter: File | null;
  /** Planter files beside it. */
  others: File[];
  /** A sentence for each file that is not used. */
  unused: string[];
}

/**
 * Planter files are recognized by their name, or by the row spacing that only they have. Where nothing else is a map, all other files count as one: the
 * reader of maps then says what is wrong with it.
 */
export async function sortFiles(files: readonly File[]): Promise<Sorted> {
  const planters: File[] = [];
  const others: File[] = [];
  for (const file of files) ((await isPlanter(file)) ? planters : others).push(file);
  const planter = planters.pop() ?? null;
  const unused: string[] = [];
  const kinds = await Promise.all(others.map(kindOf));
  const of = (...wanted: Kind[]): File[] => others.filter((_, i) => wanted.includes(kinds[i]));
  const shapes = of('shp').map(base);
  const layers = of('map', 'shp').length > 0 ? of('map', 'shp') : of('json');
  const map = [layers, of('part'), others].find((some) => some.length > 0) ?? [];
  if (map === layers) map.push(...of('part').filter((f) => shapes.includes(base(f))));
  others.forEach((f, i) => {
    if (!map.includes(f)) unused.push(`"${f.name}" was not used: ${WHY_NOT[kinds[i]]}.`);
  });
  return { map, planter, others: planters, unused };
}

/** Why a planter file beside another was not used with a single map. */
export function planterNotUsed(file: File, planter: File): string {
  return `"${file.name}" was not used: one planter is compared with a whole map, that of a single machine is opened in the planter’s line, and "${planter.name}" came last.`;
}

const WHY_NOT: Record<Kind, string> = {
  map: 'another file is the map',
  shp: 'another file is the map',
  part: 'no .shp of that name came with it',
  json: 'a .json beside a map is treated as its description',
  other: 'it is neither a map nor a planter file',
};

type Kind = 'map' | 'shp' | 'part' | 'json' | 'other';

/** What a file may be by its name, or where the name does not show it by its first bytes, like the map reader. */
async function kindOf(file: File): Promise<Kind> {
  if (/\.shp$/i.test(file.name)) return 'shp';
  if (PARTS.test(file.name)) return 'part';
  if (/\.json$/i.test(file.name)) return 'json';
  if (WHOLE.test(file.name)) return 'map';
  // A folder can be dropped like a file but not read like one.
  const [a, b, c, d] = new Uint8Array(
    await file
      .slice(0, 4)
      .arrayBuffer()
      .catch(() => new ArrayBuffer(0)),
  );
  if (a === 0x50 && b === 0x4b && c === 3 && d === 4) return 'map';
  if (a === 0 && b === 0 && c === 0x27 && d === 0x0a) return 'map';
  return a === 0x7b || (a === 0xef && d === 0x7b) ? 'map' : 'other';
}

/** Files that hold a whole map; a plain .json may be anything. */
const WHOLE = /\.(geojson|geojsonl|ndjson|gz|zip|gpkg|fgb|parquet|kml|kmz|csv)$/i;
const PARTS = /\.(shp|dbf|prj|cpg|shx)$/i;

/** A name without its ending, in lower case: the parts of a shapefile share it. */
function base(f: File): string {
  return f.name.replace(/\.[^.]*$/, '').toLowerCase();
}

/** Files by the map that they belong to: the parts of a shapefile together, a plain .json only where nothing else is a map. */
export function mapsOf(files: readonly File[]): File[][] {
  const shapes = files.filter((f) => /\.shp$/i.test(f.name));
  const whole = files.filter((f) => WHOLE.test(f.name));
  let mains = files.filter((f) => shapes.includes(f) || whole.includes(f));
  if (mains.length === 0) mains = files.filter((f) => /\.json$/i.test(f.name));
  if (mains.length < 2) return files.length > 0 ? [[...files]] : [];
  return mains.map((main) =>
    PARTS.test(main.name) ? files.filter((f) => PARTS.test(f.name) && base(f) === base(main)) : [main],
  );
}

/** A map's files by one name: a shapefile's by its .shp. */
export function mapName(files: readonly File[]): string {
  return (files.find((f) => /\.shp$/i.test(f.name)) ?? files[0])?.name ?? '';
}

async function isPlanter(file: File): Promise<boolean> {
  if (/\.planter\.json$/i.test(file.name)) return true;
  if (!/\.json$/i.test(file.name) || file.size > PLANTER_MAX_BYTES) return false;
  const text = await file.text();
  return /"rowSpacing"\s*:/.test(text) && !/"(FeatureCollection|Feature)"/.test(text);
}

/** The dropped files, including those in folders. Read at once, because they are gone after the event. */
export function droppedFiles(transfer: DataTransfer): Promise<File[]> {
  const entries = [...transfer.items].map((i) => i.webkitGetAsEntry?.() ?? null);
  if (!entries.some((e) => e?.isDirectory)) return Promise.resolve([...transfer.files]);
  return Promise.all(entries.map((e) => (e ? filesBelow(e) : []))).then((all) => all.flat());
}

async function filesBelow(entry: FileSystemEntry): Promise<File[]> {
  if (entry.isFile) return [await new Promise<File>((done, fail) => (entry as FileSystemFileEntry).file(done, fail))];
  const reader = (entry as FileSystemDirectoryEntry).createReader();
  const found: FileSystemEntry[] = [];
  // A reader returns a folder in batches, the last of them empty.
  for (;;) {
    const batch = await new Promise<FileSystemEntry[]>((done, fail) => reader.readEntries(done, fail));
    if (batch.length === 0) break;
    found.push(...batch);
  }
  return (await Promise.all(found.filter((f) => !f.name.startsWith('.')).map(filesBelow))).flat();
}

/** Offers `content` as a download. Nothing leaves the browser. */
export function saveFile(name: string, content: string | Blob, type: string): void {
  const url = URL.createObjectURL(new Blob([content], { type }));
  const a = document.createElement('a');
  a.href = url;
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}

/** `name` without its endings: "north.planter.json" gives "north". */
export function stem(name: string): string {
  return name.replace(/(\.planter)?\.[a-z0-9]+$/i, '') || 'field';
}
