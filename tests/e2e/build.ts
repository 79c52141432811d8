import { build } from 'vite';

/** The page as it is delivered, built once for all browser tests. The test runner's own environment would build it for development. */
export default async function setup(): Promise<void> {
  const before = process.env.NODE_ENV;
  process.env.NODE_ENV = 'production';
  await build({ logLevel: 'warn' });
  process.env.NODE_ENV = before;
}
