import { build } from 'vite';

/** The page as it is delivered, built once for all browser tests. */
export default async function setup(): Promise<void> {
  await build({ configFile: 'vite.config.ts', logLevel: 'warn' });
}
