import type { Note } from '../shared/messages.ts';
import type { Raw } from './assemble.ts';
import { tooBig, Window } from './bytes.ts';
import { DocumentReader } from './geojson-document.ts';
import { JsonFault, NEED_MORE } from './json-bytes.ts';
import type { PackedFeatures } from './later-features.ts';
import type { Limits } from './limits.ts';
import { Pace } from './pace.ts';
import type { ParallelReading } from './reading.ts';
import type { NamedBytes } from './types.ts';

/**
 * Step 3 for GeoJSON (RFC 7946; features one a line or in a text sequence, RFC 8142, too): bytes to staged records, without ever building the document.
 *
 * The document is taken member by member and, within `features` (or the `geometries` of a bare collection), element by element. An element
 * that runs beyond the window is read again with more bytes, after its staged points are dropped. Keys come in any order. `windowBytes` is the first
 * size of the window, which doubles for records that do not fit. Where the later features are read elsewhere (`rest`), it stops at the first of them and takes
 * them over.
 */
export async function readGeoJson(
  file: NamedBytes,
  source: string,
  limits: Limits,
  notes: Note[],
  pace: Pace,
  crsWanted?: string,
  { watch, rest }: ParallelReading = {},
  windowBytes = 1 << 20,
): Promise<Raw> {
  const reader = new DocumentReader(source, file.sizeBytes, limits);
  if (file.sizeBytes > limits.fileBytes) throw tooBig(file.name, limits.fileBytes, 'fileBytes');
  reader.stopAt = rest?.from ?? Infinity;
  pace.phase(0, 0.85, rest?.from ?? file.sizeBytes);
  const window = new Window(file, limits.recordBytes, windowBytes);
  try {
    await readOn(reader, window, file.sizeBytes, pace, watch);
    if (!reader.done && rest) {
      const features = await rest.features;
      // Where they cannot be had, the reader goes on.
      if (!features || !reader.append(features)) {
        reader.stopAt = Infinity;
        pace.phase((0.85 * rest.from) / file.sizeBytes, 0.85, file.sizeBytes - rest.from);
        await readOn(reader, window, file.sizeBytes, pace, watch);
      }
    }
  } catch (e) {
    if (e instanceof JsonFault) throw reader.explain(e);
    throw e;
  } finally {
    await window.close();
  }
  pace.phase(0.85, 1, 60 * reader.staging.points);
  return reader.finish(notes, pace, crsWanted);
}

/** The features of `file`, which is the end of a GeoJSON of `fileBytes` bytes from the first byte of a feature on; null where they cannot be had so. */
export async function readFeatures(
  file: NamedBytes,
  fileBytes: number,
  limits: Limits,
  watch?: ParallelReading['watch'],
): Promise<PackedFeatures | null> {
  const reader = new DocumentReader(file.name, fileBytes, limits, fileBytes - file.sizeBytes);
  const window = new Window(file, limits.recordBytes);
  try {
    await readOn(reader, window, file.sizeBytes, new Pace(), watch);
    return reader.pack();
  } catch {
    // What is wrong is said by the reader of the whole.
    return null;
  } finally {
    await window.close();
  }
}

/** Reads until the document is done, or the features begin that are read elsewhere. `bytes`: size of what `window` looks at. */
async function readOn(
  reader: DocumentReader,
  window: Window,
  bytes: number,
  pace: Pace,
  watch: ParallelReading['watch'],
): Promise<void> {
  const { json } = reader;
  let told = window.base + window.start;
  for (;;) {
    await window.more();
    json.look(window.buf, window.start, window.end, window.final);
    reader.base = window.base;
    reader.mark = json.pos;
    try {
      const atRest = reader.run();
      if (atRest || reader.done) {
        window.start = reader.mark;
        watch?.(reader.staging, true);
        return;
      }
    } catch (e) {
      if (e !== NEED_MORE) throw e;
    }
    window.start = reader.mark;
    reader.staging.rollback();
    const at = window.base + window.start;
    reader.expectRows(bytes, at);
    watch?.(reader.staging, false);
    if (pace.add(Math.max(1, at - told))) await pace.rest();
    told = at;
  }
}
