// biome-ignore-all lint/performance/useDomNodeTextContent: the browser driver's innerText is the text as it is shown, which is meant.
import { readFileSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { basename } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { listen, servedHere } from '../../src/cli/serve.ts';
import type { Answer } from '../../src/core/answer.ts';
import { check } from '../../src/core/check.ts';
import type { NamedBytes } from '../../src/core/intake/types.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { headline } from '../../src/core/report/index.ts';
import { launch } from './browser.ts';

export const root = fileURLToPath(new URL('../..', import.meta.url));

export interface Given {
  name: string;
  bytes: Uint8Array;
}

export interface Site {
  address: string;
  browser: Browser;
  /** A page of its own context. Every address it asks for, and every fault, is kept in `seen`. */
  open(path?: string, options?: BrowserContextOptions): Promise<{ page: Page; seen: Seen }>;
  /** Pulls the cable: nothing is served any more. */
  cut(): Promise<void>;
  close(): Promise<void>;
}

export interface Seen {
  /** Addresses outside this site. */
  outside: string[];
  faults: string[];
}

/** The built page, served as the program serves it. */
export async function startSite(): Promise<Site> {
  const server = await listen(servedHere(), 0);
  const address = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  const browser = await launch();
  const cut = async (): Promise<void> => {
    const closed = new Promise<void>((done) => server.close(() => done()));
    server.closeAllConnections();
    await closed;
  };
  return {
    address,
    browser,
    async open(path = '/', options = {}) {
      const context = await browser.newContext({
        viewport: { width: 1280, height: 900 },
        acceptDownloads: true,
        // Only the offline tests let the page store its files: elsewhere a request would bypass the stub.
        serviceWorkers: 'block',
        ...options,
      });
      const page = await context.newPage();
      // On a busy machine a click may wait for the picture of a whole field.
      page.setDefaultTimeout(120_000);
      const seen: Seen = { outside: [], faults: [] };
      context.on('request', (r) => {
        if (!r.url().startsWith(`${address}/`) && !/^(blob|data):/.test(r.url())) seen.outside.push(r.url());
      });
      page.on('pageerror', (e) => seen.faults.push(e.message));
      page.on('console', (m) => {
        if (m.type() === 'error') seen.faults.push(m.text());
      });
      await page.goto(address + path);
      return { page, seen };
    },
    cut,
    async close() {
      await browser.close();
      await cut();
    },
  };
}

export function sample(path: string): Given {
  return { name: basename(path), bytes: readFileSync(`${root}/sample-data/${path}`) };
}

export function text(name: string, content: string): Given {
  return { name, bytes: new TextEncoder().encode(content) };
}

/** Files dropped on the sheet with the mouse, as the browser hands them over. */
export async function drop(page: Page, files: readonly Given[]): Promise<void> {
  const sent = files.map((f) => ({ name: f.name, base64: Buffer.from(f.bytes).toString('base64') }));
  await page.evaluate((list) => {
    const data = new DataTransfer();
    for (const { name, base64 } of list) {
      data.items.add(new File([Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))], name));
    }
    const sheet = document.querySelector('.sheet');
    for (const type of ['dragenter', 'dragover', 'drop']) {
      sheet?.dispatchEvent(new DragEvent(type, { bubbles: true, cancelable: true, dataTransfer: data }));
    }
  }, sent);
}

/** The same check by the core in Node. */
export function checkHere(
  map: readonly Given[],
  planter: Given,
  planting?: string,
  boundary: readonly Given[] = [],
  seedCostPerHa?: number,
): Promise<Answer> {
  return check({
    map: map.map(named),
    planter: readPlanter(new TextDecoder().decode(planter.bytes), planter.name),
    ...(planting ? { planting } : {}),
    ...(boundary.length ? { boundary: boundary.map(named) } : {}),
    ...(seedCostPerHa === undefined ? {} : { seedCostPerHa }),
  });
}

function named({ name, bytes }: Given): NamedBytes {
  return {
    name,
    sizeBytes: bytes.length,
    async *chunks() {
      yield bytes;
    },
  };
}

/** The verdict on the sheet, once it is there. Where the page asks what was planted, the answer is "not known". */
export async function verdict(page: Page): Promise<string> {
  await page.locator('.stamp, .question').first().waitFor({ timeout: 200_000 });
  const notKnown = page.locator('.question button', { hasText: 'I don’t know' });
  if ((await notKnown.count()) > 0) await notKnown.click();
  return (await page.locator('.stamp').innerText({ timeout: 200_000 })).replace(/\s+/g, ' ').trim();
}

/** What the stamp says of an answer. */
export function stampOf({ report, planter }: Answer): string {
  const word = { agrees: 'Agrees', differs: 'Differs', undecided: 'Undecided' }[report.verdict];
  if (report.verdict === 'undecided' && report.ifPlanted.length > 0)
    return `${word} The verdict depends on what was planted.`;
  const { cause, did, also } = headline(report, planter.unit);
  const rest = also.length > 0 ? [`Also to look at: ${also.join('; ')}.`] : [];
  return [word, cause, ...did, ...rest].join(' ').replace(/\s+/g, ' ');
}

/** Unfolds an input: the map, the planter, or what was planted. */
export async function unfold(page: Page, id: 'map' | 'planter' | 'planting'): Promise<void> {
  const line = page.locator(`details#${id}`);
  await line.waitFor({ timeout: 200_000 });
  if ((await line.getAttribute('open')) === null) await line.locator('summary').first().click();
}

/** Says what was planted: as an answer to the page's question, or in its line. */
export async function plant(page: Page, name: string): Promise<void> {
  const asked = page.locator('.question button', { has: page.locator('b', { hasText: new RegExp(`^${name}$`) }) });
  if ((await asked.count()) > 0) return asked.click();
  await unfold(page, 'planting');
  await page.locator(`#planting input[value="${name}"]`).check();
}
