/** Every binary format in the built page: its reader is loaded when such a file comes, and the page's own policy lets it run (WebAssembly for a GeoPackage). */
import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { flatGeobuf, geoPackage, geoParquet, type Layer } from '../../src/core/formats/index.ts';
import { named, read } from '../../src/core/intake/index.ts';
import { inDegrees } from '../../src/core/redraw/index.ts';
import { drop, type Site, sample, startSite, verdict } from './page.ts';

const WRITERS: Record<string, (layer: Layer) => Promise<Uint8Array> | Uint8Array> = {
  gpkg: geoPackage,
  fgb: flatGeobuf,
  parquet: geoParquet,
};
const folder = 'sample-data/test-strips/';
let site: Site;
let layer: Layer;

beforeAll(async () => {
  site = await startSite();
  const set = await read([named('before.geojson', readFileSync(`${folder}before.geojson`))]);
  layer = { name: 'before', ...inDegrees(set.shapes, set.lattice), columns: set.columns };
}, 120_000);
afterAll(() => site.close());

test.each(Object.keys(WRITERS))(
  'a dropped .%s gives the verdict of the GeoJSON',
  async (end) => {
    const bytes = await WRITERS[end](layer);
    const { page, seen } = await site.open();
    await drop(page, [{ name: `before.${end}`, bytes }, sample('test-strips/test-strips.planter.json')]);
    const says = await verdict(page);
    const plain = await site.open();
    await drop(plain.page, [sample('test-strips/before.geojson'), sample('test-strips/test-strips.planter.json')]);
    expect(says).toBe(await verdict(plain.page));
    expect([seen.faults, seen.outside]).toEqual([[], []]);
    await page.context().close();
    await plain.page.context().close();
  },
  180_000,
);
