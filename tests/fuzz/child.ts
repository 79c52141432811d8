// Runs rounds until it is stopped, and announces each one: its parent knows the seed that it died or hung on.
import { round } from './rounds.ts';

const [target, first] = process.argv.slice(2);
for (let seed = Number(first); ; seed++) {
  process.send?.({ seed });
  const { word, error, tookMs } = await round(target, seed);
  process.send?.({ seed, word, tookMs, error: error === null ? null : (error.stack ?? error.message) });
  await new Promise((resolve) => setImmediate(resolve));
}
