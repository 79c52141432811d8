import fc from 'fast-check';
import { expect, test } from 'vitest';
import { proposeSections } from '../../src/core/planter/index.ts';
import { drawFrame } from '../../src/core/report/index.ts';
import { fifteen, frame } from '../planter/frames.ts';
import { expectGolden } from './golden.ts';

const widest = (text: string) => Math.max(...text.split('\n').map((l) => [...l].length));
const drives = ['1-11', '12-23'];
const across = ['1-2', '3-4', '5-6', '7-8', '9-10', '11-12', '13', '14-15', '16-17', '18-19', '20-21', '22-23'];

test.each([
  ['fifteen.txt', drawFrame(fifteen(), { propose: 8 })],
  [
    'twenty-three-across-drives.txt',
    drawFrame(frame({ name: 'Two drives', rows: 23, drives, sections: across }), { propose: 12 }),
  ],
  [
    'twenty-four-one-section-per-row.txt',
    drawFrame(
      frame({
        name: 'Even frame',
        rows: 24,
        sections: Array.from({ length: 24 }, (_, i) => `${i + 1}`),
        offset: { right: 4, back: -80 },
      }),
    ),
  ],
  [
    'forty-eight-centimeters.txt',
    drawFrame(
      frame({
        name: 'Wide frame',
        rows: 48,
        unit: 'cm',
        rowSpacing: 50,
        plantings: { all: 'all', tram: '1-6,10-40,45-48' },
      }),
    ),
  ],
  ['no-proposal.txt', drawFrame(frame({ rows: 15, plantings: { a: 'odd', b: 'even' } }), { propose: 8 })],
])('%s', (name, text) => {
  expectGolden(import.meta.url, name, text);
  expect(widest(text)).toBeLessThanOrEqual(100);
});

test.each([
  [15, 8, 'The section of one row, row 7, is next to the center line and plants in every planting.'],
  [15, 3, 'The section of one row, row 7, is next to the center line and plants in every planting.'],
  [15, 4, 'The section of one row, row 9, is next to the center line and plants in every planting.'],
])('where the lone row of a proposal stands: %i rows, at most %i sections', (rows, propose, says) => {
  const text = drawFrame(frame({ rows }), { propose });
  expect(text.replace(/\s+/g, ' ')).toContain(says);
  expect(text).toContain('The layout keeps every rule.');
});

test('what is said of the lone row of a proposal is true, whatever the frame', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 20 }).map((n) => 2 * n + 1),
      fc.integer({ min: 2, max: 40 }),
      fc.boolean(),
      (rows, propose, all) => {
        const planter = frame({ rows, plantings: all ? { narrow: 'all' } : { narrow: 'all', wide: 'odd' } });
        const text = drawFrame(planter, { propose }).replace(/\s+/g, ' ');
        const { sections } = proposeSections(planter, propose);
        const lone = (sections ?? []).filter((s) => s.first === s.last).map((s) => s.first);
        const said = /The section of one row, row (\d+), (.*?) and plants in every planting/.exec(text);
        if (lone.length !== 1 || sections?.length === 1) {
          expect(said).toBe(null);
          return;
        }
        expect(Number(said?.[1])).toBe(lone[0]);
        const off = lone[0] - (rows + 1) / 2;
        expect(said?.[2].includes('next to')).toBe(Math.abs(off) === 1);
        expect(said?.[2].startsWith('is the')).toBe((lone[0] === 1 || lone[0] === rows) && Math.abs(off) !== 1);
        const [, far, side] = /stands (\d+) rows (left|right)/.exec(said?.[2] ?? '') ?? [];
        if (far !== undefined) expect(Number(far) * (side === 'left' ? -1 : 1)).toBe(off);
      },
    ),
    { numRuns: 60 },
  );
});

test('every row and section is drawn, within 100 columns, at any size', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 120 }),
      fc.integer({ min: 1, max: 9 }),
      fc.string({ minLength: 1, maxLength: 60 }),
      (rows, size, name) => {
        fc.pre(name.trim() !== '' && name !== '__proto__');
        const sections: string[] = [];
        for (let r = 1; r <= rows; r += size) sections.push(`${r}-${Math.min(rows, r + size - 1)}`);
        const text = drawFrame(frame({ name, rows, plantings: { [name]: 'all', b: 'odd' }, sections }), { propose: 6 });
        expect(widest(text)).toBeLessThanOrEqual(100);
        const drawn = text
          .split('\n')
          .filter((l) => /^row {8}/.test(l))
          .join(' ');
        expect(drawn.match(/\d+/g)!.map(Number)).toEqual(Array.from({ length: rows }, (_, i) => i + 1));
        // biome-ignore lint/suspicious/noControlCharactersInRegex: none may be left
        expect(text.replace(/\n/g, '')).not.toMatch(/[\u0000-\u001F\u007F-\u009F\u2028\u202E]/);
      },
    ),
    { numRuns: 60 },
  );
});
