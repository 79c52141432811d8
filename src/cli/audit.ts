import { availableParallelism } from 'node:os';
import {
  type AuditResult,
  audit,
  exitStatus,
  findFields,
  localChecker,
  mapsFrom,
  openPool,
  openQueue,
  readSecret,
  type Settings,
} from '../audit/index.ts';
import { countLine } from '../audit/page.ts';
import type { Checker } from '../audit/types.ts';
import { areaText } from '../core/planter/units.ts';
import { SETTING_TITLE, wrap } from '../core/report/index.ts';
import { CAUTIONS, UserError } from '../core/shared/messages.ts';
import { type Io, progressLine } from './io.ts';
import {
  ACCURACY_OPTION,
  CRS_OPTION,
  columnOptions,
  DATES_OPTION,
  LIMIT_OPTION,
  lengthOption,
  limitOptions,
  numberOption,
  type Parsed,
  pricePerHaOption,
  recordOptions,
  type Spec,
  secondsOption,
  WHERE_OPTION,
} from './options.ts';

/** Options for the place of a queue's maps; `guessrow work` has them too. */
/** A field that takes longer is stopped: far more than the largest map needs on a slow machine. */
const USUAL_SECONDS = 1800;
const USUAL_MAP_MB = 500;
const USUAL_WAITING = 200;

export const QUEUE_OPTIONS: Spec = {
  queue: { value: 'URL', says: 'the Redis or Valkey server that hands out fields: redis://HOST:PORT' },
  'queue-key': {
    value: 'FILE',
    says: 'a file with a secret text, the same for the audit and all workers: only what is signed with it is accepted',
  },
  'maps-from': { value: 'PLACE', says: 'where workers read the maps: a shared folder, or an http(s) address' },
  'max-map-mb': { value: 'N', says: `largest map that is fetched from an address; ${USUAL_MAP_MB} MB when left out` },
};

const MOST_SECONDS = 1_000_000;

export const AUDIT_OPTIONS: Spec = {
  out: { value: 'FOLDER', says: 'where the tables, the index and the reports go; required' },
  planter: {
    value: 'FILE',
    many: true,
    says: 'the planter file of every field that a list names none for; several as FILE or MACHINE=FILE, as in "guessrow check"',
  },
  planting: {
    value: 'NAME',
    says: 'what was planted, where a list does not say; required for a planter with several plantings',
  },
  columns: { value: 'ROLE=NAME', many: true, says: 'name a column, as in "guessrow check"' },
  dates: DATES_OPTION,
  where: WHERE_OPTION,
  crs: CRS_OPTION,
  'machine-column': {
    value: 'NAME',
    says: 'the column of the maps that names the machine; found by its name when left out',
  },
  'pass-accuracy': ACCURACY_OPTION,
  limit: {
    ...LIMIT_OPTION,
    says: `${LIMIT_OPTION.says}; and seconds, the time limit for each field, ${USUAL_SECONDS} when left out`,
  },
  'seed-cost': { value: 'PRICE', says: 'what the seed for an acre or hectare costs, such as 95/ac' },
  'at-once': { value: 'N', says: 'fields checked at once on this machine; one per core when left out' },
  again: { says: 'check every field again, including those that an earlier run finished' },
  ...QUEUE_OPTIONS,
  waiting: { value: 'N', says: `most fields in the queue at once; ${USUAL_WAITING} when left out` },
};

/** `guessrow audit`: returns the exit status. Throws `UserError` (status 2) when nothing can be started. */
export async function runAudit(args: Parsed, io: Io): Promise<number> {
  const { out, queue } = args.values;
  if (out === undefined)
    throw new UserError('missing-option', 'An audit needs a folder of its own.', {}, 'Add "--out FOLDER".');
  const from = placeOption(args, queue !== undefined);
  const atOnce = atOnceOption(args);
  const most = numberOption(args.values.waiting ?? `${USUAL_WAITING}`, 'waiting', 1, 100_000);
  const key = args.values['queue-key'];
  if (key !== undefined && queue === undefined)
    throw new UserError(
      'option-value',
      '"--queue-key" goes with "--queue".',
      {},
      'Leave it out, or add "--queue URL".',
    );
  const secret = key === undefined ? null : readSecret(key);
  const { seconds, others } = secondsOption(args.lists.limit ?? [], MOST_SECONDS);
  const { fields, leftAlone, inputs } = findFields({
    paths: args.positionals,
    planters: args.lists.planter ?? [],
    settings: settingsOption(args, others),
    seconds: seconds ?? USUAL_SECONDS,
    from: from === null ? null : mapsFrom(from.from, from.maxBytes),
    out,
  });

  const pool = await openPool(atOnce);
  const line = progressLine(io);
  let result: AuditResult;
  let checker: Checker | null = null;
  const say = (sentence: string): void => {
    line.end();
    io.err(`${sentence}\n`);
  };
  try {
    checker = queue === undefined ? localChecker(pool, atOnce) : await openQueue(queue, most, secret, pool, say);
    const began = Date.now();
    result = await audit(
      { fields, out, inputs, pool, checker, place: from, again: args.switches.has('again'), leftAlone },
      (done, known) => line.show(barOf(done, known, fields.length, Date.now() - began), done / fields.length),
    );
  } finally {
    line.end();
    await checker?.close();
    await pool.close();
  }
  await io.out(summaryOf(result, out));
  return exitStatus(result.count);
}

function settingsOption(args: Parsed, limit: readonly string[]): Settings {
  const { planting } = args.values;
  const accuracy = args.values['pass-accuracy'];
  const price = args.values['seed-cost'];
  const machineColumn = args.values['machine-column'];
  const columns = columnOptions(args.lists.columns ?? []);
  const limits = limitOptions(limit);
  return {
    ...(planting === undefined ? {} : { planting }),
    ...(Object.keys(columns).length === 0 ? {} : { columns }),
    ...(accuracy === undefined ? {} : { passAccuracyM: lengthOption(accuracy, 'pass-accuracy') }),
    ...(Object.keys(limits).length === 0 ? {} : { limits }),
    ...(price === undefined ? {} : { seedCostPerHa: pricePerHaOption(price, 'seed-cost') }),
    ...recordOptions(args),
    ...(args.values.crs === undefined ? {} : { crs: args.values.crs }),
    ...(machineColumn === undefined ? {} : { machineColumn }),
  };
}

export function atOnceOption(args: Parsed): number {
  const n = args.values['at-once'];
  return n === undefined ? availableParallelism() : numberOption(n, 'at-once', 1, 1024);
}

/** The place of a queue's maps. Both sides need it: each reads only below its own place. */
export function placeOption(args: Parsed, queued: boolean): { from: string; maxBytes: number } | null {
  const from = args.values['maps-from'];
  if (queued && from === undefined)
    throw new UserError(
      'missing-option',
      'With a queue, every machine needs the place of the maps.',
      {},
      'Add "--maps-from FOLDER" or "--maps-from https://HOST/FOLDER/".',
    );
  if (!queued && from !== undefined)
    throw new UserError(
      'option-value',
      '"--maps-from" goes with "--queue".',
      {},
      'Leave it out, or add "--queue URL".',
    );
  if (from === undefined) return null;
  return { from, maxBytes: numberOption(args.values['max-map-mb'] ?? `${USUAL_MAP_MB}`, 'max-map-mb', 1, 4000) * 1e6 };
}

const BAR = 20;

/** "[######    ] 120 of 500 fields, about 3 min left". Fields from the journal take no time and do not count for the pace. */
function barOf(done: number, known: number, all: number, ms: number): string {
  const full = Math.floor((BAR * done) / all);
  const mine = done - known;
  const leftS = mine > 0 ? ((all - done) * ms) / mine / 1000 : Number.NaN;
  const left =
    Number.isNaN(leftS) || done === all
      ? ''
      : `, about ${leftS < 90 ? `${Math.ceil(leftS)} s` : `${Math.ceil(leftS / 60)} min`} left`;
  return `[${'#'.repeat(full)}${' '.repeat(BAR - full)}] ${done} of ${all} fields${left} `;
}

function summaryOf(r: AuditResult, out: string): string {
  const lines = [...wrap(countLine(r.fields.length, r.count))];
  const earlier = r.fields.filter((f) => f.key !== '' && f.sameAs === null && !f.dead).length - r.checkedNow;
  if (earlier > 0) lines.push(`${earlier} of them ${earlier === 1 ? 'was' : 'were'} finished by an earlier run.`);
  const bullet = (text: string): string[] => wrap(text, undefined, '  - ', '    ');
  const { leftAlone } = r;
  if (leftAlone.length > 0)
    lines.push(
      `${leftAlone.length} other ${leftAlone.length === 1 ? 'file was' : 'files were'} not taken for ${leftAlone.length === 1 ? 'a map' : 'maps'}:`,
      ...leftAlone.slice(0, 10).flatMap((f) => bullet(`${f.name}: ${f.why}`)),
      ...(leftAlone.length > 10 ? bullet(`and ${leftAlone.length - 10} more, listed in findings.json`) : []),
    );
  if (r.badLines.length > 0)
    lines.push(
      '',
      'Lines of the journal that this program did not write; their fields were checked again',
      ...r.badLines.slice(0, 10).flatMap((b) => bullet(`line ${b.line}: ${b.fault}`)),
      ...(r.badLines.length > 10 ? bullet(`and ${r.badLines.length - 10} more`) : []),
    );
  const waiting = r.fields.filter((f) => f.row.waits.length > 0);
  if (waiting.length > 0)
    lines.push(
      '',
      ...wrap(
        `${waiting.length} ${waiting.length === 1 ? 'field waits for its' : 'fields wait for their'} planting: say what was planted, in the column "planting" of a list or with "--planting NAME".`,
      ),
    );
  const worst = r.fields.filter((f) => f.row.verdict === 'differs').slice(0, 10);
  if (worst.length > 0)
    lines.push(
      '',
      'Worst first',
      ...worst.flatMap((f) => {
        const area = f.row.affectedM2 > 0 ? `${areaText(f.row.affectedM2, f.row.unit)} affected; ` : '';
        return bullet(`${f.name}: ${area}${f.row.settings.map((s) => SETTING_TITLE[s]).join(', ')}`);
      }),
    );
  if (r.stretches.length > 0)
    lines.push(
      '',
      'When a setting went wrong',
      ...r.stretches.slice(0, 10).flatMap((s) => bullet(`${s.says} ${s.sums}`)),
    );
  if (r.flips.length > 0)
    lines.push('', 'Plantings as the displays recorded them', ...r.flips.slice(0, 10).flatMap((f) => bullet(f.says)));
  const dead = r.fields.filter((f) => f.dead);
  if (dead.length > 0)
    lines.push('', 'Given up', ...dead.slice(0, 20).flatMap((f) => bullet(`${f.name}: ${f.row.says}`)));
  lines.push('', 'Before you act on this', ...CAUTIONS.flatMap(bullet));
  lines.push('', ...wrap(`Written to ${out}: ${r.files.join(', ')}, and a report for each field in fields.`));
  return `${lines.join('\n')}\n`;
}
