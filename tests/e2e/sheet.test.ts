// biome-ignore-all lint/performance/useDomNodeTextContent: the browser driver's innerText is the text as it is shown, which is meant.
import { inflateSync } from 'node:zlib';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Answer } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import { type Comparison, compare } from '../../src/core/compare/index.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { rebuild } from '../../src/core/rebuild/index.ts';
import { rebuiltEntries } from '../../src/core/report/index.ts';
import { expectGolden } from '../report/golden.ts';
import { FIFTEEN, fieldGeoJson } from './field.ts';
import { checkHere, drop, type Given, plant, type Site, stampOf, startSite, text, unfold, verdict } from './page.ts';

let site: Site;
beforeAll(async () => {
  site = await startSite();
});
afterAll(() => site.close());

test('before and after are side by side with one verdict, and the command that gives it', async () => {
  const { page, seen } = await site.open('/?sample=test-strips-after&before=test-strips-before');
  expect(await verdict(page)).toMatch(/^Fixed /);
  expect(await page.locator('.stamp').count()).toBe(1);
  const row = async (name: string): Promise<string[]> =>
    page
      .locator('.sides tr', { has: page.getByRole('rowheader', { name, exact: true }) })
      .locator('td')
      .allInnerTexts();
  // 8 rows at 30 in against 15 rows at 15 in: 240 in and 225 in (common practice, arithmetic).
  const [wide, narrow] = await row('Recorded width');
  expect(wide).toContain('240 in');
  expect(narrow).toContain('225 in');
  expect(await page.locator('.sketch').count()).toBe(2);
  expectGolden(import.meta.url, 'sketch-before.svg', await drawn(page, '.sketch >> nth=0'));
  expectGolden(import.meta.url, 'sketch-after.svg', await drawn(page, '.sketch >> nth=1'));
  expect(await page.locator('.command code').innerText()).toMatch(/^guessrow compare before\.geojson after\.geojson /);
  await unfold(page, 'map');
  await page.getByRole('button', { name: 'Check the map by itself' }).click();
  await page.locator('.stamp', { hasText: 'Agrees' }).waitFor({ timeout: 60_000 });
  expect(seen).toEqual({ outside: [], faults: [] });
  await page.context().close();
});

/** A drawing as text, one element per line, to be compared with a golden one: places in it are numbers of the answer, not of any font, to a thousandth of a pixel. */
async function drawn(page: Page, where: string): Promise<string> {
  const svg = await page.locator(where).evaluate((e) => e.outerHTML);
  const places = svg.replaceAll(/-?\d+\.\d{4,}/g, (v) => String(Number(Number(v).toFixed(3))));
  return `${places.replaceAll('><', '>\n<')}\n`;
}

describe('confirming a fix', () => {
  /** The 15 rows at 15 in as they should be recorded: eight sections, 225 in. */
  const narrow = [0.762, 0.762, 0.762, 0.381, 0.762, 0.762, 0.762, 0.762];
  const planter = text('fifteen.planter.json', JSON.stringify(FIFTEEN));
  const strips = (passes: number, bars: number, spacingM: number): string =>
    fieldGeoJson({ passes, bars, sectionsM: narrow, spacingM });
  const before = text('before.geojson', strips(8, 60, 6.096));

  /** What the page says of a map after a fix, and what the core says of the same two. */
  async function confirm(after: Given): Promise<{ stamp: string; outcome: string; core: Comparison }> {
    const { page, seen } = await site.open();
    await drop(page, [after, planter]);
    await verdict(page);
    await plant(page, 'narrow');
    await page.setInputFiles('#before-files', { name: before.name, mimeType: '', buffer: Buffer.from(before.bytes) });
    await page.locator('.sides').waitFor({ timeout: 60_000 });
    const stamp = await verdict(page);
    const outcome = (await page.locator('.outcomes').innerText()).replace(/\s+/g, ' ').trim();
    expect(await page.locator('.stamp').count()).toBe(1);
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
    const [b, a] = [await checkHere([before], planter, 'narrow'), await checkHere([after], planter, 'narrow')];
    return { stamp, outcome, core: compare(b, a) };
  }

  test('a newer map takes the place of the map after; the map from before and the boundary stay, and can be taken away', async () => {
    const given = ({ name, bytes }: Given) => ({ name, mimeType: '', buffer: Buffer.from(bytes) });
    const at = (x: number, y: number): number[] => [-93.62 + x / 82_812, 42.03 + y / 111_073];
    const ring = [at(-4, -1), at(47, -1), at(47, 123), at(-4, 123), at(-4, -1)];
    const edge = JSON.stringify({
      type: 'Feature',
      properties: {},
      geometry: { type: 'Polygon', coordinates: [ring] },
    });
    const { page, seen } = await site.open();
    await drop(page, [text('strip 1.geojson', strips(6, 60, 6.096)), planter]);
    await verdict(page);
    await page.setInputFiles('#boundary-files', given(text('edge.geojson', edge)));
    await page.setInputFiles('#before-files', given(before));
    await page.locator('.sides').waitFor({ timeout: 60_000 });
    expect(await page.getByText('Kept when the newer map was opened').count()).toBe(0);

    await drop(page, [text('strip 2.geojson', strips(6, 60, 5.715))]);
    await page.locator('.sides', { hasText: 'strip 2.geojson' }).waitFor({ timeout: 60_000 });
    expect(await page.locator('.sides').innerText()).toContain('before.geojson');
    const kept = page.locator('.given', { hasText: 'Kept when the newer map was opened' });
    expect(await kept.count()).toBe(2);
    await unfold(page, 'map');
    await page.getByRole('button', { name: 'Check the map by itself' }).click();
    await page.locator('.command code', { hasText: '--boundary edge.geojson' }).waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Remove' }).click();
    await page.locator('.command code', { hasNotText: '--boundary' }).waitFor({ timeout: 60_000 });
    expect(await kept.count()).toBe(0);

    // The map from before that a sample brought goes with the sample.
    await page.getByRole('button', { name: 'Start over' }).click();
    await page.locator('summary', { hasText: 'More samples' }).click();
    await page.getByRole('button', { name: /before and after on one sheet/ }).click();
    await page.locator('.sides').waitFor({ timeout: 60_000 });
    await drop(page, [text('strip 2.geojson', strips(6, 60, 5.715)), planter]);
    await page.locator('#map .linesays', { hasText: 'strip 2.geojson' }).waitFor();
    await verdict(page);
    expect(await page.locator('.sides').count()).toBe(0);
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });

  test('not fixed: the same spacing again', async () => {
    const { stamp, outcome, core } = await confirm(text('after.geojson', strips(6, 60, 6.096)));
    expect(core.verdict).toBe('not fixed');
    expect(stamp).toMatch(/^Not fixed /);
    expect(stamp).toContain('Still shown: the pass spacing');
    expect(outcome).toMatch(/^Pass spacing Not fixed /);
  });

  test('not enough driven yet: too short, with the distance that would decide', async () => {
    // 24 bars of 2 m are 48 m; any diagnosis needs 50 m and 30 bars.
    const { stamp, outcome, core } = await confirm(text('after.geojson', strips(1, 24, 5.715)));
    expect(core.verdict).toBe('not enough data');
    expect(stamp).toMatch(/^Cannot tell yet /);
    expect(outcome).toContain('drive at least 39 ft more with every section on');
  });

  test('not enough driven yet: one seam, with the passes that would decide', async () => {
    const { stamp, outcome, core } = await confirm(text('after.geojson', strips(2, 60, 5.715)));
    expect(core.verdict).toBe('not enough data');
    expect(stamp).toMatch(/^Cannot tell yet /);
    expect(outcome).toContain('drive 1 more pass beside the ones there, back and forth');
  });
});

test('one choice is marked in every picture and table; A4 and Letter print it with its charts as vectors', async () => {
  const { page, seen } = await site.open();
  const passes = 6;
  await drop(page, [
    text('field.geojson', fieldGeoJson({ passes, bars: 50, sectionsM: Array(8).fill(0.762), spacingM: 6.096 })),
    text('f.planter.json', JSON.stringify(FIFTEEN)),
  ]);
  await verdict(page);
  await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
  const marked = (where: string): Promise<number> => page.locator(`${where}`).count();
  // The data of the charts: a mark for each seam, a span for each pass, a rail for each section.
  expect(await marked('.seamchart .seam')).toBe(passes - 1);
  expect(await marked('.timeline .pass')).toBe(passes);
  expect(await marked('.timeline .slot')).toBe(8);

  for (const name of ['rulers', 'seamchart', 'timeline'])
    expectGolden(import.meta.url, `${name}.svg`, await drawn(page, `svg.${name}`));
  expectGolden(import.meta.url, 'frame.svg', await drawn(page, '#planter .drawing svg'));

  await page.locator('.passbutton', { hasText: /^3$/ }).last().click();
  expect(await marked('tr.chosen')).toBe(1);
  expect(await marked('.timeline .pass.chosen')).toBe(1);
  expect(await marked('.seamchart .seam.chosen')).toBe(2);

  await page.locator('.seamchart .seam').first().click();
  expect(await marked('tr.chosen')).toBe(2);
  expect(await marked('.timeline .pass.chosen')).toBe(2);
  expect(await marked('.seamchart .seam.chosen')).toBe(1);

  await page.getByRole('button', { name: 'Recorded section 4' }).click();
  expect(await marked('.rulers .recorded .chosen')).toBe(1);
  expect(await marked('.timeline .slot.chosen')).toBe(1);
  expect(await marked('tr.chosen')).toBe(0);

  for (const [format, box] of [
    ['A4', [595, 842]],
    ['Letter', [612, 792]],
  ] as const) {
    const pdf = (await page.pdf({ format, printBackground: true })).toString('latin1');
    const [, w, h] = /\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/.exec(pdf) ?? [];
    // ISO 216 and ANSI Y14.1 sizes in points of 1/72 in.
    expect([Math.round(Number(w)), Math.round(Number(h))].map((v, i) => Math.abs(v - box[i]) <= 1)).toEqual([
      true,
      true,
    ]);
    // The map alone is a picture of dots, with its transparency; every chart is drawn.
    expect((pdf.match(/\/Subtype \/Image/g) ?? []).length).toBeLessThanOrEqual(2);
    expect(strokes(pdf)).toBeGreaterThan(300);
  }
  await page.emulateMedia({ media: 'print' });
  expect(await page.locator('#cautions li').first().isVisible()).toBe(true);
  expect(await page.getByRole('button', { name: 'Print this sheet' }).isVisible()).toBe(false);
  expect(seen).toEqual({ outside: [], faults: [] });
  await page.context().close();
});

/** Lines, curves and boxes drawn in a PDF's pages. */
function strokes(pdf: string): number {
  let n = 0;
  for (const m of pdf.matchAll(/stream\r?\n([\s\S]*?)\r?\nendstream/g)) {
    try {
      n += (
        inflateSync(Buffer.from(m[1], 'latin1'))
          .toString('latin1')
          .match(/ (l|c|re)\n/g) ?? []
      ).length;
    } catch {
      // A stream of another kind: fonts and pictures are no drawing.
    }
  }
  return n;
}

describe('two machines, each with its own planter', () => {
  const narrow = [0.762, 0.762, 0.762, 0.381, 0.762, 0.762, 0.762, 0.762];
  const one = text(
    'one.planter.json',
    JSON.stringify({ ...FIFTEEN, name: 'Narrow only', plantings: { narrow: 'all' }, passSpacing: { narrow: 225 } }),
  );
  const pairs = Array.from({ length: 8 }, (_, i) => `${2 * i + 1}-${2 * i + 2}`);
  const sixteen = text(
    'sixteen.planter.json',
    JSON.stringify({
      name: 'Sixteen rows',
      unit: 'in',
      rows: 16,
      rowSpacing: 30,
      plantings: { corn: 'all' },
      sections: pairs,
    }),
  );
  const planters = [{ planter: planterOf(one) }, { planter: planterOf(sixteen), machine: 'North 2' }] as const;

  /** North 1 beside North 2, whose sixteen rows at 30 in are recorded as they are. */
  function beside(name: string, sectionsM: number[], spacingM: number): Given {
    const of = (machine: string, options: { sectionsM: number[]; spacingM: number }, east: number): unknown[] => {
      const all = JSON.parse(
        fieldGeoJson({ passes: 6, bars: 50, ...options, properties: () => ({ Machine: machine }) }),
      ) as { features: { geometry: { coordinates: number[][][] } }[] };
      for (const f of all.features)
        f.geometry.coordinates = f.geometry.coordinates.map((r) =>
          r.map(([x, y]) => [Math.round((x + east) * 1e8) / 1e8, y]),
        );
      return all.features;
    };
    const features = [
      ...of('North 1', { sectionsM, spacingM }, 0),
      // 60 m further east.
      ...of('North 2', { sectionsM: Array(8).fill(1.524), spacingM: 12.192 }, 60 / 82_812),
    ];
    return text(name, JSON.stringify({ type: 'FeatureCollection', features }));
  }
  const input = (map: Given) => ({
    map: [named(map.name, map.bytes)],
    planter: planters[0].planter,
    planters,
  });

  test('check, rebuilt map and comparison are those of the core with both planters', async () => {
    // 15 rows at 15 in were planted; the display of North 1 was on 8 at 30 in.
    const wrong = beside('wrong.geojson', Array(8).fill(0.762), 6.096);
    const right = beside('right.geojson', narrow, 5.715);
    const { page, seen } = await site.open();
    await drop(page, [wrong, one]);
    await verdict(page);
    const alone = await check({ map: [named(wrong.name, wrong.bytes)], planter: planters[0].planter });
    const both = await check(input(wrong));
    const blamed = (a: Answer): (string | undefined)[] => a.report.diagnoses.map((d) => d.machine);
    expect(blamed(alone)).toContain('North 2');
    expect(blamed(both)).not.toContain('North 2');
    expect(await verdict(page)).toBe(stampOf(alone));
    await unfold(page, 'planter');
    const give = { name: sixteen.name, mimeType: '', buffer: Buffer.from(sixteen.bytes) };
    await page.setInputFiles('#machine-planter-2', give);
    await page.locator('.command code', { hasText: "--planter 'North 2=sixteen.planter.json'" }).waitFor();
    expect(await verdict(page)).toBe(stampOf(both));
    if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/machines.png`, fullPage: true });

    await page.getByRole('button', { name: 'Show what would change' }).click();
    await page.locator('.preview').waitFor({ timeout: 200_000 });
    const built = await rebuild(input(wrong));
    const preview = (await page.locator('.preview').innerText()).replace(/\s+/g, ' ').toLowerCase();
    for (const [word, says] of rebuiltEntries(built, 'in')) expect(preview).toContain(`${word} ${says}`.toLowerCase());
    // 16 rows at 30 in stay as they are; 6 passes of 240 in become 225 in (arithmetic).
    expect(built.outM2 / built.inM2).toBeCloseTo((225 + 480) / (240 + 480), 2);

    await drop(page, [right]);
    await verdict(page);
    await page.setInputFiles('#before-files', { name: wrong.name, mimeType: '', buffer: Buffer.from(wrong.bytes) });
    await page.locator('.sides').waitFor({ timeout: 200_000 });
    const core = compare(both, await check(input(right)));
    expect(core.verdict).toBe('fixed');
    expect(await verdict(page)).toMatch(/^Fixed /);
    expect(await page.locator('.command code').innerText()).toBe(
      "guessrow compare wrong.geojson right.geojson --planter one.planter.json --planter 'North 2=sixteen.planter.json'",
    );

    await unfold(page, 'planter');
    await page.getByRole('button', { name: 'Take away the planter of North 2' }).click();
    await page.locator('.stamp', { hasText: 'Not fixed' }).waitFor({ timeout: 200_000 });
    expect(seen).toEqual({ outside: [], faults: [] });
    await page.context().close();
  });
});

function planterOf({ name, bytes }: Given) {
  return readPlanter(new TextDecoder().decode(bytes), name);
}
