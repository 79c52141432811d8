/**
 * The figures that the plan for a million fields in src/audit/README.md is based on: one large field through an audit, and empty jobs through a queue on
 * Debian's redis-server. By itself: `npx tsx tests/bench/plan.ts`; prints Markdown.
 */
import { spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { Queue, Worker } from 'bullmq';
import { Redis } from 'ioredis';
import { builtCommand } from '../audit/built.ts';
import { drawField, toGeoJson } from '../generator/index.ts';
import { PLANTERS } from '../generator/planters.ts';
import { field } from '../settings/help.ts';
import { counting } from './counted.ts';

const PORT = 17_393;

/** A field of some 300,000 records, checked by an audit, one at a time. */
async function largeField(): Promise<string[]> {
  const at = await builtCommand();
  const p = PLANTERS.fifteen;
  const drawn = drawField(field(p, 'narrow', { shape: { kind: 'strip', lengthM: 2500, passes: 33 } }));
  mkdirSync(join(at.dir, 'maps'));
  const map = toGeoJson(drawn);
  writeFileSync(join(at.dir, 'maps', 'large.geojson'), map);
  writeFileSync(join(at.dir, 'p.planter.json'), JSON.stringify(p.file));
  const records = drawn.features.features.length;
  const { env, counted } = counting(at.dir);
  const args = [
    'audit',
    'maps',
    '--planter',
    'p.planter.json',
    '--planting',
    'narrow',
    '--out',
    'out',
    '--at-once',
    '1',
  ];
  const r = spawnSync(process.execPath, [at.command, ...args], { cwd: at.dir, encoding: 'utf8', env });
  if (r.status !== 0) throw new Error(`${r.stdout}${r.stderr}`);
  const { allS, peakMb } = counted();
  const reports = readdirSync(join(at.dir, 'out', 'fields')).reduce(
    (s, n) => s + statSync(join(at.dir, 'out', 'fields', n)).size,
    0,
  );
  const journal = statSync(join(at.dir, 'out', 'journal.jsonl')).size;
  rmSync(at.dir, { recursive: true, force: true });
  const kB = (n: number): string => `${(n / 1000).toFixed(1)} kB`;
  return [
    `| records, bytes of the map | ${records}, ${(map.length / 1e6).toFixed(0)} MB |`,
    `| processor time, both processes and their start included | ${allS.toFixed(1)} s |`,
    `| peak memory of the process that checks | ${peakMb.toFixed(0)} MB |`,
    `| line in the journal | ${kB(journal)} |`,
    `| its three reports | ${kB(reports)} |`,
  ];
}

/** Jobs of the size of an audit's, doing nothing: what the queue itself takes. */
async function queue(jobs: number): Promise<string[]> {
  const connection = { host: '127.0.0.1', port: PORT, maxRetriesPerRequest: null };
  const q = new Queue('plan', { connection });
  const redis = new Redis(PORT);
  const memory = async (): Promise<number> => Number(/used_memory:(\d+)/.exec(await redis.info('memory'))?.[1]);
  await q.obliterate({ force: true });
  const before = await memory();
  const data = {
    job: {
      map: ['farm-1/field-123.geojson'],
      boundary: [],
      planter: JSON.stringify(PLANTERS.fifteen.file),
      planterFile: 'p.planter.json',
      settings: {},
    },
  };
  const add = performance.now();
  for (let i = 0; i < jobs; i += 500)
    await q.addBulk(
      Array.from({ length: Math.min(500, jobs - i) }, (_, k) => ({
        name: 'field',
        data,
        opts: { jobId: `k${i + k}` },
      })),
    );
  const addedMs = performance.now() - add;
  const each = ((await memory()) - before) / jobs;
  const began = performance.now();
  const worker = new Worker('plan', async () => null, { connection, concurrency: 8, removeOnComplete: { count: 0 } });
  let done = 0;
  await new Promise<void>((resolve) => worker.on('completed', () => void (++done === jobs && resolve())));
  const perS = jobs / ((performance.now() - began) / 1000);
  await worker.close();
  await q.close();
  redis.disconnect();
  return [
    `| ${jobs} empty jobs: handed out, done | ${(jobs / (addedMs / 1000)).toFixed(0)} and ${perS.toFixed(0)} a second |`,
    `| memory of the server for a waiting job | ${(each / 1000).toFixed(1)} kB |`,
  ];
}

const load = loadavg()[0];
const large = await largeField();
const dir = mkdtempSync(join(tmpdir(), 'guessrow-plan-'));
const args = ['--port', `${PORT}`, '--bind', '127.0.0.1', '--dir', dir, '--appendonly', 'yes', '--save', ''];
const server = spawn('redis-server', args, { stdio: 'ignore' });
try {
  await new Promise((r) => setTimeout(r, 1500));
  const rows = [...(await queue(1000)), ...(await queue(5000))];
  console.log(
    [
      '## Figures for the plan of a million fields',
      '',
      `Command: \`npx tsx tests/bench/plan.ts\`; load of the machine before: ${load.toFixed(1)}.`,
      '',
      '| what | measured |',
      '|---|---|',
      ...large,
      ...rows,
      '',
    ].join('\n'),
  );
} finally {
  server.kill();
  rmSync(dir, { recursive: true, force: true });
}
