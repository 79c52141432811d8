import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, sep } from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';
import { describe, expect, test } from 'vitest';

const root = fileURLToPath(new URL('..', import.meta.url));

/** Parts of the core in the order of the flow: a part calls only the parts before it. */
const CORE = [
  'shared',
  'geometry',
  'planter',
  'plane',
  'coverage',
  'intake',
  'track',
  'observe',
  'planted',
  'ground',
  'infer',
  'account',
  'answer.ts',
  'steps',
  'check.ts',
  'check-parallel.ts',
  'redraw',
  'formats',
  'rebuild',
  'compare',
  'report',
  'library.ts',
  'index.ts',
].map((part) => `core/${part}`);

/** Everything else, in the same way; the page and the worker share nothing with files, and the command nothing with the page. */
const LAYERS = [...CORE, 'worker', 'web/map', 'web', 'version.ts', 'files.ts', 'audit', 'cli', 'supply', 'setup.mjs'];
const APART: Readonly<Record<string, readonly string[]>> = {
  'web/map': ['worker'],
  'files.ts': ['worker', 'web/map', 'web'],
  audit: ['worker', 'web/map', 'web'],
  cli: ['worker', 'web/map', 'web'],
  supply: LAYERS,
  'setup.mjs': LAYERS,
};

/** Packages and Node modules of each part. */
const PACKAGES: Readonly<Record<string, readonly string[]>> = {
  'core/intake': [
    'fflate',
    'flatbuffers',
    'flatgeobuf',
    'fzstd',
    'geojson-validation',
    'htmlparser2',
    'hyparquet',
    'proj4',
    'shpjs',
    'sql.js',
  ],
  'core/formats': ['fflate', 'flatgeobuf', 'hyparquet-writer', 'sql.js'],
  'core/report': ['preact', 'preact-render-to-string'],
  'web/map': ['@turf/turf', 'maplibre-gl', 'preact'],
  // The style of the drawings, which vite.config.ts hands out as a file.
  web: ['@turf/turf', 'preact', 'virtual:drawings.css'],
  'version.ts': ['package.json'],
  'files.ts': ['node:fs', 'node:path', 'node:util'],
  audit: [
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
  cli: [
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
  supply: ['node:child_process', 'node:fs', 'node:path', 'node:url', 'vite'],
  'setup.mjs': ['node:child_process', 'node:fs', 'node:path', 'node:url'],
};

describe('who may import whom', () => {
  const all = sources().flatMap(importsOf);

  test('the imports were found at all', () => {
    expect(all.length).toBeGreaterThan(100);
    expect(all.some((e) => e.from === 'cli' && e.to === 'core/check.ts' && !e.typeOnly)).toBe(true);
  });

  test('every part of src has a place among the layers', () => {
    const parts = new Set(sources().map((path) => layerOf(inSrc(path))));
    expect([...parts].filter((p) => !LAYERS.includes(p))).toEqual([]);
    expect(LAYERS.filter((p) => !parts.has(p))).toEqual([]);
  });

  test('a part calls only parts before it, and only its own packages', () => {
    expect(
      all.filter((e) => !allowed(e)).map((e) => `${e.file} imports ${e.typeOnly ? 'types of ' : ''}${e.to}`),
    ).toEqual([]);
  });

  test('the rule refuses forbidden imports', () => {
    const edge = { from: 'core/track', to: 'core/infer', file: 'core/track/x.ts', imported: 'core/infer/y.ts' };
    expect(allowed({ ...edge, typeOnly: true })).toBe(true);
    expect(allowed({ ...edge, typeOnly: false })).toBe(false);
    expect(allowed({ ...edge, to: 'web', typeOnly: true })).toBe(false);
    expect(allowed({ ...edge, to: 'node:fs', typeOnly: false })).toBe(false);
    expect(allowed({ ...edge, from: 'cli', to: 'web', typeOnly: false })).toBe(false);
  });

  test('no file imports itself by way of others, not even for a type', () => {
    expect(circles(all)).toEqual([]);
    const edge = (file: string, imported: string): Pick<Edge, 'file' | 'imported'> => ({ file, imported });
    expect(circles([edge('a', 'b'), edge('b', 'c'), edge('c', 'b')])).toEqual(['b > c > b']);
  });

  test('only core/steps calls the stages', () => {
    const entries =
      /\b(traceLanes|findPasses|findBands|findSeams|findGaps|findOverlaps|diagnose|makeAccount|layPlanted)\(/;
    const callers = sources().filter((path) => entries.test(readFileSync(path, 'utf8').replace(/function \w+\(/g, '')));
    expect([...new Set(callers.map((path) => layerOf(inSrc(path))))]).toEqual(['core/steps']);
  });

  test('one place touches files, and one the map library', () => {
    const of = (name: string) => [...new Set(all.filter((e) => e.to === name).map((e) => e.from))].sort();
    expect(of('node:fs')).toEqual(['audit', 'cli', 'files.ts', 'setup.mjs', 'supply']);
    expect(of('maplibre-gl')).toEqual(['web/map']);
  });

  test('DEVELOPERS.md lists the parts of the core in the same order', () => {
    const text = readFileSync(join(root, 'DEVELOPERS.md'), 'utf8');
    const after = text.slice(text.indexOf('## Who may import whom'));
    const listed = after.slice(0, after.indexOf('\n## ', 3)).match(/`core\/[\w.-]+`/g) ?? [];
    expect(listed.map((w) => w.slice(1, -1))).toEqual(CORE);
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

/** Lines that a function may have, so that it can be read alone. */
const MOST_LINES = 80;

/** Those that may be longer, each with its reason. */
const LONG: Readonly<Record<string, string>> = {
  'core/observe/estimate.ts estimateSeams': 'one commented algorithm',
};

test(`no function is longer than ${MOST_LINES} lines, except those listed with a reason`, () => {
  const long = sources().flatMap((path) => longFunctions(parse(path)).map((name) => `${inSrc(path)} ${name}`));
  expect(long.sort()).toEqual(Object.keys(LONG).sort());
  const made = (lines: number): string[] =>
    longFunctions(
      ts.createSourceFile('x.ts', `const f = () => {${'\n'.repeat(lines - 1)}};`, ts.ScriptTarget.ESNext, true),
    );
  expect([made(MOST_LINES), made(MOST_LINES + 1)]).toEqual([[], ['f']]);
});

/** Names of the functions and methods of a file that have more lines than they may. */
function longFunctions(source: ts.SourceFile): string[] {
  const out: string[] = [];
  const lineOf = (at: number): number => source.getLineAndCharacterOfPosition(at).line;
  const visit = (node: ts.Node): void => {
    if (ts.isFunctionLike(node) && lineOf(node.end) - lineOf(node.getStart(source)) >= MOST_LINES) {
      const named = node.name ?? (ts.isVariableDeclaration(node.parent) ? node.parent.name : undefined);
      out.push(named?.getText(source) ?? `at line ${lineOf(node.getStart(source)) + 1}`);
    }
    ts.forEachChild(node, visit);
  };
  visit(source);
  return out;
}

/** Types of the core may be imported everywhere in the core, and by every part after it. */
function allowed(e: Edge): boolean {
  if (e.from === e.to) return true;
  if ((PACKAGES[e.from] ?? []).includes(e.to)) return true;
  const [from, to] = [LAYERS.indexOf(e.from), LAYERS.indexOf(e.to)];
  if (from < 0 || to < 0 || (APART[e.from] ?? []).includes(e.to)) return false;
  return to < from || (e.typeOnly && e.from.startsWith('core/') && e.to.startsWith('core/'));
}

interface Edge {
  from: string;
  to: string;
  file: string;
  /** The file that is imported; '' for packages. */
  imported: string;
  typeOnly: boolean;
}

/** Files that import each other in a circle, types included: each circle once, beginning with its first file. */
function circles(edges: readonly Pick<Edge, 'file' | 'imported'>[]): string[] {
  const out = new Set<string>();
  const next = new Map<string, string[]>();
  for (const { file, imported } of edges) next.set(file, [...(next.get(file) ?? []), imported]);
  const done = new Set<string>();
  const walk = (file: string, path: string[]): void => {
    const at = path.indexOf(file);
    if (at >= 0) out.add([...path.slice(at), file].join(' > '));
    if (at >= 0 || done.has(file)) return;
    for (const to of next.get(file) ?? []) walk(to, [...path, file]);
    done.add(file);
  };
  for (const file of next.keys()) walk(file, []);
  return [...out];
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
    if (!ts.isStringLiteral(to)) return;
    const imported = to.text.startsWith('.') ? inSrc(join(dirname(path), to.text.replace(/\?.*$/, ''))) : '';
    out.push({ from: layerOf(file), to: target(path, to.text), file, imported, typeOnly });
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
