import { availableParallelism } from 'node:os';
import { setFlagsFromString } from 'node:v8';

/**
 * Where the process has one core, hot loops are compiled at once: compiled in the background, as is right where there are
 * more cores, they would run uncompiled for twice as long, because both share the core.
 */
export function suitOneCore(): void {
  if (availableParallelism() === 1) setFlagsFromString('--no-concurrent-osr');
}
