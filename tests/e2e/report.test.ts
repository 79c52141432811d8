import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { explainHtml, htmlReport } from '../../src/core/report/index.ts';
import { PLANTERS, rowsOf } from '../generator/planters.ts';
import { checkSpec, field } from '../settings/help.ts';
import { launch } from './browser.ts';

/** axe-core, with its rules for WCAG 2.2 A and AA: contrast, names, roles, keyboard reach of what scrolls. */
const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const folder = mkdtempSync(join(tmpdir(), 'guessrow-report-'));
const pages: Record<string, string> = {};
let browser: Browser;

function keep(name: string, html: string): void {
  const path = join(folder, `${name}.html`);
  writeFileSync(path, html);
  pages[name] = pathToFileURL(path).href;
}

beforeAll(async () => {
  browser = await launch();
  const { fifteen, twentyThreeStraddling } = PLANTERS;
  const wide = { belief: { planted: rowsOf(15, 'odd') }, passSpacingM: 6.096 };
  keep(
    'differs',
    htmlReport(await checkSpec(field(fifteen, 'narrow', wide), fifteen, 'narrow'), { command: 'guessrow check x' }),
  );
  keep('broken', htmlReport(await checkSpec(field(twentyThreeStraddling, 'narrow'), twentyThreeStraddling, 'narrow')));
  const dissolved = field(fifteen, 'narrow', { grain: 'blob' });
  keep('undecided', htmlReport(await checkSpec(dissolved, fifteen, 'narrow')));
  keep('explain', explainHtml());
}, 120_000);
afterAll(() => browser.close());

/** Opened from disk; every address that is asked for beside the file itself is written down. */
async function open(name: string, options: object): Promise<{ page: Page; asked: string[] }> {
  // Our own checks are put in past the page's policy, which lets nothing run.
  const page = await (await browser.newContext({ bypassCSP: true, ...options })).newPage();
  const asked: string[] = [];
  page.on('request', (r) => {
    if (r.url() !== pages[name]) asked.push(r.url());
  });
  await page.goto(pages[name]);
  return { page, asked };
}

describe('a report opened from disk', () => {
  for (const [how, options] of [
    ['light', { colorScheme: 'light' }],
    ['dark', { colorScheme: 'dark' }],
    ['on a phone', { viewport: { width: 360, height: 740 } }],
  ] as const) {
    for (const name of ['differs', 'broken', 'undecided', 'explain']) {
      test(`${name}, ${how}: no violation that axe-core finds, no text below 14 px, nothing wider than the window, no request`, async () => {
        const { page, asked } = await open(name, options);
        await page.evaluate(AXE);
        const found = await page.evaluate(async () => {
          const { axe } = window as unknown as {
            axe: { run(options: object): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> };
          };
          const rules = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
          const r = await axe.run({ runOnly: rules });
          return r.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 160)).join(' | ')}`);
        });
        expect(found).toEqual([]);
        const sizes = await page.evaluate(() => {
          const small: string[] = [];
          const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
          for (let n = walk.nextNode(); n; n = walk.nextNode()) {
            const parent = n.parentElement;
            if (!parent || !n.textContent?.trim() || parent.closest('title, style')) continue;
            const svg = parent.closest('svg');
            const scale = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
            const px = Number.parseFloat(getComputedStyle(parent).fontSize) * scale;
            if (px < 13.99) small.push(`${px} px: ${n.textContent.trim().slice(0, 40)}`);
          }
          return { small, wider: document.documentElement.scrollWidth - document.documentElement.clientWidth };
        });
        expect(sizes).toEqual({ small: [], wider: 0 });
        expect(asked).toEqual([]);
        await page.context().close();
      });
    }
  }

  for (const format of ['A4', 'Letter']) {
    test(`prints on ${format} with its drawings as vectors, nothing cut off at the side`, async () => {
      const { page } = await open('differs', {});
      const pdf = (await page.pdf({ format, preferCSSPageSize: false })).toString('latin1');
      expect(pdf.startsWith('%PDF')).toBe(true);
      expect(/\/Subtype\s*\/Image/.test(pdf)).toBe(false);
      // As wide as the paper between margins of 13 mm, at 96 px to the inch.
      await page.emulateMedia({ media: 'print' });
      await page.setViewportSize({
        width: Math.floor(((format === 'A4' ? 210 : 215.9) - 26) * (96 / 25.4)),
        height: 1000,
      });
      const over = await page.evaluate(() =>
        [...document.querySelectorAll('svg, table, p, dd, code')]
          .filter((e) => e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5)
          .map((e) => e.outerHTML.slice(0, 80)),
      );
      expect(over).toEqual([]);
      await page.context().close();
    });
  }
});
