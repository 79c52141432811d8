import { mkdirSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { layoutOf } from '../../src/core/planter/index.ts';
import { field } from '../cli/field.ts';
import { fifteen } from '../planter/frames.ts';

export interface Truth {
  name: string;
  /** `planted-rows`: the display was left on the wide planting while every row ran. */
  is: 'right' | 'planted-rows' | 'bad';
  machine: string;
  day: string;
}

const bandsOf = (planting: string): number[] => {
  const bands = layoutOf(fifteen(), planting).sectionBands.map((b) => b!);
  return [bands[0].leftM, ...bands.map((b) => b.rightM)];
};

/** Files that are no maps, or none that can be read. */
const BAD: readonly (readonly [string, string])[] = [
  ['geojson', ''],
  ['geojson', '{"type":"FeatureCollection","features":[{"type":"Fea'],
  ['zip', 'this is no archive'],
  ['geojson', '{"type":"FeatureCollection","features":[]}'],
  ['shp', 'no shapes in here'],
  ['geojson', '{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[8,47]}}'],
  ['geojson', 'field,acres\nHome,40\n'],
  [
    'json',
    '{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[1e9,2],[3,4],[5,6],[1e9,2]]]}}]}',
  ],
];

/**
 * Writes `fields` maps of one season into `folder`, `bad` of them unreadable, all driven by a fifteen-row frame that plants every row.
 * Machine "North 2" records the wide planting in its nine fields from 3 May on; everything else is right. A field has some 32 records a bar of its four
 * passes, and up to six more bars than `bars`. The same arguments give the same files.
 */
export function season(folder: string, fields: number, bad: number, bars = 30): Truth[] {
  const planter = fifteen().file;
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, 'fifteen.planter.json'), JSON.stringify(planter));
  writeFileSync(join(folder, 'readme.txt'), 'no map');
  const right = bandsOf('narrow');
  const wide = bandsOf('wide');
  const out: Truth[] = [];
  const wrong = 9;
  for (let i = 0; i < fields; i++) {
    const isBad = i % Math.floor(fields / bad) === 1 && out.filter((t) => t.is === 'bad').length < bad;
    const left = wrong - out.filter((t) => t.is === 'planted-rows').length;
    const is = isBad ? 'bad' : i % 2 === 0 && i >= 12 && left > 0 ? 'planted-rows' : 'right';
    // North 2 works the even fields: first right, then wrong, then none; South 1 the odd ones.
    const north = is === 'planted-rows' || (i % 2 === 0 && i < 12);
    const machine = north ? 'North 2' : 'South 1';
    const day = north && is === 'right' ? '2026-05-01' : north ? `2026-05-0${3 + ((wrong - left) % 5)}` : '2026-05-02';
    const kind = BAD[out.filter((t) => t.is === 'bad').length % BAD.length];
    const name = `farm-${i % 3}/field-${String(i).padStart(3, '0')}.${is === 'bad' ? kind[0] : 'geojson'}`;
    mkdirSync(dirname(join(folder, name)), { recursive: true });
    const text =
      is === 'bad'
        ? kind[1]
        : field({
            edgesM: is === 'right' ? right : wide,
            passSpacingM: is === 'right' ? 5.715 : 6.096,
            passes: 4,
            // No two fields hold the same bytes.
            bars: bars + (i % 7),
            barM: 2 + 0.001 * i,
          })
            .replaceAll('2026-05-02', day)
            .replaceAll('"Section":', `"Machine":"${machine}","Section":`);
    writeFileSync(join(folder, name), is === 'bad' && text !== '' ? `${text}${' '.repeat(i)}` : text);
    out.push({ name, is, machine, day });
  }
  return out;
}
