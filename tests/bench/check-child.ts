/** One measured task in a fresh process: `check FILE`, `read FILE`, `parse FILE` (JSON.parse) or `shpjs FILE`. Prints one JSON line. */
import { closeSync, openSync, readFileSync, readSync, statSync } from 'node:fs';
import { basename } from 'node:path';
import { suitOneCore } from '../../src/cli/one-core.ts';
import { check } from '../../src/core/check.ts';
import { read } from '../../src/core/intake/index.ts';
import type { NamedBytes } from '../../src/core/intake/types.ts';
import { readPlanter } from '../../src/core/planter/index.ts';

const [task, path] = process.argv.slice(2);

function file(name: string): NamedBytes {
  return {
    name: basename(name),
    sizeBytes: statSync(name).size,
    async *chunks() {
      const fd = openSync(name, 'r');
      try {
        for (;;) {
          const block = new Uint8Array(1 << 20);
          const n = readSync(fd, block);
          if (n === 0) return;
          yield block.subarray(0, n);
        }
      } finally {
        closeSync(fd);
      }
    },
  };
}

const PLANTER = readPlanter(
  JSON.stringify({
    name: 'Sixteen rows',
    unit: 'in',
    rows: 16,
    rowSpacing: 30,
    plantings: { all: 'all' },
    sections: Array.from({ length: 16 }, (_, i) => String(i + 1)),
  }),
  'bench.planter.json',
);

if (task === 'check') suitOneCore();
const base = process.memoryUsage().rss;
const stages: Record<string, number> = {};
const startCpu = process.cpuUsage();
const start = performance.now();
let checksum = '';
if (task === 'check') {
  let stage = '';
  let since = start;
  const answer = await check(
    { map: [file(path)], planter: PLANTER, planting: 'all' },
    {
      progress(next) {
        if (next === stage) return;
        const now = performance.now();
        if (stage) stages[stage] = (stages[stage] ?? 0) + now - since;
        stage = next;
        since = now;
      },
    },
  );
  stages[stage] = (stages[stage] ?? 0) + performance.now() - since;
  const r = answer.report;
  checksum = `${r.map.used} records, ${r.map.passes} passes, ${r.area.coveredM2.toFixed(3)} m2, ${r.verdict}`;
} else if (task === 'read') {
  const set = await read([file(path)]);
  checksum = `${set.recordNumber.length} records, ${set.columns.length} columns`;
} else if (task === 'parse') {
  const all = JSON.parse(readFileSync(path, 'utf8')) as { features: unknown[] };
  checksum = `${all.features.length} features`;
} else {
  const shp = (await import('shpjs')).default as unknown as (
    b: ArrayBuffer,
  ) => Promise<{ features: unknown[] } | { features: unknown[] }[]>;
  const bytes = readFileSync(path);
  const out = await shp(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length) as ArrayBuffer);
  checksum = `${(Array.isArray(out) ? out[0] : out).features.length} features`;
}
const ms = performance.now() - start;
// All threads of the process: the engine's own helpers for garbage and for compiling are in it.
const { user, system } = process.cpuUsage(startCpu);
// Not the resource usage of the process: that keeps what the parent held when it started this one.
const peakMb = Number(/VmHWM:\s*(\d+)/.exec(readFileSync('/proc/self/status', 'utf8'))![1]) / 1024;
console.log(
  JSON.stringify({ ms, cpuMs: (user + system) / 1000, peakMb, extraMb: peakMb - base / 1e6, stages, checksum }),
);
