import type { Setting } from '../core/answer.ts';
import { areaText } from '../core/planter/units.ts';
import { clean, grouped, SETTING_TITLE } from '../core/report/index.ts';
import { dayText } from '../core/shared/dates.ts';
import { groupBy } from '../core/shared/groups.ts';
import type { Done, LeftAlone, Outcome } from './types.ts';

/** Fields of one machine and planter in one week. */
export interface Week {
  machine: string;
  planter: string;
  /** Monday of the week, ms since 1970 UTC; null for fields without times. */
  mondayMs: number | null;
  fields: number;
  differ: number;
  agree: number;
  undecided: number;
  notChecked: number;
  affectedM2: number;
  settings: Setting[];
}

/** A setting that was wrong in every decided field of a machine and planter from one day on, in two fields or more. */
export interface Stretch {
  machine: string;
  planter: string;
  setting: Setting;
  fromMs: number;
  /**
   * Last record of any field in it, and the first record of the next field that was right and began when those before it in which the setting was
   * wrong had ended; null when there is none, or another was wrong before it.
   */
  toMs: number;
  rightAgainMs: number | null;
  fields: string[];
  /** Ground of these fields, what of it was left without rows or planted twice, m², and what that costs in the user's money; null without a price. */
  coveredM2: number;
  affectedM2: number;
  cost: number | null;
  /** The first of them, the hour, the sums, as text. */
  sums: string;
  /** Command lines that rebuild them, run where the maps lie. */
  rebuild: string[];
  /** Decided fields right before it that had ended when it began, in which this setting was not wrong. */
  before: number;
  says: string;
}

const DAY_MS = 86_400_000;

/** The Monday, 0:00 UTC, of the week of a day (ISO 8601 weeks begin on Monday; 1 January 1970 was a Thursday). */
function mondayOf(ms: number): number {
  const day = Math.floor(ms / DAY_MS);
  return (day - ((((day + 3) % 7) + 7) % 7)) * DAY_MS;
}

/** Copies of a map count once. */
const counted = (fields: readonly Done[]): Done[] => fields.filter((f) => f.sameAs === null);

export function weeksOf(fields: readonly Done[]): Week[] {
  const weeks = new Map<string, Week>();
  for (const f of counted(fields)) {
    const mondayMs = f.row.firstMs === null ? null : mondayOf(f.row.firstMs);
    const id = JSON.stringify([f.machine, f.row.planter, mondayMs === null ? '' : new Date(mondayMs).toISOString()]);
    const w = weeks.get(id) ?? {
      machine: f.machine,
      planter: f.row.planter,
      mondayMs,
      fields: 0,
      differ: 0,
      agree: 0,
      undecided: 0,
      notChecked: 0,
      affectedM2: 0,
      settings: [],
    };
    weeks.set(id, w);
    w.fields++;
    w[
      ({ differs: 'differ', agrees: 'agree', undecided: 'undecided', 'not checked': 'notChecked' } as const)[
        f.row.verdict
      ]
    ]++;
    w.affectedM2 += f.row.affectedM2;
    w.settings = [...new Set([...w.settings, ...f.row.settings])].sort();
  }
  return [...weeks].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, w]) => w);
}

/**
 * When a setting went wrong across fields. Fields are put in order of time; those that are undecided, could not be checked or carry
 * no time neither start nor end a stretch. A field worked in two goes, and two displays under one name, overlap in time: a right field that overlaps a
 * wrong one ends a stretch, but shows neither when the setting went wrong nor when it was right again.
 */
export function stretchesOf(fields: readonly Done[]): Stretch[] {
  const judged = counted(fields).filter(
    ({ row }) => row.firstMs !== null && (row.verdict === 'agrees' || row.verdict === 'differs'),
  );
  const groups = groupBy(judged, (f) => JSON.stringify([f.machine, f.row.planter]));
  const out: Stretch[] = [];
  for (const [, list] of [...groups].sort(([a], [b]) => (a < b ? -1 : 1))) {
    list.sort((a, b) => a.row.firstMs! - b.row.firstMs! || (a.name < b.name ? -1 : 1));
    for (const setting of [...new Set(list.flatMap((f) => f.row.settings))].sort()) {
      for (let i = 0; i < list.length; i++) {
        if (!list[i].row.settings.includes(setting)) continue;
        let end = i + 1;
        while (end < list.length && list[end].row.settings.includes(setting)) end++;
        if (end - i >= 2) out.push(stretch(list, i, end, setting));
        i = end;
      }
    }
  }
  return out.sort((a, b) => b.fields.length - a.fields.length || a.fromMs - b.fromMs);
}

function stretch(list: Done[], from: number, end: number, setting: Setting): Stretch {
  const inside = list.slice(from, end);
  const wrong = (f: Done): boolean => f.row.settings.includes(setting);
  const { machine } = inside[0];
  const { planter } = inside[0].row;
  const fromMs = inside[0].row.firstMs!;
  const toMs = Math.max(...inside.map((f) => f.row.lastMs!));
  let before = 0;
  for (let i = from - 1; i >= 0 && !wrong(list[i]); i--) if (list[i].row.lastMs! <= fromMs) before++;
  const next = list[end];
  const wrongUntilMs = Math.max(...list.slice(0, end).flatMap((f) => (wrong(f) ? [f.row.lastMs!] : [])));
  let right = end;
  while (right < list.length && !wrong(list[right]) && list[right].row.firstMs! < wrongUntilMs) right++;
  const rightAgainMs = right < list.length && !wrong(list[right]) ? list[right].row.firstMs! : null;
  const who = whoText(machine, planter);
  const until = next ? `from ${dayText(fromMs)} to ${dayText(toMs)}` : `from ${dayText(fromMs)} on`;
  const was = before > 0 ? `; right in the ${numberText(before)} before` : '';
  const again =
    rightAgainMs !== null
      ? `, and right again on ${dayText(rightAgainMs)}`
      : next
        ? '; when it was right again is not clear, because a field in which it was right overlaps in time with one in which it was wrong'
        : '';
  return {
    machine,
    planter,
    setting,
    fromMs,
    toMs,
    rightAgainMs,
    fields: inside.map((f) => f.name),
    ...sumsOf(inside),
    before,
    says: `${who}: "${SETTING_TITLE[setting]}" was wrong ${until}, ${numberText(inside.length)} fields${was}${again}.`,
  };
}

function sumsOf(inside: readonly Done[]): Pick<Stretch, 'coveredM2' | 'affectedM2' | 'cost' | 'sums' | 'rebuild'> {
  const [first] = inside;
  const sum = (of: (f: Done) => number): number => inside.reduce((s, f) => s + of(f), 0);
  const [coveredM2, affectedM2] = [sum((f) => f.row.coveredM2), sum((f) => f.row.affectedM2)];
  const costs = inside.flatMap((f) => (f.row.cost === null ? [] : [f.row.cost]));
  const cost = costs.length === 0 ? null : costs.reduce((a, b) => a + b, 0);
  const { unit } = first.row;
  const at = new Date(first.row.firstMs!).toISOString().slice(11, 16);
  const spoilt = affectedM2 > 0 ? `, ${areaText(affectedM2, unit)} left without rows or planted twice` : '';
  const money = cost !== null && cost > 0 ? `, ${grouped(cost, 2)} of seed in your money` : '';
  return {
    coveredM2,
    affectedM2,
    cost,
    sums: `First in ${first.name}, ${dayText(first.row.firstMs!)} at ${at}. ${areaText(coveredM2, unit)} planted since${spoilt}${money}.`,
    rebuild: inside.map(rebuildCommand).filter((c) => c !== ''),
  };
}

/** The command that rebuilds a field, run where the maps lie; '' where it need not or cannot be rebuilt. Names are quoted for a POSIX shell. */
export function rebuildCommand({ name: field, where, options, planterFile, sameAs, row }: Done): string {
  if (!row.redraw || sameAs !== null || planterFile === '') return '';
  // A field that is a part of a map has the part after its name.
  const name = where.length === 0 ? field : field.replace(/ \([^)]*\)$/, '');
  const out = `${field.replace(/\.[a-z0-9]+(?=$| \()/i, '')}.rebuilt.geojson`;
  const word = (w: string): string => {
    const safe = clean(w.startsWith('-') ? `./${w}` : w);
    return /^[\w@%+=:,./-]+$/.test(safe) ? safe : `'${safe.replaceAll("'", "'\\''")}'`;
  };
  return `guessrow rebuild ${word(name)} --planter ${word(planterFile)} --planting ${word(row.planting)}${where.map((w) => ` --where ${word(w)}`).join('')}${options.map((o) => ` ${o.startsWith('--') ? o : word(o)}`).join('')} --out ${word(out)}`;
}

/** A machine whose display recorded more than one planting: which ones, and since when. */
export interface Flip {
  machine: string;
  planter: string;
  runs: { planting: string; fromMs: number; toMs: number; fields: string[] }[];
  says: string;
}

/** Machines whose display went from one planting to another. Fields without times, and those that do not show the planting, are left out. */
export function flipsOf(fields: readonly Done[]): Flip[] {
  const shown = counted(fields).filter(({ row }) => row.firstMs !== null && row.recordedPlanting !== null);
  const groups = groupBy(shown, (f) => JSON.stringify([f.machine, f.row.planter]));
  return [...groups]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .flatMap(([, list]) => {
      list.sort((a, b) => a.row.firstMs! - b.row.firstMs! || (a.name < b.name ? -1 : 1));
      const runs: Flip['runs'] = [];
      for (const f of list) {
        const last = runs[runs.length - 1];
        const [planting, fromMs, toMs] = [f.row.recordedPlanting!, f.row.firstMs!, f.row.lastMs!];
        if (last?.planting === planting) {
          last.toMs = Math.max(last.toMs, toMs);
          last.fields.push(f.name);
        } else runs.push({ planting, fromMs, toMs, fields: [f.name] });
      }
      if (runs.length < 2) return [];
      const { machine } = list[0];
      const { planter } = list[0].row;
      const shown = runs
        .slice(0, 6)
        .map((r) => `"${r.planting}" from ${dayText(r.fromMs)} (${fieldsText(r.fields.length)})`);
      const more = runs.length > shown.length ? `, and ${runs.length - shown.length} changes more` : '';
      const says = `${whoText(machine, planter)}: the display recorded ${shown.join(', then ')}${more}.`;
      return [{ machine, planter, runs, says }];
    });
}

const fieldsText = (n: number): string => `${numberText(n)} ${n === 1 ? 'field' : 'fields'}`;

const whoText = (machine: string, planter: string): string =>
  machine === '' ? `Planter "${planter}"` : `Machine "${machine}" with planter "${planter}"`;

const NUMBERS = 'no one two three four five six seven eight nine ten eleven twelve'.split(' ');

function numberText(n: number): string {
  return NUMBERS[n] ?? String(n);
}

/** The audit as its tables show it, complete or so far. */
export interface Season {
  fields: Done[];
  /** Fields of the audit that are not among them yet. */
  open: number;
  count: Record<Outcome, number>;
  weeks: Week[];
  stretches: Stretch[];
  flips: Flip[];
  leftAlone: readonly LeftAlone[];
}
