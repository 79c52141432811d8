/**
 * One run in a fresh process: `coverage-child.ts measure|cover|warm RECORDS shared|rectangles`; `warm` is `cover` after two runs that are not timed.
 * Prints one JSON line; making the map is not timed.
 */
import { readFileSync } from 'node:fs';
import { cover, measure } from '../../src/core/coverage/index.ts';
import { benchMap } from './coverage-map.ts';

const [what, records, kind] = process.argv.slice(2);
const map = benchMap(Number(records), kind === 'rectangles');
const density = [1, 0, 0, 0] as const;
const before = process.memoryUsage().rss;
if (what === 'warm') for (let i = 0; i < 2; i++) cover(map.shapes, density);
const start = performance.now();
const coverage = what === 'measure' ? measure(map.shapes, density) : null;
const both = what === 'measure' ? null : cover(map.shapes, density);
const ms = performance.now() - start;
const m = coverage ?? both!.coverage;
console.log(
  JSON.stringify({
    ms,
    count: map.count,
    covered: m.areaAtDepthM2[0],
    overlap: m.areaAtDepthM2[1],
    rings: both?.rings.coveredM2 ?? null,
    holes: both ? both.rings.covered.ringStart.length - both.rings.covered.polygonStart.length : null,
    // Not the resource usage of the process: that keeps what the parent held when it started this one.
    extraMb: (Number(/VmHWM:\s*(\d+)/.exec(readFileSync('/proc/self/status', 'utf8'))![1]) * 1024 - before) / 1e6,
  }),
);
