import { expect, test } from 'vitest';
import { layoutOf } from '../../src/core/planter/index.ts';
import { gapOr, rulerLines, rulersOf, seamEntries, toText } from '../../src/core/report/index.ts';
import { frame } from '../planter/frames.ts';
import { hostile, undecidedBlob, wideForNarrow } from './fixture.ts';
import { expectGolden } from './golden.ts';

const widest = (text: string) => Math.max(...text.split('\n').map((l) => [...l].length));

test.each([
  ['differs.txt', toText(wideForNarrow())],
  ['undecided.txt', toText(undecidedBlob())],
  ['hostile.txt', toText(hostile())],
])('%s', (name, text) => {
  expectGolden(import.meta.url, name, text);
  expect(widest(text)).toBeLessThanOrEqual(100);
});

test('the verdict sentence comes first', () => {
  const a = wideForNarrow();
  expect(toText(a).replace(/\s+/g, ' ').startsWith(`DIFFERS ${a.report.says}`)).toBe(true);
});

test('areas that add up are not mentioned; areas that do not are', () => {
  const a = wideForNarrow();
  const text = (residual: number): string => {
    const area = { ...a.report.area, residual };
    return toText({ ...a, report: { ...a.report, area } }).replace(/\s+/g, ' ');
  };
  expect(text(4e-15)).not.toMatch(/agree with each other|differ by|e-1\d/);
  expect(text(0.012)).toContain('The areas, found in several ways, differ by 1.2 % of the whole. Do not use them');
});

test('no text from a map can act on a terminal', () => {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: none may be left
  expect(toText(hostile()).replace(/\n/g, '')).not.toMatch(/[\u0000-\u001F\u007F-\u009F\u2028-\u202E]/);
});

test('colors mark the text and change no letter of it', () => {
  const mark = (s: string) => `\u001B[1m${s}\u001B[0m`;
  const colored = toText(wideForNarrow(), { color: { bold: mark, dim: mark, red: mark, green: mark, yellow: mark } });
  // biome-ignore lint/suspicious/noControlCharactersInRegex: the marks are taken out again
  expect(colored.replace(/\u001B\[\dm/g, '')).toBe(toText(wideForNarrow()));
  expect(colored).toContain('\u001B[1m');
});

test('centimeter planters get meters, centimeters and hectares, never inches', () => {
  const a = wideForNarrow();
  const planter = frame({ unit: 'cm', rowSpacing: 38.1 });
  const text = toText({
    ...a,
    planter,
    report: {
      ...a.report,
      says: 'x',
      account: [],
      observations: [],
      diagnoses: [{ ...a.report.diagnoses[0], says: 'y', check: 'z', because: [] }],
    },
  });
  expect(text).toContain('5.715 m');
  expect(text).toContain('2.95 ha');
  expect(text).toContain('(6.7 %) too much in the hectare count');
  expect(text.replace(/unit in ft|"Width" is the width in ft/g, '')).not.toMatch(/\d (in|ft|ac|mi)\b/);
});

test('both rulers are on one scale: equal bands are in equal columns', () => {
  const a = wideForNarrow();
  const wide = layoutOf(a.planter, 'wide');
  const same = {
    ...a.report,
    declared: {
      ...a.report.declared,
      sections: a.report.declared.sections.map((s, i) => ({ rows: s.rows, ...wide.sectionBands[i]! })),
    },
  };
  const [declared, recorded] = rulerLines(rulersOf(same, 'in'));
  const edges = (l: string) => [...l].flatMap((c, i) => ('├┼┤'.includes(c) ? [i] : []));
  expect(edges(recorded)).toEqual(edges(declared));
  const [narrow] = rulerLines(rulersOf(a.report, 'in'));
  // Arithmetic: 225 in of 240 in, on a ruler of 87 steps.
  const [first, last] = [edges(narrow)[0], edges(narrow).at(-1)!];
  expect(last - first).toBe(Math.round((87 * (1 + 225 / 240)) / 2) - Math.round((87 * (1 - 225 / 240)) / 2));
});

test('a guess row below zero is described as rows that overlap', () => {
  const a = wideForNarrow();
  const guess = (inches: number): string | undefined => {
    const report = { ...a.report, seams: { ...a.report.seams, guessRowM: inches * 0.0254 } };
    return seamEntries(report, 'in').find(([word]) => word === 'guess row')?.[1];
  };
  expect(guess(30)).toBe('30 in from the last row of one pass to the first row of the next');
  expect(guess(-119.3)).toBe('none: the rows of one pass lie up to 119.3 in inside the next');
  expect(guess(-0.001)).toBe('0 in from the last row of one pass to the first row of the next');
  // In a table, where the number is alone, with the sign that all other numbers have.
  expect(gapOr(-119.3 * 0.0254, 'in')).toBe('\u2212119.3 in');
});

test('a diagnosis does not repeat itself, and of many observations of one kind the first three are shown', () => {
  const a = wideForNarrow();
  const strip = (n: number) => ({
    ...a.report.observations[0],
    id: `s${n}`,
    kind: 'section-missing' as const,
    says: `Strip ${n} stays empty.`,
    passes: [],
  });
  const strips = [1, 2, 3, 4, 5].map(strip);
  const d = {
    ...a.report.diagnoses[0],
    says: 'Strip 5 stays empty.',
    because: ['s5', ...strips.map((o) => o.id), 'o1'],
  };
  const text = (list: typeof strips) =>
    toText({ ...a, report: { ...a.report, observations: [...list, a.report.observations[0]], diagnoses: [d] } });
  expect(text(strips).match(/Strip 5/g)).toHaveLength(1);
  expect(text(strips).match(/Strip \d/g)).toHaveLength(5);
  const many = [...strips, ...[6, 7, 8].map(strip)];
  d.because.push('s6', 's7', 's8');
  expect(text(many)).toContain('And 4 more of this kind.');
});

test('names without a blank, however long, stay within 100 columns', () => {
  const a = wideForNarrow();
  const long = 'x'.repeat(400);
  const r = a.report;
  const text = toText({
    ...a,
    report: {
      ...r,
      says: long,
      map: {
        ...r.map,
        source: long,
        columns: { time: { name: long, evidence: long } },
        setAside: [{ reason: long, count: 1, firstRecord: 1 }],
      },
      declared: {
        ...r.declared,
        planter: long,
        planting: long,
        sections: r.declared.sections.map((s) => ({ ...s, rows: long })),
      },
      notes: [{ code: 'x', sentence: long, place: { file: long }, todo: long }],
    },
  });
  expect(widest(text)).toBeLessThanOrEqual(100);
  expect(text.match(/x/g)!.length).toBeGreaterThan(3000);
});
