/**
 * Pictures of the sheet's main states for the README: `npx tsx tests/e2e/screenshots.ts` builds the page, opens samples in Chromium
 * and writes `public/screenshots/*.png`.
 */
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { BrowserContextOptions, Page } from 'playwright-core';
import build from './build.ts';
import { drop, root, sample, startSite, text, unfold, verdict } from './page.ts';

const OUT = join(root, 'public', 'screenshots');

interface Shot {
  name: string;
  sample?: string;
  options?: BrowserContextOptions;
  /** What is done before the picture is taken. */
  prepare?(page: Page): Promise<void>;
  /** One part of the sheet, or what the window shows. */
  part?: string;
}

const SHOTS: readonly Shot[] = [
  { name: 'empty' },
  {
    name: 'checked-field',
    sample: 'narrow-as-wide',
    prepare: toVerdict,
    options: { viewport: { width: 1280, height: 900 } },
  },
  {
    name: 'evidence',
    sample: 'narrow-as-wide',
    prepare: closeLook,
    options: { viewport: { width: 1280, height: 1250 } },
  },
  { name: 'planter', sample: 'across-drives', part: '#planter', prepare: openForm },
  { name: 'alone', prepare: mapAlone },
  { name: 'agrees', sample: 'healthy-field', prepare: toVerdict },
  {
    name: 'dark',
    sample: 'across-drives',
    prepare: closeLook,
    options: { colorScheme: 'dark', viewport: { width: 1280, height: 1250 } },
  },
  {
    name: 'compare',
    sample: 'test-strips-after&before=test-strips-before',
    prepare: toAccount,
    options: { viewport: { width: 1280, height: 900 } },
  },
  {
    name: 'phone',
    sample: 'other-pass-spacing',
    prepare: toVerdict,
    options: { viewport: { width: 390, height: 844 } },
  },
  { name: 'undecided', prepare: tooShort },
  { name: 'error', prepare: wrongFile },
  { name: 'print', sample: 'narrow-as-wide', prepare: asPrinted, options: { viewport: { width: 720, height: 1018 } } },
];

async function main(): Promise<void> {
  await build();
  mkdirSync(OUT, { recursive: true });
  const site = await startSite();
  try {
    for (const shot of SHOTS) {
      const { page } = await site.open(shot.sample ? `/?sample=${shot.sample}` : '/', shot.options);
      if (shot.sample) {
        await page.locator('.stamp').waitFor({ timeout: 90_000 });
        await page.locator('.mapbox[data-ready]').waitFor({ timeout: 90_000 });
        await settle(page);
      }
      await shot.prepare?.(page);
      const path = join(OUT, `${shot.name}.png`);
      if (shot.part) await page.locator(shot.part).screenshot({ path });
      else await page.screenshot({ path });
      process.stdout.write(`${path}\n`);
      await page.context().close();
    }
  } finally {
    await site.close();
  }
}

/** Until nothing on the map changes any more. */
async function settle(page: Page): Promise<void> {
  await page.waitForTimeout(1200);
  if ((await page.locator('.mapbox').count()) > 0)
    await page.locator('.mapbox[data-ready]').waitFor({ timeout: 90_000 });
  await page.waitForTimeout(300);
}

async function toVerdict(page: Page): Promise<void> {
  await settle(page);
}

/** A map without a planter. */
async function mapAlone(page: Page): Promise<void> {
  await drop(page, [sample('test-strips/before.geojson')]);
  await page.locator('.mapbox[data-ready]').waitFor({ timeout: 90_000 });
  await settle(page);
}

/** The map near the eye, the rulers below it. */
async function closeLook(page: Page): Promise<void> {
  await page.getByRole('button', { name: /^Close look/ }).click();
  await page.locator('#field').evaluate((e) => e.scrollIntoView({ block: 'start' }));
  await settle(page);
}

/** The first twenty bars of a test strip: too short to tell anything. */
async function tooShort(page: Page): Promise<void> {
  const map = JSON.parse(new TextDecoder().decode(sample('test-strips/before.geojson').bytes));
  map.features.length = 160;
  await drop(page, [text('first-bars.geojson', JSON.stringify(map)), sample('test-strips/test-strips.planter.json')]);
  await verdict(page);
  await toVerdict(page);
}

/** The planter as it is edited, with a broken rule at its field. */
async function openForm(page: Page): Promise<void> {
  await unfold(page, 'planter');
  await page.getByText('Change the planter').click();
  await page.locator('#planter .wrong').first().waitFor();
}

/** The two maps of a comparison. */
async function toAccount(page: Page): Promise<void> {
  await page.locator('#account').evaluate((e) => e.scrollIntoView({ block: 'start' }));
  await settle(page);
}

async function wrongFile(page: Page): Promise<void> {
  await drop(page, [text('field.geojson', '{"type":"FeatureCollection","features":[{"type":"Feature",')]);
  await page.locator('#verdict .problem').waitFor();
  await toVerdict(page);
}

async function asPrinted(page: Page): Promise<void> {
  await page.emulateMedia({ media: 'print' });
  await settle(page);
}

await main();
