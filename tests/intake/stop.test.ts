import { describe, expect, it } from 'vitest';
import { type NamedBytes, named, read } from '../../src/core/intake/index.ts';
import { collection, feature, square, utf8 } from './helpers.ts';
import { makeShapefile, makeZip, partsOf, rectangle, WGS84_PRJ } from './make-shapefile.ts';

const count = 60_000;
const at = (i: number): number => Number((-93.6 + i * 1e-5).toFixed(5));
const json = utf8(
  JSON.stringify(
    collection(Array.from({ length: count }, (_, i) => feature([square(at(i), 42)], { n: i, t: `2026-04-01T${i}` }))),
  ),
);
const records = Array.from({ length: count }, (_, i) => [rectangle(at(i), 42, at(i + 1), 42.00001)]);
const zip = makeZip(partsOf('f', makeShapefile({ records, prj: WGS84_PRJ })));
const ways: [string, () => NamedBytes][] = [
  ['GeoJSON', () => named('map.geojson', json)],
  ['zipped shapefile', () => named('map.zip', zip)],
];

describe.each(ways)('progress of a %s', (_name, file) => {
  it('rises from 0 to 1 and is reported often', async () => {
    const told: number[] = [];
    await read([file()], {}, (done) => told.push(done));
    expect(told[0]).toBe(0);
    expect(told.at(-1)).toBe(1);
    told.slice(1).forEach((d, i) => {
      expect(d).toBeGreaterThanOrEqual(told[i]);
    });
    expect(told.length).toBeGreaterThan(5);
  });

  it('stops the reading where it throws, with what it throws', async () => {
    const stop = new Error('stop');
    for (const when of [1, 3, 5]) {
      let calls = 0;
      const reading = read([file()], {}, () => {
        if (++calls === when) throw stop;
      });
      await expect(reading).rejects.toBe(stop);
      expect(calls).toBe(when);
    }
  });

  it('lets timers run meanwhile', async () => {
    let ticks = 0;
    const timer = setInterval(() => ticks++, 1);
    await read([file()]);
    clearInterval(timer);
    expect(ticks).toBeGreaterThan(2);
  });
});

describe('chunks', () => {
  it('of any size give equal answers', async () => {
    const small = json;
    const whole = await read([named('map.geojson', small)]);
    const pieces: NamedBytes = {
      name: 'map.geojson',
      sizeBytes: small.length,
      async *chunks() {
        for (let i = 0; i < small.length; i += 65_537) yield small.subarray(i, i + 65_537);
      },
    };
    const cut = await read([pieces]);
    // Compared as bytes: the arrays are long.
    const bytes = (v: ArrayBufferView): Buffer => Buffer.from(v.buffer, v.byteOffset, v.byteLength);
    expect(bytes(cut.shapes.xy).equals(bytes(whole.shapes.xy))).toBe(true);
    cut.columns.forEach((c, i) => {
      const w = whole.columns[i];
      const values = (x: typeof c): Buffer => bytes(x.kind === 'number' ? x.values : x.codes);
      expect([c.name, c.kind, values(c).equals(values(w))]).toEqual([w.name, w.kind, true]);
    });
    expect([cut.recordNumber.length, cut.skipped, cut.notes]).toEqual([count, [], []]);
  });

  it('a file that fails while it is read gives its own error', async () => {
    const failing: NamedBytes = {
      name: 'map.geojson',
      sizeBytes: 100,
      // biome-ignore lint/correctness/useYield: it fails before it has anything.
      async *chunks() {
        throw new Error('disk gone');
      },
    };
    await expect(read([failing])).rejects.toThrow('disk gone');
  });
});
