/**
 * `npm run bench`: one run, interleaved rounds, medians, Markdown. Only ratios within one run mean anything: the machine is shared.
 * `npm run bench -- quick` leaves out the large maps.
 */
import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { median } from '../../src/core/geometry/stats.ts';
import { auditTable } from './audit.ts';
import { bundled } from './bundle.ts';
import { coverageTables } from './coverage.ts';
import { benchMap } from './coverage-map.ts';
import { zippedShapefile } from './files.ts';
import { geoJson, pageTable } from './page.ts';
import { rebuildTable } from './rebuild.ts';

interface Run {
  ms: number;
  cpuMs: number;
  peakMb: number;
  extraMb: number;
  stages: Record<string, number>;
  checksum: string;
}

const HERE = fileURLToPath(new URL('.', import.meta.url));
const DATA = join(HERE, 'data');
const CHILD = await bundled('check-child');
const quick = process.argv.includes('quick');
/** Parts can be left out: `npm run bench -- no-coverage no-page no-rebuild no-audit`. */
const wants = (part: string): boolean => !process.argv.includes(`no-${part}`);

function shapefile(records: number): string {
  const path = join(DATA, `shared-${records}.zip`);
  if (!existsSync(path)) writeFileSync(path, zippedShapefile(benchMap(records, false)));
  return path;
}

/** Behind a task: the process and all its threads are held to one core (Linux). */
const ONE_CORE = ' on one core';

function run(task: string, path: string): Run {
  const held = task.endsWith(ONE_CORE);
  const command = [process.execPath, CHILD, held ? task.slice(0, -ONE_CORE.length) : task, path];
  const [program, ...args] = held ? ['taskset', '-c', '0', ...command] : command;
  return JSON.parse(
    execFileSync(program, args, {
      encoding: 'utf8',
      cwd: join(HERE, '../..'),
      maxBuffer: 1 << 24,
    }),
  ) as Run;
}

/** Medians of the runs of a task, and the runs themselves in their order. */
type Task = Run & { runs: Run[] };

/** Medians of `rounds` interleaved rounds of the tasks. */
function rounds(tasks: [string, string][], n: number): Task[] {
  const all: Run[][] = tasks.map(() => []);
  for (let r = 0; r < n; r++) {
    tasks.forEach(([task, path], i) => {
      all[i].push(run(task, path));
      console.error(`round ${r + 1}: ${task} ${path.split('/').pop()} ${all[i][r].ms.toFixed(0)} ms`);
    });
  }
  return all.map((runs) => ({
    runs,
    ms: median(runs.map((x) => x.ms)),
    cpuMs: median(runs.map((x) => x.cpuMs)),
    peakMb: median(runs.map((x) => x.peakMb)),
    extraMb: median(runs.map((x) => x.extraMb)),
    stages: Object.fromEntries(Object.keys(runs[0].stages).map((k) => [k, median(runs.map((x) => x.stages[k] ?? 0))])),
    checksum: [...new Set(runs.map((x) => x.checksum))].join(' / '),
  }));
}

mkdirSync(DATA, { recursive: true });
const lines: string[] = [
  '# Bench',
  '',
  `Machine: 2 shared cores, Node ${process.version}, ${new Date().toISOString().slice(0, 10)}. Command: \`${['npm run bench', ...(process.argv.length > 2 ? ['--'] : []), ...process.argv.slice(2)].join(' ')}\`. Every figure is a median of interleaved rounds in fresh processes; compare within one table only.`,
  '',
  'Map: two headland laps, straight and curved passes, 16 sections of 0.762 m, one record every 2.2 m, 2 cm wander, corners shared, 1e-7 degree, seed 1; twelve properties a record.',
  '',
];

const sizes = quick ? [20_000] : [20_000, 200_000];
const stageRows: { n: number; r: Run }[] = [];
for (const n of sizes) stageRows.push({ n, r: rounds([['check', await geoJson(n)]], quick ? 1 : 3)[0] });
const names = Object.keys(stageRows[0].r.stages);
lines.push(
  '## Records per second of each stage of `check`',
  '',
  `| stage | ${stageRows.map((s) => `${s.n.toLocaleString('en-US')} records`).join(' | ')} | growth |`,
  `|---|${'---:|'.repeat(stageRows.length + 1)}`,
);
for (const name of [...names, 'whole check']) {
  const ms = stageRows.map((s) => (name === 'whole check' ? s.r.ms : s.r.stages[name]));
  const growth =
    ms.length > 1 ? `n^${(Math.log(ms[1] / ms[0]) / Math.log(stageRows[1].n / stageRows[0].n)).toFixed(2)}` : '';
  lines.push(
    `| ${name} | ${ms.map((m, i) => Math.round((1000 * stageRows[i].n) / m).toLocaleString('en-US')).join(' | ')} | ${growth} |`,
  );
}
lines.push(
  '',
  ...stageRows.map((s) => `- ${s.n.toLocaleString('en-US')}: ${s.r.checksum}; peak ${s.r.peakMb.toFixed(0)} MB`),
  '',
);

if (!quick) {
  const json = await geoJson(400_000);
  const zip = shapefile(400_000);
  const [parse, readJson, whole, parseAlone, wholeAlone] = rounds(
    [
      ['parse', json],
      ['read', json],
      ['check', json],
      [`parse${ONE_CORE}`, json],
      [`check${ONE_CORE}`, json],
    ],
    9,
  );
  const [peer, readZip] = rounds(
    [
      ['shpjs', zip],
      ['read', zip],
    ],
    3,
  );
  const row = (what: string, r: Task, beside: string, p: Task, goal: string): string => {
    // Round by round, so that what else ran on the machine weighs on both.
    const ratio = median(r.runs.map((x, i) => x.ms / p.runs[i].ms));
    const cpu = median(r.runs.map((x, i) => x.cpuMs / p.runs[i].cpuMs));
    const seconds = (ms: number): string => (ms / 1000).toFixed(2);
    return `| ${what} | ${seconds(r.ms)} s | ${beside} | ${seconds(p.ms)} s | ${ratio.toFixed(2)} | ${goal} | ${seconds(r.cpuMs)} / ${seconds(p.cpuMs)} s (${cpu.toFixed(2)}) | ${r.extraMb.toFixed(0)} / ${p.extraMb.toFixed(0)} MB |`;
  };
  lines.push(
    '## 400,000 records',
    '',
    `GeoJSON ${(statSync(json).size / 1e6).toFixed(0)} MB, zipped shapefile ${(statSync(zip).size / 1e6).toFixed(0)} MB.`,
    '',
    'The ratio is the median of the ratios of each round. Processor time is that of all threads of the process.',
    '',
    '| task | time | beside | its time | ratio | goal | processor time: ours / its | memory over a bare process: ours / its |',
    '|---|---:|---|---:|---:|---|---|---|',
    row('read GeoJSON into records with properties', readJson, '`JSON.parse`', parse, 'at most 0.5'),
    row('read zipped shapefile', readZip, 'shpjs', peer, 'at most 0.2'),
    row('whole `check` of the GeoJSON', whole, '`JSON.parse`', parse, ''),
    row('the same, each held to one core', wholeAlone, '`JSON.parse`', parseAlone, 'at most 1.5'),
    '',
    `- parsed: ${parse.checksum}; read: ${readJson.checksum}; checked: ${whole.checksum}; shapefile: ${readZip.checksum}`,
    '',
  );
}
if (!quick && wants('coverage')) lines.push(...(await coverageTables({ say: (l) => console.error(l) })));
if (!quick && wants('page')) lines.push(...(await pageTable(400_000, 3, (l) => console.error(l))));
if (wants('rebuild')) lines.push(await rebuildTable());
if (wants('audit'))
  lines.push(...(await auditTable(quick ? 50 : 500, quick ? 1 : 3, quick ? 30 : 600, (l) => console.error(l))));
const text = `${lines.join('\n').trimEnd()}\n`;
if (!quick) writeFileSync(join(HERE, 'bench.md'), text);
console.log(text);
