import { describe, expect, it } from 'vitest';
import { named, read } from '../../src/core/intake/index.ts';
import { UserError } from '../../src/core/messages.ts';
import { collection, feature, seeded, square, utf8 } from './helpers.ts';
import { makeShapefile, makeZip, partsOf, rectangle, utmPrj } from './make-shapefile.ts';

/** Good files with bytes changed, cut out, doubled or moved. Whatever comes of it, it is a map or a `UserError`, and a map's arrays agree with each other. */
const records = Array.from({ length: 6 }, (_, i) => [rectangle(450309 + i, 4649950, 450310 + i, 4649951)]);
records[2] = [
  rectangle(450311, 4649950, 450312, 4649951),
  [...rectangle(450311.2, 4649950.2, 450311.8, 4649950.8)].reverse(),
];
const shapefile = partsOf(
  'f',
  makeShapefile({
    records,
    fields: [
      { name: 'N', type: 'N', length: 6, decimals: 2 },
      { name: 'C', type: 'C', length: 6 },
      { name: 'D', type: 'D', length: 8 },
      { name: 'T', type: 'T', length: 8 },
    ],
    rows: records.map((_, i) => [i, `t${i}`, '20260401', null]),
    prj: utmPrj(15, 'N'),
    cpg: 'UTF-8',
  }),
);
const geojson = utf8(
  JSON.stringify(
    collection(
      Array.from({ length: 5 }, (_, i) =>
        feature([square(-93.6 + i * 1e-4, 42)], { n: i, t: `a\\"${i}`, z: [1, null] }),
      ),
    ),
  ),
);

function mutate(bytes: Uint8Array, random: () => number): Uint8Array {
  let out = bytes.slice();
  const times = 1 + Math.floor(random() * 4);
  for (let k = 0; k < times; k++) {
    const at = Math.floor(random() * out.length);
    const kind = random();
    if (kind < 0.5) out[at] = [0, 1, 0x20, 0x7f, 0x80, 0xff, 0x22, 0x5b, 0x7b, 0x2c][Math.floor(random() * 10)];
    else if (kind < 0.65) out[at] ^= 1 << Math.floor(random() * 8);
    else if (kind < 0.8) out = out.slice(0, at);
    else if (kind < 0.9)
      out = Uint8Array.from([...out.subarray(0, at), ...out.subarray(at + 1 + Math.floor(random() * 20))]);
    else out = Uint8Array.from([...out.subarray(0, at), ...out.subarray(Math.max(0, at - 30))]);
    if (out.length === 0) break;
  }
  return out;
}

async function outcome(files: Record<string, Uint8Array>): Promise<string> {
  try {
    const set = await read(Object.entries(files).map(([name, bytes]) => named(name, bytes)));
    const n = set.recordNumber.length;
    const aside = set.setAside.reduce((s, a) => s + a.count, 0);
    expect([set.total, set.shapes.shapeStart.length, set.shapes.ringStart.at(-1)]).toEqual([
      n + aside,
      n + 1,
      set.shapes.xy.length / 2,
    ]);
    expect(set.shapes.shapeStart.at(-1)).toBe(set.shapes.ringStart.length - 1);
    for (const c of set.columns) expect(c.kind === 'number' ? c.values.length : c.codes.length).toBe(n);
    return 'read';
  } catch (e) {
    if (e instanceof UserError) return e.detail.code;
    throw e;
  }
}

describe('damaged files', () => {
  it('GeoJSON', async () => {
    const random = seeded(1);
    const seen = new Set<string>();
    for (let i = 0; i < 1000; i++) seen.add(await outcome({ 'map.geojson': mutate(geojson, random) }));
    expect(seen.size).toBeGreaterThan(4);
  });

  it('loose shapefiles, one part damaged at a time', async () => {
    const random = seeded(2);
    const seen = new Set<string>();
    const names = Object.keys(shapefile);
    for (let i = 0; i < 1000; i++) {
      const name = names[i % names.length];
      seen.add(await outcome({ ...shapefile, [name]: mutate(shapefile[name], random) }));
    }
    expect(seen.size).toBeGreaterThan(8);
  });

  it('archives', async () => {
    const random = seeded(3);
    const zips = [makeZip(shapefile), makeZip(shapefile, 0)];
    const seen = new Set<string>();
    for (let i = 0; i < 800; i++) seen.add(await outcome({ 'map.zip': mutate(zips[i % 2], random) }));
    expect(seen.size).toBeGreaterThan(4);
  });
});
