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
/** A page that checks in a worker, counts the frames that it draws meanwhile, and then stops a second check. */
const IN_WORKER = `<!doctype html><input type="file" id="map"><pre id="says"></pre><script type="module">
  import { named, readPlanter, toText, UserError } from '${library}guessrow.js';
  import { check } from '${library}worker.js';
  const planter = readPlanter(await (await fetch('fifteen-row.planter.json')).text(), 'p');
  document.getElementById('map').onchange = async (event) => {
    const [picked] = event.target.files;
    const map = named(picked.name, new Uint8Array(await picked.arrayBuffer()));
    let frames = 0;
    const frame = () => { frames++; requestAnimationFrame(frame); };
    requestAnimationFrame(frame);
    const stages = new Set();
    const answer = await check({ map, planter }, { progress: (stage) => stages.add(stage) });
    const stop = new AbortController();
    const stopped = check({ map, planter }, { signal: stop.signal, progress: () => stop.abort(new Error('enough')) });
    const reason = await stopped.then(() => 'not stopped', (e) => e.message);
    const refused = await check({ map: named('a.geojson', new Uint8Array(2)), planter }).catch((e) => e);
    document.getElementById('says').textContent = JSON.stringify({
      text: toText(answer), frames, stages: stages.size, reason, code: refused instanceof UserError && refused.detail.code,
    });
  };
</script>`;
let browser: Browser;
let server: Server;

beforeAll(async () => {
  await built();
  const [page] = examples('html');
  server = createServer((request, response) => {
    const url = request.url ?? '/';
    const planter = url === '/fifteen-row.planter.json';
    const file = planter ? join(sample, 'test-strips.planter.json') : join(root, 'dist/lib', basename(url));
    if (url === '/worker') response.writeHead(200, { 'Content-Type': 'text/html; charset=utf-8' }).end(IN_WORKER);
    else if (url === '/') response.writeHead(200, { 'Content-Type': 'text/html; charset=utf-8' }).end(page);
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

test('in a worker the same answer comes, the page stays alive, a signal ends it at once, and a refusal is a UserError', async () => {
  const page = await browser.newPage();
  const problems: string[] = [];
  page.on('pageerror', (e) => problems.push(e.message));
  await page.goto(`http://127.0.0.1:${(server.address() as AddressInfo).port}/worker`);
  await page.waitForFunction(() => document.getElementById('map')?.onchange !== null);
  await page.setInputFiles('#map', join(sample, 'before.geojson'));
  await page.waitForFunction(() => document.getElementById('says')?.textContent !== '', undefined, {
    timeout: 120_000,
  });
  const got = JSON.parse((await page.textContent('#says')) ?? '');
  const inNode = await import(join(root, 'dist/lib/guessrow.js'));
  const planter = inNode.readPlanter(readFileSync(join(sample, 'test-strips.planter.json'), 'utf8'), 'p');
  const map = inNode.named('before.geojson', readFileSync(join(sample, 'before.geojson')));
  expect(got.text).toBe(inNode.toText(await inNode.check({ map, planter })));
  expect(got.stages).toBeGreaterThan(3);
  // A check on the page's own thread would leave it one frame or two.
  expect(got.frames).toBeGreaterThan(5);
  expect([got.reason, got.code]).toEqual(['enough', 'not-utf8']);
  expect(problems).toEqual([]);
}, 240_000);
