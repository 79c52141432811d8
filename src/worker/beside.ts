import { type Beside, findFeature, WORTHWHILE } from '../core/intake/index.ts';
import type { Covered, Land } from '../core/steps/measure.ts';
import type { Drawn } from './easel.ts';
import type { Answered, Asked } from './helper.ts';

/** Bytes in the middle of a file that are looked through for the beginning of a feature. */
const LOOKED = 2 ** 18;

/** The second worker, started when it is first asked something. It ends with the worker that asks. */
export class Helper {
  private worker: Worker | null = null;
  private drawing: (drawn: Drawn) => void = () => {};
  /** Whether it reads a part of the map. */
  reads = false;

  /** Has the later half of a large GeoJSON read; undefined for what one reader reads. */
  async rest(file: File, drawing: (drawn: Drawn) => void): Promise<Beside['rest']> {
    const half = file.size >> 1;
    if (half < WORTHWHILE || !/json$/i.test(file.name)) return undefined;
    const found = findFeature(new Uint8Array(await file.slice(half, half + LOOKED).arrayBuffer()));
    if (found < 0) return undefined;
    const from = half + found;
    this.reads = true;
    this.drawing = drawing;
    const features = this.ask({ kind: 'features', file, from }).then((a) => {
      const taken = a?.kind === 'features' ? a.features : null;
      if (taken === null) this.reads = false;
      return taken;
    });
    return { from, features };
  }

  /** Has the ground of a map measured; null where it could not be. */
  async cover(land: Land): Promise<Covered | null> {
    const a = await this.ask({ kind: 'cover', land });
    return a?.kind === 'cover' ? a.covered : null;
  }

  private ask(what: Asked): Promise<Answered | null> {
    return new Promise((resolve) => {
      try {
        this.worker ??= new Worker(new URL('./helper.ts', import.meta.url), { type: 'module' });
      } catch {
        // Some browsers let no worker start another.
        resolve(null);
        return;
      }
      const { worker } = this;
      const failed = (): void => resolve(null);
      worker.onmessage = ({ data }: MessageEvent<Answered>) => {
        if (data.kind === 'drawn') this.drawing(data.drawn);
        else resolve(data);
      };
      worker.onerror = failed;
      worker.onmessageerror = failed;
      worker.postMessage(what);
    });
  }
}
