import { findFeature, type ParallelReading, WORTHWHILE } from '../core/intake/index.ts';
import type { Covered, Land, RecordedAreas, RecordedField } from '../core/steps/measure.ts';
import type { Drawn } from './easel.ts';
import type { Answered, Asked, Told } from './helper.ts';
import type { Partner } from './practice.ts';

/** Bytes in the middle of a file that are searched for the beginning of a feature. */
const LOOKED = 2 ** 18;

/** The second worker is given so many bytes less than the first, which begins a fifth of a second earlier: each reads some 80 MB a second. */
const HEAD_START = 2 ** 24;

/** The second worker, started when there is something to do. It ends with the worker that asks. */
export class Helper implements Partner {
  private worker: Worker | null = null;
  /** Who waits for an answer, in the order in which they asked: the other worker answers in that order. */
  private readonly waiting: ((a: Answered | null) => void)[] = [];
  private drawing: ((drawn: Drawn) => void) | null = null;
  /** Whether it reads a part of the map. */
  reads = false;

  /** Has a small GeoJSON read, for practice: all of it but the first feature. */
  async readAlong(file: File): Promise<unknown> {
    const from = findFeature(new Uint8Array(await file.slice(0, LOOKED).arrayBuffer()));
    return from < 0 ? null : this.ask({ kind: 'features', file, from, drawn: false });
  }

  /** Frees what it holds of the last map. */
  forget(): void {
    this.drawing = null;
    this.worker?.postMessage({ kind: 'forget' } satisfies Told);
  }

  /** Has the later half of a large GeoJSON read; undefined for what one reader reads. `drawing` is null where no picture is wanted. */
  async rest(file: File, drawing: ((drawn: Drawn) => void) | null): Promise<ParallelReading['rest']> {
    this.reads = false;
    if (file.size < 2 * WORTHWHILE || !/json$/i.test(file.name)) return undefined;
    // Starting takes longer than finding where to divide the file.
    if (!this.started()) return undefined;
    const middle = Math.floor((file.size + HEAD_START) / 2);
    const found = findFeature(new Uint8Array(await file.slice(middle, middle + LOOKED).arrayBuffer()));
    if (found < 0) return undefined;
    const from = middle + found;
    this.reads = true;
    this.drawing = drawing;
    const features = this.ask({ kind: 'features', file, from, drawn: drawing !== null }).then((a) => {
      const taken = a?.kind === 'features' ? a.features : null;
      if (taken === null) this.reads = false;
      return taken;
    });
    return { from, features };
  }

  async cover({ records: { shapes, lattice }, boundary }: Land): Promise<Covered | null> {
    const a = await this.ask({ kind: 'cover', land: { records: { shapes, lattice }, boundary } });
    return a?.kind === 'cover' ? a.covered : null;
  }

  async measure({ passes, bands, fine, declaredM }: RecordedField, accuracyM: number): Promise<RecordedAreas | null> {
    const { bars, passStart, barStart, center, right, corner, lengthM } = passes;
    // All that passes hold beside this is half of the memory of the map.
    const field = { passes: { bars, passStart, barStart, center, right, corner, lengthM }, bands, fine, declaredM };
    const a = await this.ask({ kind: 'measure', field, accuracyM });
    return a?.kind === 'measure' ? a.areas : null;
  }

  private ask(what: Asked): Promise<Answered | null> {
    return new Promise((resolve) => {
      const worker = this.started();
      if (!worker) {
        resolve(null);
        return;
      }
      this.waiting.push(resolve);
      worker.postMessage(what);
    });
  }

  /** The worker, started at the first time; null where it cannot be: in some browsers a worker cannot start another. */
  private started(): Worker | null {
    try {
      this.worker ??= this.start();
      return this.worker;
    } catch {
      return null;
    }
  }

  private start(): Worker {
    const worker = new Worker(new URL('./helper.ts', import.meta.url), { type: 'module' });
    const failed = (): void => {
      for (const resolve of this.waiting.splice(0)) resolve(null);
    };
    worker.onmessage = ({ data }: MessageEvent<Answered>) => {
      if (data.kind === 'drawn') this.drawing?.(data.drawn);
      else this.waiting.shift()?.(data);
    };
    worker.onerror = failed;
    worker.onmessageerror = failed;
    return worker;
  }
}
