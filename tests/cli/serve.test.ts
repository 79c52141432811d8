import { mkdirSync, mkdtempSync, readdirSync, rmSync, symlinkSync, truncateSync, writeFileSync } from 'node:fs';
import { request, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { fileFor, listen } from '../../src/cli/serve.ts';

const root = mkdtempSync(join(tmpdir(), 'guessrow-'));
const folders = { web: join(root, 'web'), samples: join(root, 'samples') };
let server: Server;
let port = 0;

interface Got {
  status: number;
  headers: Record<string, string | string[] | undefined>;
  body: string;
}

/** Sends the path as it is: the usual clients tidy dots away before the server sees them. */
function get(path: string, headers: Record<string, string> = {}, method = 'GET'): Promise<Got> {
  return new Promise((resolve, reject) => {
    const sent = request({ host: '127.0.0.1', port, path, method, headers }, (response) => {
      let body = '';
      response.on('data', (c) => {
        body += c;
      });
      response.on('error', reject);
      response.on('end', () => resolve({ status: response.statusCode ?? 0, headers: response.headers, body }));
    });
    sent.on('error', reject);
    sent.end();
  });
}

beforeAll(async () => {
  for (const d of [folders.web, join(folders.web, 'assets'), folders.samples]) mkdirSync(d, { recursive: true });
  writeFileSync(join(root, 'secret.txt'), 'secret');
  writeFileSync(join(folders.web, 'index.html'), '<!doctype html>page');
  writeFileSync(join(folders.web, 'assets', 'a b.js'), 'export {};');
  writeFileSync(join(folders.web, '.hidden'), 'hidden');
  writeFileSync(join(folders.samples, 'index.json'), '[]');
  writeFileSync(join(folders.samples, 'field.geojson'), '{}');
  symlinkSync(join(root, 'secret.txt'), join(folders.web, 'link.txt'));
  server = await listen(folders, 0);
  port = (server.address() as AddressInfo).port;
});
afterAll(() => {
  server.close();
});

test('it listens only to this computer', () => {
  expect((server.address() as AddressInfo).address).toBe('127.0.0.1');
});

test.each([
  ['/', '<!doctype html>page', 'text/html; charset=utf-8'],
  ['/?sample=narrow-as-wide', '<!doctype html>page', 'text/html; charset=utf-8'],
  ['/assets/a%20b.js', 'export {};', 'text/javascript; charset=utf-8'],
  ['/sample-data/index.json', '[]', 'application/json; charset=utf-8'],
  ['/sample-data/field.geojson', '{}', 'application/geo+json; charset=utf-8'],
])('%s is served with its type and the page policy', async (path, body, type) => {
  const r = await get(path);
  expect([r.status, r.body, r.headers['content-type']]).toEqual([200, body, type]);
  expect(r.headers['content-security-policy']).toContain("default-src 'none'");
  expect(r.headers['x-content-type-options']).toBe('nosniff');
});

test.each([
  '/../secret.txt',
  '/%2e%2e/secret.txt',
  '/..%2fsecret.txt',
  '/assets/../../secret.txt',
  '/sample-data/../../secret.txt',
  '/sample-data/%2e%2e/%2e%2e/secret.txt',
  '/..\\secret.txt',
  '/%5c..%5csecret.txt',
  '/link.txt',
  '/.hidden',
  '/assets',
  '/%00',
  '/%',
  '//etc/passwd',
  '/etc/passwd',
  '/missing.js',
])('%s is not found', async (path) => {
  const r = await get(path);
  expect([r.status, r.body]).toEqual([404, 'There is no such page.\n']);
});

test('an address that is not a path finds nothing', () => {
  expect(fileFor('http://elsewhere/index.html', folders)).toBeNull();
  expect(fileFor('*', folders)).toBeNull();
});

test('a foreign name that points here is refused', async () => {
  for (const host of ['example.org', `example.org:${port}`, '127.0.0.1', `127.0.0.1:${port + 1}`])
    expect((await get('/', { Host: host })).status).toBeGreaterThanOrEqual(400);
  expect((await get('/', { Host: `example.org:${port}` })).status).toBe(421);
  expect((await get('/', { Host: `localhost:${port}` })).status).toBe(200);
});

test('only reading is possible', async () => {
  expect((await get('/', {}, 'POST')).status).toBe(405);
  const head = await get('/', {}, 'HEAD');
  expect([head.status, head.body, head.headers['content-length']]).toEqual([200, '', '19']);
});

/** Asks for a file and goes away as soon as the first of it is there. */
const abort = (path: string): Promise<void> =>
  new Promise((resolve) => {
    const sent = request({ host: '127.0.0.1', port, path }, (response) => {
      response.on('error', () => {});
      response.once('data', () => sent.destroy());
      response.once('close', () => resolve());
    });
    sent.on('error', () => resolve());
    sent.end();
  });
const descriptors = (): number => readdirSync('/proc/self/fd').length;

test('a thousand downloads that are given up leave no descriptor open, and no memory', async () => {
  writeFileSync(join(folders.samples, 'big.geojson'), Buffer.alloc(8 << 20, 32));
  const round = async (n: number): Promise<void> => {
    for (let i = 0; i < n; i += 20)
      await Promise.all(Array.from({ length: 20 }, () => abort('/sample-data/big.geojson')));
    await new Promise((r) => setTimeout(r, 200));
  };
  await round(100);
  const [fds, bytes] = [descriptors(), process.memoryUsage().rss];
  await round(1000);
  expect(descriptors()).toBeLessThanOrEqual(fds + 5);
  expect(process.memoryUsage().rss - bytes).toBeLessThan(200e6);
}, 120_000);

test('a file that goes, shrinks or comes while it is asked for ends at most its own answer', async () => {
  const path = join(folders.samples, 'moving.geojson');
  const sizes = [0, 10, 3 << 20];
  let over = false;
  const mover = (async () => {
    for (let i = 0; !over; i++) {
      if (i % 3 === 2) rmSync(path, { force: true });
      else writeFileSync(path, Buffer.alloc(sizes[i % 2 === 0 ? 2 : 1], 32));
      if (i % 3 === 0) truncateSync(path, 100);
      await new Promise((r) => setTimeout(r, 1));
    }
  })();
  const fds = descriptors();
  for (let i = 0; i < 80; i++) {
    const status = await get('/sample-data/moving.geojson').then(
      (r) => r.status,
      () => 200,
    );
    expect([200, 404]).toContain(status);
  }
  over = true;
  await mover;
  writeFileSync(path, '');
  expect(await get('/sample-data/moving.geojson')).toMatchObject({ status: 200, body: '' });
  expect(descriptors()).toBeLessThanOrEqual(fds + 5);
}, 120_000);

test('a port in use is reported, with what to do', async () => {
  await expect(listen(folders, port)).rejects.toThrow(`Port ${port} is taken.`);
});
