import type { Paint } from '../core/report/index.ts';

/** Where a command writes; tests replace it. */
export interface Io {
  out(text: string): Promise<void>;
  err(text: string): void;
  /** Marks for a terminal on standard output; null when it is none. */
  paint: Paint | null;
  /** True when standard error is a terminal that can show a progress line. */
  progress: boolean;
  /** Called when the user stops a command that runs until then. */
  onStop(stop: () => void): void;
}

const CLEAR = '\r\u001B[2K';

/** A line on standard error that is overwritten at most ten times a second. `end` removes it. */
export function progressLine(io: Io): { show(stage: string, done: number): void; end(): void } {
  let last = 0;
  let shown = false;
  return {
    show(stage, done) {
      const now = Date.now();
      if (!io.progress || now - last < 100) return;
      last = now;
      shown = true;
      io.err(`${CLEAR}${stage}  ${Math.round(100 * Math.min(1, Math.max(0, done)))} %`);
    },
    end() {
      if (shown) io.err(CLEAR);
      shown = false;
    },
  };
}
