import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { type AddressInfo, createServer as createSocket } from 'node:net';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { Worker as BullWorker } from 'bullmq';
import { Redis } from 'ioredis';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { findFields } from '../../src/audit/find.ts';
import { bytesFrom, isBelow, mapsFrom } from '../../src/audit/source.ts';
import { builtCommand, run, start, until } from './built.ts';
import { season, type Truth } from './season.ts';

const FIELDS = 24;
const BAD = 3;
const WAITING = 8;
const QUEUE = 'bull:guessrow-fields:';

/** JSON out of a test's own making. */
// biome-ignore lint/suspicious/noExplicitAny: that it may be anything is the point
type Json = any;

let at: { dir: string; command: string };
let truth: Truth[];
let port: number;
let redis: Redis;
let server: ChildProcess;
const redisDir = mkdtempSync(join(tmpdir(), 'guessrow-redis-'));
const own: ChildProcess[] = [];
const ended = (c: ChildProcess) =>
  new Promise<number | null>((r) =>
    c.exitCode === null && c.signalCode === null ? c.once('close', r) : r(c.exitCode),
  );

/** Debian's server, which writes everything to disk before it answers. */
async function startRedis(): Promise<void> {
  const args = [
    '--port',
    `${port}`,
    '--bind',
    '127.0.0.1',
    '--dir',
    redisDir,
    '--appendonly',
    'yes',
    '--appendfsync',
    'always',
    '--save',
    '',
  ];
  server = spawn('redis-server', args, { stdio: 'ignore' });
  own.push(server);
  expect(await until(async () => (await redis.ping().catch(() => '')) === 'PONG', 30_000)).toBe(true);
}

const freePort = () =>
  new Promise<number>((resolve) => {
    const s = createSocket().listen(0, '127.0.0.1', () => {
      const { port: p } = s.address() as AddressInfo;
      s.close(() => resolve(p));
    });
  });

function worker(from: string): ChildProcess {
  const child = start(at, 'work', '--queue', `redis://127.0.0.1:${port}`, '--maps-from', from, '--at-once', '1');
  own.push(child);
  return child;
}

beforeAll(async () => {
  at = await builtCommand();
  truth = season(join(at.dir, 'maps'), FIELDS, BAD);
  port = await freePort();
  redis = new Redis(port, '127.0.0.1', { maxRetriesPerRequest: 1, retryStrategy: () => 200 });
  redis.on('error', () => {});
  await startRedis();
}, 120_000);

afterAll(async () => {
  redis.disconnect();
  for (const c of own) c.kill('SIGKILL');
  await Promise.all(own.map(ended));
}, 60_000);

test('a worker killed in mid-field, the server restarted: every field has exactly one result, the same as without a queue', async () => {
  const workers = [worker('maps'), worker('maps'), worker('maps')];
  const child = start(
    at,
    ...['audit', 'maps', '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', 'queued'],
    ...['--queue', `redis://127.0.0.1:${port}`, '--maps-from', 'maps', '--waiting', `${WAITING}`],
  );
  own.push(child);
  let err = '';
  child.stderr?.on('data', (c) => {
    err += c;
  });
  const journal = join(at.dir, 'queued', 'journal.jsonl');
  const done = () => (existsSync(journal) ? readFileSync(journal, 'utf8').split('\n').length - 1 : 0);

  // All three are busy: whichever is killed is in the middle of a field.
  expect(await until(async () => (await redis.llen(`${QUEUE}active`)) === 3)).toBe(true);
  workers[0].kill('SIGKILL');
  await ended(workers[0]);

  let most = 0;
  const held = async () => {
    const [wait, active, completed] = await Promise.all([
      redis.llen(`${QUEUE}wait`),
      redis.llen(`${QUEUE}active`),
      redis.zcard(`${QUEUE}completed`),
    ]);
    most = Math.max(most, wait + active + completed);
  };
  expect(
    await until(async () => {
      await held();
      return done() >= 6;
    }),
  ).toBe(true);
  // Back-pressure: what is handed out and not yet fetched stays bounded (a job may move between two of the three questions).
  expect(most).toBeGreaterThan(0);
  expect(most).toBeLessThanOrEqual(WAITING + 2);

  server.kill('SIGTERM');
  await ended(server);
  expect(done()).toBeLessThan(FIELDS);
  await startRedis();
  expect(await ended(child)).toBe(1);
  // The server may have been away long enough to be missed.
  expect(err.replace(/The queue (does not answer any more\. .*|answers again\.)\n/g, '')).toBe('');

  // The field that died with its worker was taken up again.
  const events = (await redis.xrange(`${QUEUE}events`, '-', '+')).map(([, fields]) => fields.join(' '));
  expect(events.some((e) => e.includes('event stalled'))).toBe(true);
  const keys = readFileSync(journal, 'utf8')
    .trimEnd()
    .split('\n')
    .map((l) => JSON.parse(l).key);
  expect(new Set(keys).size).toBe(keys.length);
  const alone = run(
    at,
    'audit',
    'maps',
    '--planter',
    'maps/fifteen.planter.json',
    '--planting',
    'narrow',
    '--out',
    'alone',
  );
  expect(alone.status).toBe(1);
  for (const name of ['fields.jsonl', 'fields.parquet', 'index.html', 'findings.json'])
    expect([name, readFileSync(join(at.dir, 'queued', name))]).toEqual([
      name,
      readFileSync(join(at.dir, 'alone', name)),
    ]);
  // Nothing is left on the server, and the workers end in order.
  for (const list of ['wait', 'active']) expect(await redis.llen(QUEUE + list)).toBe(0);
  for (const set of ['completed', 'failed', 'delayed']) expect(await redis.zcard(QUEUE + set)).toBe(0);
  for (const w of workers.slice(1)) w.kill('SIGTERM');
  expect(await Promise.all(workers.slice(1).map(ended))).toEqual([0, 0]);
}, 240_000);

test('a file keeps its name: any name that its system or an encoded address allows is sent to workers', async () => {
  const root = mkdtempSync(join(tmpdir(), 'guessrow-names-'));
  const odd = ['at 10:30', 'a<b>c', 'what?', 'all*', 'a "quoted" one', 'a|b', '100 % #1', 'Äcker'].map(
    (n) => `${n}.geojson`,
  );
  const text = (name: string) => JSON.stringify({ type: 'FeatureCollection', name, features: [] });
  for (const name of [...odd, 'a\\b.geojson', 'a\nb.geojson']) writeFileSync(join(root, name), text(name));
  const asked: string[] = [];
  const http = createServer((request, response) => {
    asked.push(request.url!);
    const name = decodeURIComponent(request.url!).replace(/^\/store\//, '');
    response.writeHead(200).end(readFileSync(join(root, name)));
  });
  await new Promise<void>((r) => http.listen(0, '127.0.0.1', () => r()));
  const list = join(root, 'list.csv');
  writeFileSync(list, ['map', ...odd.map((n) => `"${n.replaceAll('"', '""')}"`)].join('\n'));
  const planter = join(at.dir, 'maps', 'fifteen.planter.json');
  const { port: at80 } = http.address() as AddressInfo;
  try {
    for (const [from, path] of [
      [mapsFrom(root, 1e6), root],
      [mapsFrom(`http://127.0.0.1:${at80}/store/`, 1e6), list],
    ] as const) {
      const { fields } = findFields({
        paths: [path],
        planters: [planter],
        settings: {},
        seconds: 60,
        from,
        out: join(root, 'out'),
      });
      const handed = fields.flatMap((f) => ('map' in f ? f.map : []));
      expect(handed.sort()).toEqual([...odd].sort());
      for (const name of handed) {
        let read = '';
        for await (const part of (await bytesFrom(from, name)).chunks()) read += Buffer.from(part).toString('utf8');
        expect(read).toBe(text(name));
      }
      const refused = fields.flatMap((f) => ('sentence' in f ? [f.sentence.replace(/^.*: /s, '')] : []));
      expect(refused.sort()).toEqual(
        path === list
          ? []
          : [
              'Names with "\\" are not sent to workers. Give it another name. [outside]',
              'Names with a control character are not sent to workers. Give it another name. [outside]',
            ],
      );
    }
    expect(asked.length).toBe(odd.length);
  } finally {
    http.closeAllConnections();
    http.close();
  }
  // Nothing leads out, and on Windows nothing names a drive or a stream.
  for (const name of [
    '../a',
    'a/../../b',
    '/etc/passwd',
    'a//b',
    '.hidden/a',
    'a\\..\\b',
    'a\u0000b',
    '',
    'x'.repeat(1001),
  ])
    for (const windows of [false, true]) expect([name, isBelow(name, windows)]).toEqual([name, false]);
  for (const name of ['c:/a', 'a:b', 'a?', 'a*', 'a"', 'a<', 'a>', 'a|'])
    expect([name, isBelow(name, true), isBelow(name, false)]).toEqual([name, false, true]);
});

test('maps come from an address; a map that no worker can fetch is given up, named, and tried again by the next run', async () => {
  let broken = true;
  const asked: string[] = [];
  const good = truth.filter((t) => t.is === 'right').slice(0, 2);
  const http = createServer((request, response) => {
    const name = decodeURIComponent(request.url ?? '').replace(/^\/store\//, '');
    asked.push(`${request.method} ${name}`);
    if (name === 'gone.geojson') return void response.writeHead(404).end();
    if (name === 'away.geojson')
      return void response.writeHead(302, { Location: '/store/farm-0/field-000.geojson' }).end();
    if (broken && name === good[1].name && request.method === 'GET') return void response.writeHead(503).end();
    const bytes = readFileSync(join(at.dir, 'maps', name));
    response
      .writeHead(200, { ETag: `"${name}"`, 'Content-Length': bytes.length })
      .end(request.method === 'HEAD' ? undefined : bytes);
  });
  await new Promise<void>((r) => http.listen(0, '127.0.0.1', () => r()));
  const base = `http://127.0.0.1:${(http.address() as AddressInfo).port}/store/`;
  const list = ['map', good[0].name, good[1].name, 'gone.geojson', 'away.geojson', '../secret.geojson'];
  writeFileSync(join(at.dir, 'far.csv'), list.join('\n'));
  const w = worker(base);
  try {
    const audit = async () => {
      const child = start(
        at,
        ...['audit', 'far.csv', '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', 'far'],
        ...['--queue', `redis://127.0.0.1:${port}`, '--maps-from', base],
      );
      own.push(child);
      let out = '';
      child.stdout?.on('data', (c) => {
        out += c;
      });
      const status = await ended(child);
      return { status, out };
    };
    const row = (name: string) =>
      readFileSync(join(at.dir, 'far', 'fields.jsonl'), 'utf8')
        .trimEnd()
        .split('\n')
        .map((l) => JSON.parse(l))
        .find((l) => l.field === name);
    const first = await audit();
    expect(first.status).toBe(3);
    expect(first.out).toMatch(/Given up\n {2}- farm/);
    expect(row(good[0].name).verdict).toBe('agrees');
    expect([row(good[1].name).verdict, row(good[1].name).given_up]).toEqual(['not checked', 'yes']);
    expect(row(good[1].name).says).toContain('503');
    expect(asked.filter((a) => a === `GET ${good[1].name}`).length).toBe(3);
    expect(row('gone.geojson').says).toContain('404');
    expect(row('away.geojson').says).toContain('302');
    expect(row('../secret.geojson').says).toContain('--maps-from');
    expect(asked.some((a) => a.includes('secret'))).toBe(false);

    broken = false;
    const second = await audit();
    expect(row(good[1].name).verdict).toBe('agrees');
    expect(second.out).not.toContain('Given up');
    // The first field was not fetched again.
    expect(asked.filter((a) => a === `GET ${good[0].name}`).length).toBe(1);
  } finally {
    w.kill('SIGTERM');
    await ended(w);
    http.closeAllConnections();
    http.close();
  }
}, 120_000);

/** A worker by hand: takes jobs as they come and hands in what `answer` makes of them. */
async function forge(answer: (id: string, data: Json) => Json): Promise<{ close(): Promise<void>; seen: Json[] }> {
  const seen: Json[] = [];
  const w = new BullWorker(
    'guessrow-fields',
    async (job) => {
      seen.push(job.data);
      return answer(job.id ?? '', job.data);
    },
    { connection: { port, host: '127.0.0.1', maxRetriesPerRequest: null } },
  );
  w.on('error', () => {});
  await w.waitUntilReady();
  return { seen, close: () => w.close() };
}

/** An audit of the first sound fields over the queue. */
function queued(out: string, ...more: string[]) {
  const maps = truth
    .filter((t) => t.is === 'right')
    .slice(0, 2)
    .map((t) => `maps/${t.name}`);
  const child = start(
    at,
    ...['audit', ...maps, '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', out],
    ...['--queue', `redis://127.0.0.1:${port}`, '--maps-from', 'maps', ...more],
  );
  own.push(child);
  const said = { out: '', err: '' };
  child.stdout?.on('data', (c) => {
    said.out += c;
  });
  child.stderr?.on('data', (c) => {
    said.err += c;
  });
  return { child, said };
}
const rowsOf = (out: string): Json[] =>
  readFileSync(join(at.dir, out, 'fields.jsonl'), 'utf8')
    .trimEnd()
    .split('\n')
    .map((l) => JSON.parse(l));

test('forged results cost a row each, and nothing of them is written', async () => {
  if (server.exitCode !== null || server.signalCode !== null) await startRedis();
  const html = '<script>alert(1)</script>';
  const forgeries: [string, (id: string, data: Json) => Json][] = [
    ['nothing', () => null],
    [
      'what an earlier version wrote',
      () => ({ row: { verdict: 'agrees', settings: [] }, picture: null, reports: { html } }),
    ],
    ['no JSON', (_, data) => ({ runs: data.runs, text: 'agrees', mac: '' })],
    ['a report of its own', (_, data) => ({ runs: data.runs, text: JSON.stringify({ answer: html }), mac: '' })],
    ['another version', () => ({ runs: '0.0.1 guessrow-audit/1', text: '{}', mac: '' })],
  ];
  for (const [what, answer] of forgeries) {
    const out = `forged ${what}`;
    const forger = await forge(answer);
    const { child, said } = queued(out);
    const status = await Promise.race([ended(child), new Promise((r) => setTimeout(() => r('runs on'), 30_000))]);
    await forger.close();
    expect([what, status, said.err]).toEqual([what, 2, '']);
    const rows = rowsOf(out);
    expect(rows.map((r) => [r.verdict, r.given_up])).toEqual([
      ['not checked', 'yes'],
      ['not checked', 'yes'],
    ]);
    for (const r of rows) expect(r.says, what).toMatch(/invalid result 3 times: /);
    expect(readdirSync(join(at.dir, out, 'fields'))).toEqual([]);
    expect(readFileSync(join(at.dir, out, 'journal.jsonl'), 'utf8')).toBe('');
    expect(readFileSync(join(at.dir, out, 'index.html'), 'utf8')).not.toContain('alert(1)');
  }
  // The next run, with a sound worker, checks them.
  const w = worker('maps');
  const { child } = queued('forged nothing');
  expect(await ended(child)).toBe(0);
  w.kill('SIGTERM');
  await ended(w);
}, 240_000);

test('with a key only what is signed with it is accepted, on either side', async () => {
  if (server.exitCode !== null || server.signalCode !== null) await startRedis();
  const key = join(at.dir, 'queue.key');
  writeFileSync(key, 'a secret of the farm and its machines\n');
  writeFileSync(join(at.dir, 'other.key'), 'another secret, of somebody else\n');
  const refused = async (out: string, audits: string[], works: string[]): Promise<string> => {
    const w = start(
      at,
      'work',
      '--queue',
      `redis://127.0.0.1:${port}`,
      '--maps-from',
      'maps',
      '--at-once',
      '1',
      ...works,
    );
    own.push(w);
    const { child } = queued(out, ...audits);
    await ended(child);
    w.kill('SIGTERM');
    await ended(w);
    const rows = rowsOf(out);
    expect(new Set(rows.map((r) => `${r.verdict} ${r.given_up}`)).size).toBe(1);
    return `${rows[0].verdict}: ${rows[0].says}`;
  };
  expect(await refused('both', ['--queue-key', key], ['--queue-key', key])).toMatch(/^agrees/);
  expect(await refused('audit alone', ['--queue-key', key], [])).toMatch(
    /not checked: .*not signed with the key of the queue/,
  );
  expect(await refused('worker alone', [], ['--queue-key', key])).toMatch(/the job was refused: it is not signed/);
  expect(await refused('two keys', ['--queue-key', key], ['--queue-key', 'other.key'])).toMatch(
    /its signature is wrong/,
  );
}, 240_000);

test('a worker of another version says so and ends, and the field waits for one of the same', async () => {
  if (server.exitCode !== null || server.signalCode !== null) await startRedis();
  // The same program, built as another version.
  const file = at.command;
  const old = file.replace(/guessrow\.js$/, 'earlier.js');
  const dir = dirname(file);
  for (const name of readdirSync(dir).filter((n) => n.endsWith('.js'))) {
    const text = readFileSync(join(dir, name), 'utf8');
    if (name === 'guessrow.js')
      writeFileSync(old, text.replaceAll(/"0\.1\.0"/g, '"0.0.9"').replaceAll('./guessrow.js', './earlier.js'));
  }
  expect(readFileSync(old, 'utf8')).toContain('"0.0.9"');
  const w = start({ dir: at.dir, command: old }, 'work', '--queue', `redis://127.0.0.1:${port}`, '--maps-from', 'maps');
  own.push(w);
  let err = '';
  w.stderr?.on('data', (c) => {
    err += c;
  });
  const { child, said } = queued('versions');
  expect(await ended(w)).toBe(2);
  expect(err).toMatch(
    /The audit runs another version of the program \(0\.1\.0 .*Install the same version on every machine\. \[version\]/,
  );
  const right = worker('maps');
  expect([await ended(child), said.err]).toEqual([0, '']);
  right.kill('SIGTERM');
  await ended(right);
}, 120_000);

test.each([
  ['gone', 'SIGTERM'],
  ['there and answers no more', 'SIGSTOP'],
] as const)(
  'a server that is %s is said within five seconds, by the audit and by its worker, and so is its return',
  async (_how, signal) => {
    if (server.exitCode !== null || server.signalCode !== null) await startRedis();
    const w = worker('maps');
    let heard = '';
    w.stderr?.on('data', (c) => {
      heard += c;
    });
    const slow = await forge(() => new Promise((r) => setTimeout(() => r(null), 60_000)));
    const { child, said } = queued(`lost ${signal}`);
    expect(await until(async () => (await redis.llen(`${QUEUE}active`)) > 0)).toBe(true);
    server.kill(signal);
    const began = Date.now();
    expect(
      await until(() => said.err.includes('does not answer any more') && heard.includes('does not answer'), 6000),
    ).toBe(true);
    expect(Date.now() - began).toBeLessThan(5500);
    if (signal === 'SIGSTOP') server.kill('SIGCONT');
    else {
      await ended(server);
      await startRedis();
    }
    expect(await until(() => said.err.includes('answers again') && heard.includes('answers again'), 10_000)).toBe(true);
    void slow.close();
    child.kill('SIGKILL');
    w.kill('SIGKILL');
    await Promise.all([ended(child), ended(w)]);
    await redis.flushall();
  },
  60_000,
);

test.each([
  ['is gone', 'SIGTERM'],
  ['answers no more', 'SIGSTOP'],
] as const)(
  'a worker whose server %s ends at the first Ctrl+C',
  async (_how, signal) => {
    if (server.exitCode !== null || server.signalCode !== null) await startRedis();
    const w = worker('maps');
    let said = '';
    w.stdout?.on('data', (c) => {
      said += c;
    });
    expect(await until(() => said.includes('Working'))).toBe(true);
    server.kill(signal);
    // Long enough for it to be between two tries to connect again.
    await new Promise((r) => setTimeout(r, 1500));
    const began = Date.now();
    w.kill('SIGINT');
    const status = await Promise.race([ended(w), new Promise((r) => setTimeout(() => r('runs on'), 20_000))]);
    expect([status, said]).toEqual([0, expect.stringContaining('0 fields checked.')]);
    expect(Date.now() - began).toBeLessThan(12_000);
  },
  120_000,
);
