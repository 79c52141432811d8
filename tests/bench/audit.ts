/**
 * Fields per minute of `guessrow audit` with one thread on one core and with two on two, interleaved, as the built command with a fresh folder each time:
 * 1,500 fields of about 960 records, one in 25 unreadable. Throws when a field is lost or the two runs differ.
 * Wall times say nothing while others use the machine; processor seconds do: those of the main thread, which cannot be shared out, bound what
 * more threads can bring (Amdahl 1967: 1 / (s + (1 - s) / n), s the serial share).
 * By itself: `npx tsx tests/bench/audit.ts [FIELDS [ROUNDS]]`.
 */
import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { loadavg } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { median } from '../../src/core/geometry/stats.ts';
import { builtCommand } from '../audit/built.ts';
import { season } from '../audit/season.ts';

/** Put before the command: at its end it writes the processor seconds of the process and of its main thread (Linux, clock ticks of 10 ms). */
const COUNTED = `
import { readFileSync, writeFileSync } from 'node:fs';
import { isMainThread } from 'node:worker_threads';
if (isMainThread) process.on('exit', () => {
  const own = readFileSync('/proc/self/task/' + process.pid + '/stat', 'utf8').split(') ')[1].split(' ');
  const { user, system } = process.cpuUsage();
  writeFileSync(process.env.COUNTED, JSON.stringify({ allS: (user + system) / 1e6, mainS: (Number(own[11]) + Number(own[12])) / 100 }));
});`;

interface Counted {
  allS: number;
  mainS: number;
}

export async function auditTable(fields: number, rounds: number, say: (line: string) => void): Promise<string[]> {
  const at = await builtCommand();
  const bad = Math.round(fields / 25);
  season(join(at.dir, 'maps'), fields, bad);
  const ms: Record<number, number[]> = { 1: [], 2: [] };
  const cpu: Record<number, Counted[]> = { 1: [], 2: [] };
  const counted = join(at.dir, 'counted.json');
  writeFileSync(join(at.dir, 'counted.mjs'), COUNTED);
  const env = { ...process.env, COUNTED: counted, NODE_OPTIONS: `--import ${join(at.dir, 'counted.mjs')}` };
  const outputs = new Set<string>();
  const load = loadavg()[0];
  for (let r = 0; r < rounds; r++)
    for (const threads of [1, 2]) {
      const out = `out-${threads}-${r}`;
      const began = performance.now();
      const args = ['audit', 'maps', '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', out];
      const command = [process.execPath, at.command, ...args, '--threads', `${threads}`];
      // One thread on one core, two on two: the engine's helpers and the main thread would else run beside the one thread on the other core.
      const [program, ...rest] = threads === 1 ? ['taskset', '-c', '0', ...command] : command;
      const done = spawnSync(program, rest, { cwd: at.dir, encoding: 'utf8', env });
      ms[threads].push(performance.now() - began);
      cpu[threads].push(JSON.parse(readFileSync(counted, 'utf8')));
      say(`${threads} thread(s): ${(ms[threads][r] / 1000).toFixed(1)} s: ${done.stdout.split('\n')[0]}`);
      const n = (v: number): string => v.toLocaleString('en');
      const wanted = `${n(fields)} fields: 9 differ, ${n(fields - bad - 9)} agree, ${n(bad)} could not be checked.`;
      if (!done.stdout.startsWith(wanted)) throw new Error(`not "${wanted}":\n${done.stdout}${done.stderr}`);
      outputs.add(readFileSync(join(at.dir, out, 'fields.jsonl'), 'utf8'));
    }
  if (outputs.size !== 1) throw new Error('the runs gave different tables');
  const perMinute = (t: number): number => fields / (median(ms[t]) / 60_000);
  const perField = (t: number): number => (1000 * median(cpu[t].map((c) => c.allS))) / fields;
  const serial = (t: number): number => median(cpu[t].map((c) => c.mainS / c.allS));
  const bound = (t: number): string => (1 / (serial(t) + (1 - serial(t)) / 2)).toFixed(2);
  return [
    '## Audit',
    '',
    `${fields} fields of about 960 records, ${bad} of them unreadable; medians of ${rounds} interleaved rounds, and of the ratios of each; fresh folder each time; load of the machine before: ${load.toFixed(1)}.`,
    '',
    '| threads, and cores | fields per minute | ratio | goal | processor ms a field | of which main thread | two workers bring at most |',
    '|---:|---:|---:|---|---:|---:|---:|',
    ...[1, 2].map(
      (t) =>
        `| ${t} | ${perMinute(t).toFixed(0)} | ${median(ms[1].map((v, r) => v / ms[t][r])).toFixed(2)} | ${t === 1 ? '' : 'at least 1.8'} | ${perField(t).toFixed(0)} | ${(100 * serial(t)).toFixed(1)} % | ${bound(t)} |`,
    ),
    '',
    `- two threads with two cores against one with one, by processor time: ${((2 * perField(1)) / perField(2)).toFixed(2)}`,
    `- every run: ${fields} rows, 9 differ, ${bad} not checked, the same bytes`,
    '',
  ];
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const fields = Number(process.argv[2] ?? 1500);
  console.log((await auditTable(fields, Number(process.argv[3] ?? 3), (l) => console.error(l))).join('\n'));
}
