/**
 * Fields per minute of `guessrow audit` on one thread and on two, interleaved, as the built command with a fresh folder each time:
 * 500 fields of about 960 records, 20 of them unreadable. Throws when a field is lost or the two runs differ.
 * By itself: `npx tsx tests/bench/audit.ts [FIELDS]`.
 */
import { readFileSync } from 'node:fs';
import { loadavg } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { median } from '../../src/core/geometry/stats.ts';
import { builtCommand, run } from '../audit/built.ts';
import { season } from '../audit/season.ts';

export async function auditTable(fields: number, rounds: number, say: (line: string) => void): Promise<string[]> {
  const at = await builtCommand();
  const bad = Math.round(fields / 25);
  season(join(at.dir, 'maps'), fields, bad);
  const ms: Record<number, number[]> = { 1: [], 2: [] };
  const outputs = new Set<string>();
  const load = loadavg()[0];
  for (let r = 0; r < rounds; r++)
    for (const threads of [1, 2]) {
      const out = `out-${threads}-${r}`;
      const began = performance.now();
      const done = run(
        at,
        ...['audit', 'maps', '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', out],
        ...['--threads', `${threads}`],
      );
      ms[threads].push(performance.now() - began);
      say(`${threads} thread(s): ${(ms[threads][r] / 1000).toFixed(1)} s: ${done.stdout.split('\n')[0]}`);
      const wanted = `${fields} fields: 9 differ, ${fields - bad - 9} agree, ${bad} could not be checked.`;
      if (!done.stdout.startsWith(wanted)) throw new Error(`not "${wanted}":\n${done.stdout}${done.stderr}`);
      outputs.add(readFileSync(join(at.dir, out, 'fields.jsonl'), 'utf8'));
    }
  if (outputs.size !== 1) throw new Error('the runs gave different tables');
  const perMinute = (t: number): number => fields / (median(ms[t]) / 60_000);
  return [
    '## Audit',
    '',
    `${fields} fields of about 960 records, ${bad} of them unreadable; medians of ${rounds} interleaved rounds, fresh folder each; load of the machine before: ${load.toFixed(1)}.`,
    '',
    '| threads | fields per minute | ratio | goal |',
    '|---:|---:|---:|---|',
    `| 1 | ${perMinute(1).toFixed(0)} | 1 | |`,
    `| 2 | ${perMinute(2).toFixed(0)} | ${(perMinute(2) / perMinute(1)).toFixed(2)} | at least 1.8 on two free cores |`,
    '',
    `- every run: ${fields} rows, 9 differ, ${bad} not checked, the same bytes`,
    '',
  ];
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const fields = Number(process.argv[2] ?? 500);
  console.log((await auditTable(fields, 1, (l) => console.error(l))).join('\n'));
}
