import { toGeoJson, toShapefileZip } from './files.ts';
import { SAMPLES } from './samples.ts';

export interface SampleFile {
  /** Relative to `sample-data/`. */
  path: string;
  bytes: Uint8Array;
  /** Records of a map; null for other files. */
  records: number | null;
}

/** Folder of a sample: the test strips share one, so that before and after lie side by side. */
const folderOf = (id: string): string => (id.startsWith('test-strips') ? 'test-strips' : id);

/** Every file of `sample-data/`, the list last. */
export function* sampleFiles(): Generator<SampleFile> {
  const text = new TextEncoder();
  const json = (v: unknown): Uint8Array => text.encode(`${JSON.stringify(v, null, 2)}\n`);
  const list = [];
  const written = new Set<string>();
  for (const s of SAMPLES) {
    const folder = folderOf(s.id);
    const planter = `${folder}/${folder}.planter.json`;
    if (!written.has(planter)) yield { path: planter, bytes: json(s.planter.file), records: null };
    written.add(planter);
    for (const m of s.maps) {
      const drawn = m.draw();
      const name = m.file.replace(/\.[a-z]+$/, '');
      const bytes = m.epsg === undefined ? toGeoJson(drawn) : toShapefileZip(drawn, m.epsg, name);
      yield { path: `${folder}/${m.file}`, bytes, records: drawn.features.features.length };
    }
    list.push({
      id: s.id,
      title: s.title,
      about: s.about,
      map: s.maps.map((m) => `${folder}/${m.file}`),
      planter,
      planting: s.planting,
      expected: { verdict: s.verdict, settings: s.settings },
    });
  }
  yield { path: 'index.json', bytes: json({ samples: list }), records: null };
}
