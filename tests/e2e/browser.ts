import { type Browser, chromium } from 'playwright-core';

/** Debian's Chromium without a graphics card, and without the calls home of a browser. */
export function launch(): Promise<Browser> {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: [
      '--no-sandbox',
      '--use-angle=swiftshader',
      '--enable-unsafe-swiftshader',
      '--ignore-gpu-blocklist',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-default-apps',
      '--disable-domain-reliability',
      '--disable-sync',
      '--no-first-run',
      '--no-pings',
      '--disable-features=OptimizationHints,MediaRouter,Translate',
    ],
  });
}
