/** Units of work (about one byte read) between two rests: 10 to 40 ms on an ordinary machine. */
const SLICE = 2_500_000;

/** Gives the event loop one turn. A message arrives at once; a timer takes 1 ms or more each time, 4 in a browser. */
function turn(): Promise<void> {
  return new Promise((go) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = () => {
      port1.close();
      go();
    };
    port2.postMessage(null);
  });
}

/**
 * Reports progress and gives the event loop its turn. The core has no clock, so rests are counted in work, not in time.
 * A caller stops the reading by throwing from `progress`.
 */
export class Pace {
  private readonly progress: ((done: number) => void) | undefined;
  private from = 0;
  private to = 1;
  private total = 1;
  private done = 0;
  private rested = 0;

  constructor(progress?: (done: number) => void) {
    this.progress = progress;
  }

  /** The next `total` units of work take the progress from `from` to `to`, both 0 to 1. */
  phase(from: number, to: number, total: number): void {
    this.from = from;
    this.to = to;
    this.total = Math.max(1, total);
    this.done = 0;
    this.rested = 0;
    this.tell();
  }

  /** Counts work; true when it is time to `await rest()`. */
  add(units: number): boolean {
    this.done += units;
    return this.done - this.rested >= SLICE;
  }

  async rest(): Promise<void> {
    this.rested = this.done;
    this.tell();
    await turn();
  }

  private tell(): void {
    this.progress?.(this.from + (this.to - this.from) * Math.min(1, this.done / this.total));
  }
}
