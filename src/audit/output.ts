/** The output folder: tables and index as one set, and the reports listed in the journal. */

import { join } from 'node:path';
import { jsonText } from '../core/report/index.ts';
import { CAUTIONS } from '../core/shared/messages.ts';
import { readFolder, removeQuietly, writeOutputs } from '../files.ts';
import { flipsOf, type Season, stretchesOf, weeksOf } from './group.ts';
import type { Journal } from './journal.ts';
import { indexPage } from './page.ts';
import { totalsOf } from './parts.ts';
import { csvTable, csvWeeks, jsonLines, parquetTable } from './table.ts';
import type { Done, LeftAlone, Outcome } from './types.ts';

export const TABLES = [
  'index.html',
  'fields.csv',
  'fields.jsonl',
  'fields.parquet',
  'weeks.csv',
  'findings.json',
] as const;

/** `done` in the order of the tables, with copies marked, and the results across fields. */
export function seasonOf(done: readonly Done[], open: number, leftAlone: readonly LeftAlone[]): Season {
  const fields = named(done).sort(worstFirst);
  const count: Record<Outcome, number> = { agrees: 0, differs: 0, undecided: 0, 'not checked': 0 };
  for (const f of fields) count[f.row.verdict]++;
  return {
    fields,
    open,
    count,
    weeks: weeksOf(fields),
    stretches: stretchesOf(fields),
    flips: flipsOf(fields),
    leftAlone,
  };
}

/** Writes all tables, or leaves all of them as they were. */
export async function writeTables(out: string, season: Season): Promise<void> {
  const { fields, open, count, weeks, stretches, flips, leftAlone } = season;
  const totals = totalsOf(fields);
  const findings = { audit: 'guessrow-audit/2', open, count, totals, stretches, flips, leftAlone, cautions: CAUTIONS };
  const content: Record<(typeof TABLES)[number], () => Iterable<string> | Uint8Array> = {
    'index.html': () => [indexPage(season)],
    'fields.csv': () => [csvTable(fields)],
    'fields.jsonl': () => [jsonLines(fields)],
    'fields.parquet': () => parquetTable(fields),
    'weeks.csv': () => [csvWeeks(weeks)],
    'findings.json': () => [`${jsonText(findings, 2)}\n`],
  };
  await writeOutputs(TABLES.map((name) => [join(out, name), content[name]()] as const));
}

/** Removes reports that the journal does not list: those of a forgotten run, or of one that ended between report and line. */
export function removeLeftReports(out: string, journal: Journal): void {
  const known = new Set([...journal.entries.values()].flatMap((e) => e.reports));
  for (const { name } of readFolder(join(out, 'fields')))
    if (/^[0-9a-f]{20}\.(html|json|txt)$/.test(name) && !known.has(`fields/${name}`))
      removeQuietly(join(out, 'fields', name));
}

/** Copies of a map name the first of them, in the order of the audit. */
function named(fields: readonly Done[]): Done[] {
  const first = new Map<string, string>();
  return fields.map((f) => {
    const same = f.key === '' ? undefined : first.get(f.key);
    if (f.key !== '' && same === undefined) first.set(f.key, f.name);
    return { ...f, sameAs: same ?? null };
  });
}

const ORDER: readonly Outcome[] = ['differs', 'undecided', 'not checked', 'agrees'];

/** By affected ground; then fields that differ without affected ground, undecided ones, and right ones. */
function worstFirst(a: Done, b: Done): number {
  return (
    b.row.affectedM2 - a.row.affectedM2 ||
    ORDER.indexOf(a.row.verdict) - ORDER.indexOf(b.row.verdict) ||
    (a.name < b.name ? -1 : a.name > b.name ? 1 : 0)
  );
}
