import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { FIFTEEN, fieldGeoJson } from './field.ts';
import { drop, type Site, startSite, text, verdict } from './page.ts';

/** axe-core, with its rules for WCAG 2.2 A and AA: contrast, names, roles, regions, keyboard reach of what scrolls. */
const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

let site: Site;
beforeAll(async () => {
  site = await startSite();
});
afterAll(() => site.close());

const field = text(
  'field.geojson',
  fieldGeoJson({ passes: 6, bars: 60, sectionsM: Array(8).fill(0.762), spacingM: 6.096 }),
);
const planter = text(
  'f.planter.json',
  JSON.stringify({ ...FIFTEEN, sections: ['1-2', '3-4', '5-6', '7-9', '10', '11-15'] }),
);

async function violations(page: Page): Promise<string[]> {
  await page.evaluate(AXE);
  return page.evaluate(async () => {
    const { axe } = window as unknown as {
      axe: { run(options: object): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> };
    };
    const found = await axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] });
    return found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 160)).join(' | ')}`);
  });
}

/** Text that is drawn smaller than 14 px, and whether the sheet is wider than its window. */
function sizes(page: Page): Promise<{ small: string[]; wider: number }> {
  return page.evaluate(() => {
    const small: string[] = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
      const parent = node.parentElement;
      if (!parent || !node.textContent?.trim() || parent.closest('noscript, script, style, title, option')) continue;
      const box = parent.getBoundingClientRect();
      if (box.width === 0) continue;
      const svg = parent.closest('svg');
      const scale = svg
        ? svg.getBoundingClientRect().width / (svg.viewBox.baseVal.width || svg.getBoundingClientRect().width)
        : 1;
      const px = Number.parseFloat(getComputedStyle(parent).fontSize) * scale;
      if (px < 13.99) small.push(`${px} px: ${node.textContent.trim().slice(0, 40)}`);
    }
    return { small, wider: document.documentElement.scrollWidth - document.documentElement.clientWidth };
  });
}

describe('for everyone', () => {
  for (const [name, options] of [
    ['light', { colorScheme: 'light' }],
    ['dark', { colorScheme: 'dark' }],
    ['on a phone', { viewport: { width: 360, height: 740 } }],
  ] as const) {
    test(`${name}: no violation of WCAG 2.2 AA that axe-core finds, no text below 14 px, nothing wider than the window`, async () => {
      const { page } = await site.open('/', options);
      expect(await violations(page)).toEqual([]);
      await drop(page, [field, planter]);
      await verdict(page);
      await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
      // Everything foldable is open; errors are shown at their fields.
      await page.evaluate(() => {
        for (const d of document.querySelectorAll('details')) d.open = true;
      });
      await page.getByLabel('Row spacing, in').fill('x');
      await page.getByLabel('Rows of "wide"').fill('odd,');
      await page.locator('.wrong').first().waitFor();
      const price = page.getByLabel('Price of the seed');
      if ((await price.count()) > 0) await price.fill('a bag');
      expect(await violations(page)).toEqual([]);
      expect(await sizes(page)).toEqual({ small: [], wider: 0 });
      await page.getByLabel('Row spacing, in').fill('15');
      await page.getByLabel('Rows of "wide"').fill('odd');
      await drop(page, [text('wrong.geojson', '{')]);
      await page.locator('.problem').first().waitFor();
      expect(await violations(page)).toEqual([]);
      await page.context().close();
    });
  }

  for (const colorScheme of ['light', 'dark'] as const) {
    test(`${colorScheme}: the same of an unfolded legend, two pictures, a rebuilt map, a guessed planter and a list`, async () => {
      const { page } = await site.open('/?sample=narrow-as-wide', { colorScheme });
      await verdict(page);
      await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
      await page.getByRole('button', { name: /more lines?$/ }).click();
      await page.getByLabel('Compare', { exact: true }).check();
      await page.getByRole('button', { name: 'Show what would change' }).click();
      await page.locator('.preview .mapbox[data-ready]').waitFor({ timeout: 60_000 });
      expect(await violations(page)).toEqual([]);
      expect(await sizes(page)).toEqual({ small: [], wider: 0 });
      await page.getByRole('button', { name: 'Start over' }).click();
      await drop(page, [field]);
      await page.getByRole('button', { name: /^Use 8 rows/ }).click();
      await page.locator('.whose.warn').waitFor({ timeout: 60_000 });
      expect(await violations(page)).toEqual([]);
      await drop(page, [field, text('second.geojson', new TextDecoder().decode(field.bytes)), planter]);
      await page.locator('.fields select').first().waitFor({ timeout: 60_000 });
      expect(await violations(page)).toEqual([]);
      expect(await sizes(page)).toEqual({ small: [], wider: 0 });
      await page.context().close();
    });
  }

  test('the checker itself finds what is planted for it', async () => {
    const { page } = await site.open();
    await page.evaluate(() => {
      const button = document.createElement('button');
      const faint = document.createElement('p');
      faint.textContent = 'faint';
      faint.setAttribute('class', 'label');
      document.querySelector('main')?.append(button, faint);
      faint.style.color = '#ddd';
      faint.style.fontSize = '9px';
    });
    const found = (await violations(page)).map((v) => v.split(':')[0]);
    expect(found).toEqual(expect.arrayContaining(['button-name', 'color-contrast']));
    expect((await sizes(page)).small).toEqual(['9 px: faint']);
    await page.context().close();
  });

  test('the verdict is announced, and every part can be reached with the tab key', async () => {
    const { page } = await site.open();
    await drop(page, [field, planter]);
    await verdict(page);
    expect(await page.locator('[role=status][aria-live=polite] .stamp').count()).toBe(1);
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 60_000 });
    const reached = new Set<string>();
    await page.locator('body').press('Tab');
    for (let i = 0; i < 160; i++) {
      const where = await page.evaluate(() => {
        const e = document.activeElement;
        const visible = e && e !== document.body && getComputedStyle(e).outlineStyle !== 'none';
        const inPick = e?.closest('.filepick');
        const part = e?.closest('#verdict, #map, #planter, #planting, #field, #rulers, #account, #evidence, #takeaway');
        return part && (visible || inPick) ? part.id : '';
      });
      if (where) reached.add(where);
      await page.keyboard.press('Tab');
    }
    const parts = ['verdict', 'map', 'planter', 'planting', 'field', 'rulers', 'account', 'evidence', 'takeaway'];
    expect([...reached]).toEqual(parts);
    await page.context().close();
  });
});
