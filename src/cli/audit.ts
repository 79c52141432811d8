import { availableParallelism } from 'node:os';
import {
  type AuditResult,
  audit,
  type Checker,
  exitStatus,
  findFields,
  localChecker,
  mapsFrom,
  openPool,
  openQueue,
  type Settings,
} from '../audit/index.ts';
import { countLine } from '../audit/page.ts';
import { CAUTIONS, UserError } from '../core/messages.ts';
import { areaText } from '../core/planter/units.ts';
import { SETTING_TITLE, wrap } from '../core/report/index.ts';
import { type Io, progressLine } from './io.ts';
import {
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
  WHERE_OPTION,
} from './options.ts';

/** Options that say where the maps of a queue lie; `guessrow work` has them too. */
export const QUEUE_OPTIONS: Spec = {
  queue: { value: 'URL', says: 'the Redis or Valkey server that hands out fields: redis://HOST:PORT' },
  'maps-from': { value: 'PLACE', says: 'where workers read the maps: a shared folder, or an http(s) address' },
  'max-map-mb': { value: 'N', says: 'largest map that is fetched from an address; 500 MB when left out' },
};

export const AUDIT_OPTIONS: Spec = {
  out: { value: 'FOLDER', says: 'where the tables, the index and the reports go; needed' },
  planter: { value: 'FILE', says: 'the planter file of every field that a list names none for' },
  planting: { value: 'NAME', says: 'what was planted; left out, the planting that fits each map is found' },
  columns: { value: 'ROLE=NAME', many: true, says: 'name a column, as in "guessrow check"' },
  dates: DATES_OPTION,
  where: WHERE_OPTION,
  'machine-column': {
    value: 'NAME',
    says: 'the column of the maps that names the machine; found by its name when left out',
  },
  'pass-accuracy': { value: 'LENGTH', says: 'pass-to-pass accuracy of the positioning; 2.5cm when left out' },
  limit: LIMIT_OPTION,
  'seed-cost': { value: 'PRICE', says: 'what the seed for an acre or hectare costs, such as 95/ac' },
  'at-once': { value: 'N', says: 'fields checked at once on this machine; one a core when left out' },
  again: { says: 'check every field anew, also those that an earlier run has finished' },
  ...QUEUE_OPTIONS,
  waiting: { value: 'N', says: 'most fields that lie in the queue at once; 200 when left out' },
};

/** `guessrow audit`: returns the exit status. Throws `UserError` (status 2) when nothing can be started. */
export async function runAudit(args: Parsed, io: Io): Promise<number> {
  const { out, planter, queue } = args.values;
  if (out === undefined)
    throw new UserError('missing-option', 'An audit writes into a folder of its own.', {}, 'Add "--out FOLDER".');
  const from = placeOption(args, queue !== undefined);
  const atOnce = atOnceOption(args);
  const most = numberOption(args.values.waiting ?? '200', 'waiting', 1, 100_000);
  const { fields, leftAlone, inputs } = findFields({
    paths: args.positionals,
    planter: planter ?? null,
    settings: settingsOption(args),
    from: from === null ? null : mapsFrom(from.from, from.maxBytes),
    out,
  });

  const pool = await openPool(atOnce);
  const line = progressLine(io);
  let result: AuditResult;
  let checker: Checker | null = null;
  try {
    checker = queue === undefined ? localChecker(pool, atOnce) : await openQueue(queue, most);
    const began = Date.now();
    result = await audit(
      { fields, out, inputs, pool, checker, place: from, again: args.switches.has('again') },
      (done, known) => line.show(barOf(done, known, fields.length, Date.now() - began), done / fields.length),
    );
  } finally {
    line.end();
    await checker?.close();
    await pool.close();
  }
  await io.out(summaryOf(result, out, leftAlone));
  return exitStatus(result.count);
}

function settingsOption(args: Parsed): Settings {
  const { planting } = args.values;
  const accuracy = args.values['pass-accuracy'];
  const price = args.values['seed-cost'];
  const machineColumn = args.values['machine-column'];
  const columns = columnOptions(args.lists.columns ?? []);
  const limits = limitOptions(args.lists.limit ?? []);
  return {
    ...(planting === undefined ? {} : { planting }),
    ...(Object.keys(columns).length === 0 ? {} : { columns }),
    ...(accuracy === undefined ? {} : { passAccuracyM: lengthOption(accuracy, 'pass-accuracy') }),
    ...(Object.keys(limits).length === 0 ? {} : { limits }),
    ...(price === undefined ? {} : { seedCostPerHa: pricePerHaOption(price, 'seed-cost') }),
    ...recordOptions(args),
    ...(machineColumn === undefined ? {} : { machineColumn }),
  };
}

export function atOnceOption(args: Parsed): number {
  const n = args.values['at-once'];
  return n === undefined ? availableParallelism() : numberOption(n, 'at-once', 1, 1024);
}

/** Where a queue's maps lie. Both sides must be told: each reads below its own place, and nowhere else. */
export function placeOption(args: Parsed, queued: boolean): { from: string; maxBytes: number } | null {
  const from = args.values['maps-from'];
  if (queued && from === undefined)
    throw new UserError(
      'missing-option',
      'With a queue, every machine must be told where the maps lie.',
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
  return { from, maxBytes: numberOption(args.values['max-map-mb'] ?? '500', 'max-map-mb', 1, 4000) * 1e6 };
}

const BAR = 20;

/** "[######    ] 120 of 500 fields, about 3 min left". Fields out of the journal cost no time and are not counted into the pace. */
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

function summaryOf(r: AuditResult, out: string, leftAlone: number): string {
  const lines = [...wrap(countLine(r.fields.length, r.count))];
  const earlier = r.fields.filter((f) => f.key !== '' && f.sameAs === null && !f.dead).length - r.checkedNow;
  if (earlier > 0) lines.push(`${earlier} of them ${earlier === 1 ? 'was' : 'were'} finished by an earlier run.`);
  if (leftAlone > 0)
    lines.push(
      `${leftAlone} other ${leftAlone === 1 ? 'file is no map' : 'files are no maps'} and ${leftAlone === 1 ? 'was' : 'were'} left alone.`,
    );
  const bullet = (text: string): string[] => wrap(text, undefined, '  - ', '    ');
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
    lines.push('', 'When a setting went wrong', ...r.stretches.slice(0, 10).flatMap((s) => bullet(s.says)));
  const dead = r.fields.filter((f) => f.dead);
  if (dead.length > 0)
    lines.push('', 'Given up', ...dead.slice(0, 20).flatMap((f) => bullet(`${f.name}: ${f.row.says}`)));
  lines.push('', 'Before you act on this', ...CAUTIONS.flatMap(bullet));
  lines.push('', ...wrap(`Written to ${out}: ${r.files.join(', ')}, and a report for each field in fields.`));
  return `${lines.join('\n')}\n`;
}
