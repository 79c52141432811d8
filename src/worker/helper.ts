/** A second worker beside the one that checks a map: it does at the same time what the other would have to do after. */
import { readFeatures } from '../core/intake/geojson.ts';
import { DEFAULT_LIMITS, type PackedFeatures } from '../core/intake/index.ts';
import { extentOf, planeFor } from '../core/plane/index.ts';
import { type Covered, coverSource, type Land } from '../core/steps/measure.ts';
import { buffersOf } from './buffers.ts';
import { namedBytes } from './bytes.ts';
import { type Drawn, Easel } from './easel.ts';

/** What it is asked. One question at a time. */
export type Asked = { kind: 'features'; file: File; from: number } | { kind: 'cover'; land: Land };

/** What it answers; null where it could not be done. */
export type Answered =
  | { kind: 'features'; features: PackedFeatures | null }
  | { kind: 'cover'; covered: Covered | null }
  | { kind: 'drawn'; drawn: Drawn };

const answer = (a: Answered, transfer: Transferable[] = buffersOf(a)): void => self.postMessage(a, { transfer });

self.addEventListener('message', async ({ data }: MessageEvent<Asked>) => {
  if (data.kind === 'features') {
    const easel = new Easel((drawn) => answer({ kind: 'drawn', drawn }, [drawn.bitmap]));
    const rest = namedBytes(data.file.slice(data.from), data.file.name);
    const features = await readFeatures(rest, data.file.size, DEFAULT_LIMITS, easel.watch.bind(easel));
    answer({ kind: 'features', features });
  } else answer({ kind: 'cover', covered: covered(data.land) });
});

function covered(land: Land): Covered | null {
  const { shapes, lattice } = land.records;
  try {
    return coverSource(land, planeFor(lattice, extentOf(shapes)), { progress: () => {} });
  } catch {
    // Why not is said by the other worker, which then does it itself.
    return null;
  }
}
