import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

const read = (path: string) => readFileSync(new URL(`../../${path}`, import.meta.url), 'utf8');
interface Entry {
  version: string;
  license?: string;
  dependencies?: Record<string, string>;
}
const lock: Record<string, Entry> = JSON.parse(read('package-lock.json')).packages;

/** The entry that `name` means when `from` asks for it: the nearest node_modules upward. */
function find(from: string, name: string): string {
  for (let at = from; ; at = at.slice(0, Math.max(0, at.lastIndexOf('/node_modules/')))) {
    const key = `${at ? `${at}/` : ''}node_modules/${name}`;
    if (key in lock) return key;
    if (at === '') throw new Error(`${name} is not in the lock file`);
  }
}

test('every package that runs is named with its version in the third-party notices', () => {
  const notices = read('public/third-party-notices.txt');
  const seen = new Set<string>();
  const open = Object.keys(lock[''].dependencies!).map((n) => find('', n));
  for (let key = open.pop(); key !== undefined; key = open.pop()) {
    if (seen.has(key)) continue;
    seen.add(key);
    for (const n of Object.keys(lock[key].dependencies ?? {})) open.push(find(key, n));
  }
  expect(seen.size).toBeGreaterThan(20);
  const lines = new Set(notices.split('\n').map((l) => l.replace(/ \([^)]*\)+$/, '')));
  expect(
    [...seen].map((k) => `${k.replace(/.*node_modules\//, '')} ${lock[k].version}`).filter((l) => !lines.has(l)),
  ).toEqual([]);
});

test('the one package under the LGPL comes with its text, the GPL and the way to replace it', () => {
  const notices = read('public/third-party-notices.txt');
  expect(notices).toContain('GNU LESSER GENERAL PUBLIC LICENSE');
  expect(notices).toContain('GNU GENERAL PUBLIC LICENSE');
  expect(notices).toContain('put another version into node_modules/geojson-validation');
});
