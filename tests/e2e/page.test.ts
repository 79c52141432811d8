// biome-ignore-all lint/performance/useDomNodeTextContent: the browser driver's innerText is the text as it is shown, which is meant.

import { readFileSync } from 'node:fs';
import { zipSync } from 'fflate';
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { EXPLANATION_PARTS, EXPLANATIONS, effectLines, toCsv, toGeoJson, toJson } from '../../src/core/report/index.ts';
import { UserError } from '../../src/core/shared/messages.ts';
import { FIFTEEN, fieldGeoJson } from './field.ts';
import {
  checkHere,
  drop,
  type Given,
  plant,
  type Seen,
  type Site,
  sample,
  stampOf,
  startSite,
  text,
  unfold,
  verdict,
} from './page.ts';

let site: Site;
let opened: { page: Page; seen: Seen }[] = [];

beforeAll(async () => {
  site = await startSite();
});
afterAll(() => site.close());

async function open(...args: Parameters<Site['open']>): Promise<Page> {
  const one = await site.open(...args);
  opened.push(one);
  return one.page;
}

afterEach(async () => {
  const seen = opened.map((o) => o.seen);
  for (const { page } of opened) await page.context().close();
  opened = [];
  for (const s of seen) expect(s.outside, 'addresses outside the site').toEqual([]);
});

const planterFile = text('fifteen.planter.json', JSON.stringify(FIFTEEN));
/** 15 rows at 15 in planted, 8 sections of 30 in recorded, steered 20 ft. */
const smallField = text(
  'home field.geojson',
  fieldGeoJson({ passes: 8, bars: 60, sectionsM: Array(8).fill(0.762), spacingM: 6.096 }),
);

async function download(page: Page, button: string): Promise<string> {
  const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: button }).click()]);
  return readFileSync(await file.path(), 'utf8');
}

describe('from drop to verdict', () => {
  test('an address with a sample opens it and shows the verdict that the core gives', async () => {
    const page = await open('/?sample=narrow-as-wide');
    const says = await verdict(page);
    const map = [sample('narrow-as-wide/creek-eighty.geojson')];
    const here = await checkHere(map, sample('narrow-as-wide/narrow-as-wide.planter.json'), 'narrow');
    expect(says).toBe(stampOf(here));
    expect(await page.locator('.diagnoses > li').count()).toBe(here.report.diagnoses.length);
    expect(await page.locator('#cautions li').allInnerTexts()).toEqual(here.report.cautions);
    expect(opened[0].seen.faults).toEqual([]);
  });

  test('a sample is opened from the list with the keyboard alone', async () => {
    const page = await open();
    await page.locator('summary', { hasText: 'More samples' }).focus();
    await page.keyboard.press('Enter');
    await page.locator('.sample', { hasText: 'Yard strips, after' }).focus();
    await page.keyboard.press('Enter');
    expect(await verdict(page)).toMatch(/^Agrees /);
    expect(new URL(page.url()).search).toBe('?sample=test-strips-after');
    await drop(page, [planterFile]);
    // The file is read first.
    await expect.poll(() => new URL(page.url()).search, { timeout: 20_000 }).toBe('');
  });

  test('a dropped zip gives the same bytes of JSON, GeoJSON and CSV as the core in Node', async () => {
    const zip = sample('other-pass-spacing/windbreak-forty.zip');
    const planter = sample('other-pass-spacing/other-pass-spacing.planter.json');
    const page = await open();
    await drop(page, [zip, planter]);
    expect(await verdict(page)).toMatch(/^Differs /);
    const here = await checkHere([zip], planter);
    expect(await download(page, 'Report, JSON')).toBe(toJson(here));
    expect(await download(page, 'Pictures, GeoJSON')).toBe(toGeoJson(here));
    expect(await download(page, 'Passes, CSV')).toBe(toCsv(here));
    expect(await page.locator('.command code').innerText()).toBe(
      'guessrow check windbreak-forty.zip --planter other-pass-spacing.planter.json',
    );
  });

  test('map and planter chosen one after the other, then the other planting', async () => {
    const page = await open();
    await page.setInputFiles('#map-files', {
      name: smallField.name,
      mimeType: '',
      buffer: Buffer.from(smallField.bytes),
    });
    await page.setInputFiles('#planter-file', {
      name: planterFile.name,
      mimeType: '',
      buffer: Buffer.from(planterFile.bytes),
    });
    // Left to the map, the planting is the one that was recorded.
    const found = await checkHere([smallField], planterFile);
    expect(await verdict(page)).toBe(stampOf(found));
    await plant(page, 'narrow');
    const narrow = await checkHere([smallField], planterFile, 'narrow');
    expect(narrow.report.says).not.toBe(found.report.says);
    await page.locator('.stamp', { hasText: narrow.report.diagnoses[0].says }).waitFor({ timeout: 60_000 });
    expect(await page.locator('.command code').innerText()).toBe(
      "guessrow check 'home field.geojson' --planter fifteen.planter.json --planting narrow",
    );
  });

  test('marks that turn the direction of writing are shown as such, wherever names of the files stand', async () => {
    const turn = '\u202E';
    const turned = (t: string): string => t.replaceAll('narrow', `nar${turn}row`);
    const map = text(
      `home${turn}field.geojson`,
      fieldGeoJson({
        passes: 8,
        bars: 60,
        sectionsM: Array(8).fill(0.762),
        spacingM: 6.096,
        properties: () => ({ [`Se${turn}ed`]: `a${turn}b\u009Bc` }),
      }),
    );
    const planter = text('p.planter.json', turned(JSON.stringify({ ...FIFTEEN, name: `Fif${turn}teen` })));
    const page = await open();
    await drop(page, [map, planter]);
    await verdict(page);
    for (const id of ['map', 'planter', 'planting'] as const) await unfold(page, id);
    const seen = (await page.evaluate(() => {
      const shown = [...document.querySelectorAll('[title], [aria-label]')];
      const said = shown.map((e) => `${e.getAttribute('title')} ${e.getAttribute('aria-label')}`);
      return [document.title, document.body.textContent, ...said].join('\n');
    })) as string;
    for (const name of ['home\uFFFDfield.geojson', 'Se\uFFFDed', 'Fif\uFFFDteen', 'nar\uFFFDrow'])
      expect(seen).toContain(name);
    expect(seen).not.toMatch(/[\u007F-\u009F\u061C\u200E\u200F\u202A-\u202E\u2066-\u2069]/);
    // A choice still hands on the name as the file has it.
    await page.getByLabel('Column for section number').selectOption({ label: 'Se\uFFFDed' });
    await page.locator('.command code', { hasText: 'section=' }).waitFor();
    expect(await page.getByLabel('Column for section number').inputValue()).toBe(`Se${turn}ed`);
  });

  test('columns can be chosen again, and the choice reaches the command line', async () => {
    const page = await open();
    await drop(page, [smallField, planterFile]);
    await verdict(page);
    await unfold(page, 'map');
    await page.getByLabel('Column for section number').selectOption('Section');
    await page.locator('.command code', { hasText: '--columns section=Section' }).waitFor();
    expect(await page.getByLabel('Column for section number').inputValue()).toBe('Section');
  });
});

test('the page shows the effect of a fault in the words of the reports; a price of the seed gives it in money', async () => {
  const page = await open();
  await drop(page, [smallField, planterFile]);
  await verdict(page);
  await plant(page, 'narrow');
  await page.locator('.stamp.differs').waitFor({ timeout: 60_000 });
  const shown = async (): Promise<string> =>
    (await page.locator('.diagnoses > li').first().innerText()).replace(/\s+/g, ' ');
  const { report, planter } = await checkHere([smallField], planterFile, 'narrow');
  for (const line of effectLines(report.diagnoses[0], report, planter.unit)) expect(await shown()).toContain(line);
  expect(await shown()).toContain('If a population or rate was computed from the recorded area');

  await page.getByLabel('Price of the seed').fill('95');
  // An acre is 43,560 square feet of 0.3048 m, which is 4046.8564224 m².
  const priced = await checkHere([smallField], planterFile, 'narrow', [], 95 * (10_000 / 4046.8564224));
  for (const line of effectLines(priced.report.diagnoses[0], priced.report, planter.unit))
    await expect.poll(shown).toContain(line);
  expect(await shown()).toContain('At 95.00 of seed per acre');
  expect(await page.locator('.command code').innerText()).toMatch(/ --planting narrow --seed-cost 95\/ac$/);
  expect(await download(page, 'Report, JSON')).toBe(toJson(priced));

  await page.getByLabel('Price of the seed').fill('a bag');
  expect(await page.getByLabel('Price of the seed').getAttribute('aria-invalid')).toBe('true');
  expect(await page.locator('#seedcost-hint').innerText()).toContain('"a bag" is not a price');
  expect(await page.locator('.command code').innerText()).not.toContain('--seed-cost');
});

test('a diagnosis says what its setting is, in the words of the page of all settings, and leads there', async () => {
  const page = await open();
  await drop(page, [smallField, planterFile]);
  await verdict(page);
  await plant(page, 'narrow');
  await page.locator('.stamp.differs').waitFor({ timeout: 60_000 });
  const first = page.locator('.diagnoses > li').first();
  await first.getByText('What this setting is').click();
  const { report } = await checkHere([smallField], planterFile, 'narrow');
  const { setting } = report.diagnoses[0];
  const text = await first.locator('.explained').innerText();
  for (const [key] of EXPLANATION_PARTS) expect(text).toContain(EXPLANATIONS.find((e) => e.setting === setting)![key]);
  const [beside] = await Promise.all([
    page.context().waitForEvent('page'),
    first.getByRole('link', { name: /^Every setting/ }).click(),
  ]);
  await beside.waitForLoadState();
  expect(new URL(beside.url()).hash).toBe(`#${setting}`);
  expect(await beside.locator(`#${setting} h2`).innerText()).toBe(
    EXPLANATIONS.find((e) => e.setting === setting)!.title,
  );
});

test('on paper the table of passes says how many it leaves out, or holds them all', async () => {
  const page = await open();
  const many = fieldGeoJson({ passes: 14, bars: 40, sectionsM: Array(8).fill(0.762), spacingM: 6.096 });
  await drop(page, [text('many.geojson', many), planterFile]);
  await verdict(page);
  await page.emulateMedia({ media: 'print' });
  expect(await page.locator('#evidence').innerText()).toContain('2 more passes are left out here');
  await page.emulateMedia({ media: 'screen' });
  await page.getByRole('button', { name: 'Show all 14 passes' }).click();
  await page.emulateMedia({ media: 'print' });
  expect(await page.locator('#evidence').innerText()).not.toContain('left out here');
  expect(await page.locator('#evidence tbody th .passbutton').count()).toBe(14);
});

test('a boundary reaches the check', async () => {
  const at = (x: number, y: number): number[] => [-93.62 + x / 82_812, 42.03 + y / 111_073];
  const ring = [at(-4, -1), at(47, -1), at(47, 123), at(-4, 123), at(-4, -1)];
  const edge = text(
    'edge.geojson',
    JSON.stringify({ type: 'Feature', properties: {}, geometry: { type: 'Polygon', coordinates: [ring] } }),
  );
  const page = await open();
  await drop(page, [smallField, planterFile]);
  await verdict(page);
  const without = await download(page, 'Report, JSON');
  await page.setInputFiles('#boundary-files', { name: edge.name, mimeType: '', buffer: Buffer.from(edge.bytes) });
  await page.locator('.command code', { hasText: '--boundary edge.geojson' }).waitFor({ timeout: 60_000 });
  const within = await download(page, 'Report, JSON');
  expect(within).toBe(toJson(await checkHere([smallField], planterFile, undefined, [edge])));
  expect(within).not.toBe(without);
});

describe('what cannot be checked', () => {
  const refusal = async (map: Given[], planter: Given): Promise<UserError> => {
    try {
      await checkHere(map, planter);
    } catch (error) {
      if (error instanceof UserError) return error;
      throw error;
    }
    throw new Error('the core took it');
  };

  test('a wrong map shows its sentence, the place and what to do', async () => {
    const wrong = text('letter.geojson', '{"type": "FeatureCollection", "features": [{"type": "Feature", ');
    const { detail } = await refusal([wrong], planterFile);
    const page = await open();
    await drop(page, [wrong, planterFile]);
    const shown = await page.locator('#verdict .problem').innerText();
    expect(shown).toContain(detail.sentence);
    expect(shown).toContain(detail.todo);
    expect(shown).toContain('letter.geojson');
    expect(await page.locator('.stamp').count()).toBe(0);
  });

  test('a wrong planter file names the key', async () => {
    const page = await open();
    await drop(page, [text('bad.planter.json', JSON.stringify({ ...FIFTEEN, rowz: 3 }))]);
    expect(await page.locator('#planter .problem').innerText()).toContain('rowz');
  });

  test('a planter file that cannot be read removes the verdict of the one before from the sheet', async () => {
    const page = await open();
    await drop(page, [smallField, planterFile]);
    await verdict(page);
    await drop(page, [text('bad.planter.json', JSON.stringify({ ...FIFTEEN, rowz: 3 }))]);
    await page.locator('#planter .problem').waitFor();
    expect(await page.locator('#verdict .waiting').innerText()).toContain('Correct the planter first');
    for (const part of ['.stamp', '.diagnoses', '#evidence', '#cautions', '#takeaway'])
      expect(await page.locator(part).count(), part).toBe(0);
    await drop(page, [planterFile]);
    await verdict(page);
  });

  test('the error of a map is not shown for the next one', async () => {
    const page = await open();
    await drop(page, [planterFile]);
    await drop(page, [text('letter.geojson', '{"type": "FeatureCollection", "features": [')]);
    await page.locator('#verdict .problem', { hasText: 'letter.geojson' }).waitFor();
    await drop(page, [text('bad.planter.json', JSON.stringify({ ...FIFTEEN, rowz: 3 }))]);
    await drop(page, [smallField]);
    await page.locator('#map .linesays', { hasText: smallField.name }).waitFor();
    expect(await page.locator('#verdict').innerText()).not.toContain('letter.geojson');
    expect(await page.locator('#verdict .waiting').innerText()).toContain('Correct the planter first');
  });

  test('two maps at once: the user says what each is, and no sentence mentions the command line', async () => {
    const earlier = text('earlier.geojson', new TextDecoder().decode(smallField.bytes));
    const page = await open();
    await drop(page, [smallField, earlier, planterFile]);
    await page.locator('summary', { hasText: 'They are not separate fields' }).click();
    const shown = page.locator('#list');
    expect(await shown.innerText()).toContain('These are 2 maps: "home field.geojson" and "earlier.geojson"');
    expect(await shown.innerText()).not.toMatch(/--|layer/i);
    const go = page.getByRole('button', { name: 'Continue' });
    await go.click();
    expect(await page.locator('.several').innerText()).toContain('Say which of them is the map to check');
    await shown.locator('.several').getByLabel(smallField.name).selectOption('the map to check');
    await shown.locator('.several').getByLabel(earlier.name).selectOption('the map to check');
    await go.click();
    expect(await page.locator('.several').innerText()).toContain('Only one of them can be the map to check');
    await shown.locator('.several').getByLabel(earlier.name).selectOption('the map from before a fix');
    await go.click();
    await verdict(page);
    await page.locator('.sides', { hasText: earlier.name }).waitFor({ timeout: 60_000 });
    expect(await page.locator('.command code').innerText()).toMatch(
      /^guessrow compare earlier\.geojson 'home field\.geojson' /,
    );
  });

  test('an unused file is named on the sheet, until the next one is opened', async () => {
    const page = await open();
    const other = text('other.planter.json', JSON.stringify({ ...FIFTEEN, name: 'Other' }));
    await drop(page, [smallField, other, planterFile, text('README.md', '# Read me')]);
    await verdict(page);
    const said = await page.locator('main').innerText();
    expect(said).toContain('"README.md" was not used: it is neither a map nor a planter file.');
    expect(said).toContain('"other.planter.json" was not used');
    expect(await page.locator('.lines').innerText()).not.toContain('README.md');
    await drop(page, [planterFile]);
    await page.locator('main', { hasNotText: 'was not used' }).waitFor();
  });

  test('several layers in one file: the page says how to choose one here', async () => {
    const pack = text('two.zip', '');
    const both = { 'a.geojson': smallField.bytes, 'b.geojson': smallField.bytes };
    const page = await open();
    await drop(page, [{ ...pack, bytes: zipSync(both, { level: 1 }) }, planterFile]);
    await page.locator('#verdict .problem').waitFor();
    expect(await page.locator('#verdict .problem').innerText()).toContain('Write the name of one of them below');
    expect(await page.locator('#verdict').innerText()).not.toContain('--');
    await page.getByLabel('Layer to check').fill('b');
    await page.getByRole('button', { name: 'Check this layer' }).click();
    await verdict(page);
  });

  test('a sample that is not there is named', async () => {
    const page = await open('/?sample=nowhere');
    expect(await page.locator('.problem').innerText()).toContain('nowhere');
  });

  test('hostile names and attributes are only ever text', async () => {
    const evil = '<img src=x onerror="document.title=1">';
    const map = text(
      `${evil.replaceAll('"', "'")}.geojson`,
      fieldGeoJson({
        passes: 4,
        bars: 40,
        sectionsM: [3, 3],
        spacingM: 6,
        properties: (record) => ({ [evil]: 20 + (record % 7), note: evil }),
      }),
    );
    const planter = text('x.planter.json', JSON.stringify({ ...FIFTEEN, name: evil }));
    const page = await open();
    const title = await page.title();
    await drop(page, [map, planter]);
    await verdict(page);
    await unfold(page, 'map');
    await page.locator('#map .columns').waitFor();
    expect(await page.locator('img').count()).toBe(0);
    expect(await page.title()).toBe(title);
    expect(await page.locator('.lines').innerText()).toContain(evil);
  });

  test('a check can be cancelled, and the next one runs', async () => {
    const big = text(
      'big.geojson',
      fieldGeoJson({ passes: 40, bars: 400, sectionsM: Array(8).fill(0.762), spacingM: 6.096 }),
    );
    const page = await open();
    await drop(page, [big, planterFile]);
    await page.locator('#progress').waitFor();
    await page.getByRole('button', { name: 'Cancel' }).click();
    expect(await page.locator('#verdict [role=alert]').innerText()).toContain('cancelled');
    expect(await page.locator('#progress').count()).toBe(0);
    await drop(page, [smallField]);
    expect(await verdict(page)).toBe(stampOf(await checkHere([smallField], planterFile)));
  });

  test('a worker that cannot start gives a sentence', async () => {
    const page = await open();
    await page.route('**/assets/worker-*', (route) =>
      route.request().url().includes('maplibre') ? route.continue() : route.abort(),
    );
    // A worker is started with the page.
    await page.reload();
    await drop(page, [smallField, planterFile]);
    expect(await page.locator('#verdict .problem').innerText()).toContain('fault of this program');
  });
});

test('a worker that dies without a word gives a sentence', async () => {
  const page = await open();
  // Stands in for a worker that the browser ends for want of memory: it holds its lock, takes the call, and is gone.
  const dying = `addEventListener('message', ({ data }) => {
    if (data.kind === 'begin')
      navigator.locks.request(data.lock, () => {
        postMessage({ kind: 'alive' });
        return new Promise(() => {});
      });
    else if (data.kind === 'call') setTimeout(() => close(), 100);
  });`;
  await page.route('**/assets/worker-*', (route) => route.fulfill({ contentType: 'text/javascript', body: dying }));
  await page.reload();
  await drop(page, [smallField, planterFile]);
  expect(await page.locator('#verdict .problem').innerText()).toContain('ran out of memory');
});

describe('the planter', () => {
  test('edited in place: drawn again, rules marked, answer called out of date', async () => {
    const page = await open();
    await drop(page, [smallField, planterFile]);
    await verdict(page);
    await unfold(page, 'planter');
    await page.getByText('Change the planter').click();
    const sections = page.getByLabel('Sections, as row ranges');
    // Typed key by key, as a person does: the focus stays where it is.
    await sections.click();
    await page.keyboard.press('End');
    await page.keyboard.type(', 16');
    expect(await sections.inputValue()).toMatch(/, 16$/);
    await sections.fill('1, 2, 3-15');
    // Row 2 is idle when odd rows plant.
    await page.locator('#planter .wrong', { hasText: 'ection 2' }).first().waitFor();
    expect(await sections.getAttribute('aria-invalid')).toBe('true');
    const describedBy = (await sections.getAttribute('aria-describedby')) ?? 'none';
    expect(await page.locator(`#${describedBy}`).innerText()).toContain('has no planted row in planting "wide"');
    expect(await page.locator('.drawing .section').count()).toBe(3);
    expect(await page.locator('#verdict .again').innerText()).toContain('changed after this verdict');
    await sections.fill('1-2, 4-15');
    // The sentence is at the field that puts it right, once; the one before it may still be there for a moment.
    await expect
      .poll(() => page.locator('.field', { has: sections }).locator('.wrong').innerText())
      .toContain('Row 3 is in no section');
    expect(await page.locator('#planter .problem').count()).toBe(0);
    await sections.fill('1-2, 3-15');
    await page.getByRole('button', { name: 'Take these sections' }).click();
    await expect.poll(() => sections.inputValue()).toBe('1-2, 3-4, 5-6, 7, 8-9, 10-11, 12-13, 14-15');
    expect(await page.locator('#planter .marks').count()).toBe(0);
    expect(await page.locator('#planter .wrong').count()).toBe(0);
    expect(await sections.getAttribute('aria-invalid')).toBe('false');
    const spacing = page.getByLabel('Pass spacing of "narrow", in');
    await spacing.fill('240');
    // 15 rows at 15 in work 225 in (common practice, arithmetic).
    const said = (await page.locator('.field', { has: spacing }).locator('.wrong').innerText()).replace(/\s+/g, ' ');
    expect(said).toContain('The pass spacing of planting "narrow" is 20 ft (240 in)');
    expect(said).toContain('Enter a pass spacing of 18.75 ft (225 in)');
    expect(await spacing.getAttribute('aria-invalid')).toBe('true');
  });

  test('edited until it cannot be read: the answer says everywhere, on paper too, that it applies to the planter before', async () => {
    const page = await open();
    await drop(page, [smallField, planterFile]);
    const before = await verdict(page);
    await unfold(page, 'planter');
    await page.getByText('Change the planter').click();
    await page.getByLabel('Rows', { exact: true }).fill('');
    await page.locator('#planter .wrong').waitFor();
    await page.emulateMedia({ media: 'print' });
    for (const part of ['#verdict', '#evidence', '#takeaway'])
      expect(await page.locator(part).innerText(), part).toContain('The planter was changed after this verdict');
    await page.emulateMedia({ media: 'screen' });
    expect(await page.locator('#verdict .again').innerText()).toContain('It has to be put right');
    expect(await page.getByRole('button', { name: 'Report, HTML' }).isDisabled()).toBe(true);
    await page.getByLabel('Rows', { exact: true }).fill('15');
    await page.getByRole('button', { name: 'Check again' }).click();
    await page.locator('#verdict', { hasNotText: 'changed after' }).waitFor();
    expect(await verdict(page)).toBe(before);
    expect(await page.getByRole('button', { name: 'Report, HTML' }).isDisabled()).toBe(false);
  });

  test('as many sections are offered as are declared', async () => {
    const page = await open();
    const twelve = { ...FIFTEEN, sections: ['1', '2', '3', '4', '5', '6', '7', '8', '9', '10-11', '12-13', '14-15'] };
    await drop(page, [text('twelve.planter.json', JSON.stringify(twelve))]);
    await page.getByText('Change the planter').click();
    expect(await page.getByLabel('Maximum sections').inputValue()).toBe('12');
    // Row 2 is idle when odd rows plant, so only the rules' own proposal is offered.
    const says = await page.locator('#planter .wrong').first().innerText();
    const [, proposed] = /These keep the rules: (.*)\./.exec(says.replaceAll('\u2060', '')) ?? [];
    expect((await page.locator('.propose b').innerText()).split(' · ').join(' ')).toBe(proposed ?? 'none');
  });

  test('described without a file', async () => {
    const page = await open();
    await page.getByRole('button', { name: 'Describe a planter here' }).click();
    expect(await page.locator('.drawing .row.planted').count()).toBe(12);
  });
});
