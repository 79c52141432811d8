#!/usr/bin/env node
import pc from 'picocolors';
import type { Io } from './io.ts';
import { main } from './main.ts';
import { suitOneCore } from './one-core.ts';

suitOneCore();

// A reader that closes early ("| head") wants no more text; the exit status still gives the verdict. Any other error is reported once.
let closed = false;
let fault: NodeJS.ErrnoException | null = null;
process.stdout.on('error', (e: NodeJS.ErrnoException) => {
  closed = true;
  if (e.code !== 'EPIPE') fault ??= e;
});
// Nothing is left to report to.
process.stderr.on('error', () => {});

const io: Io = {
  out: (text) =>
    closed ? Promise.resolve() : new Promise((resolve) => void process.stdout.write(text, () => resolve())),
  err: (text) => void process.stderr.write(text),
  paint: pc.isColorSupported && process.stdout.isTTY ? pc.createColors(true) : null,
  progress: process.stderr.isTTY === true,
  onStop: (stop) => {
    for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, stop);
  },
};

const status = await main(process.argv.slice(2), io);
// An error of the last write arrives after it.
await new Promise((resolve) => setImmediate(resolve));
if (fault !== null) {
  const { code } = fault as NodeJS.ErrnoException;
  io.err(
    `guessrow: The answer could not be written: ${code === 'ENOSPC' ? 'the disk is full' : `the system says ${code}`}. Free some room, or use "--out". [output]\n`,
  );
}
process.exitCode = fault === null ? status : 2;
