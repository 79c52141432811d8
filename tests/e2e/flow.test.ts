// biome-ignore-all lint/performance/useDomNodeTextContent: the browser driver's innerText is the text as it is shown, which is meant.
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { unzipSync } from 'fflate';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { geoJson } from '../../src/core/formats/index.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { rebuild } from '../../src/core/rebuild/index.ts';
import { rebuiltEntries } from '../../src/core/report/index.ts';
import { builtCommand } from '../audit/built.ts';
import { FIFTEEN, fieldGeoJson, TWELVE } from './field.ts';
import {
  checkHere,
  drop,
  type Given,
  plant,
  type Site,
  sample,
  stampOf,
  startSite,
  text,
  unfold,
  verdict,
} from './page.ts';

let site: Site;
beforeAll(async () => {
  site = await startSite();
});
afterAll(() => site.close());

const wide = Array(8).fill(0.762);
const narrow = [0.762, 0.762, 0.762, 0.381, 0.762, 0.762, 0.762, 0.762];
const strips = (name: string, sectionsM: number[], spacingM: number, more = {}): Given =>
  text(name, fieldGeoJson({ passes: 6, bars: 50, sectionsM, spacingM, ...more }));
/** 15 rows at 15 in planted, 8 sections of 30 in recorded, steered 20 ft. */
const field = strips('home field.geojson', wide, 6.096);
const planterFile = text('fifteen.planter.json', JSON.stringify(FIFTEEN));
const ONE = { ...FIFTEEN, name: 'Narrow only', plantings: { narrow: 'all' }, passSpacing: { narrow: 225 } };
const oneFile = text('one.planter.json', JSON.stringify(ONE));

const shown = async (page: Page, where: string): Promise<string> =>
  (await page.locator(where).innerText()).replace(/\s+/g, ' ');
const box = async (page: Page, where: string) => (await page.locator(where).first().boundingBox())!;
const mapDrawn = (page: Page): Promise<void> => page.locator('.mapbox[data-ready]').waitFor({ timeout: 200_000 });

describe('the answer comes first', () => {
  test('at 1280 by 900 verdict, cause and map are in the window; inputs are a line each and change in place', async () => {
    const { page, seen } = await site.open();
    await drop(page, [field, planterFile]);
    await verdict(page);
    await plant(page, 'narrow');
    const here = await checkHere([field], planterFile, 'narrow');
    await page.locator('.stamp.differs').waitFor({ timeout: 200_000 });
    expect(await verdict(page)).toBe(stampOf(here));
    expect(await shown(page, '.stamp')).toContain(here.report.diagnoses[0].says);
    await mapDrawn(page);
    const [stamp, map] = [await box(page, '.stamp'), await box(page, '.mapbox')];
    expect(stamp.y + stamp.height).toBeLessThan(map.y);
    expect(map.y + 250).toBeLessThan(900);
    const order = await page.evaluate(() =>
      ['verdict', 'map', 'field', 'rulers', 'account', 'evidence', 'todo', 'takeaway'].map(
        (id) => document.getElementById(id)!.getBoundingClientRect().top,
      ),
    );
    expect(order).toEqual([...order].sort((a, b) => a - b));
    await page.locator('#planting > summary').click();
    for (const id of ['map', 'planter', 'planting']) expect((await box(page, `details#${id}`)).height).toBeLessThan(60);
    await plant(page, 'wide');
    await page.locator('#planting .linesays', { hasText: '8 rows' }).waitFor({ timeout: 200_000 });
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });

  test('on a phone verdict and cause are in the window, and nothing scrolls sideways at 320', async () => {
    const { page } = await site.open('/', { viewport: { width: 390, height: 844 } });
    await drop(page, [field, oneFile]);
    await verdict(page);
    const stamp = await box(page, '.stamp');
    expect(stamp.y + stamp.height).toBeLessThan(844);
    await page.setViewportSize({ width: 320, height: 700 });
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(320);
    await page.context().close();
  });

  test('the screen shows only what someone can act on', async () => {
    const { page } = await site.open();
    await drop(page, [field, oneFile]);
    await verdict(page);
    const all = await shown(page, 'main');
    expect(all).not.toMatch(/e-1\d|agree with each other|wider and narrower/);
    expect(all.match(/What this sheet cannot see/g)).toHaveLength(1);
    await unfold(page, 'map');
    // The map has a section and a time; the five other roles are not mentioned until the reader asks.
    expect(await page.locator('#map .columns tbody tr').count()).toBe(2);
    await page.getByRole('button', { name: 'Name another column' }).click();
    expect(await page.locator('#map .columns tbody tr').count()).toBe(7);
    await page.context().close();
  });

  test('one bar for the whole check, and it only grows', async () => {
    const { page } = await site.open();
    await page.evaluate(() => {
      const seen: number[] = [];
      (window as unknown as { bar: number[] }).bar = seen;
      new MutationObserver(() => {
        const bar = document.querySelector('progress');
        if (bar) seen.push(bar.value);
      }).observe(document.body, { subtree: true, childList: true, attributes: true });
    });
    await drop(page, [
      text('big.geojson', fieldGeoJson({ passes: 8, bars: 60, sectionsM: wide, spacingM: 6.096 })),
      planterFile,
    ]);
    await verdict(page);
    const bar = await page.evaluate(() => (window as unknown as { bar: number[] }).bar);
    expect(bar.length).toBeGreaterThan(3);
    expect(bar).toEqual([...bar].sort((a, b) => a - b));
    expect(bar[bar.length - 1]).toBeLessThanOrEqual(1);
    await page.context().close();
  });

  /** What stands on the sheet when the whole of the map as read is on it, and how much of the picture is tinted. */
  const watchFirst = (page: Page): Promise<void> =>
    page.evaluate(() => {
      const seenAt = new MutationObserver(() => {
        const canvas = document.querySelector<HTMLCanvasElement>('#first .asread[data-ready]');
        if (!canvas) return;
        seenAt.disconnect();
        const has = (q: string): boolean => document.querySelector(q) !== null;
        const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
        let tinted = 0;
        for (let i = 3; i < data.length; i += 4) if (data[i] > 0) tinted++;
        const part = (4 * tinted) / data.length;
        Object.assign(window, { first: { progress: has('#progress'), stamp: has('.stamp'), part } });
      });
      seenAt.observe(document.body, { subtree: true, childList: true, attributes: true });
    });
  const firstOf = (page: Page): Promise<{ progress: boolean; stamp: boolean; part: number }> =>
    page.evaluate(() => (window as unknown as { first: { progress: boolean; stamp: boolean; part: number } }).first);
  const bigField = { passes: 60, bars: 250, sectionsM: wide, spacingM: 6.096 };

  test('a big map is there as soon as it is read, before there is an answer, until it is drawn', async () => {
    const { page, seen } = await site.open();
    await watchFirst(page);
    await drop(page, [text('big.geojson', fieldGeoJson(bigField)), planterFile]);
    await verdict(page);
    const first = await firstOf(page);
    expect(first).toMatchObject({ progress: true, stamp: false });
    // 366 by 501 meters of ground, with room around it, on a map 1154 wide that fills the rest of the window.
    expect(first.part).toBeGreaterThan(0.3);
    expect(first.part).toBeLessThan(0.45);
    expect(await page.locator('#first').count()).toBe(0);
    await page.locator('#field .mapbox[data-ready]').waitFor({ timeout: 200_000 });
    expect(await page.locator('.asread').count()).toBe(0);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  test('a large file, which two workers read, has the picture and the answer of its records', async () => {
    const long = 'x'.repeat(240);
    const large = text('large.geojson', fieldGeoJson({ ...bigField, properties: () => ({ note: long }) }));
    expect(large.bytes.length).toBeGreaterThan(2 * 12 * 2 ** 20);
    const folder = mkdtempSync(join(tmpdir(), 'guessrow-large-'));
    const path = join(folder, large.name);
    writeFileSync(path, large.bytes);
    const { page, seen } = await site.open();
    const workers = new Set<string>();
    page.on('request', (r) => {
      if (/worker-helper/.test(r.url())) workers.add(r.url());
    });
    await watchFirst(page);
    await page.setInputFiles('#planter-file', {
      name: planterFile.name,
      mimeType: '',
      buffer: Buffer.from(planterFile.bytes),
    });
    await page.setInputFiles('#map-files', path);
    expect(await verdict(page)).toBe(stampOf(await checkHere([large], planterFile)));
    const first = await firstOf(page);
    expect(first).toMatchObject({ progress: true, stamp: false });
    expect(first.part).toBeGreaterThan(0.3);
    expect(first.part).toBeLessThan(0.45);
    expect(workers.size).toBe(1);
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });
});

describe('before an answer', () => {
  test('map and planter side by side, three samples as buttons, the rest behind more', async () => {
    const { page } = await site.open();
    await page.locator('.sample').first().waitFor({ timeout: 200_000 });
    const [map, planter] = [await box(page, '#map'), await box(page, '#planter')];
    expect(map.y).toBe(planter.y);
    expect(map.x + map.width).toBeLessThanOrEqual(planter.x);
    expect(await page.locator('.sample:visible').count()).toBe(3);
    await page.locator('summary', { hasText: 'More samples' }).click();
    expect(await page.locator('.sample:visible').count()).toBeGreaterThan(8);
    await page.context().close();
  });

  test('confirming a fix has its own entry', async () => {
    const { page } = await site.open();
    const given = ({ name, bytes }: Given) => ({ name, mimeType: '', buffer: Buffer.from(bytes) });
    await drop(page, [oneFile]);
    await page.setInputFiles('#fix-before', given(strips('before.geojson', narrow, 6.096)));
    await page.setInputFiles('#fix-after', given(strips('after.geojson', narrow, 5.715)));
    expect(await verdict(page)).toMatch(/^Fixed /);
    await page.context().close();
  });
});

describe('a map alone', () => {
  test('shows its facts and proposes a planter, which its owner has to confirm', async () => {
    const { page, seen } = await site.open();
    await drop(page, [field]);
    await page.locator('.alone').waitFor({ timeout: 200_000 });
    const says = await shown(page, '#verdict');
    // 8 sections of 30 in are 20 ft, and 8 rows at 30 in (arithmetic).
    expect(says).toContain('working width of 20 ft (240 in) in 8 sections');
    expect(says).toContain('8 sections of 30 in over 20 ft (240 in): 8 rows at 30 in?');
    expect(says).not.toMatch(/Agrees|Differs/);
    const alone = await shown(page, '#alone');
    expect(alone).toContain('2,400 records');
    expect(alone).toContain('6 passes');
    expect(alone).toContain('Section, Time');
    expect(await page.locator('.stamp').count()).toBe(0);
    await mapDrawn(page);
    const map = await box(page, '.mapbox');
    expect(map.y + 450).toBeLessThan(900);
    expect((await box(page, '#alone')).y).toBeGreaterThan(map.y + map.height);
    await page.getByRole('button', { name: 'Use 8 rows at 30 in' }).click();
    // That a map agrees with a planter made from it proves little, and the verdict itself says so.
    expect(await verdict(page)).toMatch(/^Agrees with itself The map fits the planter that was guessed from it/);
    expect(await shown(page, '.whose')).toContain('was guessed from this same map, not from the machine');
    expect(await shown(page, '.whose')).toContain('Count the rows on the frame, measure the spacing');
    expect(await shown(page, '#todo')).toContain('Count the rows on the frame');
    expect(await shown(page, '#todo')).not.toContain('Nothing needs to change');
    await page.getByRole('button', { name: 'Correct the planter' }).press('Enter');
    expect(await page.evaluate(() => document.activeElement?.closest('#planter')?.id)).toBe('planter');
    await page.getByLabel('Rows', { exact: true }).waitFor({ timeout: 200_000 });
    // It is not kept for the next map as if it had been looked at.
    await page.getByRole('button', { name: 'Start over' }).click();
    await page.locator('.promise').waitFor({ timeout: 200_000 });
    expect(await page.locator('.kept li').count()).toBe(0);
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });

  test('a guess that is opened to be changed, and is not, stays a guess; one that was counted is the reader’s own', async () => {
    const { page, seen } = await site.open();
    await drop(page, [field]);
    await page.getByRole('button', { name: 'Change it first' }).click();
    // A name of its own does not make it another planter.
    await page.getByLabel('Name', { exact: true }).fill('Mine');
    await page.getByRole('button', { name: 'Check the map' }).click();
    expect(await verdict(page)).toMatch(/^Agrees with itself /);
    // The answer folds the form away.
    expect(await page.locator('details#planter').getAttribute('open')).toBeNull();
    await page.getByRole('button', { name: 'I counted: it is right' }).click();
    expect(await verdict(page)).toMatch(/^Agrees The map agrees with the planter/);
    expect(await page.locator('.whose').count()).toBe(0);
    await page.getByRole('button', { name: 'Start over' }).click();
    expect(await shown(page, '.kept li')).toContain('Mine');
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });

  test('a photo, a text and a cut file are refused with a sentence', async () => {
    const { page } = await site.open();
    const jpeg = {
      name: 'photo.jpg',
      bytes: Uint8Array.from([0xff, 0xd8, 0xff, 0xe0, 0, 16, 0x4a, 0x46, 0x49, 0x46, 0]),
    };
    const cut = { name: 'cut.geojson', bytes: field.bytes.slice(0, 20_000) };
    for (const wrong of [jpeg, text('letter.txt', 'Dear Sir,'), cut]) {
      await drop(page, [wrong]);
      await page.locator('#verdict .problem', { hasText: wrong.name }).waitFor({ timeout: 200_000 });
      expect(await shown(page, '#verdict .problem')).toContain('What to do');
    }
    // The way out is beside the sentence.
    const again = { name: field.name, mimeType: '', buffer: Buffer.from(field.bytes) };
    await page.getByLabel('Open another map').first().setInputFiles(again);
    await page.locator('.alone').waitFor({ timeout: 200_000 });
    await page.context().close();
  });
});

describe('what a map leaves open is asked', () => {
  test('its coordinate system, where it names none', async () => {
    const { page, seen } = await site.open();
    const parts = Object.entries(unzipSync(sample('other-pass-spacing/windbreak-forty.zip').bytes));
    const without = parts.filter(([name]) => !name.endsWith('.prj')).map(([name, bytes]) => ({ name, bytes }));
    await drop(page, [...without, sample('other-pass-spacing/other-pass-spacing.planter.json')]);
    expect(await shown(page, '#verdict .problem')).toMatch(
      /Name the system below, .*; likely EPSG:326ZZ, UTM zone ZZ north/,
    );
    const asked = page.getByLabel('Coordinate system of the map, such as EPSG:32615');
    await asked.fill('no system');
    await page.getByRole('button', { name: 'Read the map in this system' }).click();
    expect(await shown(page, '#verdict .problem')).toContain('no system');
    // The sample is in UTM zone 15 north, as its .prj says.
    await asked.fill('32615');
    await page.getByRole('button', { name: 'Read the map in this system' }).click();
    await plant(page, 'narrow');
    await page.locator('.stamp.differs').waitFor({ timeout: 200_000 });
    expect(await page.locator('.command').first().innerText()).toContain('--crs EPSG:32615');
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  test('the order of day and month, where dates can be read either way', async () => {
    const { page, seen } = await site.open();
    const at = (i: number): string =>
      `0${3 + Math.floor(i / 900)}/05/2026 08:${String(Math.floor(i / 60) % 60).padStart(2, '0')}:${String(i % 60).padStart(2, '0')}`;
    await drop(page, [
      strips('dates.geojson', narrow, 5.715, { properties: (i: number) => ({ Time: undefined, When: at(i) }) }),
      oneFile,
    ]);
    await page.locator('.stamp').waitFor({ timeout: 200_000 });
    expect(await page.locator('.notes').innerText()).toContain('Say which under the map.');
    await unfold(page, 'map');
    await page.getByLabel('Dates').selectOption('day-first');
    await page.locator('.command', { hasText: '--dates day-first' }).first().waitFor({ timeout: 200_000 });
    await expect.poll(() => page.locator('.notes').innerText()).not.toContain('Say which');
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });
});

test('the sheet asks what was planted before any verdict; a user who does not know gets the answer for each planting', async () => {
  const { page } = await site.open();
  const agrees = strips('narrow.geojson', narrow, 5.715);
  await drop(page, [agrees, planterFile]);
  await mapDrawn(page);
  expect(await page.locator('.stamp').count()).toBe(0);
  expect(await page.locator('#account').count()).toBe(0);
  expect(await page.locator('.question button').allInnerTexts()).toEqual([
    expect.stringMatching(/^narrow 15 rows/),
    expect.stringMatching(/^wide 8 rows/),
    expect.stringMatching(/^I don’t know/),
  ]);
  await verdict(page);
  const { report } = await checkHere([agrees], planterFile);
  const each = await page.locator('.ifplanted li').allInnerTexts();
  expect(each).toHaveLength(2);
  for (const [i, p] of report.ifPlanted.entries()) {
    expect(each[i].toLowerCase()).toContain(`if ${p.planting} was planted: ${p.verdict}`);
    expect(each[i]).toContain(p.says);
  }
  // Rulers and tables can show one planting only, and each of them says which.
  for (const part of ['#rulers', '#account', '#evidence'])
    expect(await shown(page, `${part} .shownfor`)).toContain(`Shown as if ${report.declared.planting} was planted`);
  await page.locator('.ifplanted').getByRole('button', { name: 'It was narrow' }).click();
  await page.locator('.stamp.agrees').waitFor({ timeout: 200_000 });
  expect(await page.locator('.shownfor').count()).toBe(0);
  await page.context().close();
});

describe('the planter form', () => {
  test('describes any planter from nothing: focus, plantings, sections, units, and errors in plain words', async () => {
    const { page } = await site.open();
    await page.getByRole('button', { name: 'Describe a planter here' }).click();
    await expect.poll(() => page.evaluate(() => document.activeElement?.id)).toBe('planter-name');
    await page.getByLabel('Rows', { exact: true }).fill('15');
    // The sections of twelve rows no longer cover the frame: others are proposed at once.
    await page.locator('.propose.needed').waitFor({ timeout: 200_000 });
    await page.getByRole('button', { name: 'Take these sections' }).click();
    await page.getByLabel('Name of the planting "every"').fill('narrow');
    await page.getByRole('button', { name: 'Add a planting' }).click();
    await page.getByLabel('Name of the planting "wide"').waitFor({ timeout: 200_000 });
    await expect
      .poll(() => page.evaluate(() => document.activeElement?.id))
      .toBe(await page.getByLabel('Name of the planting "wide"').getAttribute('id'));
    expect(await page.getByLabel('Planting in the drawing').locator('option').allInnerTexts()).toEqual([
      'narrow',
      'wide',
    ]);
    await page.getByLabel('Name of the planting "wide"').fill('narrow');
    expect(await shown(page, '.planting >> nth=1')).toContain('Another planting is called "narrow".');
    await page.getByRole('button', { name: 'Remove the planting wide' }).click();
    expect(await page.locator('.planting').count()).toBe(1);
    await page.locator('.form select').first().selectOption('cm');
    // 30 in are 76.2 cm.
    await expect.poll(() => page.getByLabel('Row spacing, cm').inputValue()).toBe('76.2');
    // Back to a field by keyboard: the drawing that stays on top does not cover it.
    await page.getByLabel('Name of the planting "narrow"').focus();
    await page.keyboard.press('Shift+Tab');
    await page.keyboard.type('9999');
    const wrong = await shown(page, '#planter .wrong');
    expect(wrong).toContain('the unit');
    expect(wrong).not.toMatch(/"unit"|rowSpacing|"in"/);
    // The drawing stays where it is, over the fields, as it was before.
    expect(await page.locator('#planter .drawing').count()).toBe(1);
    expect(await shown(page, '#planter .declared')).toContain('Drawn as it was before the field that is marked');
    const drawing = await box(page, '#planter .drawing');
    const typed = (await page.getByLabel('Row spacing, cm').boundingBox())!;
    expect(drawing.y).toBeGreaterThanOrEqual(0);
    expect(drawing.y + drawing.height).toBeLessThanOrEqual(typed.y);
    await page.getByLabel('Row spacing, cm').fill('');
    await expect.poll(() => shown(page, '#planter .wrong')).toContain('The row spacing is missing.');
    await page.getByLabel('Row spacing, cm').fill('76.2');
    // 15 rows at 76.2 cm: a pass spacing of a meter would plant over the pass before, which no number of guess rows says.
    await page.getByLabel('Pass spacing of "narrow", cm').fill('100');
    await expect
      .poll(() => shown(page, '#planter .wrong'))
      .toContain('each pass would plant over rows of the one before it');
    await page.getByLabel('Pass spacing of "narrow", cm').fill('');
    await page.getByLabel('Offset to the right, cm').fill('99999');
    await expect.poll(() => shown(page, '#planter .wrong')).toContain('at most 5,000 cm');
    await page.context().close();
  });

  test('a planter that was used is kept, and offered by the name of its machine', async () => {
    const { page } = await site.open();
    const of = (name: string) => strips(name, narrow, 5.715, { properties: () => ({ Machine: 'North 2' }) });
    await drop(page, [of('monday.geojson'), oneFile]);
    await verdict(page);
    await page.getByRole('button', { name: 'Start over' }).click();
    await page.getByRole('button', { name: ONE.name, exact: true }).waitFor({ timeout: 200_000 });
    await drop(page, [of('tuesday.geojson')]);
    await page.locator('.alone').waitFor({ timeout: 200_000 });
    await page.locator('.which').getByRole('button', { name: ONE.name, exact: true }).click();
    expect(await verdict(page)).toMatch(/^Agrees /);
    await page.context().close();
  });
});

describe('which planter a map gets', () => {
  test('a sample’s planter is not used for another map; the planter of the previous map is, and that is said', async () => {
    const { page } = await site.open('/?sample=test-strips-after');
    await verdict(page);
    await drop(page, [field]);
    await page.locator('.alone').waitFor({ timeout: 200_000 });
    expect(await page.locator('.stamp').count()).toBe(0);
    // A planter of another width and other sections may be another machine.
    const NINE = { name: 'Nine', unit: 'in', rows: 9, rowSpacing: 40, plantings: { all: 'all' }, sections: ['1-9'] };
    await drop(page, [text('nine.planter.json', JSON.stringify(NINE))]);
    await page.locator('.otherplanter').waitFor({ timeout: 200_000 });
    expect(await shown(page, '.otherplanter')).toContain(
      'The map records 20 ft (240 in) in 8 sections; no planting of',
    );
    await drop(page, [oneFile]);
    await verdict(page);
    expect(await page.locator('.whose').count()).toBe(0);
    await drop(page, [strips('second.geojson', narrow, 5.715)]);
    expect(await verdict(page)).toMatch(/^Agrees /);
    expect(await shown(page, '.whose')).toContain('the planter of the previous map');
    expect(await shown(page, '#planter > summary')).toContain('from the previous map');
    await page.context().close();
  });

  test('planter and planting of the previous map are both named; a map that another planter fits says so and offers it', async () => {
    const { page, seen } = await site.open();
    // 12 rows at 30 in are 30 ft, 9.144 m, in sections of 2.286 m (arithmetic).
    const thirty = [2.286, 2.286, 2.286, 2.286];
    await drop(page, [strips('thirty.geojson', thirty, 9.144), text('t.planter.json', JSON.stringify(TWELVE))]);
    expect(await verdict(page)).toMatch(/^Agrees /);
    await page.getByRole('button', { name: 'Start over' }).click();
    await drop(page, [strips('first.geojson', narrow, 5.715), planterFile]);
    await plant(page, 'narrow');
    await page.locator('.stamp.agrees').waitFor({ timeout: 200_000 });
    await drop(page, [strips('second.geojson', narrow, 5.715)]);
    await page.locator('#map .linesays', { hasText: 'second.geojson' }).waitFor({ timeout: 200_000 });
    await verdict(page);
    const says = await shown(page, '.whose');
    expect(says).toContain(
      '“Fifteen-row split frame”, planted “narrow”: planter and planting are those of the previous',
    );
    expect(await page.locator('.otherplanter').count()).toBe(0);
    expect(await shown(page, '#planting > summary')).toContain('from the previous map');
    await drop(page, [strips('third.geojson', thirty, 9.144)]);
    await page.locator('.otherplanter').waitFor({ timeout: 200_000 });
    expect(await shown(page, '.otherplanter')).toContain(
      'This looks like the map of another planter. The map records 30 ft (360 in) in 4 sections, which fits',
    );
    await page.getByRole('button', { name: 'Use Twelve-row frame' }).click();
    await page.locator('.stamp.agrees').waitFor({ timeout: 200_000 });
    expect(await page.locator('.whose').count()).toBe(0);
    // Of two widths that no planter here has, only the doubt is said.
    await drop(page, [strips('fourth.geojson', [1.016, 1.016, 1.016, 1.016], 4.064)]);
    await page.locator('.otherplanter', { hasText: 'This may be the map of another planter' }).waitFor({
      timeout: 200_000,
    });
    expect(seen.faults).toEqual([]);
    await page.context().close();
  });

  test('Back returns to the answer before, also after a start over', async () => {
    const { page } = await site.open();
    await drop(page, [strips('first.geojson', narrow, 5.715), oneFile]);
    const first = await verdict(page);
    await drop(page, [field]);
    await page.locator('.stamp.differs').waitFor({ timeout: 200_000 });
    await page.goBack();
    await page.locator('#map .linesays', { hasText: 'first.geojson' }).waitFor({ timeout: 200_000 });
    expect(await verdict(page)).toBe(first);
    await page.getByRole('button', { name: 'Start over' }).click();
    await page.locator('.promise').waitFor({ timeout: 200_000 });
    await page.goBack();
    await page.locator('#map .linesays', { hasText: 'first.geojson' }).waitFor({ timeout: 200_000 });
    expect(await verdict(page)).toBe(first);
    await page.context().close();
  });
});

describe('several fields', () => {
  const maps = [
    strips('a.geojson', narrow, 5.715),
    strips('b.geojson', wide, 6.096),
    text('c.geojson', '{"type": "Feat'),
  ];

  /** The same maps audited by the command: its folder. */
  async function audited(): Promise<string> {
    const built = await builtCommand();
    const dir = mkdtempSync(join(tmpdir(), 'guessrow-list-'));
    mkdirSync(join(dir, 'maps'));
    for (const m of maps) writeFileSync(join(dir, 'maps', m.name), m.bytes);
    writeFileSync(join(dir, 'one.planter.json'), oneFile.bytes);
    const command = [built.command, 'audit', 'maps', '--planter', 'one.planter.json', '--out', 'out'];
    try {
      execFileSync(process.execPath, command, { cwd: dir, stdio: 'pipe' });
    } catch {
      // Status 1 or 2 where a field differs or could not be checked; the tables are compared.
    }
    return join(dir, 'out');
  }

  test('maps dropped together become a list with the verdicts of an audit; an audit’s folder opens as the same list', async () => {
    const out = await audited();
    const rows = readFileSync(join(out, 'fields.jsonl'), 'utf8')
      .trim()
      .split('\n')
      .map((l) => JSON.parse(l) as { field: string; verdict: string; says: string });
    const { page, seen } = await site.open();
    await drop(page, [...maps, oneFile]);
    await page.locator('.fields .verdictword', { hasText: 'Not checked' }).waitFor({ timeout: 200_000 });
    const list = async (): Promise<Record<string, string>> =>
      Object.fromEntries(
        await page.locator('.fields tbody tr').evaluateAll((trs) =>
          trs.map((tr) => {
            const of = (cell: string): string => tr.querySelector(cell)?.textContent?.trim() ?? '';
            return [of('th'), of('.verdictword').toLowerCase()];
          }),
        ),
      );
    const verdicts = Object.fromEntries(rows.map((r) => [r.field, r.verdict]));
    expect(await list()).toEqual(verdicts);
    for (const r of rows.filter((r) => r.verdict !== 'not checked'))
      expect(await shown(page, `.fields tr:has-text("${r.field}")`)).toContain(r.says);

    // The tables of an audit alone are no list: a sentence says what to drop.
    for (const name of ['fields.csv', 'index.html', 'findings.json']) {
      await drop(page, [{ name, bytes: readFileSync(join(out, name)) }]);
      await page.locator('main .note', { hasText: `"${name}" is a part of what an audit wrote` }).waitFor();
      expect(await page.locator('.problem').count()).toBe(0);
    }
    await page.getByRole('button', { name: 'a.geojson' }).click();
    expect(await verdict(page)).toBe(stampOf(await checkHere([maps[0]], oneFile)));
    await page.getByRole('button', { name: 'Back to the list' }).click();
    expect(await list()).toEqual(verdicts);

    const files = [join(out, 'fields.jsonl'), ...readdirSync(join(out, 'fields')).map((f) => join(out, 'fields', f))];
    await drop(
      page,
      files.map((f) => ({ name: basename(f), bytes: readFileSync(f) })),
    );
    await page.locator('.fields tbody tr').first().waitFor({ timeout: 200_000 });
    expect(await list()).toEqual(verdicts);
    // The code of a reason is for programs.
    expect(await shown(page, '.fields')).not.toMatch(/\[[a-z-]+\]/);
    await page.getByRole('button', { name: 'b.geojson' }).click();
    const here = await checkHere([maps[1]], oneFile);
    expect(await verdict(page)).toBe(stampOf(here));
    expect(await page.locator('.diagnoses > li').count()).toBe(here.report.diagnoses.length);

    // The report of one field opens; as text or as a page it says that it is no map.
    const reports = readdirSync(join(out, 'fields'));
    const report = (ending: string): Given => {
      const name = reports.find((n) => n.endsWith(ending))!;
      return { name, bytes: readFileSync(join(out, 'fields', name)) };
    };
    for (const ending of ['.txt', '.html']) {
      await drop(page, [report(ending)]);
      await page.locator('main .note', { hasText: `${report(ending).name}" is a report, not a map` }).waitFor();
    }
    await drop(page, [report('.json')]);
    await page.locator('#verdict .note', { hasText: 'From a report that was written before' }).waitFor();
    expect(await page.locator('.stamp').count()).toBe(1);
    expect(await page.locator('.part .number').allInnerTexts()).toEqual(['1', '2']);
    expect(seen.outside).toEqual([]);
    await page.context().close();
  });
});

describe('a list whose fields have different planters', () => {
  test('each row says what it waits for, chooses its own planter, and keeps it on its sheet', async () => {
    const { page, seen } = await site.open();
    const eight = {
      name: 'Eight rows',
      unit: 'in',
      rows: 8,
      rowSpacing: 30,
      plantings: { every: 'all' },
      sections: ['1', '2', '3', '4', '5', '6', '7', '8'],
    };
    const eightFile = text('eight.planter.json', JSON.stringify(eight));
    const two = [strips('north.geojson', narrow, 5.715), strips('south.geojson', wide, 6.096)];
    await drop(page, two);
    await page.locator('.fields tbody tr').first().waitFor({ timeout: 200_000 });
    expect(await page.locator('.fields .verdictword').allInnerTexts()).toEqual([
      'needs its planter',
      'needs its planter',
    ]);
    // Two planter files together: the last is that of the list, the other can be chosen.
    await drop(page, [eightFile, oneFile]);
    await page
      .locator('.fields tr:has-text("south") .verdictword', { hasText: 'Differs' })
      .waitFor({ timeout: 200_000 });
    expect(await page.locator('main .note').count()).toBe(0);
    await page.getByLabel('Planter of south.geojson').selectOption({ label: 'Eight rows' });
    await page
      .locator('.fields tr:has-text("south") .verdictword', { hasText: 'Agrees' })
      .waitFor({ timeout: 200_000 });
    expect(await shown(page, '.fields tr:has-text("north")')).toContain('Agrees');
    await page.getByRole('button', { name: 'south.geojson' }).click();
    expect(await verdict(page)).toBe(stampOf(await checkHere([two[1]], eightFile)));
    expect(await shown(page, '#planter > summary')).toContain('Eight rows');
    await page.getByRole('button', { name: 'Back to the list' }).click();
    expect(await shown(page, '#planter > summary')).toContain('Narrow only');
    expect(await page.locator('.fields .verdictword').allInnerTexts()).toEqual(['Agrees', 'Agrees']);
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });
});

test('what is opened takes the focus along: from a sample’s button to the heading of its verdict', async () => {
  const { page } = await site.open();
  await page.locator('.sample', { hasText: 'Creek eighty' }).press('Enter');
  await page.locator('.stamp').waitFor({ timeout: 200_000 });
  expect(await page.evaluate(() => document.activeElement?.id)).toBe('verdict-title');
  await page.context().close();
});

test('a fix that is verified has no red seam: the picture follows the account as the verdict does', async () => {
  const { page } = await site.open('/?sample=test-strips-after&before=test-strips-before');
  expect(await verdict(page)).toMatch(/^Fixed /);
  const marked = await page
    .locator('.sketch')
    .evaluateAll((all) => all.map((s) => s.querySelectorAll('.gap, .overlap').length));
  expect(marked[0]).toBeGreaterThan(0);
  expect(marked[1]).toBe(0);
  await page.context().close();
});

test('on a phone no table is cut: passes, before and after, and the list stack', async () => {
  const { page } = await site.open('/?sample=test-strips-after&before=test-strips-before', {
    viewport: { width: 320, height: 700 },
  });
  await verdict(page);
  const cut = (): Promise<string[]> =>
    page.evaluate(() =>
      [...document.querySelectorAll('.scroll')]
        .filter((e) => e.querySelector('table') && e.scrollWidth > e.clientWidth + 1)
        .map((e) => e.getAttribute('aria-label') ?? ''),
    );
  expect(await cut()).toEqual([]);
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(320);
  await drop(page, [strips('a.geojson', narrow, 5.715), strips('b.geojson', wide, 6.096), oneFile]);
  await page.locator('.fields tbody tr').first().waitFor({ timeout: 200_000 });
  await page.locator('.fields .differs').waitFor({ timeout: 200_000 });
  await page.locator('.fields .agrees').waitFor({ timeout: 200_000 });
  expect(await cut()).toEqual([]);
  // What is wrong comes first.
  expect(await page.locator('.fields .verdictword').allInnerTexts()).toEqual(['Differs', 'Agrees']);
  // At a desk a planter's name has room, and paper has no shade at the edge of what scrolls.
  await page.setViewportSize({ width: 1280, height: 900 });
  expect((await box(page, '.fields select')).width).toBeGreaterThan(180);
  await page.emulateMedia({ media: 'print' });
  expect(await page.locator('.list .change').isVisible()).toBe(false);
  expect(
    await page
      .locator('.scroll')
      .first()
      .evaluate((e) => getComputedStyle(e).backgroundImage),
  ).toBe('none');
  await page.context().close();
});

/** Pixels of each kind of ground on the map of what a rebuild would change. */
function changedParts(page: Page): Promise<Record<'kept' | 'redrawn' | 'taken', number>> {
  return page.evaluate(() => {
    const canvas = document.querySelector<HTMLCanvasElement>('.preview .maplibregl-canvas')!;
    const copy = document.createElement('canvas');
    [copy.width, copy.height] = [canvas.width, canvas.height];
    const context = copy.getContext('2d')!;
    context.drawImage(canvas, 0, 0);
    const { data } = context.getImageData(0, 0, copy.width, copy.height);
    const count = (name: string, slack = 12): number => {
      const n = Number.parseInt(getComputedStyle(canvas).getPropertyValue(name).trim().slice(1), 16);
      const wanted = [(n >> 16) & 255, (n >> 8) & 255, n & 255];
      let found = 0;
      for (let i = 0; i < data.length; i += 4) if (wanted.every((c, k) => Math.abs(c - data[i + k]) <= slack)) found++;
      return found;
    };
    return {
      kept: count('--map-recorded'),
      redrawn: count('--map-planted'),
      // A strip of a pixel or two shares its pixels.
      taken: count('--map-missing-mark', 70),
    };
  });
}

test('the rebuilt map: what would change, then the file and its log', async () => {
  const { page } = await site.open();
  await drop(page, [field, oneFile]);
  await verdict(page);
  await page.getByRole('button', { name: 'Show what would change' }).click();
  await page.locator('.preview').waitFor({ timeout: 200_000 });
  const planter = readPlanter(new TextDecoder().decode(oneFile.bytes), oneFile.name);
  const here = await rebuild({ map: [named(field.name, field.bytes)], planter });
  const preview = (await shown(page, '.preview')).toLowerCase();
  for (const [word, says] of rebuiltEntries(here, planter.unit))
    expect(preview).toContain(`${word} ${says}`.toLowerCase());
  // 240 in recorded where 225 in were planted, so that much is taken away (common practice), and the sentence adds up.
  expect(preview).toMatch(/less because bars are as wide as they were planted/);
  expect(preview).toMatch(/2,400 records of the map became [\d,]+ records of the rebuilt one/);
  await page.locator('.preview .mapbox[data-ready]').waitFor({ timeout: 200_000 });
  expect(await page.locator('.preview .changes li').allInnerTexts()).toEqual([
    'kept as recorded',
    'redrawn',
    'ground added',
    'ground taken away',
  ]);
  const parts = await changedParts(page);
  expect(parts.redrawn).toBeGreaterThan(5000);
  expect(parts.kept).toBe(0);
  // 15 of 240 in at every seam, in whole pixels or shared ones.
  expect(parts.taken / (parts.taken + parts.redrawn)).toBeGreaterThan(0.02);
  expect(parts.taken / (parts.taken + parts.redrawn)).toBeLessThan(0.15);
  const save = async (button: string): Promise<[string, Buffer]> => {
    const [file] = await Promise.all([
      page.waitForEvent('download', { timeout: 200_000 }),
      page.locator('.preview').getByRole('button', { name: button, exact: true }).click(),
    ]);
    return [file.suggestedFilename(), readFileSync(await file.path())];
  };
  const [name, geo] = await save('GeoJSON');
  expect(name).toBe('home field.rebuilt.geojson');
  expect(geo.toString('utf8')).toBe([...geoJson(here.layer)].join(''));
  // The first bytes of each format by its own specification.
  for (const [button, magic] of [
    ['Shapefile (.zip)', 'PK'],
    ['GeoPackage', 'SQLite format 3'],
    ['FlatGeobuf', 'fgb'],
    ['GeoParquet', 'PAR1'],
  ])
    expect((await save(button))[1].subarray(0, magic.length).toString('latin1'), button).toBe(magic);
  expect((await save('Change log, CSV'))[1].toString('utf8').split('\n').length).toBe(here.changes.length + 2);
  await page.context().close();
});

test('on the map of what would change a record that is not convex covers its own ground and no more', async () => {
  const { page } = await site.open();
  const at = (x: number, y: number): number[] => [-93.62 + x / 82_812, 42.03 + y / 111_073];
  // Beside 36.6 by 100 m of passes a record like a U: 40 by 40 m, with arms of 3 m.
  const u = [at(40, 0), at(80, 0), at(80, 40), at(77, 40), at(77, 3), at(43, 3), at(43, 40), at(40, 40), at(40, 0)];
  const map = JSON.parse(new TextDecoder().decode(field.bytes)) as { features: unknown[] };
  const geometry = { type: 'Polygon', coordinates: [u] };
  map.features.push({ type: 'Feature', properties: { Section: 1 }, geometry });
  await drop(page, [text('u.geojson', JSON.stringify(map)), oneFile]);
  await verdict(page);
  await page.getByRole('button', { name: 'Show what would change' }).click();
  await page.locator('.preview .mapbox[data-ready]').waitFor({ timeout: 200_000 });
  const part = await page.evaluate(() => {
    const canvas = document.querySelector<HTMLCanvasElement>('.preview .maplibregl-canvas')!;
    const copy = document.createElement('canvas');
    [copy.width, copy.height] = [canvas.width, canvas.height];
    const context = copy.getContext('2d')!;
    context.drawImage(canvas, 0, 0);
    const { data } = context.getImageData(0, 0, copy.width, copy.height);
    const hex = getComputedStyle(canvas).getPropertyValue('--map-paper').trim();
    const paper = [1, 3, 5].map((i) => Number.parseInt(hex.slice(i, i + 2), 16));
    let [n, w, e, north, south] = [0, Infinity, 0, Infinity, 0];
    for (let i = 0; i < data.length; i += 4) {
      if (paper.every((c, k) => Math.abs(c - data[i + k]) < 6)) continue;
      const [x, y] = [(i / 4) % copy.width, Math.floor(i / 4 / copy.width)];
      n++;
      [w, e, north, south] = [Math.min(w, x), Math.max(e, x), Math.min(north, y), Math.max(south, y)];
    }
    return n / ((e - w + 1) * (south - north + 1));
  });
  // 36.58 m by 100 m and 342 m² in a box of 83.05 m by 101.7 m, for passes start up to 1.7 m apart (arithmetic).
  const ratio = part / ((36.58 * 100 + 342) / (83.05 * 101.7));
  expect(ratio).toBeGreaterThan(0.95);
  expect(ratio).toBeLessThan(1.05);
  await page.context().close();
});

test('on paper the verdict, its cause, the map and the account are on the first page', async () => {
  // A4 less the margins of 13 and 14 mm, at 96 dots an inch.
  const { page } = await site.open('/', { viewport: { width: 695, height: 1017 } });
  await drop(page, [field, oneFile]);
  await verdict(page);
  await mapDrawn(page);
  await page.emulateMedia({ media: 'print' });
  const at = async (where: string): Promise<number> => {
    const b = await box(page, where);
    return b.y + b.height;
  };
  const [stamp, map, account] = [await at('.stamp'), await at('.mapbox'), await at('#account .diagnoses li .says')];
  expect(stamp).toBeLessThan(map);
  expect(map).toBeLessThan(account);
  expect(account).toBeLessThan(1017);
  await page.context().close();
});
