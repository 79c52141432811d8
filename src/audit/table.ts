import { type ColumnSource, parquetWriteBuffer } from 'hyparquet-writer';
import { jsonText } from '../core/report/index.ts';
import { round } from '../core/report/json.ts';
import { cell } from '../core/shared/safe.ts';
import { rebuildCommand, type Week } from './group.ts';
import type { Done } from './types.ts';

type Value = string | number | boolean | null;
interface TableColumn {
  name: string;
  type: 'STRING' | 'DOUBLE' | 'INT32';
  of(f: Done, rank: number): Value;
}

const time = (ms: number | null): string | null => (ms === null ? null : new Date(ms).toISOString());
const m2 = (v: number): number => round(v, 2);
const meters = (v: number | null): number | null => (v === null ? null : round(v, 4));

/** The one table, written three ways. Lengths are meters, areas square meters, times UTC; empty or null where the map does not show it. */
const COLUMNS: readonly TableColumn[] = [
  { name: 'rank', type: 'INT32', of: (_, rank) => rank },
  { name: 'field', type: 'STRING', of: (f) => f.name },
  { name: 'verdict', type: 'STRING', of: (f) => f.row.verdict },
  { name: 'settings', type: 'STRING', of: (f) => f.row.settings.join(' ') },
  { name: 'affected_m2', type: 'DOUBLE', of: (f) => m2(f.row.affectedM2) },
  { name: 'seed_cost', type: 'DOUBLE', of: (f) => (f.row.cost === null ? null : round(f.row.cost, 2)) },
  {
    name: 'acre_count_off_pct',
    type: 'DOUBLE',
    of: (f) => (f.row.acreCountPct === null ? null : round(f.row.acreCountPct, 2)),
  },
  { name: 'machine', type: 'STRING', of: (f) => f.machine },
  { name: 'planter', type: 'STRING', of: (f) => f.row.planter },
  { name: 'planting', type: 'STRING', of: (f) => f.row.planting },
  { name: 'recorded_planting', type: 'STRING', of: (f) => f.row.recordedPlanting },
  { name: 'first_utc', type: 'STRING', of: (f) => time(f.row.firstMs) },
  { name: 'last_utc', type: 'STRING', of: (f) => time(f.row.lastMs) },
  { name: 'declared_width_m', type: 'DOUBLE', of: (f) => meters(f.row.declaredWidthM) },
  { name: 'recorded_width_m', type: 'DOUBLE', of: (f) => meters(f.row.recordedWidthM) },
  { name: 'recorded_m2', type: 'DOUBLE', of: (f) => m2(f.row.recordedM2) },
  { name: 'covered_m2', type: 'DOUBLE', of: (f) => m2(f.row.coveredM2) },
  { name: 'gap_m2', type: 'DOUBLE', of: (f) => m2(f.row.gapM2) },
  { name: 'overlap_m2', type: 'DOUBLE', of: (f) => m2(f.row.overlapM2) },
  { name: 'records', type: 'INT32', of: (f) => f.row.records },
  { name: 'used', type: 'INT32', of: (f) => f.row.used },
  { name: 'passes', type: 'INT32', of: (f) => f.row.passes },
  { name: 'says', type: 'STRING', of: (f) => f.row.says },
  { name: 'next', type: 'STRING', of: (f) => f.row.next },
  { name: 'rebuild', type: 'STRING', of: (f) => rebuildCommand(f) },
  { name: 'same_as', type: 'STRING', of: (f) => f.sameAs },
  { name: 'given_up', type: 'STRING', of: (f) => (f.dead ? 'yes' : '') },
  { name: 'report', type: 'STRING', of: (f) => f.reports[0] ?? '' },
  { name: 'key', type: 'STRING', of: (f) => f.key },
];

/** RFC 4180, with every text safe for a spreadsheet: none can be read as a formula. */
export function csvTable(fields: readonly Done[]): string {
  return csv(
    COLUMNS.map((c) => c.name),
    fields.map((f, i) => COLUMNS.map((c) => c.of(f, i + 1))),
  );
}

/** One JSON object per line. */
export function jsonLines(fields: readonly Done[]): string {
  return fields
    .map((f, i) => `${jsonText(Object.fromEntries(COLUMNS.map((c) => [c.name, c.of(f, i + 1)])))}\n`)
    .join('');
}

/** Apache Parquet, the same columns and types. */
export function parquetTable(fields: readonly Done[]): Uint8Array {
  const columnData: ColumnSource[] = COLUMNS.map((c) => ({
    name: c.name,
    type: c.type,
    nullable: true,
    data: fields.map((f, i) => c.of(f, i + 1)),
  }));
  return new Uint8Array(parquetWriteBuffer({ columnData }));
}

export function csvWeeks(weeks: readonly Week[]): string {
  return csv(
    'machine planter week_from fields differ agree undecided not_checked affected_m2 settings'.split(' '),
    weeks.map((w) => [
      w.machine,
      w.planter,
      w.mondayMs === null ? null : new Date(w.mondayMs).toISOString().slice(0, 10),
      w.fields,
      w.differ,
      w.agree,
      w.undecided,
      w.notChecked,
      m2(w.affectedM2),
      w.settings.join(' '),
    ]),
  );
}

function csv(head: readonly string[], rows: readonly (readonly Value[])[]): string {
  const text = (v: Value): string => (v === null ? '' : typeof v === 'string' ? cell(v) : String(v));
  return [head.join(','), ...rows.map((r) => r.map(text).join(','))].map((l) => `${l}\r\n`).join('');
}
