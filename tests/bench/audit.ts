/**
 * Fields per minute of `guessrow audit` with one worker on one core and with two on two, interleaved, as the built command with a fresh folder each time:
 * one field in 25 unreadable. Throws when a field is lost or two runs differ.
 *
 * The cores of a rented machine are not equally fast: what others do on the same silicon can cost one of them a third for minutes. So one worker runs on
 * each core in turn, and two workers are compared with the mean of both rates. A worker is a process and starts cold: its own compiling weighs
 * less the more there is to do.
 * By itself: `npx tsx tests/bench/audit.ts [FIELDS [ROUNDS [BARS]]]`, where a field has 32 records a bar.
 */
import { spawnSync } from 'node:child_process';
import { readFileSync, rmSync } from 'node:fs';
import { loadavg } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { median } from '../../src/core/geometry/stats.ts';
import { builtCommand } from '../audit/built.ts';
import { season } from '../audit/season.ts';
import { type Counted, counting } from './counted.ts';

/** The runs of a round: each core alone is as far in time from a run on both. */
const ROUND = ['0', '0,1', '1', '0,1'] as const;

interface Run {
  workers: number;
  s: number;
  cpu: Counted;
}

export async function auditTable(
  fields: number,
  rounds: number,
  bars: number,
  say: (line: string) => void,
): Promise<string[]> {
  const at = await builtCommand();
  const bad = Math.round(fields / 25);
  season(join(at.dir, 'maps'), fields, bad, bars);
  const { env, counted } = counting(at.dir);
  const outputs = new Set<string>();
  const load = loadavg()[0];

  const run = (cores: string): Run => {
    const workers = cores.split(',').length;
    const args = ['audit', 'maps', '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', 'out'];
    rmSync(join(at.dir, 'out'), { recursive: true, force: true });
    const began = performance.now();
    const command = ['-c', cores, process.execPath, at.command, ...args, '--at-once', `${workers}`];
    const done = spawnSync('taskset', command, { cwd: at.dir, encoding: 'utf8', env });
    const s = (performance.now() - began) / 1000;
    const n = (v: number): string => v.toLocaleString('en');
    const wanted = `${n(fields)} fields: 9 differ, ${n(fields - bad - 9)} agree, ${n(bad)} could not be checked.`;
    if (!done.stdout.startsWith(wanted)) throw new Error(`not "${wanted}":\n${done.stdout}${done.stderr}`);
    outputs.add(readFileSync(join(at.dir, 'out', 'fields.jsonl'), 'utf8'));
    return { workers, s, cpu: counted() };
  };

  const runs: Run[] = [];
  const ratios: number[] = [];
  for (let r = 1; r <= rounds; r++) {
    const [first, both, second, again] = ROUND.map(run);
    runs.push(first, both, second, again);
    const rate = (...of: Run[]): number => of.reduce((sum, { s }) => sum + fields / s, 0) / of.length;
    ratios.push(rate(both, again) / rate(first, second));
    const each = [first, both, second, again].map(({ s }, i) => `cores ${ROUND[i]} ${s.toFixed(1)} s`);
    say(`round ${r}: ${each.join('; ')}; ratio ${ratios[r - 1].toFixed(2)}`);
  }
  if (outputs.size !== 1) throw new Error('the runs gave different tables');

  const of = (workers: number, what: (run: Run) => number): number =>
    median(runs.filter((x) => x.workers === workers).map(what));
  const row = (workers: number, ratio: string, goal: string): string => {
    const perMinute = of(workers, ({ s }) => (60 * fields) / s).toFixed(0);
    const ms = of(workers, ({ cpu }) => (1000 * cpu.allS) / fields).toFixed(0);
    const main = of(workers, ({ cpu }) => (100 * cpu.mainS) / cpu.allS).toFixed(1);
    return `| ${workers} | ${perMinute} | ${ratio} | ${goal} | ${ms} | ${main} % |`;
  };
  return [
    '## Audit',
    '',
    `${fields} fields of about ${32 * bars} records, ${bad} of them unreadable; ${rounds} rounds of one worker on each core in turn and two on both, twice. The ratio of a round is the rate of two over the mean rate of one. Medians; load of the machine before: ${load.toFixed(1)}.`,
    '',
    '| workers, and cores | fields per minute | ratio | goal | processor ms a field | of which main process |',
    '|---:|---:|---:|---|---:|---:|',
    row(1, '1.00', ''),
    row(2, median(ratios).toFixed(2), 'at least 1.8'),
    '',
    `- ratios of the rounds: ${ratios.map((r) => r.toFixed(2)).join(', ')}`,
    `- every run: ${fields} rows, 9 differ, ${bad} not checked, the same bytes`,
    '',
  ];
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const [fields, rounds, bars] = [500, 3, 600].map((left, i) => Number(process.argv[2 + i] ?? left));
  console.log((await auditTable(fields, rounds, bars, (l) => console.error(l))).join('\n'));
}
