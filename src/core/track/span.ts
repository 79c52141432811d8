import type { Passes } from './types.ts';

/** Numbers of the passes that have bars from `from` up to `to`. */
export function passesOf(passes: Passes, from: number, to: number): number[] {
  const out: number[] = [];
  for (let p = 0; p + 1 < passes.passStart.length; p++)
    if (passes.passStart[p] < to && passes.passStart[p + 1] > from) out.push(passes.number[p]);
  return out;
}
