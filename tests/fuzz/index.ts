/**
 * `npm run fuzz [-- MINUTES [TARGET…]]`: changed files against every reader, for so many minutes in all (5 when left out), each target in a
 * process of its own with 512 MB of heap and 20 seconds a round. Seeds go on where the last run ended (`seeds.json`). What breaks is written to
 * `found/`, where the test run tries it again for ever; this ends with status 1 then.
 */
import { fork } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { bytesOf } from './rounds.ts';
import { TARGETS } from './targets.ts';

const here = (name: string): string => fileURLToPath(new URL(name, import.meta.url));
const HANG_MS = 20_000;
/** A process may take its time to start on a busy machine. */
const START_MS = 120_000;
const HEAP_MB = 512;

interface Tally {
  rounds: number;
  words: Map<string, number>;
  slowestMs: number;
  slowestSeed: number;
  faults: { seed: number; says: string }[];
}

/** One target until `untilMs`; a child that dies or hangs is started again behind the seed that did it. */
async function run(target: string, first: number, untilMs: number): Promise<{ next: number; tally: Tally }> {
  const tally: Tally = { rounds: 0, words: new Map(), slowestMs: 0, slowestSeed: 0, faults: [] };
  let next = first;
  while (Date.now() < untilMs && tally.faults.length < 20) {
    next = await new Promise<number>((resolve) => {
      let seed = next;
      let says = '';
      const child = fork(here('child.ts'), [target, String(seed)], {
        execArgv: [`--max-old-space-size=${HEAP_MB}`, '--import', 'tsx'],
        stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
      });
      let died = '';
      child.stderr?.on('data', (d) => {
        died = `${died}${d}`.slice(-2000);
      });
      const late = (): void => {
        says = `no answer within ${HANG_MS / 1000} s`;
        child.kill('SIGKILL');
      };
      let hang = setTimeout(late, START_MS);
      const over = setTimeout(
        () => {
          says = 'over';
          child.kill('SIGKILL');
        },
        Math.max(0, untilMs - Date.now()),
      );
      child.on('message', (m: { seed: number; word?: string; tookMs?: number; error?: string | null }) => {
        clearTimeout(hang);
        hang = setTimeout(late, HANG_MS);
        seed = m.seed;
        if (m.word === undefined) return;
        tally.rounds++;
        tally.words.set(m.word, (tally.words.get(m.word) ?? 0) + 1);
        if ((m.tookMs ?? 0) > tally.slowestMs) [tally.slowestMs, tally.slowestSeed] = [m.tookMs ?? 0, m.seed];
        if (m.error) tally.faults.push({ seed: m.seed, says: m.error });
        if (tally.faults.length >= 20) child.kill('SIGKILL');
        seed = m.seed + 1;
      });
      child.on('exit', () => {
        clearTimeout(hang);
        clearTimeout(over);
        if (says !== 'over' && tally.faults.length < 20) {
          tally.faults.push({ seed, says: says || `the process ended: ${died}` });
          seed++;
        }
        resolve(seed);
      });
    });
  }
  return { next, tally };
}

const [minutes, ...names] = process.argv.slice(2);
const targets = names.length > 0 ? names : Object.keys(TARGETS);
const each = (60_000 * Number(minutes ?? 5)) / targets.length;
if (!(each > 0) || targets.some((t) => !Object.hasOwn(TARGETS, t))) {
  process.stderr.write(`npm run fuzz -- MINUTES [${Object.keys(TARGETS).join(' ')}]\n`);
  process.exit(2);
}
const seeds: Record<string, number> = JSON.parse(readFileSync(here('seeds.json'), 'utf8'));
process.stdout.write(
  '| target | seeds | rounds | different outcomes | slowest | faults |\n|---|---|---|---|---|---|\n',
);
let faults = 0;
for (const target of targets) {
  const first = seeds[target] ?? 1;
  const { next, tally } = await run(target, first, Date.now() + each);
  seeds[target] = next;
  writeFileSync(here('seeds.json'), `${JSON.stringify(seeds, null, 2)}\n`);
  const slow = `${Math.round(tally.slowestMs)} ms (seed ${tally.slowestSeed})`;
  process.stdout.write(
    `| ${target} | ${first}-${next - 1} | ${tally.rounds} | ${tally.words.size} | ${slow} | ${tally.faults.length} |\n`,
  );
  const seen = new Set<string>();
  for (const { seed, says } of tally.faults) {
    faults++;
    const kind = says.replace(/\d+/g, '#').split('\n').slice(0, 3).join('\n');
    if (seen.has(kind)) continue;
    seen.add(kind);
    mkdirSync(here('found'), { recursive: true });
    writeFileSync(here(`found/${target}-${seed}.bin`), bytesOf(target, seed));
    process.stderr.write(`${target}, seed ${seed}, kept as tests/fuzz/found/${target}-${seed}.bin\n${says}\n`);
  }
}
process.exitCode = faults > 0 ? 1 : 0;
