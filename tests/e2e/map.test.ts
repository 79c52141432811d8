// biome-ignore-all lint/performance/useDomNodeTextContent: the browser driver's innerText is the text as it is shown, which is meant.
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { FIFTEEN, fieldGeoJson } from './field.ts';
import { drop, plant, type Site, startSite, text, unfold, verdict } from './page.ts';

let site: Site;
beforeAll(async () => {
  site = await startSite();
});
afterAll(() => site.close());

type Rgb = readonly [number, number, number];

interface Pixels {
  width: number;
  height: number;
  /** Pixels of any of the colors asked for. */
  count: number;
  /** Lengths of the runs of such pixels along the middle row. */
  runs: number[];
}

/** The map's own pixels, looked through in the page for some colors. */
function look(page: Page, wanted: readonly Rgb[], slack = 3): Promise<Pixels> {
  return page.evaluate(
    async ({ wanted, slack }) => {
      // A new check replaces the map, and a change takes some frames: wait until the same map is ready and looks the same twice.
      const copy = document.createElement('canvas');
      const context = copy.getContext('2d', { willReadFrequently: true });
      if (!context) throw new Error('no context');
      let canvas: HTMLCanvasElement | null = null;
      let data = new Uint8ClampedArray();
      for (let i = 0; ; i++) {
        const before: { canvas: HTMLCanvasElement | null; data: Uint8ClampedArray } = { canvas, data };
        await new Promise((done) => setTimeout(done, 250));
        canvas = document.querySelector<HTMLCanvasElement>('.mapbox[data-ready] .maplibregl-canvas');
        if (i > 160) throw new Error(canvas === null ? 'no map' : 'the map does not come to rest');
        if (canvas === null) continue;
        [copy.width, copy.height] = [canvas.width, canvas.height];
        context.drawImage(canvas, 0, 0);
        data = context.getImageData(0, 0, copy.width, copy.height).data;
        const same = data.length === before.data.length && data.every((v, k) => v === before.data[k]);
        if (canvas === before.canvas && same) break;
      }
      const { width, height } = copy;
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

/** Pixels of the map of any of these colors that lie under a part of the sheet. */
function under(page: Page, part: string, wanted: readonly Rgb[]): Promise<number> {
  return page.evaluate(
    ({ part, wanted }) => {
      const canvas = document.querySelector<HTMLCanvasElement>('.mapbox .maplibregl-canvas')!;
      const [box, over] = [canvas.getBoundingClientRect(), document.querySelector(part)!.getBoundingClientRect()];
      const copy = document.createElement('canvas');
      [copy.width, copy.height] = [canvas.width, canvas.height];
      const context = copy.getContext('2d')!;
      context.drawImage(canvas, 0, 0);
      const scale = canvas.width / box.width;
      const { data } = context.getImageData(
        (over.left - box.left) * scale,
        (over.top - box.top) * scale,
        over.width * scale,
        over.height * scale,
      );
      let count = 0;
      for (let i = 0; i < data.length; i += 4)
        if (wanted.some((w) => w.every((c, k) => Math.abs(c - data[i + k]) <= 6))) count++;
      return count;
    },
    { part, wanted },
  );
}

/** Shades of passes; near the eye, of every other section too. */
const RECORDED = ['map-recorded', 'map-recorded-2', 'map-recorded-section', 'map-recorded-2-section'];
const PLANTED = ['map-planted', 'map-planted-2'];

/** Takes the pointer off the map. */
const away = (page: Page): Promise<void> => page.mouse.move(2, 2);

/** A color of the style sheet. */
async function color(page: Page, name: string): Promise<Rgb> {
  const hex = await page.evaluate(
    (n) => getComputedStyle(document.documentElement).getPropertyValue(n).trim(),
    `--${name}`,
  );
  const n = Number.parseInt(hex.slice(1), 16);
  return [(n >> 16) & 255, (n >> 8) & 255, n & 255];
}

describe('the map', () => {
  test('draws both pictures and the missing strips to scale; a record under the pointer is described', async () => {
    const { page, seen } = await site.open();
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 6, bars: 28, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await plant(page, 'narrow');
    await page.locator('.stamp.differs').waitFor({ timeout: 60_000 });
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    await page.locator('.mapbox').scrollIntoViewIfNeeded();
    const recorded = await Promise.all(RECORDED.map((n) => color(page, n)));
    const planted = await Promise.all(PLANTED.map((n) => color(page, n)));
    const missing = [await color(page, 'map-missing'), await color(page, 'map-missing-mark')];
    // What is missing is only on the ground: that picture comes first.
    expect(await page.getByLabel('Planted', { exact: true }).isChecked()).toBe(true);
    await page.getByLabel('Recorded', { exact: true }).check();
    await away(page);
    // The field is 36.6 m by 56 m: what part of the window it takes follows from fitting it, and it is mostly recorded.
    const far = await look(page, recorded);
    expect(far.count).toBeGreaterThan(0.07 * far.width * far.height);
    expect((await look(page, planted)).count).toBe(0);
    // The recorded map is seamless: what is open on the ground is no mark on it.
    expect((await look(page, missing)).count).toBe(0);

    await page.getByLabel('Planted', { exact: true }).check();
    expect((await look(page, planted)).count).toBeGreaterThan(0.06 * far.width * far.height);
    expect((await look(page, recorded)).count).toBe(0);
    expect((await look(page, missing)).count).toBeGreaterThan(100);
    expect(await page.locator('.legend').innerText()).toMatch(
      /On the planted ground\s+A\s+Open: setting “rows planted”,\s0\.0\d+\sac/,
    );

    // Zoomed in: 20 ft from seam to seam, of which 225 in are planted and 15 in are not (common practice: 240 - 225).
    await page.getByRole('button', { name: /^Close look/ }).click();
    const passes = (await look(page, planted)).runs.filter((n) => n > 20).slice(1, -1);
    const strips = (await look(page, missing, 40)).runs.filter((n) => n > 3);
    const ratio = Math.max(...strips) / Math.max(...passes);
    expect(ratio).toBeGreaterThan(0.8 * (15 / 225));
    expect(ratio).toBeLessThan(1.2 * (15 / 225));

    const box = await page.locator('.mapbox').boundingBox();
    if (!box) throw new Error('no map');
    const [x, y] = [box.x + box.width / 2 + 15, box.y + box.height / 2];
    await page.mouse.move(x, y);
    const said = page.locator('.readout');
    await expect
      .poll(() => said.innerText())
      .toMatch(/^Record [\d,]+\s+Pass\s+\d+\s+Section recorded\s+\d from the left\s/);
    // The file's own attributes, unchanged.
    expect(await said.innerText()).toMatch(
      /Width recorded\s+30 in\s+Time\s+April 28, 2026, \d\d:\d\d:\d\d\s[\s\S]*Section\s+\d$/,
    );
    const at = await said.boundingBox();
    if (!at) throw new Error('no readout');
    expect(Math.min(Math.abs(at.x - x), Math.abs(at.x + at.width - x))).toBeLessThan(20);
    expect(Math.min(Math.abs(at.y - y), Math.abs(at.y + at.height - y))).toBeLessThan(20);
    await page.mouse.click(x, y);
    expect(await page.locator('.passbutton[aria-pressed=true]').count()).toBe(1);
    // The outline lies around the pass and not on it: as much of it is seen as before, less what neighbors lose.
    await away(page);
    const outlined = await look(page, [await color(page, 'ink')], 20);
    expect(outlined.runs.filter((n) => n >= 2 && n <= 5).length).toBeGreaterThanOrEqual(2);
    expect((await look(page, planted)).runs.filter((n) => n > 20)).toContain(Math.max(...passes));
    expect(seen.outside).toEqual([]);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  test('a big field: far off, passes keep their shades in both pictures, and strips too thin to be seen are a tint as strong as the ground is open', async () => {
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
    const shades = async (names: readonly string[]): Promise<[number, number]> => [
      (await look(page, [await color(page, names[0])])).count,
      (await look(page, [await color(page, names[1])])).count,
    ];
    await page.getByLabel('Recorded', { exact: true }).check();
    await away(page);
    const [a, b] = await shades(RECORDED);
    expect(a).toBeGreaterThan(0.03 * 1000 * 500);
    expect(b / a).toBeGreaterThan(0.6);
    expect(b / a).toBeLessThan(1.6);
    await page.getByLabel('Planted', { exact: true }).check();
    await page.getByLabel(/Open: setting “rows planted”/).uncheck();
    await away(page);
    const [c, d] = await shades(PLANTED);
    expect(d / c).toBeGreaterThan(0.6);
    expect(d / c).toBeLessThan(1.6);
    // Shown, they tint the whole field: its marks take the part that is open, 15 of 240 in (common practice), and both shades stay apart.
    const [mark, shade] = [await color(page, 'map-missing-mark'), await color(page, 'map-planted')];
    const inked = mark.map((v, i) => 0.9 * v + 0.1 * shade[i]) as unknown as Rgb;
    expect((await look(page, [inked], 24)).count).toBeLessThan(0.002 * (c + d));
    await page.getByLabel(/Open: setting “rows planted”/).check();
    await away(page);
    const marks = (await look(page, [inked], 24)).count;
    expect(marks / (c + d)).toBeGreaterThan(0.6 * (15 / 240));
    expect(marks / (c + d)).toBeLessThan(1.7 * (15 / 240));
    const tinted = async (name: string): Promise<number> => {
      const [s, ground] = [await color(page, name), await color(page, 'map-missing')];
      // The ground between the marks: half of the open part of the tint over the shade of the pass.
      const mixed = s.map((v, i) => v + 0.5 * (15 / 240) * (ground[i] - v)) as unknown as Rgb;
      return (await look(page, [mixed], 3)).count;
    };
    const [e, f] = [await tinted(PLANTED[0]), await tinted(PLANTED[1])];
    expect(e).toBeGreaterThan(0.6 * c);
    expect(f).toBeGreaterThan(0.6 * d);
    expect(await page.locator('.mapview .thin').innerText()).toMatch(
      /too thin to draw at this scale are shown as a tint/,
    );
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });

  test('two pictures side by side, with a line between that the keyboard moves', async () => {
    const { page, seen } = await site.open();
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 12, bars: 40, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await plant(page, 'narrow');
    await page.locator('.stamp.differs').waitFor({ timeout: 60_000 });
    await page.getByLabel('Compare', { exact: true }).check();
    await page.getByLabel(/Open: setting “rows planted”/).uncheck();
    const colors = async (names: readonly string[]): Promise<Rgb[]> => Promise.all(names.map((n) => color(page, n)));
    const [recorded, planted] = [await colors(RECORDED), await colors(PLANTED)];
    await away(page);
    const half = [(await look(page, recorded)).count, (await look(page, planted)).count];
    // Shades beside strips and edges are mixed ones, more of them in one picture than in the other.
    expect(half[0] / half[1]).toBeGreaterThan(0.5);
    expect(half[0] / half[1]).toBeLessThan(2);
    await page.getByRole('slider', { name: /^Line between/ }).focus();
    await page.keyboard.press('Home');
    await away(page);
    expect((await look(page, recorded)).count).toBe(0);
    await page.keyboard.press('End');
    await away(page);
    expect((await look(page, planted)).count).toBe(0);
    await page.keyboard.press('ArrowLeft');
    expect(await page.getByRole('slider', { name: /^Line between/ }).getAttribute('aria-valuetext')).toBe(
      '99 % recorded, 1 % planted',
    );
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });

  test('a diagnosis leads to the map and marks its passes there', async () => {
    const { page, seen } = await site.open('/?sample=fewer-rows-midway');
    await verdict(page);
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Show it on the map' }).first().click();
    await expect.poll(() => page.locator('.mapbox').evaluate((e) => e.getBoundingClientRect().top)).toBeLessThan(500);
    const top = await page.locator('.mapview').evaluate((e) => e.getBoundingClientRect().top);
    expect(top).toBeGreaterThan(-10);
    const outline = await look(page, [await color(page, 'ink')], 20);
    expect(outline.count).toBeGreaterThan(300);
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });

  test('the whole field lies clear of legend, zoom buttons and scale; the legend is on the map, folded to what matters, and each of its lines has the letter that the map shows', async () => {
    for (const viewport of [
      { width: 1280, height: 900 },
      { width: 390, height: 844 },
    ]) {
      const { page, seen } = await site.open('/?sample=narrow-as-wide', { viewport });
      await verdict(page);
      await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
      await page.locator('.mapbox').scrollIntoViewIfNeeded();
      const map = (await page.locator('.mapbox').boundingBox())!;
      if (viewport.width > 1000) expect(map.y + map.height).toBeLessThanOrEqual(900);
      const ground = await Promise.all([...PLANTED, 'map-missing', 'map-missing-mark'].map((n) => color(page, n)));
      await away(page);
      expect((await look(page, ground)).count).toBeGreaterThan(1000);
      for (const part of ['.legend', '.maplibregl-ctrl-group', '.maplibregl-ctrl-scale']) {
        const box = (await page.locator(part).first().boundingBox())!;
        expect(box.x, part).toBeGreaterThanOrEqual(map.x);
        expect(box.x + box.width, part).toBeLessThanOrEqual(map.x + map.width);
        expect(box.y + box.height, part).toBeLessThanOrEqual(map.y + map.height);
        expect(await under(page, part, ground), part).toBe(0);
      }
      const lines = page.locator('.legend label:visible');
      const folded = await lines.count();
      expect(folded).toBeLessThanOrEqual(2);
      // The letters are circles of ink on the map: fewer when their sign is hidden.
      const ink = [await color(page, 'ink')];
      const lettered = (await look(page, ink, 40)).count;
      await page.getByLabel(/Open: setting “rows planted”/).uncheck();
      await away(page);
      expect((await look(page, ink, 40)).count).toBeLessThan(lettered - 60);
      await page.getByRole('button', { name: /more lines$/ }).press('Enter');
      expect(await lines.count()).toBeGreaterThan(folded);
      const letters = await page.locator('.legend .letter').allInnerTexts();
      expect(new Set(letters).size).toBe(letters.length);
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(viewport.width);
      expect(seen).toEqual({ outside: [], faults: [] });
      await page.context().close();
    }
  });

  test('a closer look goes to the middle of the field, also of one at the edge of the world', async () => {
    const { page, seen } = await site.open();
    const plain = fieldGeoJson({ passes: 6, bars: 28, sectionsM: Array(8).fill(0.762), spacingM: 6.096 });
    // 180 degrees east, just west of the line.
    const edge = plain.replaceAll(/\[(-93\.\d+),/g, (_, lng) => `[${(Number(lng) + 273.6195).toFixed(8)},`);
    await drop(page, [text('edge.geojson', edge)]);
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    const recorded = await Promise.all(RECORDED.map((n) => color(page, n)));
    const far = await look(page, recorded);
    expect(far.count).toBeGreaterThan(0.07 * far.width * far.height);
    for (let i = 0; i < 4; i++) {
      await page.locator('.maplibregl-ctrl-zoom-in').click();
      await page.waitForTimeout(400);
    }
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    // 16 times as near: nothing but the field.
    const near = await look(page, [...recorded, await color(page, 'map-edge')], 40);
    expect(near.count).toBeGreaterThan(0.9 * near.width * near.height);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  test('a chosen pass is one outline from outside: nothing of it is hidden, and no other line is drawn', async () => {
    const { page } = await site.open('/');
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 9, bars: 60, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    await page.getByLabel('Recorded', { exact: true }).check();
    await away(page);
    const recorded = await Promise.all(RECORDED.map((n) => color(page, n)));
    const ink = [await color(page, 'ink')];
    const before = await look(page, recorded);
    expect((await look(page, ink, 60)).runs).toEqual([]);
    await page
      .locator('.passbutton')
      .nth(4 + 8)
      .click();
    await away(page);
    // Across the field there is one line on either side of the pass.
    expect((await look(page, ink, 60)).runs).toHaveLength(2);
    expect((await look(page, recorded)).count).toBeGreaterThan(0.85 * before.count);
    await page.context().close();
  });

  test('signs differ without color: in shades of gray the three weights and both facts have lightness or pattern of their own', async () => {
    const { page } = await site.open('/?sample=wide-one-section-per-row');
    await verdict(page);
    for (const scheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme: scheme });
      // Relative luminance and contrast as WCAG 2.2 defines them; 1.4.11 asks 3 to 1 of what is needed to understand a graphic.
      const light = async (name: string): Promise<number> => {
        const [r, g, b] = (await color(page, name)).map((v) => {
          const c = v / 255;
          return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
        });
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
      };
      for (const [ground, mark] of [
        ['map-missing', 'map-missing-mark'],
        ['map-gap', 'map-gap-mark'],
        ['map-gap', 'map-seam-fine'],
        ['map-overlap', 'map-overlap-mark'],
        ['map-overlap', 'map-gap-mark'],
        ['map-overlap', 'map-seam-fine'],
      ]) {
        const [a, b] = [await light(ground), await light(mark)].sort((p, q) => q - p);
        expect((a + 0.05) / (b + 0.05), `${scheme}: ${ground} and ${mark}`).toBeGreaterThanOrEqual(3);
      }
    }
    // Drawn small in the legend as on the map: dots are open ground, bars are covered twice, bolder the more they weigh.
    const shapes = await page.locator('.legend label').evaluateAll((labels) =>
      labels.map((l) => {
        const open = /Open/.test(l.textContent ?? '');
        const svg = l.querySelector('svg');
        return open ? (svg?.querySelectorAll('.mark').length ?? 0) > 0 : svg?.querySelector('.bars') !== null;
      }),
    );
    expect(shapes.length).toBeGreaterThan(3);
    expect(shapes.every((s) => s)).toBe(true);
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
    const open = await Promise.all(['map-paper', 'map-gap', 'map-gap-mark'].map((n) => color(page, n)));
    const { runs } = await look(page, open, 12);
    // Web Mercator at the equator: 40,075,016.686 m round the world, 512 px of it at zoom 0 (EPSG:3857 and the map library's tile size).
    const meters = (40_075_016.686 * Math.cos((42.03 * Math.PI) / 180)) / (512 * 2 ** 25);
    // Places in the file are good to 1 mm, pixels to 1.7 mm.
    expect(Math.abs(Math.max(...runs) * meters - 0.05)).toBeLessThan(0.006);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  test('the field boundary is drawn, and removed again', async () => {
    const { page, seen } = await site.open();
    const at = (x: number, y: number): number[] => [-93.62 + x / 82_812, 42.03 + y / 111_073];
    const ring = [at(-4, -1), at(34, -1), at(34, 83), at(-4, 83), at(-4, -1)];
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 6, bars: 40, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    const ink = [await color(page, 'ink')];
    const without = (await look(page, ink, 20)).count;
    await unfold(page, 'map');
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
    await page.getByRole('button', { name: 'Remove' }).click();
    await page
      .locator('.command code', { hasText: /check field\.geojson --planter f\.planter\.json$/ })
      .waitFor({ timeout: 60_000 });
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    expect((await look(page, ink, 20)).count).toBeLessThan(without + 200);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  // WEBGL_lose_context, the Khronos registry's extension for just this.
  test('returns to the same view when the browser drops and restores the graphics context', async () => {
    const { page, seen } = await site.open();
    await drop(page, [
      text('field.geojson', fieldGeoJson({ passes: 6, bars: 40, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
      text('f.planter.json', JSON.stringify(FIFTEEN)),
    ]);
    await verdict(page);
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Close look', exact: true }).click();
    const recorded = [await color(page, 'map-recorded'), await color(page, 'map-recorded-2')];
    const before = await look(page, recorded);
    const scale = await page.locator('.maplibregl-ctrl-scale').innerText();
    expect(before.count).toBeGreaterThan(0.1 * before.width * before.height);
    await page.evaluate(() => {
      const canvas = document.querySelector<HTMLCanvasElement>('.maplibregl-canvas');
      const losing = canvas?.getContext('webgl2')?.getExtension('WEBGL_lose_context');
      (globalThis as { giveBack?: () => void }).giveBack = () => losing?.restoreContext();
      losing?.loseContext();
    });
    await page.getByText('The browser has suspended graphics').waitFor({ timeout: 60_000 });
    // What happens to the map is said on the map, in the window.
    const [says, map] = [
      (await page.locator('.mapstate').boundingBox())!,
      (await page.locator('.mapbox').boundingBox())!,
    ];
    expect(says.y).toBeGreaterThanOrEqual(map.y);
    expect(says.x + says.width).toBeLessThanOrEqual(map.x + map.width);
    expect(says.y + says.height).toBeLessThanOrEqual(900);
    await page.evaluate(() => (globalThis as { giveBack?: () => void }).giveBack?.());
    await page.getByText('The browser has suspended graphics').waitFor({ state: 'detached', timeout: 60_000 });
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    const after = await look(page, recorded);
    expect(Math.abs(after.count - before.count)).toBeLessThan(0.02 * before.count);
    expect(await page.locator('.maplibregl-ctrl-scale').innerText()).toBe(scale);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });
});
