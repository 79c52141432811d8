import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { notChecked } from '../../src/audit/field.ts';
import { flipsOf, stretchesOf, weeksOf } from '../../src/audit/group.ts';
import { indexPage } from '../../src/audit/page.ts';
import type { Done, Outcome } from '../../src/audit/types.ts';
import type { Setting } from '../../src/core/answer.ts';
import { launch } from '../e2e/browser.ts';

const DAY = 86_400_000;
const square = [[20, 20, 280, 20, 280, 280, 20, 280]];

function done(
  name: string,
  verdict: Outcome,
  day: number,
  affectedM2: number,
  settings: Setting[],
  machine: string,
): Done {
  const firstMs = Date.UTC(2026, 4, day, 8);
  return {
    key: name,
    name,
    machine,
    sameAs: null,
    planterFile: 'frame.planter.json',
    where: [],
    options: [],
    dead: verdict === 'not checked',
    reports: [`fields/${day}.txt`],
    picture: {
      covered: square,
      tracks: [[40, 20, 40, 280]],
      setting: [[60, 20, 64, 20, 64, 280, 60, 280]],
      open: [],
      harmless: [],
    },
    row: {
      ...notChecked(`${name} says`),
      verdict,
      settings,
      planter: 'Frame',
      planting: 'narrow',
      unit: 'in',
      firstMs,
      lastMs: firstMs + DAY / 8,
      affectedM2,
      acreCountPct: affectedM2 > 0 ? 6.7 : null,
    },
  };
}

const fields: Done[] = [
  done('creek', 'differs', 5, 4000, ['planted-rows'], 'North 2'),
  done('hill', 'differs', 3, 900, ['planted-rows', 'pass-spacing'], 'North 2'),
  done('barn', 'undecided', 4, 0, [], 'South 1'),
  done('<b>road</b>', 'not checked', 6, 0, [], ''),
  done('acre', 'agrees', 1, 0, [], 'North 2'),
];
const count = { differs: 2, undecided: 1, 'not checked': 1, agrees: 1 };
let browser: Browser;
let file: string;

beforeAll(async () => {
  browser = await launch();
  file = join(mkdtempSync(join(tmpdir(), 'guessrow-')), 'index.html');
  writeFileSync(
    file,
    indexPage({
      fields,
      open: 0,
      leftAlone: [{ name: 'notes.txt', why: '".txt" is not the ending of a map' }],
      flips: flipsOf(fields),
      count,
      weeks: weeksOf(fields),
      stretches: stretchesOf(fields),
    }),
  );
}, 60_000);
afterAll(() => browser.close());

async function open(scheme: 'light' | 'dark'): Promise<{ page: Page; asked: string[]; errors: string[] }> {
  const page = await browser.newPage({ colorScheme: scheme, bypassCSP: false });
  const asked: string[] = [];
  const errors: string[] = [];
  page.on('request', (r) => asked.push(r.url()));
  page.on('console', (m) => m.type() === 'error' && errors.push(m.text()));
  page.on('pageerror', (e) => errors.push(e.message));
  await page.goto(pathToFileURL(file).href);
  return { page, asked, errors };
}

const shown = (page: Page) => page.locator('#table tbody tr:visible th').allInnerTexts();

test('sorts and filters by keyboard alone, contacts no other place, and runs only its own script', async () => {
  const { page, asked, errors } = await open('light');
  expect(await shown(page)).toEqual(fields.map((f) => f.name));
  await page.locator('button[data-sort=name]').focus();
  await page.keyboard.press('Enter');
  expect(await shown(page)).toEqual(['<b>road</b>', 'acre', 'barn', 'creek', 'hill']);
  expect(
    await page
      .locator('th[aria-sort]')
      .evaluateAll((l) => l.map((t) => `${t.textContent} ${t.getAttribute('aria-sort')}`)),
  ).toEqual(['Field ascending']);
  await page.locator('button[data-sort=affected]').focus();
  await page.keyboard.press('Space');
  expect((await shown(page)).slice(0, 2)).toEqual(['creek', 'hill']);
  await page.locator('#setting').selectOption('pass-spacing');
  expect(await shown(page)).toEqual(['hill']);
  expect(await page.locator('#shown').textContent()).toBe('1 field');
  await page.locator('#setting').selectOption('');
  await page.locator('#find').fill('bar');
  expect(await shown(page)).toEqual(['barn']);
  expect([asked.filter((u) => !u.startsWith('file:')), errors]).toEqual([[], []]);
  expect(await page.locator('#table b').count()).toBe(0);
  await page.close();
});

test.each(['light', 'dark'] as const)('no fault against WCAG 2.2 AA, %s', async (scheme) => {
  const { page } = await open(scheme);
  // As the browser's own tool: the page's policy lets no other script in.
  const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
  await page.evaluate(axe);
  const faults = await page.evaluate(async () => {
    const { axe: a } = window as unknown as {
      axe: { run(o: object): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> };
    };
    const r = await a.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] });
    return r.violations.map((v) => `${v.id}: ${v.nodes[0].html.slice(0, 120)}`);
  });
  expect(faults).toEqual([]);
  await page.close();
});

test('weeks begin on Monday, and a single wrong field is not a stretch', () => {
  // 3 May 2026 is a Sunday, so its week began on 27 April (calendar, ISO 8601).
  expect(weeksOf([fields[1]]).map((w) => new Date(w.mondayMs!).toISOString().slice(0, 10))).toEqual(['2026-04-27']);
  const s = stretchesOf(fields);
  expect(s.map((x) => [x.setting, x.fields, x.before])).toEqual([['planted-rows', ['hill', 'creek'], 1]]);
  expect(stretchesOf([fields[1], { ...fields[0], sameAs: 'hill' }])).toEqual([]);
});

test('dates of a stretch do not contradict each other where fields overlap in time', () => {
  /** A field from one day in May to another; both at 8 in the morning. */
  const span = (name: string, is: 'right' | 'wrong', from: number, to: number): Done => {
    const f = done(
      name,
      is === 'right' ? 'agrees' : 'differs',
      from,
      0,
      is === 'right' ? [] : ['pass-spacing'],
      'North 2',
    );
    return { ...f, row: { ...f.row, lastMs: Date.UTC(2026, 4, to, 8) } };
  };
  const one = (...list: Done[]) => {
    const [s, ...more] = stretchesOf(list);
    expect(more).toEqual([]);
    for (const other of list.filter((f) => f.row.verdict === 'differs' && f.row.firstMs! <= s.toMs))
      expect(s.rightAgainMs ?? Number.POSITIVE_INFINITY).toBeGreaterThanOrEqual(other.row.lastMs!);
    return [s.says.replace(/^.*? was wrong /, ''), s.before, s.rightAgainMs && new Date(s.rightAgainMs).getUTCDate()];
  };
  const [a, b] = [span('a', 'wrong', 20, 21), span('b', 'wrong', 20, 21)];
  const unclear =
    'when it was right again is not clear, because a field in which it was right overlaps in time with one in which it was wrong.';
  expect(one(a, b, span('c', 'right', 22, 22))).toEqual([
    'from May 20, 2026 to May 21, 2026, two fields, and right again on May 22, 2026.',
    0,
    22,
  ]);
  expect(one(a, b, span('c', 'right', 20, 20))).toEqual([
    `from May 20, 2026 to May 21, 2026, two fields; ${unclear}`,
    0,
    null,
  ]);
  // The first that begins when all wrong ones have ended.
  expect(one(a, b, span('c', 'right', 20, 23), span('d', 'right', 21, 21), span('e', 'right', 24, 24))).toEqual([
    'from May 20, 2026 to May 21, 2026, two fields, and right again on May 21, 2026.',
    0,
    21,
  ]);
  expect(one(a, b, span('c', 'right', 20, 23), span('d', 'wrong', 22, 22))).toEqual([
    `from May 20, 2026 to May 21, 2026, two fields; ${unclear}`,
    0,
    null,
  ]);
  // A lone wrong field that went on for longer; and of those before, only what had ended.
  expect(
    one(
      span('z', 'wrong', 1, 25),
      span('y', 'right', 2, 3),
      span('x', 'right', 4, 22),
      a,
      b,
      span('c', 'right', 23, 23),
    ),
  ).toEqual([`from May 20, 2026 to May 21, 2026, two fields; right in the one before; ${unclear}`, 1, null]);
});
