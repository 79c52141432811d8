/**
 * Fields per minute of `guessrow audit` with one worker on one core and with two on two, interleaved, as the built command with a fresh folder each time:
 * one field in 25 unreadable. Throws when a field is lost or the two runs differ.
 * A worker is a process and starts cold: what each compiles for itself weighs less the more fields there are. Wall times say little while others use the
 * machine; processor seconds say more.
 * By itself: `npx tsx tests/bench/audit.ts [FIELDS [ROUNDS [BARS]]]`, where a field has 32 records a bar.
 */
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { loadavg } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { median } from '../../src/core/geometry/stats.ts';
import { builtCommand } from '../audit/built.ts';
import { season } from '../audit/season.ts';
import { type Counted, counting } from './counted.ts';

export async function auditTable(
  fields: number,
  rounds: number,
  bars: number,
  say: (line: string) => void,
): Promise<string[]> {
  const at = await builtCommand();
  const bad = Math.round(fields / 25);
  season(join(at.dir, 'maps'), fields, bad, bars);
  const ms: Record<number, number[]> = { 1: [], 2: [] };
  const cpu: Record<number, Counted[]> = { 1: [], 2: [] };
  const { env, counted } = counting(at.dir);
  const outputs = new Set<string>();
  const load = loadavg()[0];
  for (let r = 0; r < rounds; r++)
    for (const workers of [1, 2]) {
      const out = `out-${workers}-${r}`;
      const began = performance.now();
      const args = ['audit', 'maps', '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', out];
      const command = [process.execPath, at.command, ...args, '--at-once', `${workers}`];
      // One worker on one core, two on two: the main process would else run beside the one worker on the other core.
      const [program, ...rest] = workers === 1 ? ['taskset', '-c', '0', ...command] : command;
      const done = spawnSync(program, rest, { cwd: at.dir, encoding: 'utf8', env });
      ms[workers].push(performance.now() - began);
      cpu[workers].push(counted());
      say(`${workers} worker(s): ${(ms[workers][r] / 1000).toFixed(1)} s: ${done.stdout.split('\n')[0]}`);
      const n = (v: number): string => v.toLocaleString('en');
      const wanted = `${n(fields)} fields: 9 differ, ${n(fields - bad - 9)} agree, ${n(bad)} could not be checked.`;
      if (!done.stdout.startsWith(wanted)) throw new Error(`not "${wanted}":\n${done.stdout}${done.stderr}`);
      outputs.add(readFileSync(join(at.dir, out, 'fields.jsonl'), 'utf8'));
    }
  if (outputs.size !== 1) throw new Error('the runs gave different tables');
  const perMinute = (t: number): number => fields / (median(ms[t]) / 60_000);
  const perField = (t: number): number => (1000 * median(cpu[t].map((c) => c.allS))) / fields;
  const main = (t: number): number => median(cpu[t].map((c) => c.mainS / c.allS));
  return [
    '## Audit',
    '',
    `${fields} fields of about ${32 * bars} records, ${bad} of them unreadable; medians of ${rounds} interleaved rounds, and of the ratios of each; fresh folder each time; load of the machine before: ${load.toFixed(1)}.`,
    '',
    '| workers, and cores | fields per minute | ratio | goal | processor ms a field | of which main process |',
    '|---:|---:|---:|---|---:|---:|',
    ...[1, 2].map(
      (t) =>
        `| ${t} | ${perMinute(t).toFixed(0)} | ${median(ms[1].map((v, r) => v / ms[t][r])).toFixed(2)} | ${t === 1 ? '' : 'at least 1.8'} | ${perField(t).toFixed(0)} | ${(100 * main(t)).toFixed(1)} % |`,
    ),
    '',
    `- two workers with two cores against one with one, by processor time: ${((2 * perField(1)) / perField(2)).toFixed(2)}`,
    `- every run: ${fields} rows, 9 differ, ${bad} not checked, the same bytes`,
    '',
  ];
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const [fields, rounds, bars] = [400, 5, 300].map((left, i) => Number(process.argv[2 + i] ?? left));
  console.log((await auditTable(fields, rounds, bars, (l) => console.error(l))).join('\n'));
}
