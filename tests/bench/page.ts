/**
 * The built page in headless Chromium with a big map: time to the verdict beside `JSON.parse` of the same file in the same browser, cancel, and
 * what a frame takes while the map is dragged, and for how long the page's own thread hears nothing from the reader. Drawing is by a
 * software renderer here: frames on a machine with a graphics card are faster.
 * By itself: `npx tsx tests/bench/page.ts [RECORDS] [ROUNDS]`; with 400,000 records it writes `page.md`.
 */
import { createWriteStream, existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { cpus, loadavg } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import type { Page } from 'playwright-core';
import { median } from '../../src/core/geometry/stats.ts';
import buildPage from '../e2e/build.ts';
import { startSite, verdict } from '../e2e/page.ts';
import { benchMap } from './coverage-map.ts';
import { geoJsonLines } from './files.ts';

const DATA = join(fileURLToPath(new URL('.', import.meta.url)), 'data');

/** A bench map on disk, written once. */
export async function geoJson(records: number): Promise<string> {
  const path = join(DATA, `shared-${records}.geojson`);
  if (existsSync(path)) return path;
  mkdirSync(DATA, { recursive: true });
  const out = createWriteStream(path);
  for (const l of geoJsonLines(benchMap(records, false)))
    if (!out.write(l)) await new Promise((done) => out.once('drain', () => done(null)));
  await new Promise((done) => out.end(() => done(null)));
  return path;
}

/** Sixteen rows, a section each: the planter of the bench maps. */
export const SIXTEEN = JSON.stringify({
  name: 'Sixteen rows',
  unit: 'in',
  rows: 16,
  rowSpacing: 30,
  plantings: { all: 'all' },
  sections: Array.from({ length: 16 }, (_, i) => String(i + 1)),
});

/** Milliseconds of every stretch over 50 ms in which the page's thread was blocked (W3C Long Tasks), from `since` on. */
function longTasks(page: Page, since: number): Promise<number[]> {
  return page.evaluate(
    (from) =>
      (window as unknown as { tasks: [number, number][] }).tasks.filter(([at]) => at >= from).map(([, ms]) => ms),
    since,
  );
}

function watchTasks(): void {
  const list: [number, number][] = [];
  (window as unknown as { tasks: [number, number][] }).tasks = list;
  new PerformanceObserver((seen) => {
    for (const e of seen.getEntries()) list.push([e.startTime, e.duration]);
  }).observe({ type: 'longtask', buffered: true });
}

/** When the page was given its map last, and when it had what the reader waits for, in its own milliseconds. */
interface Steps {
  given: number;
  picture: number;
  verdict: number;
}

/** The page notes the steps itself: the browser driver asks twice a second, which would be a tenth of the figure. */
function watchSteps(): void {
  const steps: Steps = { given: 0, picture: 0, verdict: 0 };
  (window as unknown as { steps: Steps }).steps = steps;
  const onceAt = (step: 'picture' | 'verdict', what: string): void => {
    if (steps.given > 0 && steps[step] === 0 && document.querySelector(what)) steps[step] = performance.now();
  };
  document.addEventListener(
    'change',
    ({ target }) => {
      if (target instanceof HTMLInputElement && target.id === 'map-files' && target.files!.length > 0)
        Object.assign(steps, { given: performance.now(), picture: 0, verdict: 0 });
    },
    true,
  );
  new MutationObserver(() => {
    onceAt('picture', '#first .asread[data-ready]');
    onceAt('verdict', '.stamp');
  }).observe(document.body, { subtree: true, childList: true, attributes: true });
}

/** Long enough to choose a file; meanwhile the workers practice, as they do for every reader. */
const CHOOSING_MS = 5000;

/** Gives the page the map, and waits for its verdict. */
async function stepsOf(page: Page, map: string): Promise<Steps> {
  await page.setInputFiles('#map-files', map);
  await page.locator('#first .asread[data-ready]').waitFor({ timeout: 200_000 });
  await verdict(page);
  return page.evaluate(() => (window as unknown as { steps: Steps }).steps);
}

/** Cancels in the midst of a check: milliseconds until its progress is gone. */
async function cancelled(page: Page): Promise<number> {
  await page.locator('#progress').waitFor({ timeout: 60_000 });
  await page.waitForTimeout(1500);
  return page.evaluate(async () => {
    const button = [...document.querySelectorAll('button')].find((b) => b.textContent?.trim() === 'Cancel')!;
    const began = performance.now();
    button.click();
    while (document.querySelector('#progress')) await new Promise((f) => requestAnimationFrame(f));
    return performance.now() - began;
  });
}

/** Milliseconds of each frame while the map is dragged to and fro. */
async function frames(page: Page): Promise<number[]> {
  const canvas = page.locator('canvas').first();
  await canvas.scrollIntoViewIfNeeded();
  const box = (await canvas.boundingBox())!;
  await page.evaluate(() => {
    const list: number[] = [];
    (window as unknown as { frames: number[] }).frames = list;
    let last = performance.now();
    const next = (now: number): void => {
      list.push(now - last);
      last = now;
      if (list.length < 2000) requestAnimationFrame(next);
    };
    requestAnimationFrame(next);
  });
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let i = 0; i < 60; i++) await page.mouse.move(x + 120 * Math.sin(i / 6), y + 60 * Math.sin(i / 9));
  await page.mouse.up();
  return (await page.evaluate(() => (window as unknown as { frames: number[] }).frames)).slice(2);
}

/** Comes closer two steps at a time, from the whole field to single records, and drags the map at each: the longest median. */
async function everyZoom(page: Page): Promise<number> {
  let longest = 0;
  for (let i = 0; i < 4; i++) {
    for (let k = 0; k < 2; k++) {
      await page.getByRole('button', { name: 'Zoom in' }).click();
      await page.waitForTimeout(1000);
    }
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    longest = Math.max(longest, median(await frames(page)));
  }
  await page.getByRole('button', { name: 'Whole field' }).click();
  await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
  return longest;
}

/** Drags the field out of sight: what is left is the same map with nothing on it. */
async function away(page: Page): Promise<void> {
  const box = (await page.locator('canvas').first().boundingBox())!;
  for (let i = 0; i < 3; i++) {
    await page.mouse.move(box.x + 20, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width - 20, box.y + box.height / 2, { steps: 4 });
    await page.waitForTimeout(300);
    await page.mouse.up();
  }
}

export async function pageTable(records: number, rounds: number, say: (line: string) => void): Promise<string[]> {
  const path = await geoJson(records);
  await buildPage();
  const site = await startSite();
  const parse: number[] = [];
  const toPicture: number[] = [];
  const toVerdict: number[] = [];
  const toColdVerdict: number[] = [];
  const cancel: number[] = [];
  const empty: number[] = [];
  const close: number[] = [];
  const dragged: number[] = [];
  const worst: number[] = [];
  const between: number[] = [];
  const blocked: number[] = [];
  const chosen: number[] = [];
  try {
    for (let r = 0; r < rounds; r++) {
      const { page } = await site.open();
      // The loader that runs this file wraps inner functions to keep their names.
      await page.evaluate('globalThis.__name = (f) => f');
      await page.evaluate(watchTasks);
      await page.evaluate(watchSteps);
      const planter = { name: 'sixteen.planter.json', mimeType: '', buffer: Buffer.from(SIXTEEN) };
      await page.setInputFiles('#planter-file', planter);
      await page.waitForTimeout(CHOOSING_MS);
      const steps = await stepsOf(page, path);
      toPicture.push(steps.picture - steps.given);
      toVerdict.push(steps.verdict - steps.given);
      await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
      await page.waitForTimeout(1000);
      const tasks = await longTasks(page, steps.given);
      blocked.push(Math.max(0, ...tasks));
      say(`long tasks from map to drawn evidence: ${tasks.map((t) => t.toFixed(0)).join(', ')} ms`);
      // Waits until the graphics card, or its replacement, has finished.
      await page.waitForTimeout(5000);
      const moving = await frames(page);
      dragged.push(median(moving));
      worst.push(Math.max(...moving));
      between.push(await everyZoom(page));
      await away(page);
      empty.push(median(await frames(page)));
      await page.getByRole('button', { name: 'Close look' }).click();
      await page.waitForTimeout(3000);
      close.push(median(await frames(page)));
      // One pass marked in every picture and table.
      const before = await page.evaluate(() => performance.now());
      await page.locator('tbody .passbutton').nth(4).click();
      await page.locator('tr.chosen').waitFor();
      await page.waitForTimeout(500);
      const marking = await longTasks(page, before);
      chosen.push(Math.max(0, ...marking));
      await page.context().close();
      const { page: again } = await site.open();
      await again.evaluate('globalThis.__name = (f) => f');
      await again.evaluate(watchSteps);
      await again.setInputFiles('#planter-file', planter);
      await again.setInputFiles('#map-files', path);
      cancel.push(await cancelled(again));
      await again.setInputFiles('#map-files', []);
      const unpracticed = await stepsOf(again, path);
      toColdVerdict.push(unpracticed.verdict - unpracticed.given);
      await again.context().close();
      const { page: bare } = await site.open('/explain.html');
      await bare.evaluate(() => {
        const input = document.createElement('input');
        input.type = 'file';
        input.id = 'bare';
        document.body.append(input);
      });
      await bare.setInputFiles('#bare', path);
      parse.push(
        await bare.evaluate(async () => {
          const began = performance.now();
          JSON.parse(await (document.querySelector('#bare') as HTMLInputElement).files![0].text());
          return performance.now() - began;
        }),
      );
      await bare.context().close();
      say(
        `round ${r + 1}: picture ${toPicture[r].toFixed(0)} ms, verdict ${toVerdict[r].toFixed(0)} ms (without practice ${toColdVerdict[r].toFixed(0)} ms), JSON.parse ${parse[r].toFixed(0)} ms, cancel ${cancel[r].toFixed(0)} ms, frame ${dragged[r].toFixed(0)} ms, at any zoom ${between[r].toFixed(0)} ms, near ${close[r].toFixed(0)} ms, empty ${empty[r].toFixed(0)} ms, deaf for ${blocked[r].toFixed(0)} ms, choosing a pass ${chosen[r].toFixed(0)} ms`,
      );
    }
  } finally {
    await site.close();
  }
  const s = (ms: number[]): string => `${(median(ms) / 1000).toFixed(2)} s`;
  const m = (ms: number[]): string => `${median(ms).toFixed(0)} ms`;
  // Round by round, so that what else ran on the machine weighs on both.
  const ratio = (ms: number[], beside: number[]): string => median(ms.map((x, i) => x / beside[i])).toFixed(2);
  const row = (from: string, to: string, ms: string, beside: string, its: string, by: string, goal: string): string =>
    `| ${from} | ${to} | ${ms} | ${beside} | ${its} | ${by} | ${goal} |`;
  const json = '`JSON.parse` of the file in the same browser';
  const nothing = 'the same with nothing in sight';
  const frame = (to: string, ms: number[]): string =>
    row('one frame', to, m(ms), nothing, m(empty), ratio(ms, empty), 'under 100 ms');
  return [
    `## The page with ${records.toLocaleString('en-US')} records`,
    '',
    `Built page, headless Chromium with a software renderer, ${rounds} ${rounds === 1 ? 'round' : 'rounds'}; ratios are medians of those of each round. The map is given ${CHOOSING_MS / 1000} s after the page was opened.`,
    '',
    '| from | to | time | beside | its time | ratio | goal |',
    '|---|---|---:|---|---:|---:|---|',
    row(
      'map given',
      'the whole map as read, on the screen',
      s(toPicture),
      json,
      s(parse),
      ratio(toPicture, parse),
      'at most 1',
    ),
    row('map given', 'verdict on the sheet', s(toVerdict), json, s(parse), ratio(toVerdict, parse), 'at most 2.0'),
    row(
      'map given right after Cancel, to workers that have not practiced',
      'verdict on the sheet',
      s(toColdVerdict),
      json,
      s(parse),
      ratio(toColdVerdict, parse),
      '',
    ),
    row('Cancel pressed in mid-check', 'progress gone', m(cancel), '', '', '', ''),
    row(
      'map given',
      "evidence drawn: longest stretch in which the page's thread listened to nothing",
      m(blocked),
      '',
      '',
      '',
      '',
    ),
    row('a pass chosen', 'marked everywhere: longest such stretch', m(chosen), '', '', '', ''),
    frame(`the next, whole field dragged (median; longest ${m(worst)})`, dragged),
    frame('the next, at four zooms between (longest of their medians)', between),
    frame('the next, dragged near the eye, records drawn one by one', close),
    '',
  ];
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const records = Number(process.argv[2] ?? 400_000);
  const [load] = loadavg();
  const lines = await pageTable(records, Number(process.argv[3] ?? 3), (l) => console.error(l));
  const when = new Date().toISOString().slice(0, 10);
  lines.splice(
    3,
    0,
    `${cpus().length} shared cores, load ${load.toFixed(1)} before, ${when}. Command: \`npx tsx tests/bench/page.ts ${process.argv.slice(2).join(' ')}\`.`,
  );
  const text = lines.join('\n');
  if (records >= 400_000) writeFileSync(join(DATA, '..', 'page.md'), text);
  console.log(text);
}
