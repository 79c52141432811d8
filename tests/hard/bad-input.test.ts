import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { guessrow } from '../cli/run.ts';
import { CASES, type Case, SOUND_PLANTER } from './cases.ts';

/** The table of `bad-input.md`, row by row as the cases are run; it is compared with the file at the end. Renew it with `npx vitest run tests/hard -u`. */
const rows: string[][] = CASES.map(() => []);
const folder = mkdtempSync(join(tmpdir(), 'guessrow-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Arguments that name a file of the case, made into paths. */
function argsOf(c: Case, files: Record<string, Uint8Array>, dir: string): string[] {
  const names = Object.keys(files);
  const map = names.find((n) => n.endsWith('.shp')) ?? names[0];
  const args = c.args ?? ['check', map, '--planter', 'p.planter.json'];
  const isPath = (a: string): boolean =>
    a === '.' || names.includes(a) || /^(gone|new|season|\*)|\.(geojson|json|zip|csv)(\/|$)/.test(a);
  const named = args.map((a) => (isPath(a) ? join(dir, a) : a));
  // Commands that have them write a report where the test finds it.
  if (args[0] !== 'check' && args[0] !== 'compare') return named;
  const more = args.includes('--out') ? [] : ['--out', join(dir, 'out.json')];
  return [...named, ...more, ...(args.includes('--format') ? [] : ['--format', 'json'])];
}

it.each(CASES.map((c, i) => [c.group, c.what, c, i] as const))('%s: %s', async (_group, _what, c, i) => {
  const dir = join(folder, String(i), 'here');
  mkdirSync(dir, { recursive: true });
  const files = c.files();
  for (const [name, bytes] of Object.entries({ 'p.planter.json': SOUND_PLANTER, ...files }))
    writeFileSync(join(dir, name), bytes);
  const before = readdirSync(dir).map((n) => [n, readFileSync(join(dir, n)).toString('base64')]);
  const r = await guessrow(...argsOf(c, files, dir));
  const season = 'row' in c.expected ? ['season'] : [];
  const after = readdirSync(dir)
    .filter((n) => n !== 'out.json' && !season.includes(n))
    .map((n) => [n, readFileSync(join(dir, n)).toString('base64')]);
  // Whatever comes of it, nothing that was there is touched and nothing is left lying about.
  expect(after).toEqual(before);
  const said = r.err.replaceAll(`${dir}/`, '').replaceAll(dir, '.');

  if ('refused' in c.expected) {
    const m = /^guessrow: (.*) \[([a-z0-9-]+)\]\n$/.exec(said);
    expect([said, m?.[2]]).toEqual([said, c.expected.refused]);
    expect([r.status, r.out, existsSync(join(dir, 'out.json'))]).toEqual([2, '', false]);
    rows[i] = ['refused', c.expected.refused, m?.[1] ?? ''];
    return;
  }
  expect(said).toBe('');
  if ('row' in c.expected) {
    expect(r.status).toBe(2);
    const { verdict, says } = JSON.parse(readFileSync(join(dir, 'season', 'fields.jsonl'), 'utf8'));
    const sentence = says.replaceAll(`${dir}/`, '').replaceAll(dir, '.');
    const m = /^(.*[.!?])(?: \[([a-z0-9-]+)\])?$/.exec(sentence);
    expect([sentence, verdict, m?.[2] ?? '']).toEqual([sentence, 'not checked', c.expected.row]);
    rows[i] = ['row of the table', c.expected.row, m?.[1] ?? ''];
    return;
  }
  expect([0, 1, 3]).toContain(r.status);
  const { map, notes } = JSON.parse(readFileSync(join(dir, 'out.json'), 'utf8'));
  const aside = map.setAside as { reason: string; count: number; firstRecord: number }[];
  expect(map.records).toBe(map.used + aside.reduce((n, s) => n + s.count, 0));
  if ('setAside' in c.expected) {
    expect(aside).toEqual([{ reason: c.expected.setAside, count: 1, firstRecord: 2 }]);
    rows[i] = ['record skipped', '', `${c.expected.setAside}: 1, first record 2`];
    return;
  }
  expect(aside).toEqual([]);
  // Notes about the columns, the passes and the planter are not about the file.
  const about = (notes as { code: string; sentence: string; todo: string }[]).filter((n) => !NOT_OF_FILES.has(n.code));
  const codes = 'noted' in c.expected ? c.expected.noted : [];
  expect(about.map((n) => n.code)).toEqual(codes);
  rows[i] =
    codes.length > 0
      ? ['noted', codes.join(', '), about.map((n) => `${n.sentence} ${n.todo}`).join(' ')]
      : ['read', '', 'read' in c.expected ? c.expected.read : 'nothing to say'];
});

const NOT_OF_FILES = new Set(['offsets-silent', 'unplaced']);

it('the table of bad-input.md matches the cases', async () => {
  const cell = (s: string): string => s.replaceAll('|', '\\|').replace(/[<>`*_]/g, '\\$&');
  const lines = [
    '# Bad input, and what comes of it',
    '',
    `${CASES.length} kinds of map, planter file, boundary, list and pair of maps. This table is written from the cases themselves`,
    '(`cases.ts`), each of which is run as a command line (`bad-input.test.ts`); a row that no longer tells the truth fails the tests.',
    '*Refused* is exit status 2, the sentence on standard error and nothing written. *Noted* is a sentence in the report. A *skipped* record',
    'is counted in the report with the reason and the first record; the others are used. A *row of the table* is what an audit writes of a field',
    'that cannot be checked; it goes on with the others. A map that a check refuses is such a row with the same sentence.',
  ];
  let group = '';
  CASES.forEach((c, i) => {
    if (c.group !== group) {
      group = c.group;
      lines.push('', `## ${group}`, '', '| what | comes to | code | sentence |', '|---|---|---|---|');
    }
    const [comes, code, sentence] = rows[i];
    lines.push(`| ${cell(c.what)} | ${comes} | ${code} | ${cell(sentence)} |`);
  });
  await expect(`${lines.join('\n')}\n`).toMatchFileSnapshot('bad-input.md');
});
