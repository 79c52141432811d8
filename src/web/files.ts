/** What was dropped or chosen: maps apart from planter files. */

/** A planter file is far smaller than this; nothing larger is opened to see what it is. */
const PLANTER_MAX_BYTES = 256 * 1024;

export interface Sorted {
  map: File[];
  planter: File | null;
}

/** Planter files are told by their name, or by the row spacing that only they have; everything else is taken for a map. */
export async function sortFiles(files: readonly File[]): Promise<Sorted> {
  const map: File[] = [];
  let planter: File | null = null;
  for (const file of files) {
    if (await isPlanter(file)) planter = file;
    else map.push(file);
  }
  return { map, planter };
}

const PARTS = /\.(shp|dbf|prj|cpg|shx)$/i;

/** Files by the map that they belong to: the parts of a shapefile together, a plain .json only where nothing else is a map. */
export function mapsOf(files: readonly File[]): File[][] {
  const shapes = files.filter((f) => /\.shp$/i.test(f.name));
  const whole = files.filter((f) => /\.(geojson|zip)$/i.test(f.name));
  let mains = files.filter((f) => shapes.includes(f) || whole.includes(f));
  if (mains.length === 0) mains = files.filter((f) => /\.json$/i.test(f.name));
  if (mains.length < 2) return files.length > 0 ? [[...files]] : [];
  const base = (f: File): string => f.name.replace(/\.[^.]*$/, '').toLowerCase();
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

/** Offers `content` as a file to keep. Nothing leaves the browser. */
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
