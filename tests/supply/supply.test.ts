import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { builtinModules } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { gzipSync } from 'node:zlib';
import { Ajv } from 'ajv';
import semver from 'semver';
import { beforeAll, describe, expect, test } from 'vitest';
import { BUILT, type Material, materials } from '../../src/supply/materials.ts';
import { noticesText } from '../../src/supply/notices.ts';
import { sbom } from '../../src/supply/sbom.ts';
import { built, root } from './built.ts';

interface Entry {
  version: string;
  integrity?: string;
  hasInstallScript?: boolean;
  optional?: boolean;
  engines?: { node?: string };
  dev?: boolean;
  link?: boolean;
}
const pkg = JSON.parse(readFileSync(`${root}package.json`, 'utf8'));
const lock = JSON.parse(readFileSync(`${root}package-lock.json`, 'utf8'));
const entries = Object.entries(lock.packages as Record<string, Entry>).filter(([key]) => key !== '');
const idOf = (m: Material): string => `${m.name} ${m.version}`;
let delivered: Material[] = [];

beforeAll(async () => {
  await built();
  delivered = materials();
}, 180_000);

const scripts = (folder: string): string[] =>
  readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
    .filter((f) => f.endsWith('.js'))
    .map((f) => join(root, folder, f));

describe('licenses', () => {
  /**
   * Permissive ones, which may go into work under the MIT license, and into one work together with LGPL 3 (Free Software Foundation,
   * "Various Licenses and Comments about Them", section "GPL-Compatible Free Software Licenses").
   */
  const PERMISSIVE = ['0BSD', 'Apache-2.0', 'BSD-2-Clause', 'BSD-3-Clause', 'ISC', 'MIT'];
  const permissive = (license: string): boolean =>
    license
      .replace(/[()]/g, '')
      .split(' OR ')
      .some((l) => PERMISSIVE.includes(l));

  test('everything delivered is under a permissive license, but for one package under the LGPL', () => {
    expect(delivered.length).toBeGreaterThan(40);
    expect(delivered.filter((m) => !permissive(m.license)).map((m) => `${idOf(m)} ${m.license}`)).toEqual([
      'geojson-validation 1.0.2 LGPL-3.0-only',
    ]);
    expect(permissive('GPL-3.0-only')).toBe(false);
    expect(permissive('')).toBe(false);
  });

  test('the one under the LGPL is a file of its own in the page, the command and the library', () => {
    for (const folder of BUILT) {
      const holders = scripts(folder).filter((f) => readFileSync(f, 'utf8').includes('isGeometryCollection'));
      expect(holders.map((f) => f.slice(f.lastIndexOf('/') + 1).replace(/-[\w-]{8}\.js$/, '.js'))).toEqual([
        folder === 'dist/web' ? 'worker-geojson-validation.js' : 'geojson-validation.js',
      ]);
    }
  });

  test('and another version put in its place is the one that is used', async () => {
    const copy = mkdtempSync(join(tmpdir(), 'guessrow-lib-'));
    cpSync(join(root, 'dist/lib'), copy, { recursive: true });
    const other = join(copy, 'geojson-validation.js');
    writeFileSync(
      other,
      readFileSync(other, 'utf8').replace(
        'export { require_geojson_validation };',
        `const theirs = require_geojson_validation;
        const counted = () => new Proxy(theirs(), { get(all, key) { globalThis.askedOfTheOther = true; return all[key]; } });
        export { counted as require_geojson_validation };`,
      ),
    );
    const lib = await import(pathToFileURL(join(copy, 'guessrow.js')).href);
    const file = (name: string) => readFileSync(join(root, 'sample-data/test-strips', name));
    const planter = lib.readPlanter(file('test-strips.planter.json').toString(), 'p');
    await lib.check({ map: [lib.named('before.geojson', file('before.geojson'))], planter });
    expect((globalThis as { askedOfTheOther?: boolean }).askedOfTheOther).toBe(true);
    rmSync(copy, { recursive: true });
  });

  test('the third-party notices hold every package inside what is built, with its license text', () => {
    const held = readFileSync(`${root}public/third-party-notices.txt`, 'utf8');
    expect(held === noticesText(), 'run "npm run notices"').toBe(true);
    const lines = new Set(held.split('\n'));
    const inside = delivered.filter((m) => m.within.length > 0);
    expect(inside.filter((m) => !lines.has(`${idOf(m)} (${m.license})`)).map(idOf)).toEqual([]);
    for (const words of ['GNU LESSER GENERAL PUBLIC LICENSE', 'GNU GENERAL PUBLIC LICENSE', 'To use another version'])
      expect(held).toContain(words);
  });
});

describe('what is delivered', () => {
  test('the library imports nothing but its own files, and the command nothing that is not installed beside it', () => {
    const own = Object.keys(pkg.peerDependencies);
    const foreign = (folder: string, allowed: (name: string) => boolean): string[] =>
      scripts(folder).flatMap((f) =>
        [...readFileSync(f, 'utf8').matchAll(/^\s*(?:import|export)\b[^'"\n]*?(?:from\s*)?["']([^"']+)["'];?$/gm)]
          .map((m) => m[1])
          .filter((name) => !name.startsWith('./') && !allowed(name)),
      );
    expect(foreign('dist/lib', () => false)).toEqual([]);
    const node = (name: string) => name.startsWith('node:') || builtinModules.includes(name);
    expect(foreign('dist/cli', (n) => node(n) || own.some((o) => n === o || n.startsWith(`${o}/`)))).toEqual([]);
    // The pattern does find imports: the command has some.
    expect(foreign('dist/cli', () => false)).toContain('node:fs');
  });

  test('the command is a program: npx links to the file as it is', () => {
    expect(statSync(join(root, 'dist/cli/guessrow.js')).mode & 0o111).toBe(0o111);
  });

  test('the command runs where nothing of the repository is near', () => {
    const away = mkdtempSync(join(tmpdir(), 'guessrow-cli-'));
    cpSync(join(root, 'dist/cli'), join(away, 'cli'), { recursive: true });
    writeFileSync(join(away, 'package.json'), '{ "type": "module" }');
    const run = spawnSync(process.execPath, [join(away, 'cli/guessrow.js'), '--help'], { cwd: away, encoding: 'utf8' });
    expect([run.status, run.stderr]).toEqual([0, '']);
    expect(run.stdout).toContain('guessrow check MAP');
    rmSync(away, { recursive: true });
  });

  /** Readers and writers that are loaded only when such a file comes or is asked for. */
  const LATER =
    'sql-wasm-inline|points|gunzip|csv|flatgeobuf|geopackage|geoparquet|kml|parquet|header-meta|utils|zones|wkb';
  const now = (before: string): RegExp => new RegExp(`${before}(?!(?:${LATER})[.-])[^/]*\\.js$`);
  const later = (before: string): RegExp => new RegExp(`${before}(?:${LATER})[^/]*\\.js$`);
  /** Upper bounds in bytes; `gzip` as a server sends it. */
  const BOUNDS: readonly { what: string; folder: string; names: RegExp; gzip: boolean; most: number }[] = [
    { what: 'page on opening', folder: 'dist/web', names: /assets\/index-[^/]*\.(js|css)$/, gzip: true, most: 400_000 },
    {
      what: "page's check",
      folder: 'dist/web',
      names: now('assets/worker-(?!maplibre|helper)'),
      gzip: true,
      most: 285_000,
    },
    {
      what: "page's second worker",
      folder: 'dist/web',
      names: /assets\/worker-helper[^/]*\.js$/,
      gzip: true,
      most: 100_000,
    },
    {
      what: "map library's worker",
      folder: 'dist/web',
      names: /assets\/worker-maplibre[^/]*\.js$/,
      gzip: true,
      most: 170_000,
    },
    {
      what: "page's other formats",
      folder: 'dist/web',
      names: later('assets/worker-'),
      gzip: true,
      most: 560_000,
    },
    { what: 'library', folder: 'dist/lib', names: now('^'), gzip: true, most: 372_000 },
    { what: "library's other formats", folder: 'dist/lib', names: later('^'), gzip: true, most: 620_000 },
    { what: 'command', folder: 'dist/cli', names: now('^'), gzip: false, most: 1_640_000 },
    { what: "command's other formats", folder: 'dist/cli', names: later('^'), gzip: false, most: 1_500_000 },
  ];
  test.each(BOUNDS)('$what stays below $most bytes', ({ folder, names, gzip, most }) => {
    const files = readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' }).filter((f) => names.test(f));
    expect(files).not.toEqual([]);
    const bytes = files.reduce((sum, f) => {
      const text = readFileSync(join(root, folder, f));
      return sum + (gzip ? gzipSync(text).length : text.length);
    }, 0);
    expect(bytes).toBeLessThan(most);
  });
});

describe('the lock file', () => {
  test('pins every package to one version and one content, and fits package.json', () => {
    expect(lock.lockfileVersion).toBe(3);
    expect(entries.filter(([, e]) => !/^\d/.test(e.version) || !/^sha512-/.test(e.integrity ?? '') || e.link)).toEqual(
      [],
    );
    expect(lock.packages[''].dependencies).toBeUndefined();
    expect(lock.packages[''].peerDependencies).toEqual(pkg.peerDependencies);
    expect(lock.packages[''].devDependencies).toEqual(pkg.devDependencies);
  });

  test('every package runs on every version of Node that package.json names: no install warns', () => {
    // Ranges as npm reads them (node-semver). Packages for other computers are not installed.
    const off = (range: string): string[] =>
      entries.flatMap(([key, e]) =>
        e.engines?.node && !e.optional && !semver.subset(range, e.engines.node)
          ? [`${key.replace(/.*node_modules\//, '')}: ${e.engines.node}`]
          : [],
      );
    // Lines with long-term support in November 2026: 22, 24 and 26 (from memory of the schedule of nodejs.org).
    const supported = '^22.12.0 || >=24.0.0';
    expect(off(supported)).toEqual([]);
    // Line 20 has none any more; the machines here have it. `overrides` keeps back a reader of JSON that asks for more.
    expect(pkg.engines.node).toBe(`^20.19.0 || ${supported}`);
    expect(off(pkg.engines.node)).toEqual([]);
  });

  test('npm ci accepts it', () => {
    const run = spawnSync(
      'npm',
      ['ci', '--dry-run', '--ignore-scripts', '--prefer-offline', '--no-audit', '--no-fund'],
      {
        cwd: root,
        encoding: 'utf8',
      },
    );
    expect(run.status, run.stderr).toBe(0);
  });

  test('no script of a package is needed, and none may run', () => {
    const with_ = entries.filter(([, e]) => e.hasInstallScript).map(([key]) => key.replace(/.*node_modules\//, ''));
    expect([...new Set(with_)].sort()).toEqual(Object.keys(pkg.allowScripts).sort());
    expect(Object.values(pkg.allowScripts).every((v) => v === false)).toBe(true);
    // Nothing is installed but by those who use a queue.
    expect(delivered.filter((m) => m.installed && !m.optional).map(idOf)).toEqual([]);
    expect(delivered.filter((m) => m.installed).map((m) => m.name)).toEqual(
      expect.arrayContaining(['bullmq', 'ioredis']),
    );
  });

  test('the queue works without its one native package', () => {
    const code = `
      const { Module } = require('node:module');
      const resolve = Module._resolveFilename;
      let refused = 0;
      Module._resolveFilename = (name, ...rest) => {
        if (/msgpackr-extract/.test(name)) { refused++; throw Object.assign(new Error('none'), { code: 'MODULE_NOT_FOUND' }); }
        return resolve(name, ...rest);
      };
      const { Queue } = require('bullmq');
      const { pack, unpack } = require(require.resolve('msgpackr', { paths: [require.resolve('bullmq')] }));
      const back = unpack(pack({ field: 'north', acres: 80.5 }));
      console.log(refused > 0, typeof Queue, JSON.stringify(back));`;
    const run = spawnSync(process.execPath, ['-e', code], { cwd: root, encoding: 'utf8' });
    expect(run.stdout.trim(), run.stderr).toBe('true function {"field":"north","acres":80.5}');
  });
});

describe('the bill of materials', () => {
  /** What CycloneDX 1.5 asks (bom-1.5.schema.json of the standard, Ecma TC54): the parts that are used here. */
  const hash = {
    type: 'object',
    required: ['alg', 'content'],
    properties: { alg: { const: 'SHA-512' }, content: { pattern: '^[a-f0-9]{128}$' } },
  };
  const license = {
    type: 'object',
    oneOf: [
      {
        required: ['license'],
        properties: {
          license: { type: 'object', required: ['id'], properties: { id: { type: 'string', minLength: 3 } } },
        },
      },
      { required: ['expression'], properties: { expression: { type: 'string', minLength: 3 } } },
    ],
  };
  const component = {
    type: 'object',
    required: ['type', 'name', 'version', 'bom-ref', 'purl', 'licenses'],
    properties: {
      type: { enum: ['application', 'library', 'framework'] },
      name: { type: 'string', minLength: 1 },
      version: { type: 'string', pattern: '^\\d' },
      scope: { enum: ['required', 'optional', 'excluded'] },
      purl: { type: 'string', pattern: '^pkg:npm/' },
      hashes: { type: 'array', items: hash },
      licenses: { type: 'array', minItems: 1, items: license },
      properties: { type: 'array', items: { type: 'object', required: ['name', 'value'] } },
    },
  };
  const schema = {
    type: 'object',
    required: ['bomFormat', 'specVersion', 'serialNumber', 'version', 'metadata', 'components', 'dependencies'],
    properties: {
      bomFormat: { const: 'CycloneDX' },
      specVersion: { const: '1.5' },
      serialNumber: {
        type: 'string',
        pattern: '^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$',
      },
      version: { type: 'integer', minimum: 1 },
      metadata: { type: 'object', required: ['timestamp', 'component'], properties: { component } },
      components: { type: 'array', uniqueItems: true, items: component },
      dependencies: {
        type: 'array',
        items: { type: 'object', required: ['ref'], properties: { dependsOn: { type: 'array', uniqueItems: true } } },
      },
    },
  };

  test('is CycloneDX 1.5, complete, and true to the lock file', () => {
    const bom = sbom();
    const valid = new Ajv({ strict: false, allErrors: true }).compile(schema);
    expect(valid(bom), JSON.stringify(valid.errors)).toBe(true);
    expect(valid({ ...bom, specVersion: '1' })).toBe(false);
    expect(bom.metadata.component.name).toBe('guessrow');
    const listed = bom.components.map((c) => `${c.name} ${c.version}`).sort();
    expect(listed).toEqual(delivered.map(idOf).sort());
    const refs = [bom.metadata.component['bom-ref'], ...bom.components.map((c) => c['bom-ref'])];
    expect(new Set(refs).size).toBe(refs.length);
    expect(bom.dependencies.flatMap((d) => [d.ref, ...d.dependsOn]).filter((r) => !refs.includes(r))).toEqual([]);
    const hex = (integrity: string): string => Buffer.from(integrity.replace('sha512-', ''), 'base64').toString('hex');
    for (const c of bom.components as { name: string; version: string; hashes?: { content: string }[] }[]) {
      const entry = entries.find(([key, e]) => key.endsWith(`node_modules/${c.name}`) && e.version === c.version);
      expect(c.hashes?.[0].content, c.name).toBe(hex(entry?.[1].integrity ?? ''));
    }
  });
});

test('the README of src/supply says what every delivered or required package does here', () => {
  const guide = readFileSync(`${root}src/supply/README.md`, 'utf8');
  const from = guide.indexOf('## Packages');
  const section = guide.slice(from, guide.indexOf('\n## ', from + 5));
  const cells = [...section.matchAll(/^\| `([^`]+)` \| ([^|]{2,}) \| [^|]{2,} \| [^|]{2,} \|$/gm)];
  const rows = cells.map((m) => m[1]);
  const asked = Object.keys(pkg.devDependencies).sort();
  const tools = [
    ...(/^Tools, [^:]*: ([^\n]*(?:\n[^\n|#-][^\n]*)*)/m.exec(section)?.[1] ?? '').matchAll(/`([^`]+)`/g),
  ].map((m) => m[1]);
  expect([...rows, ...tools].sort()).toEqual(asked);
  const inside = new Set(delivered.map((m) => m.name));
  const claimed = cells.filter((m) => /^(built in|installed)/.test(m[2])).map((m) => m[1]);
  expect(claimed.length).toBeGreaterThan(8);
  expect(claimed.filter((name) => !inside.has(name))).toEqual([]);
});
