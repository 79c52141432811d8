import { describe, expect, test } from 'vitest';
import type { Answer, Evidence } from '../../src/core/answer.ts';
import { timeSeries } from '../../src/core/report/index.ts';
import { readBackground } from '../../src/web/background.ts';
import { marksOf, same } from '../../src/web/selection.ts';
import { readKept } from '../../src/web/state/storage.ts';

const answer = {
  report: {
    observations: [
      { id: 'o1', kind: 'width', passes: [1, 2, 3] },
      { id: 'o2', kind: 'seam', passes: [2, 3] },
    ],
    diagnoses: [{ setting: 'pass-spacing', because: ['o2'] }],
  },
  evidence: {
    seams: [
      { passA: 1, passB: 2 },
      { passA: 2, passB: 3 },
    ],
  },
} as unknown as Answer;

describe('one choice', () => {
  test('a pass marks its seams and observations, a seam its two passes, a diagnosis its evidence', () => {
    const pass = marksOf({ kind: 'pass', pass: 1 }, answer);
    expect([[...pass.passes], [...pass.seams], [...pass.observations]]).toEqual([[1], [0], ['o1']]);
    const seam = marksOf({ kind: 'seam', passA: 2, passB: 3 }, answer);
    expect([[...seam.passes], [...seam.seams]]).toEqual([[2, 3], [1]]);
    const d = marksOf({ kind: 'diagnosis', at: 0 }, answer);
    expect([[...d.passes], [...d.seams], d.rulers, d.diagnosis]).toEqual([[2, 3], [0, 1], false, 0]);
    expect(marksOf({ kind: 'none' }, answer).passes.size).toBe(0);
  });

  test('equal selections are recognized as equal', () => {
    expect(same({ kind: 'seam', passA: 1, passB: 2 }, { kind: 'seam', passA: 1, passB: 2 })).toBe(true);
    expect(same({ kind: 'pass', pass: 1 }, { kind: 'section', section: 1 })).toBe(false);
  });
});

test('the time line: columns never span two passes, widths add up, sections give their share', () => {
  // Two passes of three bars and one bar; two sections, the right one off in the second bar.
  const evidence = {
    recordBar: Int32Array.of(0, 0, 1, 2, 2, 3, 3),
    recordSection: Int16Array.of(0, 1, 0, 0, 1, 0, 1),
    recordWidthM: Float32Array.of(3, 3, 3, 3, 3, 3, 3),
    recordPass: Uint32Array.of(1, 1, 1, 1, 1, 2, 2),
  } as unknown as Evidence;
  const fine = timeSeries(evidence);
  expect(fine.columns.map((c) => [c.pass, c.widthM])).toEqual([
    [1, 6],
    [1, 3],
    [1, 6],
    [2, 6],
  ]);
  const between = timeSeries({ ...evidence, recordSection: Int16Array.of(0, 1, -1, 0, 1, 0, 1) });
  expect(between.columns.map((c) => c.elsewhere)).toEqual([0, 1, 0, 0]);
  const coarse = timeSeries(evidence, 1);
  expect(coarse.columns.map((c) => [c.pass, c.bars, c.leastM, c.mostM])).toEqual([
    [1, 3, 3, 6],
    [2, 1, 6, 6],
  ]);
  expect(coarse.columns[0].on[1]).toBeCloseTo(2 / 3);
});

test('stored state is used only where it is valid', () => {
  const good = { fileName: 'a.planter.json', name: 'A', text: '{}' };
  expect(readKept(JSON.stringify([good, 3, { name: 'B' }]))).toEqual([good]);
  expect([readKept(null), readKept('{'), readKept('{}')]).toEqual([[], [], []]);
});

test('a background is GeoJSON in degrees, or a sentence', async () => {
  const of = (text: string) => readBackground(new File([text], 'b.geojson'));
  expect(await of('{"type":"Point","coordinates":[10,50]}')).toMatchObject({ name: 'b.geojson' });
  expect(await of('{"type":"Point","coordinates":[500000,4600000]}')).toContain('not in degrees');
  expect(await of('no')).toContain('cannot be read as JSON');
  expect(await of('{"type":"FeatureCollection","features":[]}')).toContain('holds no shape');
});
