/**
 * A check of a small invented field, done while nobody waits.
 *
 * The engine runs a function slowly until it was called often enough to be compiled, and a check calls hundreds of them for a fraction of a second each.
 * A worker that has practiced has them compiled before the reader's map comes. Nothing of the practice is kept or shown.
 */

import type { Answer } from '../core/answer.ts';
import { checkSource } from '../core/check.ts';
import { checkParallel, type Surveyor } from '../core/check-parallel.ts';
import type { Staged } from '../core/intake/index.ts';
import { readPlanter } from '../core/planter/index.ts';
import { jobOf } from '../core/steps/job.ts';
import { readSource } from '../core/steps/source.ts';
import { namedBytes } from './bytes.ts';
import { Sketch } from './sketch.ts';

const SECTIONS = 6;
const SECTION_M = 0.762;
const WIDTH_M = SECTIONS * SECTION_M;
/** Length of a record, and of a pass across the field, meters. */
const STEP_M = 2.2;
const LENGTH_M = 60;
const PASSES = 10;

const PLANTER = {
  name: 'Practice',
  unit: 'm',
  rows: SECTIONS,
  rowSpacing: SECTION_M,
  plantings: { every: 'all' },
  sections: Array.from({ length: SECTIONS }, (_, s) => String(s + 1)),
};

/** Rounds of practice: after these the engine has compiled nearly all that a small field can show it. */
const ROUNDS = 12;

/** The second worker: it practices by doing its part of the work. */
export interface Partner extends Surveyor {
  readAlong(map: File): Promise<unknown>;
}

/** Practices until it knows its work, or `wanted` says that there is a call: messages are heard between two rounds. */
export async function practiceUntil(wanted: () => boolean, partner: Partner): Promise<void> {
  const map = new File([practiceMap()], 'practice.geojson');
  for (let round = 0; round < ROUNDS && !wanted(); round++) {
    await practice(map, wanted, round % 2 === 0 ? partner : null);
    await new Promise((next) => setTimeout(next));
  }
}

/** One round: the same functions, on the same kinds of arrays, as for a map of the reader's, large or small. Null where it was ended early. */
export async function practice(map: File, wanted: () => boolean, partner: Partner | null): Promise<Answer | null> {
  const planter = readPlanter(JSON.stringify(PLANTER), 'practice.planter.json');
  const job = jobOf({ planter });
  const sketch = new Sketch();
  const watch = (staged: Staged): void => sketch.add(staged);
  const [source] = await Promise.all([
    readSource({ map: [namedBytes(map, map.name)], planter }, job, { watch }),
    partner?.readAlong(map),
  ]);
  if (wanted()) return null;
  return partner ? checkParallel(source, job, partner) : checkSource(source, job);
}

/** A headland pass along either end of straight passes, to and fro, a little apart from each other: there are gaps, overlaps and ground planted twice. */
export function practiceMap(): string {
  const features: string[] = [];
  let second = 0;
  /** One pass, from where to where; it sways by some centimeters. */
  const drive = (fromX: number, fromY: number, toX: number, toY: number): void => {
    const length = Math.hypot(toX - fromX, toY - fromY);
    const [east, north] = [(toX - fromX) / length, (toY - fromY) / length];
    const course = Math.round((Math.atan2(east, north) * 180) / Math.PI + 360) % 360;
    const corner = (instant: number, edge: number): string => {
      const [along, sway] = [instant * STEP_M, 0.03 * Math.sin(instant / 4 + fromX)];
      const right = sway + (edge - SECTIONS / 2) * SECTION_M;
      return degrees(fromX + east * along + north * right, fromY + north * along - east * right);
    };
    for (let i = 0; (i + 1) * STEP_M <= length; i++, second++)
      for (let s = 0; s < SECTIONS; s++) {
        const ring = [corner(i, s), corner(i, s + 1), corner(i + 1, s + 1), corner(i + 1, s), corner(i, s)];
        const time = new Date(Date.UTC(2026, 3, 20, 14) + 1000 * second).toISOString();
        const n = features.length;
        const rates = `"rate":${32_000 + (n % 97)},"target":32000,"speed":${5 + (n % 10) / 10},"elevation":${300 + (n % 31) / 10}`;
        const values = `"time":"${time}","section":${s + 1},"heading":${course},${rates},"product":"practice","lot":"L${1 + (n >> 9)}","note":""`;
        features.push(
          `{"type":"Feature","properties":{${values}},"geometry":{"type":"Polygon","coordinates":[[${ring}]]}}`,
        );
      }
    second += 25;
  };
  const across = PASSES * WIDTH_M;
  drive(0, -WIDTH_M / 2, across, -WIDTH_M / 2);
  drive(across, LENGTH_M + WIDTH_M / 2, 0, LENGTH_M + WIDTH_M / 2);
  for (let p = 0; p < PASSES; p++) {
    const x = (p + 0.5) * WIDTH_M + 0.02 * Math.sin(5 * p);
    const [low, high] = [-1.3 + Math.sin(3 * p), LENGTH_M + 1.3 + Math.cos(2 * p)];
    if (p % 2 === 0) drive(x, low, x, high);
    else drive(x, high, x, low);
  }
  return `{"type":"FeatureCollection","features":[\n${features.join(',\n')}\n]}`;
}

/** A place of the field, in meters from its southwestern corner, as a position of GeoJSON. */
function degrees(x: number, y: number): string {
  return `[${(-93 + x / 82_940).toFixed(7)},${(41.9 + y / 111_080).toFixed(7)}]`;
}
