/**
 * Many fields: found, each checked once, compared.
 *
 * Assumes maps and planter files on disk, in a shared folder or at an address. Guarantees: a field that cannot be checked is a row
 * with a sentence, and the others go on; every field has exactly one row; a killed audit resumes where it was;
 * the same fields give the same output files, byte for byte, whoever checked them and in whatever order (only the journal's order differs).
 *
 * 1. `find`, `list`: paths, patterns and lists to fields.
 * 2. `key`: the identity of a field; `source` reads maps from a folder or an address.
 * 3. `journal`: the fields already checked.
 * 4. `field`: one field to a row, a picture and reports; `worker` and `pool` do that in processes, `queue` and `work` on other machines.
 * 5. `group`: when a setting went wrong across fields.
 * 6. `table`, `page`: CSV, JSON Lines, Parquet and the index to read.
 */
import { existsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { clean } from '../core/report/index.ts';
import { UserError } from '../core/shared/messages.ts';
import { checkOutput, makeFolder, writeFault, writeOutputs } from '../files.ts';
import { checkerJob, notChecked } from './field.ts';
import type { Season, Stretch } from './group.ts';
import { type BadLine, JOURNAL, Journal, LOCK } from './journal.ts';
import { removeLeftReports, seasonOf, TABLES, writeTables } from './output.ts';
import type { Pool } from './pool.ts';
import type { BadField, Checked, Checker, Done, Entry, Field, LeftAlone, Outcome, Settings } from './types.ts';
import type { Place } from './worker.ts';

export { findFields } from './find.ts';
export { openPool, type Pool } from './pool.ts';
export { openQueue } from './queue.ts';
export { readSecret } from './seal.ts';
export { mapsFrom } from './source.ts';
export type { Done, LeftAlone, Outcome, Settings } from './types.ts';
export { work } from './work.ts';
export type { BadLine, Stretch };

/** Processes of this machine. */
export function localChecker(pool: Pool, atOnce: number): Checker {
  return {
    // As many again as are checked at once: while some reports are written to disk, processes have other fields to take.
    most: 2 * atOnce + 1,
    check: (field) => pool.check({ job: checkerJob(field), place: null }),
    settled: async () => {},
    close: async () => {},
  };
}

interface AuditOptions {
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
  /** Files in the folders that were not taken for maps. */
  leftAlone: readonly LeftAlone[];
}

export interface AuditResult extends Season {
  /** Fields that this run checked itself; the others were in the journal. */
  checkedNow: number;
  /** Lines of the journal that were not used; their fields were checked again. */
  badLines: readonly BadLine[];
  files: string[];
}

/** Tables are rewritten while the audit runs: after this many fields, and so that writing them takes a tenth of the time. */
const RENEW_FIELDS = 5;
const RENEW_SHARE = 10;

/** Tries to read a field's files for its key, and the pause after the first, ms; it doubles. */
const KEY_TRIES = 3;
const KEY_PAUSE_MS = 1000;

/** Checks all fields and writes the output folder. `progress` gets the fields done, and how many of them were in the journal. */
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
  try {
    const check = checkerOf(o, journal);
    const fields: Done[] = new Array(o.fields.length);
    const renew = renewer(o, fields);
    let next = 0;
    let done = 0;
    const runner = async (): Promise<void> => {
      while (next < o.fields.length) {
        const i = next++;
        fields[i] = await check.one(o.fields[i]);
        progress(++done, check.known());
        await renew(done);
      }
    };
    await Promise.all(Array.from({ length: Math.min(o.checker.most, o.fields.length) }, runner));
    await renew.over();
    const season = seasonOf(fields, 0, o.leftAlone);
    await writeTables(o.out, season);
    removeLeftReports(o.out, journal);
    return { ...season, checkedNow: check.checkedNow(), badLines: journal.bad, files: [...TABLES] };
  } finally {
    await journal.close();
  }
}

interface Renewer {
  (done: number): Promise<void>;
  /** Resolves when no table is being written any more. */
  over(): Promise<void>;
}

/** Writes the tables of the fields done so far, every few fields, one set at a time and in parallel with the checks. */
function renewer(o: AuditOptions, fields: readonly Done[]): Renewer {
  let last = 0;
  let notBefore = 0;
  let writing: Promise<void> | null = null;
  let fault: unknown = null;
  const renew = async (done: number): Promise<void> => {
    if (fault !== null) throw fault;
    if (writing !== null || done - last < RENEW_FIELDS || done === fields.length || Date.now() < notBefore) return;
    last = done;
    const began = Date.now();
    const season = seasonOf(
      fields.filter((f) => f !== undefined),
      fields.length - done,
      o.leftAlone,
    );
    writing = writeTables(o.out, season)
      .catch((e) => {
        fault = e;
      })
      .finally(() => {
        writing = null;
        notBefore = Date.now() + RENEW_SHARE * (Date.now() - began);
      });
  };
  return Object.assign(renew, {
    over: async () => {
      await writing;
      if (fault !== null) throw fault;
    },
  });
}

/** Checks one field after another, each content once, using the journal. */
function checkerOf(o: AuditOptions, journal: Journal) {
  let checkedNow = 0;
  let known = 0;
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
      // The end of the pool is not a fault of a field.
      if (e instanceof UserError) throw e;
      return unfinished(key, e instanceof Error ? e.message : String(e));
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
    const named = {
      name: field.name,
      sameAs: null,
      planterFile: 'planterFile' in field ? field.planterFile : '',
      where: 'settings' in field ? (field.settings.where ?? []).map((w) => `${w.column}=${w.value}`) : [],
      options: 'settings' in field ? rebuildOptions(field.settings) : [],
    };
    const without = (entry: Entry, dead: boolean): Done => ({
      ...named,
      ...entry,
      machine: field.machine ?? '',
      dead,
    });
    const bad = (sentence: string): Done =>
      without({ key: '', row: notChecked(clean(sentence)), picture: null, reports: [] }, false);
    if ('sentence' in field) return bad(field.sentence);
    const got = await keyOf(o, field);
    if ('sentence' in got) return bad(got.sentence);
    if ('trouble' in got) return without(unfinished('', got.trouble).entry, true);
    const { entry, dead } = await once(field, got.key);
    return { ...named, ...entry, machine: field.machine ?? entry.row.machine ?? '', dead };
  };
  return { one, checkedNow: () => checkedNow, known: () => known };
}

/** The field's key. Network trouble is tried again, as when the field is checked. */
async function keyOf(
  o: AuditOptions,
  field: Field,
): Promise<{ key: string } | { sentence: string } | { trouble: string }> {
  for (let tries = 1; ; tries++) {
    try {
      return await o.pool.key({ job: checkerJob(field), place: o.place });
    } catch (e) {
      if (e instanceof UserError) throw e;
      if (tries === KEY_TRIES) return { trouble: e instanceof Error ? e.message : String(e) };
      await new Promise((r) => setTimeout(r, KEY_PAUSE_MS * 2 ** (tries - 1)));
    }
  }
}

/** A field that the pool could not finish. */
const unfinished = (key: string, why: string): { entry: Entry; dead: true } => ({
  entry: {
    key,
    row: notChecked(
      `The field could not be finished: ${clean(why).slice(0, 300)}. Start the audit again to try it again.`,
    ),
    picture: null,
    reports: [],
  },
  dead: true,
});

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

/** 0 every field agrees, 1 some differ, 2 none could be checked, 3 none differs and some are undecided or could not be checked. */
export function exitStatus(count: Record<Outcome, number>): number {
  if (count.differs > 0) return 1;
  if (count.undecided > 0) return 3;
  if (count.agrees === 0) return 2;
  return count['not checked'] > 0 ? 3 : 0;
}

/** Options that a rebuild of the map needs besides planter, planting and records. */
function rebuildOptions({ layer, crs, dates, columns = {} }: Settings): string[] {
  const one = (name: string, value: string | undefined): string[] => (value === undefined ? [] : [`--${name}`, value]);
  return [
    ...one('layer', layer),
    ...one('crs', crs),
    ...one('dates', dates),
    ...Object.entries(columns).flatMap(([role, name]) => one('columns', `${role}=${name}`)),
  ];
}
