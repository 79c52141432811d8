/** A season's audit at a glance: what waits, totals, since when, the machine that changed its planting, what to rebuild, what was not read. */
import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { keyOf } from '../../src/audit/key.ts';
import { bytesFrom, mapsFrom } from '../../src/audit/source.ts';
import { builtCommand, run, start } from './built.ts';
import { redisServer } from './redis-server.ts';
import { season, type Truth } from './season.ts';

let at: { dir: string; command: string };
let truth: Truth[];
const inDir = (...names: string[]) => join(at.dir, ...names);
const read = (...names: string[]) => readFileSync(inDir(...names), 'utf8');
const rows = (out: string): Record<string, unknown>[] =>
  read(out, 'fields.jsonl')
    .trimEnd()
    .split('\n')
    .map((l) => JSON.parse(l));
const findings = (out: string) => JSON.parse(read(out, 'findings.json'));
const words = (html: string): string =>
  html
    .replace(/<(style|script)>[\s\S]*?<\/\1>/g, '')
    .replace(/<[^>]+>/g, ' ')
    .replace(/&quot;/g, '"')
    .replace(/\s+/g, ' ');

beforeAll(async () => {
  at = await builtCommand();
  truth = season(inDir('maps'), 20, 2);
  symlinkSync('nowhere.geojson', inDir('maps', 'gone.geojson'));
  symlinkSync('nowhere.txt', inDir('maps', 'gone.txt'));
  writeFileSync(inDir('maps', 'notes.json'), '{"a":1}');
}, 120_000);

test('a field without a named planting waits for it, and none is guessed', () => {
  const r = run(at, 'audit', 'maps', '--planter', 'maps/fifteen.planter.json', '--out', 'waiting');
  expect([r.stderr, r.status]).toEqual(['', 3]);
  expect(r.stdout.replace(/\s+/g, ' ')).toContain('18 fields wait for their planting: say what was planted');
  for (const row of rows('waiting').filter((x) => x.verdict !== 'not checked')) {
    expect(row).toMatchObject({ verdict: 'undecided', settings: '', affected_m2: 0, rebuild: '' });
    // The core says what follows under each.
    expect(row.says).toMatch(
      /^Undecided: the planting was not named\. If "narrow" was planted: .*If "wide" was planted: /,
    );
  }
  expect(words(read('waiting', 'index.html'))).toMatch(/Waiting for their planting .*"narrow" or "wide": 18 fields/);
  // The recorded planting is still reported.
  const [flip] = findings('waiting').flips;
  expect(flip.says).toBe(
    'Machine "North 2" with planter "Fifteen-row split frame": the display recorded "narrow" from May 1, 2026 (six fields), then "wide" from May 3, 2026 (four fields).',
  );
}, 120_000);

describe('when the planting is named', () => {
  const wrong = () => truth.filter((t) => t.is === 'planted-rows');
  beforeAll(() => {
    const r = run(
      at,
      ...[
        'audit',
        'maps',
        '--planter',
        'maps/fifteen.planter.json',
        '--planting',
        'narrow',
        '--seed-cost',
        '95/ac',
        '--out',
        'named',
      ],
    );
    expect([r.stderr, r.status]).toEqual(['', 1]);
  }, 120_000);

  test('totals are the sums of the rows, in ground and in money', () => {
    const all = rows('named');
    for (const t of findings('named').totals) {
      const mine = all.filter((x) => x.verdict === t.verdict);
      const sum = (name: string): number => mine.reduce((s, x) => s + Number(x[name]), 0);
      expect(t.fields).toBe(mine.length);
      expect(t.coveredM2).toBeCloseTo(sum('covered_m2'), 1);
      expect(t.affectedM2).toBeCloseTo(sum('affected_m2'), 1);
      if (t.verdict === 'differs') expect(t.cost).toBeCloseTo(sum('seed_cost'), 1);
    }
    // An acre is 4046.8564224 m² (international foot): ground planted twice or left out, at 95 an acre.
    for (const x of all.filter((y) => y.verdict === 'differs'))
      expect(Number(x.seed_cost)).toBeCloseTo((95 * Number(x.affected_m2)) / 4046.8564224, 1);
  });

  test('a setting that went wrong comes with its first field and hour, ground, money, and commands that rebuild', () => {
    const [s] = findings('named').stretches;
    expect(s.fields.length).toBe(wrong().length);
    expect(s.sums).toMatch(
      /^First in farm-0\/field-012\.geojson, May 3, 2026 at 08:00\. [\d.]+ ac planted since, [\d.]+ ac left without rows or planted twice, [\d.]+ of seed in your money\.$/,
    );
    expect(s.rebuild.length).toBe(s.fields.length);
    // The command runs unchanged in the folder of the maps.
    const [program, ...args] = s.rebuild[0].split(' ');
    expect(program).toBe('guessrow');
    const r = spawnSync(process.execPath, [at.command, ...args], { cwd: inDir('maps'), encoding: 'utf8' });
    expect([r.stderr, r.status]).toEqual(['', 0]);
    expect(read('maps', 'farm-0', 'field-012.rebuilt.geojson')).toMatch(/^{"type":"FeatureCollection"/);
    const page = words(read('named', 'index.html'));
    expect(page).toContain(s.sums);
    expect(page).toContain(s.rebuild[0]);
  }, 60_000);

  test('every field that is not right has its next step', () => {
    for (const x of rows('named'))
      expect([x.field, String(x.next).length > 20]).toEqual([
        x.field,
        x.verdict === 'differs' || x.verdict === 'undecided',
      ]);
  });

  test('the calendar has a mark for every field with a day, by machine', () => {
    const page = read('named', 'index.html');
    const strip = /<svg class="calendar"[\s\S]*?<\/svg>/.exec(page)![0];
    const timed = rows('named').filter((x) => x.first_utc !== null);
    expect(strip.match(/<rect/g)?.length).toBe(timed.length);
    expect(strip.match(/class="c-differs"/g)?.length).toBe(wrong().length);
    for (const m of ['North 2', 'South 1']) expect(strip).toContain(`>${m}</text>`);
  });

  test('a file that was not read is named with the reason, and a broken link has a row', () => {
    expect(findings('named').leftAlone).toEqual([
      { name: 'gone.txt', why: '".txt" is not the ending of a map' },
      { name: 'notes.json', why: 'it does not begin as a GeoJSON map does' },
      { name: 'readme.txt', why: '".txt" is not the ending of a map' },
    ]);
    expect(words(read('named', 'index.html'))).toContain('notes.json: it does not begin as a GeoJSON map does');
    expect(rows('named').find((x) => x.field === 'gone.geojson')).toMatchObject({
      verdict: 'not checked',
      says: expect.stringContaining('This is a link that leads to nothing.'),
    });
  });
});

/** A server of maps that can be slow, shut for a while, and wants a name and password. */
async function store(answer: Parameters<typeof createServer>[1]) {
  const http = createServer(answer!);
  await new Promise<void>((r) => http.listen(0, '127.0.0.1', () => r()));
  return {
    base: `127.0.0.1:${(http.address() as AddressInfo).port}/store/`,
    close: () => {
      http.closeAllConnections();
      http.close();
    },
  };
}

describe('maps from an address', () => {
  const map = () => readFileSync(inDir('maps', 'farm-0', 'field-000.geojson'));
  const all = async (from: ReturnType<typeof mapsFrom>): Promise<Buffer> => {
    const parts: Uint8Array[] = [];
    for await (const p of (await bytesFrom(from, 'm.geojson')).chunks()) parts.push(p);
    return Buffer.concat(parts);
  };

  test('that arrive slowly and steadily are read to their end; silence ends the request', async () => {
    const bytes = map();
    let silent = false;
    const s = await store(async (_, response) => {
      response.writeHead(200, { 'Content-Length': bytes.length });
      for (let i = 0; i < 8; i++) {
        response.write(bytes.subarray(Math.floor((i * bytes.length) / 8), Math.floor(((i + 1) * bytes.length) / 8)));
        await new Promise((r) => setTimeout(r, silent && i === 3 ? 5000 : 150));
      }
      response.end();
    });
    try {
      // All of it takes longer than the longest silence that is borne.
      const from = mapsFrom(`http://${s.base}`, 1e9, 600);
      expect((await all(from)).equals(bytes)).toBe(true);
      silent = true;
      await expect(all(from)).rejects.toThrow(/does not answer \(it did not answer\)/);
    } finally {
      s.close();
    }
  }, 30_000);

  test('want the name and password of the address, which no message repeats', async () => {
    const asked: (string | undefined)[] = [];
    const s = await store((request, response) => {
      asked.push(request.headers.authorization);
      const right = request.headers.authorization === `Basic ${Buffer.from('data:p@ss wörd').toString('base64')}`;
      response.writeHead(right ? 200 : 401).end(right && request.method === 'GET' ? map() : undefined);
    });
    try {
      const from = mapsFrom(`http://data:p%40ss%20w%C3%B6rd@${s.base}`, 1e9);
      expect((await all(from)).equals(map())).toBe(true);
      expect(from.url?.href).not.toContain('data:');
      const other = mapsFrom(`http://data:secret@${s.base}`, 1e9);
      await expect(all(other)).rejects.toThrow(/answers 401/);
      await all(other).catch((e) => expect(JSON.stringify(e.detail)).not.toContain('secret'));
      expect(() => mapsFrom(`http://data:%zz@${s.base}`, 1e9)).toThrow(/name and password .* cannot be read/);
      expect(asked.every((a) => a?.startsWith('Basic '))).toBe(true);
      const job = { map: ['m.geojson'], boundary: [], planter: '{}', planterFile: 'p', settings: {}, seconds: 60 };
      expect(await keyOf(job, from)).toMatch(/^[0-9a-f]{64}$/);
    } finally {
      s.close();
    }
  });

  test('that cannot be fetched at first are requested again', async () => {
    let times = 0;
    const s = await store((request, response) => {
      // The server is away for the first two questions of the audit.
      if (++times <= 2) return void request.socket.destroy();
      response.writeHead(200, { ETag: '"1"' }).end(request.method === 'GET' ? map() : undefined);
    });
    mkdirSync(inDir('far'), { recursive: true });
    writeFileSync(inDir('far.csv'), 'map\nm.geojson\n');
    const redis = await redisServer();
    const address = `redis://127.0.0.1:${redis.port}`;
    const w = start(at, 'work', '--queue', address, '--maps-from', `http://${s.base}`, '--at-once', '1');
    try {
      const child = start(
        at,
        ...['audit', 'far.csv', '--planter', 'maps/fifteen.planter.json', '--planting', 'narrow', '--out', 'far-out'],
        ...['--queue', address, '--maps-from', `http://${s.base}`],
      );
      const status = await new Promise((r) => child.on('close', r));
      expect(status).toBe(0);
      expect(rows('far-out')[0].verdict).toBe('agrees');
      expect(times).toBeGreaterThan(3);
    } finally {
      w.kill('SIGKILL');
      await redis.stop();
      s.close();
    }
  }, 90_000);
});
