// biome-ignore-all lint/performance/useDomNodeTextContent: the browser driver's innerText is the text as it is shown, which is meant.
/** The built page in Chromium and the built command give the same files, byte for byte, from the same map. */
import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { builtCommand } from '../audit/built.ts';
import { drop, type Given, type Site, sample, startSite, verdict } from './page.ts';

let site: Site;
let at: { dir: string; command: string };

beforeAll(async () => {
  at = await builtCommand();
  site = await startSite();
}, 120_000);
afterAll(() => site?.close());

const BUTTONS = {
  json: 'Report, JSON',
  html: 'Report, HTML',
  geojson: 'Pictures, GeoJSON',
  csv: 'Passes, CSV',
} as const;

async function download(page: Page, button: string): Promise<Buffer> {
  const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: button }).click()]);
  return readFileSync(await file.path());
}

/** The command line that the page shows, run by a shell as a reader would, here with another time zone and another language. */
function commandLine(shown: string, format: string): Buffer {
  const out = join(at.dir, `out.${format}`);
  const script = `guessrow() { "$NODE" "$COMMAND" "$@"; }; ${shown} --format ${format} --out "$OUT"`;
  const env = {
    ...process.env,
    ...{
      NODE: process.execPath,
      COMMAND: at.command,
      OUT: out,
      TZ: 'Pacific/Auckland',
      LANG: 'de_DE.UTF-8',
      LC_ALL: 'de_DE.UTF-8',
    },
  };
  const r = spawnSync('sh', ['-c', script], { cwd: at.dir, encoding: 'utf8', env });
  expect([r.stderr, [0, 1, 3].includes(r.status ?? -1)]).toEqual(['', true]);
  return readFileSync(out);
}

test.each<[string, (keyof typeof BUTTONS)[], Given[]]>([
  [
    'a GeoJSON that differs',
    ['json', 'csv'],
    [sample('narrow-as-wide/creek-eighty.geojson'), sample('narrow-as-wide/narrow-as-wide.planter.json')],
  ],
  [
    'a zipped shapefile in meters',
    ['geojson', 'html'],
    [sample('other-pass-spacing/windbreak-forty.zip'), sample('other-pass-spacing/other-pass-spacing.planter.json')],
  ],
])('%s: %s', async (_, formats, files) => {
  for (const f of files) writeFileSync(join(at.dir, f.name), f.bytes);
  const { page, seen } = await site.open('/', { timezoneId: 'America/Chicago', locale: 'en-US' });
  await drop(page, files);
  await verdict(page);
  const shown = await page.locator('.command code').innerText();
  expect(shown).toContain(files[0].name);
  for (const format of formats) {
    const here = await download(page, BUTTONS[format]);
    const there = commandLine(shown, format);
    expect(here.length, format).toBeGreaterThan(500);
    expect(here.equals(there), `${format} of the page and of the command`).toBe(true);
  }
  expect([seen.outside, seen.faults]).toEqual([[], []]);
  await page.context().close();
});
