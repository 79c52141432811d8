import { parseShp } from 'shpjs';
import { describe, expect, it } from 'vitest';
import { named } from '../../src/core/intake/index.ts';
import { compareWithShpjs } from '../../src/core/intake/shpjs-check.ts';
import { Staging, UNKNOWN } from '../../src/core/intake/staging.ts';
import type { Note } from '../../src/core/shared/messages.ts';
import { degrees, noteCodes, readShapefile, seeded, signedArea } from './helpers.ts';
import { makeShapefile, type Ring, rectangle, utmPrj, WGS84_PRJ } from './make-shapefile.ts';

const random = seeded(8);
/** Records with up to three parts, each with a hole or not, as the format asks. */
const records: Ring[][] = Array.from({ length: 120 }, (_, i) => {
  const rings: Ring[] = [];
  for (let k = 0; k < 1 + Math.floor(random() * 3); k++) {
    const x = 450000 + i * 20 + k * 6;
    const y = 4649000 + Math.floor(random() * 500);
    rings.push(rectangle(x, y, x + 5, y + 1 + random()));
    if (random() < 0.5) rings.push([...rectangle(x + 1, y + 0.2, x + 2 + random(), y + 0.8)].reverse());
  }
  return rings;
});

describe('shpjs as a second reader', () => {
  it('finds the same ground, record by record: area, holes taken off', async () => {
    const file = makeShapefile({ records, prj: utmPrj(15, 'N') });
    const set = await readShapefile(file);
    expect(noteCodes(set)).toEqual([]);
    const theirs = parseShp(new DataView(file.shp.slice().buffer), utmPrj(15, 'N'));
    const area = (ring: [number, number][]): number => Math.abs(signedArea(ring.slice(0, -1)));
    theirs.forEach((shape, i) => {
      const polygons = (shape?.type === 'Polygon' ? [shape.coordinates] : shape?.coordinates) as [number, number][][][];
      const want = polygons.reduce(
        (s, [outer, ...holes]) => s + area(outer) - holes.reduce((h, ring) => h + area(ring), 0),
        0,
      );
      const got = degrees(set, i).reduce((s, ring) => s + signedArea(ring), 0);
      // The lattice is 0.01 mm here, and the smallest part 5 m by 1 m.
      expect(Math.abs(got - want) / want).toBeLessThan(1e-5);
    });
  });

  it('leads to a note when it puts a record elsewhere, and only then', async () => {
    const file = makeShapefile({ records: [[rectangle(-93.6, 42, -93.5, 42.1)]], prj: WGS84_PRJ });
    const compare = async (shift: number): Promise<string[]> => {
      const staging = new Staging();
      for (const [x, y] of rectangle(-93.6 + shift, 42, -93.5 + shift, 42.1)) staging.point(x, y);
      staging.ring(UNKNOWN);
      staging.record();
      const notes: Note[] = [];
      await compareWithShpjs(named('f.shp', file.shp), file.shp.length, '', staging, 'f.shp', notes);
      return notes.map((n) => n.code);
    };
    expect(await compare(0)).toEqual([]);
    expect(await compare(2e-8)).toEqual(['second-reader']);
  });

  it('gives no verdict where it gives up: one bad number costs it the whole file', async () => {
    const bad: Ring = [
      [Number.NaN, 42],
      [-93.5, 42],
      [-93.5, 43],
      [Number.NaN, 42],
    ];
    const file = makeShapefile({
      records: [[rectangle(450000, 4649000, 450005, 4649001)], [bad]],
      prj: utmPrj(15, 'N'),
    });
    expect(() => parseShp(new DataView(file.shp.slice().buffer), utmPrj(15, 'N'))).toThrow();
    const set = await readShapefile(file);
    expect([set.recordNumber.length, set.skipped[0].reason, noteCodes(set)]).toEqual([
      1,
      'coordinates that are not numbers',
      [],
    ]);
  });
});
