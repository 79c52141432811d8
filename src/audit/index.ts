/**
 * Many fields: found, checked each once, put side by side.
 *
 * Assumes maps and planter files on disk, in a shared folder or at an address. Guarantees: a field that cannot be checked is a row
 * with a sentence and stops no other; every field has exactly one row; a killed audit that is started again goes on where it was;
 * the same fields give the same output files, byte for byte, whoever checked them and in whatever order (only the journal's order differs).
 *
 * 1. `find`, `list`: paths, patterns and lists to fields.
 * 2. `key`: what a field is known by; `source` reads maps from where they lie.
 * 3. `journal`: what has been checked already.
 * 4. `field`: one field to a row, a picture and reports; `worker` and `pool` do that in processes, `queue` and `work` on other machines.
 * 5. `group`: when a setting went wrong across fields.
 * 6. `table`, `page`: CSV, JSON Lines, Parquet and the index to read.
 */
import { existsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { CAUTIONS, UserError } from '../core/messages.ts';
import { clean } from '../core/report/index.ts';
import { checkOutput, makeFolder, readFolder, removeQuietly, writeFault, writeOutput, writeOutputs } from '../files.ts';
import { notChecked } from './field.ts';
import { type Stretch, stretchesOf, type Week, weeksOf } from './group.ts';
import { JOURNAL, Journal, LOCK } from './journal.ts';
import { indexPage } from './page.ts';
import type { Pool } from './pool.ts';
import { csvTable, csvWeeks, jsonLines, parquetTable } from './table.ts';
import type { BadField, Checked, Done, Entry, Field, Outcome } from './types.ts';
import type { Place } from './worker.ts';

export { findFields } from './find.ts';
export { openPool, type Pool } from './pool.ts';
export { openQueue } from './queue.ts';
export { mapsFrom } from './source.ts';
export type { Done, Outcome, Settings } from './types.ts';
export { work } from './work.ts';
export type { Stretch };

/** Whoever checks fields: processes of this machine, or workers behind a queue. */
export interface Checker {
  /** Fields that may be under way at once: what is handed out and not yet done stays below this. */
  most: number;
  /** Throws what is no result: trouble that may go away. */
  check(field: Field, key: string): Promise<Checked>;
  /** Called when a field's result is safe in the journal. */
  settled(key: string): Promise<void>;
  close(): Promise<void>;
}

/** Processes of this machine. */
export function localChecker(pool: Pool, atOnce: number): Checker {
  return {
    // As many again as are checked at once: while the reports of some are put on the disk, processes have others to take.
    most: 2 * atOnce + 1,
    check: (field) => pool.check({ job: jobOf(field), place: null }),
    settled: async () => {},
    close: async () => {},
  };
}

/** The part of a field that goes to whoever checks it. */
export function jobOf({ map, boundary, planter, planterFile, settings }: Field) {
  return { map, boundary, planter, planterFile, settings };
}

export interface AuditOptions {
  fields: readonly (Field | BadField)[];
  out: string;
  /** Files on this machine that the audit reads, lists among them. */
  inputs: readonly string[];
  pool: Pool;
  checker: Checker;
  /** Where the maps lie, when it is not this machine's own paths. */
  place: Place | null;
  /** Forget the journal. */
  again: boolean;
}

export interface AuditResult {
  fields: Done[];
  count: Record<Outcome, number>;
  weeks: Week[];
  stretches: Stretch[];
  /** Fields that this run checked itself; the rest stood in the journal. */
  checkedNow: number;
  files: string[];
}

/** Checks all fields and writes the output folder. `progress` gets fields done, of which out of the journal. */
export async function audit(o: AuditOptions, progress: (done: number, known: number) => void): Promise<AuditResult> {
  try {
    if (statSync(o.out, { throwIfNoEntry: false })?.isFile())
      throw new UserError(
        'not-a-folder',
        'The output is a file, not a folder.',
        {},
        'Choose another name for "--out".',
      );
    refuseInputs(o);
    makeFolder(join(o.out, 'fields'));
  } catch (e) {
    throw writeFault(o.out, e);
  }
  const journal = await Journal.open(o.out, o.again);
  let checkedNow = 0;
  let known = 0;
  let done = 0;
  const under = new Map<string, Promise<{ entry: Entry; dead: boolean }>>();

  const once = (field: Field, key: string): Promise<{ entry: Entry; dead: boolean }> => {
    const held = journal.entries.get(key);
    if (held) {
      known++;
      return Promise.resolve({ entry: held, dead: false });
    }
    let running = under.get(key);
    if (!running) {
      running = checkOnce(field, key);
      under.set(key, running);
    }
    return running;
  };
  const checkOnce = async (field: Field, key: string): Promise<{ entry: Entry; dead: boolean }> => {
    let checked: Checked;
    try {
      checked = await o.checker.check(field, key);
    } catch (e) {
      // The pool's own end is no field's.
      if (e instanceof UserError) throw e;
      const why = clean(e instanceof Error ? e.message : String(e)).slice(0, 300);
      const says = `The field could not be finished: ${why}. Start the audit again to try it anew.`;
      return { entry: { key, row: notChecked(says), picture: null, reports: [] }, dead: true };
    }
    const reports = Object.keys(checked.reports).map((ext) => `fields/${key.slice(0, 20)}.${ext}`);
    await writeOutputs(Object.values(checked.reports).map((text, i) => [join(o.out, reports[i]), [text]] as const));
    const entry: Entry = { key, row: checked.row, picture: checked.picture, reports };
    await journal.add(entry);
    checkedNow++;
    await o.checker.settled(key);
    return { entry, dead: false };
  };
  const one = async (field: Field | BadField): Promise<Done> => {
    const named = { name: field.name, sameAs: null };
    const bad = (sentence: string): Done => ({
      ...named,
      machine: field.machine ?? '',
      key: '',
      row: notChecked(clean(sentence)),
      picture: null,
      reports: [],
      dead: false,
    });
    if ('sentence' in field) return bad(field.sentence);
    const got = await o.pool.key({ job: jobOf(field), place: o.place }).catch((e: Error) => {
      if (e instanceof UserError) throw e;
      return { sentence: `${e.message}.` };
    });
    if ('sentence' in got) return bad(got.sentence);
    const { entry, dead } = await once(field, got.key);
    return { ...named, ...entry, machine: field.machine ?? entry.row.machine ?? '', dead };
  };

  try {
    const fields: Done[] = new Array(o.fields.length);
    let next = 0;
    const runner = async (): Promise<void> => {
      while (next < o.fields.length) {
        const i = next++;
        fields[i] = await one(o.fields[i]);
        progress(++done, known);
      }
    };
    await Promise.all(Array.from({ length: Math.min(o.checker.most, o.fields.length) }, runner));
    nameCopies(fields);
    fields.sort(worstFirst);
    const result = await write(o.out, fields, checkedNow);
    removeLeftReports(o.out, journal);
    return result;
  } finally {
    await journal.close();
  }
}

/** Takes away reports that the journal knows nothing of: those of a run that it was told to forget, or that ended between report and line. */
function removeLeftReports(out: string, journal: Journal): void {
  const known = new Set([...journal.entries.values()].flatMap((e) => e.reports));
  for (const { name } of readFolder(join(out, 'fields')))
    if (/^[0-9a-f]{20}\.(html|json|txt)$/.test(name) && !known.has(`fields/${name}`))
      removeQuietly(join(out, 'fields', name));
}

/** Tables and journal have names of their own; a file that the audit reads must not be one of them. */
function refuseInputs({ out, inputs }: AuditOptions): void {
  for (const name of [...TABLES, JOURNAL, LOCK]) {
    const path = join(out, name);
    if (existsSync(path))
      checkOutput(
        path,
        inputs.filter((i) => existsSync(i)),
      );
  }
}

function nameCopies(fields: Done[]): void {
  const first = new Map<string, string>();
  for (const f of fields) {
    if (f.key === '') continue;
    const same = first.get(f.key);
    if (same === undefined) first.set(f.key, f.name);
    else f.sameAs = same;
  }
}

const ORDER: readonly Outcome[] = ['differs', 'undecided', 'not checked', 'agrees'];

/** By the ground that was spoilt; then what differs without spoiling ground, what is open, and what is right. */
function worstFirst(a: Done, b: Done): number {
  return (
    b.row.affectedM2 - a.row.affectedM2 ||
    ORDER.indexOf(a.row.verdict) - ORDER.indexOf(b.row.verdict) ||
    (a.name < b.name ? -1 : a.name > b.name ? 1 : 0)
  );
}

async function write(out: string, fields: Done[], checkedNow: number): Promise<AuditResult> {
  const count: Record<Outcome, number> = { agrees: 0, differs: 0, undecided: 0, 'not checked': 0 };
  for (const f of fields) count[f.row.verdict]++;
  const weeks = weeksOf(fields);
  const stretches = stretchesOf(fields);
  const result = { fields, count, weeks, stretches, checkedNow };
  const findings = { audit: 'guessrow-audit/1', count, stretches, cautions: CAUTIONS };
  const content: Record<(typeof TABLES)[number], () => Iterable<string> | Uint8Array> = {
    'index.html': () => [indexPage(result)],
    'fields.csv': () => [csvTable(fields)],
    'fields.jsonl': () => [jsonLines(fields)],
    'fields.parquet': () => parquetTable(fields),
    'weeks.csv': () => [csvWeeks(weeks)],
    'findings.json': () => [`${JSON.stringify(findings, null, 2)}\n`],
  };
  for (const name of TABLES) await writeOutput(join(out, name), content[name]());
  return { ...result, files: [...TABLES] };
}

const TABLES = ['index.html', 'fields.csv', 'fields.jsonl', 'fields.parquet', 'weeks.csv', 'findings.json'] as const;

/** 0 every field agrees, 1 some differ, 2 none could be checked, 3 none differs and some are undecided or could not be checked. */
export function exitStatus(count: Record<Outcome, number>): number {
  if (count.differs > 0) return 1;
  if (count.undecided > 0) return 3;
  if (count.agrees === 0) return 2;
  return count['not checked'] > 0 ? 3 : 0;
}
