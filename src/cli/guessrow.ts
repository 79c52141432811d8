#!/usr/bin/env node
import pc from 'picocolors';
import type { Io } from './io.ts';
import { main } from './main.ts';

// A reader that closes early ("| head") ends the output, and is no failure.
process.stdout.on('error', (e: NodeJS.ErrnoException) => {
  if (e.code === 'EPIPE') process.exit(process.exitCode ?? 0);
  throw e;
});

const io: Io = {
  out: (text) => new Promise((resolve) => void process.stdout.write(text, () => resolve())),
  err: (text) => void process.stderr.write(text),
  paint: pc.isColorSupported && process.stdout.isTTY ? pc.createColors(true) : null,
  progress: process.stderr.isTTY === true,
  onStop: (stop) => {
    for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, stop);
  },
};

process.exitCode = await main(process.argv.slice(2), io);
