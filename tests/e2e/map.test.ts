// biome-ignore-all lint/performance/useDomNodeTextContent: the browser driver's innerText is the text as it is shown, which is meant.
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { FIFTEEN, fieldGeoJson } from './field.ts';
import { drop, plant, type Site, startSite, text, verdict } from './page.ts';

let site: Site;
beforeAll(async () => {
  site = await startSite();
});
afterAll(() => site.close());

type Rgb = readonly [number, number, number];

interface Pixels {
  width: number;
  height: number;
  /** Pixels of any of the colours asked for. */
  count: number;
  /** Lengths of the runs of such pixels along the middle row. */
  runs: number[];
}

/** The map's own pixels, looked through in the page for some colours. */
function look(page: Page, wanted: readonly Rgb[], slack = 3): Promise<Pixels> {
  return page.evaluate(
    async ({ wanted, slack }) => {
      // A new check puts a new map in the place of the old one: the one looked at has stood for a while.
      let canvas: HTMLCanvasElement | null = null;
      let before: HTMLCanvasElement | null = null;
      for (let i = 0; i < 30 && (canvas === null || canvas !== before); i++) {
        before = canvas;
        await new Promise((done) => setTimeout(done, 1500));
        canvas = document.querySelector<HTMLCanvasElement>('.mapbox[data-ready] .maplibregl-canvas');
      }
      if (canvas === null) throw new Error('no map');
      const copy = document.createElement('canvas');
      const { width, height } = canvas;
      copy.width = width;
      copy.height = height;
      const context = copy.getContext('2d');
      if (!context) throw new Error('no context');
      context.drawImage(canvas, 0, 0);
      const { data } = context.getImageData(0, 0, width, height);
      const is = (i: number): boolean => wanted.some((w) => w.every((c, k) => Math.abs(c - data[i + k]) <= slack));
      let count = 0;
      for (let i = 0; i < data.length; i += 4) if (is(i)) count++;
      const runs: number[] = [];
      let run = 0;
      for (let x = 0; x < width; x++) {
        if (is(4 * (Math.floor(height / 2) * width + x))) run++;
        else if (run > 0) {
          runs.push(run);
          run = 0;
        }
      }
      return { width, height, count, runs };
    },
    { wanted, slack },
  );
}

/** A colour of the style sheet. */
async function colour(page: Page, name: string): Promise<Rgb> {
  const hex = await page.evaluate(
    (n) => getComputedStyle(document.documentElement).getPropertyValue(n).trim(),
    `--${name}`,
  );
  const n = Number.parseInt(hex.slice(1), 16);
  return [(n >> 16) & 255, (n >> 8) & 255, n & 255];
}

describe('the map', () => {
  test('draws both pictures and the missing strips to scale; a record under the pointer is told', async () => {
    const { page, seen } = await site.open();
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 6, bars: 40, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await plant(page, 'narrow');
    await page.locator('.stamp.differs').waitFor({ timeout: 60_000 });
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    await page.locator('.mapbox').scrollIntoViewIfNeeded();
    const recorded = [await colour(page, 'map-recorded'), await colour(page, 'map-recorded-2')];
    const planted = [await colour(page, 'map-planted')];
    const missing = [await colour(page, 'map-missing'), await colour(page, 'map-missing-mark')];
    // The field is 36.6 m by 80 m: what part of the window it takes follows from fitting it, and it is mostly recorded.
    const far = await look(page, recorded);
    expect(far.count).toBeGreaterThan(0.1 * far.width * far.height);
    expect((await look(page, planted)).count).toBe(0);

    await page.getByLabel('Planted', { exact: true }).check();
    expect((await look(page, planted)).count).toBeGreaterThan(0.1 * far.width * far.height);
    expect((await look(page, recorded)).count).toBe(0);

    // A close look: 20 ft from seam to seam, of which 225 in are planted and 15 in are not (common practice: 240 - 225).
    await page.getByRole('button', { name: /^Close look/ }).click();
    const passes = (await look(page, planted)).runs.filter((n) => n > 20).slice(1, -1);
    const strips = (await look(page, missing, 40)).runs.filter((n) => n > 3);
    const ratio = Math.max(...strips) / Math.max(...passes);
    expect(ratio).toBeGreaterThan(0.8 * (15 / 225));
    expect(ratio).toBeLessThan(1.2 * (15 / 225));

    const box = await page.locator('.mapbox').boundingBox();
    if (!box) throw new Error('no map');
    await page.mouse.move(box.x + box.width / 2 + 15, box.y + box.height / 2);
    await expect
      .poll(() => page.locator('.readout').innerText())
      .toMatch(/^Record [\d,]+ · pass \d+ · section \d from the left · /);
    expect(await page.locator('.readout').innerText()).toMatch(/ 30 in wide$/);
    await page.mouse.click(box.x + box.width / 2 + 15, box.y + box.height / 2);
    expect(await page.locator('.passbutton[aria-pressed=true]').count()).toBe(1);
    expect(seen.outside).toEqual([]);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  test('a big field: far off a picture of it that is drawn once, with passes, missing strips and switches as near the eye', async () => {
    const { page, seen } = await site.open();
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 12, bars: 120, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await plant(page, 'narrow');
    await page.locator('.stamp.differs').waitFor({ timeout: 60_000 });
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    await page.locator('.mapbox').scrollIntoViewIfNeeded();
    // 73 m by 242 m, fitted into the window: both shades of the passes, each about half of it.
    const [one, other] = [await colour(page, 'map-recorded'), await colour(page, 'map-recorded-2')];
    const [a, b] = [(await look(page, [one])).count, (await look(page, [other])).count];
    expect(a).toBeGreaterThan(0.03 * 1000 * 500);
    expect(b / a).toBeGreaterThan(0.6);
    expect(b / a).toBeLessThan(1.6);
    // A strip of 15 in is a pixel here: it tints the pixels that it lies in, eleven seams of 240 m.
    await page.getByLabel('Missing strips: recorded, not planted').uncheck();
    const bare = (await look(page, [one, other])).count;
    expect(bare - a - b).toBeGreaterThan(11 * 300);
    await page.getByLabel('Planted', { exact: true }).check();
    expect((await look(page, [await colour(page, 'map-planted')])).count).toBeGreaterThan(a);
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });

  test('comes as close as the map library can go; there a gap of 5 cm is 5 cm wide', async () => {
    const { page, seen } = await site.open();
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 4, bars: 40, sectionsM: Array(8).fill(0.762), spacingM: 6.146 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    await page.locator('.seamchart .seam').nth(1).click();
    await page.getByRole('button', { name: 'Close look at the seam' }).click();
    const closer = page.getByRole('button', { name: 'Zoom in' });
    const atEnd = (): Promise<boolean> => closer.evaluate((e) => (e as HTMLButtonElement).disabled);
    // A busy machine drops clicks while the map still moves: as many as it takes, within the time of the test.
    for (let i = 0; i < 60 && !(await atEnd()); i++) {
      await closer.evaluate((e) => (e as HTMLButtonElement).click());
      await page.waitForTimeout(800);
    }
    expect(await atEnd()).toBe(true);
    expect(await page.locator('.maplibregl-ctrl-scale').innerText()).toMatch(/^\d/);
    // The choice lies over the gap as a line; let go of it.
    await page.locator('.seamchart .seam').nth(1).click();
    const open = await Promise.all(['map-paper', 'map-gap', 'map-gap-mark'].map((n) => colour(page, n)));
    const { runs } = await look(page, open, 12);
    // Web Mercator at the equator: 40,075,016.686 m round the world, 512 px of it at zoom 0 (EPSG:3857 and the map library's tile size).
    const metres = (40_075_016.686 * Math.cos((42.03 * Math.PI) / 180)) / (512 * 2 ** 25);
    // Places in the file are good to 1 mm, pixels to 1.7 mm.
    expect(Math.abs(Math.max(...runs) * metres - 0.05)).toBeLessThan(0.006);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  test('the field boundary is drawn, and taken away again', async () => {
    const { page, seen } = await site.open();
    const at = (x: number, y: number): number[] => [-93.62 + x / 82_812, 42.03 + y / 111_073];
    const ring = [at(-4, -1), at(34, -1), at(34, 83), at(-4, 83), at(-4, -1)];
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 6, bars: 40, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    const ink = [await colour(page, 'ink')];
    const without = (await look(page, ink, 20)).count;
    await page.getByText('Field boundary, if there is one').click();
    const edge = JSON.stringify({
      type: 'Feature',
      properties: {},
      geometry: { type: 'Polygon', coordinates: [ring] },
    });
    await page.setInputFiles('#boundary-files', { name: 'edge.geojson', mimeType: '', buffer: Buffer.from(edge) });
    await page.locator('.command code', { hasText: '--boundary edge.geojson' }).waitFor({ timeout: 60_000 });
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    // Some 240 m of line on a window that shows 84 m over about 500 px.
    expect((await look(page, ink, 20)).count - without).toBeGreaterThan(400);
    await page.getByRole('button', { name: 'Leave it out' }).click();
    await page
      .locator('.command code', { hasText: /check field\.geojson --planter f\.planter\.json$/ })
      .waitFor({ timeout: 60_000 });
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    expect((await look(page, ink, 20)).count).toBeLessThan(without + 200);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  // WEBGL_lose_context, the Khronos registry's extension for just this.
  test('comes back, where the reader was, when the browser takes the graphics away and gives them again', async () => {
    const { page, seen } = await site.open();
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 6, bars: 40, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Close look', exact: true }).click();
    const recorded = [await colour(page, 'map-recorded'), await colour(page, 'map-recorded-2')];
    const before = await look(page, recorded);
    const scale = await page.locator('.maplibregl-ctrl-scale').innerText();
    expect(before.count).toBeGreaterThan(0.1 * before.width * before.height);
    await page.evaluate(() => {
      const canvas = document.querySelector<HTMLCanvasElement>('.maplibregl-canvas');
      const losing = canvas?.getContext('webgl2')?.getExtension('WEBGL_lose_context');
      (globalThis as { giveBack?: () => void }).giveBack = () => losing?.restoreContext();
      losing?.loseContext();
    });
    await page.getByText('The browser has taken the graphics away').waitFor({ timeout: 60_000 });
    await page.evaluate(() => (globalThis as { giveBack?: () => void }).giveBack?.());
    await page.getByText('The browser has taken the graphics away').waitFor({ state: 'detached', timeout: 60_000 });
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    const after = await look(page, recorded);
    expect(Math.abs(after.count - before.count)).toBeLessThan(0.02 * before.count);
    expect(await page.locator('.maplibregl-ctrl-scale').innerText()).toBe(scale);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });
});
