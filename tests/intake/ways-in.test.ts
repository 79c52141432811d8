import { describe, expect, it } from 'vitest';
import { named, read } from '../../src/core/intake/index.ts';
import { makeShapefile, makeZip, partsOf, rectangle, utmPrj, WGS84_PRJ } from './make-shapefile.ts';

const step = 1e-5;
const records = Array.from({ length: 40 }, (_, i) => [
  rectangle(-93.6 + i * step, 42, -93.6 + (i + 1) * step, 42 + step),
]);
const fields = [
  { name: 'SECTION', type: 'N', length: 4 },
  { name: 'SPEED', type: 'F', length: 10, decimals: 3 },
  { name: 'CROP', type: 'C', length: 12 },
  { name: 'DAY', type: 'D', length: 8 },
  { name: 'ON', type: 'L', length: 1 },
] as const;
const rows = records.map((_, i) => [i % 16, 2 + i / 1000, i % 2 ? 'corn' : 'beans', '20260401', 'T']);
const file = makeShapefile({ records, fields, rows, prj: WGS84_PRJ, cpg: 'UTF-8' });
const loose = (base = 'Field', upper = false) =>
  Object.entries(partsOf(base, file)).map(([name, bytes]) => named(upper ? name.toUpperCase() : name, bytes));

describe('one map, several ways in', () => {
  it('gives equal answers zipped, stored, in a folder, loose, and in any letter case', async () => {
    const strip = async (set: ReturnType<typeof read>) => ({
      ...(await set),
      source: '',
      notes: (await set).notes.length,
    });
    const expected = await strip(read(loose()));
    expect(expected.recordNumber.length).toBe(40);
    expect(expected.columns.map((c) => c.name)).toEqual(['SECTION', 'SPEED', 'CROP', 'DAY', 'ON']);
    const zips = [
      makeZip(partsOf('Field', file)),
      makeZip(partsOf('Field', file), 0),
      makeZip({
        ...partsOf('2026/maps/Field', file),
        '__MACOSX/2026/._Field.shp': new Uint8Array(9),
        '2026/._Field.shp': new Uint8Array(5),
      }),
    ];
    for (const zip of zips) expect(await strip(read([named('map.zip', zip)]))).toEqual(expected);
    expect(await strip(read(loose('Field', true)))).toEqual(expected);
    expect(await strip(read(loose().reverse()))).toEqual(expected);
    const mixed = loose().map((f, i) => ({ ...f, name: i % 2 ? f.name.toLowerCase() : f.name.toUpperCase() }));
    expect(await strip(read(mixed))).toEqual(expected);
  });

  it('reads a projected file onto the same ground', async () => {
    // 42 N 93.6 W is UTM 15N 450309.3304 4649950.3224 (computed with GeographicLib 2.1.2).
    const utm = makeShapefile({
      records: [[rectangle(450309.3304, 4649950.3224, 450319.3304, 4649960.3224)]],
      prj: utmPrj(15, 'N'),
    });
    const set = await read([named('map.zip', makeZip(partsOf('f', utm)))]);
    const { lattice, shapes } = set;
    const lon = Array.from({ length: 4 }, (_, i) => (lattice.originX + shapes.xy[2 * i]) / lattice.stepsPerDegree);
    const lat = Array.from({ length: 4 }, (_, i) => (lattice.originY + shapes.xy[2 * i + 1]) / lattice.stepsPerDegree);
    expect(Math.min(...lon.map((x) => Math.abs(x + 93.6)))).toBeLessThan(1e-9);
    expect(Math.min(...lat.map((y) => Math.abs(y - 42)))).toBeLessThan(1e-9);
  });
});
