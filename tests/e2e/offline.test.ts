// biome-ignore-all lint/performance/useDomNodeTextContent: the browser driver's innerText is the text as it is shown, which is meant.

import { afterAll, beforeAll, expect, test } from 'vitest';
import { EXPLANATIONS } from '../../src/core/report/index.ts';
import { FIFTEEN, fieldGeoJson } from './field.ts';
import { checkHere, drop, type Site, stampOf, startSite, text, verdict } from './page.ts';

let site: Site;
beforeAll(async () => {
  site = await startSite();
});
afterAll(() => site.close());

const planter = text('fifteen.planter.json', JSON.stringify(FIFTEEN));
const field = text(
  'field.geojson',
  fieldGeoJson({ passes: 8, bars: 60, sectionsM: Array(8).fill(0.762), spacingM: 6.096 }),
);

test('a page that is closed in mid-check says so when it is opened again, and its planter is still there', async () => {
  const { page } = await site.open();
  // Stands in for a long check: it takes the call and is still at it.
  const busy =
    "addEventListener('message', () => postMessage({ kind: 'progress', stage: 'reading the map', done: 0.4 }))";
  const context = page.context();
  await context.route('**/assets/worker-index*', (route) =>
    route.fulfill({ contentType: 'text/javascript', body: busy }),
  );
  // A worker is started with the page.
  await page.reload();
  await drop(page, [text('big.geojson', '{}'), planter]);
  await page.locator('#progress').waitFor();
  await page.close();
  await context.unroute('**/assets/worker-index*');
  const again = await context.newPage();
  await again.goto(site.address);
  await again.locator('main .note').waitFor();
  expect(await again.locator('main .note').innerText()).toContain('big.geojson');
  expect(await again.locator('#planter .drawing').count()).toBe(1);
  await drop(again, [field]);
  expect(await verdict(again)).toBe(stampOf(await checkHere([field], planter)));
  await again.reload();
  await again.locator('h1').waitFor();
  expect(await again.locator('main .note').count()).toBe(0);
  await context.close();
});

test('planters are kept in the browser, opened again and forgotten; a full store is a sentence', async () => {
  const { page } = await site.open();
  await drop(page, [planter]);
  await page.getByRole('button', { name: 'Keep this planter in the browser' }).click();
  await page.reload();
  await page.getByRole('button', { name: FIFTEEN.name, exact: true }).click();
  expect(await page.locator('#planter .drawing').count()).toBe(1);
  await page.evaluate(() => {
    Storage.prototype.setItem = () => {
      throw new DOMException('full', 'QuotaExceededError');
    };
  });
  await drop(page, [text('other.planter.json', JSON.stringify({ ...FIFTEEN, name: 'Another' }))]);
  await page.getByRole('button', { name: 'Keep this planter in the browser' }).click();
  await page.getByText('no room left for this page').waitFor();
  // The sheet works on.
  await drop(page, [field, planter]);
  expect(await verdict(page)).toBe(stampOf(await checkHere([field], planter)));
  await page.context().close();
});

test('with the cable out after the first visit: the page opens, checks, and contacts no other host', async () => {
  const { page, seen } = await site.open('/', { serviceWorkers: 'allow' });
  await page.evaluate(async () => {
    await navigator.serviceWorker.ready;
    if (!navigator.serviceWorker.controller)
      await new Promise((done) => navigator.serviceWorker.addEventListener('controllerchange', done));
  });
  await page.locator('.sample', { hasText: 'Twenty-three rows at 15 in, two drives' }).click();
  await verdict(page);
  await page.getByRole('button', { name: 'Start over' }).click();
  expect(await page.locator('.sample .missing').count()).toBe(0);
  await site.cut();
  await expect(page.evaluate(() => fetch('/never-kept').then((r) => r.status))).rejects.toThrow();
  await page.reload();
  await drop(page, [field, planter]);
  expect(await verdict(page)).toBe(stampOf(await checkHere([field], planter)));
  await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
  // The explanations open too.
  const [beside] = await Promise.all([
    page.context().waitForEvent('page'),
    page.evaluate(() => window.open('./explain.html#planted-rows')),
  ]);
  await beside.waitForLoadState();
  const title = EXPLANATIONS.find((e) => e.setting === 'planted-rows')?.title;
  expect(await beside.locator('#planted-rows h2').innerText()).toBe(title);
  await beside.close();
  await page.getByRole('button', { name: 'Start over' }).click();
  // A sample that was opened before is there; all others are marked, and the reason is given once.
  await page.locator('.sample .missing').first().waitFor();
  expect(await page.locator('.sample', { hasText: 'Creek eighty' }).isDisabled()).toBe(true);
  expect(await page.locator('.trying [role=status]').innerText()).toContain('The page cannot reach its server.');
  expect((await page.locator('main').innerText()).match(/cannot reach/g)).toHaveLength(1);
  const stored = page.locator('.sample', { hasText: 'Twenty-three rows at 15 in, two drives' });
  expect(await stored.locator('.missing').count()).toBe(0);
  await stored.click();
  expect(await verdict(page)).toMatch(/^Agrees /);
  expect(seen.outside).toEqual([]);
  await page.context().close();
});
