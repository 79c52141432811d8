import { expect, it } from 'vitest';
import { StringTable } from '../../src/core/intake/string-table.ts';

const FNV = (s: string): number => {
  let h = 0x811c9dc5;
  for (let i = 0; i < s.length; i++) h = Math.imul(h ^ s.charCodeAt(i), 16777619);
  return h | 0;
};

/** Pieces that take the hash from one state to one other, each pair from where the pair before it led; found by looking. */
const TWINS: readonly [string, string][] = [
  ['-ya072n', '1icvz7p'],
  ['-t5iqey', '1k70fin'],
  ['-og3u2h', '17x61u9'],
  ['-pepgfh', '-lnz7vy'],
  ['1dif4n9', '1xgswbs'],
  ['--6tsl9', '1sdbrxj'],
  ['1d8yp87', '19jidtz'],
  ['-cyb3yg', '1c4fud7'],
  ['16vn6v4', '1pvguwm'],
  ['12g1u30', '1it4oi1'],
  ['1ha8qw6', '-tvexn8'],
  ['-q4t805', '-2j8win'],
  ['1ulv2m2', '-hjbj3u'],
  ['1xljzuo', '--ghaj7'],
];

it('16,384 texts of one hash are words like any others', () => {
  // Fourteen pairs in a row: two to the power of fourteen texts that end in the same state.
  let texts = [''];
  for (const [a, b] of TWINS) texts = texts.flatMap((t) => [t + a, t + b]);
  expect(new Set(texts.map(FNV)).size).toBe(1);
  expect(new Set(texts).size).toBe(16_384);
  const words = new StringTable();
  const codes = texts.map((t) => words.intern(Buffer.from(t), 0, t.length));
  expect(new Set(codes).size).toBe(16_384);
  expect(texts.map((t) => words.intern(Buffer.from(t), 0, t.length))).toEqual(codes);
  expect(words.list((b) => Buffer.from(b).toString()).slice(1)).toEqual(texts);
});
