import { head } from './bytes.ts';
import type { NamedBytes } from './types.ts';

/**
 * How many records a layer has, from a glance at it: `enough` or more count as `enough`. NaN where a glance does not show it. `files` are the
 * layer's by extension, `ext` that of its main one.
 */
export async function countRecords(
  ext: string,
  files: ReadonlyMap<string, NamedBytes>,
  enough: number,
): Promise<number> {
  if (ext === 'shp') {
    const shx = files.get('shx');
    if (shx !== undefined && shx.sizeBytes >= 100) return Math.min(enough, (shx.sizeBytes - 100) / 8);
    const dbf = files.get('dbf');
    const first = dbf === undefined ? new Uint8Array(0) : await head(dbf, 8);
    return first.length < 8
      ? Number.NaN
      : Math.min(enough, new DataView(first.buffer, first.byteOffset).getUint32(4, true));
  }
  const main = files.get(ext);
  if (main === undefined) return Number.NaN;
  if (/json/.test(ext)) return timesOf(main, '"coordinates"', enough);
  if (ext === 'kml') return timesOf(main, '<Placemark', enough);
  if (ext === 'csv' || ext === 'tsv') return Math.max(0, (await timesOf(main, '\n', enough + 1)) - 1);
  return Number.NaN;
}

/** How often a word of plain letters appears in a file, up to `enough`. */
async function timesOf(file: NamedBytes, word: string, enough: number): Promise<number> {
  let times = 0;
  let rest = '';
  const decoder = new TextDecoder('latin1');
  for await (const bytes of file.chunks()) {
    const text = rest + decoder.decode(bytes, { stream: true });
    for (let at = text.indexOf(word); at >= 0; at = text.indexOf(word, at + word.length))
      if (++times >= enough) return times;
    rest = text.slice(Math.max(0, text.length - word.length + 1));
  }
  return times;
}
