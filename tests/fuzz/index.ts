/**
 * `npm run fuzz [-- MINUTES [TARGET…]]`: changed files against every reader, for this many minutes in all (5 when left out), each target in a
 * separate process with 512 MB of heap and 20 seconds per round. Seeds continue where the last run ended (`seeds.json`). What breaks is written to
 * `found/`, where the test run tries it again for ever; this ends with status 1 then. The last line of each target is kept in `last.md`.
 *
 * `npm run fuzz -- replay TARGET:SEED…` (or `TARGET:FIRST-LAST`) runs these seeds once more under the same limits, and keeps nothing.
 */
import { fork } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { keepLast, lastOf } from './last.ts';
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

/** One target until `untilMs` or behind seed `last`; a child that dies or hangs is started again behind the seed that did it. */
async function run(
  target: string,
  first: number,
  untilMs: number,
  last = Number.POSITIVE_INFINITY,
): Promise<{ next: number; tally: Tally }> {
  const tally: Tally = { rounds: 0, words: new Map(), slowestMs: 0, slowestSeed: 0, faults: [] };
  let next = first;
  while (Date.now() < untilMs && next <= last && tally.faults.length < 20) {
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
        () => end(),
        // A timer takes at most 2^31 ms; a replay ends by its seeds.
        Math.min(2 ** 31 - 1, Math.max(0, untilMs - Date.now())),
      );
      const end = (): void => {
        says = 'over';
        child.kill('SIGKILL');
      };
      child.on('message', (m: { seed: number; word?: string; tookMs?: number; error?: string | null }) => {
        // Output after the end is ignored.
        if (says === 'over') return;
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
        if (seed > last) end();
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

interface Line {
  target: string;
  first: number;
  next: number;
  tally: Tally;
}

const HEAD = '| target | seeds | rounds | different outcomes | slowest | faults |\n|---|---|---|---|---|---|\n';
function rowOf({ target, first, next, tally }: Line): string {
  const slow = `${Math.round(tally.slowestMs)} ms (seed ${tally.slowestSeed})`;
  return `| ${target} | ${first}-${next - 1} | ${tally.rounds} | ${tally.words.size} | ${slow} | ${tally.faults.length} |`;
}

/** Says each fault of a kind once. Returns the seeds that were named. */
function sayFaults({ target, tally }: Line): number[] {
  const seen = new Set<string>();
  return tally.faults.flatMap(({ seed, says }) => {
    const kind = says.replace(/\d+/g, '#').split('\n').slice(0, 3).join('\n');
    if (seen.has(kind)) return [];
    seen.add(kind);
    process.stderr.write(`${target}, seed ${seed}\n${says}\n`);
    return [seed];
  });
}

const SECTION = 'Changed files';

/** Keeps the last line of each target, the other targets' lines as they were. */
function keepRow(line: Line): void {
  const rows = new Map(lastOf(SECTION).flatMap((l) => (/^\| [a-z]+ \| \d/.test(l) ? [[l.split(' ')[1], l]] : [])));
  rows.set(line.target, rowOf(line));
  const all = Object.keys(TARGETS).flatMap((t) => rows.get(t) ?? []);
  const says =
    'Written by `npm run fuzz -- MINUTES [TARGET…]`. "Different outcomes" are codes of refusals, "read", and verdicts.';
  keepLast(SECTION, `${says}\n\n${HEAD}${all.join('\n')}`);
}

function usage(): never {
  process.stderr.write(
    `npm run fuzz -- MINUTES [TARGET…]\nnpm run fuzz -- replay TARGET:SEED…\nTargets: ${Object.keys(TARGETS).join(' ')}\n`,
  );
  process.exit(2);
}
const known = (target: string): boolean => Object.hasOwn(TARGETS, target);

async function replay(wanted: readonly string[]): Promise<number> {
  const ranges = wanted.map((w) => /^([a-z]+):(\d+)(?:-(\d+))?$/.exec(w) ?? usage());
  if (ranges.length === 0 || !ranges.every((m) => known(m[1]))) usage();
  process.stdout.write(HEAD);
  let faults = 0;
  for (const [, target, first, last] of ranges) {
    const done = await run(target, Number(first), Number.POSITIVE_INFINITY, Number(last ?? first));
    const line = { target, first: Number(first), ...done };
    process.stdout.write(`${rowOf(line)}\n`);
    sayFaults(line);
    faults += done.tally.faults.length;
  }
  return faults;
}

async function goOn(minutes: number, names: readonly string[]): Promise<number> {
  const targets = names.length > 0 ? names : Object.keys(TARGETS);
  const each = (60_000 * minutes) / targets.length;
  if (!(each > 0) || !targets.every(known)) usage();
  const seeds: Record<string, number> = JSON.parse(readFileSync(here('seeds.json'), 'utf8'));
  process.stdout.write(HEAD);
  let faults = 0;
  for (const target of targets) {
    const first = seeds[target] ?? 1;
    const done = await run(target, first, Date.now() + each);
    seeds[target] = done.next;
    writeFileSync(here('seeds.json'), `${JSON.stringify(seeds, null, 2)}\n`);
    const line = { target, first, ...done };
    process.stdout.write(`${rowOf(line)}\n`);
    keepRow(line);
    for (const seed of sayFaults(line)) {
      mkdirSync(here('found'), { recursive: true });
      writeFileSync(here(`found/${target}-${seed}.bin`), bytesOf(target, seed));
      process.stderr.write(`kept as tests/fuzz/found/${target}-${seed}.bin\n`);
    }
    faults += done.tally.faults.length;
  }
  return faults;
}

const [how, ...names] = process.argv.slice(2);
process.exitCode = (how === 'replay' ? await replay(names) : await goOn(Number(how ?? 5), names)) > 0 ? 1 : 0;
