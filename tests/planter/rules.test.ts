import { expect, test } from 'vitest';
import { ruleBreaks } from '../../src/core/planter/index.ts';
import { fifteen, frame } from './frames.ts';

const said = (p: ReturnType<typeof frame>) => ruleBreaks(p).map((b) => `${b.rule}: ${b.says}`);

test('rule 2: one section per row while every other row plants', () => {
  const p = frame({ rows: 15, sections: Array.from({ length: 15 }, (_, i) => `${i + 1}`) });
  const [b, ...rest] = ruleBreaks(p);
  expect(rest).toEqual([]);
  expect(b.says).toBe(
    'Sections 2, 4, 6, 8, 10, 12 and 14 (rows 2, 4, 6, 8, 10, 12 and 14) have no planted row in planting "wide": they switch nothing there.',
  );
  expect(b.sections).toEqual([2, 4, 6, 8, 10, 12, 14]);
  expect(b.planting).toBe('wide');
  expect(b.todo).toContain('These keep the rules: 1-2 3-4 5-6 7 8-9 10-11 12-13 14-15.');
});

test('rule 3: a section across the drive line', () => {
  const sections = ['1-2', '3-4', '5-6', '7-8', '9-10', '11-12', '13', '14-15', '16-17', '18-19', '20-21', '22-23'];
  const p = frame({ rows: 23, drives: ['1-11', '12-23'], sections });
  expect(said(p)).toEqual([
    '3: Section 6 (rows 11-12) crosses from one drive to the next: drives 1 and 2 meet between rows 11 and 12.',
  ]);
  expect(ruleBreaks(p)[0].todo).toContain('9-10 11 12-13');
});

test('rule 4: an odd frame without a one-row section, and with an idle one', () => {
  expect(said(frame({ rows: 15, sections: ['1-3', '4-6', '7-9', '10-12', '13-15'] }))).toEqual([
    '4: The frame has an odd number of rows (15) and no section of one row.',
  ]);
  const idle = ['1-2', '3-4', '5-7', '8', '9-10', '11-12', '13-15'];
  expect(said(frame({ rows: 15, sections: idle }))).toEqual([
    '2: Section 4 (row 8) has no planted row in planting "wide": it switches nothing there.',
    '4: The one-row section of this odd frame, section 4 (row 8), does not plant in planting "wide".',
  ]);
});

test('rule 5: the pass spacing of the other planting', () => {
  expect(said(fifteen({ passSpacing: { narrow: 240, wide: 240 } }))).toEqual([
    '5: The pass spacing of planting "narrow" is 20 ft (240 in), and its 15 planted rows cover 18.75 ft (225 in): guess rows of 30 in where 15 in is meant.',
  ]);
  expect(ruleBreaks(fifteen({ passSpacing: { wide: 225 } }))[0].todo).toBe(
    'Enter a pass spacing of 20 ft (240 in) for planting "wide".',
  );
});

test('a file without sections is asked for pass spacings alone', () => {
  expect(said(frame({ rows: 15 }))).toEqual([]);
  expect(said(frame({ rows: 15, passSpacing: { wide: 225 } })).map((s) => s[0])).toEqual(['5']);
});
