import type { Staged } from '../core/intake/index.ts';
import type { RecordSet } from '../core/intake/types.ts';
import { type Box, Sketch } from './sketch.ts';

/** A picture of the records read so far: black where records lie. It is transferred to the page. */
export interface Drawn {
  bitmap: ImageBitmap;
  box: Box;
  /** Whether it shows everything that its worker reads. */
  whole: boolean;
}

/** From this many records on a check takes long enough for a first picture. */
const PICTURE_FROM = 20_000;
/** Time between two pictures of a map that is being read. */
const EVERY_MS = 500;

/** Shows a sketch of the map from time to time while it is read, and finally all of it. */
export class Easel {
  private readonly sketch = new Sketch();
  private last = performance.now();
  private shown: Promise<void> = Promise.resolve();

  constructor(private readonly show: (drawn: Drawn) => void) {}

  watch(staged: Staged, all: boolean): void {
    if (staged.records < PICTURE_FROM) return;
    this.sketch.add(staged);
    if (!all && performance.now() - this.last < EVERY_MS) return;
    this.put(all);
    this.last = performance.now();
  }

  /** Shows a map that was read without a sketch. A worker without a turn of its event loop shows nothing meanwhile. */
  async finish({ recordNumber, shapes, lattice }: RecordSet): Promise<void> {
    if (this.sketch.isBlank && recordNumber.length >= PICTURE_FROM) {
      this.sketch.addShapes(shapes, lattice);
      this.put(true);
    }
    await this.shown;
  }

  private put(whole: boolean): void {
    const painted = this.sketch.done();
    if (!painted) return;
    const { image, box } = painted;
    this.shown = this.shown.then(async () => this.show({ bitmap: await createImageBitmap(image), box, whole }));
  }
}
