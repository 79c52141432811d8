import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { check } from '../../src/core/check.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { sampleFiles } from './sample-files.ts';
import { SAMPLES } from './samples.ts';

const folder = fileURLToPath(new URL('../../sample-data/', import.meta.url));
const list: {
  id: string;
  map: string[];
  planter: string;
  planting: string;
  expected: { verdict: string; settings: string[] };
}[] = JSON.parse(readFileSync(`${folder}index.json`, 'utf8')).samples;

test('every committed sample is what the generator draws, byte for byte (else run npm run samples)', () => {
  for (const { path, bytes } of sampleFiles()) {
    expect(existsSync(folder + path), path).toBe(true);
    expect(Buffer.compare(readFileSync(folder + path), bytes), path).toBe(0);
  }
});

test('the list names every sample', () => {
  expect(list.map((s) => s.id)).toEqual(SAMPLES.map((s) => s.id));
});

// The faults of the fields were seeded by the generator, which does not depend on the check.
describe.each(list)('$id', (s) => {
  test('the check finds the fault seeded in the field', async () => {
    const bytes = new Uint8Array(readFileSync(folder + s.map[0]));
    const map = {
      name: s.map[0],
      sizeBytes: bytes.length,
      async *chunks() {
        yield bytes;
      },
    };
    const planter = readPlanter(readFileSync(folder + s.planter, 'utf8'), s.planter);
    const { report } = await check({ map: [map], planter, planting: s.planting });
    expect({ verdict: report.verdict, settings: report.diagnoses.map((d) => d.setting) }).toEqual(s.expected);
  });
});
