/** Figures of a stretch come from that stretch: a median over two layouts is the figure of neither. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { check } from '../../src/core/check.ts';
import { named } from '../../src/core/intake/index.ts';
import { readPlanter } from '../../src/core/planter/index.ts';
import { toText } from '../../src/core/report/index.ts';

const folder = fileURLToPath(new URL('../../sample-data/fewer-rows-midway/', import.meta.url));
const bytes = (name: string) => readFileSync(join(folder, name));
const INCH = 0.0254;

test('a frame narrowed from 12 to 10 rows at 22 in, steered 22 ft all the way', async () => {
  const planter = readPlanter(bytes('fewer-rows-midway.planter.json').toString(), 'p');
  const answer = await check({ map: [named('slough-field.geojson', bytes('slough-field.geojson'))], planter });
  const { recorded, seams } = answer.report;
  // Arithmetic: 12 and 10 rows at 22 in are 264 and 220 in wide; passes 264 in apart leave nothing open, and 44 in.
  expect(recorded.stretches?.map((s) => [s.sections, Math.round(s.workingWidthM / INCH)])).toEqual([
    [6, 264],
    [5, 220],
  ]);
  expect(seams.stretches?.map((s) => s.count).reduce((a, b) => a + b)).toBe(seams.count - 1);
  const [before, after] = seams.stretches ?? [];
  // Steering to an inch on two passes, and the corners' rounding.
  expect(Math.abs(before.recordedM)).toBeLessThan(2 * INCH);
  expect(Math.abs(after.recordedM - 44 * INCH)).toBeLessThan(2 * INCH);
  expect(Math.abs(after.plantedM)).toBeLessThan(2 * INCH);
  const text = toText(answer).replace(/\s+/g, ' ');
  expect(text).toContain(
    '22 ft (264 in) in 6 sections (passes 1-7), then 18.33 ft (220 in) in 5 sections (passes 8-12)',
  );
});
