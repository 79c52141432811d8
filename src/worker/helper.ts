/** A second worker beside the one that checks a map: it does in parallel what the other would have to do later. */
import { readFeatures } from '../core/intake/geojson.ts';
import { DEFAULT_LIMITS, type PackedFeatures } from '../core/intake/index.ts';
import { extentOf, type Plane, planeFor } from '../core/plane/index.ts';
import { buffersOf } from '../core/shared/buffers.ts';
import {
  type Covered,
  coverSource,
  type Land,
  measureRecorded,
  type RecordedAreas,
  type RecordedField,
} from '../core/steps/measure.ts';
import { namedBytes } from './bytes.ts';
import { type Drawn, Easel } from './easel.ts';

/** What it is asked, and answers in this order; `measure` is about the land that was covered last. */
export type Asked =
  | { kind: 'features'; file: File; from: number; drawn: boolean }
  | { kind: 'cover'; land: Land }
  | { kind: 'measure'; field: Omit<RecordedField, 'plane'>; accuracyM: number };

/** What it is told, and does not answer: that no more is asked about this map. */
export type Told = { kind: 'forget' };

/** What it answers; null where it could not be done: why not is said by the other worker, which then does it itself. */
export type Answered =
  | { kind: 'features'; features: PackedFeatures | null }
  | { kind: 'cover'; covered: Covered | null }
  | { kind: 'measure'; areas: RecordedAreas | null }
  | { kind: 'drawn'; drawn: Drawn };

const answer = (a: Answered, transfer: Transferable[]): void => self.postMessage(a, { transfer });
const progress = (): void => {};
let known: { land: Land; plane: Plane; covered: Covered } | null = null;

/** One after the other, though reading takes turns of the event loop. */
let turn: Promise<void> = Promise.resolve();

self.addEventListener('message', ({ data }: MessageEvent<Asked | Told>) => {
  turn = turn.then(() => work(data));
});

async function work(data: Asked | Told): Promise<void> {
  if (data.kind === 'forget') known = null;
  else if (data.kind === 'features') {
    const easel = data.drawn ? new Easel((drawn) => answer({ kind: 'drawn', drawn }, [drawn.bitmap])) : null;
    const rest = namedBytes(data.file.slice(data.from), data.file.name);
    const features = await readFeatures(rest, data.file.size, DEFAULT_LIMITS, easel?.watch.bind(easel));
    answer({ kind: 'features', features }, buffersOf(features));
  } else if (data.kind === 'cover') {
    known = orNull(() => coverLand(data.land));
    // Not moved but copied: it is measured on.
    answer({ kind: 'cover', covered: known ? known.covered : null }, []);
  } else {
    const areas = orNull(() => measureOn(data));
    answer({ kind: 'measure', areas }, buffersOf(areas));
  }
}

function coverLand(land: Land): NonNullable<typeof known> {
  const { shapes, lattice } = land.records;
  const plane = planeFor(lattice, extentOf(shapes));
  return { land, plane, covered: coverSource(land, plane, { progress }) };
}

function measureOn({ field, accuracyM }: Asked & { kind: 'measure' }): RecordedAreas | null {
  if (!known) return null;
  const { land, plane, covered } = known;
  return measureRecorded(land.records, { ...field, plane }, covered, { accuracyM });
}

function orNull<T>(work: () => T): T | null {
  try {
    return work();
  } catch {
    return null;
  }
}
