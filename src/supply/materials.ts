/** What is delivered: the packages inside what is built, and those that are installed beside it. Run after a build. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

export const root = fileURLToPath(new URL('../..', import.meta.url));

/** What is built, each with a `packages.json` of its own. */
export const BUILT = ['dist/web', 'dist/cli', 'dist/lib'] as const;

interface Entry {
  version: string;
  license?: string;
  optional?: boolean;
  /** Needed by a tool, and else optional. */
  devOptional?: boolean;
  dependencies?: Record<string, string>;
  optionalDependencies?: Record<string, string>;
  peerDependencies?: Record<string, string>;
}

export interface Material {
  name: string;
  version: string;
  /** As an SPDX expression, where the package's own words are not one. */
  license: string;
  /** Inside what is built, by itself or as part of a package that is delivered built, such as the map library. */
  within: (typeof BUILT)[number][];
  /** Installed beside the command, by those who use a queue. */
  installed: boolean;
  /** Left out where the computer has no use for it. */
  optional: boolean;
  /** Folder in node_modules. */
  path: string;
}

/** Licenses that package.json leaves out or does not write as SPDX, by "name version": read from the license file. */
const SPDX: Readonly<Record<string, string>> = {
  'geojson-validation 1.0.2': 'LGPL-3.0-only',
  // Published without a license file; the next version, 2.0.3, brings one.
  '@mapbox/jsonlint-lines-primitives 2.0.2': 'MIT',
};

/** Delivered as its authors built it, with the code of its own packages inside, where our build cannot see them. */
const BUILT_ELSEWHERE = ['node_modules/maplibre-gl'];

/** Every delivered package once, by name and version. */
export function materials(): Material[] {
  const lock: Record<string, Entry> = JSON.parse(readFileSync(join(root, 'package-lock.json'), 'utf8')).packages;
  const out = new Map<string, Material>();
  const add = (key: string): Material => {
    const { version, license, optional, devOptional } = lock[key];
    const name = key.slice(key.lastIndexOf('node_modules/') + 'node_modules/'.length);
    const id = `${name} ${version}`;
    const found = out.get(id);
    if (found) return found;
    const made = {
      name,
      version,
      license: SPDX[id] ?? license ?? '',
      within: [],
      installed: false,
      optional: optional === true || devOptional === true,
      path: key,
    };
    out.set(id, made);
    return made;
  };
  for (const built of BUILT) {
    const names: string[] = JSON.parse(readFileSync(join(root, built, 'packages.json'), 'utf8'));
    const keys = names.map((n) => {
      const [name, version] = n.split(' ');
      const key = Object.keys(lock).find((k) => k.endsWith(`node_modules/${name}`) && lock[k].version === version);
      if (key === undefined) throw new Error(`${n} is in ${built} and not in package-lock.json; build again.`);
      return key;
    });
    for (const key of [
      ...keys,
      ...closure(
        lock,
        keys.filter((k) => BUILT_ELSEWHERE.includes(k)),
      ),
    ]) {
      const { within } = add(key);
      if (!within.includes(built)) within.push(built);
    }
  }
  const beside = Object.keys(lock[''].peerDependencies ?? {}).map((n) => find(lock, '', n) as string);
  for (const key of closure(lock, beside)) {
    const m = add(key);
    m.installed = true;
    m.optional = true;
  }
  return [...out.values()].sort((a, b) =>
    a.name < b.name ? -1 : a.name > b.name ? 1 : a.version < b.version ? -1 : 1,
  );
}

function closure(lock: Record<string, Entry>, from: readonly string[]): Set<string> {
  const seen = new Set<string>();
  const open = [...from];
  for (let key = open.pop(); key !== undefined; key = open.pop()) {
    if (seen.has(key)) continue;
    seen.add(key);
    for (const n of Object.keys({ ...lock[key].dependencies, ...lock[key].optionalDependencies })) {
      const next = find(lock, key, n);
      if (next !== null) open.push(next);
    }
  }
  return seen;
}

/** The entry that `name` means when `from` asks for it: the nearest node_modules upward. Null for an optional one that is nowhere. */
function find(lock: Record<string, Entry>, from: string, name: string): string | null {
  for (let at = from; ; at = at.slice(0, Math.max(0, at.lastIndexOf('/node_modules/')))) {
    const key = `${at ? `${at}/` : ''}node_modules/${name}`;
    if (key in lock) return key;
    if (at === '') return null;
  }
}
