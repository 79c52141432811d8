import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, sep } from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';
import { describe, expect, test } from 'vitest';

const root = fileURLToPath(new URL('..', import.meta.url));

interface Rights {
  /** Parts whose code may be called. */
  calls: string[];
  /** Parts of which types may be named besides those; `core` is all of it. */
  types: string[];
  /** Packages and Node modules. */
  packages: string[];
}

const SHARED = ['core/geometry', 'core/messages.ts'];
const STAGES = ['coverage', 'infer', 'intake', 'observe', 'plane', 'planted', 'track'].map((s) => `core/${s}`);
const stage = (calls: string[] = [], packages: string[] = []): Rights => ({
  calls: [...calls, ...SHARED],
  types: ['core'],
  packages,
});

/** Who may import whom. DEVELOPERS.md holds the same table. */
const TABLE: Readonly<Record<string, Rights>> = {
  'core/messages.ts': { calls: [], types: [], packages: [] },
  'core/geometry': { calls: ['core/messages.ts'], types: [], packages: [] },
  'core/planter': { calls: ['core/messages.ts'], types: [], packages: [] },
  'core/answer.ts': { calls: [], types: ['core'], packages: [] },
  'core/intake': stage(['core/coverage', 'core/plane'], ['fflate', 'geojson-validation', 'proj4', 'shpjs']),
  'core/plane': stage(),
  'core/track': stage(),
  'core/observe': stage(['core/planter']),
  'core/planted': stage(['core/planter']),
  'core/coverage': stage(),
  'core/infer': stage(['core/planter']),
  'core/fence.ts': stage(),
  'core/summary.ts': stage(['core/planter']),
  'core/check.ts': {
    calls: [...STAGES, ...SHARED, 'core/fence.ts', 'core/planter', 'core/summary.ts'],
    types: ['core'],
    packages: [],
  },
  'core/rebuild': stage(['core/planter']),
  'core/formats': stage([], ['fflate', 'flatgeobuf', 'hyparquet-writer']),
  'core/repair.ts': stage([
    'core/check.ts',
    'core/coverage',
    'core/intake',
    'core/plane',
    'core/planted',
    'core/planter',
    'core/rebuild',
  ]),
  'core/compare': stage(['core/infer', 'core/planter']),
  'core/report': stage(['core/infer', 'core/planter']),
  'core/index.ts': {
    calls: [
      'core/check.ts',
      'core/compare',
      'core/formats',
      'core/intake',
      'core/messages.ts',
      'core/planter',
      'core/repair.ts',
      'core/report',
    ],
    types: ['core'],
    packages: [],
  },
  worker: {
    calls: ['core/check.ts', 'core/compare', 'core/intake', 'core/messages.ts', 'core/report'],
    types: ['core'],
    packages: [],
  },
  'web/map': { calls: [...SHARED, 'core/report'], types: ['core'], packages: ['@turf/turf', 'maplibre-gl', 'preact'] },
  web: {
    calls: [...SHARED, 'core/planter', 'core/report', 'core/summary.ts', 'web/map'],
    types: ['core', 'worker'],
    packages: ['@turf/turf', 'preact'],
  },
  'version.ts': { calls: [], types: [], packages: ['package.json'] },
  'files.ts': { calls: ['core/messages.ts'], types: ['core'], packages: ['node:fs', 'node:path', 'node:util'] },
  audit: {
    calls: [
      'core/check.ts',
      'core/geometry',
      'core/intake',
      'core/messages.ts',
      'core/planter',
      'core/report',
      'files.ts',
      'version.ts',
    ],
    types: ['core'],
    packages: [
      'bullmq',
      'hyparquet-writer',
      'ioredis',
      'node:crypto',
      'node:fs',
      'node:os',
      'node:path',
      'node:url',
      'node:worker_threads',
      'node:zlib',
      'valibot',
      'workerpool',
    ],
  },
  cli: {
    calls: [
      'audit',
      'core/check.ts',
      'core/compare',
      'core/formats',
      'core/messages.ts',
      'core/planter',
      'core/rebuild',
      'core/repair.ts',
      'core/report',
      'files.ts',
      'version.ts',
    ],
    types: ['core'],
    packages: [
      'node:fs',
      'node:http',
      'node:net',
      'node:os',
      'node:path',
      'node:stream',
      'node:url',
      'node:util',
      'node:v8',
      'picocolors',
    ],
  },
  supply: { calls: [], types: [], packages: ['node:child_process', 'node:fs', 'node:path', 'node:url', 'vite'] },
  'setup.mjs': { calls: [], types: [], packages: ['node:child_process', 'node:fs', 'node:path', 'node:url'] },
};

describe('who may import whom', () => {
  const all = sources().flatMap(importsOf);

  test('the imports were found at all', () => {
    expect(all.length).toBeGreaterThan(100);
    expect(all.some((e) => e.from === 'cli' && e.to === 'core/check.ts' && !e.typeOnly)).toBe(true);
  });

  test('every part of src stands in the table', () => {
    const parts = new Set(sources().map((path) => layerOf(inSrc(path))));
    expect([...parts].filter((p) => !(p in TABLE))).toEqual([]);
    expect(Object.keys(TABLE).filter((p) => !parts.has(p))).toEqual([]);
  });

  test('nothing is imported that the table does not allow', () => {
    expect(
      all.filter((e) => !allowed(e)).map((e) => `${e.file} imports ${e.typeOnly ? 'types of ' : ''}${e.to}`),
    ).toEqual([]);
  });

  test('a stage may name the types of another and may not call it', () => {
    const edge = { from: 'core/track', to: 'core/layout', file: 'core/track/x.ts' };
    expect(allowed({ ...edge, typeOnly: true })).toBe(true);
    expect(allowed({ ...edge, typeOnly: false })).toBe(false);
    expect(allowed({ ...edge, to: 'web', typeOnly: true })).toBe(false);
    expect(allowed({ ...edge, to: 'node:fs', typeOnly: false })).toBe(false);
  });

  test('check.ts alone calls the stages (compare shares the limits of what is named, report the explanations, worker and library name files)', () => {
    const callers = all.filter(
      (e) =>
        !e.typeOnly &&
        STAGES.includes(e.to) &&
        e.from !== e.to &&
        !['core/check.ts', 'core/repair.ts'].includes(e.from),
    );
    expect(
      [...new Set(callers.map((e) => `${e.from} > ${e.to}`))].filter(
        (c) =>
          ![
            'audit > core/intake',
            // The area of records with invalid rings is part of what was read.
            'core/intake > core/coverage',
            'core/intake > core/plane',
            'core/compare > core/infer',
            'core/report > core/infer',
            'core/index.ts > core/intake',
            'worker > core/intake',
          ].includes(c),
      ),
    ).toEqual([]);
  });

  test('files and maps stand in one place', () => {
    const of = (name: string) => [...new Set(all.filter((e) => e.to === name).map((e) => e.from))].sort();
    expect(of('node:fs')).toEqual(['audit', 'cli', 'files.ts', 'setup.mjs', 'supply']);
    expect(of('maplibre-gl')).toEqual(['web/map']);
  });

  test('DEVELOPERS.md holds the same table', () => {
    const words = (list: string[]) => (list.length === 0 ? '-' : list.map((w) => `\`${w}\``).join(' '));
    const lines = Object.entries(TABLE).map(
      ([part, r]) => `| \`${part}\` | ${words(r.calls)} | ${words(r.types)} | ${words(r.packages)} |`,
    );
    const text = readFileSync(join(root, 'DEVELOPERS.md'), 'utf8');
    const after = text.slice(text.indexOf('## Who may import whom'));
    const held = after.split('\n').filter((l) => l.startsWith('| `'));
    const end = after.indexOf('\n## ', 3);
    const section =
      end < 0
        ? held
        : after
            .slice(0, end)
            .split('\n')
            .filter((l) => l.startsWith('| `'));
    expect(section, `the table that DEVELOPERS.md should hold:\n${lines.join('\n')}`).toEqual(lines);
  });
});

test('the core holds no state: no let or var outside functions', () => {
  const found = sources()
    .filter((path) => inSrc(path).startsWith('core/'))
    .flatMap((path) =>
      parse(path)
        .statements.filter(
          (s): s is ts.VariableStatement =>
            ts.isVariableStatement(s) && (s.declarationList.flags & ts.NodeFlags.Const) === 0,
        )
        .map((s) => `${inSrc(path)}: ${s.getText().split('\n')[0]}`),
    );
  expect(found).toEqual([]);
});

function allowed(e: Edge): boolean {
  if (e.from === e.to) return true;
  const rights = TABLE[e.from];
  if (!rights) return false;
  if (rights.calls.includes(e.to) || rights.packages.includes(e.to)) return true;
  return e.typeOnly && rights.types.some((t) => e.to === t || e.to.startsWith(`${t}/`));
}

interface Edge {
  from: string;
  to: string;
  file: string;
  typeOnly: boolean;
}

function sources(): string[] {
  return readdirSync(join(root, 'src'), { recursive: true, withFileTypes: true })
    .filter((f) => f.isFile() && /\.(tsx?|mjs)$/.test(f.name) && !f.name.endsWith('.d.ts'))
    .map((f) => join(f.parentPath, f.name));
}

function inSrc(path: string): string {
  return relative(join(root, 'src'), path).split(sep).join('/');
}

function parse(path: string): ts.SourceFile {
  return ts.createSourceFile(path, readFileSync(path, 'utf8'), ts.ScriptTarget.ESNext, true);
}

/** Every import, export from, dynamic import and import type of a file. */
function importsOf(path: string): Edge[] {
  const file = inSrc(path);
  const source = parse(path);
  const out: Edge[] = [];
  const add = (to: ts.Expression, typeOnly: boolean): void => {
    if (ts.isStringLiteral(to)) out.push({ from: layerOf(file), to: target(path, to.text), file, typeOnly });
  };
  const visit = (node: ts.Node): void => {
    if (ts.isImportDeclaration(node)) add(node.moduleSpecifier, onlyTypes(node.importClause));
    else if (ts.isExportDeclaration(node) && node.moduleSpecifier)
      add(
        node.moduleSpecifier,
        node.isTypeOnly ||
          (node.exportClause !== undefined &&
            ts.isNamedExports(node.exportClause) &&
            node.exportClause.elements.every((e) => e.isTypeOnly)),
      );
    else if (ts.isCallExpression(node) && node.expression.kind === ts.SyntaxKind.ImportKeyword)
      add(node.arguments[0], false);
    else if (ts.isImportTypeNode(node) && ts.isLiteralTypeNode(node.argument))
      add(node.argument.literal as ts.StringLiteral, true);
    ts.forEachChild(node, visit);
  };
  visit(source);
  return out;
}

function onlyTypes(clause: ts.ImportClause | undefined): boolean {
  if (!clause) return false;
  if (clause.isTypeOnly) return true;
  const named = clause.namedBindings;
  return (
    clause.name === undefined &&
    named !== undefined &&
    ts.isNamedImports(named) &&
    named.elements.length > 0 &&
    named.elements.every((e) => e.isTypeOnly)
  );
}

function layerOf(file: string): string {
  const parts = file.split('/');
  if (parts[0] === 'core') return `core/${parts[1]}`;
  if (parts[0] === 'web' && parts[1] === 'map') return 'web/map';
  return parts[0];
}

function target(from: string, specifier: string): string {
  if (specifier.startsWith('.')) {
    const path = inSrc(join(dirname(from), specifier.replace(/\?.*$/, '')));
    return path.startsWith('../') ? path.slice(3) : layerOf(path);
  }
  return specifier
    .split('/')
    .slice(0, specifier.startsWith('@') ? 2 : 1)
    .join('/');
}
