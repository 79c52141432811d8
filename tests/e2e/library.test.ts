import { createReadStream, existsSync, readFileSync } from 'node:fs';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { basename, join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { examples } from '../library/examples.ts';
import { built, root } from '../supply/built.ts';
import { launch } from './browser.ts';

const sample = join(root, 'sample-data/test-strips');
const library = '/node_modules/guessrow/dist/lib/';
let browser: Browser;
let server: Server;

beforeAll(async () => {
  await built();
  const [page] = examples('html');
  server = createServer((request, response) => {
    const url = request.url ?? '/';
    const planter = url === '/fifteen-row.planter.json';
    const file = planter ? join(sample, 'test-strips.planter.json') : join(root, 'dist/lib', basename(url));
    if (url === '/') response.writeHead(200, { 'Content-Type': 'text/html; charset=utf-8' }).end(page);
    else if ((planter || url.startsWith(library)) && existsSync(file)) {
      response.writeHead(200, { 'Content-Type': planter ? 'application/json' : 'text/javascript' });
      createReadStream(file).pipe(response);
    } else response.writeHead(404).end();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  browser = await launch();
});

afterAll(async () => {
  await browser?.close();
  server?.close();
});

test('the example for a browser checks a map that is picked, without a bundler', async () => {
  const page = await browser.newPage();
  const problems: string[] = [];
  page.on('pageerror', (e) => problems.push(e.message));
  const stages: string[] = [];
  page.on('console', (m) => stages.push(m.text()));
  await page.goto(`http://127.0.0.1:${(server.address() as AddressInfo).port}/`);
  await page.waitForFunction(() => document.getElementById('map')?.onchange !== null);
  await page.setInputFiles('#map', join(sample, 'before.geojson'));
  await page.waitForFunction(() => document.getElementById('says')?.textContent !== '');
  const says = await page.textContent('#says');
  const inNode = await import(join(root, 'dist/lib/guessrow.js'));
  const planter = inNode.readPlanter(readFileSync(join(sample, 'test-strips.planter.json'), 'utf8'), 'p');
  const map = [inNode.named('before.geojson', readFileSync(join(sample, 'before.geojson')))];
  expect(says).toBe(inNode.toText(await inNode.check({ map, planter })));
  expect(stages.some((s) => s.startsWith('finding passes'))).toBe(true);
  expect(problems).toEqual([]);
});
