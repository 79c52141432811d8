import { describe, expect, test } from 'vitest';
import type { AccountLine } from '../../src/core/account/types.ts';
import type { Answer } from '../../src/core/answer.ts';
import type { Polygons } from '../../src/core/coverage/index.ts';
import { hiddenAtFirst, signsOf } from '../../src/web/map/signs.ts';
import { bandsOf, stripsOf, thicknessOf } from '../../src/web/map/strips.ts';

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
    areaM2: 1,
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
      { picture: 'recorded', weight: 'open', lines: [3], areaM2: 1, leastM: 0.3 },
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
