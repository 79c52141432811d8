import { describe, expect, test } from 'vitest';
import type { AccountLine } from '../../src/core/account/types.ts';
import type { Answer } from '../../src/core/answer.ts';
import type { Polygons } from '../../src/core/coverage/index.ts';
import { hiddenAtFirst, insideOf, mainSigns, signsOf } from '../../src/core/report/index.ts';
import { bandsOf, openShare, stripsOf, thicknessOf } from '../../src/web/map/strips.ts';

/** Rectangles as polygons: west, north, east, south. */
function rectangles(...boxes: readonly (readonly [number, number, number, number])[]): Polygons {
  return {
    xy: Float64Array.from(boxes.flatMap(([w, n, e, s]) => [w, n, e, n, e, s, w, s])),
    ringStart: Uint32Array.from({ length: boxes.length + 1 }, (_, i) => 4 * i),
    polygonStart: Uint32Array.from({ length: boxes.length + 1 }, (_, i) => i),
  };
}

const NOWHERE = rectangles();
const SOMEWHERE = rectangles([0, 0, 100, 1]);

function line(part: Partial<AccountLine>): AccountLine {
  return {
    fact: 'gap',
    picture: 'recorded',
    areaM2: 6,
    lengthM: 1,
    widthM: [0.3, 0.5],
    passes: [1, 2],
    cause: 'unexplained',
    confidence: 1,
    excessM2: 0,
    says: '',
    ...part,
  };
}

function answer(account: AccountLine[], plantedApart: boolean, at = account.map(() => SOMEWHERE)): Answer {
  return { report: { account }, evidence: { account: at, plantedApart } } as unknown as Answer;
}

describe('signs of the account', () => {
  test('are not among the main ones where they are trifles that no setting causes', () => {
    const signs = signsOf(
      answer(
        [
          line({ areaM2: 4 }),
          line({ cause: 'setting', setting: 'side-offset', areaM2: 3 }),
          line({ fact: 'overlap', areaM2: 40 }),
        ],
        true,
      ),
    );
    expect(signs.map((s) => [s.weight, s.areaM2])).toEqual([
      ['setting', 3],
      ['open', 40],
      ['usual', 4],
    ]);
    expect(mainSigns(signs, ['recorded']).map((s) => s.areaM2)).toEqual([3, 40]);
  });

  test('belong to the picture of their line, and lines of one cause share one', () => {
    const signs = signsOf(
      answer(
        [
          line({ cause: 'point-rows', areaM2: 9 }),
          line({ picture: 'planted', cause: 'setting', setting: 'planted-rows', areaM2: 2 }),
          line({ picture: 'planted', cause: 'setting', setting: 'planted-rows', areaM2: 3, widthM: [0.1, 0.2] }),
          line({ cause: 'unexplained' }),
        ],
        true,
      ),
    );
    expect(
      signs.map(({ picture, weight, lines, areaM2, leastM }) => ({ picture, weight, lines, areaM2, leastM })),
    ).toEqual([
      { picture: 'planted', weight: 'setting', lines: [1, 2], areaM2: 5, leastM: 0.1 },
      { picture: 'recorded', weight: 'open', lines: [3], areaM2: 6, leastM: 0.3 },
      { picture: 'recorded', weight: 'usual', lines: [0], areaM2: 9, leastM: 0.3 },
    ]);
  });

  test('are those of the recorded map on both pictures where that was planted as recorded', () => {
    const signs = signsOf(answer([line({})], false));
    expect(signs.map((s) => s.picture)).toEqual(['recorded', 'planted']);
  });

  test('leave out widths and lines without a place; noise waits to be asked for', () => {
    const account = [line({ fact: 'width' }), line({ cause: 'noise' }), line({ cause: 'headland' })];
    const signs = signsOf(answer(account, true, [SOMEWHERE, SOMEWHERE, NOWHERE]));
    expect(signs.map((s) => s.cause)).toEqual(['noise']);
    expect(signs.map(hiddenAtFirst)).toEqual([true]);
  });
});

describe('strips', () => {
  // Arithmetic: a rectangle of l by t has twice its area over its outline at l t / (l + t).
  const strip = rectangles([0, 0, 1000, 2], [0, 10, 4, 14]);

  test('have the thickness of a long rectangle, and half that of a square', () => {
    const [long, square] = thicknessOf(strip.xy, strip);
    expect(long).toBeCloseTo(2000 / 1002, 3);
    expect(square).toBeCloseTo(2, 6);
    expect([...stripsOf(Float32Array.from(strip.xy), strip).thick].map((t) => Math.round(10 * t))).toEqual([
      ...Array(4).fill(20),
      ...Array(4).fill(20),
    ]);
  });

  test('too thin to see are drawn as a band that reaches as far to each side, and slivers not at all', () => {
    const { xy, index } = bandsOf(Float32Array.from(strip.xy), strip, 6);
    const ys = [...xy].filter((_, i) => i % 2 === 1);
    // The strip lies from 0 to 2; the square of 4 is shorter than the band is wide.
    expect(Math.min(...ys)).toBeCloseTo(-6, 3);
    expect(Math.max(...ys)).toBeCloseTo(8, 3);
    expect(index.length % 6).toBe(0);
    expect(index.length).toBeGreaterThan(0);
  });
});

describe('a halftone for strips too thin to draw', () => {
  // Arithmetic: a strip 0.4 wide at every seam, 6 apart, is 0.4 / 6 of the ground between the outermost band edges.
  test.each([0.1, 0.4, 1.2])('takes the part of the bands that strips %f wide take of the ground', (wide) => {
    const strips = rectangles(...Array.from({ length: 20 }, (_, i) => [6 * i, 0, 6 * i + wide, 400] as const));
    const xy = Float32Array.from(strips.xy);
    const share = openShare(xy, strips, bandsOf(xy, strips, 3), 3);
    expect(share).toBeGreaterThan(0.85 * (wide / 6));
    expect(share).toBeLessThan(1.1 * (wide / 6));
  });

  test('a single strip has the share of its own band', () => {
    const strips = rectangles([0, 0, 0.6, 300]);
    const xy = Float32Array.from(strips.xy);
    expect(openShare(xy, strips, bandsOf(xy, strips, 3), 3)).toBeGreaterThan(0.06);
  });
});

describe('letters', () => {
  const account = [
    line({ cause: 'setting', setting: 'planted-rows', areaM2: 9 }),
    line({ cause: 'headland', fact: 'overlap' }),
    line({ cause: 'headland', fact: 'overlap', picture: 'planted' }),
    line({ cause: 'planned-overlap', fact: 'overlap' }),
    line({ cause: 'noise' }),
  ];

  test('each cause has one of its own, the same in both pictures, and the legend begins with what matters', () => {
    const signs = signsOf(answer(account, true));
    const lettered = signs.map((s) => `${s.letter} ${s.cause} ${s.picture}`);
    expect(lettered[0]).toBe('A setting recorded');
    const of = (cause: string): string[] => signs.filter((s) => s.cause === cause).map((s) => s.letter);
    expect(new Set(of('headland')).size).toBe(1);
    expect(new Set([...of('setting'), ...of('headland'), ...of('planned-overlap'), ...of('noise')]).size).toBe(4);
    expect(mainSigns(signs, ['recorded']).map((s) => s.letter)).toEqual(['A']);
    expect(mainSigns(signs, ['planted']).map((s) => s.cause)).toEqual(['headland']);
  });

  test('stand inside their piece, whatever its shape', () => {
    // An L of two arms 2 wide: the middle of its box lies outside.
    const bent: Polygons = {
      xy: Float64Array.from([0, 0, 40, 0, 40, 2, 2, 2, 2, 40, 0, 40]),
      ringStart: Uint32Array.of(0, 6),
      polygonStart: Uint32Array.of(0, 1),
    };
    const [{ x, y, area }] = insideOf(bent);
    expect(area).toBe(80 + 76);
    expect((y > 0 && y < 2 && x > 0 && x < 40) || (x > 0 && x < 2 && y > 0 && y < 40)).toBe(true);
  });
});
