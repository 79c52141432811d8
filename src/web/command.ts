import type { Role } from '../core/answer.ts';

/** What one run of the page was given. */
export interface RunInput {
  mapNames: string[];
  boundaryNames: string[];
  planterName: string;
  planting: string;
  columns: Partial<Record<Role, string>>;
  layer: string;
}

/**
 * The command line that gives the same answer. Loose parts of a shapefile are named by their .shp; the command line finds
 * its neighbours itself.
 */
export function commandLine(run: RunInput): string {
  const map = mainName(run.mapNames);
  const boundary = mainName(run.boundaryNames);
  const columns = Object.entries(run.columns).flatMap(([role, name]) => ['--columns', quote(`${role}=${name}`)]);
  return [
    'guessrow check',
    quote(map),
    '--planter',
    quote(run.planterName),
    ...(run.planting ? ['--planting', quote(run.planting)] : []),
    ...(boundary ? ['--boundary', quote(boundary)] : []),
    ...columns,
    ...(run.layer ? ['--layer', quote(run.layer)] : []),
  ].join(' ');
}

function mainName(names: readonly string[]): string {
  return names.find((n) => /\.shp$/i.test(n)) ?? names[0] ?? '';
}

/** `word` as a POSIX shell reads it back, quotes only where they are needed. A leading dash would be read as an option. */
function quote(word: string): string {
  const safe = word.startsWith('-') ? `./${word}` : word;
  return /^[\w@%+=:,./-]+$/.test(safe) ? safe : `'${safe.replaceAll("'", "'\\''")}'`;
}
