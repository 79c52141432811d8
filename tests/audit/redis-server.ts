import { spawn } from 'node:child_process';
import { mkdtempSync } from 'node:fs';
import { type AddressInfo, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Redis } from 'ioredis';
import { expect } from 'vitest';
import { until } from './built.ts';

/** Debian's server on a free port, in a folder of its own, empty. */
export async function redisServer(): Promise<{ port: number; stop(): Promise<void> }> {
  const port = await new Promise<number>((resolve) => {
    const s = createServer().listen(0, '127.0.0.1', () => {
      const { port: p } = s.address() as AddressInfo;
      s.close(() => resolve(p));
    });
  });
  const dir = mkdtempSync(join(tmpdir(), 'guessrow-redis-'));
  const server = spawn('redis-server', ['--port', `${port}`, '--bind', '127.0.0.1', '--dir', dir, '--save', ''], {
    stdio: 'ignore',
  });
  const redis = new Redis(port, '127.0.0.1', { maxRetriesPerRequest: 1, retryStrategy: () => 200 });
  redis.on('error', () => {});
  expect(await until(async () => (await redis.ping().catch(() => '')) === 'PONG', 30_000)).toBe(true);
  redis.disconnect();
  return {
    port,
    stop: () =>
      new Promise((resolve) => {
        server.once('close', () => resolve());
        server.kill('SIGKILL');
      }),
  };
}
