import { availableParallelism } from 'node:os';
import { setFlagsFromString } from 'node:v8';

/**
 * What compiling costs where nothing else can do it meanwhile. A check runs hundreds of loops for a fraction of a second each, and by default two fifths of
 * its time on one core goes into compiling them (`tests/bench/index.ts`, a map of 400,000 records; 14 % less processor time with these).
 */
const FLAGS = [
  // Compiled in the background, as is right where there are more cores, loops would run uncompiled for twice as long: both share the core.
  '--no-concurrent-osr',
  '--no-concurrent-recompilation',
  // The compiler works on less code at a time: no second copy of a loop's first round, and fewer functions written into their callers.
  '--no-turbo-loop-peeling',
  '--max-inlined-bytecode-size-cumulative=300',
];

/** The last major version of V8 that was seen to have these flags (that of Node 24): what a later one does not know, it complains of to the user. */
const LAST_KNOWN = 13;

/** Has the engine compile quickly rather than well where the process has one core. */
export function suitOneCore(): void {
  const isKnown = Number.parseInt(process.versions.v8, 10) <= LAST_KNOWN;
  if (availableParallelism() === 1 && isKnown) setFlagsFromString(FLAGS.join(' '));
}
